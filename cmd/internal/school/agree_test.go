package school

import (
	"fmt"
	"os"
	"slices"
	"strings"
	"testing"

	"markaround/align"
	"markaround/rubric"
	"markaround/rubric/cohort"
)

func sheet(t testing.TB, name string) *rubric.Rubric {
	t.Helper()
	r, err := rubric.Load(name)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// The phrases are the score sheet's own, so the matcher should mark clean
// generated speech as it was meant. Neither knows of the other.
// MARKAROUND_SCHOOL=90 takes that many students of each sheet and prints every
// item that differs.
func TestMatcherAgrees(t *testing.T) {
	students, list := 2, os.Getenv("MARKAROUND_SCHOOL") != ""
	if list {
		fmt.Sscan(os.Getenv("MARKAROUND_SCHOOL"), &students)
	}
	for _, c := range []struct {
		rubric string
		errors float64
		least  float64 // kappa
	}{
		{"class-a", 0, 0.85}, {"forklift", 0, 0.85}, {"school-bus", 0, 0.85}, {"class-a", 0.05, 0.6},
	} {
		if !list && (c.rubric == "school-bus" || c.errors > 0) {
			continue // matchers of large sheets are slow to make under -race
		}
		t.Run(fmt.Sprintf("%s %v", c.rubric, c.errors), func(t *testing.T) {
			r := sheet(t, c.rubric)
			s, err := Make(Options{Seed: 1, Students: students, Rubric: r, Errors: c.errors})
			if err != nil {
				t.Fatal(err)
			}
			m, err := align.New(r)
			if err != nil {
				t.Fatal(err)
			}
			truth, got := s.Gold(), cohort.NewMarks("program")
			sheets := map[string]*rubric.Sheet{}
			for i := range s.Attempts {
				a := &s.Attempts[i]
				sh := m.Grade(a.Transcript, align.Options{Attempt: a.ID})
				sheets[a.ID] = sh
				if err := got.AddSheet(sh); err != nil {
					t.Fatal(err)
				}
			}
			cmp := cohort.Compare(truth, got, cohort.ByItem)
			if list {
				report(t, s, cmp, sheets)
			}
			v := cmp.Kappa
			t.Logf("%d attempts, %d items: kappa %.3f, alike %d of %d", cmp.Attempts, v.N, v.Value, cmp.Alike.Hits, cmp.Alike.Of)
			if v.Undefined != "" || v.Value < c.least {
				t.Errorf("kappa %.3f of %d items, want %.2f or more: %s", v.Value, v.N, c.least, v.Undefined)
			}
		})
	}
}

func report(t *testing.T, s *School, cmp *cohort.Comparison, sheets map[string]*rubric.Sheet) {
	count := map[string]int{}
	example := map[string]string{}
	for _, p := range cmp.Disagreements() {
		k := fmt.Sprintf("%-28s %-7s -> %-7s", p.Item, p.Theirs, p.Ours)
		count[k]++
		if count[k] <= 3 {
			a := &s.Attempts[slices.IndexFunc(s.Attempts, func(a Attempt) bool { return a.ID == p.Attempt })]
			said := ""
			if i := slices.IndexFunc(s.Items, func(it *rubric.Item) bool { return it.ID == p.Item }); i >= 0 {
				for k := max(0, i-1); k <= min(i+1, len(s.Items)-1); k++ {
					said += " | " + a.texts[s.Items[k].ID]
				}
			}
			reason := ""
			for _, it := range sheets[p.Attempt].Items {
				if it.ID == p.Item {
					reason = it.Reason
				}
			}
			example[k] += fmt.Sprintf("\n        %s said %q; words %q; %s", p.Attempt, said, p.Words, reason)
		}
	}
	var keys []string
	for k := range count {
		keys = append(keys, k)
	}
	slices.SortFunc(keys, func(a, b string) int {
		if count[a] != count[b] {
			return count[b] - count[a]
		}
		return strings.Compare(a, b)
	})
	for _, k := range keys {
		t.Logf("%4d  %s%s", count[k], k, example[k])
	}
	for i, row := range cmp.Table {
		t.Logf("%-8s %v", cohort.Classes[i], row)
	}
	for _, d := range cmp.Detections() {
		t.Logf("%s: both %d, ours only %d, theirs only %d", d.Name, d.Both, d.Ours, d.Theirs)
	}
}
