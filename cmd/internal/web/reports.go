package web

import (
	"bytes"
	"io"
	"net/http"

	"markaround/cmd/internal/report"
	"markaround/cmd/internal/store"
)

// Reports are pages that package report writes and commands write as files. What
// is nil has no link on the desk. A page carries its own content security policy
// in a meta element, as those of package report do, and links to the desk on top.
type Reports struct {
	// Progress is a student over time; list has the attempts of one student.
	Progress func(w io.Writer, list []store.Summary, links []report.Link) error
	// Compare compares groups, and Items studies the items of a score sheet, over
	// the attempts of a class.
	Compare func(w io.Writer, list []store.Summary, links []report.Link) error
	Items   func(w io.Writer, list []store.Summary, links []report.Link) error
}

type reportLink struct{ Href, Text string }

// classReports are the reports on a class that there are.
func (s *Server) classReports(cohort string) (list []reportLink) {
	for _, k := range []string{"compare", "items"} {
		if s.reportOf(k) != nil {
			text, _ := s.text.say("class.report." + k)
			list = append(list, reportLink{"/reports/" + k + "?" + query("cohort", cohort), text})
		}
	}
	return list
}

func (s *Server) reportOf(kind string) func(io.Writer, []store.Summary, []report.Link) error {
	switch kind {
	case "progress":
		return s.opt.Reports.Progress
	case "compare":
		return s.opt.Reports.Compare
	case "items":
		return s.opt.Reports.Items
	}
	return nil
}

// report writes one of the reports over the attempts that the address picks.
func (s *Server) report(w http.ResponseWriter, r *http.Request) {
	kind := r.PathValue("kind")
	write := s.reportOf(kind)
	f, _ := filterOf(r.URL.Query())
	if write == nil || kind == "progress" && f.Student == "" || kind != "progress" && f.Cohort == "" {
		s.refuse(w, r, http.StatusNotFound, "error.page")
		return
	}
	list, err := s.store.Summaries(r.Context(), f)
	if err != nil {
		s.fail(w, r, err)
		return
	}
	if len(list) == 0 {
		s.refuse(w, r, http.StatusNotFound, "error.cohort")
		return
	}
	back := report.Link{Href: "/class?" + query("cohort", f.Cohort)}
	back.Text, _ = s.text.say("links.class")
	if kind == "progress" {
		back = report.Link{Href: "/student?" + query("id", f.Student)}
		back.Text, _ = s.text.say("links.student")
	}
	all := report.Link{Href: "/"}
	all.Text, _ = s.text.say("links.list")
	var b bytes.Buffer
	if err := write(&b, list, []report.Link{all, back}); err != nil {
		s.tell(w, r, http.StatusUnprocessableEntity, sentence(err.Error()))
		return
	}
	s.showReport(w, b.Bytes())
}
