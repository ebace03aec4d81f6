package cohort

import (
	"fmt"
	"math"
	"math/rand/v2"
)

// school is an invented school's records, drawn at random.
type school struct {
	students, attempts int // attempts at most, of one student
	items, groups      int
	// more is added to the log odds to miss an item in the last group.
	more func(item int) float64
	// drift is added to the log odds with each attempt; students learn.
	drift float64
}

// draw makes the records: able and less able students, easy and hard items, a
// pass for few misses, minutes that hang on the student.
func (s school) draw(seed uint64) []Record {
	rng := rand.New(rand.NewPCG(seed, 77))
	form := &Form{ID: "invented"}
	hard := make([]float64, s.items)
	for i := range s.items {
		form.Items = append(form.Items, Column{ID: fmt.Sprintf("s%d.i%d", i/10, i), Title: fmt.Sprintf("item %d", i), Section: fmt.Sprintf("s%d", i/10), Critical: i%20 == 0, Of: 1})
		hard[i] = -1.5 + rng.NormFloat64()
	}
	var list []Record
	marks := make([]byte, s.items)
	for n := range s.students {
		able, pace := rng.NormFloat64(), rng.NormFloat64()
		group := n % s.groups
		for a := range 1 + rng.IntN(s.attempts) {
			missed := 0
			for i := range marks {
				odds := hard[i] - able + s.drift*float64(a)
				if s.more != nil && group == s.groups-1 {
					odds += s.more(i)
				}
				marks[i] = 's'
				if rng.Float64() < 1/(1+math.Exp(-odds)) {
					marks[i] = 'm'
					missed++
					if rng.IntN(5) == 0 {
						marks[i] = 'w'
					}
				}
			}
			day := fmt.Sprintf("2026-%02d-%02d", 1+a, 1+n%28)
			list = append(list, Record{Name: fmt.Sprintf("a%d-%d", n, a), Student: fmt.Sprintf("st%05d", n), Number: a + 1, Day: day,
				Cohort: fmt.Sprintf("c%d", group), Site: fmt.Sprintf("site %d", n%2), Points: float64(s.items - missed), Of: float64(s.items),
				Pass: missed*5 <= s.items, Seconds: 60 * (25 + 4*pace + rng.NormFloat64()), Form: form, Marks: string(marks)})
		}
	}
	return list
}
