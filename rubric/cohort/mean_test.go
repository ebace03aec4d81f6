package cohort

import (
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// Data: Student's sleep data (Student 1908; R's data set sleep), extra hours.
var (
	sleep1 = []float64{0.7, -1.6, -0.2, -1.2, -0.1, 3.4, 3.7, 0.8, 0, 2}
	sleep2 = []float64{1.9, 0.8, 1.1, 0.1, -0.1, 4.4, 5.5, 1.6, 4.6, 3.4}
)

func TestMeansPublished(t *testing.T) {
	// R help t.test on sleep: Welch -3.3654832 to 0.2054832, p 0.07939; paired
	// -2.4598858 to -0.7001142, p 0.002833 (from memory).
	w := Welch(sleep1, sleep2)
	if !near(w.Value, -1.58, 1e-9) || !near(w.Interval.Low, -3.3654832, 5e-8) || !near(w.Interval.High, 0.2054832, 5e-8) || !near(w.P, 0.07939, 5e-6) {
		t.Errorf("Welch: %+v", w)
	}
	var d []float64
	for i := range sleep1 {
		d = append(d, sleep1[i]-sleep2[i])
	}
	p := PairedMean(d)
	if !near(p.Interval.Low, -2.4598858, 5e-8) || !near(p.Interval.High, -0.7001142, 5e-8) || !near(p.P, 0.002833, 5e-7) {
		t.Errorf("paired: %+v", p)
	}
}

// Reference: R, t.test.
func TestMeansAgainstReference(t *testing.T) {
	r := load[fromR](t, "school.R.json")
	for _, c := range atLeast(t, "welch", r.Welch, 40) {
		got := Welch(c.A, c.B)
		if got.Undefined != "" || !close9(got.Interval.Low, c.Low) || !close9(got.Interval.High, c.High) || !near(got.P, c.P, 1e-9) {
			t.Errorf("n %d and %d: %+v, reference %v to %v, p %v", len(c.A), len(c.B), got, c.Low, c.High, c.P)
		}
	}
	for _, c := range atLeast(t, "mean", r.Mean, 20) {
		got := PairedMean(c.A)
		if !close9(got.Value, c.Mean) || !close9(got.Interval.Low, c.Low) || !close9(got.Interval.High, c.High) || !near(got.P, c.P, 1e-9) {
			t.Errorf("n %d: %+v, reference %+v", len(c.A), got, c)
		}
	}
}

func TestMeansUndefined(t *testing.T) {
	for _, c := range []struct {
		got    Estimate
		value  float64
		says   string
		reason string
	}{
		{Mean(nil), 0, "no values", "nothing"},
		{Mean([]float64{4}), 4, "need 2", "one value has no spread"},
		{Mean([]float64{4, 4, 4}), 4, "the same", "no spread"},
		{Welch(nil, []float64{1, 2}).Estimate, 0, "no values", "one group empty"},
		{Welch([]float64{5}, []float64{1, 2}).Estimate, 3.5, "need 2", "one value in a group"},
		{Welch([]float64{5, 5}, []float64{2, 2}).Estimate, 3, "the same", "no spread in either"},
	} {
		if !strings.Contains(c.got.Undefined, c.says) || c.got.Value != c.value || c.got.Interval != (Interval{}) || c.got.Method != "" {
			t.Errorf("%s: %+v", c.reason, c.got)
		}
	}
	if p := Welch([]float64{5, 5}, []float64{2, 2}).P; p != 1 {
		t.Errorf("no spread: p %v", p)
	}
}

func TestMeanProperties(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		numbers := rapid.SliceOfN(rapid.Float64Range(-1e4, 1e4), 6, 40)
		a, b := numbers.Draw(rt, "a"), numbers.Draw(rt, "b")
		ab, ba := Welch(a, b), Welch(b, a)
		if !near(ab.Value, -ba.Value, 1e-6) || !near(ab.Interval.Low, -ba.Interval.High, 1e-6) || !near(ab.P, ba.P, 1e-9) {
			rt.Fatalf("groups changed places: %+v, %+v", ab, ba)
		}
		if ab.Undefined == "" && !(ab.Interval.Low <= ab.Value && ab.Value <= ab.Interval.High) {
			rt.Fatalf("%+v", ab)
		}
	})
}
