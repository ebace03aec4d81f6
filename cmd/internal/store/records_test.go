package store

import (
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"markaround/cmd/internal/report"
	"markaround/rubric"
	"markaround/rubric/cohort"
)

// What statistics get is what the corrected sheet says, by the road of
// cohort.Forms, which does not go through the store.
func TestRecords(t *testing.T) {
	onEach(t, func(t *testing.T, where string) {
		s := open(t, where)
		sheet := func(name string) *rubric.Sheet {
			m := invented(name)
			m.Sections = []rubric.SectionMark{{ID: m.Items[0].Section, Title: "Front of the truck"}}
			m.Items[0].Checks = []rubric.CheckMark{{ID: "intact", Title: "not cracked", Mark: rubric.Missed}, {ID: "clean", Title: "clean", Mark: rubric.Missed, Minor: true}}
			m.Items[0].Measures = append(m.Items[0].Measures, rubric.MeasureMark{ID: "gap", Title: "gap", Mark: rubric.Missed})
			m.Pace.Limit = 900
			return m
		}
		kept := mustKeep(t, s,
			Entry{Name: "a", Transcript: []byte("a"), Sheet: sheet("a"), Rule: inventedRule, Details: Details{Student: "S-1", Day: "2026-11-01", Vehicle: "7"}},
			Entry{Name: "b", Transcript: []byte("b"), Sheet: sheet("b"), Rule: inventedRule, Details: Details{Student: "S-1", Day: "2026-11-02", Cohort: "fall"}},
			Entry{Name: "c", Transcript: []byte("c"), Sheet: sheet("c"), Rule: inventedRule, Details: Details{Student: "S-2"}})
		if _, err := s.Amend(t.Context(), kept[2].ID, Details{Cohort: "spring", Instructor: "I-1"}); err != nil {
			t.Fatal(err)
		}
		for i, m := range sheet("b").Items {
			if m.Mark == rubric.Said && i > 0 {
				if err := s.Correct(t.Context(), Order{kept[1].ID, rubric.Correction{Item: m.ID, Mark: rubric.Missed, Who: "I-1"}}); err != nil {
					t.Fatal(err)
				}
				break
			}
		}
		got := must[*Records](t)(s.Records(t.Context(), Filter{}, true))
		var forms cohort.Forms
		var want []cohort.Record
		for _, k := range kept {
			a := must[Attempt](t)(s.Find(t.Context(), fmt.Sprint(k.ID)))
			r := forms.Record(must[*rubric.Sheet](t)(s.Sheet(t.Context(), k.ID)))
			r.Student, r.Number, r.Day, r.Cohort, r.Instructor, r.Vehicle = a.Student, a.Number, a.Day, a.Cohort, a.Instructor, a.Vehicle
			want = append(want, r)
		}
		if len(got.List) != len(want) {
			t.Fatalf("%d records, want %d", len(got.List), len(want))
		}
		for i := range want {
			a, b := got.List[i], want[i]
			if !slices.Equal(a.Form.Items, b.Form.Items) {
				t.Errorf("%s: items %v, want %v", a.Name, a.Form.Items, b.Form.Items)
			}
			if fmt.Sprint(*a.Details) != fmt.Sprint(*b.Details) {
				t.Errorf("%s: details %v, want %v", a.Name, *a.Details, *b.Details)
			}
			a.Form, b.Form, a.Details, b.Details = nil, nil, nil, nil
			if a != b {
				t.Errorf("got  %+v\nwant %+v", a, b)
			}
		}
		if got.List[0].Form != got.List[1].Form {
			t.Error("attempts of one score sheet have forms of their own")
		}
		if !strings.ContainsFunc(got.List[1].Marks, func(r rune) bool { return r == 'M' }) {
			t.Errorf("marks %q show no correction", got.List[1].Marks)
		}
		if fmt.Sprint(got.Sheets) != "[{"+sheet("a").Rubric.ID+" 3}]" || got.Sections[sheet("a").Items[0].Section] != "Front of the truck" {
			t.Errorf("sheets %v, sections %v", got.Sheets, got.Sections)
		}
		few := must[*Records](t)(s.Records(t.Context(), Filter{Cohort: "fall"}, false))
		if len(few.List) != 1 || few.List[0].Name != "b" || few.List[0].Details != nil || few.List[0].Limit != 0 {
			t.Errorf("of the filter: %+v", few.List)
		}
	})
}

func TestFilterWords(t *testing.T) {
	for _, c := range []struct {
		filter Filter
		want   string
	}{
		{Filter{}, ""},
		{Filter{Cohort: "fall", To: "2026-11-25", Rubric: "class-a"}, "cohort fall, score sheet class-a, to 2026-11-25"},
	} {
		if got := c.filter.Words(); got != c.want {
			t.Errorf("%+v: %q, want %q", c.filter, got, c.want)
		}
	}
}

// A details column of before the parts were kept is no details, not "nothing left
// out".
func TestRecordsWithoutParts(t *testing.T) {
	l := Layout{Items: []Item{{ID: "a.b", Section: "a", Parts: []Part{{"c", "C"}}}}}
	if d := l.details(&More{}, l.checks()); d != nil {
		t.Errorf("details %+v", *d)
	}
	if d := l.details(&More{Parts: "m"}, l.checks()); d == nil || len(d.LeftOut) != 1 || d.LeftOut[0].ID != "a.b/c" {
		t.Errorf("details %+v", d)
	}
}

// inventedSchool makes a store of n attempts with the marks of a real layout, put in by
// SQL: for benchmarks only, there are no transcripts and no sheets.
func inventedSchool(b testing.TB, path string, n int) *Store {
	s := open(b, path)
	sheet := invented("a")
	sheet.Items = nil
	for i := range 128 { // as many as a real score sheet has
		it := rubric.ItemMark{ID: fmt.Sprintf("section%d.item-%d", i/15, i), Title: fmt.Sprint("Title of item ", i), Section: fmt.Sprint("section", i/15), Mark: rubric.Said, Of: 1}
		for k := range 4 {
			it.Checks = append(it.Checks, rubric.CheckMark{ID: fmt.Sprint("check-", k), Title: fmt.Sprint("check number ", k), Mark: []rubric.Mark{rubric.Missed, rubric.Said}[min(1, (i+k)%5)]})
		}
		if i%21 == 0 {
			it.Measures = []rubric.MeasureMark{{ID: "depth", Title: "tread depth", Mark: rubric.Wrong, Said: "at least 2/32 inch", Accepted: "at least 4/32 inch"}}
		}
		sheet.Items = append(sheet.Items, it)
	}
	sum, err := summarize(sheet)
	if err != nil {
		b.Fatal(err)
	}
	err = s.write(b.Context(), func(q queryer) error {
		if err := putLayout(b.Context(), q, sum); err != nil {
			return err
		}
		for i := range n/3 + 1 {
			if _, err := q.exec(b.Context(), `INSERT INTO students (id, cohort, site, instructor) VALUES (?, ?, ?, ?)`,
				fmt.Sprintf("S-%06d", i), fmt.Sprint("cohort ", i%3), fmt.Sprint("site ", i%5), fmt.Sprint("I-", i%12)); err != nil {
				return err
			}
		}
		marks := []byte(sum.marks)
		random := uint64(1)
		for i := range n {
			student := i / 3
			hits := 0
			for k := range marks {
				random = random*6364136223846793005 + 1442695040888963407
				r := random >> 33 % 100
				switch {
				case r < uint64(8+k%17+i%3+2*(student%3)):
					marks[k] = 'm'
				case r < 30 && k%9 == 0:
					marks[k] = 'w'
				case r > 95:
					marks[k] = 'p'
				default:
					marks[k] = 's'
					hits++
				}
			}
			pass := 0
			if hits*100 > 82*len(marks) {
				pass = 1
			}
			if _, err := q.exec(b.Context(), `INSERT INTO attempts (name, student, number, day, cohort, site, instructor, vehicle,
				source, transcript_hash, recording_hash, marking, rubric, rubric_version, rubric_hash, rubric_with, tool, kept, marked,
				points, points_of, pass, seconds, layout, marks, details)
				VALUES (?, ?, ?, ?, '', '', '', ?, ?, ?, '', '{"rubric":"yard"}', 'yard', '1', '0123456789abcdef', '[]', 'synthetic', ?, ?, ?, ?, ?, ?, ?, ?, ?)`,
				fmt.Sprintf("S-%06d_%d", student, i%3), fmt.Sprintf("S-%06d", student), 1+i%3, fmt.Sprintf("2026-%02d-%02d", 1+3*(i%3)+student%3, 1+student%28), fmt.Sprint(100+student%9),
				"synthetic.txt", Hash(fmt.Append(nil, i)), now(), now(), hits, len(marks), pass, 600+float64(random>>40%900),
				sum.layout, string(marks), sum.more); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		b.Fatal(err)
	}
	return s
}

// BenchmarkCompare compares 100,000 kept attempts, from opening the store to the
// text, and reads them for the other reports. MARKAROUND_LARGE names a file
// to leave the store in, for
//
//	time markaround compare --by cohort --store FILE
func BenchmarkCompare(b *testing.B) {
	const n = 100_000
	path := os.Getenv("MARKAROUND_LARGE")
	if path == "" {
		path = filepath.Join(b.TempDir(), "attempts.db")
	}
	s := inventedSchool(b, path, n)
	read := func(b *testing.B, details bool) []cohort.Record {
		r, err := s.Records(b.Context(), Filter{}, details)
		if err != nil || len(r.List) != n {
			b.Fatal(err)
		}
		return r.List
	}
	b.Run("records", func(b *testing.B) {
		for b.Loop() {
			read(b, false)
		}
	})
	b.Run("records with details", func(b *testing.B) {
		for b.Loop() {
			read(b, true)
		}
	})
	for _, o := range []cohort.GroupOptions{{By: cohort.ByCohort}, {By: cohort.ByInstructor}, {By: cohort.ByCohort, Count: cohort.AllAttempts}, {By: cohort.ByDate, Date: "2026-04-01", Paired: true}} {
		b.Run(fmt.Sprintf("by %s %s paired=%t", o.By, o.Count, o.Paired), func(b *testing.B) {
			for b.Loop() {
				c, err := cohort.CompareGroups(read(b, false), o)
				if err != nil {
					b.Fatal(err)
				}
				if err := report.CompareText(io.Discard, c, report.About{Attempts: n}, report.TextOptions{}); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
