package speech

import (
	"math"
	"testing"
)

// The cue runs through a minute of silence, as that of a leak test does.
func TestSettled(t *testing.T) {
	cue := func(start, end float64, estimated bool, words ...string) *Transcript {
		tr := &Transcript{Segments: []Segment{{Start: start, End: end, Last: len(words)}}}
		for i, w := range words {
			d := (end - start) / float64(len(words))
			tr.Words = append(tr.Words, Word{Text: w, Start: start + d*float64(i), End: start + d*float64(i+1), Estimated: estimated})
		}
		return tr
	}
	for _, c := range []struct {
		reason string
		in     *Transcript
		speech []Span
		want   []Span
	}{
		{"two words before a pause and two after it", cue(0, 66, true, "hold", "here", "that", "held"),
			[]Span{{1, 3}, {63, 65}}, []Span{{1, 2}, {2, 3}, {63, 64}, {64, 65}}},
		{"a word across a pause lies where its middle does", cue(0, 20, true, "one", "two", "six"),
			[]Span{{0, 1.2}, {18.2, 20}}, []Span{{0, 1}, {18.2, 19}, {19, 20}}},
		{"measured times stay", cue(0, 4, false, "on", "it"), []Span{{1, 3}}, []Span{{0, 2}, {2, 4}}},
		{"too little speech for the words: the recording was not understood", cue(0, 8, true, "one", "two", "six", "ten"),
			[]Span{{1, 1.2}}, []Span{{0, 2}, {2, 4}, {4, 6}, {6, 8}}},
		{"no speech at all", cue(0, 4, true, "on", "it"), nil, []Span{{0, 2}, {2, 4}}},
		{"speech reaches a little beyond the cue", cue(1, 3, true, "on", "it"), []Span{{0.9, 3.5}}, []Span{{0.9, 2.05}, {2.05, 3.2}}},
	} {
		out := c.in.Settled(&Sound{Seconds: 70, Speech: c.speech})
		for i, w := range out.Words {
			if math.Abs(w.Start-c.want[i].Start) > 1e-9 || math.Abs(w.End-c.want[i].End) > 1e-9 {
				t.Errorf("%s: %q at %.2f to %.2f, want %v", c.reason, w.Text, w.Start, w.End, c.want[i])
			}
		}
	}
}
