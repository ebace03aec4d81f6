package cohort

import (
	"fmt"
	"math"
	"math/rand/v2"
	"runtime"
	"slices"
	"sync"
)

// What attempts give, in the units of the outcomes; false when it is not known.
func passed(r *Record) (float64, bool) {
	if r.Pass {
		return 1, true
	}
	return 0, true
}

func points(r *Record) (float64, bool) { return 100 * r.Points / r.Of, r.Of > 0 && finite(r.Points) }

func minutes(r *Record) (float64, bool) { return r.Seconds / 60, r.Seconds > 0 && finite(r.Seconds) }

func finite(x float64) bool { return !math.IsNaN(x) && !math.IsInf(x, 0) }

// Marks as the tallies need them.
const (
	notMarked = iota
	otherMark
	missedMark
	wrongMark
)

var marked = func() (t [256]uint8) {
	for i := range t {
		switch i | 0x20 {
		case 's', 'p':
			t[i] = otherMark
		case 'm':
			t[i] = missedMark
		case 'w':
			t[i] = wrongMark
		}
	}
	return t
}()

// values are the outcomes of a group's attempts.
func (s *sorted) values(group int, f func(*Record) (float64, bool)) []float64 {
	out := make([]float64, 0, len(s.members[group]))
	s.each(group, func(r *Record) {
		if v, ok := f(r); ok {
			out = append(out, v)
		}
	})
	return out
}

func optional(in Interval, ok bool) *Interval {
	if !ok {
		return nil
	}
	return &in
}

func shareFigure(s Share) Figure {
	f := Figure{N: s.Of, Students: s.Of, Hits: s.Hits}
	if s.Of == 0 {
		f.Undefined = "nobody"
		return f
	}
	f.Value, _ = s.Value()
	f.Interval, f.Method = optional(s.Interval()), "Wilson"
	return f
}

func numberFigure(x []float64) Figure {
	f := Figure{N: len(x), Students: len(x)}
	if len(x) == 0 {
		f.Undefined = "nobody"
		return f
	}
	m := Mean(x)
	f.Value, f.Method, f.Undefined = m.Value, m.Method, m.Undefined
	f.Interval = optional(m.Interval, m.Undefined == "")
	f.Median = middle(slices.Sorted(slices.Values(x)))
	_, v := meanVariance(x)
	f.SD = math.Sqrt(v)
	return f
}

// compareStudents compares with one attempt a student.
func (c *GroupComparison) compareStudents(s *sorted, o GroupOptions) {
	type numbers struct{ points, minutes []float64 }
	type tally struct{ of, missed, wrong int }
	pass, number, items := make([]Share, len(c.Groups)), make([]numbers, len(c.Groups)), make([][]tally, len(c.Groups))
	for g := range c.Groups {
		number[g] = numbers{s.values(g, points), s.values(g, minutes)}
		t := make([]tally, len(c.Items))
		s.each(g, func(r *Record) {
			pass[g].Of++
			if r.Pass {
				pass[g].Hits++
			}
			if r.Form == nil {
				return
			}
			for i, n := range s.index[r.Form] {
				m := marked[r.Marks[i]]
				if n < 0 || m == notMarked {
					continue
				}
				t[n].of++
				switch m {
				case missedMark:
					t[n].missed++
				case wrongMark:
					t[n].wrong++
				}
			}
		})
		items[g] = t
		group := &c.Groups[g]
		group.Passed, group.Points, group.Minutes = shareFigure(pass[g]), numberFigure(number[g].points), numberFigure(number[g].minutes)
		for _, n := range t {
			group.Items = append(group.Items, ItemFigures{shareFigure(Share{n.missed, n.of}), shareFigure(Share{n.wrong, n.of})})
		}
	}
	for _, pair := range c.against() {
		k := c.contrast(pair)
		var p Share
		var num numbers
		pooled := make([]tally, len(c.Items))
		c.pool(pair, func(g int) {
			p.Hits, p.Of = p.Hits+pass[g].Hits, p.Of+pass[g].Of
			num.points, num.minutes = append(num.points, number[g].points...), append(num.minutes, number[g].minutes...)
			for i, t := range items[g] {
				pooled[i].of += t.of
				pooled[i].missed += t.missed
				pooled[i].wrong += t.wrong
			}
		})
		a := pair[0]
		k.Passed = shareDifference(Passed, pass[a], p)
		k.Points = numberDifference(PointsEarned, number[a].points, num.points, o.Seed)
		k.Minutes = numberDifference(MinutesTaken, number[a].minutes, num.minutes, o.Seed+1)
		for i, b := range pooled {
			a := items[a][i]
			k.Items[i] = ItemDifferences{shareDifference(ItemNotSaid, Share{a.missed, a.of}, Share{b.missed, b.of}),
				shareDifference(ItemSaidWrong, Share{a.wrong, a.of}, Share{b.wrong, b.of})}
		}
	}
}

func shareDifference(what Outcome, a, b Share) Difference {
	d := Difference{Outcome: what, A: shareFigure(a), B: shareFigure(b), P: 1, least: 1}
	if a.Of == 0 || b.Of == 0 {
		return d
	}
	d.Value = d.A.Value - d.B.Value
	d.Interval, d.Method, d.Test = optional(Newcombe(a, b, Level)), "Newcombe", "Fisher's exact"
	d.P, _ = Fisher(a, b)
	if d.least = d.P; d.P > Alpha {
		// The most uneven outcomes with as many hits in all.
		hits := a.Hits + b.Hits
		low, high := max(0, hits-b.Of), min(hits, a.Of)
		for _, x := range []int{low, high} {
			p, _ := Fisher(Share{x, a.Of}, Share{hits - x, b.Of})
			d.least = min(d.least, p)
		}
	}
	return d
}

func numberDifference(what Outcome, a, b []float64, seed uint64) Difference {
	d := Difference{Outcome: what, A: numberFigure(a), B: numberFigure(b), P: 1, least: 1}
	if len(a) == 0 || len(b) == 0 {
		return d
	}
	d.sd = [2]float64{d.A.SD, d.B.SD}
	w := Welch(a, b)
	d.Value, d.Method, d.Interval = w.Value, w.Method, optional(w.Interval, w.Undefined == "")
	t := PermutationTest(a, b, seed)
	d.P, d.Test, d.least = t.P, t.How(), 0
	if t.Exact {
		d.least = 1 / float64(t.Tried)
	}
	if d.sd == [2]float64{} && d.Value == 0 {
		d.least = 1
	}
	return d
}

// comparePaired compares two groups on the students who are in both.
func (c *GroupComparison) comparePaired(s *sorted, o GroupOptions) {
	pair := c.against()[0]
	a, b := pair[0], pair[1]
	type two struct{ missed, wrong Fourfold }
	var pass Fourfold
	items := make([]two, len(c.Items))
	var pa, pb, ma, mb []float64
	both := func(x, y *[]float64, ra, rb *Record, f func(*Record) (float64, bool)) {
		va, oka := f(ra)
		vb, okb := f(rb)
		if oka && okb {
			*x, *y = append(*x, va), append(*y, vb)
		}
	}
	var first, second []uint8
	first, second = make([]uint8, len(c.Items)), make([]uint8, len(c.Items))
	spread := func(r *Record, to []uint8) {
		clear(to)
		if r.Form != nil {
			for i, n := range s.index[r.Form] {
				if n >= 0 {
					to[n] = marked[r.Marks[i]]
				}
			}
		}
	}
	for i := range s.members[a] {
		ra, rb := &s.records[s.members[a][i][0]], &s.records[s.members[b][i][0]]
		pass.add(ra.Pass, rb.Pass)
		both(&pa, &pb, ra, rb, points)
		both(&ma, &mb, ra, rb, minutes)
		spread(ra, first)
		spread(rb, second)
		for n := range items {
			if first[n] == notMarked || second[n] == notMarked {
				continue
			}
			items[n].missed.add(first[n] == missedMark, second[n] == missedMark)
			items[n].wrong.add(first[n] == wrongMark, second[n] == wrongMark)
		}
	}
	k := c.contrast(pair)
	k.Passed = pairedShares(Passed, pass)
	k.Points = pairedNumbers(PointsEarned, pa, pb, o.Seed)
	k.Minutes = pairedNumbers(MinutesTaken, ma, mb, o.Seed+1)
	for i, t := range items {
		k.Items[i] = ItemDifferences{pairedShares(ItemNotSaid, t.missed), pairedShares(ItemSaidWrong, t.wrong)}
	}
	ga, gb := &c.Groups[a], &c.Groups[b]
	ga.Passed, ga.Points, ga.Minutes = k.Passed.A, k.Points.A, k.Minutes.A
	gb.Passed, gb.Points, gb.Minutes = k.Passed.B, k.Points.B, k.Minutes.B
	for _, d := range k.Items {
		ga.Items = append(ga.Items, ItemFigures{d.Missed.A, d.Wrong.A})
		gb.Items = append(gb.Items, ItemFigures{d.Missed.B, d.Wrong.B})
	}
}

func (t *Fourfold) add(first, second bool) {
	switch {
	case first && second:
		t.Both++
	case first:
		t.First++
	case second:
		t.Second++
	default:
		t.Neither++
	}
}

func pairedShares(what Outcome, t Fourfold) Difference {
	a, b := t.Shares()
	d := Difference{Outcome: what, A: shareFigure(a), B: shareFigure(b), Pairs: &t, P: 1, least: 1, paired: true}
	if t.N() == 0 {
		return d
	}
	d.Value = float64(t.First-t.Second) / float64(t.N())
	d.Interval, d.Method, d.Test = optional(NewcombePaired(t, Level)), "Newcombe, paired", "McNemar's exact"
	d.P = McNemar(t)
	changed := t.First + t.Second
	d.least = McNemar(Fourfold{First: changed})
	d.sd[0] = math.Sqrt(float64(changed)/float64(t.N()) - d.Value*d.Value)
	return d
}

func pairedNumbers(what Outcome, a, b []float64, seed uint64) Difference {
	d := Difference{Outcome: what, A: numberFigure(a), B: numberFigure(b), P: 1, least: 1, paired: true}
	if len(a) == 0 {
		return d
	}
	x := make([]float64, len(a))
	for i := range a {
		x[i] = a[i] - b[i]
	}
	m := PairedMean(x)
	d.Value, d.Interval, d.Method = m.Value, optional(m.Interval, m.Undefined == ""), m.Method
	t := SignFlip(x, seed)
	d.P, d.Test = t.P, "sign-flip "+t.How()
	_, v := meanVariance(x)
	d.sd[0] = math.Sqrt(v)
	d.least = 0
	if t.Exact {
		d.least = 2 / float64(t.Tried)
	} else if t.Tried == 0 && t.P == 1 {
		d.least = 1
	}
	return d
}

const (
	// itemReplicates are drawn for the interval of an item; leastReplicates where
	// there are more than manyStudents, whose intervals are narrow.
	itemReplicates = 1_000
	manyStudents   = 5_000
	// wholeDraws bounds the students drawn for the interval of points or minutes.
	wholeDraws = 10_000_000
)

// cluster is one outcome of a group's students, and what was drawn of them.
type cluster struct {
	bag   bag
	drawn replicated
}

func newCluster(b bag, n int, seed, stream uint64) cluster {
	return cluster{b, b.sampler().replicate(n, rand.New(rand.NewPCG(seed, stream)))}
}

func (c cluster) with(o cluster) cluster { return cluster{c.bag.with(o.bag), c.drawn.with(o.drawn)} }

func (c cluster) figure(share bool) Figure {
	e := estimate(c.drawn)
	f := Figure{N: e.Attempts, Students: e.Students, Value: e.Value, Undefined: e.Undefined}
	if e.Undefined == "" {
		f.Interval, f.Method = &e.Interval, fmt.Sprintf("students drawn %d times", e.Replicates)
	}
	if share {
		f.Hits = int(c.drawn.sum)
		if e.Undefined == allSame && (e.Value == 0 || e.Value == 1) {
			// Drawing cannot tell how rare a thing may be that nobody did.
			f.Interval, f.Method, f.Undefined = optional(c.asStudents().Interval()), "Wilson, students", ""
		}
	}
	if f.N == 0 {
		f.N, f.Students = c.drawn.attempts, c.drawn.students
	}
	return f
}

// asStudents is about the share, of students instead of attempts.
func (c cluster) asStudents() Share {
	n := c.drawn.students
	return Share{int(math.Round(c.drawn.sum / float64(max(1, c.drawn.attempts)) * float64(n))), n}
}

func clusterDifference(what Outcome, a, b cluster) Difference {
	share := what != PointsEarned && what != MinutesTaken
	d := Difference{Outcome: what, A: a.figure(share), B: b.figure(share), P: 1, least: 1}
	if d.A.N == 0 || d.B.N == 0 {
		return d
	}
	e := estimate(a.drawn, b.drawn)
	d.Value = e.Value
	if e.Undefined == "" {
		d.Interval, d.Method = &e.Interval, fmt.Sprintf("students drawn %d times", e.Replicates)
	}
	if share {
		// Of few hits, drawing makes intervals too narrow to call groups alike.
		d.wide, _ = Newcombe(a.asStudents(), b.asStudents(), Level)
		if same := d.A.Value == d.B.Value && (d.A.Value == 0 || d.A.Value == 1); e.Undefined != "" && same {
			d.Interval, d.Method = optional(d.wide, true), "Newcombe, students"
		}
	}
	var exact bool
	d.P, exact = bagTest(a.bag, b.bag)
	d.Test = how("permutation test of students", exact, 0)
	switch n := d.A.Students + d.B.Students; {
	case exact:
		d.least = 1 / float64(ways(n, d.A.Students))
	case e.Undefined == "":
		d.least = 0
	}
	// The spread between students that explains the standard error.
	na, nb := float64(d.A.Students), float64(d.B.Students)
	sd := e.SE / math.Sqrt(1/na+1/nb)
	d.sd = [2]float64{sd, sd}
	return d
}

// compareClusters compares with all attempts of each student.
func (c *GroupComparison) compareClusters(s *sorted, o GroupOptions) {
	outcomes := []func(*Record) (float64, bool){passed, points, minutes}
	whole := make([][]cluster, len(outcomes)) // outcome, group
	for k, f := range outcomes {
		bags := make([]bag, len(c.Groups))
		cost := 1
		for g := range c.Groups {
			list := make([]Cluster, len(s.members[g]))
			for n, student := range s.members[g] {
				for _, i := range student {
					if v, ok := f(&s.records[i]); ok {
						list[n].Sum += v
						list[n].N++
					}
				}
			}
			bags[g] = bagOf(list)
			cost += bags[g].sampler().draws()
		}
		n := min(replicates, max(leastReplicates, wholeDraws/cost))
		for g, b := range bags {
			whole[k] = append(whole[k], newCluster(b, n, o.Seed, uint64(k<<32|g)))
		}
	}
	tallies := make([][]clusterTally, len(c.Groups))
	for g := range c.Groups {
		tallies[g] = c.tally(s, g)
		group := &c.Groups[g]
		group.Passed, group.Points, group.Minutes = whole[0][g].figure(true), whole[1][g].figure(false), whole[2][g].figure(false)
		group.Items = make([]ItemFigures, len(c.Items))
	}
	pairs := c.against()
	for _, pair := range pairs {
		k := c.contrast(pair)
		for i, d := range []*Difference{&k.Passed, &k.Points, &k.Minutes} {
			*d = clusterDifference([]Outcome{Passed, PointsEarned, MinutesTaken}[i], whole[i][pair[0]], c.pooled(whole[i], pair))
		}
	}
	n, students := itemReplicates, 0
	for _, g := range c.Groups {
		students += g.Students
	}
	if students > manyStudents {
		n = leastReplicates
	}
	if o.draws > 0 {
		n = o.draws
	}
	// Items draw for themselves, each from its own seed, on all cores.
	next := make(chan int)
	var wait sync.WaitGroup
	for range min(8, runtime.GOMAXPROCS(0)) {
		wait.Go(func() {
			for i := range next {
				for w, what := range []Outcome{ItemNotSaid, ItemSaidWrong} {
					list := make([]cluster, len(c.Groups))
					for g := range list {
						list[g] = newCluster(tallies[g][i].bag(w), n, o.Seed, 1<<63|uint64(i<<20|w<<19|g))
						f := list[g].figure(true)
						if w == 0 {
							c.Groups[g].Items[i].Missed = f
						} else {
							c.Groups[g].Items[i].Wrong = f
						}
					}
					for k, pair := range pairs {
						d := clusterDifference(what, list[pair[0]], c.pooled(list, pair))
						if w == 0 {
							c.Contrasts[k].Items[i].Missed = d
						} else {
							c.Contrasts[k].Items[i].Wrong = d
						}
					}
				}
			}
		})
	}
	for i := range c.Items {
		next <- i
	}
	close(next)
	wait.Wait()
}

// pooled is b of a pair.
func (c *GroupComparison) pooled(list []cluster, pair [2]int) cluster {
	var out cluster
	c.pool(pair, func(g int) { out = out.with(list[g]) })
	return out
}

// clusterTally counts the students by their attempts with an item and the hits
// among these, missed and wrong.
type clusterTally [2]struct {
	dense [denseUpTo * (denseUpTo + 3) / 2]int32 // by attempts, from 1, and hits, from 0
	more  map[Cluster]int                        // of more attempts
}

const denseUpTo = 8 // attempts

func (t *clusterTally) add(of int, hits [2]int) {
	for w, h := range hits {
		if of <= denseUpTo {
			t[w].dense[(of-1)*(of+2)/2+h]++
			continue
		}
		if t[w].more == nil {
			t[w].more = map[Cluster]int{}
		}
		t[w].more[Cluster{float64(h), of}]++
	}
}

func (t *clusterTally) bag(w int) (b bag) {
	i := 0
	for of := 1; of <= denseUpTo; of++ {
		for h := 0; h <= of; h++ {
			if n := t[w].dense[i]; n > 0 {
				b.kinds, b.count = append(b.kinds, Cluster{float64(h), of}), append(b.count, int(n))
			}
			i++
		}
	}
	var more []Cluster
	for k, n := range t[w].more {
		for range n {
			more = append(more, k)
		}
	}
	return b.with(bagOf(more))
}

// tally counts over the students of a group, one tally an item.
func (c *GroupComparison) tally(s *sorted, group int) []clusterTally {
	t := make([]clusterTally, len(c.Items))
	of, hits := make([]int, len(t)), make([][2]int, len(t))
	for _, student := range s.members[group] {
		clear(of)
		clear(hits)
		for _, i := range student {
			r := &s.records[i]
			if r.Form == nil {
				continue
			}
			for k, n := range s.index[r.Form] {
				if n < 0 {
					continue
				}
				switch marked[r.Marks[k]] {
				case notMarked:
					continue
				case missedMark:
					hits[n][0]++
				case wrongMark:
					hits[n][1]++
				}
				of[n]++
			}
		}
		for n := range t {
			if of[n] > 0 {
				t[n].add(of[n], hits[n])
			}
		}
	}
	return t
}
