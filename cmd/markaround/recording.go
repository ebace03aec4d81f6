package main

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"markaround/align"
	"markaround/rubric"
	"markaround/speech"
)

// noAudio as a value of --audio leaves the recording out.
const noAudio = "none"

// hearFlags are the flags of a command that marks one transcript with its
// recording.
type hearFlags struct {
	rubric  string
	with    []string
	only    []string
	format  string
	student []string
	attempt string
	audio   string
	out     string
	force   bool
	quiet   bool
}

func (f *hearFlags) add(cmd *cobra.Command, out, audio string) {
	fl := cmd.Flags()
	fl.SortFlags = false
	fl.StringVarP(&f.out, "out", "o", "", out)
	fl.StringVar(&f.audio, "audio", "", audio)
	fl.StringVar(&f.rubric, "rubric", "class-a", "score sheet: a built-in name (see markaround rubric list) or a .yaml file")
	fl.StringArrayVar(&f.with, "with", nil, "overlay or add-on put onto it, by name or file; may be repeated, in order")
	fl.StringArrayVar(&f.only, "only", nil, "mark this section alone, by its id (see markaround rubric show); may be repeated")
	fl.StringVar(&f.format, "format", "", "transcript format: "+formatNames()+" (default: told from the content)")
	fl.StringArrayVar(&f.student, "student", nil, "speaker label of the student; may be repeated (default: a guess)")
	fl.StringVar(&f.attempt, "attempt", "", "attempt id (default: the file name)")
	fl.BoolVar(&f.force, "force", false, "overwrite files that exist")
	fl.BoolVar(&f.quiet, "quiet", false, "no notes")
}

// oneTranscript is the transcript that a command was given.
func oneTranscript(cmd string, args []string, attempt string) (input, error) {
	if len(args) != 1 {
		return input{}, fmt.Errorf("%s takes one transcript, %d given; see markaround %s --help", cmd, len(args), cmd)
	}
	in := input{args[0], attemptOf(args[0])}
	if in.path == "-" {
		in.attempt = "stdin"
	} else if info, err := os.Stat(in.path); err != nil {
		return in, pathError(err)
	} else if info.IsDir() {
		return in, fmt.Errorf("%s: is a folder; %s takes one transcript", in.path, cmd)
	}
	if attempt != "" {
		in.attempt = attempt
	}
	return in, nil
}

// recordingOf finds the recording of a transcript: the one asked for, else the
// WAV file of the same name beside it. It is "" when there is none.
func recordingOf(transcript, asked string) (string, error) {
	switch asked {
	case "":
	case noAudio:
		return "", nil
	default:
		if info, err := os.Stat(asked); err != nil {
			return "", pathError(err)
		} else if info.IsDir() {
			return "", fmt.Errorf("%s: is a folder; --audio names a WAV file", asked)
		}
		return asked, nil
	}
	if transcript == "-" {
		return "", nil
	}
	for _, path := range besideNames(transcript) {
		info, err := os.Stat(path)
		switch {
		case err == nil && info.Mode().IsRegular():
			return path, nil
		case err != nil && !errors.Is(err, fs.ErrNotExist):
			return "", pathError(err)
		}
	}
	return "", nil
}

// besideNames are the names that the recording of a transcript may have. Some
// tools put their own ending behind that of the recording: S-014.wav.srt.
func besideNames(transcript string) []string {
	stem := strings.TrimSuffix(transcript, filepath.Ext(transcript))
	names := []string{stem + ".wav", stem + ".WAV"}
	if strings.EqualFold(filepath.Ext(stem), ".wav") {
		names = append(names, stem)
	}
	return names
}

// heard is an attempt marked with its recording, on the recording's clock.
type heard struct {
	in      input
	sheet   *rubric.Sheet
	words   *speech.Transcript
	path    string        // of the recording, "" without one
	sound   *speech.Sound // nil without one
	unheard []speech.Span // speech that has no words
	notes   []string
}

// hear reads a transcript and its recording, puts the words where they lie in
// the recording, and marks them.
func hear(in input, f hearFlags, stdin io.Reader) (*heard, error) {
	format, err := speech.ParseFormat(f.format)
	if err != nil {
		return nil, err
	}
	r, err := rubric.Load(f.rubric, f.with...)
	if err != nil {
		return nil, err
	}
	var part *rubric.Rubric
	if len(f.only) > 0 {
		if part, err = r.Only(f.only...); err != nil {
			return nil, err
		}
	}
	h := &heard{in: in}
	var onSheet []string // notes without the folder
	if h.path, err = recordingOf(in.path, f.audio); err != nil {
		return nil, err
	}
	if h.words, err = readTranscript(in, format, stdin); err != nil {
		return nil, err
	}
	if h.path != "" {
		if h.sound, err = readSound(h.path); err != nil {
			if f.audio == "" {
				err = fmt.Errorf("%w; --audio %s goes on without it", err, noAudio)
			}
			return nil, err
		}
		var notes []string
		timing := speech.FitTiming(h.words, h.sound)
		h.words = h.words.Timed(timing)
		if timing.Moved {
			notes = append(notes, timing.Note)
		}
		for _, w := range h.sound.Warnings {
			notes = append(notes, w.String())
		}
		for _, n := range notes {
			h.notes = append(h.notes, h.path+": "+n)
			onSheet = append(onSheet, filepath.Base(h.path)+": "+n)
		}
		h.unheard = speech.Unheard(h.words, h.sound)
	}
	m, err := align.New(r)
	if err != nil {
		return nil, err
	}
	if h.sheet, err = markTranscript(m, in, h.words, f.student); err != nil {
		return nil, err
	}
	if part != nil {
		part.Part(h.sheet)
	}
	h.sheet.Warnings = append(h.sheet.Warnings, onSheet...)
	return h, nil
}

func readSound(path string) (*speech.Sound, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, pathError(err)
	}
	defer f.Close()
	return speech.ReadSound(f, path)
}

// note prints notes of a command.
func note(stderr io.Writer, quiet bool, notes ...string) {
	for _, n := range notes {
		if !quiet {
			fmt.Fprintf(stderr, "markaround: %s\n", n)
		}
	}
}
