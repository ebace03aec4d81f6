package align

// This file holds what the matcher knows of English itself: the small words
// that carry no trade meaning, and the ones that turn, frame or join a
// statement. Words of the trade live in the rubric.

func set(words ...string) map[string]bool {
	m := make(map[string]bool, len(words))
	for _, w := range words {
		m[w] = true
	}
	return m
}

var functionWords = set("a", "an", "the", "my", "your", "our", "his", "their", "its", "this", "that", "these", "those",
	"of", "in", "on", "at", "to", "for", "from", "with", "by", "and", "or", "nor", "as", "into", "onto",
	"is", "are", "was", "were", "be", "been", "being", "am", "it", "it's", "they", "they're", "i", "i'm", "you", "we",
	"i'll", "i'd", "we're", "he", "she", "them", "me", "do", "does", "did", "has", "have", "had", "will", "would", "should",
	"can", "could", "must", "shall", "may", "might", "there", "there's", "here", "here's", "that's", "so", "then", "also",
	"all", "both", "each", "any", "some", "just", "very", "really", "gonna", "going", "go", "get", "got")

// everyday words are common in any speech. Heard alone they are not taken for a
// word of the trade that sounds like them or is spelled almost so.
var everyday = set("look", "looks", "looking", "let", "lets", "least", "last", "like", "well", "leave", "leaves", "leaving", "place", "wait", "what",
	"when", "where", "which", "who", "why", "how", "move", "moves", "moving", "moved", "know", "now", "new", "need", "needs", "next", "nice",
	"not", "note", "want", "wants", "way", "ways", "went", "were", "while", "white", "wide", "with", "word", "work", "world", "year", "yes", "yet",
	"about", "after", "again", "always", "another", "back", "because", "before", "best", "better", "big", "bit", "but", "call", "came", "come", "coming",
	"anything", "anywhere", "anyone", "anybody", "everyone", "everybody", "everywhere", "somewhere", "somebody", "sometime", "whenever", "wherever", "whichever", "himself", "herself", "yourself",
	"day", "different", "doing", "done", "end", "even", "ever", "every", "everything", "feel", "few", "find", "first", "found", "from", "front", "give",
	"given", "good", "great", "guess", "hand", "hands", "hard", "hear", "help", "her", "high", "him", "home", "house", "idea", "instead", "into", "keep",
	"kind", "learn", "left", "less", "life", "line", "little", "live", "long", "lot", "lots", "made", "make", "makes", "making", "man", "many", "mean",
	"means", "might", "mine", "minute", "more", "most", "much", "name", "never", "nothing", "number", "often", "old", "once", "only", "other", "own",
	"part", "parts", "people", "person", "point", "pretty", "put", "puts", "question", "quite", "rather", "read", "ready", "real", "remember", "right",
	"said", "same", "saw", "say", "says", "school", "second", "see", "seem", "sees", "set", "show", "shows", "side", "since", "small", "something",
	"sometimes", "sorry", "start", "started", "still", "stop", "stuff", "such", "sure", "take", "takes", "talk", "teacher", "tell", "thank", "thanks",
	"thing", "things", "think", "though", "thought", "three", "through", "time", "times", "today", "together", "told", "too", "took", "top", "toward",
	"towards", "try", "turn", "turns", "two", "under", "until", "use", "used", "using", "usually", "walk", "walking", "watch", "watching", "week",
	"without", "would", "write", "wrong", "yeah", "bottom", "course", "down", "else", "either", "finally", "forget", "forgot", "gotta", "happen",
	"hope", "important", "inside", "outside", "just", "late", "later", "maybe", "myself", "off", "okay", "order", "please", "probably", "room", "run",
	"running", "saying", "seen", "slow", "slowly", "someone", "soon", "story", "trip", "wanna", "wanted", "weather", "whatever",
	"whole", "yard", "door", "hit", "hits", "pass", "past", "pick", "stay", "step", "lead", "lean", "leaning", "lot", "lock", "blue", "black", "air", "water")

// soft words color a sentence without changing what it says.
var soft = set("supposed", "still", "already", "now", "completely", "all", "way", "back", "just", "always", "fully", "really", "nice", "good", "pretty",
	"probably", "first", "then", "there", "again", "properly")

// irregular forms of verbs, which no rule for endings brings together. Left out
// are those that are words of their own ("left", "lit", "felt").
var irregular = map[string]string{"came": "come", "fell": "fall", "fallen": "fall", "broke": "break", "broken": "break", "busted": "bust",
	"tore": "tear", "torn": "tear", "wore": "wear", "worn": "wear", "held": "hold", "kept": "keep", "blew": "blow", "blown": "blow", "ran": "run", "hung": "hang", "built": "build",
	"bled": "bleed", "shook": "shake", "shaken": "shake", "stuck": "stick", "rose": "rise", "risen": "rise", "bent": "bend", "swung": "swing", "spun": "spin",
	"froze": "freeze", "frozen": "freeze", "burnt": "burn", "sat": "sit", "stood": "stand", "slid": "slide", "swelled": "swell", "swollen": "swell",
	"shut": "shut", "sank": "sink", "hid": "hide", "grown": "grow", "grew": "grow", "chewed": "chew", "threw": "throw", "thrown": "throw"}

// particles turn the verb before them ("cut out", "cut in", "turn off"): they
// carry less than a word of the trade, but a phrase is not the same without.
var particles = set("up", "out", "off", "over", "down")

// functionWord reports words that carry too little to be found by themselves.
func functionWord(w string) bool { return functionWords[w] }

// fillers may stand anywhere inside a phrase.
var fillers = set("uh", "um", "er", "ah", "eh", "mm", "hmm", "like", "okay", "ok", "well", "yeah", "you", "know", "and",
	"the", "a", "an", "my", "our", "your", "this", "that", "these", "those", "its", "their", "here", "right", "so",
	"also", "is", "are", "of", "actually", "basically", "kind", "sort")

// numerals are number words; they are never taken for other words.
var numerals = set("zero", "oh", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve",
	"thirteen", "fourteen", "fifteen", "sixteen", "seventeen", "eighteen", "nineteen", "twenty", "thirty", "forty",
	"fifty", "sixty", "seventy", "eighty", "ninety", "hundred", "thousand", "half", "quarter", "quarters", "third",
	"fourth", "fifth", "eighth", "sixteenth", "thirty-second")

func numberWord(w string) bool {
	return numerals[w] || w != "" && w[0] >= '0' && w[0] <= '9'
}

// Negators deny the next defect or state. "no" and its kin as determiners also
// run on over a list ("no cracks, bends or breaks").
var negators = set("no", "not", "nothing", "none", "never", "without", "isn't", "aren't", "wasn't", "weren't", "don't",
	"doesn't", "didn't", "can't", "cannot", "won't", "shouldn't", "hasn't", "haven't", "nor", "neither", "nobody", "ain't",
	"isnt", "arent", "dont", "doesnt", "didnt", "cant", "wont", "shouldnt", "hasnt", "aint", "zero", "nowhere",
	"couldn't", "wouldn't", "non")

// soundsLikeDenial lists what recognizers write for a denial.
var soundsLikeDenial = map[string]string{"know": "no", "known": "no", "noah": "no", "knot": "not", "nought": "not", "naught": "not",
	"nut": "not", "nod": "not", "net": "not", "notch": "not", "none's": "nothing's", "izzy": "isn't", "aunt": "aren't", "ant": "ain't"}

// determiners among the negators deny nouns, not the sound state after a break.
var negDeterminers = set("no", "nothing", "none", "without", "zero", "nobody", "nowhere")

// Words that begin a clause of their own after a list of denied defects.
var copulas = set("is", "are", "it's", "they're", "that's", "was", "were", "looks", "seems")

// prepositions tie a condition to the part named after it.
var prepositions = set("on", "in", "of", "around", "from", "at", "with", "to", "for", "inside", "under", "underneath", "between",
	"along", "near", "across", "through", "throughout", "coming", "by", "behind", "below", "where", "into", "about", "over")

// linking words tie a part to what it belongs to in a name turned round: "the
// hose of the brake", "the lamp over the license plate".
var linking = set("of", "for", "on", "in", "at", "to", "over", "above", "behind", "under")

// verbal words end a phrase that is an action or a remark, not a name of several
// nouns that could be turned round.
var verbal = set("more", "than", "less", "below", "between", "only", "please", "pop", "pops", "popped", "close", "closes", "closed",
	"shut", "shuts", "stops", "stopped", "starts", "drop", "dropped", "fall", "falls", "lost", "lose", "apply", "applied", "released",
	"builds", "building", "engage", "activate", "works", "walks", "blinks", "quits", "flat", "low", "rear", "loose", "itself",
	"themselves", "hold", "holds", "check", "test", "allowed", "clear", "inflated", "automatically", "pumping", "flush", "setting")

// determiners may stand between a preposition and the part.
var determiners = set("the", "a", "an", "my", "our", "your", "this", "that", "these", "those", "each", "every", "all", "any",
	"both", "its", "their", "of", "either", "some", "and", "uh", "um", "entire", "whole", "area", "sides", "side", "either")

// phrase tables of a few words, matched word for word.
var (
	// The speaker says what is looked for: a defect named here is a claim.
	lookFor = phraseSet("checking for", "check for", "checked for", "looking for", "look for", "looked for", "inspecting for",
		"inspect for", "watching for", "watch for", "listening for", "listen for", "listened for", "feel for", "feeling for",
		"check if", "see if", "over it for", "over them for", "over that for", "checking if", "checking to see", "check to see", "see whether", "any", "any signs of",
		"signs of", "sign of", "free of", "free from", "clean of", "void of", "devoid of", "free and clear of", "clear of", "absence of", "instead of",
		"rather than", "look out for", "scan for", "scanning for", "search for", "check that no", "rule out", "ruling out",
		"to make sure i don't", "whether", "if there's", "if there is", "if there are", "searching for",
		"what i'm checking is", "inspecting it for", "check it for", "checking it for", "check them for", "checking them for",
		"inspect them for", "avoid", "prevent", "on the lookout for", "keep an eye out for", "eye out for", "worried about",
		"isn't any", "make sure there's no", "make sure there is no", "make sure there are no")
	// What follows is a cause, a possibility or a consequence, not a statement.
	supposing = phraseSet("if", "could", "might", "may", "would mean", "would cause",
		"can cause", "could cause", "that would", "it would", "so it doesn't", "so it does not", "unless", "in case", "when it", "when they",
		"so they don't", "which would", "then it will", "then it would", "can lead", "will cause", "leads to", "it can", "they can", "if it's",
		"if it is", "if they're", "last time", "yesterday", "last week", "remember when", "used to", "one time",
		"you get", "you'll get", "you end up", "gets those", "will tell", "tells you", "that's how you", "tends to", "tend to", "they'll", "it'll")
	// What follows is a reason. Its numbers are no statements either.
	explaining = phraseSet("because", "cause", "'cause", "cuz", "otherwise", "or else", "so that it", "so that they", "so that i", "so that you",
		"so that we", "so that the", "so that a", "so that no", "so that nothing", "so that nobody", "so that when", "so that if", "so that my", "that way", "the reason")
	// A defect that is seen and dealt with is a right answer.
	reported = phraseSet("report", "reported", "write it up", "write that up", "write up", "written up", "fix", "fixed", "replace",
		"replaced", "repair", "repaired", "out of service", "not acceptable", "unacceptable", "not good", "a defect", "defective",
		"needs to be", "need to be", "has to be", "got to be fixed", "got to be changed", "got to be turned", "turned in", "turn that in", "turn it in", "put in for", "gets written", "mechanic", "shop", "red tag", "tag it", "fail", "failed", "not safe", "unsafe",
		"maintenance", "not pass", "take it in", "get it looked at",
		"call it in", "put it on my report", "note it", "make a note", "i'd note", "that's a problem", "that is a problem", "violation", "needs a new",
		"needs to get", "gets fixed", "get it fixed", "have it changed", "have that changed", "top it off", "get that fixed", "take care of that",
		"needs replacing", "needs repair", "have someone look", "tell somebody", "tell my", "let them know", "call maintenance", "swap it", "change it", "not legal", "illegal",
		"can't run that", "can't run it", "can't go out", "calling that", "calling it in", "call that in", "comes off today", "no go", "gets replaced", "needs the shop",
		"write that one up", "write this one up", "write one up", "get it changed",
		"i will write", "would write", "will write", "must be changed", "have to change", "write in the book", "write it down", "write this", "write that down",
		"i'd want somebody", "want somebody to", "want someone to", "before it goes out", "before we go anywhere", "before it leaves",
		"before we leave", "before we left")
	// The checks of parts named before carry over.
	sameAs = phraseSet("same as", "same thing", "same with", "same for", "same here", "same goes", "same check", "same checks", "same on",
		"same deal", "same story", "same way", "the same", "likewise", "ditto", "just like", "just as", "as before", "like before",
		"like i did", "as i did", "like the other", "as the other", "like on the", "same exact", "same conditions", "exactly like", "identical", "similar to",
		"applies to", "apply to", "as well as the one", "repeat", "so are", "so is", "so do", "so does", "neither is", "neither are")
	// With a "same as": the checks come from another place, not from the part just named.
	elsewhere = phraseSet("other", "before", "earlier", "previous", "first one", "last one", "opposite", "already", "did up", "up there", "back there")
	// The condition counts for all the parts named lately.
	allOfThem = phraseSet("all of these", "all of this", "all of that", "all of those", "all these", "all those",
		"all this", "all of my", "every one of", "each of these", "each of those", "these components", "these parts", "all that")
	everything = phraseSet("everything", "all components", "all parts", "the whole thing", "all the parts", "all of the above", "each component", "every part", "nothing i")
)

// phrases is a small set of word sequences, by first word.
type phrases map[string][][]string

func phraseSet(list ...string) phrases {
	p := phrases{}
	for _, s := range list {
		w := splitWords(s)
		p[w[0]] = append(p[w[0]], w)
	}
	return p
}

func splitWords(s string) []string {
	var out []string
	start := -1
	for i := 0; i <= len(s); i++ {
		if i == len(s) || s[i] == ' ' {
			if start >= 0 {
				out = append(out, s[start:i])
			}
			start = -1
		} else if start < 0 {
			start = i
		}
	}
	return out
}

// letPass marks a defect taken for sound.
var letPass = phraseSet("fine", "okay", "ok", "acceptable", "no problem", "still good", "all right", "alright", "normal", "allowed",
	"good enough", "no big deal", "not a problem", "i'd pass it", "good to go", "not an issue", "will do", "good",
	"but whatever", "whatever", "how it should be", "it'll hold", "doesn't matter", "does not matter", "don't matter", "no biggie", "we're good", "that happens", "they get like that", "not bad", "supposed to be",
	"passes", "i'd run it", "i would run it", "run it like that", "let that go", "let it go", "it'll ride", "he'll ride", "she'll ride",
	"still works", "still holds", "been like that", "always like that", "always like this", "all do that", "do that", "just a smear", "just a little", "only a little",
	"not going to worry", "not worried", "won't worry", "won't hurt", "ain't going to hurt", "ain't gonna hurt", "not going to hurt", "doesn't hurt",
	"i can live with", "it'll do", "that'll do", "do for now", "good for now", "enough", "sufficient", "nothing to worry about", "no need", "minor", "cosmetic",
	"make it", "nobody looks", "been that way", "always been", "burn off", "got plenty", "plenty of others", "good for a while", "hold them up", "hold it up", "hold us", "that'll ride", "ain't worried", "worse than that", "seen worse", "run worse", "holding her up", "holding it up", "they all", "no harm", "good enough for", "works for me",
	"nobody uses", "only going local", "i call that", "so it stays", "so it stay", "so is it", "leave it like that", "no matter", "won't matter", "not so bad", "not too bad", "nothing serious", "it still")

// connecting are words that tie one part to another: "connects to the tie rod".
var connecting = set("connect", "connects", "connected", "connecting", "attach", "attaches", "attached", "hook", "hooks", "hooked", "lead", "leads", "run", "runs",
	"link", "links", "linked", "tie", "ties", "tied", "join", "joins", "joined", "belong", "belongs", "bolted", "mounted", "fastened", "clamped", "goes",
	"feeds", "leading", "running", "close", "damage", "air", "power", "pressure")

// looking are verbs of inspection: what they look for is not a finding.
var looking = set("check", "checks", "checking", "checked", "inspect", "inspecting", "inspected", "look", "looking", "looked", "listen", "listening",
	"watch", "watching", "feel", "feeling", "examine", "examining", "searching", "scan", "scanning", "test", "testing")

// predicates say that something is so.
var predicates = set("is", "are", "has", "have", "got", "see", "looks", "look", "seems", "feels", "be", "i've", "being", "gets", "get", "shows", "find", "found", "notice", "comes", "still", "keeps")

// takesNo follow a "no" that denies nothing after it: "no, wait, it's cracked".
var takesNo = set("problem", "wait", "hold", "hang", "sorry", "actually", "sir", "ma'am", "scratch", "excuse")

// articles begin another part of a list: "the headlights and the high beams".
var articles = set("the", "a", "an", "my", "our", "your", "his", "this", "that", "these", "those")

// supposes may stand between an "if" and what it is about: "if it was just a".
var supposes = set("it", "it's", "was", "is", "were", "just", "only", "you", "you're", "i", "i'm", "have", "had", "got", "we", "we're", "pulling", "driving")

// verbs, and the pronouns before them, follow what a clause is about.
var verbs = set("is", "are", "it", "it's", "they", "you", "has", "have", "need", "needs", "must", "can", "gets", "got", "takes", "should")

// clauseStarts begin another clause within a sentence.
var clauseStarts = set("and", "but", "while", "so", "then", "whereas", "now")

// starting begin a clause of their own: no name runs over them.
var starting = set("i", "i'm", "i'll", "i've", "we", "we're", "he", "she", "okay", "ok")

// objects follow a verb that is done to something.
var objects = set("it", "them", "this", "that", "these", "those", "him", "her", "em", "on", "at", "each", "every", "the", "my")

// failsIf says that what follows is when something fails.
var failsIf = phraseSet("done if", "done when", "no good if", "no good when", "not good if", "fail if", "fails if", "fail when", "fails when", "bad if", "bad when",
	"out if", "service if", "service when", "illegal if", "illegal when", "replace if", "replaced if", "replaced when", "change if", "problem if", "problem when",
	"trash if", "junk if", "finished if", "finished when", "condemned if", "condemned when", "trouble if", "worn out if", "worn out when")

// undone says that the figure before it is what fails.
var undone = phraseSet("you're done", "you're out", "you fail", "you failed", "you're failed", "it fails", "that's a fail", "i fail", "i'm done", "game over")

// requiring words make a figure a demand: "needs 4/32", "the limit is 4".
var requiring = set("must", "should", "need", "needs", "needed", "supposed", "required", "requires", "require", "minimum", "maximum", "min", "max", "limit",
	"allowed", "allow", "legal", "law", "rule", "can", "can't", "cannot", "could", "may", "gotta", "have", "has", "want", "wants", "least", "most", "than", "permitted", "spec", "be")

// modals make a general statement of what they govern.
var modals = set("can", "could", "would", "will", "may", "might", "means", "makes", "causes")

// going are words of walking to a place, or turning to it.
var going = set("move", "moving", "go", "going", "next", "now", "walk", "walking", "come", "coming", "head", "heading", "over", "starting", "start",
	"begin", "beginning", "step", "stepping", "onto", "then", "continue", "continuing", "finally", "lastly", "done", "finish", "finishing", "back")
