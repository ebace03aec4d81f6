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
	n := seeds(t, 12)
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

// Planted differences are found, and of what is found among items at most 5% is
// not planted: the last of three cohorts leaves out 8 of 80 items more often.
func TestPlantedDifferences(t *testing.T) {
	const planted = 8
	s := school{students: 120, attempts: 3, items: 80, groups: 3, more: func(i int) float64 {
		if i < planted {
			return 3
		}
		return 0
	}}
	n := seeds(t, 8)
	var found, of, wrongly, all int
	var rate float64 // of false finds among the finds of a school
	for seed := range n {
		c, err := CompareGroups(s.draw(uint64(seed)), GroupOptions{By: ByCohort, Base: "c0"})
		if err != nil {
			t.Fatal(err)
		}
		right, wrong := 0, 0
		for k := range c.Contrasts {
			for i := range c.Items {
				it := &c.Contrasts[k].Items[i]
				real := i < planted && c.Contrasts[k].A == "c2"
				if real {
					of++
				}
				if it.Missed.Verdict == Differs {
					if real {
						right++
					} else {
						wrong++
					}
				}
				// More left out leaves fewer to get wrong, so wrong ones are not judged where planted.
				if it.Wrong.Verdict == Differs && !real {
					wrong++
				}
			}
		}
		found, wrongly, all = found+right, wrongly+wrong, all+right+wrong
		rate += float64(wrong) / float64(max(1, right+wrong)) / float64(n)
	}
	t.Logf("%d of %d planted differences found; %d of %d found ones not planted, %.1f%% a school", found, of, wrongly, all, 100*rate)
	if share := float64(found) / float64(of); share < 0.5 {
		t.Errorf("%d of %d planted differences found", found, of)
	}
	if rate > 0.05 {
		t.Errorf("%.1f%% of what a school finds is not planted", 100*rate)
	}
}
