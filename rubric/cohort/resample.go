package cohort

import (
	"cmp"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"

	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"
)

// Limits of resampling. The same seed and numbers give the same result.
const (
	// exactUpTo is the number of ways to part the students up to which all are
	// tried.
	exactUpTo = 50_000
	// permutations are tried at random where there are more, unless that would
	// take more than shufflesUpTo numbers drawn: then the smaller group has
	// hundreds, and the distribution over all ways is normal.
	permutations = 9_999
	// enough ways as far off as the one at hand end the search: p is large.
	enough       = 200
	shufflesUpTo = 5_000_000
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
	Tried      int     // ways tried; 0 when P is of the normal limit of all ways
}

// How says how P was found.
func (p Permutation) How() string { return how("permutation test", p.Exact, p.Tried) }

func how(test string, exact bool, tried int) string {
	switch {
	case exact:
		return test + ", all ways"
	case tried > 0:
		return fmt.Sprintf("%s, %d ways at random", test, tried)
	}
	return test + ", normal limit of all ways"
}

// PermutationTest tests the difference of means a - b: P is the share of the
// ways to part all numbers into groups of these sizes whose means differ as
// much or more, either way. Where these are more than some ten thousand, it
// tries some at random, from seed, and counts the one at hand among them, or
// stops early when P is clearly not small. With hundreds in each group, P is from the normal with the variance over all ways.
//
// Sources: Fisher 1935, The Design of Experiments; Phipson and Smyth 2010,
// Statistical Applications in Genetics and Molecular Biology 9:39 (the one at
// hand counts); Besag and Clifford 1991, Biometrika 78:301-304 (stopping early);
// the variance over all ways: Cochran 1977, Sampling Techniques,
// theorem 2.2; the limit: Hoeffding 1951, Annals of Mathematical Statistics
// 22:558-566.
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
	if m*permutations > shufflesUpTo {
		_, v := stat.MeanVariance(all, nil)
		if v == 0 {
			return r
		}
		r.P = twoSided((sum - total*na/(na+nb)) / math.Sqrt(v*na*nb/(na+nb)))
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
		r.Tried++
		if math.Abs(s-expected) >= off {
			if far++; far == enough {
				r.P = float64(far) / float64(r.Tried)
				return r
			}
		}
	}
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

// SignFlip tests whether differences within students are around 0: P is the
// share of the ways to give each a sign whose sum is as far from 0 or farther.
// All ways, some at random, or the normal limit are used as in PermutationTest;
// N1 and N2 are the number of differences, Difference is their mean.
//
// Source: Fisher 1935, The Design of Experiments, section 21.
func SignFlip(differences []float64, seed uint64) Permutation {
	n := len(differences)
	r := Permutation{N1: n, N2: n, P: 1}
	var x []float64 // zeros have no sign
	var sum, scale, squares float64
	for _, d := range differences {
		if d != 0 {
			x = append(x, d)
		}
		sum += d
		scale += math.Abs(d)
		squares += d * d
	}
	if len(x) == 0 {
		return r
	}
	r.Difference = sum / float64(n)
	off := math.Abs(sum) - 1e-12*scale
	far := 0
	switch {
	case len(x) < 31 && 1<<len(x) <= exactUpTo:
		r.Exact = true
		var flip func(i int, s float64)
		flip = func(i int, s float64) {
			if i == len(x) {
				r.Tried++
				if math.Abs(s) >= off {
					far++
				}
				return
			}
			flip(i+1, s+x[i])
			flip(i+1, s-x[i])
		}
		flip(0, 0)
		r.P = float64(far) / float64(r.Tried)
	case len(x)*permutations > shufflesUpTo:
		r.P = twoSided(sum / math.Sqrt(squares))
	default:
		rng := rand.New(rand.NewPCG(seed, uint64(n)))
		for range permutations {
			var s float64
			var bits uint64
			for i, v := range x {
				if i%64 == 0 {
					bits = rng.Uint64()
				}
				if bits&1 == 0 {
					v = -v
				}
				bits >>= 1
				s += v
			}
			r.Tried++
			if math.Abs(s) >= off {
				if far++; far == enough {
					r.P = float64(far) / float64(r.Tried)
					return r
				}
			}
		}
		r.P = float64(far+1) / float64(permutations+1)
	}
	return r
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
	return bootstrap(seed, newSampler(students))
}

// ClusterBootstrapDifference does the same for the difference of means a - b.
func ClusterBootstrapDifference(a, b []Cluster, seed uint64) Bootstrap {
	return bootstrap(seed, newSampler(a), newSampler(b))
}

func bootstrap(seed uint64, groups ...*sampler) Bootstrap {
	draws := 0
	for _, g := range groups {
		draws += g.draws()
	}
	n := min(replicates, max(leastReplicates, drawsUpTo/max(1, draws)))
	rng := rand.New(rand.NewPCG(seed, 0))
	drawn := make([]replicated, len(groups))
	for i, g := range groups {
		drawn[i] = g.replicate(n, rng)
	}
	return estimate(drawn...)
}

// replicated is what a group of students and its replicates add up to.
type replicated struct {
	sum                float64
	students, attempts int
	sums, ns           []float64 // of the replicates
}

// with pools two groups that were drawn each for itself.
func (r replicated) with(o replicated) replicated {
	if r.students == 0 {
		return o
	}
	if o.students == 0 {
		return r
	}
	p := replicated{r.sum + o.sum, r.students + o.students, r.attempts + o.attempts, make([]float64, len(r.sums)), make([]float64, len(r.ns))}
	for i := range r.sums {
		p.sums[i], p.ns[i] = r.sums[i]+o.sums[i], r.ns[i]+o.ns[i]
	}
	return p
}

const allSame = "all students are the same"

// estimate makes the mean of one group, or the difference of two, of its
// replicates.
func estimate(groups ...replicated) Bootstrap {
	var r Bootstrap
	for i, g := range groups {
		r.Students += g.students
		r.Attempts += g.attempts
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
	r.Replicates = len(groups[0].sums)
	values := make([]float64, r.Replicates)
	for i := range values {
		for j, g := range groups {
			values[i] += sign(j) * g.sums[i] / g.ns[i]
		}
	}
	_, v := meanVariance(values)
	if v == 0 {
		r.Undefined = allSame
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

// bag holds the clusters of students, those alike counted together.
type bag struct {
	kinds []Cluster
	count []int // of each kind
}

func bagOf(list []Cluster) bag {
	count := map[Cluster]int{}
	for _, c := range list {
		if c.N > 0 {
			count[c]++
		}
	}
	b := bag{make([]Cluster, 0, len(count)), make([]int, 0, len(count))}
	for c := range count {
		b.kinds = append(b.kinds, c)
	}
	slices.SortFunc(b.kinds, func(a, b Cluster) int { return cmp.Or(cmp.Compare(a.N, b.N), cmp.Compare(a.Sum, b.Sum)) })
	for _, c := range b.kinds {
		b.count = append(b.count, count[c])
	}
	return b
}

func (b bag) with(o bag) bag {
	return bag{slices.Concat(b.kinds, o.kinds), slices.Concat(b.count, o.count)}
}

// sampler draws students. Those that are alike in sum and number are drawn
// together, by binomial numbers, where there are few kinds of them: the result
// has the same distribution and costs no more for many students.
type sampler struct {
	bag
	list               []Cluster // one by one, unless drawn together
	sum                float64
	students, attempts int
}

func newSampler(list []Cluster) *sampler { return bagOf(list).sampler() }

func (b bag) sampler() *sampler {
	s := &sampler{bag: b}
	for i, c := range b.kinds {
		n := b.count[i]
		s.students += n
		s.attempts += n * c.N
		s.sum += float64(n) * c.Sum
	}
	const few = 200
	if len(b.kinds) > few || s.students < 8*len(b.kinds) {
		s.oneByOne()
	}
	return s
}

func (s *sampler) oneByOne() {
	s.list = make([]Cluster, 0, s.students)
	for i, c := range s.kinds {
		for range s.count[i] {
			s.list = append(s.list, c)
		}
	}
}

// draws is about what one draw costs, in random numbers.
func (s *sampler) draws() int {
	if s.list == nil {
		return 8 * len(s.kinds)
	}
	return max(1, s.students)
}

// replicate draws as many students as there are, with replacement, n times.
func (s *sampler) replicate(n int, rng *rand.Rand) replicated {
	r := replicated{s.sum, s.students, s.attempts, make([]float64, n), make([]float64, n)}
	if s.students == 0 {
		return r
	}
	for i := range n {
		r.sums[i], r.ns[i] = s.draw(rng)
	}
	return r
}

func (s *sampler) draw(rng *rand.Rand) (sum, n float64) {
	if s.list != nil {
		for range s.list {
			c := s.list[rng.IntN(len(s.list))]
			sum += c.Sum
			n += float64(c.N)
		}
		return sum, n
	}
	left, of := s.students, s.students
	for i, c := range s.kinds {
		k := left
		if i < len(s.kinds)-1 && left > 0 {
			k = binomial(left, float64(s.count[i])/float64(of), rng)
		}
		sum += float64(k) * c.Sum
		n += float64(k * c.N)
		left -= k
		of -= s.count[i]
	}
	return sum, n
}

// binomial draws how many of n happen that have probability p each, with the
// normal's rounded where the spread is so large that it makes no difference.
func binomial(n int, p float64, rng *rand.Rand) int {
	const wide = 10 // standard deviation
	v := float64(n) * p * (1 - p)
	if v > wide*wide {
		return min(max(int(math.Round(float64(n)*p+math.Sqrt(v)*rng.NormFloat64())), 0), n)
	}
	return int(distuv.Binomial{N: float64(n), P: p, Src: rng}.Rand())
}

// ClusterTest tests whether the mean over attempts is the same in two groups of
// students, by parting the students anew: each student's sum less what the mean
// of all attempts would give for as many attempts. Exact tells that all ways
// were tried; else P is from the normal with the variance over all ways, which
// for one attempt a student is the chi-squared test with N-1 for N.
//
// Sources: as PermutationTest; N-1: Campbell 2007, Statistics in Medicine
// 26:3661-3675.
func ClusterTest(a, b []Cluster) (p float64, exact bool) { return bagTest(bagOf(a), bagOf(b)) }

func bagTest(a, b bag) (p float64, exact bool) {
	var sum, n float64
	var of [2]int
	for i, g := range [2]bag{a, b} {
		for j, c := range g.kinds {
			sum += float64(g.count[j]) * c.Sum
			n += float64(g.count[j] * c.N)
			of[i] += g.count[j]
		}
	}
	if of[0] == 0 || of[1] == 0 {
		return 1, false
	}
	mean := sum / n
	if ways(of[0]+of[1], min(of[0], of[1])) <= exactUpTo {
		rest := func(g bag) []float64 {
			var out []float64
			for j, c := range g.kinds {
				for range g.count[j] {
					out = append(out, c.Sum-mean*float64(c.N))
				}
			}
			return out
		}
		return PermutationTest(rest(a), rest(b), 0).P, true
	}
	var squares, rest float64
	for i, g := range [2]bag{a, b} {
		for j, c := range g.kinds {
			v := c.Sum - mean*float64(c.N)
			squares += float64(g.count[j]) * v * v
			if i == 0 {
				rest += float64(g.count[j]) * v
			}
		}
	}
	na, nb := float64(of[0]), float64(of[1])
	if squares <= 1e-24*sum*sum {
		return 1, false
	}
	return twoSided(rest / math.Sqrt(squares/(na+nb-1)*na*nb/(na+nb))), false
}
