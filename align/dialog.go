package align

import (
	"strings"

	"markaround/speech"
)

// This file tells an examiner's questions from the student's statements where
// the transcript has no speaker labels. "Is it between add and full?" claims
// nothing, and "Yes, sir." is not the student's own words either.

// answering are words that an answer begins with; questioning those that a
// question begins with.
var (
	answering = set("yes", "yeah", "yep", "yup", "no", "nope", "mm", "hm", "uh", "huh", "sure", "correct", "right", "okay", "ok", "exactly",
		"they", "it", "i", "sir", "ma'am", "not", "oh")
	questioning = set("is", "are", "was", "were", "do", "does", "did", "has", "have", "can", "could", "would", "will", "what", "what's", "which", "where",
		"where's", "who", "when", "how", "how's", "why", "any", "anything", "isn't", "aren't", "don't", "doesn't", "didn't", "won't", "and", "you", "your")
)

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
}

// queried reports that the transcript has a question mark after token i.
func (l *listening) queried(i int) bool {
	w := l.toks[i].Word
	return w < len(l.t.Words) && strings.HasSuffix(strings.TrimRight(l.t.Words[w].Text, `"')]`), "?")
}
