package report

import (
	"strings"
	"unicode/utf8"

	"markaround/rubric"
	"markaround/speech"
)

// contextWords is how many words stand on each side of the evidence, and
// contextPause the silence in seconds that ends them sooner.
const (
	contextWords = 6
	contextPause = 2.0
)

// quoted is evidence with the words around it.
type quoted struct {
	Before, Words, After string
}

// inContext looks the evidence up in its transcript. Without a transcript, or
// with another one, there are only the words.
func inContext(t *speech.Transcript, ev rubric.Evidence) quoted {
	q := quoted{Words: clean(ev.Words)}
	if !inTranscript(t, ev) {
		return q
	}
	first := ev.First
	for first > 0 && ev.First-first < contextWords && together(t, first-1) {
		first--
	}
	last := ev.Last
	for last < len(t.Words) && last-ev.Last < contextWords && together(t, last-1) {
		last++
	}
	q.Before, q.After = clean(t.Text(first, ev.First)), clean(t.Text(ev.Last, last))
	return q
}

// inTranscript tells whether the words of the evidence stand in t where it says.
func inTranscript(t *speech.Transcript, ev rubric.Evidence) bool {
	return t != nil && ev.First >= 0 && ev.First < ev.Last && ev.Last <= len(t.Words) && t.Text(ev.First, ev.Last) == ev.Words
}

// together tells whether word i and the next were said by one speaker in one
// breath.
func together(t *speech.Transcript, i int) bool {
	a, b := t.Words[i], t.Words[i+1]
	return b.Start-a.End < contextPause && t.Segments[a.Segment].Speaker == t.Segments[b.Segment].Speaker
}

// String puts the evidence in square brackets where it has words around it.
func (q quoted) String() string {
	if q.Before == "" && q.After == "" {
		return q.Words
	}
	s := "[" + q.Words + "]"
	if q.Before != "" {
		s = q.Before + " " + s
	}
	if q.After != "" {
		s += " " + q.After
	}
	return s
}

// fit is the text in at most width characters. Words around the evidence go
// before words of the evidence.
func (q quoted) fit(width int) string {
	before, after := strings.Fields(q.Before), strings.Fields(q.After)
	for utf8.RuneCountInString(q.String()) > width && len(before)+len(after) > 0 {
		if len(before) > len(after) {
			before = before[1:]
		} else {
			after = after[:len(after)-1]
		}
		q.Before, q.After = strings.Join(before, " "), strings.Join(after, " ")
	}
	return Shorten(q.String(), width)
}
