package speech

import (
	"cmp"
	"math"
	"slices"
)

// wordGap is the time between words, in seconds, that counts as a pause. A
// shorter one may as well be a lost word, or a word time that is off.
const wordGap = 0.4

// stretch is a run of words without a pause.
type stretch struct {
	Span
	open bool // the end is a guess
}

// stretches gives the runs of words between pauses, in order and apart. Where
// a cue without word times has no end of its own but the start of the next
// one, it counts for as long as its words take at the usual pace.
func stretches(t *Transcript) []stretch {
	pace := cuePace(t)
	var all []stretch
	add := func(start, end float64, open bool) {
		if start >= 0 && start <= end && end <= longestFitted { // false for NaN
			all = append(all, stretch{Span{start, end}, open})
		}
	}
	for i, g := range t.Segments {
		if g.First >= g.Last {
			continue
		}
		words := t.Words[g.First:g.Last]
		switch {
		case !words[0].Estimated:
			for _, w := range words {
				add(w.Start, w.End, false)
			}
		case openEnd(t, i):
			add(g.Start, min(g.End, g.Start+pace*letters(words)), true)
		default:
			add(g.Start, g.End, false)
		}
	}
	slices.SortStableFunc(all, func(a, b stretch) int { return cmp.Compare(a.Start, b.Start) })
	out := all[:0]
	for _, p := range all {
		n := len(out)
		if n == 0 || p.Start-out[n-1].End >= wordGap {
			out = append(out, p)
		} else if last := &out[n-1]; p.End > last.End {
			last.End, last.open = p.End, p.open
		}
	}
	return out
}

// openEnd tells whether the end of segment i is not that of its words: it is
// the next one's start, or what Read gives where the source has none.
func openEnd(t *Transcript, i int) bool {
	const touch = 0.1 // seconds
	g := t.Segments[i]
	return i+1 < len(t.Segments) && t.Segments[i+1].Start-g.End < touch ||
		math.Abs(g.End-g.Start-speakingTime(g.Last-g.First)) < 0.001
}

// cuePace is the seconds a letter that cues without word times take: the
// median of those that have an end of their own. Where few do, it is what the
// fastest quarter of all stays under, as the others may have pauses in them.
func cuePace(t *Transcript) float64 {
	const few = 20
	var all, own []float64
	for i, g := range t.Segments {
		if g.First >= g.Last || !t.Words[g.First].Estimated {
			continue
		}
		pace := (g.End - g.Start) / letters(t.Words[g.First:g.Last])
		if !(pace > 0) {
			continue
		}
		all = append(all, pace)
		if !openEnd(t, i) {
			own = append(own, pace)
		}
	}
	slices.Sort(all)
	slices.Sort(own)
	switch {
	case len(own) >= few:
		return own[len(own)/2]
	case len(all) > 0:
		return all[len(all)/4]
	}
	return 0
}

func letters(words []Word) float64 {
	sum := 0.0
	for _, w := range words {
		sum += weight(w.Text)
	}
	return sum
}

// activity gives the recording's spans of speech that can be used, in order
// and apart.
func activity(s *Sound) []Span {
	if s == nil {
		return nil
	}
	out := make([]Span, 0, len(s.Speech))
	for _, p := range s.Speech {
		if p.Start >= 0 && p.End > p.Start && p.End <= latest {
			out = append(out, p)
		}
	}
	return merge(out)
}

// merge sorts spans and joins those that touch, in place.
func merge(spans []Span) []Span {
	slices.SortFunc(spans, func(a, b Span) int { return cmp.Compare(a.Start, b.Start) })
	out := spans[:0]
	for _, p := range spans {
		if n := len(out); n > 0 && p.Start <= out[n-1].End {
			out[n-1].End = max(out[n-1].End, p.End)
		} else {
			out = append(out, p)
		}
	}
	return out
}

func total(spans []Span) float64 {
	sum := 0.0
	for _, p := range spans {
		sum += p.End - p.Start
	}
	return sum
}
