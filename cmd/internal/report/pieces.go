package report

import (
	"bytes"
	"html/template"
	"slices"

	"markaround/rubric"
)

// Pieces are the parts of an attempt's pages, for pages that show them beside
// something else; for one goroutine at a time. They need StyleSheet and PageScript; with
// ReplayOptions.Later the script takes an event "given" on the document, its
// detail the address of a recording, and from then on plays that. An event "hear"
// with from and until (seconds) as its detail plays a stretch. A page whose body
// has data-keys="own" keeps the keys to itself.
type Pieces struct {
	Hear []Moment // what is worth hearing, in order of time
	page *replayPage
	opt  ReplayOptions
	full bool
}

// NewPieces makes the pieces of a sheet. What is not asked for is not made.
func NewPieces(s *rubric.Sheet, opt ReplayOptions) (*Pieces, error) {
	page, err := newMarksPage(s, opt)
	if err != nil {
		return nil, err
	}
	page.WordsTitle = "The words"
	page.link = func(item string) string { return "#item-" + anchor(item) }
	return &Pieces{Hear: page.Hear, page: page, opt: opt}, nil
}

// Glyphs are drawings that the others use: once, before them.
func (p *Pieces) Glyphs() (template.HTML, error) { return piece("glyphs", nil) }

// Player is the player with its keys and what is heard now.
func (p *Pieces) Player() (template.HTML, error) { return piece("player", p.whole()) }

// Strip is the lanes of the sections, and the loudness; empty for an attempt
// without a time.
func (p *Pieces) Strip() (template.HTML, error) {
	if p.whole().Strip.Seconds == 0 {
		return "", nil
	}
	return piece("strip", p.page.Strip)
}

// Words are the words, which light up as they are heard.
func (p *Pieces) Words() (template.HTML, error) { return piece("heard-words", p.whole()) }

// Drills are cards of what was not said rightly.
func (p *Pieces) Drills() (template.HTML, error) { return piece("drills", p.whole()) }

func (p *Pieces) whole() *replayPage {
	if !p.full {
		p.page.fill(p.opt)
		p.full = true
	}
	return p.page
}

func piece(name string, data any) (template.HTML, error) {
	var b bytes.Buffer
	err := pages.ExecuteTemplate(&b, name, data)
	return template.HTML(b.String()), err
}

// Item gives the line of an item and, with whole, what stands behind its mark. Both
// are empty for an item that the sheet does not have.
func (p *Pieces) Item(id string, whole bool) (head, body template.HTML, err error) {
	i := slices.IndexFunc(p.page.Items, func(it rubric.ItemMark) bool { return it.ID == id })
	if i < 0 {
		return "", "", nil
	}
	if head, err = piece("item-head", p.page.Items[i]); err != nil || !whole {
		return head, "", err
	}
	body, err = piece("item-body", []any{&p.page.page, p.page.Items[i]})
	return head, body, err
}

// Finding gives a finding with its evidence, as an item of a list.
func (p *Pieces) Finding(f rubric.Finding) (template.HTML, error) {
	return piece("finding", []any{&p.page.page, f})
}

// Anchor is the part of an element's id that stands for an item.
func Anchor(item string) string { return anchor(item) }

// StyleSheet is the style of the pages, with what the student's page adds.
func StyleSheet() []byte { return append(slices.Clone(style), replayStyle...) }

// PageScript is the script of the student's page.
func PageScript() []byte { return append(slices.Clone(script), replayScript...) }
