package school

import (
	"math/big"
	"strconv"
	"strings"

	"markaround/rubric"
)

// figure is a fraction as the score sheet writes it: 4/32 is not 1/8.
type figure struct{ num, den int }

// parseFigure reads a figure of the score sheet; false for "" and for what does
// not fit.
func parseFigure(text string) (figure, bool) {
	num, den, isFraction := strings.Cut(text, "/")
	n, err := strconv.Atoi(strings.TrimSpace(num))
	if err == nil && !isFraction {
		return figure{n, 1}, true
	}
	d, err2 := strconv.Atoi(strings.TrimSpace(den))
	if err == nil && err2 == nil && d > 0 {
		return figure{n, d}, true
	}
	v, err := rubric.ParseRational(text)
	if text == "" || err != nil || !v.Num().IsInt64() || !v.Denom().IsInt64() {
		return figure{}, false
	}
	return figure{int(v.Num().Int64()), int(v.Denom().Int64())}, true
}

func (f figure) String() string {
	if f.den == 1 {
		return strconv.Itoa(f.num)
	}
	return strconv.Itoa(f.num) + "/" + strconv.Itoa(f.den)
}

func (f figure) rat() *big.Rat { return big.NewRat(int64(f.num), int64(f.den)) }

// limits are the figures that a measure accepts, over one denominator.
func limits(m *rubric.Measure) (low, high figure, hasLow, hasHigh bool) {
	low, hasLow = parseFigure(m.Min)
	high, hasHigh = parseFigure(m.Max)
	if hasLow && hasHigh && low.den != high.den {
		den := max(low.den, high.den)
		if den%low.den == 0 && den%high.den == 0 {
			low, high = figure{low.num * (den / low.den), den}, figure{high.num * (den / high.den), den}
		}
	}
	return
}

// wrongFigure is the usual wrong figure for a measure: half of a least one, half
// as much again of a largest one, as far out of a range as the range is wide.
// False where none comes to mind.
func wrongFigure(m *rubric.Measure) (figure, bool) {
	low, high, hasLow, hasHigh := limits(m)
	var tries []figure
	switch {
	case hasLow && hasHigh && low.den == high.den && low.num < high.num:
		wide := high.num - low.num
		tries = []figure{{low.num - wide, low.den}, {high.num + wide, high.den}}
	case hasLow && m.Direction != rubric.AtMost:
		tries = []figure{{low.num / 2, low.den}, {low.num * 2, low.den}}
	case hasHigh:
		tries = []figure{{high.num + (high.num+1)/2, high.den}, {high.num * 2, high.den}}
	}
	for _, f := range tries {
		if f.num > 0 && m.Judge(plain(f)) == rubric.WrongValue {
			return f, true
		}
	}
	return figure{}, false
}

// plain is the statement of a figure without a direction.
func plain(f figure) rubric.Statement { return rubric.Statement{Low: f.rat(), High: f.rat()} }

// rightFigure draws a figure that the measure accepts, a round one where there
// is choice. False where it finds none.
func rightFigure(rng source, m *rubric.Measure) (figure, bool) {
	low, high, hasLow, hasHigh := limits(m)
	var f figure
	switch {
	case hasLow && hasHigh && low.den == high.den:
		f = low
		step := 1
		if low.den == 1 && high.num-low.num >= 10 && low.num%5 == 0 {
			step = 5
		}
		f.num += step * rng.IntN((high.num-low.num)/step+1)
	case hasLow:
		f = low
	case hasHigh:
		f = high
	default:
		return f, false
	}
	return f, m.Judge(plain(f)) == ""
}

// spoken says a figure with its unit, in figures or in words.
func spoken(rng source, f figure, unit string, words bool) string {
	u, known := talk().Units[unit]
	text := f.String()
	if words {
		text = inWords(rng, f)
	}
	switch {
	case !known:
		return text
	case f.den > 1 && len(u.Part) > 0:
		return text + " " + pick(rng, u.Part)
	case f.num <= f.den:
		return text + " " + pick(rng, u.One)
	}
	return text + " " + pick(rng, u.Many)
}

// inWords writes a figure in words, or in figures where it has none.
func inWords(rng source, f figure) string {
	if f.num < 0 || f.num > 999 {
		return f.String()
	}
	if f.den == 1 {
		return number999(rng, f.num)
	}
	part, ok := talk().Parts[f.den]
	switch {
	case !ok || len(part) != 2:
		return f.String()
	case f.num == 1:
		return talk().Ones[1] + " " + part[0]
	}
	return number999(rng, f.num) + " " + part[1]
}

// number999 says "one hundred twenty five" or, as people do, "one twenty five".
func number999(rng source, n int) string {
	switch {
	case n < 20:
		return talk().Ones[n]
	case n < 100:
		if n%10 == 0 {
			return talk().Tens[n/10]
		}
		return talk().Tens[n/10] + " " + talk().Ones[n%10]
	case n%100 == 0:
		return talk().Ones[n/100] + " hundred"
	}
	rest := number999(rng, n%100)
	if n%100 >= 10 && rng.chance(60) {
		return talk().Ones[n/100] + " " + rest
	}
	return talk().Ones[n/100] + " hundred " + rest
}
