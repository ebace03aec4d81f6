package web

import (
	"errors"
	"fmt"
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"unicode/utf8"

	"markaround/cmd/internal/report"
	"markaround/cmd/internal/store"
	"markaround/rubric"
)

func query(key, value string) string { return url.Values{key: {value}}.Encode() }

// news is what has become of an attempt since a page was made.
type news struct {
	Seen    int        `json:"seen"`
	Marked  string     `json:"marked"`
	Left    int        `json:"left"`
	Facts   string     `json:"facts"` // HTML
	Entries []newEntry `json:"entries"`
	Error   string     `json:"error,omitempty"` // the decision was not kept, and why
	Field   string     `json:"field,omitempty"` // that the error is about
}

type newEntry struct {
	Item string `json:"item"`
	HTML string `json:"html"`
}

// decide keeps a decision: a mark that is accepted, changed with a reason, or
// taken back.
func (s *Server) decide(w http.ResponseWriter, r *http.Request) {
	if !s.form(w, r) {
		return
	}
	a, ok := s.attempt(w, r)
	if !ok {
		return
	}
	back := fmt.Sprintf("/attempts/%d", a.ID)
	get := func(name string) string { return strings.TrimSpace(r.PostFormValue(name)) }
	refuse := func(status int, field, key string, args ...any) {
		text, _ := s.text.say(key, args...)
		if wantsJSON(r) {
			s.news(w, r, a, seenOf(get("seen")), status, text, field)
			return
		}
		s.tell(w, r, status, text)
	}
	who := s.whoOf(r)
	if who == "" {
		refuse(http.StatusUnprocessableEntity, "who", "review.who.needed")
		return
	}
	m, err := s.store.Marks(r.Context(), a.ID)
	if err != nil {
		s.fail(w, r, err)
		return
	}
	c := rubric.Correction{Item: get("item"), Mark: rubric.Mark(get("mark")), Why: get("why"), Who: who}
	if utf8.RuneCountInString(c.Why) > 200 {
		refuse(http.StatusUnprocessableEntity, "why", "review.why.long")
		return
	}
	if c.Mark == machineMark(m.Machine, c.Item) {
		c.Why = "" // accepted; there is nothing to give a reason for
	} else if c.Mark != "" && c.Why == "" {
		refuse(http.StatusUnprocessableEntity, "why", "review.why.needed")
		return
	}
	seen := store.Seen{Corrections: seenOf(get("seen")), Marked: get("marked")}
	err = s.store.CorrectSeen(r.Context(), seen, store.Order{Attempt: a.ID, Correction: c})
	switch {
	case err == nil:
	case is[*store.ChangedError](err):
		e, _ := errors.AsType[*store.ChangedError](err)
		if e.Last.Item == "" {
			refuse(http.StatusConflict, "", "review.regraded")
			return
		}
		refuse(http.StatusConflict, "", "review.conflict", titleOf(m.Machine, c.Item), e.Last.Who, s.markWord(e.Last.Mark))
		return
	case is[*store.OrderError](err):
		if wantsJSON(r) {
			s.news(w, r, a, seen.Corrections, http.StatusUnprocessableEntity, sentence(err.Error()), "")
			return
		}
		s.tell(w, r, http.StatusUnprocessableEntity, sentence(err.Error()))
		return
	default:
		s.fail(w, r, err)
		return
	}
	if wantsJSON(r) {
		s.news(w, r, a, seen.Corrections, http.StatusOK, "", "")
		return
	}
	http.Redirect(w, r, back+"#item-"+url.PathEscape(report.Anchor(c.Item)), http.StatusSeeOther)
}

func is[E error](err error) bool {
	_, ok := errors.AsType[E](err)
	return ok
}

func seenOf(text string) int {
	n, err := strconv.Atoi(text)
	if err != nil || n < 0 {
		return 0
	}
	return n
}

// machineMark is the program's mark of an item, "found" of a finding, "" of what
// is not on the sheet.
func machineMark(s *rubric.Sheet, item string) rubric.Mark {
	for _, it := range s.Items {
		if it.ID == item {
			return it.Mark
		}
	}
	return "found"
}

func titleOf(s *rubric.Sheet, item string) string {
	for _, it := range s.Items {
		if it.ID == item {
			return it.Title
		}
	}
	for _, f := range s.Findings {
		if f.Key() == item {
			return f.Text
		}
	}
	return item
}

func (s *Server) markWord(m rubric.Mark) string {
	if m == "" {
		m = "back"
	}
	text, err := s.text.say("mark." + string(m))
	if err != nil {
		return string(m)
	}
	return text
}

// state tells what others have done since.
func (s *Server) state(w http.ResponseWriter, r *http.Request) {
	a, ok := s.attempt(w, r)
	if ok {
		s.news(w, r, a, seenOf(r.FormValue("seen")), http.StatusOK, "", "")
	}
}

// news answers with the entries that were corrected after the first seen
// corrections.
func (s *Server) news(w http.ResponseWriter, r *http.Request, a store.Attempt, seen, status int, trouble, field string) {
	m, err := s.store.Marks(r.Context(), a.ID)
	if err != nil {
		s.fail(w, r, err)
		return
	}
	n := news{Seen: len(m.Given), Marked: a.Marked, Error: trouble, Field: field, Entries: []newEntry{}}
	f := newFacts(m.Corrected)
	n.Left, n.Facts = f.Left, s.fragment("facts", f)
	changed := map[string]bool{}
	for _, c := range m.Given[min(seen, len(m.Given)):] {
		changed[c.Item] = true
	}
	if len(changed) > 0 {
		o, err := s.openWith(r.Context(), a, m)
		if err != nil {
			s.fail(w, r, err)
			return
		}
		v, err := s.newReviewer(w, r, o)
		if err == nil {
			n.Entries, err = s.entries(v, changed)
		}
		if err != nil {
			s.fail(w, r, err)
			return
		}
	}
	s.json(w, status, n)
}

func (s *Server) entries(v *reviewer, wanted map[string]bool) (list []newEntry, err error) {
	for _, it := range v.o.Corrected.Items {
		if wanted[it.ID] {
			e, err := v.item(it, false)
			if err != nil {
				return nil, err
			}
			list = append(list, newEntry{it.ID, s.fragment("entry", e)})
		}
	}
	found, err := v.findings(wanted)
	for _, e := range found {
		list = append(list, newEntry{e.ID, s.fragment("entry", e)})
	}
	return list, err
}

// entry gives an entry with its body.
func (s *Server) entry(w http.ResponseWriter, r *http.Request) {
	o := s.opened(w, r)
	if o == nil {
		return
	}
	v, err := s.newReviewer(w, r, o)
	var list []newEntry
	if err == nil {
		list, err = s.entries(v, map[string]bool{r.FormValue("item"): true})
	}
	switch {
	case err != nil:
		s.fail(w, r, err)
	case len(list) == 0:
		s.refuse(w, r, http.StatusNotFound, "error.page")
	default:
		s.json(w, http.StatusOK, list[0])
	}
}
