package align

import (
	"strings"

	"markaround/speech"
)

// This file tells an examiner's words from the student's statements, also where
// the transcript has no speaker labels. "Is it between add and full?" claims
// nothing, and "Yes, sir." is not the student's own words either; but it names
// the part that the student may go on to speak of.

// answering are words that an answer begins with; questioning those that a
// question begins with.
var (
	answering = set("yes", "yeah", "yep", "yup", "no", "nope", "mm", "hm", "uh", "huh", "sure", "correct", "right", "okay", "ok", "exactly",
		"they", "it", "i", "sir", "ma'am", "not", "oh")
	questioning = set("is", "are", "was", "were", "do", "does", "did", "has", "have", "can", "could", "would", "will", "what", "what's", "which", "where",
		"where's", "who", "when", "how", "how's", "why", "any", "anything", "isn't", "aren't", "don't", "doesn't", "didn't", "won't", "and", "you", "your")
)

// assenting words make up an answer that says nothing of its own: "Yes, sir,
// they are."
var assenting = set("yes", "yeah", "yep", "yup", "no", "nope", "mm", "hm", "uh", "huh", "mm-hm", "uh-huh", "sure", "correct", "right", "okay", "ok", "exactly", "sir", "ma'am",
	"they", "it", "it's", "they're", "are", "is", "do", "does", "did", "was", "were", "i", "believe", "think", "so", "um", "good", "fine", "all", "there", "none", "don't", "not", "isn't", "aren't")

// mostAssent is the longest answer, in tokens, that may be an assent.
const mostAssent = 7

// assent reports that tokens [from:to) are a sentence that only agrees with what
// was asked before it.
func (l *listening) assent(from, to int) bool {
	if from == 0 || to-from > mostAssent || !l.asked[from-1] {
		return false
	}
	for _, t := range l.toks[from:to] {
		if !assenting[t.Text] {
			return false
		}
	}
	return true
}

// sentence is the end of the sentence that begins at token i.
func (l *listening) sentence(i int) int {
	for ; i < len(l.toks); i++ {
		if l.toks[i].Break == speech.StopBreak {
			return i + 1
		}
	}
	return len(l.toks)
}

// questions marks the tokens of sentences that end with a question mark and
// are put to the student: they open like a question, or the next sentence opens
// like an answer. A remark with a rising voice ("my tires are inflated?") is
// left alone.
func (l *listening) questions() {
	l.asked = make([]bool, len(l.toks))
	from := 0
	for i, t := range l.toks {
		if t.Break < speech.StopBreak {
			continue
		}
		if l.queried(i) && (questioning[l.toks[from].Text] || i+1 < len(l.toks) && answering[l.toks[i+1].Text]) {
			for k := from; k <= i; k++ {
				l.asked[k] = true
			}
		}
		from = i + 1
	}
	if l.others != nil {
		for i, t := range l.toks {
			l.asked[i] = l.others[t.Segment]
		}
	}
}

// queried reports that the transcript has a question mark after token i.
func (l *listening) queried(i int) bool {
	w := l.toks[i].Word
	return w < len(l.t.Words) && strings.HasSuffix(strings.TrimRight(l.t.Words[w].Text, `"')]`), "?")
}

// telling opens a story, as does one of the others when one of deeds follows;
// turningBack ends one.
var (
	others = phraseSet("my uncle", "my cousin", "my brother", "my daddy", "my dad", "my father", "my grandpa", "my granddad", "my husband", "my wife", "my mother",
		"my buddy", "my friend", "my neighbor", "my boss", "my teacher", "my foreman", "my auntie", "my sister", "daddy", "grandpa", "uncle of mine", "friend of mine", "buddy of mine",
		"a fellow", "a feller", "feller", "fella", "some guy", "a guy", "this guy", "the guy", "one guy", "old boy", "a man", "the man", "a kid", "one man", "other man", "old man", "people")
	deeds = set("had", "has", "have", "lost", "lose", "drove", "drives", "got", "always", "used", "said", "says", "say", "told", "once", "one", "went", "broke", "took", "tore",
		"bought", "ran", "pulled", "calls", "call", "hit", "who", "that", "did", "didn't", "ended", "missed", "forgot", "failed", "never", "left", "hauled", "hauls", "come", "came",
		"froze", "blew", "dropped", "shut", "i", "whose", "weld", "welded", "burned", "burnt", "bit", "fell")
	telling = phraseSet("one year", "one winter", "one summer", "one night", "one time", "years ago", "a while back", "back home", "back in the day", "when i was", "in my country", "in my home",
		"in home country", "i remember", "i saw a", "i seen a", "i've seen", "i have seen", "i knew a", "i know a", "we had a", "they had a", "there was a", "there was this",
		"last winter", "last summer", "last year", "last week", "last month", "yesterday", "on the news",
		"where i come from", "where i'm from", "everybody has", "everybody's got", "you show me", "it's like a", "kind of like a", "just like a", "think of a")
	turningBack = phraseSet("so", "anyway", "anyhow", "anyways", "now", "okay", "ok", "alright", "all right", "next", "but here", "but this", "but mine", "this one", "here", "but it's")
)

// tellsOf reports words of other people at token i, with a deed of theirs right
// after: "my uncle lost one", but not "my friend steps on the pedal".
func (l *listening) tellsOf(i int) bool {
	n := others.at(l.toks, i)
	if n == 0 {
		return false
	}
	for t := i + n; t < min(len(l.toks), i+n+reachDeed); t++ {
		if deeds[l.toks[t].Text] {
			return true
		}
	}
	return false
}

// reachDeed is how far after the people their deed may be named, in tokens.
const reachDeed = 4

// reachStory is how far a story goes on, in tokens, where nothing ends it.
const reachStory = 14

// stories marks the tokens of stories told on the way: of other people, other
// trucks, other days. What is named in one is named in passing and what is said
// in one claims nothing. A story goes on to the end of its sentence, or to a
// word that goes back to the matter.
func (l *listening) stories() {
	l.story = make([]bool, len(l.toks))
	for i := 0; i < len(l.toks); i++ {
		if telling.at(l.toks, i) == 0 && !l.tellsOf(i) {
			continue
		}
		// "I seen a frame once broke in two": from where its sentence begins.
		from := i
		for k := i - 1; k >= 0 && k >= i-8; k-- {
			if l.toks[k].Break == speech.StopBreak {
				from = k + 1
				break
			}
		}
		end := min(len(l.toks), i+reachStory)
		for k := i + 1; k < end; k++ {
			if l.toks[k-1].Break == speech.StopBreak || turningBack.at(l.toks, k) > 0 {
				end = k
			}
		}
		for k := from; k < end; k++ {
			l.story[k] = true
		}
		i = end - 1
	}
}
