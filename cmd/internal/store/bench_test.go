package store

import (
	"fmt"
	"path/filepath"
	"testing"

	"markaround/rubric"
)

// large is a made-up sheet of the size of a real one: 128 items in 9 sections,
// six wrong numbers.
func large(name string) *rubric.Sheet {
	s := invented(name)
	s.Items = nil
	for i := range 128 {
		m := rubric.ItemMark{ID: fmt.Sprintf("section%d.item-%d", i/15, i), Title: fmt.Sprintf("Title of item %d", i), Section: fmt.Sprintf("section%d", i/15),
			Mark: []rubric.Mark{rubric.Said, rubric.Said, rubric.Missed, rubric.Partly}[(i*7+len(name))%4], Of: 1}
		if i%21 == 0 {
			m.Mark = rubric.Wrong
			m.Measures = []rubric.MeasureMark{{ID: "depth", Title: "tread depth", Mark: rubric.Wrong, Said: "at least 2/32 inch", Accepted: "at least 4/32 inch"}}
		}
		s.Items = append(s.Items, m)
	}
	s.Pace.Sections = nil
	for i := range 9 {
		s.Pace.Sections = append(s.Pace.Sections, rubric.SectionPace{Section: fmt.Sprintf("section%d", i), Seconds: 100.25 * float64(i+1)})
	}
	return s
}

// BenchmarkSummaries reads what statistics need of 100,000 kept attempts of 30,000
// students.
//
//	go test ./cmd/internal/store -run '^$' -bench Summaries -benchtime 3x
func BenchmarkSummaries(b *testing.B) {
	const n = 100_000
	s := open(b, filepath.Join(b.TempDir(), "attempts.db"))
	one := Entry{Transcript: []byte("the mirrors are clean"), Sheet: large("a"), Rule: inventedRule, Details: Details{Student: "S"}, Marking: Marking{Rubric: "yard"}}
	if err := one.Pack(); err != nil { // once for all, which saves most of the time
		b.Fatal(err)
	}
	for i := 0; i < n; i += 1000 {
		var batch []Entry
		for k := i; k < i+1000; k++ {
			p := *one.packed
			p.hash = Hash(fmt.Append(nil, k))
			batch = append(batch, Entry{Name: fmt.Sprint("attempt-", k), packed: &p,
				Details: Details{Student: fmt.Sprint("S-", k%30_000), Day: "2026-11-25", Cohort: fmt.Sprint("cohort ", k%40), Number: 1 + k/30_000}})
		}
		mustKeep(b, s, batch...)
	}
	b.ReportAllocs()
	for b.Loop() {
		list, err := s.Summaries(b.Context(), Filter{})
		if err != nil || len(list) != n {
			b.Fatal(len(list), err)
		}
	}
}

// BenchmarkKeep keeps one attempt at a time, and so waits for the disk each time.
func BenchmarkKeep(b *testing.B) {
	s := open(b, filepath.Join(b.TempDir(), "attempts.db"))
	sheet := large("a")
	for i := 0; b.Loop(); i++ {
		mustKeep(b, s, Entry{Name: fmt.Sprint("a", i), Transcript: fmt.Append(nil, i), Sheet: sheet, Rule: inventedRule, Details: Details{Student: "S-1"}})
	}
}
