package cohort

import (
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"
)

func TestNewcombePublished(t *testing.T) {
	for _, c := range []struct {
		source    string
		a, b      Share
		low, high float64
	}{
		{"Newcombe 1998, Stat. Med. 17:873; R package propint", Share{56, 70}, Share{48, 80}, 0.0524, 0.3339},
		{"Newcombe 1998; R package propint", Share{9, 10}, Share{3, 10}, 0.1705, 0.8090},
		{"Newcombe 1998 (from memory)", Share{6, 7}, Share{2, 7}, 0.0582, 0.8062},
		{"Newcombe 1998 (from memory)", Share{5, 56}, Share{0, 29}, -0.0381, 0.1926},
		{"Newcombe 1998 (from memory)", Share{0, 10}, Share{0, 20}, -0.1611, 0.2775},
		{"Newcombe 1998 (from memory)", Share{10, 10}, Share{0, 20}, 0.6791, 1},
	} {
		got, ok := Newcombe(c.a, c.b, Level)
		if !ok || !near(got.Low, c.low, 0.00005) || !near(got.High, c.high, 0.00005) {
			t.Errorf("%s: %v - %v: %v, want %v to %v", c.source, c.a, c.b, got, c.low, c.high)
		}
	}
}

func TestNewcombePairedPublished(t *testing.T) {
	// Newcombe 1998, Stat. Med. 17:2635; tests of the R package propint.
	got, ok := NewcombePaired(Fourfold{36, 12, 2, 0}, Level)
	if !ok || !near(got.Low, 0.0569, 0.00005) || !near(got.High, 0.3404, 0.00005) {
		t.Errorf("36, 12, 2, 0: %v", got)
	}
}

// Reference: statsmodels, confint_proportions_2indep with method newcomb.
func TestNewcombeAgainstReference(t *testing.T) {
	for _, c := range atLeast(t, "newcombe", load[fromSciPy](t, "school.py.json").Newcombe, 80) {
		got, ok := Newcombe(c.A.share(), c.B.share(), Level)
		if !ok || !close9(got.Low, c.Low) || !close9(got.High, c.High) {
			t.Errorf("%v - %v: %v, reference %v to %v", c.A, c.B, got, c.Low, c.High)
		}
	}
}

// Reference: the paper's formula written out in R on its prop.test.
func TestNewcombePairedAgainstReference(t *testing.T) {
	for _, c := range atLeast(t, "paired", load[fromR](t, "school.R.json").Paired, 60) {
		got, ok := NewcombePaired(Fourfold{c.Table[0], c.Table[1], c.Table[2], c.Table[3]}, Level)
		if !ok || !close9(got.Low, c.Low) || !close9(got.High, c.High) {
			t.Errorf("%v: %v, reference %v to %v", c.Table, got, c.Low, c.High)
		}
	}
}

func drawShare(rt *rapid.T, name string) Share {
	of := rapid.IntRange(1, 200).Draw(rt, name+" of")
	return Share{rapid.IntRange(0, of).Draw(rt, name), of}
}

func TestDifferenceProperties(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		a, b := drawShare(rt, "a"), drawShare(rt, "b")
		ab, _ := Newcombe(a, b, Level)
		ba, _ := Newcombe(b, a, Level)
		pa, _ := a.Value()
		pb, _ := b.Value()
		if !near(ab.Low, -ba.High, 1e-12) || !near(ab.High, -ba.Low, 1e-12) {
			rt.Fatalf("the groups changed places: %v and %v", ab, ba)
		}
		if ab.Low < -1 || ab.High > 1 || ab.Low > pa-pb+1e-12 || ab.High < pa-pb-1e-12 {
			rt.Fatalf("%v - %v: %v", a, b, ab)
		}
		wide, _ := Newcombe(a, b, 0.99)
		if wide.Low > ab.Low || wide.High < ab.High {
			rt.Fatalf("99%%: %v lies not about 95%%: %v", wide, ab)
		}
		p, ok := Fisher(a, b)
		q, _ := Fisher(b, a)
		r, _ := Fisher(Share{a.Of - a.Hits, a.Of}, Share{b.Of - b.Hits, b.Of})
		if !ok || p <= 0 || p > 1 || !near(p, q, 1e-12) || !near(p, r, 1e-12) {
			rt.Fatalf("%v, %v: p %v, with places changed %v, of the others %v", a, b, p, q, r)
		}
	})
}

func TestPairedProperties(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		n := rapid.SliceOfN(rapid.IntRange(0, 60), 4, 4).Draw(rt, "table")
		f := Fourfold{n[0], n[1], n[2], n[3]}
		if f.N() == 0 {
			return
		}
		a, _ := NewcombePaired(f, Level)
		b, _ := NewcombePaired(Fourfold{n[0], n[2], n[1], n[3]}, Level)
		if !near(a.Low, -b.High, 1e-12) || !near(a.High, -b.Low, 1e-12) {
			rt.Fatalf("before and after changed places: %v and %v", a, b)
		}
		d := float64(n[1]-n[2]) / float64(f.N())
		if math.IsNaN(a.Low) || a.Low < -1 || a.High > 1 || a.Low > d+1e-12 || a.High < d-1e-12 {
			rt.Fatalf("%v: %v", f, a)
		}
		if p := McNemar(f); p <= 0 || p > 1 || p != McNemar(Fourfold{n[0], n[2], n[1], n[3]}) {
			rt.Fatalf("%v: p %v", f, p)
		}
	})
}

func TestFisherPublished(t *testing.T) {
	for _, c := range []struct {
		source string
		a, b   Share
		p, tol float64
	}{
		{"Agresti's tea taster, R help fisher.test", Share{3, 4}, Share{1, 4}, 0.4857, 0.00005},
		{"the same, 34 of 70 tables by hand", Share{3, 4}, Share{1, 4}, 34.0 / 70, 1e-12},
		{"Fisher's twins, R help fisher.test (two-sided value computed)", Share{2, 17}, Share{10, 13}, 0.0005367, 0.00000005},
	} {
		if got, ok := Fisher(c.a, c.b); !ok || !near(got, c.p, c.tol) {
			t.Errorf("%s: %v, want %v", c.source, got, c.p)
		}
	}
	for _, bad := range [][2]Share{{{0, 0}, {1, 2}}, {{1, 2}, {0, 0}}, {{-1, 2}, {1, 2}}, {{3, 2}, {1, 2}}} {
		if p, ok := Fisher(bad[0], bad[1]); ok {
			t.Errorf("%v makes no sense and gives %v", bad, p)
		}
	}
}

// Reference: scipy.stats.fisher_exact; R, fisher.test.
func TestFisherAgainstReference(t *testing.T) {
	list := atLeast(t, "fisher", load[fromSciPy](t, "school.py.json").Fisher, 80)
	list = append(list, atLeast(t, "fisher", load[fromR](t, "school.R.json").Fisher, 60)...)
	for _, c := range list {
		if got, ok := Fisher(c.A.share(), c.B.share()); !ok || !near(got, c.P, 1e-9) {
			t.Errorf("%v, %v: %v, reference %v", c.A, c.B, got, c.P)
		}
	}
}

func TestMcNemar(t *testing.T) {
	// 1 changed one way and 9 the other: (1+10)/512 by hand.
	if got := McNemar(Fourfold{5, 1, 9, 3}); !near(got, 11.0/512, 1e-12) {
		t.Errorf("1 and 9: %v", got)
	}
	if got := McNemar(Fourfold{5, 0, 0, 3}); got != 1 {
		t.Errorf("no change: %v", got)
	}
	// Reference: statsmodels, mcnemar with exact=True.
	for _, c := range atLeast(t, "mcnemar", load[fromSciPy](t, "school.py.json").Mcnemar, 35) {
		if got := McNemar(Fourfold{c.Table[0], c.Table[1], c.Table[2], c.Table[3]}); !near(got, c.P, 1e-9) {
			t.Errorf("%v: %v, reference %v", c.Table, got, c.P)
		}
	}
}

func TestBenjaminiHochbergPublished(t *testing.T) {
	for _, c := range []struct {
		source  string
		p, want []float64
		tol     float64
	}{
		{"Benjamini and Hochberg 1995, example, as SciPy's help quotes it (adjusted values computed)",
			[]float64{.0001, .0004, .0019, .0095, .0201, .0278, .0298, .0344, .0459, .3240, .4262, .5719, .6528, .7590, 1},
			[]float64{.0015, .0030, .0095, .0356, .0603, .0639, .0639, .0645, .0765, .4860, .5812, .7149, .7532, .8132, 1}, 0.00005},
		{"stdlib.io padjust", []float64{.008, .03, .123, .6, .2}, []float64{.04, .075, .205, .6, .25}, 1e-12},
		{"stdlib.io padjust", []float64{.319, .201, .4, .374, .113}, []float64{.4, .4, .4, .4, .4}, 1e-12},
		{"none", []float64{}, []float64{}, 0},
	} {
		got := BenjaminiHochberg(c.p)
		for i := range c.want {
			if !near(got[i], c.want[i], c.tol) {
				t.Errorf("%s: %v, want %v", c.source, got, c.want)
				break
			}
		}
	}
	// The paper's own result: at 5% the first four hypotheses are rejected.
	found := 0
	for _, q := range BenjaminiHochberg([]float64{.0001, .0004, .0019, .0095, .0201, .0278, .0298, .0344, .0459, .3240, .4262, .5719, .6528, .7590, 1}) {
		if q <= 0.05 {
			found++
		}
	}
	if found != 4 {
		t.Errorf("Benjamini and Hochberg 1995: %d of 15 found, want 4", found)
	}
	// Found by a property: seven times over seven fell short of p by rounding.
	p := []float64{0.5, 0.5, 0.5, 0.5, 0.5, 0.5, 0.6250000000000013}
	if got := BenjaminiHochberg(p); got[6] < p[6] {
		t.Errorf("adjusted below p: %v", got[6])
	}
	if got := BenjaminiHochberg([]float64{math.NaN(), 0.01, -1, 7}); !slices.Equal(got, []float64{1, 0.02, 0, 1}) {
		t.Errorf("odd values: %v", got)
	}
}

// Reference: statsmodels, multipletests with fdr_bh; R, p.adjust.
func TestBenjaminiHochbergAgainstReference(t *testing.T) {
	list := append(load[fromSciPy](t, "school.py.json").Adjust, load[fromR](t, "school.R.json").Adjust...)
	for _, c := range atLeast(t, "adjust", list, 9) {
		got := BenjaminiHochberg(c.P)
		for i := range got {
			if !close9(got[i], c.Adjusted[i]) {
				t.Errorf("n %d, %d: %v, reference %v", len(c.P), i, got[i], c.Adjusted[i])
			}
		}
	}
}

func TestBenjaminiHochbergProperties(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		p := rapid.SliceOf(rapid.Float64Range(0, 1)).Draw(rt, "p")
		got := BenjaminiHochberg(p)
		for i := range p {
			if got[i] < p[i] || got[i] > min(1, p[i]*float64(len(p)))+1e-12 {
				rt.Fatalf("%v adjusted to %v among %d", p[i], got[i], len(p))
			}
			for j := range p {
				if p[i] < p[j] && got[i] > got[j] {
					rt.Fatalf("order changed: %v, %v to %v, %v", p[i], p[j], got[i], got[j])
				}
			}
		}
	})
}

func TestNeeded(t *testing.T) {
	for _, c := range []struct {
		source               string
		p1, p2, alpha, power float64
		n                    int
	}{
		{"R help power.prop.test: 76.7", 0.50, 0.75, 0.05, 0.90, 77},
		{"Fleiss, Statistical Methods for Rates and Proportions, without correction (from memory)", 0.25, 0.40, 0.05, 0.80, 152},
	} {
		if got, ok := Needed(c.p1, c.p2, c.alpha, c.power); !ok || got != c.n {
			t.Errorf("%s: %d, want %d", c.source, got, c.n)
		}
	}
	// Reference: R, power.prop.test.
	for _, c := range atLeast(t, "power", load[fromR](t, "school.R.json").Power, 40) {
		if got, ok := Needed(c.P1, c.P2, c.Alpha, c.Power); !ok || got != max(2, int(math.Ceil(c.N-1e-6))) {
			t.Errorf("%+v: %d", c, got)
		}
	}
	for _, c := range []struct {
		p1, p2, alpha, power float64
		reason               string
	}{
		{0.5, 0.5, 0.05, 0.8, "no difference"}, {-0.1, 0.5, 0.05, 0.8, "below 0"}, {0.5, 1.1, 0.05, 0.8, "above 1"},
		{0.5, 0.6, 0, 0.8, "level 0"}, {0.5, 0.6, 0.05, 1, "power 1"}, {0.5, 0.5 + 1e-9, 0.05, 0.8, "beyond all schools"},
		{math.NaN(), 0.5, 0.05, 0.8, "not a number"},
	} {
		if got, ok := Needed(c.p1, c.p2, c.alpha, c.power); ok {
			t.Errorf("%s: %d", c.reason, got)
		}
	}
	rapid.Check(t, func(rt *rapid.T) {
		p := rapid.Float64Range(0, 0.4).Draw(rt, "p")
		d := rapid.Float64Range(0.02, 0.3).Draw(rt, "d")
		small, _ := Needed(p, p+d, Alpha, Power)
		large, _ := Needed(p, p+2*d, Alpha, Power)
		sure, _ := Needed(p, p+d, Alpha, 0.95)
		if large > small || sure < small {
			rt.Fatalf("%v, %v: %d; twice the difference %d; more power %d", p, d, small, large, sure)
		}
	})
}

// Source: Chow, Shao and Wang, section on comparing means: 0.05 and 80% give
// (1.96+0.84)^2 * 2 sd^2/d^2, 63 a group for half a standard deviation (from
// memory; R's power.t.test, with t for z, gives 63.8).
func TestNeededForMeans(t *testing.T) {
	if got, ok := NeededForMeans(0.5, 1, 1, 0.05, 0.8); !ok || got != 63 {
		t.Errorf("half a standard deviation: %d", got)
	}
	if _, ok := NeededForMeans(0, 1, 1, 0.05, 0.8); ok {
		t.Error("no difference")
	}
}
