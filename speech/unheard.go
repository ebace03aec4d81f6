package speech

import (
	"math"
	"sort"
)

// Where words and speech do not go together. All of this supposes that the
// words lie where they were spoken: ask only where Timing.Known. The figures were chosen on
// invented attempts and have no source.
const (
	// wordMargin is the time around a word, in seconds, in which speech is
	// taken for that word: word times are off by up to 0.3 s, and speech is
	// heard a little longer than it lasts.
	wordMargin = 0.4

	// leastTalk is the speech in a row, in seconds, that is talk: three words
	// or so. Less is a cough, a tool set down, an "uh".
	leastTalk = 1.0

	// talkPause is the longest pause within talk, in seconds.
	talkPause = 0.5

	// quietShare is how much of a silence may be speech: clanks and hisses
	// are taken for it now and then.
	quietShare = 0.2

	// silentShare is how much of the time of an invented word may be speech.
	silentShare = 0.1

	// Silent words matter from so many in a row, or so many seconds: one or
	// two may be spoken too low for the activity to show.
	leastSilentWords   = 3
	leastSilentSeconds = 1.5
)

// WordRange is the words Transcript.Words[First:Last].
type WordRange struct{ First, Last int }

// Unheard gives the stretches of the recording with speech and no words: what
// the recognizer dropped, or left out as it was another voice. A word whose
// time is estimated may be anywhere in its segment, so nothing is unheard
// there.
func Unheard(t *Transcript, s *Sound) []Span {
	var covered []Span
	for i, w := range t.Words {
		p := reachOf(t, i)
		if p.Start <= p.End && w.Text != "" { // false for NaN
			covered = append(covered, p)
		}
	}
	speech := activity(s)
	if len(speech) == 0 {
		return nil
	}
	var out []Span
	at := math.Inf(-1)
	for _, p := range merge(covered) {
		out = append(out, talk(speech, at+wordMargin, p.Start-wordMargin)...)
		at = p.End
	}
	return append(out, talk(speech, at+wordMargin, math.Inf(1))...)
}

// Unspoken gives the words that stand where nobody speaks: those that the
// recognizer made up. Single ones are not told, nor words beyond the end of
// the recording.
func Unspoken(t *Transcript, s *Sound) []WordRange {
	speech := activity(s)
	end := length(s, speech)
	var out []WordRange
	for i := 0; i < len(t.Words); {
		j := i
		for j < len(t.Words) && silent(t, j, speech, end) {
			j++
		}
		if j == i {
			i++
			continue
		}
		if j-i >= leastSilentWords || t.Words[j-1].End-t.Words[i].Start >= leastSilentSeconds {
			out = append(out, WordRange{i, j})
		}
		i = j
	}
	return out
}

// reachOf gives where word i was spoken, as far as is known.
func reachOf(t *Transcript, i int) Span {
	w := t.Words[i]
	if w.Estimated && w.Segment >= 0 && w.Segment < len(t.Segments) {
		g := t.Segments[w.Segment]
		return Span{g.Start, g.End}
	}
	return Span{w.Start, w.End}
}

func silent(t *Transcript, i int, speech []Span, end float64) bool {
	p := reachOf(t, i)
	if !(p.Start <= p.End && p.Start < end) { // true for NaN
		return false
	}
	p.Start, p.End = p.Start-wordMargin, p.End+wordMargin
	return total(within(speech, p.Start, p.End)) <= silentShare*(p.End-p.Start)
}

// Quiet tells whether nobody speaks from start to end, in seconds, two moments
// between words. A margin at either end is left to the words. What lies
// between must hold no talk, which is a second of speech in a row with pauses
// of up to half a second, and be speech for no more than a fifth. It is not
// quiet where there is no recording.
func (s *Sound) Quiet(start, end float64) bool {
	speech := activity(s)
	if !(start <= end && start >= 0 && end <= length(s, speech)+wordMargin) { // true for NaN
		return false
	}
	start, end = start+wordMargin, end-wordMargin
	return len(talk(speech, start, end)) == 0 &&
		total(within(speech, start, end)) <= quietShare*max(0, end-start)
}

// Talk gives the stretches from start to end, in seconds, in which somebody
// speaks: a second of speech in a row at least, with pauses of up to half a
// second.
func (s *Sound) Talk(start, end float64) []Span { return talk(activity(s), start, end) }

// length of the recording in seconds, or of what is known of it.
func length(s *Sound, speech []Span) float64 {
	end := 0.0
	if s != nil && s.Seconds > 0 {
		end = s.Seconds
	}
	if n := len(speech); n > 0 {
		end = max(end, speech[n-1].End)
	}
	return end
}

// talk gives the stretches of at least leastTalk between start and end.
func talk(speech []Span, start, end float64) []Span {
	var out []Span
	parts := within(speech, start, end)
	for i := 0; i < len(parts); {
		j := i + 1
		for j < len(parts) && parts[j].Start-parts[j-1].End <= talkPause {
			j++
		}
		if total(parts[i:j]) >= leastTalk {
			out = append(out, Span{parts[i].Start, parts[j-1].End})
		}
		i = j
	}
	return out
}

// within gives the parts of the speech between start and end.
func within(speech []Span, start, end float64) []Span {
	var out []Span
	for i := sort.Search(len(speech), func(i int) bool { return speech[i].End > start }); i < len(speech) && speech[i].Start < end; i++ {
		if p := (Span{max(speech[i].Start, start), min(speech[i].End, end)}); p.Start < p.End {
			out = append(out, p)
		}
	}
	return out
}
