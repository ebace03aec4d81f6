package cohort

import "testing"

// 100,000 sheets of 130 items and 3 cohorts, all of this package's work.
func BenchmarkCompareGroups100k(b *testing.B) {
	list := school{students: 40_000, attempts: 4, items: 130, groups: 3}.draw(1)[:100_000-2_000]
	b.Logf("%d sheets", len(list))
	for _, c := range []struct {
		name string
		o    GroupOptions
	}{
		{"first", GroupOptions{By: ByCohort}},
		{"all", GroupOptions{By: ByCohort, Count: AllAttempts}},
		{"paired", GroupOptions{By: ByDate, Date: "2026-02-01", Paired: true}},
	} {
		b.Run(c.name, func(b *testing.B) {
			for b.Loop() {
				if _, err := CompareGroups(list, c.o); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
