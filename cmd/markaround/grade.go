package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"net/url"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"markaround/cmd/internal/report"
	"markaround/rubric"
)

type gradeFlags struct {
	markFlags
	keep    keepFlags
	attempt string
	out     string
	as      string
	force   bool
	strict  bool
	all     bool
	quiet   bool
}

func newGradeCommand() *cobra.Command {
	var f gradeFlags
	cmd := &cobra.Command{
		Use:   "grade FILE|FOLDER|- ...",
		Short: "Mark transcripts against a score sheet",
		Long: `Mark transcripts against a score sheet and report what was missed, said wrong
or out of order, and where the time went, with the words as evidence.

A folder is searched for transcripts by extension, not the folders in it; where
one recording has several, the one with the most exact times is taken. Earlier
reports and text files without times are skipped. "-" reads standard input.
Several files give a sheet each and a summary.

The recording of a transcript, a WAV file of the same name beside it or in the
folder that --audio names, puts the words where they are spoken and shows speech
that has none; what is missed there is not called missed for sure. Dead air and
holds go by it. --audio none leaves it out.

--only marks one section, for a student who practices that part. What was said
at other places is heard as such, and the time limit does not count.

Without -o the report goes to standard output. -o names a file, whose extension
gives the form (.txt, .json, .csv, .html), or a folder for a file each. Several
sheets in one JSON file are one object a line. Files are written whole or not
at all, and none that exists is overwritten without --force.

--keep puts each attempt into a store on this computer: transcript, sheet, and
whose attempt it was. The student is the one that --student or the file's row in
--students names, else the file's name up to the first underscore or space; a day
in the name (S-014_2026-11-25.srt) is that of the attempt. The same transcript
twice is one attempt. Of several files only the summary is printed, unless -o or
--as asks for the sheets. "markaround attempts" lists what is kept.

Exit codes: 0 marked; 1 bad input or usage, or a file of several could not be
marked; 2 with --strict, marked and at least one attempt is not a pass by the
score sheet's own rule.`,
		Example: `  markaround grade student-07.vtt
  markaround grade student-07.json --with passenger --speaker "Speaker 2"
  markaround grade brakes-07.srt --only air
  markaround grade student-07.json --audio recordings/07.wav
  markaround grade student-07.srt -o student-07.html
  markaround grade recordings/ -o sheets/ --as html
  markaround grade recordings/ --as csv > marks.csv
  markaround grade S-014.srt --keep --cohort fall --instructor I-03
  markaround grade recordings/ --keep --students class.csv --date 2026-11-25
  transcribe recording.wav | markaround grade - --format srt --strict`,
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := f.keep.check(cmd.Flags()); err != nil {
				return err
			}
			return grade(cmd.Context(), args, f, cmd.InOrStdin(), cmd.OutOrStdout(), cmd.ErrOrStderr())
		},
	}
	fl := cmd.Flags()
	fl.SortFlags = false
	f.markFlags.add(fl)
	fl.StringVar(&f.attempt, "attempt", "", "attempt id, for a single transcript (default: the file name)")
	fl.StringVarP(&f.out, "out", "o", "", "file or folder to write to (default: standard output)")
	fl.StringVar(&f.as, "as", "", "form of the report: text, json, csv or html (default: from -o, else text)")
	fl.BoolVar(&f.all, "all", false, "in text, list the items that were said as well")
	fl.BoolVar(&f.force, "force", false, "overwrite files that exist")
	fl.BoolVar(&f.strict, "strict", false, "exit with code 2 when an attempt is not a pass")
	fl.BoolVar(&f.quiet, "quiet", false, "no progress, notes or summary")
	f.keep.add(fl)
	return cmd
}

// grade reads, marks and reports. Faults of the whole call come back before
// anything is marked or written; a file that cannot be marked does not stop
// the others.
func grade(ctx context.Context, args []string, f gradeFlags, stdin io.Reader, stdout, stderr io.Writer) error {
	inputs, notes, err := gather(args)
	if err != nil {
		return err
	}
	if f.attempt != "" {
		if len(inputs) > 1 {
			return fmt.Errorf("--attempt names one transcript, %d are given; leave it out, the file names are the ids", len(inputs))
		}
		inputs[0].attempt = f.attempt
	}
	// A folder makes several reports even while it holds one transcript.
	several := len(inputs) > 1 || !slices.Contains(args, inputs[0].path)
	dest, err := newDestination(f.out, f.as, several)
	if err != nil {
		return err
	}
	if info, err := os.Stat(f.audio); f.audio != "" && err == nil && !info.IsDir() && len(inputs) > 1 {
		return fmt.Errorf("--audio names one recording, %d transcripts are given; name a folder of recordings, or leave it out for those beside the transcripts", len(inputs))
	}
	m, err := newMarker(f.markFlags, stdin)
	if err != nil {
		return err
	}
	mark := func(i int) marked { return m.mark(inputs[i]) }
	var keep *keeper
	if f.keep.on {
		details, err := f.keep.details(inputs)
		if err != nil {
			return err
		}
		note(stderr, false, dayNotes(inputs, details, time.Now().Format(time.DateOnly))...)
		st, err := f.keep.open(ctx, true)
		if err != nil {
			return err
		}
		defer st.Close()
		keep = &keeper{store: st, stderr: stderr, quiet: f.quiet, single: !several, students: map[string]bool{}}
		m.raw = true
		mark = func(i int) marked {
			h := m.mark(inputs[i])
			if h.err == nil {
				h.entry = m.entry(h, details[i], f.markFlags, f.keep.audio)
				h.err = h.entry.Pack()
			}
			return h
		}
	}
	if err := prepare(dest, inputs, f.force, stdin, stderr); err != nil {
		return err
	}
	note(stderr, f.quiet, notes...)

	w := &writer{dest: dest, stdout: stdout, stderr: stderr, all: f.all, quiet: f.quiet, several: several, summaryOnly: f.keep.on && several && f.out == "" && f.as == ""}
	bar := newProgress(stderr, len(inputs), f.quiet)
	failed := false
	for m := range inOrder(ctx, len(inputs), mark) {
		bar.clear()
		if m.err == nil {
			m.err = w.add(m)
		}
		if m.err == nil && keep != nil {
			if err := keep.add(ctx, m.entry); err != nil {
				return err // the store's, which will not take the next one either
			}
		}
		if m.err != nil {
			complain(stderr, m.err)
			failed = true
		}
		bar.step(m.in.path)
	}
	bar.clear()
	if err := ctx.Err(); err != nil {
		if keep != nil {
			return fmt.Errorf("stopped; the files written so far are whole, and %s kept", rubric.Plural(keep.added, "attempt"))
		}
		return errors.New("stopped; the files written so far are whole")
	}
	if keep != nil {
		if err := keep.finish(ctx); err != nil {
			return err
		}
	}
	if err := w.finish(); err != nil {
		return err
	}
	switch {
	case failed:
		return errSaid
	case f.strict && slices.ContainsFunc(w.rows, func(r report.Row) bool { return !r.Pass }):
		return errNotPassed
	}
	return nil
}

// prepare checks every file to be written and makes the folder.
func prepare(dest destination, inputs []input, force bool, stdin io.Reader, stderr io.Writer) error {
	var paths, from []string
	for _, in := range inputs {
		from = append(from, in.path)
		if dest.folder != "" {
			paths = append(paths, dest.path(in.attempt))
		}
	}
	if dest.folder != "" && dest.form == htmlForm && len(inputs) > 1 {
		paths = append(paths, dest.summaryPath())
	}
	if dest.file != "" {
		paths = append(paths, dest.file)
		if _, err := os.Stat(filepath.Dir(dest.file)); err != nil {
			return fmt.Errorf("%w; make the folder first", pathError(err))
		}
	}
	if err := mayOverwrite(paths, from, force, stdin, stderr); err != nil {
		return err
	}
	if dest.folder != "" {
		return pathError(os.MkdirAll(dest.folder, 0o777))
	}
	return nil
}

// summaryPath is the page that links the attempts' pages.
func (d destination) summaryPath() string { return filepath.Join(d.folder, "index.html") }

// ahead is how many results may wait for the one before them.
const ahead = 64

// inOrder does n things, several at a time, and gives the results in order. It
// never runs far ahead of what is taken, so that a school's attempts are not all
// in memory at once. After a canceled context it gives no more.
func inOrder[T any](ctx context.Context, n int, do func(int) T) func(func(T) bool) {
	return func(yield func(T) bool) {
		ctx, cancel := context.WithCancel(ctx)
		defer cancel()
		results := make([]chan T, min(n, ahead)) // in a ring
		for i := range results {
			results[i] = make(chan T, 1)
		}
		next := make(chan int)
		room := make(chan bool, ahead)
		go func() {
			defer close(next)
			for i := range n {
				select {
				case room <- true:
				case <-ctx.Done():
					return
				}
				select {
				case next <- i:
				case <-ctx.Done():
					return
				}
			}
		}()
		for range min(runtime.GOMAXPROCS(0), n, 8) {
			go func() {
				for i := range next {
					results[i%len(results)] <- do(i)
				}
			}()
		}
		for i := range n {
			select {
			case r := <-results[i%len(results)]:
				<-room
				if !yield(r) {
					return
				}
			case <-ctx.Done():
				return
			}
		}
	}
}

// writer puts sheets where they go, as they come.
type writer struct {
	dest           destination
	stdout, stderr io.Writer
	all            bool
	quiet          bool
	several        bool
	summaryOnly    bool // of several, on standard output
	rows           []report.Row
	kept           []marked // for forms that go into one file
}

func (w *writer) add(m marked) error {
	row := report.NewRow(m.sheet)
	if w.dest.folder != "" {
		path := w.dest.path(m.in.attempt)
		row.Link = (&url.URL{Path: "./" + filepath.Base(path)}).String()
		if err := writeFile(path, func(out io.Writer) error { return w.write(out, m) }); err != nil {
			return err
		}
		w.rows = append(w.rows, row)
		return nil
	}
	w.rows = append(w.rows, row)
	if w.summaryOnly {
		return nil
	}
	if w.dest.file == "" && w.dest.form != csvForm {
		if w.several && w.dest.form == textForm && len(w.rows) > 1 {
			fmt.Fprint(w.stdout, separator)
		}
		return w.write(w.stdout, m)
	}
	if w.dest.file != "" && w.dest.form == htmlForm {
		return writeFile(w.dest.file, func(out io.Writer) error { return w.write(out, m) })
	}
	w.kept = append(w.kept, m)
	return nil
}

// separator stands between two sheets in text.
var separator = "\n" + strings.Repeat("=", 100) + "\n\n"

func (w *writer) write(out io.Writer, m marked) error {
	s := m.sheet
	switch w.dest.form {
	case jsonForm:
		if w.several && w.dest.folder == "" {
			return report.JSONLine(out, s)
		}
		return report.JSON(out, s)
	case csvForm:
		return report.CSV(out, s)
	case htmlForm:
		return report.HTML(out, m.sheet, report.HTMLOptions{Transcript: m.words, Sound: m.sound})
	}
	opt := textOptions(out)
	opt.All, opt.Transcript = w.all, m.words
	return report.Text(out, s, opt)
}

// finish writes what needs all sheets: rows of CSV, a file of several sheets,
// the summary.
func (w *writer) finish() error {
	if len(w.rows) == 0 {
		return nil
	}
	if w.dest.form == csvForm && !w.quiet {
		for _, m := range w.kept { // CSV has no place for them
			for _, n := range m.sheet.Warnings {
				fmt.Fprintf(w.stderr, "markaround: %s: %s\n", m.in.path, n)
			}
		}
	}
	if len(w.kept) > 0 {
		var err error
		if w.dest.file == "" {
			err = w.together(w.stdout)
		} else {
			err = writeFile(w.dest.file, w.together)
		}
		if err != nil {
			return err
		}
	}
	if !w.several {
		return nil
	}
	if w.dest.folder != "" && w.dest.form == htmlForm && len(w.rows) > 1 {
		if err := writeFile(w.dest.summaryPath(), func(out io.Writer) error { return report.HTMLSummary(out, w.rows) }); err != nil {
			return err
		}
	}
	onStdout := w.dest.folder == "" && w.dest.file == ""
	if w.quiet || onStdout && w.dest.form != textForm {
		return nil
	}
	if onStdout && !w.summaryOnly {
		fmt.Fprint(w.stdout, separator)
	}
	return report.Summary(w.stdout, w.rows, textOptions(w.stdout))
}

// together writes several sheets into one file.
func (w *writer) together(out io.Writer) error {
	if w.dest.form == csvForm {
		var sheets []*rubric.Sheet
		for _, m := range w.kept {
			sheets = append(sheets, m.sheet)
		}
		return report.CSV(out, sheets...)
	}
	for i, m := range w.kept {
		if i > 0 && w.dest.form == textForm {
			if _, err := io.WriteString(out, separator); err != nil {
				return err
			}
		}
		if err := w.write(out, m); err != nil {
			return err
		}
	}
	return nil
}
