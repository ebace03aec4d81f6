package web

import (
	"errors"
	"fmt"
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"time"

	"markaround/cmd/internal/store"
)

// onPage is how many attempts a page lists.
const onPage = 50

type listPage struct {
	base
	Filter       store.Filter
	Cohorts      []string
	Sheets       []choice
	Attempts     []store.Listed
	All, Waiting int
	Next         string // address of the next part, "" at the end
	Later        bool   // this is not the first part
	Filtered     bool
	Trouble      string
}

// filterOf reads the filter of an address.
func filterOf(q url.Values) (f store.Filter, trouble bool) {
	get := func(name string) string { return strings.TrimSpace(q.Get(name)) }
	f = store.Filter{Student: get("student"), Cohort: get("cohort"), Rubric: get("sheet"), From: get("from"), To: get("to")}
	for _, day := range []*string{&f.From, &f.To} {
		if _, err := time.Parse(time.DateOnly, *day); err != nil && *day != "" {
			*day, trouble = "", true
		}
	}
	return f, trouble
}

func (s *Server) list(w http.ResponseWriter, r *http.Request) {
	p := &listPage{base: s.base(w, r, "list.title"), Sheets: s.sheets}
	p.Nav = "list"
	q := r.URL.Query()
	var bad bool
	if p.Filter, bad = filterOf(q); bad {
		p.Trouble, _ = s.text.say("add.day")
	}
	p.Filtered = p.Filter != store.Filter{}
	p.Later = q.Get("after") != ""
	ctx := r.Context()
	err := errors.Join(func() (err error) { p.Cohorts, err = s.store.Cohorts(ctx); return }(),
		func() (err error) { p.All, p.Waiting, err = s.store.Counts(ctx, p.Filter); return }(),
		func() (err error) {
			p.Attempts, p.Next, err = s.store.Page(ctx, p.Filter, q.Get("after"), onPage)
			return
		}())
	if err != nil {
		s.fail(w, r, err)
		return
	}
	if p.Next != "" {
		q.Set("after", p.Next)
		p.Next = "/?" + q.Encode()
	}
	s.render(w, r, http.StatusOK, "list.html", p)
}

// find leads to an attempt by its number or name, or to a student.
func (s *Server) find(w http.ResponseWriter, r *http.Request) {
	ref := strings.TrimSpace(r.FormValue("q"))
	if ref == "" {
		http.Redirect(w, r, "/", http.StatusSeeOther)
		return
	}
	if all, _, err := s.store.Counts(r.Context(), store.Filter{Student: ref}); err == nil && all > 0 {
		http.Redirect(w, r, "/student?"+url.Values{"id": {ref}}.Encode(), http.StatusSeeOther)
		return
	}
	a, err := s.store.Find(r.Context(), ref)
	if errors.Is(err, store.ErrNotFound) {
		s.refuse(w, r, http.StatusNotFound, "error.find")
		return
	}
	if err != nil {
		s.fail(w, r, err)
		return
	}
	http.Redirect(w, r, fmt.Sprintf("/attempts/%d", a.ID), http.StatusSeeOther)
}

// next leads to the attempt that waits for review.
func (s *Server) next(w http.ResponseWriter, r *http.Request) {
	list, _, err := s.store.Page(r.Context(), store.Filter{}, "", 1)
	if err != nil {
		s.fail(w, r, err)
		return
	}
	to := "/"
	if len(list) > 0 && list[0].Listen > 0 {
		to = fmt.Sprintf("/attempts/%d", list[0].ID)
	}
	http.Redirect(w, r, to, http.StatusSeeOther)
}

// attempt finds the attempt that the address names. It has answered when ok is
// false.
func (s *Server) attempt(w http.ResponseWriter, r *http.Request) (a store.Attempt, ok bool) {
	id, err := strconv.ParseInt(r.PathValue("id"), 10, 64)
	if err != nil {
		s.refuse(w, r, http.StatusNotFound, "error.attempt")
		return a, false
	}
	if a, err = s.store.Find(r.Context(), strconv.FormatInt(id, 10)); err != nil {
		s.fail(w, r, err)
		return a, false
	}
	return a, true
}
