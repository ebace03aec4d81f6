package main

import (
	"bytes"
	"fmt"
	"io"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/pflag"

	"markaround/align"
	"markaround/cmd/internal/store"
	"markaround/rubric"
	"markaround/speech"
)

// markFlags say how transcripts are marked. All commands that mark have them.
type markFlags struct {
	rubric  string
	with    []string
	only    []string
	format  string
	speaker []string
	audio   string
}

func (f *markFlags) add(fl *pflag.FlagSet) {
	fl.StringVar(&f.rubric, "rubric", "class-a", "score sheet: a built-in name (see markaround rubric list) or a .yaml file")
	fl.StringArrayVar(&f.with, "with", nil, "overlay or add-on put onto it, by name or file; may be repeated, in order")
	fl.StringArrayVar(&f.only, "only", nil, "mark this section alone, by its id (see markaround rubric show); may be repeated")
	fl.StringVar(&f.format, "format", "", "transcript format: "+formatNames()+" (default: told from the content)")
	fl.StringArrayVar(&f.speaker, "speaker", nil, "speaker label of the student; may be repeated (default: a guess)")
	fl.StringVar(&f.audio, "audio", "", `recording: a WAV file, a folder with such, or "none" (default: the one beside the transcript)`)
}

func formatNames() string {
	var names []string
	for _, f := range speech.Formats() {
		names = append(names, string(f))
	}
	return strings.Join(names, ", ")
}

// marker marks transcripts as the flags say. It is safe for concurrent use.
type marker struct {
	rubric  *rubric.Rubric
	matcher *align.Matcher
	part    *rubric.Rubric // the sections asked for, nil for all
	format  speech.Format
	speaker []string
	audio   string
	stdin   io.Reader
	raw     bool // keep the files' bytes
}

func newMarker(f markFlags, stdin io.Reader) (*marker, error) {
	format, err := speech.ParseFormat(f.format)
	if err != nil {
		return nil, err
	}
	r, err := rubric.Load(f.rubric, f.with...)
	if err != nil {
		return nil, err
	}
	m := &marker{rubric: r, format: format, speaker: f.speaker, audio: f.audio, stdin: stdin}
	if len(f.only) > 0 {
		if m.part, err = r.Only(f.only...); err != nil {
			return nil, err
		}
	}
	m.matcher, err = align.New(r)
	return m, err
}

// heard is a transcript with its recording, on the recording's clock.
type heard struct {
	in     input
	words  *speech.Transcript
	raw    []byte        // the file, where the marker keeps it
	path   string        // of the recording, "" without one
	sound  *speech.Sound // nil without one
	timing speech.Timing
	labels []string // of the student, as the transcript writes them
}

// hear reads a transcript and its recording, if there is one, and puts the words
// where they lie in it.
func (m *marker) hear(in input) (*heard, error) {
	h := &heard{in: in}
	var err error
	if h.path, err = recordingOf(in, m.audio); err != nil {
		return nil, err
	}
	var raw bytes.Buffer
	var copyTo io.Writer
	if m.raw {
		copyTo = &raw
	}
	if h.words, err = readTranscript(in, m.format, m.stdin, copyTo); err != nil {
		return nil, err
	}
	h.raw = raw.Bytes()
	if h.labels, err = labelsOf(h.words, in, m.speaker); err != nil {
		return nil, err
	}
	if h.path == "" {
		return h, nil
	}
	if h.sound, err = readSound(h.path); err != nil {
		if m.audio == "" {
			err = fmt.Errorf("%w; --audio %s goes on without it", err, noAudio)
		}
		return nil, err
	}
	h.words, h.timing = speech.Place(h.words, h.sound)
	return h, nil
}

func (h *heard) options() align.Options {
	return align.Options{Attempt: h.in.attempt, Student: h.labels, Sound: h.sound, Timing: h.timing}
}

// marked is an attempt with its sheet, or why it has none.
type marked struct {
	*heard
	in    input
	sheet *rubric.Sheet
	entry *store.Entry // to be kept, nil when none is
	err   error
}

// mark reads and marks one transcript.
func (m *marker) mark(in input) marked {
	h, err := m.hear(in)
	if err != nil {
		return marked{in: in, err: err}
	}
	s := m.grade(h)
	if h.path == "" && m.audio != "" && m.audio != noAudio {
		s.Warnings = append(s.Warnings, noRecording(in, m.audio))
	}
	return marked{heard: h, in: in, sheet: s}
}

// grade marks what was heard.
func (m *marker) grade(h *heard) *rubric.Sheet {
	s := m.matcher.Grade(h.words, h.options())
	s.Tool = "markaround " + versionText()
	s.Source = filepath.Base(h.words.Name)
	if m.part != nil {
		m.part.Part(s)
	}
	return s
}

// rule is what the result of its sheets is concluded by.
func (m *marker) rule() rubric.Rule {
	if m.part != nil {
		return m.part.Rule()
	}
	return m.rubric.Rule()
}

// notes are what the sheet says of the recording, to be told at once. That its
// timing could not be checked is no news of a short one.
func (m marked) notes() (out []string) {
	if m.path == "" {
		return nil
	}
	file := filepath.Base(m.path) + ": "
	for _, w := range m.sheet.Warnings {
		if strings.HasPrefix(w, file) && (m.timing.Known || w != file+m.timing.Note) {
			out = append(out, w)
		}
	}
	return out
}

// labelsOf finds the speaker labels as the transcript writes them.
func labelsOf(t *speech.Transcript, in input, asked []string) ([]string, error) {
	there := t.Speakers()
	var labels []string
	for _, a := range asked {
		i := slices.IndexFunc(there, func(s string) bool { return strings.EqualFold(s, a) })
		if i < 0 {
			continue
		}
		labels = append(labels, there[i])
	}
	switch {
	case len(asked) == 0 || len(labels) > 0:
		return labels, nil
	case len(there) == 0:
		return nil, fmt.Errorf("%s: the transcript has no speaker labels; leave --speaker out", in.path)
	}
	return nil, fmt.Errorf("%s: no speaker is labeled %s; the labels are %s", in.path, quoted(asked), quoted(there))
}

func quoted(list []string) string {
	q := make([]string, len(list))
	for i, s := range list {
		q[i] = fmt.Sprintf("%q", s)
	}
	return strings.Join(q, ", ")
}
