package rubric

import "math/big"

// Pointing is the way a stated number points.
type Pointing uint8

// Pointings of a stated number.
const (
	Flat     Pointing = iota // a figure as it is: "125", "about 60"
	Upward                   // at least, above, not below, before it falls to
	Downward                 // at most, below, not above, within
	Range                    // from one figure to another
)

// Statement is a number that the student stated for a measure.
type Statement struct {
	Evidence
	Low, High *big.Rat // the same unless Pointing is Range
	Pointing  Pointing
	Said      string // normal form for people: "at most 6 psi"
}

// Problems of a stated number.
const (
	WrongValue     = "value"     // the figure is outside the accepted range
	WrongDirection = "direction" // the figure points the wrong way: "at most" for "at least"
)

// Judge holds a stated number against the measure: "" when it is accepted, else
// WrongDirection or WrongValue. This is the only place where a number is
// called right or wrong.
//
// A limit that must point one way may be stated without a direction ("4/32"),
// but not with the opposite one. Strict and loose bounds count the same ("less
// than 4", "no more than 4"): people do not tell them apart when they speak. A
// range must lie inside the accepted one, both ends included.
func (m *Measure) Judge(s Statement) string {
	low, high, err := m.Range()
	if err != nil {
		return "" // the reader refuses such a rubric
	}
	if m.Direction == AtLeast && s.Pointing == Downward || m.Direction == AtMost && s.Pointing == Upward {
		return WrongDirection
	}
	lo, hi := s.Low, s.High
	if s.Pointing == Range && low != nil && high != nil && low.Cmp(high) == 0 {
		// "between 2 and 4" for a limit of 4: the end that the limit is about.
		switch m.Direction {
		case AtMost:
			lo = hi
		case AtLeast:
			hi = lo
		}
	}
	if low != nil && lo.Cmp(low) < 0 || high != nil && hi.Cmp(high) > 0 {
		return WrongValue
	}
	return ""
}

// Accepted says in words what the measure accepts, without its note.
func (m *Measure) Accepted() string {
	unit := ""
	if m.Unit != "count" && m.Unit != "" {
		unit = " " + m.Unit
	}
	switch {
	case m.Direction == AtLeast && m.Min != "" && m.Max != "" && m.Min != m.Max:
		return "at least " + m.Min + " to " + m.Max + unit
	case m.Direction == AtLeast:
		return "at least " + first(m.Min, m.Max) + unit
	case m.Direction == AtMost:
		return "at most " + first(m.Max, m.Min) + unit
	case m.Min == "":
		return "at most " + m.Max + unit
	case m.Max == "":
		return "at least " + m.Min + unit
	case m.Min == m.Max:
		return m.Min + unit
	}
	return m.Min + " to " + m.Max + unit
}

func first(a, b string) string {
	if a != "" {
		return a
	}
	return b
}
