package rubric

import (
	"fmt"
	"math/big"
)

// Meetable reports whether some statement is accepted: a figure of its range,
// said flat or as a bound of either direction.
func (m *Measure) Meetable() bool {
	low, high, err := m.Range()
	if err != nil {
		return false
	}
	for _, figure := range m.figures(low, high) {
		for _, s := range []Statement{{Low: figure, High: figure}, {Low: figure, High: figure, Pointing: Upward}, {Low: figure, High: figure, Pointing: Downward}} {
			if m.Judge(s) == "" {
				return true
			}
		}
	}
	return false
}

// figures are the ends of the range; for what is counted, the whole numbers
// next to them inside it.
func (m *Measure) figures(low, high *big.Rat) (out []*big.Rat) {
	for i, end := range []*big.Rat{low, high} {
		if end == nil {
			continue
		}
		if m.Unit != "count" || end.IsInt() {
			out = append(out, end)
			continue
		}
		whole := new(big.Int).Div(end.Num(), end.Denom()) // rounded down
		if i == 0 {
			whole.Add(whole, big.NewInt(1))
		}
		v := new(big.Rat).SetInt(whole)
		if (low == nil || v.Cmp(low) >= 0) && (high == nil || v.Cmp(high) <= 0) {
			out = append(out, v)
		}
	}
	return out
}

// Unmeetable are the measures that no statement can satisfy, and those whose
// direction points to an end that is open, so that it rules out nothing, as
// warnings.
func (r *Rubric) Unmeetable() (warnings Errors) {
	for e := range r.All() {
		for i := range e.Item.Measures {
			m := &e.Item.Measures[i]
			at := r.At(m.Pos, "max")
			if r.places[place{m.Pos, "max"}] == (Pos{}) {
				at = r.At(m.Pos, "min")
			}
			open := ""
			switch {
			case !m.Meetable():
				warnings = append(warnings, &Error{at, fmt.Sprintf("no figure and no bound satisfies measure %q of %s", m.ID, e.Item.ID), "what is counted needs a whole number between min and max"})
			case m.Direction == AtLeast && m.Min == "":
				open = "min"
			case m.Direction == AtMost && m.Max == "":
				open = "max"
			}
			if open != "" {
				warnings = append(warnings, &Error{at, fmt.Sprintf("measure %q of %s points %s but has no %s, so that any bound satisfies it", m.ID, e.Item.ID, m.Direction, open), "add " + open + ": …, or turn direction round"})
			}
		}
	}
	return warnings
}
