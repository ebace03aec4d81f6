package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"

	"github.com/spf13/cobra"

	"markaround/cmd/internal/report"
	"markaround/rubric"
	"markaround/speech"
)

// mostMargin is the most seconds that a clip begins before its words and ends
// after them.
const mostMargin = 60

func newClipCommand() *cobra.Command {
	var f hearFlags
	var margin float64
	cmd := &cobra.Command{
		Use:   "clip TRANSCRIPT -o FOLDER",
		Short: "Cut the seconds around each mark to hear out of the recording",
		Long: `Mark one transcript and cut out of its recording what is worth hearing, a WAV file
each: everything that is wrong, the words that came near a missed item, and the
other doubtful marks. A file is named by time, item and why it was cut, as in
03m07s-air.leak-wrong.wav; clips.csv in the same folder lists them with their
words. Every sample is as it was in the recording.

The recording is the WAV file beside the transcript with the same name, unless
--audio names another. A doubtful mark without any words is listed with the time
of its place and no file, and not at all when the student was never there.

The folder is made when it is not there. Files that exist in it are not
overwritten without --force, and those of other names stay.`,
		Example: `  markaround clip S-014.json -o S-014-clips
  markaround clip S-014.srt --audio recordings/14.wav --margin 4 -o clips`,
		RunE: func(cmd *cobra.Command, args []string) error {
			in, err := oneTranscript("clip", args, f.attempt)
			if err != nil {
				return err
			}
			return clip(cmd.Context(), in, f, margin, cmd.InOrStdin(), cmd.OutOrStdout(), cmd.ErrOrStderr())
		},
	}
	f.add(cmd, "folder to write to")
	cmd.Flags().Float64Var(&margin, "margin", 2, "seconds before and after the words")
	return cmd
}

func clip(ctx context.Context, in input, f hearFlags, margin float64, stdin io.Reader, stdout, stderr io.Writer) error {
	switch {
	case f.out == "":
		return errors.New("clip writes many files; add -o FOLDER")
	case !(margin >= 0 && margin <= mostMargin): // NaN as well
		return fmt.Errorf("--margin %v: give seconds from 0 to %d", margin, mostMargin)
	case f.audio == noAudio:
		return errors.New("clip cuts a recording; --audio none leaves none")
	}
	if info, err := os.Stat(f.out); err == nil && !info.IsDir() {
		return fmt.Errorf("%s: is a file, not a folder; give another name", f.out)
	}
	m, err := newMarker(f.markFlags, stdin)
	if err != nil {
		return err
	}
	h := m.mark(in)
	if h.err != nil {
		return h.err
	}
	if h.path == "" {
		return fmt.Errorf("%s: %s; name it with --audio", in.path, noRecording(in, f.audio))
	}
	clips, beyond, nowhere := clipsOf(h.sheet, h.sound.Seconds, margin)
	index := filepath.Join(f.out, "clips.csv")
	paths := []string{index}
	for _, c := range clips {
		if c.File != "" {
			paths = append(paths, filepath.Join(f.out, c.File))
		}
	}
	if err := mayOverwrite(paths, []string{in.path, h.path}, f.force, stdin, stderr); err != nil {
		return err
	}
	notes := h.notes()
	if beyond > 0 {
		notes = append(notes, fmt.Sprintf("%s: %s beyond its end at %s and cannot be cut; is it the recording of %s?",
			h.path, lie(beyond), report.Clock(h.sound.Seconds), in.path))
	}
	note(stderr, f.quiet, notes...)
	if err := os.MkdirAll(f.out, 0o777); err != nil {
		return pathError(err)
	}
	if err := cut(ctx, h.path, f.out, clips); err != nil {
		return err
	}
	if err := writeFile(index, func(w io.Writer) error { return report.ClipIndex(w, clips) }); err != nil {
		return err
	}
	if !f.quiet {
		n := len(paths) - 1
		fmt.Fprintf(stdout, "%s cut out of %s, listed in %s", rubric.Plural(n, "clip"), filepath.Base(h.path), index)
		if rest := len(clips) - n - beyond + nowhere; rest > 0 {
			fmt.Fprintf(stdout, "; no words to cut for %s", rubric.Plural(rest, "other mark"))
		}
		fmt.Fprintln(stdout)
	}
	return nil
}

func lie(marks int) string {
	if marks == 1 {
		return "1 mark lies"
	}
	return fmt.Sprintf("%d marks lie", marks)
}

// clipsOf names a clip for every moment worth hearing. File is "" where there
// are no words to cut, or where these lie beyond the recording, which beyond
// counts. What has no place in the recording has no clip; nowhere counts it.
func clipsOf(s *rubric.Sheet, length, margin float64) (clips []report.Clip, beyond, nowhere int) {
	taken := map[string]bool{"clips.csv": true}
	for _, m := range report.Moments(s) {
		c := report.Clip{Moment: m, Start: m.Said.Start, End: m.Said.End}
		switch {
		case m.Said.Start < 0:
			nowhere++
			continue
		case m.Place:
		case m.Said.Start-margin >= length:
			beyond++
		default:
			c.Start, c.End = max(0, m.Said.Start-margin), min(m.Said.End+margin, length)
			name := fmt.Sprintf("%s-%s-%s", clipTime(m.Said.Start, length), fileName(m.Item.ID), m.Why)
			c.File = name + ".wav"
			for n := 2; taken[c.File]; n++ {
				c.File = fmt.Sprintf("%s-%d.wav", name, n)
			}
			taken[c.File] = true
		}
		clips = append(clips, c)
	}
	return clips, beyond, nowhere
}

// clipTime writes a time so that names sort by it: 03m07s, with hours in all
// names of a recording that is longer than one.
func clipTime(seconds, whole float64) string {
	n := int(seconds)
	if whole >= 3600 {
		return fmt.Sprintf("%02dh%02dm%02ds", n/3600, n/60%60, n%60)
	}
	return fmt.Sprintf("%02dm%02ds", n/60, n%60)
}

func cut(ctx context.Context, recording, folder string, clips []report.Clip) error {
	f, err := os.Open(recording)
	if err != nil {
		return pathError(err)
	}
	defer f.Close()
	for _, c := range clips {
		if c.File == "" {
			continue
		}
		if ctx.Err() != nil {
			return errors.New("stopped; the files written so far are whole")
		}
		path := filepath.Join(folder, c.File)
		if err := writeFile(path, func(w io.Writer) error { return speech.Clip(w, f, c.Start, c.End) }); err != nil {
			return err
		}
	}
	return nil
}
