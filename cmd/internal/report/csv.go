package report

import (
	"encoding/csv"
	"io"
	"maps"
	"strconv"
	"strings"

	"markaround/rubric"
)

// Columns are the columns of CSV. The first three alone are a marks file: a
// person can correct the marks in a copy and compare it with the sheet.
var Columns = []string{
	"attempt", "item", "mark",
	"kind", "section", "line", "title", "points", "of", "critical", "extra", "minor",
	"listen", "confidence", "start", "end", "words", "said", "accepted", "source", "reason", "omitted",
	"machine", "by", "why", // what a person corrected: the program's mark, who, and why
}

// CSV writes a header and one row for every item, check, measure and for every
// finding of order, hold or reading, of all sheets one after the other. Items
// are "section.part", checks and measures "section.part/id", findings
// "kind:id". Times are seconds. Cells that a spreadsheet would run as a formula
// get a leading apostrophe.
func CSV(w io.Writer, sheets ...*rubric.Sheet) error {
	c := csv.NewWriter(w)
	c.Write(Columns)
	for _, s := range sheets {
		writeRows(c, s)
	}
	c.Flush()
	return c.Error()
}

func writeRows(c *csv.Writer, s *rubric.Sheet) {
	put := func(row map[string]string) {
		cells := make([]string, len(Columns))
		for i, name := range Columns {
			cells[i] = Cell(row[name])
		}
		c.Write(cells)
	}
	for _, it := range s.Items {
		base := map[string]string{
			"attempt": s.Attempt, "section": it.Section, "line": it.Line,
			"critical": yes(it.Critical), "extra": yes(it.Extra),
		}
		row := with(base, it.Named)
		row["kind"], row["item"], row["mark"], row["title"] = "item", it.ID, string(it.Mark), it.Title
		row["points"], row["of"] = rubric.Figure(it.Points), rubric.Figure(it.Of)
		row["listen"], row["confidence"] = yes(it.Listen), share(it.Confidence)
		row["reason"], row["omitted"] = it.Reason, strings.Join(it.Omitted, "; ")
		if c := it.Corrected; c != nil {
			row["machine"], row["by"], row["why"] = string(c.From), c.Who, c.Why
		}
		put(row)
		for _, ch := range it.Checks {
			row := with(base, ch.Evidence)
			row["kind"], row["item"], row["mark"], row["title"] = "check", it.ID+"/"+ch.ID, string(ch.Mark), ch.Title
			row["minor"] = yes(ch.Minor)
			put(row)
		}
		for _, m := range it.Measures {
			row := with(base, m.Evidence)
			row["kind"], row["item"], row["mark"], row["title"] = "measure", it.ID+"/"+m.ID, string(m.Mark), m.Title
			row["minor"] = yes(m.Optional)
			row["said"], row["accepted"], row["source"] = m.Said, m.Accepted, m.Source
			if m.Problem != "" {
				row["reason"] = m.Problem
			}
			put(row)
		}
	}
	for _, f := range s.Findings {
		if f.Kind == rubric.PaceFinding {
			continue
		}
		row := with(map[string]string{"attempt": s.Attempt, "critical": yes(f.Critical)}, f.Evidence)
		row["kind"], row["item"], row["mark"], row["title"] = "finding", f.Key(), "found", f.Text
		row["start"], row["end"], row["reason"] = seconds(f.Start), seconds(f.End), f.Reason
		put(row)
	}
}

// with is a copy of base and the evidence: all words, from the first start to
// the last end, and the best confidence.
func with(base map[string]string, list []rubric.Evidence) map[string]string {
	row := maps.Clone(base)
	if len(list) == 0 {
		return row
	}
	var words []string
	start, end, sure := list[0].Start, list[0].End, 0.0
	for _, ev := range list {
		words = append(words, ev.Words)
		start, end, sure = min(start, ev.Start), max(end, ev.End), max(sure, ev.Confidence)
	}
	row["words"] = strings.Join(words, " | ")
	row["start"], row["end"], row["confidence"] = seconds(start), seconds(end), share(sure)
	return row
}

func yes(b bool) string {
	if b {
		return "yes"
	}
	return ""
}

func share(x float64) string { return strconv.FormatFloat(x, 'f', 2, 64) }

func seconds(x float64) string {
	if x < 0 {
		return ""
	}
	return strconv.FormatFloat(x, 'f', 2, 64)
}

// Cell makes text safe for a spreadsheet.
func Cell(s string) string {
	s = clean(s)
	if s != "" && strings.ContainsRune("=+-@", rune(s[0])) {
		return "'" + s
	}
	return s
}
