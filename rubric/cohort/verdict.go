package cohort

import (
	"fmt"
	"math"

	"markaround/rubric"
)

// families of tests: whole attempts, and items.
const families = 2

// judge adjusts all p and gives the verdicts.
func (c *GroupComparison) judge() {
	var whole, items []*Difference
	for k := range c.Contrasts {
		c.Contrasts[k].overall(func(d *Difference) { whole = append(whole, d) })
		c.Contrasts[k].All(func(d *Difference) {
			if d.Item = ""; d.Outcome == ItemNotSaid || d.Outcome == ItemSaidWrong {
				items = append(items, d)
			}
		})
		for i := range c.Contrasts[k].Items {
			d := &c.Contrasts[k].Items[i]
			d.Missed.Item, d.Wrong.Item = c.Items[i].ID, c.Items[i].ID
		}
	}
	c.Tests, c.ItemTests = adjust(whole), adjust(items)
	for k := range c.Contrasts {
		n := &c.Contrasts[k]
		n.All(func(d *Difference) {
			tests := c.Tests
			if d.Item != "" {
				tests = c.ItemTests
			}
			d.judge(n.A, n.B, c.Matters, tests)
		})
	}
}

// adjust sets Tested and Adjusted of one family and gives the number of tests.
//
// What could not have been found whatever the outcome is no test; the number of
// those missed in all tells that, not who missed: Gilbert 2005, Applied
// Statistics 54:143-158.
func adjust(family []*Difference) int {
	var p []float64
	for _, d := range family {
		if d.Tested = d.least <= Alpha; d.Tested {
			p = append(p, d.P)
		}
	}
	adjusted := BenjaminiHochberg(p)
	i := 0
	for _, d := range family {
		if d.Adjusted = 1; d.Tested {
			d.Adjusted = min(1, families*adjusted[i])
			i++
		}
	}
	return len(p)
}

// scale is how an outcome is written, and how much of it matters.
func (d *Difference) scale(m Matters) (matters, times float64, unit string) {
	switch d.Outcome {
	case PointsEarned:
		return m.Points, 1, "% of the points"
	case MinutesTaken:
		return m.Minutes, 1, " minutes"
	}
	return m.Share, 100, " percentage points"
}

func amount(x float64) string {
	if math.Abs(x) >= 10 {
		return fmt.Sprintf("%.0f", x)
	}
	return fmt.Sprintf("%.1f", x)
}

// judge gives the verdict, its words and the students needed. Tests is how many
// the family has.
func (d *Difference) judge(a, b string, m Matters, tests int) {
	matters, times, unit := d.scale(m)
	if d.A.N == 0 || d.B.N == 0 {
		nobody := a
		if d.A.N > 0 {
			nobody = b
		}
		d.Verdict, d.Words = NotCompared, "not compared: nobody in "+nobody
		if d.paired {
			d.Words = "not compared: nobody has it both times"
		}
		return
	}
	in := ""
	if d.Interval != nil {
		in = fmt.Sprintf(" (%s to %s)", amount(times*d.Interval.Low), amount(times*d.Interval.High))
	}
	if d.Tested && d.Adjusted <= Alpha {
		d.Verdict = Differs
		way := "higher"
		if d.Value < 0 {
			way = "lower"
		}
		d.Words = fmt.Sprintf("%s in %s than in %s by %s%s%s", way, a, b, amount(times*math.Abs(d.Value)), unit, in)
		if d.Interval != nil && d.Value < 0 {
			d.Words = fmt.Sprintf("%s in %s than in %s by %s%s (%s to %s)", way, a, b, amount(-times*d.Value), unit,
				amount(-times*d.Interval.High), amount(-times*d.Interval.Low))
		}
		return
	}
	within := func(i Interval) bool { return i.Low > -matters && i.High < matters }
	if d.Interval != nil && within(*d.Interval) && within(d.wide) {
		d.Verdict = Alike
		d.Words = fmt.Sprintf("alike: a difference of %s%s or more would have shown%s", amount(times*matters), unit, in)
		return
	}
	d.Verdict, d.Words = TooFew, "too few to tell"
	switch {
	case !d.Tested && d.Value == 0:
		d.Words += ", and no difference seen"
	case !d.Tested:
		d.Words += ": no outcome of so few would show a difference"
	case d.P <= Alpha:
		d.Words += fmt.Sprintf(": p is %.2g alone, but among %s that is no surprise", d.P, rubric.Plural(tests, "test"))
	}
	size := max(matters, math.Abs(d.Value))
	if n, ok := d.students(size, Alpha/families/float64(max(1, tests))); ok {
		d.Needed = max(n, min(d.A.Students, d.B.Students)+1)
		who := "a group"
		if d.paired {
			who = "measured twice"
		}
		this := "this size"
		if size == matters {
			this = amount(times*matters) + unit
		}
		d.Words += fmt.Sprintf("; about %d students %s would show a difference of %s", d.Needed, who, this)
	}
}

// students is how many a group, or in all when they are measured twice, show a
// difference of a size if it were the only one of its family.
func (d *Difference) students(size, alpha float64) (int, bool) {
	share := d.Outcome != PointsEarned && d.Outcome != MinutesTaken
	sd := d.sd
	if share && !d.paired && sd == [2]float64{} {
		p, q := d.A.Value, d.B.Value
		if math.Abs(p-q) < size {
			// Around the share of both together.
			all := (d.A.Value*float64(d.A.N) + d.B.Value*float64(d.B.N)) / float64(d.A.N+d.B.N)
			p = min(max(all-size/2, 0), 1-size)
			q = p + size
		}
		return Needed(p, q, alpha, Power)
	}
	if share && d.paired && sd[0]*sd[0] < size-size*size {
		sd[0] = math.Sqrt(size - size*size) // when nobody changes the other way
	}
	if sd == [2]float64{} {
		return 0, false
	}
	return NeededForMeans(size, sd[0], sd[1], alpha, Power)
}
