package speech

import "slices"

// edgeSlack is how far outside of a cue, in seconds, its speech may reach: cues
// are cut to the tenth of a second at best. Common practice, no source.
const edgeSlack = 0.2

// Place puts the words of a transcript where they are spoken in its recording, as
// a copy: on the recording's clock (FitTiming, Timed), and those without a time
// of their own where there is speech (Settled). Where the recording does not show
// where the words lie, the transcript stays as it is and Timing.Known is false.
func Place(t *Transcript, s *Sound) (*Transcript, Timing) {
	tm := FitTiming(t, s)
	if !tm.Known {
		return t, tm
	}
	return t.Timed(tm).Settled(s), tm
}

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
		pieces := within(spans, g.Start-edgeSlack, g.End+edgeSlack)
		if spoken := total(pieces); spoken >= speakingTime(len(words))/2 {
			settle(words, pieces, spoken)
		}
	}
	return &out
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
