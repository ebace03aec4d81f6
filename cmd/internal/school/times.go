package school

import (
	"strings"

	"markaround/speech"
)

// timed gives every word its time, in whole milliseconds. Long words last
// longer; with the breaths between sentences the whole keeps near the student's
// pace, longer pauses apart.
func (y *saying) timed() *speech.Transcript {
	rng := random(y.s.Seed, useTimes, y.a.Student, y.a.Number)
	t := &speech.Transcript{Name: y.a.ID}
	at := 500 + rng.IntN(2000)
	slot := 60_000 * soundShare / 100 / y.st.pace // of a word of middling length
	for _, s := range y.sentences {
		at += s.pause
		for i, w := range strings.Fields(s.text) {
			if i%cueWords == 0 {
				t.Segments = append(t.Segments, speech.Segment{Start: seconds(at), First: len(t.Words), Cue: len(t.Segments) + 1})
			}
			long := slot * (35 + 65*len(w)*10/middling) / 100
			long = min(max(long*(85+rng.IntN(31))/100, 70), 1500)
			confidence := 1 - float64(rng.IntN(80)*rng.IntN(80))/20_000
			t.Words = append(t.Words, speech.Word{Text: w, Start: seconds(at), End: seconds(at + long*92/100), Confidence: confidence, Segment: len(t.Segments) - 1})
			at += long
			seg := &t.Segments[len(t.Segments)-1]
			seg.Last, seg.End = len(t.Words), seconds(at-long+long*92/100)
		}
	}
	return t
}

const (
	soundShare = 84 // percent of the time in which words sound
	middling   = 47 // tenths of letters in a word
	cueWords   = 14 // words in a caption
)

// seconds are exact where they were milliseconds, as far as a float64 goes.
func seconds(ms int) float64 { return float64(ms) / 1000 }
