package align

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"markaround/rubric"
)

// This file gives parts the benefit of the doubt. A score sheet knows many ways to
// say a thing, but not all: of the parts that students of unseen attempts said and
// the matcher did not find, most show it, for words stand at their place that
// nothing was made of. Where it is likelier that the part was said than that it was
// left out, the mark is said, and the instructor is asked to listen.

// benefits are, for a mark that would be given, the least confidence at which it
// stands, and the share that was said of those that do not.
var benefits = map[rubric.Mark]struct{ least, said float64 }{
	rubric.Missed: {0.44, 0.80},
	rubric.Partly: {0.46, 0.85},
}

// benefit raises doubtful marks to said. Critical parts, which decide the test
// by themselves, and numbers are never guessed.
func (l *listening) benefit(items []rubric.ItemMark, place []tokenSpan, understood []bool) {
	for i := range items {
		m := &items[i]
		b, ok := benefits[m.Mark]
		if !ok || m.Confidence >= b.least || m.Critical || m.Extra || lacksNumber(m) {
			continue
		}
		ev, ok := l.untold(items, place, understood, i)
		if !ok {
			continue
		}
		at, _ := slices.BinarySearchFunc(m.Named, ev.First, func(e rubric.Evidence, w int) int { return cmp.Compare(e.First, w) })
		m.Named = slices.Insert(slices.Clone(m.Named), at, ev)
		m.Mark, m.Points = rubric.Said, m.Of
		m.Confidence = math.Round(100*b.said*(1-m.Confidence)) / 100
		m.Reason = fmt.Sprintf("%s: %q", ev.Reason, ev.Words)
		if m.Start < 0 {
			m.Start = ev.Start
		}
	}
}

// lacksNumber reports that a number which must be said was not.
func lacksNumber(m *rubric.ItemMark) bool {
	return slices.ContainsFunc(m.Measures, func(q rubric.MeasureMark) bool { return !q.Optional && q.Mark == rubric.Missed })
}

// untold is the longest run of words at an item's place, small words among them,
// that begins and ends with words that nothing was made of.
func (l *listening) untold(items []rubric.ItemMark, place []tokenSpan, understood []bool, i int) (rubric.Evidence, bool) {
	before, after := l.around(items, place, i)
	from, to := l.window(place, before, i, after)
	best, count := tokenSpan{}, 0
	for t := from; t < to; t++ {
		if understood[t] {
			continue
		}
		run, n := tokenSpan{t, t + 1}, 1
		for k := t + 1; k < to && k-run.last < 5; k++ {
			if !understood[k] {
				run.last = k + 1
				n++
			}
		}
		if n > count {
			best, count = run, n
		}
		t = run.last
	}
	if count < 2 {
		return rubric.Evidence{}, false
	}
	return l.evidence(best.first, best.last, 0.5, "likely said in words that the score sheet does not know"), true
}
