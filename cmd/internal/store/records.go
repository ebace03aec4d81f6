package store

import (
	"cmp"
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"maps"
	"slices"
	"strings"

	"markaround/rubric/cohort"
)

// Records are attempts as statistics take them, with their corrections.
type Records struct {
	List     []cohort.Record         // in the order in which they were kept
	Sheets   []SheetCount            // score sheets among them, those with most attempts first
	Sections map[string]string       // titles of the sections, by id
	Rubrics  map[*cohort.Form]string // ids of the score sheets that have these items
}

// SheetCount is how many attempts were marked by a score sheet.
type SheetCount struct {
	Rubric   string // id
	Attempts int
}

// Words says what a filter picks: "cohort fall, site north"; "" for all.
func (f Filter) Words() string {
	var list []string
	for _, p := range []struct{ name, value string }{
		{"student", f.Student}, {"cohort", f.Cohort}, {"site", f.Site}, {"instructor", f.Instructor},
		{"vehicle", f.Vehicle}, {"score sheet", f.Rubric}, {"from", f.From}, {"to", f.To},
	} {
		if p.value != "" {
			list = append(list, p.name+" "+p.value)
		}
	}
	return strings.Join(list, ", ")
}

// Records gives the attempts that a filter picks, as statistics take them.
// Without details a record has neither Details nor Limit, and a hundred thousand
// of them are read in about a second.
func (s *Store) Records(ctx context.Context, f Filter, details bool) (*Records, error) {
	r, err := s.records(ctx, f, details)
	return r, s.fail("read the attempts", err)
}

func (s *Store) records(ctx context.Context, f Filter, details bool) (*Records, error) {
	r := &recordReader{details: details, forms: newForms()}
	var err error
	if r.layouts, err = s.layouts(ctx); err != nil {
		return nil, err
	}
	condition, args := f.where()
	from := ` FROM attempts a `
	if f.Cohort != "" || f.Site != "" || f.Instructor != "" {
		from = fromAttempts
	}
	// Large stores are read by two connections at once, each one half of the numbers.
	const many = 10_000
	var low, high sql.NullInt64
	if err := s.read().row(ctx, `SELECT MIN(a.id), MAX(a.id)`+from+`WHERE `+condition, args...).Scan(&low, &high); err != nil {
		return nil, err
	}
	middle := high.Int64
	if high.Int64-low.Int64 > many {
		middle = low.Int64 + (high.Int64-low.Int64)/2
	}
	query := func(low, high int64) ([]row, error) {
		return r.read(ctx, s.read(), from+`WHERE a.id BETWEEN ? AND ? AND `+condition+` ORDER BY a.id`, append([]any{low, high}, args...)...)
	}
	var second []row
	done := make(chan error, 1)
	go func() {
		var err error
		if middle < high.Int64 {
			second, err = query(middle+1, high.Int64)
		}
		done <- err
	}()
	first, err := query(low.Int64, middle)
	if err := errors.Join(err, <-done); err != nil {
		return nil, err
	}
	var students []Student
	if f == (Filter{}) {
		students, err = s.students(ctx)
	} else { // few of many
		students, err = s.studentsWhere(ctx, `WHERE id IN (SELECT a.student`+from+`WHERE `+condition+`)`, args...)
	}
	if err != nil {
		return nil, err
	}
	return r.finish(ctx, s, students, first, second)
}

// recordReader makes records of rows.
type recordReader struct {
	details bool
	layouts map[string]*Layout
	forms   forms
}

// row is a record to be finished.
type row struct {
	cohort.Record
	rubric, layout, details string
}

// read gives rows with what they share kept once.
func (r *recordReader) read(ctx context.Context, q queryer, from string, args ...any) ([]row, error) {
	columns := `SELECT a.name, a.student, a.number, a.day, a.cohort, a.site, a.instructor, a.vehicle, a.rubric,
		a.points, a.points_of, a.pass, a.seconds, a.layout, a.marks`
	if r.details {
		columns += `, a.details`
	}
	rows, err := q.query(ctx, columns+from, args...)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var list []row
	texts := interned{}
	var shared [8]sql.RawBytes
	var in row
	to := []any{&in.Name, &shared[0], &in.Number, &shared[1], &shared[2], &shared[3], &shared[4], &shared[5], &shared[6],
		&in.Points, &in.Of, &in.Pass, &in.Seconds, &shared[7], &in.Marks}
	if r.details {
		to = append(to, &in.details)
	}
	for rows.Next() {
		if err := rows.Scan(to...); err != nil {
			return nil, err
		}
		for i, p := range []*string{&in.Student, &in.Day, &in.Cohort, &in.Site, &in.Instructor, &in.Vehicle, &in.rubric, &in.layout} {
			*p = texts.of(shared[i])
		}
		list = append(list, in)
	}
	return list, rows.Err()
}

// finish gives the rows their forms and details.
func (r *recordReader) finish(ctx context.Context, s *Store, students []Student, lists ...[]row) (*Records, error) {
	own := make(map[string]*Student, len(students))
	for i := range students {
		own[students[i].ID] = &students[i]
	}
	out := &Records{Sections: map[string]string{}, Rubrics: map[*cohort.Form]string{}}
	sheets := map[string]int{}
	checks := map[*Layout][]cohort.Check{}
	n := 0
	for _, l := range lists {
		n += len(l)
	}
	out.List = make([]cohort.Record, 0, n)
	for _, list := range lists {
		for i := range list {
			in := &list[i]
			layout := r.layouts[in.layout]
			if layout == nil { // kept since the layouts were read
				var err error
				if r.layouts, err = s.layouts(ctx); err != nil {
					return nil, err
				}
				layout = r.layouts[in.layout]
			}
			if layout == nil || len(in.Marks) != len(layout.Items) {
				return nil, errors.New("attempt " + in.Name + " has no list of items; run markaround regrade")
			}
			if st := own[in.Student]; st != nil { // "" is the student's own
				in.Cohort, in.Site, in.Instructor = cmp.Or(in.Cohort, st.Cohort), cmp.Or(in.Site, st.Site), cmp.Or(in.Instructor, st.Instructor)
			}
			in.Form = r.forms.of(layout)
			sheets[in.rubric]++
			out.Rubrics[in.Form] = in.rubric
			if r.details {
				var m More
				if err := fromJSON(in.details, &m); err != nil {
					return nil, fmt.Errorf("attempt %s: %w", in.Name, err)
				}
				if checks[layout] == nil {
					checks[layout] = layout.checks()
				}
				in.Details, in.Limit = layout.details(&m, checks[layout]), m.Limit
				in.details = ""
			}
			out.List = append(out.List, in.Record)
		}
	}
	for layout := range r.forms.made {
		for _, it := range layout.Items {
			if it.Place != "" {
				out.Sections[it.Section] = it.Place
			}
		}
	}
	for id, n := range sheets {
		out.Sheets = append(out.Sheets, SheetCount{id, n})
	}
	slices.SortFunc(out.Sheets, func(a, b SheetCount) int {
		return cmp.Or(cmp.Compare(b.Attempts, a.Attempts), cmp.Compare(a.Rubric, b.Rubric))
	})
	return out, nil
}

// interned keeps one copy of what thousands of rows share.
type interned map[string]string

func (t interned) of(b []byte) string {
	if s, ok := t[string(b)]; ok {
		return s
	}
	s := string(b)
	t[s] = s
	return s
}

// forms makes layouts forms. Layouts that differ only in what their items ask for
// are one form.
type forms struct {
	made map[*Layout]*cohort.Form
	same map[string]*cohort.Form
}

func newForms() forms { return forms{map[*Layout]*cohort.Form{}, map[string]*cohort.Form{}} }

func (f forms) of(l *Layout) *cohort.Form {
	if form := f.made[l]; form != nil {
		return form
	}
	form := &cohort.Form{}
	for _, it := range l.Items {
		form.Items = append(form.Items, cohort.Column{ID: it.ID, Title: it.Title, Section: it.Section, Critical: it.Critical, Extra: it.Extra, Of: it.Of})
	}
	items, _ := json.Marshal(form.Items) // texts and finite numbers, which never fail
	form.ID = Hash(items)
	if known := f.same[form.ID]; known != nil {
		form = known
	}
	f.made[l], f.same[form.ID] = form, form
	return form
}

// checks are the parts of all items in their order.
func (l *Layout) checks() []cohort.Check {
	list := []cohort.Check{}
	for _, it := range l.Items {
		for _, p := range it.Parts {
			list = append(list, cohort.Check{ID: it.ID + "/" + p.ID, Title: p.Title})
		}
	}
	return list
}

// details is nil where an earlier version did not keep what was left out.
func (l *Layout) details(m *More, checks []cohort.Check) *cohort.Details {
	if len(m.Parts) != len(checks) {
		return nil
	}
	d := &cohort.Details{}
	if n := strings.Count(m.Parts, "m"); n > 0 {
		d.LeftOut = make([]cohort.Check, 0, n)
		for i, c := range checks {
			if m.Parts[i] == 'm' {
				d.LeftOut = append(d.LeftOut, c)
			}
		}
	}
	d.Wrong = m.Wrong
	rest := maps.Clone(m.Sections)
	add := func(id string) {
		if t, ok := rest[id]; ok {
			d.Sections = append(d.Sections, cohort.SectionTime{Section: id, Seconds: t})
			delete(rest, id)
		}
	}
	for _, it := range l.Items {
		add(it.Section)
	}
	for _, id := range slices.Sorted(maps.Keys(rest)) {
		add(id)
	}
	return d
}
