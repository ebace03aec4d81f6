package cohort

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"pgregory.net/rapid"
)

// Reference: scipy.stats.permutation_test over all ways.
func TestPermutationAgainstReference(t *testing.T) {
	for _, c := range atLeast(t, "permutation", load[fromSciPy](t, "school.py.json").Permutation, 10) {
		got := PermutationTest(c.A, c.B, 1)
		if !got.Exact || got.Tried != c.Tried || !near(got.P, c.P, 1e-9) {
			t.Errorf("n %d and %d: %+v, reference %v of %d", len(c.A), len(c.B), got, c.P, c.Tried)
		}
	}
}

// Data and results: Efron and Tibshirani 1993, table 2.1, survival of mice in
// days (from memory): difference of means 30.63, ideal bootstrap standard error
// of the treated group's mean 23.36.
func TestMice(t *testing.T) {
	treated := []float64{94, 197, 16, 38, 99, 141, 23}
	control := []float64{52, 104, 146, 10, 51, 30, 40, 27, 46}
	p := PermutationTest(treated, control, 1)
	if !near(p.Difference, 30.63, 0.005) || !p.Exact || p.Tried != 11440 {
		t.Errorf("%+v", p)
	}
	var one []Cluster
	for _, v := range treated {
		one = append(one, Cluster{v, 1})
	}
	// Of 2000 replicates, the standard error is known to about 1.6%.
	if b := ClusterBootstrap(one, 1); !near(b.SE, 23.36, 0.05*23.36) || !near(b.Value, 86.86, 0.005) {
		t.Errorf("%+v", b)
	}
}

func TestPermutationAtRandom(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	draw := func(n int, mean float64) []float64 {
		x := make([]float64, n)
		for i := range x {
			x[i] = rng.NormFloat64() + mean
		}
		return x
	}
	a, b := draw(30, 0.5), draw(25, 0)
	got, again, other := PermutationTest(a, b, 7), PermutationTest(a, b, 7), PermutationTest(a, b, 8)
	if got.Exact || got.Tried == 0 || got.Tried > permutations || got != again {
		t.Errorf("not the same twice: %+v, %+v", got, again)
	}
	// Both are near Welch's p, which for samples like these is near the share of all ways.
	if w := Welch(a, b).P; !near(got.P, w, 0.02) || !near(other.P, w, 0.02) {
		t.Errorf("p %v and %v, Welch %v", got.P, other.P, w)
	}
	if far := PermutationTest(draw(40, 9), draw(40, 0), 1); far.P != 1.0/(permutations+1) {
		t.Errorf("never 0: %v", far.P)
	}
}

func TestPermutationProperties(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		numbers := rapid.SliceOfN(rapid.Float64Range(0, 100), 0, 7)
		a, b := numbers.Draw(rt, "a"), numbers.Draw(rt, "b")
		x, y := PermutationTest(a, b, 1), PermutationTest(b, a, 1)
		if !near(x.P, y.P, 1e-12) || !near(x.Difference, -y.Difference, 1e-9) || x.P <= 0 || x.P > 1 {
			rt.Fatalf("%+v, with places changed %+v", x, y)
		}
	})
	for _, c := range []struct {
		a, b   []float64
		reason string
	}{
		{nil, []float64{1}, "an empty group"}, {[]float64{3, 3}, []float64{3, 3, 3}, "all the same"},
		{[]float64{0.1, 0.2, 0.3}, []float64{0.3, 0.2, 0.1}, "the same numbers, but for rounding"},
	} {
		if p := PermutationTest(c.a, c.b, 1).P; p != 1 {
			t.Errorf("%s: p %v", c.reason, p)
		}
	}
}

// Reference: scipy.stats.permutation_test within pairs, over all ways.
func TestSignFlipAgainstReference(t *testing.T) {
	for _, c := range atLeast(t, "signs", load[fromSciPy](t, "school.py.json").Signs, 5) {
		got := SignFlip(c.Differences, 1)
		if !got.Exact || got.Tried != c.Tried || !near(got.P, c.P, 1e-9) {
			t.Errorf("n %d: %+v, reference %v of %d", len(c.Differences), got, c.P, c.Tried)
		}
	}
	// Data: Darwin's maize, differences in eighths of an inch; Fisher 1935, The
	// Design of Experiments, section 21: 1,726 of 32,768 ways are as far off.
	maize := []float64{49, -67, 8, 16, 6, 23, 28, 41, 14, 29, 56, 24, 75, 60, -48}
	if got := SignFlip(maize, 1); !got.Exact || got.Tried != 32768 || !near(got.P, 1726.0/32768, 1e-12) {
		t.Errorf("Darwin's maize: %+v", got)
	}
	if got := SignFlip([]float64{0, 0}, 1); got.P != 1 {
		t.Errorf("no differences: %+v", got)
	}
}

// All ways, some at random and the normal limit agree where they meet.
func TestResamplingMeets(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	var a, b, d []float64
	for range 505 {
		a, b = append(a, rng.ExpFloat64()), append(b, rng.ExpFloat64()+0.17)
	}
	for i := range a {
		d = append(d, a[i]-b[i])
	}
	large, small := PermutationTest(a, b, 1), PermutationTest(a[:499], b[:499], 1)
	if large.Tried != 0 || small.Tried == 0 || small.Exact || !near(large.P, Welch(a, b).P, 0.005) || !near(small.P, Welch(a[:499], b[:499]).P, 0.01) {
		t.Errorf("parting: %+v, %+v", large, small)
	}
	large, small = SignFlip(d, 1), SignFlip(d[:499], 1)
	if large.Tried != 0 || small.Tried == 0 || small.Exact || !near(large.P, PairedMean(d).P, 0.005) || !near(small.P, PairedMean(d[:499]).P, 0.01) {
		t.Errorf("signs: %+v, %+v", large, small)
	}
	for p, want := range map[Permutation]string{{Exact: true, Tried: 9}: "t, all ways", {Tried: 9}: "t, 9 ways at random", {}: "t, normal limit of all ways"} {
		if got := how("t", p.Exact, p.Tried); got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
}

// Reference: scipy.stats.bootstrap with method percentile, on its own draws.
func TestPercentileAgainstReference(t *testing.T) {
	for _, c := range atLeast(t, "percentile", load[fromSciPy](t, "school.py.json").Percentile, 2) {
		s := slices.Sorted(slices.Values(c.Values))
		_, v := meanVariance(s)
		low, high := percentile(s, 0.025), percentile(s, 0.975)
		if !close9(low, c.Low) || !close9(high, c.High) || !close9(math.Sqrt(v), c.SE) {
			t.Errorf("%v to %v, reference %v to %v", low, high, c.Low, c.High)
		}
	}
}

// Reference: the ideal bootstrap, all n^n draws, by numpy.
func TestClusterBootstrapAgainstAllDraws(t *testing.T) {
	for _, c := range atLeast(t, "exact_se", load[fromSciPy](t, "school.py.json").ExactSE, 3) {
		var list []Cluster
		for i := range c.N {
			list = append(list, Cluster{float64(c.Sums[i]), c.N[i]})
		}
		got := ClusterBootstrap(list, 3)
		if !near(got.SE, c.SE, 0.06*c.SE) || !near(got.Interval.Low, c.Low, 0.06) || !near(got.Interval.High, c.High, 0.06) {
			t.Errorf("%v: %+v, reference %v, %v to %v", list, got, c.SE, c.Low, c.High)
		}
	}
}

// Drawing alike students together has the same distribution as one by one.
func TestSamplerKinds(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 6))
	for _, students := range []int{100, 2000} {
		var list []Cluster
		for range students {
			n := 1 + rng.IntN(3)
			list = append(list, Cluster{float64(rng.IntN(n + 1)), n})
		}
		kinds := newSampler(list)
		if kinds.list != nil {
			t.Fatal("few kinds were not seen")
		}
		single := *kinds
		single.oneByOne()
		a, b := bootstrap(1, kinds), bootstrap(2, &single)
		if !near(a.SE, b.SE, 0.08*b.SE) || !near(a.Interval.Low, b.Interval.Low, 0.3*b.SE) || !near(a.Interval.High, b.Interval.High, 0.3*b.SE) {
			t.Errorf("%d students: together %+v, one by one %+v", students, a, b)
		}
	}
}

// With one attempt a student, the standard error is sqrt(p(1-p)/n); with every
// attempt doubled it stays, as it must when the student is the unit.
func TestClusterBootstrapUnit(t *testing.T) {
	var one, two []Cluster
	for i := range 200 {
		hit := float64(i % 4 / 3)
		one = append(one, Cluster{hit, 1})
		two = append(two, Cluster{2 * hit, 2})
	}
	want := math.Sqrt(0.25 * 0.75 / 200)
	for _, list := range [][]Cluster{one, two} {
		if got := ClusterBootstrap(list, 1); !near(got.SE, want, 0.06*want) || got.Value != 0.25 {
			t.Errorf("%+v, want a standard error of %v", got, want)
		}
	}
	d := ClusterBootstrapDifference(one, two, 1)
	if !near(d.SE, want*math.Sqrt2, 0.06*want*math.Sqrt2) || d.Value != 0 || d.Students != 400 || d.Attempts != 600 {
		t.Errorf("difference %+v", d)
	}
}

func TestClusterBootstrapUndefined(t *testing.T) {
	for _, c := range []struct {
		list   []Cluster
		reason string
	}{
		{nil, "nobody"}, {[]Cluster{{0, 0}}, "no attempts"}, {[]Cluster{{1, 2}}, "one student"},
		{[]Cluster{{1, 1}, {2, 2}, {1, 1}}, "all alike"},
	} {
		if got := ClusterBootstrap(c.list, 1); got.Undefined == "" || got.Interval != (Interval{}) {
			t.Errorf("%s: %+v", c.reason, got)
		}
	}
}

// Reference: SciPy's chi-squared with N-1 for N, to which the test comes down
// with one attempt a student.
func TestClusterTestAgainstReference(t *testing.T) {
	one := func(s counts) []Cluster {
		list := make([]Cluster, s[1])
		for i := range list {
			list[i].N = 1
			if i < s[0] {
				list[i].Sum = 1
			}
		}
		return list
	}
	for _, c := range atLeast(t, "pearson", load[fromSciPy](t, "school.py.json").Pearson, 20) {
		if p, exact := ClusterTest(one(c.A), one(c.B)); exact || !near(p, c.P, 1e-9) {
			t.Errorf("%v, %v: %v, reference %v", c.A, c.B, p, c.P)
		}
	}
	// Over all ways it is Fisher's test, which for equal groups is symmetric.
	for hits := range 8 {
		p, exact := ClusterTest(one(counts{hits, 7}), one(counts{2, 7}))
		want, _ := Fisher(Share{hits, 7}, Share{2, 7})
		if !exact || !near(p, want, 1e-9) {
			t.Errorf("%d and 2 of 7: %v, Fisher %v", hits, p, want)
		}
	}
}

// Groups from one school are found to differ in no more than about 5% of draws.
func TestClusterTestLevel(t *testing.T) {
	rng := rand.New(rand.NewPCG(11, 12))
	draw := func(students int) []Cluster {
		list := make([]Cluster, students)
		for i := range list {
			able := rng.Float64() // attempts of a student are alike
			list[i].N = 1 + rng.IntN(4)
			for range list[i].N {
				if rng.Float64() < able {
					list[i].Sum++
				}
			}
		}
		return list
	}
	found := 0
	const draws = 2000
	for range draws {
		if p, _ := ClusterTest(draw(30), draw(50)); p <= Alpha {
			found++
		}
	}
	if share := float64(found) / draws; share > 0.065 || share < 0.035 {
		t.Errorf("found in %v of draws without a difference", share)
	}
}

// Mean and variance of the binomial, drawn from it or from the rounded normal.
func TestBinomial(t *testing.T) {
	rng := rand.New(rand.NewPCG(9, 9))
	for _, c := range []struct {
		n int
		p float64
	}{{30, 0.3}, {10_000, 0.3}, {10_000, 0.001}, {100_000, 0.996}} {
		const draws = 20_000
		x := make([]float64, draws)
		for i := range x {
			k := binomial(c.n, c.p, rng)
			if k < 0 || k > c.n {
				t.Fatalf("%d of %d", k, c.n)
			}
			x[i] = float64(k)
		}
		m, v := meanVariance(x)
		want := float64(c.n) * c.p * (1 - c.p)
		if !near(m, float64(c.n)*c.p, 5*math.Sqrt(want/draws)) || !near(v, want, 0.07*want) {
			t.Errorf("%d at %v: mean %v, variance %v, want %v", c.n, c.p, m, v, want)
		}
	}
}
