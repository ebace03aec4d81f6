package align

import (
	"strings"
	"testing"

	"markaround/rubric"
)

// TestAttempts shows, with -v, where the matcher and the gold marks of the open
// attempts part. Set MARKAROUND_ASIDE=1 to look at the ones set aside instead.
func TestAttempts(t *testing.T) {
	gold := goldMarks(t)
	marks := map[string]map[string]rubric.Mark{} // attempt → item or finding → mark
	for _, j := range gold.All() {
		if marks[j.Attempt] == nil {
			marks[j.Attempt] = map[string]rubric.Mark{}
		}
		marks[j.Attempt][j.Item] = j.Mark
	}
	with := matchers(t, gold)
	total, right := 0, 0
	for _, id := range gold.Attempts() {
		tr := transcript(t, id)
		if tr == nil {
			continue
		}
		s := with(id).Grade(tr, Options{})
		n, ok := 0, 0
		for _, it := range s.Items {
			want, has := marks[id][it.ID]
			if !has {
				continue
			}
			n++
			if want == it.Mark {
				ok++
				continue
			}
			t.Logf("%s %s: is %s, want %s (%.2f): %s", id, it.ID, it.Mark, want, it.Confidence, it.Reason)
		}
		for _, f := range s.Findings {
			key := string(f.Kind) + ":" + f.ID
			if marks[id][key] == "" {
				t.Logf("%s FINDING not in gold %s: %s", id, key, f.Text)
			}
			delete(marks[id], key)
		}
		for key := range marks[id] {
			if strings.Contains(key, ":") {
				t.Logf("%s FINDING lacking %s", id, key)
			}
		}
		t.Logf("%s: %d of %d", id, ok, n)
		total += n
		right += ok
	}
	t.Logf("all: %d of %d, %.3f", right, total, float64(right)/float64(total))
	if float64(right) < 0.9*float64(total) {
		t.Errorf("%d of %d marks agree, want at least nine in ten", right, total)
	}
}
