package rubric

import (
	"math/big"
	"strings"
)

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

// Accepted says in words what the measure accepts: "at least 4/32 inch", "20 to
// 45 psi", "10 seconds". A fraction goes on with a note that says what it is of
// ("at least 1/8 of a tank"); other notes are for Remark.
func (m *Measure) Accepted() string { return m.accepted() + m.whole() }

func (m *Measure) accepted() string {
	low, high, unit := m.Min, m.Max, m.Unit
	if unit == "minute" && belowOne(low) && belowOne(high) {
		low, high, unit = times(low, 60), times(high, 60), "second"
	}
	last := first(high, low)
	switch m.Direction {
	case AtLeast:
		if low != "" && high != "" && low != high {
			return "at least " + low + " to " + high + unitWord(unit, high)
		}
		return "at least " + first(low, high) + unitWord(unit, first(low, high))
	case AtMost:
		return "at most " + last + unitWord(unit, last)
	}
	switch {
	case low == "":
		return "at most " + high + unitWord(unit, high)
	case high == "":
		return "at least " + low + unitWord(unit, low)
	case low == high:
		return low + unitWord(unit, low)
	}
	return low + " to " + high + unitWord(unit, high)
}

// Remark is the note beside what Accepted says, "" where that has it already.
func (m *Measure) Remark() string {
	if m.whole() != "" {
		return ""
	}
	return m.Note
}

// whole is the note of a fraction that says what it is of.
func (m *Measure) whole() string {
	if m.Unit == "fraction" && strings.HasPrefix(m.Note, "of ") {
		return " " + m.Note
	}
	return ""
}

func first(a, b string) string {
	if a != "" {
		return a
	}
	return b
}

// unitWord is a unit behind a figure, with the space between.
func unitWord(unit, figure string) string {
	v, err := ParseRational(figure)
	if err != nil {
		return " " + unit // the reader refuses such a rubric
	}
	one := big.NewRat(1, 1)
	switch unit {
	case "", "count", "fraction":
		return ""
	case "psi", "mph", "rpm", "percent":
		return " " + unit
	case "inch":
		if v.Cmp(one) <= 0 {
			return " inch"
		}
		return " inches"
	case "foot":
		if v.Cmp(one) == 0 {
			return " foot"
		}
		return " feet"
	}
	if v.Cmp(one) == 0 {
		return " " + unit
	}
	return " " + unit + "s"
}

// belowOne tells whether a figure, if there is one, is less than one.
func belowOne(figure string) bool {
	if figure == "" {
		return true
	}
	v, err := ParseRational(figure)
	return err == nil && v.Cmp(big.NewRat(1, 1)) < 0
}

// times is a figure made n times as large.
func times(figure string, n int64) string {
	v, err := ParseRational(figure)
	if figure == "" || err != nil {
		return figure
	}
	return v.Mul(v, big.NewRat(n, 1)).RatString()
}
