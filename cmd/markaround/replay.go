package main

import (
	"bytes"
	"fmt"
	"io"
	"net/url"
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"markaround/cmd/internal/report"
	"markaround/speech"
)

// embedLimit is the size of a recording, in bytes, up to which it goes into the
// page itself. Base64 makes it a third larger, and pages beyond some 16 MB open
// slowly on a phone (tried out, no source).
const embedLimit = 12_000_000

func newReplayCommand() *cobra.Command {
	var f hearFlags
	cmd := &cobra.Command{
		Use:   "replay TRANSCRIPT",
		Short: "Write the student's page: hear the attempt with its marks, and drill cards",
		Long: `Mark one transcript and write a page for the student: what to put right first,
a player with every mark on the strip of the attempt, the words as they are
heard, the wrong numbers with the right ones, and what was missed with what to
say. Printed, the page is cards to cut out. Without a recording it shows the
same, and a mark leads to its words.

The recording is the WAV file beside the transcript with the same name, unless
--audio names another; --audio none leaves it out. Where the transcript's times
are off, they are moved to where the recording has the speech.

A recording of up to 12 MB goes into the page, which then is one file that can
be sent. A larger one stays a file of its own that must lie in the page's
folder; it is copied there when it lies elsewhere.

Without -o the page goes to standard output. -o names a file (.html) or a folder.
Files are written whole or not at all, and none that exists is overwritten
without --force.`,
		Example: `  markaround replay S-014.json -o S-014.html
  markaround replay S-014.srt --audio recordings/14.wav -o pages/
  markaround replay S-014.srt --audio none -o S-014.html`,
		RunE: func(cmd *cobra.Command, args []string) error {
			in, err := oneTranscript("replay", args, f.attempt)
			if err != nil {
				return err
			}
			return replay(in, f, cmd.InOrStdin(), cmd.OutOrStdout(), cmd.ErrOrStderr())
		},
	}
	f.add(cmd, "file or folder to write to (default: standard output)")
	return cmd
}

func replay(in input, f hearFlags, stdin io.Reader, stdout, stderr io.Writer) error {
	path, err := pagePath(in, f.out, stdout)
	if err != nil {
		return err
	}
	m, err := newMarker(f.markFlags, stdin)
	if err != nil {
		return err
	}
	h := m.mark(in)
	if h.err != nil {
		return h.err
	}
	opt := report.ReplayOptions{Transcript: h.words, Sound: h.sound, AudioType: "audio/wav"}
	copyTo, placed, err := placeAudio(&opt, h.heard, path)
	if err != nil {
		return err
	}
	notes := h.notes()
	if placed != "" {
		notes = append(notes, placed)
	}
	paths := []string{path, copyTo}
	if path == "" {
		paths = nil
	} else if copyTo == "" {
		paths = paths[:1]
	}
	if err := mayOverwrite(paths, []string{in.path}, f.force, stdin, stderr); err != nil {
		return err
	}
	if h.path == "" && f.audio != noAudio {
		notes = append(notes, noRecording(in, f.audio)+"; the page has no sound")
	}
	note(stderr, f.quiet, notes...)
	if path == "" {
		return report.Replay(stdout, h.sheet, opt)
	}
	if err := os.MkdirAll(filepath.Dir(path), 0o777); err != nil {
		return pathError(err)
	}
	if copyTo != "" {
		if err := copyFile(copyTo, h.path); err != nil {
			return err
		}
	}
	return writeFile(path, func(w io.Writer) error { return report.Replay(w, h.sheet, opt) })
}

// noRecordingPrefix is how noRecording begins.
const noRecordingPrefix = "no recording "

// noRecording says which recording was looked for in vain.
func noRecording(in input, folder string) string {
	name := filepath.Base(besideNames(in.path)[0])
	switch {
	case in.path == "-":
		return noRecordingPrefix + "is given with --audio"
	case folder != "":
		return fmt.Sprintf(noRecordingPrefix+"%s in %s", name, folder)
	}
	return fmt.Sprintf(noRecordingPrefix+"%s beside the transcript", name)
}

// pagePath is the file that a page goes to, "" for standard output.
func pagePath(in input, out string, stdout io.Writer) (string, error) {
	d, err := newDestination(out, htmlForm, false)
	if err != nil {
		return "", err
	}
	switch {
	case d.folder != "":
		return filepath.Join(d.folder, fileName(in.attempt)+".replay.html"), nil
	case d.file == "":
		if _, ok := terminal(stdout); ok {
			return "", fmt.Errorf("a page is nothing to read on a terminal; add -o %s.html", fileName(in.attempt))
		}
		return "", nil
	case formOfExtension[strings.ToLower(filepath.Ext(d.file))] != htmlForm:
		return "", fmt.Errorf("%s: replay writes a page; give it a name that ends in .html", d.file)
	}
	if _, err := os.Stat(filepath.Dir(d.file)); err != nil {
		return "", fmt.Errorf("%w; make the folder first", pathError(err))
	}
	return d.file, nil
}

// placeAudio puts the recording into the page or beside it. copyTo is where it
// has to be copied to for that, "" for nowhere; note says what the user must do.
func placeAudio(opt *report.ReplayOptions, h *heard, page string) (copyTo, note string, err error) {
	if h.path == "" {
		return "", "", nil
	}
	info, err := os.Stat(h.path)
	if err != nil {
		return "", "", pathError(err)
	}
	if info.Size() <= embedLimit {
		opt.Audio, err = wholeSound(h)
		return "", "", err
	}
	name := filepath.Base(h.path)
	opt.AudioURL = (&url.URL{Path: "./" + name}).String()
	size := fmt.Sprintf("%.0f MB", float64(info.Size())/1e6)
	if page == "" {
		return "", fmt.Sprintf("%s: too large to go into the page (%s); keep it in the page's folder under this name", h.path, size), nil
	}
	beside := filepath.Join(filepath.Dir(page), name)
	if there, err := os.Stat(beside); err == nil && os.SameFile(there, info) {
		return "", fmt.Sprintf("%s: too large to go into the page (%s); keep it in the page's folder under this name", h.path, size), nil
	}
	return beside, fmt.Sprintf("%s: too large to go into the page (%s); copied to %s, keep the two together", h.path, size, beside), nil
}

// wholeSound is the recording as a WAV file whose header is right, whatever that
// of the file says: browsers are less patient than we are.
func wholeSound(h *heard) ([]byte, error) {
	f, err := os.Open(h.path)
	if err != nil {
		return nil, pathError(err)
	}
	defer f.Close()
	var b bytes.Buffer
	if err := speech.Clip(&b, f, 0, h.sound.Seconds); err != nil {
		return nil, fmt.Errorf("%s: %w", h.path, err)
	}
	return b.Bytes(), nil
}

// copyFile copies a file whole or not at all.
func copyFile(to, from string) error {
	f, err := os.Open(from)
	if err != nil {
		return pathError(err)
	}
	defer f.Close()
	return writeFile(to, func(w io.Writer) error {
		_, err := io.Copy(w, f)
		return err
	})
}
