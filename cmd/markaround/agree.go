package main

import (
	"bufio"
	"bytes"
	"encoding/csv"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"markaround/cmd/internal/report"
	"markaround/rubric"
	"markaround/rubric/cohort"
)

func newAgreeCommand() *cobra.Command {
	var level, as string
	var list bool
	cmd := &cobra.Command{
		Use:   "agree MARKS.csv SHEET...",
		Short: "Measure how far a person's marks and the sheets agree",
		Long: `Compare a person's marks with the sheets of the same attempts, or with another
person's marks, and print how far they agree.

MARKS.csv has a header row with the columns attempt, item and mark. Item is
section.part, marked said, partly, missed or wrong; section.part/check for one
check or number of it, marked said, missed or wrong; or order:ID, hold:ID or
reading:ID, marked found. A column note is shown with --list. Rows beginning
with # are comments.

SHEET is a sheet from grade --as json, another marks file, or a folder: its
sheets, or where it has none, its marks files.

Printed are the number of marks compared, the share alike and Cohen's kappa
with their 95% intervals, the table of marks against marks, and how many of the
person's missed items, wrong numbers, contradicted conditions and findings were
found (recall) and how many of those found are the person's (precision); then
whether the confidences are right as often as they say. What only one of the two
marked is not compared, but counted. Extra items count where the person marked
them.

--as csv writes one row for every two marks compared; with --list, only those
that differ.`,
		Example: `  markaround agree marks.csv sheets/
  markaround agree marks.csv student-07.sheet.json --list
  markaround agree first.csv second.csv --level check`,
		Args: func(cmd *cobra.Command, args []string) error {
			if len(args) < 2 {
				return fmt.Errorf("%s needs a marks file and at least one sheet, got %s; see %s --help", cmd.CommandPath(), rubric.Plural(len(args), "argument"), cmd.CommandPath())
			}
			return nil
		},
		RunE: func(cmd *cobra.Command, args []string) error {
			basis := cohort.Basis(level)
			if basis != cohort.ByItem && basis != cohort.ByCheck {
				return fmt.Errorf("unknown level %q for --level; use item or check", level)
			}
			write, ok := map[string]func(io.Writer, *cohort.Comparison, bool) error{
				textForm: agreeText, jsonForm: agreeJSON, csvForm: agreeCSV}[as]
			if !ok {
				return fmt.Errorf("unknown form %q for --as; use text, json or csv", as)
			}
			c, err := compareFiles(args[0], args[1:], basis, cmd.ErrOrStderr())
			if err != nil {
				return err
			}
			// Written at once, so that a failure leaves no half report.
			var out bytes.Buffer
			if err := write(&out, c, list); err != nil {
				return err
			}
			_, err = cmd.OutOrStdout().Write(out.Bytes())
			return err
		},
	}
	cmd.Flags().StringVar(&level, "level", "item", "compare the marks of items, or of their parts: `item|check`")
	cmd.Flags().StringVar(&as, "as", textForm, "form of the report: `text|json|csv`")
	cmd.Flags().BoolVar(&list, "list", false, "list every mark that differs, with its evidence")
	return cmd
}

func compareFiles(marks string, others []string, basis cohort.Basis, stderr io.Writer) (*cohort.Comparison, error) {
	theirs, err := readMarksFile(marks)
	if err != nil {
		return nil, err
	}
	ours := cohort.NewMarks("the sheets")
	if len(others) == 1 {
		ours.Name = filepath.Base(others[0])
	}
	for _, path := range others {
		if err := addOther(ours, path, stderr); err != nil {
			return nil, err
		}
	}
	c := cohort.Compare(theirs, ours, basis)
	if c.Attempts == 0 {
		return nil, fmt.Errorf("no attempt of %s is in %s (%s; %s); give the same attempt ids", theirs.Name, ours.Name,
			strings.Join(theirs.Attempts(), ", "), strings.Join(ours.Attempts(), ", "))
	}
	return c, nil
}

func readMarksFile(path string) (*cohort.Marks, error) {
	data, err := os.ReadFile(path)
	if err != nil {
		return nil, pathError(err)
	}
	if isJSON(data) {
		return nil, fmt.Errorf("%s: this is JSON; give the marks file (CSV) first, then the sheets", path)
	}
	m, err := cohort.ReadMarks(bytes.NewReader(data), path)
	if err != nil {
		return nil, err
	}
	m.Name = filepath.Base(path)
	return m, nil
}

func isJSON(data []byte) bool {
	data = bytes.TrimSpace(bytes.TrimPrefix(data, []byte("\ufeff")))
	return len(data) > 0 && (data[0] == '{' || data[0] == '[')
}

// addOther adds the sheets or marks of a file or folder.
func addOther(m *cohort.Marks, path string, stderr io.Writer) error {
	info, err := os.Stat(path)
	if err != nil {
		return pathError(err)
	}
	if !info.IsDir() {
		return addFile(m, path)
	}
	// Glob gives no error but for a malformed pattern.
	folder := os.DirFS(path)
	jsons, _ := fs.Glob(folder, "*.json")
	sheets, skipped := 0, 0
	for _, name := range jsons {
		switch err := addFile(m, filepath.Join(path, name)); {
		case errors.Is(err, cohort.ErrNotSheet):
			skipped++
		case err != nil:
			return err
		default:
			sheets++
		}
	}
	if skipped > 0 {
		fmt.Fprintf(stderr, "%s: skipped, no sheet in it: %s\n", path, rubric.Plural(skipped, "JSON file"))
	}
	if sheets > 0 {
		return nil
	}
	tables, _ := fs.Glob(folder, "*.csv")
	if len(tables) == 0 {
		return fmt.Errorf("%s: no sheet and no marks file in this folder; sheets are made by grade --as json", path)
	}
	for _, name := range tables {
		if err := addFile(m, filepath.Join(path, name)); err != nil {
			return err
		}
	}
	return nil
}

func addFile(m *cohort.Marks, path string) error {
	data, err := os.ReadFile(path)
	if err != nil {
		return pathError(err)
	}
	if !isJSON(data) {
		other, err := cohort.ReadMarks(bytes.NewReader(data), path)
		if err != nil {
			return err
		}
		for _, j := range other.All() {
			if !m.Add(j) {
				return fmt.Errorf("%s:%d: %s of attempt %s has been marked in another file; leave one of them out", path, j.Line, j.Item, j.Attempt)
			}
		}
		return nil
	}
	sheets, err := cohort.ReadSheets(bytes.NewReader(data), path)
	if err != nil {
		return err
	}
	for _, s := range sheets {
		if err := m.AddSheet(s); err != nil {
			return fmt.Errorf("%s: %w", path, err)
		}
	}
	return nil
}

// leastForKappa is the number of marks below which kappa's interval, which is
// one of large samples, is not printed: of a few marks that are all alike it
// would be 1.00 to 1.00.
const leastForKappa = 20

// agreeText writes for a person. Lines have at most 100 columns but for long
// names of files and items, and counts of five digits.
func agreeText(w io.Writer, c *cohort.Comparison, list bool) error {
	b := bufio.NewWriter(w)
	say := func(format string, args ...any) { fmt.Fprintf(b, format+"\n", args...) }
	mark := map[cohort.Basis]string{cohort.ByItem: "item", cohort.ByCheck: "part"}[c.Basis]
	marks := mark + "s"
	say("%s (theirs) against %s (ours)", c.Theirs, c.Ours)
	say("%s, %s compared; intervals are at 95%%", rubric.Plural(c.Attempts, "attempt"), rubric.Plural(c.Kappa.N, mark))
	say("")
	say("  same mark  %s", shareText(c.Alike))
	if k := c.Kappa; k.Undefined != "" {
		say("  kappa      not defined: %s", k.Undefined)
	} else if k.N < leastForKappa {
		say("  kappa      %.3f (n too small for an interval)  Cohen's; %.3f alike by chance", k.Value, k.Expected)
	} else {
		say("  kappa      %.3f (%.3f to %.3f)  Cohen's; %.3f alike by chance", k.Value, k.Interval.Low, k.Interval.High, k.Expected)
	}
	say("")
	say("  %-14s%8s%8s%8s%8s", "theirs \\ ours", cohort.Classes[0], cohort.Classes[1], cohort.Classes[2], cohort.Classes[3])
	for i, row := range c.Table {
		say("  %-14s%8d%8d%8d%8d", cohort.Classes[i], row[0], row[1], row[2], row[3])
	}
	say("")
	rows := [][3]string{{"", "precision: theirs, of ours", "recall: ours, of theirs"}}
	for _, d := range c.Detections() {
		name := d.Name
		if name == "missed" || name == "wrong" {
			name += " " + marks
		}
		rows = append(rows, [3]string{name, shareText(d.Precision()), shareText(d.Recall())})
	}
	var width [2]int
	for _, r := range rows {
		width[0], width[1] = max(width[0], len(r[0])), max(width[1], len(r[1]))
	}
	for _, r := range rows {
		say("  %-*s  %-*s  %s", width[0], r[0], width[1], r[1], r[2])
	}
	if c.Findings == nil {
		say("  %-*s  %s", width[0], "findings", "not compared: "+c.Theirs+" has none")
	}
	say("")
	if cal := c.Calibration; cal == nil {
		say("  confidence: none was given")
	} else {
		say("  confidence    mean  same mark")
		for _, bin := range cal.Bins {
			if bin.Right.Of > 0 {
				say("  %.1f to %.1f    %.2f  %s", bin.Low, bin.High, bin.Mean, shareText(bin.Right))
			}
		}
		say("  0.9 or more         %s", shareText(cal.Sure))
		say("  expected calibration error %.3f, n = %d", cal.Error, cal.N)
		if c.NoConfidence > 0 {
			say("  %d without a confidence left out", c.NoConfidence)
		}
	}
	if left := c.Left(); len(left) > 0 {
		say("\nNot compared")
		for _, l := range left {
			say("  %s", strings.Join(report.Wrap(l, 96), "\n    "))
		}
	}
	if list {
		agreeList(say, c)
	}
	return b.Flush()
}

func agreeList(say func(string, ...any), c *cohort.Comparison) {
	different := c.Disagreements()
	if len(different) == 0 {
		say("\nNo mark differs.")
		return
	}
	verb := "differ"
	if len(different) == 1 {
		verb = "differs"
	}
	say("\n%s %s", rubric.Plural(len(different), "mark"), verb)
	attempt := ""
	for _, p := range different {
		if p.Attempt != attempt {
			attempt = p.Attempt
			say("\n  %s", attempt)
		}
		confidence := "-"
		if p.Confidence >= 0 {
			confidence = fmt.Sprintf("%.2f", p.Confidence)
		}
		say("  %8s  %-34s theirs %-7s ours %-7s %s", report.Clock(p.Start), p.Item, markOrDash(string(p.Theirs)), markOrDash(string(p.Ours)), confidence)
		for _, text := range []string{inQuotes(p.Words), p.Note} {
			if text != "" {
				say("            %s", strings.Join(report.Wrap(text, 88), "\n            "))
			}
		}
	}
}

func markOrDash(mark string) string {
	if mark == "" {
		return "-"
	}
	return mark
}

func inQuotes(words string) string {
	if words == "" {
		return ""
	}
	return strconv.Quote(words)
}

// shareText is "0.930 (0.863 to 0.966) 93 of 100". A share that is not whole
// never reads as 1, and all three figures are rounded alike, so that it lies in its
// interval as printed.
func shareText(s cohort.Share) string {
	v, ok := s.Value()
	if !ok {
		return "none to count"
	}
	in, _ := s.Interval()
	if s.Hits < s.Of {
		const most = 0.999
		v, in.Low = min(v, most), min(in.Low, most)
	}
	return fmt.Sprintf("%.3f (%.3f to %.3f) %d of %d", v, in.Low, in.High, s.Hits, s.Of)
}

// agreeJSON writes the statistics, and with list the marks that differ.
func agreeJSON(w io.Writer, c *cohort.Comparison, list bool) error {
	out := struct {
		Agreement *cohort.Comparison `json:"agreement"`
		Different *[]cohort.Pair     `json:"different,omitempty"`
	}{Agreement: c}
	if list {
		d := c.Disagreements()
		if d == nil {
			d = []cohort.Pair{}
		}
		out.Different = &d
	}
	e := json.NewEncoder(w)
	e.SetIndent("", "  ")
	e.SetEscapeHTML(false)
	return e.Encode(out)
}

// agreeCSV writes one row for every pair of marks, or with list for those that
// differ.
func agreeCSV(w io.Writer, c *cohort.Comparison, list bool) error {
	pairs := c.Pairs
	if list {
		pairs = c.Disagreements()
	}
	out := csv.NewWriter(w)
	out.Write([]string{"attempt", "item", "kind", "theirs", "ours", "same", "confidence", "start", "words", "note"})
	number := func(v float64) string {
		if v < 0 {
			return ""
		}
		return strconv.FormatFloat(v, 'f', -1, 64)
	}
	for _, p := range pairs {
		same := "no"
		if p.Agrees() {
			same = "yes"
		}
		out.Write([]string{p.Attempt, p.Item, string(p.Kind), string(p.Theirs), string(p.Ours), same,
			number(p.Confidence), number(p.Start), plainCell(p.Words), plainCell(p.Note)})
	}
	out.Flush()
	return out.Error()
}

// plainCell keeps a spreadsheet from running text as a formula.
func plainCell(s string) string {
	if s != "" && strings.ContainsRune("=+-@\t\r", rune(s[0])) {
		return "'" + s
	}
	return s
}
