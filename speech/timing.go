package speech

import (
	"fmt"
	"math"
	"slices"
)

// Timing is where a transcript's times lie in the recording:
//
//	recording time = transcript time * (1 + Drift) + Offset
//
// A transcript of a trimmed copy of the recording is off by a constant; a
// clock that runs fast or slow makes it drift.
type Timing struct {
	Offset float64 // seconds to be added; 0 unless Moved
	Drift  float64 // a share, 0.01 is 0.6 s a minute; 0 unless Moved
	Sure   float64 // in [0,1], how far the best fit stands out: 1 - second best / best
	Known  bool    // the recording shows where the words lie, be it elsewhere or where they are
	Moved  bool    // they lie elsewhere, and Offset and Drift say where
	Off    float64 // seconds between a word's time and its place, at the end of the transcript where it is larger; 0 unless Known
	Note   string  // one line: what was found, or why nothing was
}

// At turns a time of the transcript into one of the recording, in seconds.
func (tm Timing) At(t float64) float64 { return t*(1+tm.Drift) + tm.Offset }

// Timed gives a copy of the transcript with every time moved by tm. Nothing is
// left out: what would come to lie before the recording begins is put at its
// very start, and a warning says how much.
func (t *Transcript) Timed(tm Timing) *Transcript {
	out := *t
	out.Words = slices.Clone(t.Words)
	out.Segments = slices.Clone(t.Segments)
	out.Warnings = slices.Clone(t.Warnings)
	if !tm.Moved {
		return &out
	}
	early, earliest := 0, 0.0
	at := func(s float64) float64 { return max(0, tm.At(s)) }
	for i := range out.Words {
		w := &out.Words[i]
		if s := tm.At(w.Start); s < 0 {
			early++
			earliest = min(earliest, s)
		}
		w.Start, w.End = at(w.Start), at(w.End)
	}
	for i := range out.Segments {
		g := &out.Segments[i]
		g.Start, g.End = at(g.Start), at(g.End)
	}
	if early > 0 {
		noun := "words lie"
		if early == 1 {
			noun = "word lies"
		}
		out.Warnings = append(out.Warnings, Warning{Text: fmt.Sprintf(
			"%d %s up to %.1f s before the recording begins; put at its start", early, noun, -earliest)})
	}
	return &out
}

// What FitTiming looks for, and when it believes what it finds. The limits are
// somewhat wider than what has to be found, 30 s and 2 %; the other figures
// were chosen on the invented attempts with made-up speech activity and have
// no source.
const (
	maxOffset = 36.0  // seconds, of Timing.Offset
	maxDrift  = 0.022 // of Timing.Drift

	// A fit that moves no word by more than this moves none: the times of
	// words are no better, and those of words spread over a cue are worse.
	leastMove    = 0.15 // seconds
	leastMoveCue = 0.4

	leastSpoken   = 30.0 // seconds of words, and of speech; below, a fit is luck
	leastStretch  = 10   // stretches of words, and of speech; likewise
	leastSure     = 0.15 // of Timing.Sure; words of another recording seldom reach 0.05
	mostDissent   = 0.5  // seconds between the two ways to fit that refine averages
	longestFitted = 3 * 3600.0
)

// FitTiming finds where the words of t lie in the recording s: the offset and
// the drift by which they cover its speech, and the pauses between them its
// silence. It changes nothing where it cannot tell, or where the words lie
// right already; Timing.Note says which. Beyond three hours nothing is looked
// at.
func FitTiming(t *Transcript, s *Sound) Timing {
	words, speech := stretches(t), activity(s)
	for n := len(speech); n > 0 && speech[n-1].End > longestFitted; n-- {
		speech = speech[:n-1]
	}
	said := 0.0
	for _, p := range words {
		said += p.End - p.Start
	}
	switch spoken := total(speech); {
	case len(words) == 0:
		return Timing{Note: "timing not checked: the transcript has no words"}
	case said < leastSpoken:
		return Timing{Note: fmt.Sprintf("timing not checked: %.0f s of words in the transcript, at least %.0f s are needed", said, leastSpoken)}
	case spoken < leastSpoken:
		return Timing{Note: fmt.Sprintf("timing not checked: %.0f s of speech in the recording, at least %.0f s are needed", spoken, leastSpoken)}
	case len(words) < leastStretch:
		return Timing{Note: fmt.Sprintf("timing not checked: %d pauses between the words, at least %d are needed", len(words)-1, leastStretch-1)}
	case len(speech) < leastStretch:
		return Timing{Note: fmt.Sprintf("timing not checked: %d pauses in the recording's speech, at least %d are needed", len(speech)-1, leastStretch-1)}
	}
	f := newFit(words, speech)
	found, sure := f.search()
	if sure < leastSure {
		return Timing{Sure: sure, Note: "timing not checked: the words fit the recording's speech no better in one place than in others"}
	}
	found, ok := f.refine(found)
	if !ok {
		return Timing{Sure: sure, Note: "timing not checked: the words' pauses fit the recording's only roughly"}
	}
	tm := Timing{Sure: sure, Known: true, Off: max(math.Abs(found.first), math.Abs(found.last))}
	least := leastMove
	if f.guessed {
		least = leastMoveCue
	}
	if tm.Off <= least {
		tm.Note = fmt.Sprintf("the words lie where they are spoken, to within %g s", least)
		return tm
	}
	tm.Moved = true
	tm.Drift = (found.last - found.first) / (f.to - f.from)
	tm.Offset = found.first - tm.Drift*f.from
	tm.Note = fmt.Sprintf("the words were moved by %+.1f s at the start and %+.1f s at the end", found.first, found.last)
	return tm
}
