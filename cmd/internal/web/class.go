package web

import (
	"cmp"
	"net/http"
	"slices"
	"strings"

	"markaround/cmd/internal/store"
	"markaround/rubric/cohort"
)

// lesson is an item that several students have to practice.
type lesson struct {
	cohort.Column
	Students []string
	Numbers  []cohort.WrongNumber // that were said for it
}

// mostLessons is how many items a lesson can take.
const mostLessons = 10

// lessons are the items that most students have to practice, which are those that
// were not right in one of the last cohort.DrillCleared attempts; critical ones
// first among as many.
func lessons(list []*seenStudent) []lesson {
	byItem := map[string]*lesson{}
	var out []*lesson
	for _, st := range list {
		for _, d := range st.Drill {
			l := byItem[d.ID]
			if l == nil {
				l = &lesson{Column: d.Column}
				byItem[d.ID] = l
				out = append(out, l)
			}
			l.Students = append(l.Students, st.ID)
			for _, n := range d.Numbers {
				if !slices.ContainsFunc(l.Numbers, func(o cohort.WrongNumber) bool { return o.Item == n.Item && o.Said == n.Said }) {
					l.Numbers = append(l.Numbers, n)
				}
			}
		}
	}
	slices.SortStableFunc(out, func(a, b *lesson) int {
		return cmp.Or(len(b.Students)-len(a.Students), boolInt(b.Critical)-boolInt(a.Critical))
	})
	var top []lesson
	for _, l := range out[:min(mostLessons, len(out))] {
		top = append(top, *l)
	}
	return top
}

type classPage struct {
	base
	Cohort   string
	Cohorts  []string
	Students []*seenStudent
	Ready    int
	Waits    int // attempts' doubtful marks
	Rule     string
	Lessons  []lesson
	Cleared  int // latest attempts in which an item must be right
}

// class shows who is ready, who needs what, and what to teach.
func (s *Server) class(w http.ResponseWriter, r *http.Request) {
	p := &classPage{base: s.base(w, r, "class.title"), Cohort: strings.TrimSpace(r.FormValue("cohort")), Rule: cohort.DefaultReadyRule.Words(), Cleared: cohort.DrillCleared}
	p.Nav = "class"
	var err error
	if p.Cohorts, err = s.store.Cohorts(r.Context()); err != nil {
		s.fail(w, r, err)
		return
	}
	if p.Cohort != "" {
		list, err := s.store.Summaries(r.Context(), store.Filter{Cohort: p.Cohort})
		if err == nil {
			p.Students, err = students(list)
		}
		if err != nil {
			s.fail(w, r, err)
			return
		}
		if len(p.Students) == 0 {
			s.refuse(w, r, http.StatusNotFound, "error.cohort")
			return
		}
		for _, st := range p.Students {
			p.Ready += boolInt(st.Ready)
			p.Waits += st.Waits
		}
		p.Lessons = lessons(p.Students)
	}
	s.render(w, r, http.StatusOK, "class.html", p)
}
