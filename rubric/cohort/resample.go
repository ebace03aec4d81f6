package cohort

import (
	"cmp"
	"math"
	"math/rand/v2"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"
)

// Limits of resampling. The same seed and numbers give the same result.
const (
	// exactUpTo is the number of ways to part the students up to which all are
	// tried.
	exactUpTo = 50_000
	// permutations are tried at random where there are more.
	permutations = 9_999
	// replicates of a bootstrap; fewer, but leastReplicates, where that would
	// take more than drawsUpTo draws.
	replicates      = 2_000
	leastReplicates = 400
	drawsUpTo       = 20_000_000
)

// Permutation is the result of a permutation test.
type Permutation struct {
	N1, N2     int
	Difference float64 // of the means
	P          float64 // two-sided, in (0,1]; 1 when a group is empty
	Exact      bool    // all ways to part the students were tried
	Tried      int     // ways tried
}

// PermutationTest tests the difference of means a - b: P is the share of the
// ways to part all numbers into groups of these sizes whose means differ as
// much or more, either way. Where these are more than some ten thousand, it
// tries some at random, from seed, and counts the one at hand among them.
//
// Sources: Fisher 1935, The Design of Experiments; Phipson and Smyth 2010,
// Statistical Applications in Genetics and Molecular Biology 9:39 (the one at
// hand counts).
func PermutationTest(a, b []float64, seed uint64) Permutation {
	r := Permutation{N1: len(a), N2: len(b), P: 1}
	if len(a) == 0 || len(b) == 0 {
		return r
	}
	all := slices.Concat(a, b)
	var total, scale float64
	for _, v := range all {
		total += v
		scale += math.Abs(v)
	}
	var sum float64
	for _, v := range a {
		sum += v
	}
	na, nb := float64(len(a)), float64(len(b))
	r.Difference = sum/na - (total-sum)/nb
	// The difference is a rising function of the sum of one group, 0 where that
	// sum is its share of the total.
	m, expected := len(a), total*na/(na+nb)
	off := math.Abs(sum - expected)
	if len(b) < m {
		m, expected = len(b), total*nb/(na+nb)
	}
	off -= 1e-12 * scale // as far as rounding goes
	far := 0
	if ways(len(all), m) <= exactUpTo {
		r.Exact = true
		each(all, m, func(s float64) {
			r.Tried++
			if math.Abs(s-expected) >= off {
				far++
			}
		})
		r.P = float64(far) / float64(r.Tried)
		return r
	}
	rng := rand.New(rand.NewPCG(seed, uint64(len(all))))
	for range permutations {
		var s float64
		for i := range m {
			j := i + rng.IntN(len(all)-i)
			all[i], all[j] = all[j], all[i]
			s += all[i]
		}
		if math.Abs(s-expected) >= off {
			far++
		}
	}
	r.Tried = permutations
	r.P = float64(far+1) / float64(permutations+1)
	return r
}

// ways is the number of ways to choose m of n, no more than exactUpTo+1.
func ways(n, m int) int {
	w := 1
	for i := 1; i <= m; i++ {
		w = w * (n - m + i) / i
		if w > exactUpTo {
			return exactUpTo + 1
		}
	}
	return w
}

// each calls f with the sum of every choice of m numbers.
func each(x []float64, m int, f func(sum float64)) {
	var choose func(from, left int, sum float64)
	choose = func(from, left int, sum float64) {
		if left == 0 {
			f(sum)
			return
		}
		for i := from; i+left <= len(x); i++ {
			choose(i+1, left-1, sum+x[i])
		}
	}
	choose(0, m, 0)
}

// Cluster is what one student's attempts add up to: Sum over N of them, such as
// the passes among N attempts.
type Cluster struct {
	Sum float64
	N   int
}

// Bootstrap is an estimate over all attempts of students, Level its interval.
type Bootstrap struct {
	Value                          float64 // mean over attempts, or a difference of two
	SE                             float64 // standard error
	Interval                       Interval
	Students, Attempts, Replicates int
	// Undefined says why there is no interval, "" when there is one.
	Undefined string
}

// ClusterBootstrap gives the mean over attempts, drawing students with all of
// their attempts, from seed, since attempts of one student are alike. The
// interval is that of the percentiles; with fewer than about 20 students it is
// too narrow. Clusters without attempts are left out.
//
// Sources: Efron and Tibshirani 1993, An Introduction to the Bootstrap, section
// 13.3; students as units: Davison and Hinkley 1997, Bootstrap Methods and
// their Application, section 3.8 (from memory).
func ClusterBootstrap(students []Cluster, seed uint64) Bootstrap {
	s := newSampler(students)
	return bootstrap(seed, s)
}

// ClusterBootstrapDifference does the same for the difference of means a - b.
func ClusterBootstrapDifference(a, b []Cluster, seed uint64) Bootstrap {
	return bootstrap(seed, newSampler(a), newSampler(b))
}

func bootstrap(seed uint64, groups ...*sampler) Bootstrap {
	var r Bootstrap
	draws := 0
	for i, g := range groups {
		r.Students += g.students
		r.Attempts += g.attempts
		draws += g.draws()
		if g.attempts == 0 {
			return Bootstrap{Undefined: "no attempts"}
		}
		r.Value += sign(i) * g.sum / float64(g.attempts)
	}
	for _, g := range groups {
		if g.students == 1 {
			r.Undefined = "one student only, need 2 or more"
			return r
		}
	}
	r.Replicates = min(replicates, max(leastReplicates, drawsUpTo/draws))
	rng := rand.New(rand.NewPCG(seed, 0))
	values := make([]float64, r.Replicates)
	for i := range values {
		for j, g := range groups {
			values[i] += sign(j) * g.draw(rng)
		}
	}
	_, v := meanVariance(values)
	if v == 0 {
		r.Undefined = "all students are the same"
		return r
	}
	r.SE = math.Sqrt(v)
	slices.Sort(values)
	r.Interval = Interval{percentile(values, (1-Level)/2), percentile(values, (1+Level)/2)}
	return r
}

func sign(i int) float64 {
	if i == 0 {
		return 1
	}
	return -1
}

// percentile interpolates between sorted numbers as numpy and R's type 7 do.
func percentile(sorted []float64, p float64) float64 {
	h := p * float64(len(sorted)-1)
	i := min(int(h), len(sorted)-2)
	return sorted[i] + (h-float64(i))*(sorted[i+1]-sorted[i])
}

// sampler draws students. Those that are alike in sum and number are drawn
// together, by binomial numbers, where there are few kinds of them: the result
// has the same distribution and costs no more for many students.
type sampler struct {
	list               []Cluster
	kinds              []Cluster
	count              []int // of each kind
	sum                float64
	students, attempts int
}

func newSampler(list []Cluster) *sampler {
	s := &sampler{list: make([]Cluster, 0, len(list))}
	for _, c := range list {
		if c.N > 0 {
			s.list = append(s.list, c)
			s.students++
			s.attempts += c.N
			s.sum += c.Sum
		}
	}
	const few = 64
	count := map[Cluster]int{}
	for _, c := range s.list {
		if count[c]++; len(count) > few {
			return s
		}
	}
	if s.students < 8*len(count) {
		return s
	}
	for c := range count {
		s.kinds = append(s.kinds, c)
	}
	slices.SortFunc(s.kinds, func(a, b Cluster) int { return cmp.Or(cmp.Compare(a.N, b.N), cmp.Compare(a.Sum, b.Sum)) })
	for _, c := range s.kinds {
		s.count = append(s.count, count[c])
	}
	return s
}

// draws is about what one draw costs, in random numbers.
func (s *sampler) draws() int {
	if s.kinds != nil {
		return 8 * len(s.kinds)
	}
	return max(1, s.students)
}

// draw gives the mean over the attempts of as many students as there are, drawn
// with replacement.
func (s *sampler) draw(rng *rand.Rand) float64 {
	var sum float64
	var n int
	if s.kinds == nil {
		for range s.list {
			c := s.list[rng.IntN(len(s.list))]
			sum += c.Sum
			n += c.N
		}
		return sum / float64(n)
	}
	left, of := s.students, s.students
	for i, c := range s.kinds {
		k := left
		if i < len(s.kinds)-1 && left > 0 {
			k = int(distuv.Binomial{N: float64(left), P: float64(s.count[i]) / float64(of), Src: rng}.Rand())
		}
		sum += float64(k) * c.Sum
		n += k * c.N
		left -= k
		of -= s.count[i]
	}
	return sum / float64(n)
}

// ClusterTest tests whether the mean over attempts is the same in two groups of
// students, by parting the students anew: each student's sum less what the mean
// of all attempts would give for as many attempts. Exact tells that all ways
// were tried; else P is from the normal with the variance over all ways, which
// for one attempt a student is the chi-squared test with N-1 for N.
//
// Sources: as PermutationTest; the variance over all ways: Cochran 1977,
// Sampling Techniques, theorem 2.2; N-1: Campbell 2007, Statistics in Medicine
// 26:3661-3675.
func ClusterTest(a, b []Cluster) (p float64, exact bool) {
	var sum, n float64
	var na, nb int
	for i, list := range [][]Cluster{a, b} {
		for _, c := range list {
			if c.N > 0 {
				sum += c.Sum
				n += float64(c.N)
				if i == 0 {
					na++
				} else {
					nb++
				}
			}
		}
	}
	if na == 0 || nb == 0 {
		return 1, false
	}
	mean := sum / n
	rest := func(list []Cluster) []float64 {
		var out []float64
		for _, c := range list {
			if c.N > 0 {
				out = append(out, c.Sum-mean*float64(c.N))
			}
		}
		return out
	}
	ra, rb := rest(a), rest(b)
	if ways(na+nb, min(na, nb)) <= exactUpTo {
		t := PermutationTest(ra, rb, 0)
		return t.P, true
	}
	var squares, of float64
	for _, v := range ra {
		squares += v * v
		of += v
	}
	for _, v := range rb {
		squares += v * v
	}
	if squares == 0 {
		return 1, false
	}
	variance := squares / float64(na+nb-1) * float64(na) * float64(nb) / float64(na+nb)
	return twoSided(of / math.Sqrt(variance)), false
}
