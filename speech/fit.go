package speech

import (
	"cmp"
	"math"
	"slices"
	"sort"
)

// The search for a transcript's place in a recording.
//
// Words are taken as a signal that is high where there are words, low in the
// pauses around them and zero far from any word; speech as one that is high
// where somebody speaks. The place is where the two correlate best. With the
// running integral of the speech, their product at any offset and drift is a
// sum over the edges of the words alone. It is tabulated for short blocks of
// the transcript and every lag; an offset and a drift are then a line through
// the tables, and all of them are tried.

const (
	fitStep  = 0.05 // seconds, of the integral
	lagSteps = 4    // steps of the integral from one lag to the next
	lagStep  = lagSteps * fitStep
	block    = 15.0 // seconds of the transcript that are moved as one in the search

	// pauseReach is how far from the nearest word, in seconds, a pause is
	// expected to be silent. What lies beyond may be a buzzer, another voice
	// or talk that the recognizer lost.
	pauseReach = 3.0
)

// move is a place in the recording: the seconds by which the start of the
// first word and the end of the last one move.
type move struct{ first, last float64 }

func (m move) apart(n move) float64 {
	return max(math.Abs(m.first-n.first), math.Abs(m.last-n.last))
}

// edge is where the words' signal changes, by how much.
type edge struct{ at, by float64 }

type fit struct {
	words    []stretch
	speech   []Span
	from, to float64   // start of the first word and end of the last, seconds
	guessed  bool      // most stretches end in a guess
	edges    []edge    // of the words' signal, by time
	covered  float64   // seconds of words and the pauses around them
	integral []float64 // seconds of speech before every step
	scale    float64   // seconds that a perfect match would sum to
}

func newFit(words []stretch, speech []Span) *fit {
	f := &fit{words: words, speech: speech, from: words[0].Start, to: words[0].End}
	around := make([]Span, len(words))
	sounding, open := 0.0, 0
	for i, p := range words {
		around[i] = Span{p.Start - pauseReach, p.End + pauseReach}
		sounding += p.End - p.Start
		f.to = max(f.to, p.End)
		if p.open {
			open++
		}
	}
	f.guessed = 2*open > len(words)
	around = merge(around)
	f.covered = total(around)
	share := sounding / f.covered
	for _, p := range words {
		f.edges = append(f.edges, edge{p.Start, -1}, edge{p.End, 1})
	}
	for _, p := range around {
		f.edges = append(f.edges, edge{p.Start, share}, edge{p.End, -share})
	}
	slices.SortFunc(f.edges, func(a, b edge) int { return cmp.Compare(a.at, b.at) })

	end := speech[len(speech)-1].End
	f.integral = make([]float64, int(end/fitStep)+2)
	k, before := 0, 0.0
	for i := range f.integral {
		at := float64(i) * fitStep
		for k < len(speech) && speech[k].End <= at {
			before += speech[k].End - speech[k].Start
			k++
		}
		f.integral[i] = before
		if k < len(speech) && speech[k].Start < at {
			f.integral[i] += at - speech[k].Start
		}
	}
	spoken := min(0.95, before/(end-speech[0].Start))
	f.scale = f.covered * math.Sqrt(share*(1-share)*spoken*(1-spoken))
	return f
}

// spoken is the seconds of speech before a moment.
func (f *fit) spoken(at float64) float64 {
	x := at / fitStep
	last := len(f.integral) - 1
	switch {
	case x <= 0:
		return 0
	case x >= float64(last):
		return f.integral[last]
	}
	i := int(x)
	return f.integral[i] + (x-float64(i))*(f.integral[i+1]-f.integral[i])
}

// match is the seconds that speak for m less those that speak against it.
func (f *fit) match(m move) float64 {
	drift := (m.last - m.first) / (f.to - f.from)
	sum := 0.0
	for _, e := range f.edges {
		sum += e.by * f.spoken(e.at+m.first+drift*(e.at-f.from))
	}
	return sum
}

// luck is the match that the best of all places has in a recording of
// something else: four deviations of noise that changes every second.
func (f *fit) luck() float64 { return f.scale * 4 * math.Sqrt(2/f.covered) }

// table is the match of a block of the transcript at every lag.
type table struct {
	mid   float64 // of the block, seconds
	least int     // the lag of sums[0], in lag steps
	sums  []float32
}

func (f *fit) tables() []table {
	var out []table
	for i := 0; i < len(f.edges); {
		j := i
		for j < len(f.edges) && f.edges[j].at < f.edges[i].at+block {
			j++
		}
		mid := (f.edges[i].at + f.edges[j-1].at) / 2
		reach := int((maxOffset+maxDrift*math.Abs(mid))/lagStep) + 3
		t := table{mid: mid, least: -reach, sums: make([]float32, 2*reach+1)}
		last := len(f.integral) - 1
		for _, e := range f.edges[i:j] {
			by := float32(e.by)
			at := int(math.Round(e.at/fitStep)) - reach*lagSteps
			for n := range t.sums {
				t.sums[n] += by * float32(f.integral[max(0, min(last, at))])
				at += lagSteps
			}
		}
		out = append(out, t)
		i = j
	}
	return out
}

// search tries every offset and drift. It gives the best place and how far it
// stands out from the best of those elsewhere, in [0,1].
func (f *fit) search() (best move, sure float64) {
	const lags = int(maxOffset / lagStep)
	offset := func(n int) float64 { return float64(n-lags) * lagStep }
	type row struct {
		drift float64
		match [2*lags + 1]float32
	}
	// From one drift to the next the ends move by half a second against the
	// middle.
	steps := max(1, int(math.Ceil(maxDrift*(f.to-f.from))))
	rows := make([]row, 2*steps+1)
	top := float32(0)
	tables := f.tables()
	for d := range rows {
		r := &rows[d]
		r.drift = maxDrift * float64(d-steps) / float64(steps)
		for _, t := range tables {
			at := int(math.Round(r.drift*t.mid/lagStep)) - lags - t.least
			for n, v := range t.sums[at : at+len(r.match)] {
				r.match[n] += v
			}
		}
		for n, v := range r.match {
			if v > top {
				top = v
				best = move{offset(n) + r.drift*f.from, offset(n) + r.drift*f.to}
			}
		}
	}
	second := float32(f.luck())
	for d := range rows {
		lo, hi := f.alongside(best, rows[d].drift)
		for n, v := range rows[d].match {
			if b := offset(n); v > second && (b < lo || b > hi) {
				second = v
			}
		}
	}
	if !(top > second) {
		return best, 0
	}
	return best, 1 - float64(second/top)
}

// alongside gives the range of offsets with which a line of the given drift
// lies close to m over a tenth of the transcript or so: such a place has part
// of the match of m and is no other one.
func (f *fit) alongside(m move, drift float64) (lo, hi float64) {
	const near, part = 2.0, 0.1    // seconds; share of the length
	same := m.first - drift*f.from // the offset with which they meet at the first word
	rise := drift*(f.to-f.from) - (m.last - m.first)
	if math.Abs(rise)*part > 2*near {
		return 1, -1 // they only cross
	}
	// They are offset - same + rise*x apart, x from 0 to 1 along the
	// transcript, and close around some x with half a part on either side.
	room := near - math.Abs(rise)*part/2
	a, b := rise*part/2, rise*(1-part/2)
	return same - max(a, b) - room, same - min(a, b) + room
}

// refine makes a place found by search exact. It is the mean of two: the best
// match nearby, which uses all of the speech, and a line through the moments
// where speech begins and ends, which takes less notice of what has no match.
// It gives false where they disagree, or where there is too little for a line.
func (f *fit) refine(m move) (move, bool) {
	m = f.climb(m)
	n, ok := f.line(m)
	if !ok || m.apart(n) > mostDissent {
		return m, false
	}
	m = move{(m.first + n.first) / 2, (m.last + n.last) / 2}
	const slack = 1.0 // seconds
	drift := (m.last - m.first) / (f.to - f.from)
	offset := m.first - drift*f.from
	inside := math.Abs(offset) <= maxOffset+slack && math.Abs(drift)*(f.to-f.from) <= maxDrift*(f.to-f.from)+slack
	return m, inside
}

// climb goes from m to the nearest place that matches best.
func (f *fit) climb(m move) move {
	best := f.match(m)
	for step := 2 * lagStep; step > 0.01; {
		from := m
		for _, by := range [...]move{{1, 1}, {-1, -1}, {1, 0}, {-1, 0}, {0, 1}, {0, -1}, {1, -1}, {-1, 1}} {
			n := move{from.first + step*by.first, from.last + step*by.last}
			if c := f.match(n); c > best+1e-9 {
				m, best = n, c
			}
		}
		if m == from {
			step /= 2
		}
	}
	return m
}

// pair is an edge of the words and one of the speech that may be the same.
type pair struct {
	x   float64 // where along the transcript, in [0,1]
	lag float64 // seconds from the words' edge to that of the speech
	end float64 // 1 where speech ends, 0 where it begins
}

// params of the line: the lag at the first word, what is added towards the
// last, and what is added where speech ends.
type params [3]float64

func (p pair) off(q params) float64 { return p.lag - q[0] - q[1]*p.x - q[2]*p.end }

// line fits the pairs of an edge of the words and one of the speech within
// reach of m. A pair counts less the further it lies off (Tukey's biweight),
// and not at all beyond a limit. Words that are lost or late at the edge of a
// pause make speech seem to start early and to end late alike, so the line
// lies halfway between starts and ends.
func (f *fit) line(m move) (move, bool) {
	const (
		reach  = 1.0            // seconds that the line may differ from m
		wide   = 1.2            // seconds beyond which a pair is none, at first
		narrow = 0.5            // likewise, however well they agree
		tukey  = 4.685 / 0.6745 // the usual limit, in median distances of a normal spread
		least  = 8              // edges where words start
	)
	starts, ends := edges(f.words, func(p stretch) (Span, bool) { return p.Span, p.open })
	heardStarts, heardEnds := edges(f.speech, func(p Span) (Span, bool) { return p, false })
	var pairs []pair
	pairUp := func(words, speech []float64, end float64) {
		for _, at := range words {
			x := (at - f.from) / (f.to - f.from)
			want := at + m.first + (m.last-m.first)*x
			for i := sort.SearchFloat64s(speech, want-reach-wide); i < len(speech) && speech[i] <= want+reach+wide; i++ {
				pairs = append(pairs, pair{x, speech[i] - at, end})
			}
		}
	}
	pairUp(starts, heardStarts, 0)
	begin := pairs
	if len(starts) < least || len(begin) < least {
		return m, false
	}
	if !f.guessed {
		pairUp(ends, heardEnds, 1)
	}
	limit := wide
	weigh := func(p pair, q params) float64 {
		r := p.off(q) / limit
		return max(0, 1-r*r) * max(0, 1-r*r)
	}

	// The first guess is the best of some lines around m, by the starts alone.
	var q params
	best := -1.0
	for i := -5; i <= 5; i++ {
		for j := -5; j <= 5; j++ {
			first, last := m.first+0.1*float64(i), m.last+0.1*float64(j)
			try := params{first, last - first, 0}
			sum := 0.0
			for _, p := range begin {
				sum += weigh(p, try)
			}
			if sum > best {
				q, best = try, sum
			}
		}
	}
	var offs []float64
	for range 30 {
		offs = offs[:0]
		for _, p := range pairs {
			if d := math.Abs(p.off(q)); d <= wide {
				offs = append(offs, d)
			}
		}
		if len(offs) < least {
			return m, false
		}
		slices.Sort(offs)
		limit = max(narrow, min(wide, tukey*offs[len(offs)/2]))
		var a [3][3]float64
		var b [3]float64
		for _, p := range pairs {
			w := weigh(p, q)
			v := [3]float64{1, p.x, p.end}
			for i := range v {
				b[i] += w * v[i] * p.lag
				for j := range v {
					a[i][j] += w * v[i] * v[j]
				}
			}
		}
		if f.guessed {
			a[2][2] = 1 // no ends, so nothing is added there
		}
		next, ok := solve(a, b)
		if !ok {
			return m, false
		}
		done := math.Abs(next[0]-q[0])+math.Abs(next[1]-q[1])+math.Abs(next[2]-q[2]) < 1e-4
		q = next
		if done {
			break
		}
	}
	first := q[0] + q[2]/2
	n := move{first, first + q[1]}
	return n, m.apart(n) <= reach
}

// edges gives the starts and ends of spans that have a pause outside, but for
// ends that are guesses.
func edges[T any](spans []T, of func(T) (p Span, open bool)) (starts, ends []float64) {
	before := math.Inf(-1)
	for i, s := range spans {
		p, open := of(s)
		if p.Start-before >= wordGap {
			starts = append(starts, p.Start)
		}
		after := math.Inf(1)
		if i+1 < len(spans) {
			next, _ := of(spans[i+1])
			after = next.Start
		}
		if !open && after-p.End >= wordGap {
			ends = append(ends, p.End)
		}
		before = p.End
	}
	return starts, ends
}

// solve gives the x of a*x = b by elimination, false where there is none.
func solve(a [3][3]float64, b [3]float64) (x params, ok bool) {
	for i := range b {
		p := i
		for j := i + 1; j < 3; j++ {
			if math.Abs(a[j][i]) > math.Abs(a[p][i]) {
				p = j
			}
		}
		a[i], a[p], b[i], b[p] = a[p], a[i], b[p], b[i]
		if math.Abs(a[i][i]) < 1e-9 {
			return x, false
		}
		for j := i + 1; j < 3; j++ {
			k := a[j][i] / a[i][i]
			for n := i; n < 3; n++ {
				a[j][n] -= k * a[i][n]
			}
			b[j] -= k * b[i]
		}
	}
	for i := 2; i >= 0; i-- {
		x[i] = b[i]
		for j := i + 1; j < 3; j++ {
			x[i] -= a[i][j] * x[j]
		}
		x[i] /= a[i][i]
	}
	return x, true
}
