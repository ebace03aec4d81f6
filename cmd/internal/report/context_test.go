package report

import (
	"strings"
	"testing"

	"markaround/rubric"
	"markaround/speech"
)

func TestInContext(t *testing.T) {
	words := strings.Fields("wait one two three four five six my drag link is not loose at all and then the tie rod")
	tr := &speech.Transcript{Segments: []speech.Segment{{Speaker: "A"}, {Speaker: "B"}}}
	for i, w := range words {
		tr.Words = append(tr.Words, speech.Word{Text: w, Start: float64(i), End: float64(i) + 0.5})
	}
	ev := func(first, last int) rubric.Evidence {
		return rubric.Evidence{Words: tr.Text(first, last), First: first, Last: last}
	}
	for _, c := range []struct {
		reason string
		change func()
		ev     rubric.Evidence
		want   string
	}{
		{"six words on each side", func() {}, ev(12, 13), "six my drag link is not [loose] at all and then the tie"},
		{"the end of the transcript", func() {}, ev(19, 20), "at all and then the tie [rod]"},
		{"the beginning", func() {}, ev(0, 2), "[wait one] two three four five six my"},
		{"evidence of another transcript", func() {}, rubric.Evidence{Words: "tight", First: 12, Last: 13}, "tight"},
		{"an index beyond the end", func() {}, rubric.Evidence{Words: "rod", First: 19, Last: 99}, "rod"},
		{"a pause ends it", func() {
			for i := 13; i < len(tr.Words); i++ {
				tr.Words[i].Start += 5
				tr.Words[i].End += 5
			}
		}, ev(12, 13), "six my drag link is not [loose]"},
		{"another speaker ends it", func() {
			for i := range 9 {
				tr.Words[i].Segment = 1
			}
		}, ev(12, 13), "link is not [loose]"},
	} {
		c.change()
		if got := inContext(tr, c.ev).String(); got != c.want {
			t.Errorf("%s: got %q, want %q", c.reason, got, c.want)
		}
	}
	if got := inContext(nil, ev(12, 13)).String(); got != "loose" {
		t.Errorf("without a transcript: %q", got)
	}
}

func TestFitKeepsTheEvidence(t *testing.T) {
	q := quoted{"six my drag link is not", "loose", "at all and then the tie"}
	for width := 12; width < 60; width++ {
		got := q.fit(width)
		if len(got) > width || !strings.Contains(got, "loose") {
			t.Errorf("fit(%d) = %q", width, got)
		}
	}
}
