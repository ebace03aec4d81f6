package cohort

import (
	"math"

	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"
)

// Estimate is a number from a sample with its interval at Level, in the unit of
// the numbers it was made of.
type Estimate struct {
	Value    float64
	Interval Interval
	Method   string // of the interval
	// Undefined says why there is no interval, "" when there is one. Value holds
	// all the same where the sample is not empty.
	Undefined string
}

// Mean is the mean with Student's interval. It takes two numbers at least that
// are not all the same.
//
// Source: Student 1908, Biometrika 6:1-25.
func Mean(x []float64) Estimate {
	if len(x) == 0 {
		return Estimate{Undefined: "no values"}
	}
	if len(x) == 1 {
		return Estimate{Value: x[0], Undefined: "one value only, need 2 or more"}
	}
	m, sd := stat.MeanStdDev(x, nil)
	if sd == 0 {
		return Estimate{Value: m, Undefined: "all values are the same"}
	}
	half := studentQuantile(float64(len(x)-1)) * sd / math.Sqrt(float64(len(x)))
	return Estimate{m, Interval{m - half, m + half}, "Student's t", ""}
}

// studentQuantile is the t with a share of Level within -t..t.
func studentQuantile(df float64) float64 {
	return distuv.StudentsT{Mu: 0, Sigma: 1, Nu: df}.Quantile((1 + Level) / 2)
}

// studentP is the two-sided p of t.
func studentP(t, df float64) float64 {
	return min(1, 2*distuv.StudentsT{Mu: 0, Sigma: 1, Nu: df}.CDF(-math.Abs(t)))
}

// Test is a difference with its interval at Level and the p of no difference.
type Test struct {
	Estimate
	P float64 // 1 when Undefined is set
}

// Welch is the difference of means a - b of two independent samples, whose
// spreads may differ. It takes two numbers in each at least.
//
// Source: Welch 1947, Biometrika 34:28-35; degrees of freedom: Satterthwaite
// 1946, Biometrics Bulletin 2:110-114.
func Welch(a, b []float64) Test {
	out := Test{P: 1}
	if len(a) == 0 || len(b) == 0 {
		out.Undefined = "no values in one group"
		return out
	}
	ma, va := meanVariance(a)
	mb, vb := meanVariance(b)
	out.Value = ma - mb
	na, nb := float64(len(a)), float64(len(b))
	va, vb = va/na, vb/nb
	switch {
	case len(a) == 1 || len(b) == 1:
		out.Undefined = "one value only in one group, need 2 or more"
		return out
	case va+vb == 0:
		out.Undefined = "all values of either group are the same"
		return out
	}
	df := (va + vb) * (va + vb) / (va*va/(na-1) + vb*vb/(nb-1))
	se := math.Sqrt(va + vb)
	half := studentQuantile(df) * se
	out.Interval = Interval{out.Value - half, out.Value + half}
	out.Method = "Welch's t"
	out.P = studentP(out.Value/se, df)
	return out
}

// meanVariance divides by n-1; the variance of one number is 0.
func meanVariance(x []float64) (mean, variance float64) {
	if len(x) == 1 {
		return x[0], 0
	}
	return stat.MeanVariance(x, nil)
}

// PairedMean is the mean of differences within students, with Student's
// interval and the p of the paired t test. It takes two that are not all the
// same.
//
// Source: Student 1908, Biometrika 6:1-25.
func PairedMean(differences []float64) Test {
	out := Test{Mean(differences), 1}
	if out.Undefined != "" {
		return out
	}
	_, sd := stat.MeanStdDev(differences, nil)
	n := float64(len(differences))
	out.P = studentP(out.Value/(sd/math.Sqrt(n)), n-1)
	return out
}

// middle is the median of sorted numbers.
func middle(sorted []float64) float64 {
	n := len(sorted)
	return (sorted[(n-1)/2] + sorted[n/2]) / 2
}
