// Package speech turns what a recognizer wrote into words with times, and the
// words into normal forms and quantities.
//
// It reads the transcript formats that speech-to-text tools write (one file of
// this package a format), keeps every word's place and time, and finds the
// numbers that were spoken together with their unit and the way their bound
// points. It knows nothing of score sheets: what a number is for is decided in
// package align.
//
// Times are seconds from the start of the recording, as float64. Where a
// format gives times for segments only, word times are spread over the segment
// by length and marked as estimated.
package speech

import (
	"fmt"
	"strings"
)

// Word is one recognized word as the recognizer wrote it.
type Word struct {
	Text       string  // as written, punctuation kept, no surrounding space
	Start, End float64 // seconds from the start of the recording, Start <= End
	Confidence float64 // the recognizer's own, in [0,1]; -1 when it gave none
	Segment    int     // index into Transcript.Segments
	Estimated  bool    // times were spread over the segment, not measured
}

// Segment is one cue, utterance or line: a run of words of one speaker.
type Segment struct {
	Start, End  float64 // seconds
	Speaker     string  // label as written in the source, "" when there is none
	First, Last int     // the words Transcript.Words[First:Last]
	Line        int     // line of the source where it begins, from 1; 0 if unknown
	Cue         int     // ordinal of the cue or utterance in the source, from 1
}

// Transcript is a whole recording in words. Words and Segments are sorted by
// start time; a segment's words are contiguous.
type Transcript struct {
	Name     string // where it came from, for messages
	Format   Format
	Words    []Word
	Segments []Segment
	Warnings []Warning // what was repaired or left out while reading
}

// Duration is the end of the last segment in seconds, 0 when empty.
func (t *Transcript) Duration() float64 {
	var end float64
	for _, s := range t.Segments {
		end = max(end, s.End)
	}
	return end
}

// Speakers lists the distinct speaker labels in order of appearance, "" left out.
func (t *Transcript) Speakers() []string {
	var out []string
	seen := map[string]bool{"": true}
	for _, s := range t.Segments {
		if !seen[s.Speaker] {
			seen[s.Speaker] = true
			out = append(out, s.Speaker)
		}
	}
	return out
}

// Text joins the words first to last (half open) with single spaces.
func (t *Transcript) Text(first, last int) string {
	var b strings.Builder
	for i := first; i < last; i++ {
		if i > first {
			b.WriteByte(' ')
		}
		b.WriteString(t.Words[i].Text)
	}
	return b.String()
}

// Format names a transcript format.
type Format string

// The formats that Read knows. Auto asks Read to detect it from the content.
const (
	Auto       Format = ""
	SRT        Format = "srt"
	WebVTT     Format = "vtt"
	TTML       Format = "ttml"
	Whisper    Format = "whisper"    // JSON with segments[] and, where asked for, words[]
	WhisperCPP Format = "whispercpp" // JSON with transcription[].offsets in milliseconds
	Vosk       Format = "vosk"       // JSON with result[], one object or lines of them
	Cloud      Format = "cloud"      // JSON with results[].alternatives[].words[]
	CTM        Format = "ctm"        // NIST time-marked conversation file
	Text       Format = "text"       // lines that begin with [m:ss], [h:mm:ss] or (m:ss)
)

// Warning is something that a reader repaired or left out and went on.
type Warning struct {
	Line int // from 1; 0 if unknown
	Cue  int // from 1; 0 if unknown
	Text string
}

func (w Warning) String() string {
	switch {
	case w.Line > 0:
		return fmt.Sprintf("line %d: %s", w.Line, w.Text)
	case w.Cue > 0:
		return fmt.Sprintf("cue %d: %s", w.Cue, w.Text)
	}
	return w.Text
}

// SyntaxError says where a transcript cannot be read and what to do about it.
// It prints as one line.
type SyntaxError struct {
	Name   string // file name
	Line   int    // from 1; 0 if unknown
	Msg    string // what is wrong, with the offending value
	Advice string // what to do, "" if there is nothing to say
}

func (e *SyntaxError) Error() string {
	var b strings.Builder
	if e.Name != "" {
		b.WriteString(e.Name)
		b.WriteByte(':')
	}
	if e.Line > 0 {
		fmt.Fprintf(&b, "%d:", e.Line)
	}
	if b.Len() > 0 {
		b.WriteByte(' ')
	}
	b.WriteString(e.Msg)
	if e.Advice != "" {
		b.WriteString("; ")
		b.WriteString(e.Advice)
	}
	return b.String()
}
