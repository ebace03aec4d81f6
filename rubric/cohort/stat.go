package cohort

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// What all analyses of this package agree on.
const (
	Level = 0.95 // confidence level of intervals
	Alpha = 0.05 // p, adjusted for the number of tests, up to which a difference counts as found
	Power = 0.8  // chance to find a real difference that numbers of students needed aim at
)

// Share is a proportion with its counts: Hits of Of.
type Share struct {
	Hits, Of int
}

// Value is Hits/Of, in [0,1]; false when Of is 0.
func (s Share) Value() (float64, bool) {
	if s.Of <= 0 {
		return 0, false
	}
	return float64(s.Hits) / float64(s.Of), true
}

// Interval is the Wilson interval of the share at Level.
func (s Share) Interval() (Interval, bool) { return Wilson(s.Hits, s.Of, Level) }

// Interval is a confidence interval, both ends in the unit of the statistic.
type Interval struct {
	Low  float64 `json:"low"`
	High float64 `json:"high"`
}

// Wilson is the score interval of the proportion hits/of at a confidence level
// in (0,1), without correction for continuity. False when of is 0 or the
// arguments make no sense.
//
// Source: NIST/SEMATECH e-Handbook of Statistical Methods, 7.2.4.1; Newcombe
// 1998, Statistics in Medicine 17:857-872, method 3.
func Wilson(hits, of int, level float64) (Interval, bool) {
	if of <= 0 || hits < 0 || hits > of || !(level > 0 && level < 1) {
		return Interval{}, false
	}
	n := float64(of)
	p := float64(hits) / n
	z := quantile(level)
	zz := z * z
	center := p + zz/(2*n)
	half := z * math.Sqrt(p*(1-p)/n+zz/(4*n*n))
	in := Interval{(center - half) / (1 + zz/n), (center + half) / (1 + zz/n)}
	// The ends at 0 and n are exact; rounding can miss them.
	if hits == 0 {
		in.Low = 0
	}
	if hits == of {
		in.High = 1
	}
	return in, true
}

// quantile is the z with the given share of a standard normal within -z..z.
func quantile(level float64) float64 { return distuv.UnitNormal.Quantile((1 + level) / 2) }

// twoSided is the probability of a standard normal beyond -z or z.
func twoSided(z float64) float64 { return math.Erfc(math.Abs(z) / math.Sqrt2) }

// KappaResult is Cohen's kappa with what it is made of.
type KappaResult struct {
	N        int     // marks compared
	Observed float64 // share of marks that are alike, po
	Expected float64 // share alike by chance, pe, from both markers' own frequencies
	Value    float64 // (po - pe)/(1 - pe); 1 is full agreement, 0 is chance
	SE       float64 // large-sample standard error
	Interval Interval
	// Undefined says why there is no kappa, "" when there is one. Value, SE and
	// Interval are then 0; Observed and Expected hold as long as N > 0.
	Undefined string
}

// Kappa computes Cohen's kappa of a square table of counts, rows one marker's
// choice, columns the other's, and its confidence interval at Level, cut at -1
// and 1. Kappa is not defined for no marks, for a table that is not square or
// has a negative count, and when both markers gave all marks the same value.
//
// Sources: Cohen 1960, Educational and Psychological Measurement 20:37-46;
// standard error: Fleiss, Cohen and Everitt 1969, Psychological Bulletin
// 72:323-327, as in the SAS/STAT manual, FREQ procedure, "Simple Kappa
// Coefficient".
func Kappa(table [][]int) KappaResult {
	var r KappaResult
	k := len(table)
	rows, cols := make([]float64, k), make([]float64, k)
	for i, row := range table {
		if len(row) != k {
			return KappaResult{Undefined: "the table is not square"}
		}
		for j, n := range row {
			if n < 0 {
				return KappaResult{Undefined: "the table has a negative count"}
			}
			r.N += n
			rows[i] += float64(n)
			cols[j] += float64(n)
		}
	}
	if r.N == 0 {
		r.Undefined = "no marks to compare"
		return r
	}
	n := float64(r.N)
	one := false // all marks of both in one class: pe is exactly 1
	for i := range k {
		rows[i] /= n
		cols[i] /= n
		r.Observed += float64(table[i][i]) / n
		r.Expected += rows[i] * cols[i]
		one = one || table[i][i] == r.N
	}
	if one {
		r.Undefined = "both gave every mark the same value"
		return r
	}
	chance := 1 - r.Expected
	r.Value = (r.Observed - r.Expected) / chance
	var a, b float64
	for i := range k {
		for j := range k {
			p := float64(table[i][j]) / n
			if i == j {
				f := 1 - (rows[i]+cols[i])*(1-r.Value)
				a += p * f * f
			} else {
				f := cols[i] + rows[j]
				b += p * f * f * (1 - r.Value) * (1 - r.Value)
			}
		}
	}
	c := r.Value - r.Expected*(1-r.Value)
	// Rounding can leave a trace below 0 where the variance is 0.
	r.SE = math.Sqrt(max(0, a+b-c*c)/n) / chance
	z := quantile(Level)
	r.Interval = Interval{max(-1, r.Value-z*r.SE), min(1, r.Value+z*r.SE)}
	return r
}

// Sample is one mark with a stated confidence, and whether it was right.
type Sample struct {
	Confidence float64 // 0..1
	Right      bool
}

// Bin is a row of a reliability table: the samples with a confidence from Low
// up to High, High left out but in the last bin.
type Bin struct {
	Low, High float64
	Right     Share
	Mean      float64 // mean confidence; 0 when the bin is empty
}

// Calibration tells whether confidences mean what they say.
type Calibration struct {
	N    int     `json:"n"`
	Bins [10]Bin `json:"bins"`
	// Error is the expected calibration error, the mean distance of confidence
	// and share right over the bins, each weighted by its samples. It is only
	// defined with N > 0.
	Error float64 `json:"expected_calibration_error"`
	Sure  Share   `json:"right_at_0.9_or_more"` // right among those with a confidence of at least Sure90
}

// Sure90 is the confidence from which nine in ten marks should be right.
const Sure90 = 0.9

// Calibrate makes the reliability table of samples in ten bins of equal width.
// A confidence outside 0..1 counts as the nearest of the two.
//
// Source: Naeini, Cooper and Hauskrecht 2015, Obtaining Well Calibrated
// Probabilities Using Bayesian Binning, AAAI-15, section on calibration
// measures (with bins of equal width; cited from memory).
func Calibrate(samples []Sample) Calibration {
	var c Calibration
	for i := range c.Bins {
		c.Bins[i].Low, c.Bins[i].High = float64(i)/10, float64(i+1)/10
	}
	for _, s := range samples {
		conf := min(max(s.Confidence, 0), 1)
		if math.IsNaN(conf) {
			conf = 0
		}
		i := 0
		for i < len(c.Bins)-1 && conf >= c.Bins[i].High {
			i++
		}
		b := &c.Bins[i]
		b.Mean += conf
		b.Right.Of++
		hit := 0
		if s.Right {
			hit = 1
		}
		b.Right.Hits += hit
		if conf >= Sure90 {
			c.Sure.Hits += hit
			c.Sure.Of++
		}
		c.N++
	}
	for i := range c.Bins {
		b := &c.Bins[i]
		if right, ok := b.Right.Value(); ok {
			b.Mean /= float64(b.Right.Of)
			c.Error += math.Abs(right-b.Mean) * float64(b.Right.Of) / float64(c.N)
		}
	}
	return c
}
