package cohort

import (
	"cmp"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"
)

// Newcombe is the hybrid score interval of the difference a - b of two
// independent shares at a confidence level in (0,1), without correction for
// continuity. False when either has no cases or the arguments make no sense.
//
// Source: Newcombe 1998, Statistics in Medicine 17:873-890, method 10.
func Newcombe(a, b Share, level float64) (Interval, bool) {
	ia, oka := Wilson(a.Hits, a.Of, level)
	ib, okb := Wilson(b.Hits, b.Of, level)
	if !oka || !okb {
		return Interval{}, false
	}
	pa, _ := a.Value()
	pb, _ := b.Value()
	return square(pa, ia, pb, ib, 0), true
}

// square puts two intervals together to that of the difference ("square and
// add"), with the correlation phi of the two shares.
func square(pa float64, a Interval, pb float64, b Interval, phi float64) Interval {
	add := func(x, y float64) float64 { return math.Sqrt(max(0, x*x-2*phi*x*y+y*y)) }
	d := pa - pb
	return Interval{max(-1, d-add(pa-a.Low, b.High-pb)), min(1, d+add(a.High-pa, pb-b.Low))}
}

// Fourfold counts the same students twice: what was so both times, the first
// time only, the second time only, or neither time.
type Fourfold struct {
	Both    int `json:"both"`
	First   int `json:"first_only"`
	Second  int `json:"second_only"`
	Neither int `json:"neither"`
}

// N is the number of students.
func (t Fourfold) N() int { return t.Both + t.First + t.Second + t.Neither }

// Shares are the shares of the first and of the second time.
func (t Fourfold) Shares() (first, second Share) {
	return Share{t.Both + t.First, t.N()}, Share{t.Both + t.Second, t.N()}
}

func (t Fourfold) valid() bool { return min(t.Both, t.First, t.Second, t.Neither) >= 0 && t.N() > 0 }

// NewcombePaired is the score interval of the difference first - second of two
// shares of the same students, at a confidence level in (0,1). False for no
// students, a negative count or a level that makes no sense.
//
// Source: Newcombe 1998, Statistics in Medicine 17:2635-2650, method 10, with
// its correction of phi for continuity.
func NewcombePaired(t Fourfold, level float64) (Interval, bool) {
	if !t.valid() {
		return Interval{}, false
	}
	a, b := t.Shares()
	ia, ok := Wilson(a.Hits, a.Of, level)
	if !ok {
		return Interval{}, false
	}
	ib, _ := Wilson(b.Hits, b.Of, level)
	pa, _ := a.Value()
	pb, _ := b.Value()
	n := float64(t.N())
	var phi float64
	margins := float64(a.Hits) * float64(a.Of-a.Hits) * float64(b.Hits) * float64(b.Of-b.Hits)
	if margins > 0 {
		c := float64(t.Both)*float64(t.Neither) - float64(t.First)*float64(t.Second)
		if c > 0 {
			c = max(c-n/2, 0)
		}
		phi = c / math.Sqrt(margins)
	}
	return square(pa, ia, pb, ib, phi), true
}

// Fisher is the two-sided p of Fisher's exact test that two independent shares
// are alike: the probability of all tables with these margins that are no
// likelier than the one at hand. False when either has no cases or a count
// makes no sense.
//
// Sources: Fisher 1935, The Design of Experiments, chapter 2; the two-sided sum
// as in R's fisher.test, with its allowance of 1e-7 for tables just as likely.
func Fisher(a, b Share) (p float64, ok bool) {
	if a.Of <= 0 || b.Of <= 0 || a.Hits < 0 || b.Hits < 0 || a.Hits > a.Of || b.Hits > b.Of {
		return 0, false
	}
	// The hypergeometric weights of a's hits x, relative to the mode: neighbors
	// differ by a simple factor, so no factorial is ever taken.
	hits := a.Hits + b.Hits
	low, high := max(0, hits-b.Of), min(hits, a.Of)
	mode := int(float64(hits+1) * float64(a.Of+1) / float64(a.Of+b.Of+2))
	mode = min(max(mode, low), high)
	up := func(x int) float64 { // weight of x+1 by that of x
		return float64(hits-x) / float64(x+1) * (float64(a.Of-x) / float64(b.Of-hits+x+1))
	}
	observed := 1.0
	for x := mode; x < a.Hits && observed > 0; x++ {
		observed *= up(x)
	}
	for x := mode; x > a.Hits && observed > 0; x-- {
		observed /= up(x - 1)
	}
	limit := observed * (1 + 1e-7)
	var all, rare float64
	add := func(w float64) {
		all += w
		if w <= limit {
			rare += w
		}
	}
	// Weights fall on either side of the mode; what is below least adds nothing.
	const least = 1e-300
	add(1)
	for x, w := mode, 1.0; x < high; x++ {
		if w *= up(x); w < least {
			break
		}
		add(w)
	}
	for x, w := mode, 1.0; x > low; x-- {
		if w /= up(x - 1); w < least {
			break
		}
		add(w)
	}
	return min(1, rare/all), true
}

// McNemar is the two-sided p of the exact test that a change is as likely one
// way as the other, from the students who changed: it is the binomial test of
// First of First+Second at one half. 1 when nobody changed.
//
// Source: McNemar 1947, Psychometrika 12:153-157; exact form as in Agresti,
// Categorical Data Analysis, section on matched pairs.
func McNemar(t Fourfold) float64 {
	k, n := min(t.First, t.Second), t.First+t.Second
	if k < 0 || n == 0 {
		return 1
	}
	return min(1, 2*halfBinomial(k, n))
}

// halfBinomial is the probability of at most k of n, n at least 1, at one half
// each.
func halfBinomial(k, n int) float64 {
	return distuv.Binomial{N: float64(n), P: 0.5}.CDF(float64(k))
}

// BenjaminiHochberg adjusts the p values of one family of tests, in their
// order: to call every one at most q a find keeps the expected share of false
// finds at q, for independent or positively dependent tests. A p that is not a
// number counts as 1.
//
// Source: Benjamini and Hochberg 1995, Journal of the Royal Statistical Society
// B 57:289-300; adjusted values as in R's p.adjust.
func BenjaminiHochberg(p []float64) []float64 {
	order := make([]int, len(p))
	clean := make([]float64, len(p))
	for i, v := range p {
		order[i] = i
		if clean[i] = min(max(v, 0), 1); math.IsNaN(v) {
			clean[i] = 1
		}
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(clean[b], clean[a]) })
	out := make([]float64, len(p))
	least := 1.0
	for i, at := range order {
		// Rounding must not bring the adjusted value below p.
		least = min(least, max(clean[at], clean[at]*float64(len(p))/float64(len(p)-i)))
		out[at] = least
	}
	return out
}

// Needed is the number of students in each of two groups of equal size that
// shows the difference between the shares p1 and p2 with the given power (of
// Power, say) in a two-sided test at level alpha. False when there is no
// difference or the arguments make no sense.
//
// Source: Fleiss, Levin and Paik 2003, Statistical Methods for Rates and
// Proportions, 3rd edition, formula 4.14 (from memory), without the correction
// for continuity; the same equation as R's power.prop.test.
func Needed(p1, p2, alpha, power float64) (n int, ok bool) {
	d := math.Abs(p1 - p2)
	if !(d > 0) || min(p1, p2) < 0 || max(p1, p2) > 1 || !(alpha > 0 && alpha < 1) || !(power > alpha && power < 1) {
		return 0, false
	}
	mean := (p1 + p2) / 2
	root := distuv.UnitNormal.Quantile(1-alpha/2)*math.Sqrt(2*mean*(1-mean)) + distuv.UnitNormal.Quantile(power)*math.Sqrt(p1*(1-p1)+p2*(1-p2))
	return students(root * root / (d * d))
}

// NeededForMeans is the same for a difference between two means, given the
// standard deviations in the two groups, by the normal approximation.
//
// Source: Chow, Shao and Wang, Sample Size Calculations in Clinical Research,
// section on comparing means in parallel groups (from memory).
func NeededForMeans(difference, sd1, sd2, alpha, power float64) (n int, ok bool) {
	d := math.Abs(difference)
	if !(d > 0) || !(sd1 >= 0 && sd2 >= 0) || !(alpha > 0 && alpha < 1) || !(power > alpha && power < 1) {
		return 0, false
	}
	z := distuv.UnitNormal.Quantile(1-alpha/2) + distuv.UnitNormal.Quantile(power)
	return students(z * z * (sd1*sd1 + sd2*sd2) / (d * d))
}

// students rounds up to whole students, at least 2. False beyond all schools.
func students(n float64) (int, bool) {
	const most = 1e9
	if !(n < most) {
		return 0, false
	}
	return max(2, int(math.Ceil(n-1e-9))), true
}
