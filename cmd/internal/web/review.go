package web

import (
	"bytes"
	"cmp"
	"context"
	"fmt"
	"html/template"
	"net/http"
	"slices"
	"strings"

	"markaround/cmd/internal/report"
	"markaround/cmd/internal/store"
	"markaround/rubric"
	"markaround/speech"
)

// opened is an attempt with all that its pages show.
type opened struct {
	store.Attempt
	store.Marks
	words *speech.Transcript
	sound *speech.Sound
}

// opened reads the attempt that the path names; nil when that was answered with an
// error.
func (s *Server) opened(w http.ResponseWriter, r *http.Request) *opened {
	a, ok := s.attempt(w, r)
	if !ok {
		return nil
	}
	o, err := s.open(r.Context(), a)
	if err != nil {
		s.fail(w, r, err)
		return nil
	}
	return o
}

// open reads an attempt from the store.
func (s *Server) open(ctx context.Context, a store.Attempt) (*opened, error) {
	m, err := s.store.Marks(ctx, a.ID)
	if err != nil {
		return nil, err
	}
	return s.openWith(ctx, a, m)
}

// openWith reads the rest of an attempt whose marks are read.
func (s *Server) openWith(ctx context.Context, a store.Attempt, m store.Marks) (*opened, error) {
	o := &opened{Attempt: a, Marks: m}
	var err error
	var kept *speech.Sound
	key := fmt.Sprint(a.ID, " ", a.TranscriptHash, " ", a.RecordingHash, " ", a.Marked)
	if o.words, _ = s.words.get(key); o.words == nil || a.RecordingHash == "" {
		var text []byte
		if text, kept, err = s.store.Transcript(ctx, a.ID); err != nil {
			return nil, err
		}
		if o.words == nil {
			o.words = readWords(a, text, kept)
			s.words.put(key, o.words)
		}
	}
	o.sound = s.loudness(ctx, a, kept)
	return o, nil
}

// readWords reads a kept transcript as it was when it was marked. It was read once,
// then; nil where this version reads it no more: the sheet still stands.
func readWords(a store.Attempt, text []byte, kept *speech.Sound) *speech.Transcript {
	format, err := speech.ParseFormat(a.Marking.Format)
	if err != nil {
		return nil
	}
	t, err := speech.Read(bytes.NewReader(text), speech.Options{Name: a.Source, Format: format})
	if err != nil {
		return nil
	}
	if kept != nil {
		t, _ = speech.Place(t, kept)
	}
	return t
}

func (o *opened) replayOptions(links []report.Link) report.ReplayOptions {
	opt := report.ReplayOptions{Transcript: o.words, Sound: o.sound, Links: links}
	if o.RecordingHash != "" {
		opt.AudioURL, opt.AudioType = fmt.Sprintf("/attempts/%d/recording", o.ID), "audio/wav"
	}
	return opt
}

// entry is an item or finding with what one decides about it.
type entry struct {
	Page        *reviewPage
	ID, Title   string
	Head, Body  template.HTML
	Mark        rubric.Mark // as it stands
	Machine     rubric.Mark
	Listen      bool
	Corrected   *rubric.Corrected
	Stands      rubric.Correction // the last correction, zero without one
	From, Until float64           // seconds to hear, -1 for nowhere
	Expected    bool              // there are no words: the times are those of where they should be
	About       string            // what to listen for
	Open        bool
	Finding     bool
	Later       bool // the body is fetched when it is opened
}

// Confirmed tells that a person gave the program's own mark.
func (e entry) Confirmed() bool { return e.Corrected != nil && !e.Finding && e.Mark == e.Machine }

// Marks are those that can be given.
func (e entry) Marks() []rubric.Mark {
	if e.Finding {
		return []rubric.Mark{rubric.None}
	}
	return []rubric.Mark{rubric.Said, rubric.Partly, rubric.Wrong, rubric.Missed}
}

type place struct {
	Title   string
	Entries []entry
}

type facts struct {
	Sheet               *rubric.Sheet
	Left, Wrong, Missed int
	Used                float64
}

type reviewPage struct {
	base
	Attempt  store.Attempt
	Sheet    *rubric.Sheet
	Seen     int
	Pieces   *report.Pieces
	Facts    facts
	First    []entry // doubtful
	Wrong    []entry
	Findings []entry
	Rest     []place
	Sources  []rubric.Source
	Kept     bool // there is a recording in the store
	Same     bool // the transcript was kept before
	Say      map[string]string
	Warnings []string
}

func newFacts(s *rubric.Sheet) facts {
	f := facts{Sheet: s, Used: max(0, s.Pace.End-s.Pace.Start)}
	for _, it := range s.Items {
		if it.Listen {
			f.Left++
		}
		for _, m := range it.Measures {
			if m.Mark == rubric.Wrong {
				f.Wrong++
			}
		}
		if it.Mark == rubric.Missed && !it.Extra {
			f.Missed++
		}
	}
	return f
}

// reviewer makes the entries of an attempt.
type reviewer struct {
	page     *reviewPage
	o        *opened
	moments  map[string]report.Moment
	machine  map[string]rubric.Mark
	stands   map[string]rubric.Correction
	position map[string]int
	asked    string // item to be shown open
}

func (s *Server) newReviewer(w http.ResponseWriter, r *http.Request, o *opened) (*reviewer, error) {
	opt := o.replayOptions(nil)
	opt.Later = o.RecordingHash == ""
	pieces, err := report.NewPieces(o.Corrected, opt)
	if err != nil {
		return nil, err
	}
	page := &reviewPage{base: s.base(w, r, "review.title", o.Name), Attempt: o.Attempt, Sheet: o.Corrected, Seen: len(o.Given), Pieces: pieces,
		Facts: newFacts(o.Corrected), Kept: o.RecordingHash != "", Sources: o.Corrected.Sources, Warnings: o.Corrected.Warnings}
	page.Nav = "list"
	v := &reviewer{page: page, o: o, moments: map[string]report.Moment{}, machine: map[string]rubric.Mark{}, stands: map[string]rubric.Correction{}, position: map[string]int{}}
	for _, m := range pieces.Hear {
		if _, ok := v.moments[m.Item.ID]; !ok {
			v.moments[m.Item.ID] = m
		}
	}
	for i, it := range o.Machine.Items {
		v.machine[it.ID], v.position[it.ID] = it.Mark, i
	}
	for _, c := range o.Given {
		v.stands[c.Item] = c
	}
	return v, nil
}

// item makes the entry of an item, with later without its body.
func (v *reviewer) item(it rubric.ItemMark, later bool) (entry, error) {
	e := entry{Page: v.page, ID: it.ID, Title: it.Title, Mark: it.Mark, Machine: v.machine[it.ID], Listen: it.Listen, Corrected: it.Corrected, Stands: v.stands[it.ID]}
	if m, ok := v.moments[it.ID]; ok && (it.Listen || m.Why != report.HearDoubt) {
		e.About = m.About()
	}
	e.From, e.Until, e.Expected = v.stretch(it)
	e.Later = later && v.asked != it.ID
	e.Open = v.asked == it.ID
	var err error
	e.Head, e.Body, err = v.page.Pieces.Item(it.ID, !e.Later)
	return e, err
}

// How much is heard around words, in seconds, and at most at once.
const (
	lead, tail  = 1.5, 0.8
	mostHeard   = 25.0
	mostLookFor = 15.0 // where there are no words
)

// stretch is what to hear of an item: its words or, where it has none, the time
// between its neighbors on the sheet.
func (v *reviewer) stretch(it rubric.ItemMark) (from, until float64, expected bool) {
	if m, ok := v.moments[it.ID]; ok && !m.Place && m.Said.Start >= 0 {
		return around(m.Said.Start, m.Said.End)
	}
	if ev, ok := firstEvidence(it); ok {
		return around(ev.Start, ev.End)
	}
	items := v.o.Corrected.Items
	i := v.position[it.ID]
	before, after := -1.0, -1.0
	for k := i - 1; k >= 0 && before < 0 && items[k].Section == it.Section; k-- {
		if ev, ok := firstEvidence(items[k]); ok {
			before = ev.End
		}
	}
	for k := i + 1; k < len(items) && after < 0 && items[k].Section == it.Section; k++ {
		if ev, ok := firstEvidence(items[k]); ok {
			after = ev.Start
		}
	}
	if m, ok := v.moments[it.ID]; ok && before < 0 && after < 0 && m.Said.Start >= 0 {
		before, after = m.Said.Start, m.Said.End // the stay at its section
	}
	switch {
	case before < 0 && after < 0:
		return -1, -1, true
	case before < 0:
		before = after - mostLookFor/2
	case after < before:
		after = before + mostLookFor/2
	}
	from = max(0, before-lead)
	return from, min(after+tail, from+mostLookFor), true
}

func around(start, end float64) (from, until float64, expected bool) {
	from = max(0, start-lead)
	return from, min(max(end, start+1)+tail, from+mostHeard), false
}

func firstEvidence(it rubric.ItemMark) (first rubric.Evidence, ok bool) {
	look := func(list []rubric.Evidence) {
		for _, ev := range list {
			if ev.Start >= 0 && (!ok || ev.Start < first.Start) {
				first, ok = ev, true
			}
		}
	}
	look(it.Named)
	if ok {
		return first, ok
	}
	for _, c := range it.Checks {
		look(c.Evidence)
	}
	for _, m := range it.Measures {
		look(m.Evidence)
	}
	return first, ok
}

func (v *reviewer) finding(f rubric.Finding, mark rubric.Mark) (entry, error) {
	id := f.Key()
	e := entry{Page: v.page, ID: id, Title: f.Text, Mark: mark, Machine: "found", Corrected: f.Corrected, Stands: v.stands[id], From: -1, Until: -1, Finding: true}
	if f.Start >= 0 {
		e.From, e.Until, _ = around(f.Start, f.End)
	}
	var err error
	e.Body, err = v.page.Pieces.Finding(f)
	return e, err
}

// findings lists order, holds and readings, those set aside last, only those wanted
// unless that is nil. One rule that is broken twice is one to decide about.
func (v *reviewer) findings(wanted map[string]bool) (list []entry, err error) {
	seen := map[string]bool{}
	for _, part := range []struct {
		list []rubric.Finding
		mark rubric.Mark
	}{{v.o.Corrected.Findings, "found"}, {v.o.Corrected.Rejected, rubric.None}} {
		for _, f := range part.list {
			id := f.Key()
			if f.Kind == rubric.PaceFinding || seen[id] || wanted != nil && !wanted[id] {
				continue
			}
			seen[id] = true
			e, err := v.finding(f, part.mark)
			if err != nil {
				return nil, err
			}
			list = append(list, e)
		}
	}
	return list, nil
}

// fill puts the entries onto the page: what is doubtful first, by time; then what
// is wrong; then the rest in the order of the walk.
func (v *reviewer) fill() error {
	p := v.page
	titles := map[string]string{}
	for _, sec := range v.o.Corrected.Sections {
		titles[sec.ID] = sec.Title
	}
	for _, it := range v.o.Corrected.Items {
		wrong := it.Mark == rubric.Wrong && it.Corrected == nil
		e, err := v.item(it, !it.Listen && !wrong)
		if err != nil {
			return err
		}
		switch {
		case it.Listen:
			p.First = append(p.First, e)
		case wrong:
			p.Wrong = append(p.Wrong, e)
		default:
			title := titles[it.Section]
			if n := len(p.Rest); n == 0 || p.Rest[n-1].Title != title {
				p.Rest = append(p.Rest, place{Title: title})
			}
			rest := &p.Rest[len(p.Rest)-1]
			rest.Entries = append(rest.Entries, e)
		}
	}
	slices.SortStableFunc(p.First, func(a, b entry) int {
		return cmp.Or(boolInt(a.From < 0)-boolInt(b.From < 0), cmp.Compare(a.From, b.From))
	})
	if len(p.First) > 0 && v.asked == "" {
		p.First[0].Open = true
	}
	var err error
	p.Findings, err = v.findings(nil)
	return err
}

func boolInt(b bool) int {
	if b {
		return 1
	}
	return 0
}

// review shows the sheet beside the player.
func (s *Server) review(w http.ResponseWriter, r *http.Request) {
	o := s.opened(w, r)
	if o == nil {
		return
	}
	v, err := s.newReviewer(w, r, o)
	if err == nil {
		v.asked = r.FormValue("open")
		err = v.fill()
	}
	if err != nil {
		s.fail(w, r, err)
		return
	}
	v.page.Say = s.text.under("js.review.")
	v.page.Same = r.FormValue("same") != ""
	s.render(w, r, http.StatusOK, "review.html", v.page)
}

// attemptLinks lead from a page of an attempt to the others.
func (s *Server) attemptLinks(a store.Attempt, here string) (list []report.Link) {
	add := func(name, href string) {
		if name != here {
			text, _ := s.text.say("links." + name)
			list = append(list, report.Link{Href: href, Text: text})
		}
	}
	path := fmt.Sprintf("/attempts/%d", a.ID)
	add("list", "/")
	add("review", path)
	add("sheet", path+"/sheet")
	add("replay", path+"/replay")
	add("student", "/student?"+query("id", a.Student))
	return list
}

// sheet shows the sheet as grade writes it.
func (s *Server) sheet(w http.ResponseWriter, r *http.Request) {
	s.written(w, r, func(b *bytes.Buffer, o *opened) error {
		return report.HTML(b, o.Corrected, report.HTMLOptions{Transcript: o.words, Sound: o.sound, Links: s.attemptLinks(o.Attempt, "sheet")})
	})
}

// replay shows the student's page as the command replay writes it.
func (s *Server) replay(w http.ResponseWriter, r *http.Request) {
	s.written(w, r, func(b *bytes.Buffer, o *opened) error {
		return report.Replay(b, o.Corrected, o.replayOptions(s.attemptLinks(o.Attempt, "replay")))
	})
}

func (s *Server) written(w http.ResponseWriter, r *http.Request, write func(*bytes.Buffer, *opened) error) {
	o := s.opened(w, r)
	if o == nil {
		return
	}
	var b bytes.Buffer
	if err := write(&b, o); err != nil {
		s.fail(w, r, err)
		return
	}
	s.showReport(w, b.Bytes())
}

// showReport answers with a page that package report wrote.
func (s *Server) showReport(w http.ResponseWriter, page []byte) {
	h := w.Header()
	h.Set("Content-Security-Policy", reportPolicy(page))
	h.Set("Content-Type", "text/html; charset=utf-8")
	w.Write(page)
}

// fragment renders a part of a page.
func (s *Server) fragment(name string, data any) string {
	var b strings.Builder
	if err := s.pages.ExecuteTemplate(&b, name, data); err != nil {
		panic(err)
	}
	return b.String()
}
