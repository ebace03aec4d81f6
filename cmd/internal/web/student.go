package web

import (
	"fmt"
	"net/http"
	"slices"
	"strings"

	"markaround/cmd/internal/report"
	"markaround/cmd/internal/store"
	"markaround/rubric/cohort"
)

// records turns summaries into what the statistics take.
type records struct {
	forms map[*store.Layout]*cohort.Form
}

func (f *records) of(a *store.Summary, more store.More) cohort.Record {
	if f.forms == nil {
		f.forms = map[*store.Layout]*cohort.Form{}
	}
	form := f.forms[a.Layout]
	if form == nil {
		form = &cohort.Form{ID: a.Layout.ID}
		for _, it := range a.Layout.Items {
			form.Items = append(form.Items, cohort.Column{ID: it.ID, Title: it.Title, Section: it.Section, Critical: it.Critical, Extra: it.Extra, Of: it.Of})
		}
		f.forms[a.Layout] = form
	}
	return cohort.Record{Name: a.Name, Student: a.Student, Number: a.Number, Day: a.Day, Cohort: a.Cohort, Site: a.Site, Instructor: a.Instructor, Vehicle: a.Vehicle,
		Points: a.Points, Of: a.Of, Pass: a.Pass, Seconds: a.Seconds, Limit: more.Limit, Form: form, Marks: a.Marks(), Details: &cohort.Details{Wrong: more.Wrong}}
}

// seenStudent is a student with what the attempts say.
type seenStudent struct {
	ID       string
	Last     store.Attempt
	Attempts []store.Summary // first to last
	Waits    int             // doubtful marks in them
	*cohort.Progress
}

// Unmet are the conditions of being ready that are not met.
func (p *seenStudent) Unmet() (list []cohort.Condition) {
	for _, c := range p.Conditions {
		if !c.Met {
			list = append(list, c)
		}
	}
	return list
}

// Top are the first things to practice.
func (p *seenStudent) Top(n int) []cohort.Drill { return p.Drill[:min(n, len(p.Drill))] }

// students groups attempts by student, in the order of their ids.
func students(list []store.Summary) ([]*seenStudent, error) {
	byID := map[string]*seenStudent{}
	var out []*seenStudent
	for _, a := range list {
		st := byID[a.Student]
		if st == nil {
			st = &seenStudent{ID: a.Student}
			byID[a.Student] = st
			out = append(out, st)
		}
		st.Attempts = append(st.Attempts, a)
	}
	var f records
	sheetOf := map[*cohort.Form]string{}
	for _, st := range out {
		slices.SortStableFunc(st.Attempts, func(a, b store.Summary) int { return a.Number - b.Number })
		var recs []cohort.Record
		for i := range st.Attempts {
			more, err := st.Attempts[i].More()
			if err != nil {
				return nil, err
			}
			rec := f.of(&st.Attempts[i], more)
			sheetOf[rec.Form] = st.Attempts[i].Rubric.ID
			recs = append(recs, rec)
			st.Waits += more.Listen
		}
		st.Last = st.Attempts[len(st.Attempts)-1].Attempt
		// Those by another score sheet than the last one say little about it.
		recs = slices.DeleteFunc(recs, func(r cohort.Record) bool { return sheetOf[r.Form] != st.Last.Rubric.ID })
		var err error
		if st.Progress, err = cohort.ProgressOf(recs, cohort.DefaultReadyRule); err != nil {
			return nil, err
		}
	}
	slices.SortFunc(out, func(a, b *seenStudent) int { return strings.Compare(a.ID, b.ID) })
	return out, nil
}

type studentPage struct {
	base
	*seenStudent
	Latest []store.Summary // of the attempts, the last first
	Pieces *report.Pieces  // of the last one
}

// student shows a student's attempts, and what to drill after the last one.
func (s *Server) student(w http.ResponseWriter, r *http.Request) {
	id := strings.TrimSpace(r.FormValue("id"))
	list, err := s.store.Summaries(r.Context(), store.Filter{Student: id})
	if err != nil {
		s.fail(w, r, err)
		return
	}
	if id == "" || len(list) == 0 {
		s.refuse(w, r, http.StatusNotFound, "error.student")
		return
	}
	all, err := students(list)
	if err != nil {
		s.fail(w, r, err)
		return
	}
	p := &studentPage{base: s.base(w, r, "student.title", id), seenStudent: all[0]}
	p.Nav = "list"
	p.Latest = slices.Clone(p.seenStudent.Attempts)
	slices.Reverse(p.Latest)
	sheet, err := s.store.Sheet(r.Context(), p.Last.ID)
	if err == nil {
		p.Pieces, err = report.NewPieces(sheet, report.ReplayOptions{})
	}
	if err != nil {
		s.fail(w, r, err)
		return
	}
	s.render(w, r, http.StatusOK, "student.html", p)
}

// LastPath is where the last attempt is.
func (p *studentPage) LastPath() string { return fmt.Sprintf("/attempts/%d", p.Last.ID) }
