package cohort

import (
	"fmt"
	"testing"
)

// Some 100,000 sheets of 130 items and 3 cohorts, all of this package's work.
func BenchmarkCompareGroups100k(b *testing.B) {
	list := school{students: 40_000, attempts: 4, items: 130, groups: 3}.draw(1)[:98_000]
	for i := range list {
		list[i].Instructor = fmt.Sprintf("i%02d", int(list[i].Student[6]+3*list[i].Student[5])%12)
	}
	for _, c := range []struct {
		name string
		o    GroupOptions
	}{
		{"first", GroupOptions{By: ByCohort}},
		{"all", GroupOptions{By: ByCohort, Count: AllAttempts}},
		{"12 instructors, first", GroupOptions{By: ByInstructor}},
		{"12 instructors, all", GroupOptions{By: ByInstructor, Count: AllAttempts}},
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

// The item analysis of as many.
func BenchmarkAnalyze100k(b *testing.B) {
	list := school{students: 40_000, attempts: 4, items: 130, groups: 3}.draw(1)[:98_000]
	for _, count := range []Count{FirstAttempt, AllAttempts} {
		b.Run(string(count), func(b *testing.B) {
			for b.Loop() {
				if _, err := Analyze(list, count); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
