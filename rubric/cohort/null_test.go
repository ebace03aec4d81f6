package cohort

import (
	"os"
	"strconv"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"
)

// designs are the ways to compare that are tried on schools without differences.
var designs = []struct {
	name   string
	school school
	o      GroupOptions
}{
	{"three cohorts of 30, first attempts, each with the others", school{students: 90, attempts: 4, items: 80, groups: 3}, GroupOptions{By: ByCohort}},
	{"two cohorts of 45, last attempts", school{students: 90, attempts: 4, items: 80, groups: 2}, GroupOptions{By: ByCohort, Count: LastAttempt}},
	{"three cohorts of 30 against a base, all attempts", school{students: 90, attempts: 4, items: 80, groups: 3}, GroupOptions{By: ByCohort, Count: AllAttempts, Base: "c0", draws: 20}},
	{"the same students before and after", school{students: 60, attempts: 4, items: 80, groups: 1}, GroupOptions{By: ByDate, Date: "2026-02-01", Paired: true}},
}

// seeds is how many schools are drawn: some always, COHORT_SEEDS of them by hand.
func seeds(t *testing.T, always int) int {
	if s := os.Getenv("COHORT_SEEDS"); s != "" {
		n, err := strconv.Atoi(s)
		if err != nil || n < 1 {
			t.Fatalf("COHORT_SEEDS=%s: a number of schools", s)
		}
		return n
	}
	return always
}

// In a school without differences a comparison as a whole (passes, points,
// minutes and all items, in every contrast) finds one in at most 5% of draws.
func TestNoFalseDifferences(t *testing.T) {
	n := seeds(t, 25)
	for _, d := range designs {
		found := 0
		for seed := range n {
			c, err := CompareGroups(d.school.draw(uint64(seed)), d.o)
			if err != nil {
				t.Fatal(err)
			}
			any := false
			for k := range c.Contrasts {
				any = any || len(c.Contrasts[k].Found()) > 0
			}
			if any {
				found++
			}
		}
		t.Logf("%s: found in %d of %d schools without any", d.name, found, n)
		// More than this comes up with a probability of less than 1 in 1000 when the rate is 5%.
		limit := 0
		for 1-(distuv.Binomial{N: float64(n), P: 0.05}).CDF(float64(limit)) > 0.001 {
			limit++
		}
		if found > limit {
			t.Errorf("%s: found in %d of %d schools without any, at most %d may be chance", d.name, found, n, limit)
		}
	}
}
