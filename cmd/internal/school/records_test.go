package school

import (
	"os"
	"slices"
	"strconv"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"

	"markaround/rubric"
	"markaround/rubric/cohort"
)

// Over many schools, compare finds what was planted, and of what it finds no
// more than one in twenty was not planted; in schools without differences it
// finds one in at most 5%. MARKAROUND_SEEDS=200 takes that many schools.
func TestCompareFindsWhatWasPlanted(t *testing.T) {
	n := 12
	if text := os.Getenv("MARKAROUND_SEEDS"); text != "" {
		var err error
		if n, err = strconv.Atoi(text); err != nil || n < 1 {
			t.Fatalf("MARKAROUND_SEEDS=%s: a number of schools", text)
		}
	}
	r := sheet(t, "class-a")
	// Each group against one without gaps: against all others together, groups
	// that are alike differ from the rest truly.
	base := map[cohort.By]string{cohort.ByCohort: talk().Cohorts[0], cohort.ByInstructor: talk().Instructors[0]}
	compare := func(s *School, by cohort.By) *cohort.GroupComparison {
		t.Helper()
		c, err := cohort.CompareGroups(s.Records(), cohort.GroupOptions{By: by, Base: base[by]})
		if err != nil {
			t.Fatal(err)
		}
		return c
	}
	var planted, found, others, alike, nulls int
	for seed := range uint64(n) {
		s, err := Marks(Options{Seed: seed, Rubric: r})
		if err != nil {
			t.Fatal(err)
		}
		for _, by := range []cohort.By{cohort.ByCohort, cohort.ByInstructor} {
			c := compare(s, by)
			for k := range c.Contrasts {
				con := &c.Contrasts[k]
				is := func(d *cohort.Difference) bool {
					for _, p := range s.Planted {
						want := cohort.ItemNotSaid
						if p.Mark == rubric.Wrong {
							want = cohort.ItemSaidWrong
						}
						if p.Kind == string(by) && p.Group == con.A && p.Item == d.Item && d.Outcome == want {
							return true
						}
					}
					return false
				}
				con.All(func(d *cohort.Difference) {
					differs := d.Verdict == cohort.Differs
					switch {
					case is(d):
						planted++
						if differs {
							found++
						}
					case d.Item != "" && differs: // points and passes differ because items do
						others++
						if con.A == talk().Cohorts[2] {
							alike++
						}
					}
				})
			}
		}
		null, err := Marks(Options{Seed: seed, Rubric: r, Null: true})
		if err != nil {
			t.Fatal(err)
		}
		c := compare(null, cohort.ByCohort)
		if slices.ContainsFunc(c.Contrasts, func(con cohort.Contrast) bool { return len(con.Found()) > 0 }) {
			nulls++
		}
	}
	t.Logf("%d schools: %d of %d planted differences found, and %d that were not planted, %d of these between cohorts that are alike; something found in %d schools without differences",
		n, found, planted, others, alike, nulls)
	if float64(found) < 0.8*float64(planted) {
		t.Errorf("%d of %d planted differences found", found, planted)
	}
	// More than this comes up with a probability of less than 1 in 1000 when the rate is 5%.
	limit := func(of int) int {
		k := 0
		for 1-(distuv.Binomial{N: float64(of), P: 0.05}).CDF(float64(k)) > 0.001 {
			k++
		}
		return k
	}
	if others > limit(found+others) {
		t.Errorf("%d of %d differences found were not planted", others, found+others)
	}
	if nulls > limit(n) {
		t.Errorf("differences found in %d of %d schools without any", nulls, n)
	}
}
