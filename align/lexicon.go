package align

import (
	"slices"
	"strings"
	"sync"

	"github.com/agnivade/levenshtein"
	"github.com/kljensen/snowball/english"
)

// A lexicon is every word of a rubric's phrases, indexed so that a word of the
// transcript finds the rubric words it may stand for, however it was spelled,
// inflected or misheard. It is built once for a rubric and read only after.
type lexicon struct {
	ids     map[string]int32
	words   []lexWord
	byStem  map[string][]int32
	bySound map[string][]int32 // exact sound code
	byBlur  map[string][]int32 // sound code with close sounds merged
	byGram  map[uint16][]int32 // letter pairs, for edit distance
	byNear  map[string][]int32 // blurred codes and those with one sound left out
	joins   map[string][]join  // neighbors in a phrase written as one word
	heard   map[string][]int32 // what recognizers write, from the rubric's table
	starts  map[[4]byte]bool   // the first letters of its words
	alike   map[string][]int32 // by stem: words that mean the same, from the rubric's table
	counts  sync.Pool          // of *sharing, for matchEdit
}

type lexWord struct {
	sounds                  []byte // code with vowels
	text, stem, sound, blur string
	weight                  float32
	particle                bool
	ending                  string // how it may be heard as the end of the word before: "'s" for "is"
}

// join is a pair of rubric words that stand side by side in some phrase.
type join struct{ first, second int32 }

// match is a rubric word that a transcript word may stand for.
type match struct {
	word int32
	sim  float32 // 1 for the same word, less for an inflection, a sound-alike, a misspelling
}

// Similarities of a transcript word to a rubric word. The order matters, the
// figures were chosen on the development attempts: an inflection is as good as
// the word; a sound-alike needs letters in common; a misspelling needs most of
// its letters.
const (
	simStem      = 0.98
	simHeard     = 0.95
	simAlike     = 0.81 // a word of the same meaning: below leastSingle, it names nothing alone
	simSoundBase = 0.70 // plus simSoundEdit times the share of letters kept
	simSoundEdit = 0.28
	simBlurBase  = 0.55
	simBlurEdit  = 0.36
	simEditMin   = 0.74 // least share of letters kept without a sound match
	simLeast     = 0.72 // anything below is no match
	roughLeast   = 0.60 // least likeness of the sounds in a damaged transcript
	roughShare   = 0.94
	roughMost    = 0.81 // not enough alone on a clean transcript
	roughSplit   = 0.78 // of two words heard for one
)

func newLexicon() *lexicon {
	return &lexicon{
		ids:     map[string]int32{},
		byStem:  map[string][]int32{},
		bySound: map[string][]int32{},
		byBlur:  map[string][]int32{},
		byGram:  map[uint16][]int32{},
		byNear:  map[string][]int32{},
		joins:   map[string][]join{},
		heard:   map[string][]int32{},
		starts:  map[[4]byte]bool{},
		alike:   map[string][]int32{},
	}
}

// stem strips English inflection, so that "leaks", "leaked" and "leaking" are one.
func stem(word string) string {
	word = strings.TrimSuffix(word, "'s")
	if len(word) < 3 || strings.ContainsRune(word, '\'') {
		return word
	}
	if base, ok := irregular[word]; ok {
		word = base
	}
	return english.Stem(word, true)
}

func (l *lexicon) add(word string) int32 {
	if id, ok := l.ids[word]; ok {
		return id
	}
	id := int32(len(l.words))
	code := Sound(word)
	w := lexWord{sounds: soundOf(word, true), text: word, stem: stem(word), sound: code, blur: blur(code), weight: 1}
	switch {
	case functionWord(word):
		w.weight = 0.2
	case particles[word]:
		w.weight, w.particle = 0.6, true
	}
	switch word {
	case "is":
		w.ending = "'s"
	case "are":
		w.ending = "'re"
	}
	l.ids[word] = id
	l.words = append(l.words, w)
	l.byStem[w.stem] = append(l.byStem[w.stem], id)
	if len(w.stem) >= 4 {
		l.starts[[4]byte([]byte(w.stem))] = true
	}
	if w.weight == 1 && !numberWord(word) {
		if len(w.sound) > 1 {
			l.bySound[w.sound] = append(l.bySound[w.sound], id)
			l.byBlur[w.blur] = append(l.byBlur[w.blur], id)
			for _, k := range nearCodes(w.blur) {
				l.byNear[k] = append(l.byNear[k], id)
			}
		}
		for _, g := range grams(word) {
			l.byGram[g] = append(l.byGram[g], id)
		}
	}
	return id
}

func (l *lexicon) addJoin(a, b int32) {
	text := l.words[a].text + l.words[b].text
	for _, j := range l.joins[text] {
		if j == (join{a, b}) {
			return
		}
	}
	l.joins[text] = append(l.joins[text], join{a, b})
}

// addAlike lets the words of a group stand for each other, in any inflection.
func (l *lexicon) addAlike(group []string) {
	for _, w := range group {
		for _, o := range group {
			if a, b := stem(strings.ToLower(w)), stem(strings.ToLower(o)); a != b {
				for _, id := range l.byStem[b] {
					l.alike[a] = once(l.alike[a], id)
				}
			}
		}
	}
}

// grams yields the distinct letter pairs of a word.
func grams(word string) []uint16 {
	out := make([]uint16, 0, len(word))
	for i := 0; i+1 < len(word); i++ {
		if g := uint16(word[i])<<8 | uint16(word[i+1]); !slices.Contains(out, g) {
			out = append(out, g)
		}
	}
	return out
}

// nearCodes are the code and all codes with one sound left out: two codes that
// share one of them differ in one sound at most.
func nearCodes(code string) []string {
	out := []string{code}
	if len(code) >= 3 {
		for i := range len(code) {
			out = append(out, code[:i]+code[i+1:])
		}
	}
	return out
}

// rough lists the words that sound roughly like the word, for a damaged
// transcript. None is sure enough to be taken alone on a clean one.
func (l *lexicon) rough(word string, known bool) (out []match) {
	sounds := soundOf(word, true)
	most := float32(roughMost)
	if everyday[word] || known {
		most = leastDamaged - 0.01 // makes sense as it stands, and counts in longer phrases only
	}
	for _, k := range nearCodes(blur(Sound(word))) {
	next:
		for _, id := range l.byNear[k] {
			for i := range out {
				if out[i].word == id {
					continue next
				}
			}
			if like := alike(sounds, l.words[id].sounds); like >= roughLeast {
				out = append(out, match{id, min(like*roughShare, most)})
			}
		}
	}
	return out
}

// match lists the rubric words that a transcript word may stand for.
func (l *lexicon) match(word string) (out []match) {
	put := func(id int32, sim float32) {
		for i := range out {
			if out[i].word == id {
				out[i].sim = max(out[i].sim, sim)
				return
			}
		}
		out = append(out, match{id, sim})
	}
	if id, ok := l.ids[word]; ok {
		put(id, 1)
	} else if id, ok := l.ids[strings.TrimSuffix(word, "'s")]; ok {
		put(id, 1) // "the pot's mounted"
	}
	if alias, ok := smallNumbers[word]; ok {
		if id, ok := l.ids[alias]; ok {
			put(id, 1)
		}
	}
	st := stem(word)
	for _, id := range l.byStem[st] {
		put(id, simStem)
	}
	for _, id := range l.alike[st] {
		put(id, simAlike)
	}
	known := len(out) > 0
	for _, id := range l.heard[word] {
		put(id, simHeard)
	}
	if known || functionWord(word) || particles[word] || numberWord(word) || len(word) < 3 || word[0] <= '9' {
		// A word of the trade, rightly spelled, is not a slip for another one,
		// but where the rubric's own table says so.
		return out
	}
	if everyday[word] {
		// It may still be a damaged word of a longer phrase.
		sure := put
		put = func(id int32, sim float32) { sure(id, min(sim, leastSingle-0.01)) }
	}
	code := Sound(word)
	for _, id := range l.bySound[code] {
		if keep := kept(word, l.words[id].text); keep >= 0.4 {
			put(id, simSoundBase+simSoundEdit*keep)
		}
	}
	for _, id := range l.byBlur[blur(code)] {
		if keep := kept(word, l.words[id].text); keep >= 0.5 {
			if s := simBlurBase + simBlurEdit*keep; s >= simLeast {
				put(id, s)
			}
		}
	}
	if len(word) >= 5 {
		l.matchEdit(word, put)
	}
	return out
}

// matchEdit finds words that share most letters, by the letter pairs in common
// first, since the edit distance to every rubric word would be slow.
func (l *lexicon) matchEdit(word string, put func(int32, float32)) {
	g := grams(word)
	c, _ := l.counts.Get().(*sharing)
	if c == nil || len(c.n) < len(l.words) {
		c = &sharing{n: make([]uint16, len(l.words))}
	}
	defer l.counts.Put(c)
	for _, k := range g {
		for _, id := range l.byGram[k] {
			if c.n[id]++; c.n[id] == 1 {
				c.ids = append(c.ids, id)
			}
		}
	}
	for _, id := range c.ids {
		n := int(c.n[id])
		c.n[id] = 0
		other := l.words[id].text
		// One edit spoils at most two letter pairs.
		if len(other) < 4 || 2*n < len(g)-2 || !nearLength(word, other) {
			continue
		}
		if keep := kept(word, other); keep >= simEditMin {
			put(id, keep*0.96)
		}
	}
	c.ids = c.ids[:0]
}

// sharing is how many letter pairs the words of a lexicon share with one; n is
// zero between two uses.
type sharing struct {
	n   []uint16 // by word
	ids []int32  // the words that share any
}

// nearLength reports that two words can keep simEditMin of their letters.
func nearLength(a, b string) bool {
	short, long := min(len(a), len(b)), max(len(a), len(b))
	return float32(short) >= simEditMin*float32(long)
}

// kept is the share of letters kept between two words: 1 less the edit
// distance over the longer length.
func kept(a, b string) float32 {
	n := max(len(a), len(b))
	if n == 0 {
		return 1
	}
	return 1 - float32(levenshtein.ComputeDistance(a, b))/float32(n)
}

// matchJoined lists rubric words that two neighbors in the transcript make
// together ("wind shield").
func (l *lexicon) matchJoined(a, b string) []match {
	joined := a + b
	if len(joined) < 5 || functionWord(a) || fillers[a] || fillers[b] || numberWord(a) && numberWord(b) {
		return nil
	}
	if id, ok := l.ids[joined]; ok {
		return []match{{id, 0.99}}
	}
	var out []match
	if l.starts[[4]byte([]byte(joined))] { // stems are long to find
		for _, id := range l.byStem[stem(joined)] {
			out = append(out, match{id, 0.96})
		}
	}
	if out == nil && len(joined) >= 7 {
		for _, id := range l.bySound[Sound(joined)] {
			if keep := kept(joined, l.words[id].text); keep >= 0.75 && len(l.words[id].text) >= 6 {
				out = append(out, match{id, simSoundBase + simSoundEdit*keep - 0.05})
			}
		}
	}
	return out
}

// matchSplit lists words that the recognizer may have heard as two, by sound:
// "bra kits", "mud flabs". Two that make sense as they stand are left alone.
func (l *lexicon) matchSplit(a, b string, x, y sense) (out []match) {
	if len(a)+len(b) < 5 || x.kind == senseSmall || fillers[b] || x.known && y.known || x.plain && y.plain || x.fixed || y.fixed {
		return nil
	}
	joined := a + b
	for _, m := range l.rough(joined, l.knows(joined)) {
		if m.sim >= roughSplit && len(l.words[m.word].text) >= 5 {
			out = append(out, m)
		}
	}
	return out
}

// chat is what people say in any conversation besides the everyday words: no
// sign that a recognizer did badly. Chosen, no source.
var chat = set("if", "i've", "we've", "you've", "they've", "we'd", "you'd", "he'd", "she'd", "they'd", "that'd",
	"there'd", "it'll", "you'll", "we'll", "they'll", "he'll", "she'll", "that'll", "he's", "she's", "let's", "who's",
	"where's", "what's", "how's", "y'all", "ma'am", "sir", "mister", "boss", "huh", "hm", "mhm", "ha", "hey", "hi",
	"hello", "bye", "umm", "uhh", "lemme", "gimme", "kinda", "sorta", "hour", "hours", "minutes", "days", "night",
	"morning", "evening", "afternoon", "yesterday", "tomorrow", "month", "months", "weeks", "years", "ago", "miles",
	"mile", "street", "road", "city", "town", "car", "cars", "phone", "computer", "friend", "friends", "brother",
	"brother's", "sister", "mother", "father", "mom", "dad", "wife", "husband", "son", "cousin", "uncle", "kid", "kids",
	"boy", "girl", "guy", "guys", "instructor", "job", "money", "somebody", "anybody", "everybody",
	"anyone", "everyone", "anything", "anywhere", "ask", "asked", "asking", "talking", "listen", "listening", "carry",
	"count", "care", "cold", "hot", "rain", "sun", "eat", "buy", "pay", "sit", "sitting", "stand", "standing", "bring",
	"brought", "kept", "lose", "worry", "believe", "swear", "suppose", "excuse", "otherwise", "anyway", "anyhow",
	"reason", "cause", "bunch", "middle", "half", "ought", "alright", "wonder", "called", "calls", "tried", "trying",
	"knew", "gives", "goes", "happens", "happened", "english", "language", "words", "class", "test", "exam", "finish",
	"finished", "lord", "god", "gosh", "darn", "sec", "seconds", "bad", "fast", "young", "true")

// A sense says what a word is worth as it stands.
type sense struct {
	kind  uint8
	known bool // a word of the rubric or an inflection of one
	plain bool // a word that stands between any two
	fixed bool // a figure or a denial: it is never taken for something else
	stem  string
}

const (
	senseSmall    = iota // function words and fillers
	senseEveryday        // "run", "keep"
	senseTrade           // a word of the rubric
	senseOdd             // none that people say in an inspection
	senseOther
)

// sense looks a word up.
func (l *lexicon) sense(w string) sense {
	x := sense{stem: stem(w), fixed: negators[w] || numberWord(w)}
	_, x.known = l.ids[w]
	x.known = x.known || len(l.byStem[x.stem]) > 0
	x.plain = functionWord(w) || fillers[w] || everyday[w] || soft[w] || particles[w]
	switch {
	case functionWord(w) || fillers[w]:
		x.kind = senseSmall
	case x.known:
		x.kind = senseTrade
	case everyday[w]:
		x.kind = senseEveryday
	case x.plain || x.fixed || chat[w]:
		x.kind = senseOther
	default:
		x.kind = senseOdd
	}
	return x
}

// unjoin splits a word that a recognizer ran together from two words of the
// rubric ("brokenjaws", "heaterworks"); ok is false when it is none.
func (l *lexicon) unjoin(word string) (a, b string, ok bool) {
	if len(word) < 7 || len(word) > 30 || l.knows(word) || len(l.joins[word]) > 0 {
		return "", "", false
	}
	if functionWord(word) || everyday[word] || negators[word] || numberWord(word) || soft[word] {
		return "", "", false
	}
	for i := len(word) - 3; i >= 3; i-- {
		a, b = word[:i], word[i:]
		_, first := l.ids[a]
		_, second := l.ids[b]
		if first && second || first && len(b) > 3 && l.knows(b) || second && len(a) > 3 && l.knows(a) {
			return a, b, true
		}
	}
	return "", "", false
}

// knows reports a word of the rubric or an inflection of one.
func (l *lexicon) knows(word string) bool {
	if _, ok := l.ids[word]; ok {
		return true
	}
	return len(l.byStem[stem(word)]) > 0
}

// smallNumbers lets "4 way" and "5th wheel" meet phrases written in words.
var smallNumbers = map[string]string{
	"1": "one", "2": "two", "3": "three", "4": "four", "5": "five", "6": "six",
	"7": "seven", "8": "eight", "9": "nine", "10": "ten", "5th": "fifth",
}
