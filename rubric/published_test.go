package rubric

import (
	"encoding/csv"
	"fmt"
	"math/big"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
)

// published is a row of testdata/published/measures.csv: what a document says,
// transcribed without looking at the score sheets.
type published struct {
	line                               int
	rubrics                            []string
	measure, unit, min, max, direction string
	document, section, status          string
	used                               bool
}

func readPublished(t *testing.T) (rows []*published) {
	t.Helper()
	f, err := os.Open(filepath.Join("..", "testdata", "published", "measures.csv"))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	r := csv.NewReader(f)
	r.Comment = '#'
	records, err := r.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	want := "rubrics measure unit min max direction document section status remark"
	if got := strings.Join(records[0], " "); got != want {
		t.Fatalf("columns are %s, want %s", got, want)
	}
	for i, rec := range records[1:] {
		p := &published{line: i + 5, rubrics: strings.Fields(rec[0]), measure: rec[1], unit: rec[2], min: rec[3], max: rec[4],
			direction: rec[5], document: rec[6], section: rec[7], status: rec[8]}
		if !slices.Contains([]string{"seen", "from memory", "common practice"}, p.status) || p.document == "" {
			t.Errorf("row %d: status %q, document %q", p.line, p.status, p.document)
		}
		rows = append(rows, p)
	}
	return rows
}

// figure is one number of a rubric, with what the table must say of it.
type figure struct {
	ref, unit, min, max, direction string
	source                         string
	unconfirmed                    bool
}

// figures are all numbers of a rubric by reference: measures, holds and the
// time limit.
func figures(r *Rubric) map[string]figure {
	out := map[string]figure{"time-limit": {ref: "time-limit", unit: "minute", source: r.TimeSource}}
	if r.TimeLimit > 0 {
		limit := new(big.Rat).SetFloat64(r.TimeLimit / 60).RatString()
		out["time-limit"] = figure{ref: "time-limit", unit: "minute", min: limit, max: limit, source: r.TimeSource}
	}
	for _, h := range r.Holds {
		ref := "hold/" + h.ID
		out[ref] = figure{ref: ref, unit: "second", min: fmt.Sprint(h.Seconds), source: h.Source}
	}
	for e := range r.All() {
		for _, m := range e.Item.Measures {
			ref := e.Item.ID + "/" + m.ID
			out[ref] = figure{ref, m.Unit, m.Min, m.Max, string(m.Direction), m.Source, m.Unconfirmed}
		}
	}
	return out
}

// TestPublished walks every number of every embedded rubric, and every one that
// an overlay sets, and wants a row of the table that says the same.
func TestPublished(t *testing.T) {
	rows := readPublished(t)
	// find gives the row of the first of the names that has one. An overlay may
	// have several rows for one number, by the sheet that it is put onto.
	find := func(f figure, names ...string) *published {
		for _, name := range names {
			var first *published
			for _, row := range rows {
				if row.measure != f.ref || !slices.Contains(row.rubrics, name) {
					continue
				}
				if agrees(row, f) == "" {
					return row
				}
				if first == nil {
					first = row
				}
			}
			if first != nil {
				return first
			}
		}
		return nil
	}
	look := func(where string, f figure, names ...string) {
		if f.source == "" {
			t.Errorf("%s: %s names no source", where, f.ref)
		}
		row := find(f, names...)
		if row == nil {
			t.Errorf("%s: %s has no row in the table", where, f.ref)
			return
		}
		row.used = true
		if why := agrees(row, f); why != "" {
			t.Errorf("%s: %s: %s (row %d: %s, %s)", where, f.ref, why, row.line, row.document, row.section)
		}
	}
	rubrics, overlays := Names()
	for _, name := range rubrics {
		r, err := Load(name)
		if err != nil {
			t.Fatal(err)
		}
		bare := figures(r)
		for _, f := range bare {
			look(name, f, name, "*")
		}
		for _, o := range overlays {
			with, err := Load(name, o)
			if err != nil {
				continue // does not fit, or is part of it; TestLibrary tells the rest
			}
			for ref, f := range figures(with) {
				if bare[ref] != f {
					look(name+" with "+o, f, "+"+o)
				}
			}
		}
	}
	for _, row := range rows {
		if !row.used {
			t.Errorf("row %d: nothing has the number %s of %s", row.line, row.measure, row.rubrics)
		}
	}
}

// agrees says how a figure differs from a row, "" when it does not.
func agrees(row *published, f figure) string {
	same := func(a, b string) bool {
		if a == "" || b == "" {
			return a == b
		}
		x, errX := ParseRational(a)
		y, errY := ParseRational(b)
		return errX == nil && errY == nil && x.Cmp(y) == 0
	}
	source := strings.ToLower(f.source)
	switch {
	case row.unit != f.unit || !same(row.min, f.min) || !same(row.max, f.max) || row.direction != f.direction:
		return fmt.Sprintf("%s to %s %s %s, published is %s to %s %s %s", f.min, f.max, f.unit, f.direction, row.min, row.max, row.unit, row.direction)
	case row.status == "from memory" && !f.unconfirmed:
		return "it was not seen in a source and must say unconfirmed"
	case row.status != "from memory" && f.unconfirmed:
		return "it says unconfirmed, but a source was seen"
	case row.status == "seen" && !namesRule(row.document, source):
		return "its source is " + f.source + " and does not name the federal rule of the table, " + row.document
	case row.status == "common practice" != strings.HasPrefix(source, "common practice"):
		return "its source is " + f.source + ", the table's is " + row.status
	case row.status == "seen" && strings.HasPrefix(source, "from memory"):
		return "its source is " + f.source + ", but one was seen"
	}
	return ""
}

var federal = regexp.MustCompile(`49 CFR (\d+\.\d+)`)

// namesRule reports whether a source names every federal rule that the
// document column has.
func namesRule(document, source string) bool {
	for _, m := range federal.FindAllStringSubmatch(document, -1) {
		if !strings.Contains(source, m[1]) {
			return false
		}
	}
	return true
}
