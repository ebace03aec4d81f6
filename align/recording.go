package align

import (
	"fmt"
	"path/filepath"

	"markaround/rubric"
	"markaround/speech"
)

// This file takes the recording into account where there is one. It never finds
// a part: what nobody wrote down cannot be marked. It says where words are
// lacking, so that nothing is called missed there for sure, and where the
// silence was real.

const (
	// leastUnheard is the unheard speech, in seconds, from which a part may have
	// been said in it: a name and a condition take longer.
	leastUnheard = 1.0
	// mostMissed is how sure a missed part may be where somebody spoke and
	// nobody knows what was said.
	mostMissed = 0.6
)

// sound takes in the recording. Where it is not known how the words lie in it,
// nothing is concluded from either.
func (l *listening) sound(s *speech.Sound, timing speech.Timing) {
	if s == nil {
		return
	}
	r := &rubric.Recording{File: filepath.Base(s.Name), Seconds: s.Seconds, Speech: s.Spoken(0, s.Seconds),
		Offset: timing.Offset, Drift: timing.Drift, Unheard: []rubric.Gap{}, Unspoken: []rubric.Gap{}}
	l.recording = r
	for _, w := range s.Warnings {
		l.warnings = append(l.warnings, r.File+": "+w.String())
	}
	if timing.Moved || !timing.Known {
		l.warnings = append(l.warnings, r.File+": "+timing.Note)
	}
	if !timing.Known {
		return
	}
	l.audio = s
	for _, p := range speech.Unheard(l.t, s) {
		r.Unheard = append(r.Unheard, rubric.Gap(p))
	}
	for _, p := range speech.Unspoken(l.t, s) {
		r.Unspoken = append(r.Unspoken, rubric.Gap{Start: l.t.Words[p.First].Start, End: l.t.Words[p.Last-1].End})
	}
	if n := total(r.Unheard); n > 0 {
		l.warnings = append(l.warnings, fmt.Sprintf("%s: %.0f s of speech without words; parts missed there may have been said", r.File, n))
	}
	if n := total(r.Unspoken); n > 0 {
		l.warnings = append(l.warnings, fmt.Sprintf("%s: words for %.0f s in which nobody speaks; is it the recording of this transcript?", r.File, n))
	}
}

func total(gaps []rubric.Gap) float64 {
	sum := 0.0
	for _, g := range gaps {
		sum += g.End - g.Start
	}
	return sum
}

// unheard gives the seconds of speech without words between two moments.
func (l *listening) unheard(start, end float64) float64 {
	if l.recording == nil {
		return 0
	}
	sum := 0.0
	for _, g := range l.recording.Unheard {
		if d := min(g.End, end) - max(g.Start, start); d > 0 {
			sum += d
		}
	}
	return sum
}

// silent gives the silent pieces of a gap between words: all of it without a
// recording.
func (l *listening) silent(gap rubric.Gap) []rubric.Gap {
	if l.audio == nil {
		return []rubric.Gap{gap}
	}
	var out []rubric.Gap
	at := gap.Start
	for _, p := range l.audio.Talk(gap.Start, gap.End) {
		out = append(out, rubric.Gap{Start: at, End: p.Start})
		at = p.End
	}
	return append(out, rubric.Gap{Start: at, End: gap.End})
}

// clock says whose times the sheet has.
func (l *listening) clock() string {
	if l.audio != nil {
		return "recording's clock"
	}
	return "transcript's times"
}
