package web

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"net/http"
	"net/url"
	"slices"
	"strings"

	"markaround/cmd/internal/report"
	"markaround/cmd/internal/store"
	"markaround/rubric/cohort"
)

// groupings are what groups can be made of, and counts which attempts can count.
var (
	groupings = []cohort.By{cohort.ByCohort, cohort.BySite, cohort.ByInstructor, cohort.ByVehicle, cohort.ByDate}
	counts    = []cohort.Count{cohort.FirstAttempt, cohort.LastAttempt, cohort.AllAttempts}
)

type schoolPage struct {
	base
	Cohort    string
	Cohorts   []string
	Groupings []cohort.By
	Counts    []cohort.Count
}

// school leads to the reports on many attempts.
func (s *Server) school(w http.ResponseWriter, r *http.Request) {
	p := &schoolPage{base: s.base(w, r, "school.title"), Cohort: strings.TrimSpace(r.FormValue("cohort")), Groupings: groupings, Counts: counts}
	p.Nav = "school"
	var err error
	if p.Cohorts, err = s.store.Cohorts(r.Context()); err != nil {
		s.fail(w, r, err)
		return
	}
	s.render(w, r, http.StatusOK, "school.html", p)
}

// report writes one of the pages that the commands compare, items and progress
// write as files, over the attempts that the address picks.
func (s *Server) report(w http.ResponseWriter, r *http.Request) {
	q := r.URL.Query()
	f, bad := filterOf(q)
	if bad {
		s.refuse(w, r, http.StatusUnprocessableEntity, "add.day")
		return
	}
	write, back := s.compareReport, s.link("links.school", "/school?"+query("cohort", f.Cohort))
	switch r.PathValue("kind") {
	case "compare":
	case "items":
		write = itemsReport
	case "progress":
		if f.Student == "" {
			s.refuse(w, r, http.StatusNotFound, "error.student")
			return
		}
		write, back = s.progressReport, s.link("links.student", "/student?"+query("id", f.Student))
	default:
		s.refuse(w, r, http.StatusNotFound, "error.page")
		return
	}
	records, err := s.store.Records(r.Context(), f, r.PathValue("kind") != "compare") // a comparison needs no details
	if err != nil {
		s.fail(w, r, err)
		return
	}
	if len(records.List) == 0 {
		s.refuse(w, r, http.StatusNotFound, "error.picked")
		return
	}
	about := report.About{Picked: picked(f), Attempts: len(records.List), Sections: records.Sections, Top: report.Nav(s.link("links.list", "/"), back)}
	for _, c := range records.Sheets {
		about.Sheets = append(about.Sheets, report.SheetAttempts(c))
	}
	var b bytes.Buffer
	if err := write(&b, records, about, q); err != nil {
		status := http.StatusUnprocessableEntity
		if _, ok := errors.AsType[*choiceError](err); ok {
			status = http.StatusBadRequest
		}
		s.tell(w, r, status, sentence(err.Error()))
		return
	}
	s.showReport(w, b.Bytes())
}

func (s *Server) link(key, href string) report.Link {
	text, _ := s.text.say(key)
	return report.Link{Href: href, Text: text}
}

// picked says what a filter picks, as the commands say it.
func picked(f store.Filter) string {
	f.Student = "" // whose page it is
	return f.Words()
}

// choiceError is an address that no form of ours makes.
type choiceError struct{ name, value string }

func (e *choiceError) Error() string { return fmt.Sprintf("%q is no choice for %s", e.value, e.name) }

func countOf(q url.Values) (cohort.Count, error) {
	c := cohort.Count(q.Get("attempts"))
	if c == "" {
		c = cohort.FirstAttempt
	}
	if !slices.Contains(counts, c) {
		return "", &choiceError{"attempts", string(c)}
	}
	return c, nil
}

func (s *Server) compareReport(w io.Writer, r *store.Records, about report.About, q url.Values) error {
	o := cohort.GroupOptions{By: cohort.By(q.Get("by")), Base: strings.TrimSpace(q.Get("base")), Paired: q.Get("paired") != ""}
	var err error
	if o.Count, err = countOf(q); err != nil {
		return err
	}
	if !slices.Contains(groupings, o.By) {
		return &choiceError{"by", string(o.By)}
	}
	if o.By == cohort.ByDate {
		if o.Date = q.Get("date"); o.Date == "" {
			text, _ := s.text.say("school.date.needed")
			return errors.New(text)
		}
	}
	c, err := cohort.CompareGroups(r.List, o)
	if err != nil {
		return err
	}
	return report.Compare(w, c, about)
}

func itemsReport(w io.Writer, r *store.Records, about report.About, q url.Values) error {
	count, err := countOf(q)
	if err != nil {
		return err
	}
	studies, err := cohort.Analyze(r.List, count)
	if err != nil {
		return err
	}
	items := &report.Items{}
	for _, st := range studies {
		items.Studies = append(items.Studies, report.ItemStudy{Rubric: r.Rubrics[st.Form], ItemStudy: st})
	}
	return report.ItemsPage(w, items, about)
}

// progressReport follows the attempts by the score sheet of the last one.
func (s *Server) progressReport(w io.Writer, r *store.Records, about report.About, _ url.Values) error {
	last := r.List[0]
	for _, rec := range r.List {
		if rec.Number >= last.Number {
			last = rec
		}
	}
	var list []cohort.Record
	for _, rec := range r.List {
		if r.Rubrics[rec.Form] == r.Rubrics[last.Form] {
			list = append(list, rec)
		}
	}
	if n := len(r.List) - len(list); n > 0 {
		text, _ := s.text.say("student.othersheets", n)
		about.Notes = append(about.Notes, text)
	}
	p, err := cohort.ProgressOf(list, cohort.DefaultReadyRule)
	if err != nil {
		return err
	}
	return report.Progress(w, p, about)
}
