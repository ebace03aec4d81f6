package align

import (
	"slices"
	"strings"
	"testing"

	"markaround/rubric"
)

// TestBenefit: what is raised to said on invented attempts whose words nobody put
// into the score sheet is doubtful, shows the words behind it, and never decides
// the test or stands for a number.
func TestBenefit(t *testing.T) {
	m := matcher(t, "class-a")
	given := 0
	for _, id := range []string{"n2", "n4", "n7", "n8"} {
		tr := transcript(t, id)
		if tr == nil {
			t.Fatalf("%s is gone", id)
		}
		for _, it := range m.Grade(tr, Options{Attempt: id}).Items {
			if !strings.HasPrefix(it.Reason, "likely said") {
				continue
			}
			given++
			ev := it.Named[slices.IndexFunc(it.Named, func(e rubric.Evidence) bool { return strings.HasPrefix(it.Reason, e.Reason) })]
			switch {
			case it.Mark != rubric.Said || it.Points != it.Of:
				t.Errorf("%s %s is %s with %v of %v points", id, it.ID, it.Mark, it.Points, it.Of)
			case it.Critical || it.Extra || lacksNumber(&it):
				t.Errorf("%s %s is critical, extra or lacks a number: %s", id, it.ID, it.Reason)
			case it.Confidence >= 0.85:
				t.Errorf("%s %s is too sure of itself: %.2f", id, it.ID, it.Confidence)
			case len(strings.Fields(ev.Words)) < 2 || it.Start < 0:
				t.Errorf("%s %s shows no words: %+v", id, it.ID, ev)
			}
		}
	}
	if given == 0 {
		t.Error("nobody was given the benefit of the doubt")
	}
	for _, it := range m.Grade(talk(turn{text: "in the cab."}, turn{text: "my uncle drove to the lake and fried a catfish there."}), Options{}).Items {
		if strings.HasPrefix(it.Reason, "likely said") {
			t.Errorf("%s without a part around it: %s", it.ID, it.Reason)
		}
	}
}
