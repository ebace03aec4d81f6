package speech

import "slices"

// edgeSlack is how far outside of a cue, in seconds, its speech may reach: cues
// are cut to the tenth of a second at best. Common practice, no source.
const edgeSlack = 0.2

// Settled gives a copy of the transcript in which words whose times were spread
// over a cue are spread over the speech in it instead, so that a pause inside
// the cue has no words. They stay marked as estimated. A cue with far less
// speech than its words take is left alone. The times of transcript and
// recording must be on one clock; see FitTiming.
func (t *Transcript) Settled(s *Sound) *Transcript {
	out := *t
	out.Words = slices.Clone(t.Words)
	spans := activity(s)
	for _, g := range t.Segments {
		words := out.Words[g.First:g.Last]
		if len(words) == 0 || slices.ContainsFunc(words, func(w Word) bool { return !w.Estimated }) {
			continue
		}
		pieces := inside(spans, g.Start-edgeSlack, g.End+edgeSlack)
		if spoken := total(pieces); spoken >= speakingTime(len(words))/2 {
			settle(words, pieces, spoken)
		}
	}
	return &out
}

// inside gives what of the spans lies between two moments.
func inside(spans []Span, start, end float64) (out []Span) {
	at, _ := slices.BinarySearchFunc(spans, start, func(p Span, t float64) int {
		if p.End <= t {
			return -1
		}
		return 1
	})
	for ; at < len(spans) && spans[at].Start < end; at++ {
		out = append(out, Span{max(spans[at].Start, start), min(spans[at].End, end)})
	}
	return out
}

// settle spreads words over pieces of speech by their length. A word lies in the
// piece that its middle falls into, whole.
func settle(words []Word, pieces []Span, spoken float64) {
	perLetter := spoken / letters(words)
	at, piece, before := 0.0, 0, 0.0 // speech up to the word, and up to the piece
	for i := range words {
		w := &words[i]
		long := weight(w.Text) * perLetter
		for piece+1 < len(pieces) && at+long/2 > before+pieces[piece].End-pieces[piece].Start {
			before += pieces[piece].End - pieces[piece].Start
			piece++
		}
		p := pieces[piece]
		w.Start = min(max(p.Start+at-before, p.Start), p.End)
		w.End = min(max(p.Start+at+long-before, w.Start), p.End)
		at += long
	}
}
