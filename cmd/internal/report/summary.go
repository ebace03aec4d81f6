package report

import (
	"bufio"
	"fmt"
	"io"
	"strings"
	"unicode/utf8"

	"markaround/rubric"
)

// Row is one attempt of a Summary.
type Row struct {
	Attempt      string
	Pass         bool
	Points, Of   float64
	Seconds      float64 // first to last word of the student
	WrongNumbers int
	Contradicted int
	Missed       int
	Critical     int // items and findings that fail the test by themselves
	Listen       int
	Warnings     int
	Link         string // address of the attempt's page, for HTMLSummary
}

// NewRow counts what a Summary shows of a sheet.
func NewRow(s *rubric.Sheet) Row {
	d := newDigest(s)
	return Row{
		Attempt: s.Attempt, Pass: s.Result.Pass, Points: s.Points, Of: s.Of,
		Seconds:      max(0, s.Pace.End-s.Pace.Start),
		WrongNumbers: len(d.Numbers), Contradicted: len(d.Contradictions),
		Missed: d.AllMissed, Critical: len(d.Critical), Listen: len(d.Listen),
		Warnings: len(s.Warnings),
	}
}

func (r Row) result() string {
	if r.Pass {
		return "pass"
	}
	return "no pass"
}

// Summary writes a table with a row for each attempt.
func Summary(w io.Writer, rows []Row, opt TextOptions) error {
	b := bufio.NewWriter(w)
	t := &texter{w: b, color: opt.Color, width: 100}
	name := len("Attempt")
	for _, r := range rows {
		name = max(name, utf8.RuneCountInString(clean(r.Attempt)))
	}
	name = min(name, 26)
	line := func(attempt, result, color string, cells ...any) {
		t.line(pad(Shorten(attempt, name), name) + "  " + t.paint(color, pad(result, 7)) +
			fmt.Sprintf("  %10s  %6s  %7s  %8s  %7s  %6s  %6s", cells...))
	}
	line("Attempt", "result", bold, "points", "", "time", "critical", "numbers", "missed", "listen")
	passed := 0
	for _, r := range rows {
		color := red
		if r.Pass {
			color = green
			passed++
		}
		line(clean(r.Attempt), r.result(), color, rubric.Figure(r.Points)+"/"+rubric.Figure(r.Of), percent(r.Points, r.Of), Clock(r.Seconds),
			fmt.Sprint(r.Critical), fmt.Sprint(r.WrongNumbers), fmt.Sprint(r.Missed), fmt.Sprint(r.Listen))
	}
	t.line("")
	t.line(fmt.Sprintf("%d of %s passed; numbers are those said wrong, listen the marks to hear again", passed, rubric.Plural(len(rows), "attempt")))
	var noted []string
	for _, r := range rows {
		if r.Warnings > 0 {
			noted = append(noted, clean(r.Attempt))
		}
	}
	if len(noted) > 0 {
		t.hang("", 0, "transcript notes in the sheets of: "+strings.Join(noted, ", "))
	}
	return b.Flush()
}
