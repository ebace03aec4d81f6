package report

import (
	"bytes"
	"crypto/sha256"
	"embed"
	"encoding/base64"
	"fmt"
	"html/template"
	"io"
	"reflect"
	"slices"
	"strings"

	"markaround/rubric"
	"markaround/speech"
)

//go:embed page/*.html
var pageFiles embed.FS

var (
	//go:embed page/style.css
	style []byte
	//go:embed page/script.js
	script []byte
)

// HTMLOptions says what goes into a page beside the sheet.
type HTMLOptions struct {
	Transcript *speech.Transcript // shown at the end with its evidence marked; may be nil
	Sound      *speech.Sound      // the recording, for its loudness on the strip; nil without one
	Links      []Link             // to other pages, on top
}

// Link leads from a page that is served to others.
type Link struct{ Href, Text string }

// Nav is such links as a piece of a page, for About.Top.
func Nav(links ...Link) template.HTML {
	nav, err := piece("links", struct{ Links []Link }{links})
	if err != nil {
		panic(err) // the template is part of the program, and takes any text
	}
	return nav
}

// HTML writes the sheet as one page that needs no other file, makes no request
// and runs only its own few lines of script (its content security policy names
// them by hash). It reads and prints without the script as well.
func HTML(w io.Writer, s *rubric.Sheet, opt HTMLOptions) error {
	s = cleaned(s)
	p := page{Sheet: s, D: newDigest(s), Links: opt.Links, titles: titles(s), words: opt.Transcript}
	p.at, p.link = p.atLine, func(item string) string { return "#item-" + anchor(item) }
	p.Strip = newStrip(s, stripOptions{Sound: opt.Sound, Link: func(item string, _ rubric.Evidence) string {
		if item == "" {
			return ""
		}
		return p.link(item)
	}})
	p.Sum = total(s)
	p.Sources = sources(s, func(string) bool { return true })
	p.Groups = groups(s, func(it rubric.ItemMark) bool { return !(it.Extra && it.Mark == rubric.Missed) })
	if opt.Transcript != nil {
		p.Transcript = newLines(opt.Transcript, s)
	}
	return render(w, "sheet.html", &p)
}

// HTMLSummary writes a page with a row for each attempt, linked to its sheet
// where the row has a link.
func HTMLSummary(w io.Writer, rows []Row) error {
	return render(w, "summary.html", &summaryPage{Rows: rows})
}

// frame is what every page has in common: the style and the script, and what a
// page adds to them.
type frame struct {
	style, script string
	media         string // where sound may come from, as a policy says it; "" for none
}

func (f frame) CSS() template.CSS   { return template.CSS(string(style) + f.style) }
func (f frame) Script() template.JS { return template.JS(string(script) + f.script) }

// Policy is the content security policy.
func (f frame) Policy() string {
	media := ""
	if f.media != "" {
		media = "media-src " + f.media + "; "
	}
	return fmt.Sprintf("default-src 'none'; style-src '%s'; script-src '%s'; img-src data:; %sbase-uri 'none'; form-action 'none'",
		hash([]byte(f.CSS())), hash([]byte(f.Script())), media)
}

func hash(b []byte) string {
	sum := sha256.Sum256(b)
	return "sha256-" + base64.StdEncoding.EncodeToString(sum[:])
}

var pages = template.Must(template.New("").Funcs(template.FuncMap{
	"clock":     Clock,
	"points":    rubric.Figure,
	"pointsOf":  rubric.Points,
	"percent":   percent,
	"plural":    rubric.Plural,
	"sub":       func(a, b float64) float64 { return a - b },
	"join":      strings.Join,
	"share":     share,
	"place":     func(p float64) string { return fmt.Sprintf("%.2f%%", p) },
	"anchor":    anchor,
	"arr":       func(v ...any) []any { return v },
	"kindGlyph": kindGlyph,
	"inc":       func(i int) int { return i + 1 },
	"add":       func(a, b int) int { return a + b },
	"wordRate":  func(r float64) string { return fmt.Sprintf("%.0f", r) },
	"clockUp":   clockUp,
	"limitTime": limitTime,
	"usedTime":  usedTime,
	"moved":     Moved,
	"seconds":   func(s float64) string { return fmt.Sprintf("%.0f s", s) },
	"above":     above,
	"partOf":    func(mark rubric.Mark, title string, may bool) part { return part{mark, title, may} },
}).ParseFS(pageFiles, "page/*.html"))

func render(w io.Writer, name string, p any) error {
	var b bytes.Buffer // so that a failure writes nothing
	if err := pages.ExecuteTemplate(&b, name, p); err != nil {
		return err
	}
	_, err := w.Write(b.Bytes())
	return err
}

type summaryPage struct {
	frame
	Rows []Row
}

// Passed counts the rows that passed.
func (p *summaryPage) Passed() int {
	n := 0
	for _, r := range p.Rows {
		if r.Pass {
			n++
		}
	}
	return n
}

type page struct {
	frame
	*rubric.Sheet
	D          digest
	Sum        rubric.SectionMark
	Groups     []group
	Strip      strip
	Transcript []textLine
	Links      []Link
	Sources    []rubric.Source // of all numbers; in place of the sheet's own
	titles     map[string]string
	words      *speech.Transcript
	at         func(start float64) moment
	link       func(item string) string
}

// TitleOf is the title of a section or item, its id when it has none.
func (p *page) TitleOf(id string) string { return title(p.titles, id) }

// Used is the time from the first word to the last.
func (p *page) Used() float64 { return max(0, p.Pace.End-p.Pace.Start) }

// Dead is the dead air in all.
func (p *page) Dead() float64 {
	return deadAir(p.Pace)
}

// moment is a time, with a way to what was said then.
type moment struct {
	Start float64
	Href  string // where the words stand on the page, "" for nowhere
	Play  bool   // the recording can be heard there
}

// At is the moment of a time in the recording.
func (p *page) At(start float64) moment { return p.at(start) }

// Link leads to an item on the page.
func (p *page) Link(item string) string { return p.link(item) }

// atLine finds the transcript line for a time.
func (p *page) atLine(start float64) moment {
	m := moment{Start: start}
	for i, l := range p.Transcript {
		if start < 0 || l.Start > start+0.01 {
			break
		}
		m.Href = fmt.Sprintf("#line-%d", i+1)
	}
	return m
}

// Quote is the evidence with the words around it.
func (p *page) Quote(ev rubric.Evidence) quoted { return inContext(p.words, ev) }

// Together is the evidence of a finding, each sentence once.
func (p *page) Together(list []rubric.Evidence) []rubric.Evidence { return runTogether(p.words, list) }

// Telling is what is shown of the evidence of one thing, and tells which of the
// words stand above already.
func (p *page) Telling(list, above []rubric.Evidence) told {
	few, more := telling(list)
	t := told{More: more}
	shown, _ := telling(above)
	for _, ev := range few {
		same := slices.ContainsFunc(shown, func(a rubric.Evidence) bool { return a.First == ev.First && a.Last == ev.Last })
		t.List = append(t.List, spoken{ev, p.At(ev.Start), same, p.Quote(ev)})
	}
	return t
}

// part is a check or measure as the head of its line shows it.
type part struct {
	Mark  rubric.Mark
	Title string
	May   bool // be left out
}

type told struct {
	List []spoken
	More int
}

type spoken struct {
	rubric.Evidence
	At    moment
	Same  bool
	Quote quoted
}

func kindGlyph(c critical) string {
	if c.Item == "" {
		return "finding"
	}
	return c.What
}

// anchor makes an element id of an item id.
func anchor(id string) string {
	return strings.Map(func(r rune) rune {
		if r <= ' ' || r == '"' || r == '\'' || r == '%' || r == '#' {
			return '_'
		}
		return r
	}, id)
}

// textLine is one transcript segment, cut where its evidence begins and ends.
type textLine struct {
	Start   float64
	Speaker string
	Runs    []run
	segment int
}

type run struct {
	Text  string
	Mark  string // "" outside evidence
	Item  string
	Words []string // of Text, one by one
	First int      // index of the first of them in the transcript
}

func newLines(t *speech.Transcript, s *rubric.Sheet) []textLine {
	type owner struct {
		mark rubric.Mark
		item string
	}
	owners := make([]owner, len(t.Words))
	rank := map[rubric.Mark]int{rubric.Said: 1, rubric.Partly: 2, rubric.Wrong: 3}
	claim := func(list []rubric.Evidence, o owner) {
		for _, ev := range list {
			for i := max(ev.First, 0); i < min(ev.Last, len(owners)); i++ {
				if rank[o.mark] > rank[owners[i].mark] {
					owners[i] = o
				}
			}
		}
	}
	for _, it := range s.Items {
		named := it.Mark
		if named == rubric.Wrong {
			named = rubric.Said // the name is right; the check or number below is not
		}
		claim(it.Named, owner{named, it.ID})
		for _, c := range it.Checks {
			claim(c.Evidence, owner{c.Mark, it.ID})
		}
		for _, m := range it.Measures {
			claim(m.Evidence, owner{m.Mark, it.ID})
		}
	}
	var lines []textLine
	for k, seg := range t.Segments {
		l := textLine{Start: seg.Start, Speaker: clean(seg.Speaker), segment: k}
		for i := max(seg.First, 0); i < min(seg.Last, len(t.Words)); i++ {
			word, o := clean(t.Words[i].Text), owners[i]
			if n := len(l.Runs); n > 0 && l.Runs[n-1].Mark == string(o.mark) && l.Runs[n-1].Item == o.item {
				l.Runs[n-1].Text += " " + word
				l.Runs[n-1].Words = append(l.Runs[n-1].Words, word)
			} else {
				l.Runs = append(l.Runs, run{word, string(o.mark), o.item, []string{word}, i})
			}
		}
		lines = append(lines, l)
	}
	return lines
}

// cleaned is a deep copy of the sheet with control characters taken out of all
// its text.
func cleaned(s *rubric.Sheet) *rubric.Sheet {
	c := deep(reflect.ValueOf(s).Elem(), clean).Interface().(rubric.Sheet)
	return &c
}
