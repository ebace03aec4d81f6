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

	"markaround/speech"
)

// noAudio as a value of --audio leaves the recording out.
const noAudio = "none"

// hearFlags are the flags of a command that marks one transcript with its
// recording.
type hearFlags struct {
	markFlags
	attempt string
	out     string
	force   bool
	quiet   bool
}

func (f *hearFlags) add(cmd *cobra.Command, out string) {
	fl := cmd.Flags()
	fl.SortFlags = false
	fl.StringVarP(&f.out, "out", "o", "", out)
	f.markFlags.add(fl)
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

// recordingOf finds the recording of a transcript: the file asked for, else the
// WAV file of the same name in the folder asked for or beside the transcript. It
// is "" when there is none.
func recordingOf(in input, asked string) (string, error) {
	names := besideNames(in.path)
	switch asked {
	case "":
	case noAudio:
		return "", nil
	default:
		info, err := os.Stat(asked)
		if err != nil {
			return "", pathError(err)
		}
		if !info.IsDir() {
			return asked, nil
		}
		for i, name := range names {
			names[i] = filepath.Join(asked, filepath.Base(name))
		}
	}
	if in.path == "-" {
		return "", nil
	}
	for _, path := range names {
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
