package main

import (
	"bufio"
	"context"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"markaround/cmd/internal/report"
	"markaround/cmd/internal/store"
	"markaround/rubric"
)

// filterFlags pick kept attempts.
type filterFlags struct{ store.Filter }

func (f *filterFlags) add(fl *pflag.FlagSet) {
	fl.StringVar(&f.Student, "student", "", "those of this student, by id")
	fl.StringVar(&f.Cohort, "cohort", "", "those of this cohort")
	fl.StringVar(&f.Site, "site", "", "those of this site")
	fl.StringVar(&f.Instructor, "instructor", "", "those of this instructor, by id")
	fl.StringVar(&f.Vehicle, "vehicle", "", "those on this vehicle")
	fl.StringVar(&f.From, "from", "", "those of this day and later, as 2026-11-25")
	fl.StringVar(&f.To, "to", "", "those of this day and before")
}

func (f *filterFlags) check() error {
	for _, d := range []struct{ flag, day string }{{"from", f.From}, {"to", f.To}} {
		if d.day != "" {
			if fault := store.DayFault(d.day); fault != "" {
				return fmt.Errorf("--%s %s: %s", d.flag, d.day, fault)
			}
		}
	}
	return nil
}

// pick gives the attempts that are named, or without a name those that the flags
// pick.
func (f *filterFlags) pick(ctx context.Context, st *store.Store, refs []string) ([]store.Attempt, error) {
	if err := f.check(); err != nil {
		return nil, err
	}
	if len(refs) == 0 {
		list, err := st.Attempts(ctx, f.Filter)
		if err == nil && len(list) == 0 {
			err = fmt.Errorf("%s: no attempt is kept there that the flags pick; markaround attempts lists those that are", st.Where())
		}
		return list, err
	}
	if f.Filter != (store.Filter{}) {
		return nil, fmt.Errorf("attempts are either named or picked by flags such as --cohort, not both")
	}
	var list []store.Attempt
	for _, ref := range refs {
		a, err := st.Find(ctx, ref)
		if err != nil {
			return nil, err
		}
		if slices.ContainsFunc(list, func(b store.Attempt) bool { return a.ID == b.ID }) {
			return nil, fmt.Errorf("attempt %s is named twice; leave one out", ref)
		}
		list = append(list, a)
	}
	return list, nil
}

func newAttemptsCommand() *cobra.Command {
	var where storeFlag
	var filter filterFlags
	var as string
	cmd := &cobra.Command{
		Use:   "attempts",
		Short: "List the attempts that are kept",
		Long: `List the attempts that "grade --keep" has put into the store: number and name,
by which the other commands take them, whose they are, and the result with the
instructor's corrections.`,
		Example: `  markaround attempts
  markaround attempts --student S-014
  markaround attempts --cohort fall --from 2026-11-01 --as csv > fall.csv`,
		Args: noArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			write, ok := map[string]func(io.Writer, []attemptRow) error{textForm: attemptsText, jsonForm: attemptsJSON, csvForm: attemptsCSV}[as]
			if !ok {
				return fmt.Errorf("unknown form %q for --as; use text, json or csv", as)
			}
			if err := filter.check(); err != nil {
				return err
			}
			ctx := cmd.Context()
			st, err := where.open(ctx, false)
			if err != nil {
				return err
			}
			defer st.Close()
			list, err := st.Attempts(ctx, filter.Filter)
			if err != nil {
				return err
			}
			corrected, err := st.Corrected(ctx)
			if err != nil {
				return err
			}
			rows := make([]attemptRow, len(list))
			for i, a := range list {
				rows[i] = newAttemptRow(a, corrected[a.ID])
			}
			return write(cmd.OutOrStdout(), rows)
		},
	}
	fl := cmd.Flags()
	fl.SortFlags = false
	filter.add(fl)
	fl.StringVar(&filter.Rubric, "rubric", "", "those marked by this score sheet, by its id")
	fl.StringVar(&as, "as", textForm, "form of the list: text, json or csv")
	where.add(fl)
	return cmd
}

// attemptRow is an attempt in a list.
type attemptRow struct {
	Attempt    int64   `json:"attempt"`
	Name       string  `json:"name"`
	Student    string  `json:"student"`
	Number     int     `json:"number"`
	Date       string  `json:"date"`
	Cohort     string  `json:"cohort"`
	Site       string  `json:"site"`
	Instructor string  `json:"instructor"`
	Vehicle    string  `json:"vehicle"`
	Rubric     string  `json:"rubric"`
	Version    string  `json:"rubric_version"`
	Tool       string  `json:"tool"`
	Points     float64 `json:"points"`
	Of         float64 `json:"of"`
	Pass       bool    `json:"pass"`
	Seconds    float64 `json:"seconds"`   // from the first word to the last
	Corrected  int     `json:"corrected"` // items and findings
	Recording  bool    `json:"recording"` // a copy is kept
	Kept       string  `json:"kept"`
}

func newAttemptRow(a store.Attempt, corrected int) attemptRow {
	return attemptRow{a.ID, a.Name, a.Student, a.Number, a.Day, a.Cohort, a.Site, a.Instructor, a.Vehicle,
		a.Rubric.ID, a.Rubric.Version, a.Tool, a.Points, a.Of, a.Pass, a.Seconds, corrected, a.RecordingHash != "", a.Kept}
}

func (r attemptRow) result() string {
	if r.Pass {
		return "pass"
	}
	return "no pass"
}

// attemptsText writes a table without the columns that no attempt has anything
// in.
func attemptsText(w io.Writer, rows []attemptRow) error {
	columns := []struct {
		title string
		right bool
		cell  func(attemptRow) string
	}{
		{"No.", true, func(r attemptRow) string { return strconv.FormatInt(r.Attempt, 10) }},
		{"name", false, func(r attemptRow) string { return r.Name }},
		{"student", false, func(r attemptRow) string { return r.Student }},
		{"try", true, func(r attemptRow) string { return strconv.Itoa(r.Number) }},
		{"date", false, func(r attemptRow) string { return r.Date }},
		{"cohort", false, func(r attemptRow) string { return r.Cohort }},
		{"site", false, func(r attemptRow) string { return r.Site }},
		{"instructor", false, func(r attemptRow) string { return r.Instructor }},
		{"vehicle", false, func(r attemptRow) string { return r.Vehicle }},
		{"sheet", false, func(r attemptRow) string { return r.Rubric }},
		{"points", true, func(r attemptRow) string { return rubric.Figure(r.Points) + "/" + rubric.Figure(r.Of) }},
		{"result", false, attemptRow.result},
		{"corrected", true, func(r attemptRow) string {
			if r.Corrected == 0 {
				return ""
			}
			return strconv.Itoa(r.Corrected)
		}},
	}
	b := bufio.NewWriter(w)
	if len(rows) == 0 {
		fmt.Fprintln(b, "no attempts")
		return b.Flush()
	}
	lines := make([]string, len(rows)+1)
	for _, c := range columns {
		cells, width, filled := []string{c.title}, len(c.title), false
		for _, r := range rows {
			text := report.Shorten(c.cell(r), 24)
			cells, width, filled = append(cells, text), max(width, utf8.RuneCountInString(text)), filled || text != ""
		}
		if !filled {
			continue
		}
		for i, text := range cells {
			gap := strings.Repeat(" ", width-utf8.RuneCountInString(text))
			if c.right {
				text = gap + text
			} else {
				text += gap
			}
			lines[i] += text + "  "
		}
	}
	for _, l := range lines {
		fmt.Fprintln(b, strings.TrimRight(l, " "))
	}
	return b.Flush()
}

func attemptsJSON(w io.Writer, rows []attemptRow) error {
	enc := json.NewEncoder(w)
	enc.SetEscapeHTML(false)
	enc.SetIndent("", "  ")
	return enc.Encode(append([]attemptRow{}, rows...))
}

func attemptsCSV(w io.Writer, rows []attemptRow) error {
	c := csv.NewWriter(w)
	c.Write([]string{"attempt", "name", "student", "number", "date", "cohort", "site", "instructor", "vehicle",
		"rubric", "rubric_version", "points", "of", "result", "seconds", "corrected"})
	for _, r := range rows {
		cells := []string{strconv.FormatInt(r.Attempt, 10), r.Name, r.Student, strconv.Itoa(r.Number), r.Date, r.Cohort, r.Site, r.Instructor, r.Vehicle,
			r.Rubric, r.Version, rubric.Figure(r.Points), rubric.Figure(r.Of), r.result(), strconv.FormatFloat(r.Seconds, 'f', 2, 64), strconv.Itoa(r.Corrected)}
		for i := range cells {
			cells[i] = report.Cell(cells[i])
		}
		c.Write(cells)
	}
	c.Flush()
	return c.Error()
}
