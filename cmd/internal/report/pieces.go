package report

import (
	"bytes"
	"html/template"
	"slices"

	"markaround/rubric"
)

// Pieces are the parts of an attempt's pages, for pages that show them beside
// something else. They need StyleSheet and PageScript; with
// ReplayOptions.Later the script takes an event "given" on the document, its
// detail the address of a recording, and from then on plays that. An event "hear"
// with from and until (seconds) as its detail plays a stretch. A page whose body
// has data-keys="own" keeps the keys to itself.
type Pieces struct {
	Glyphs template.HTML // drawings that the others use: once, before them
	Player template.HTML
	Strip  template.HTML // the lanes of the sections, and the loudness
	Words  template.HTML // that light up as they are heard
	Drills template.HTML // cards of what was not said rightly
	Hear   []Moment      // what is worth hearing, in order of time
	page   *replayPage
}

// NewPieces makes the pieces of a sheet.
func NewPieces(s *rubric.Sheet, opt ReplayOptions) (*Pieces, error) {
	page, err := newReplayPage(s, opt)
	if err != nil {
		return nil, err
	}
	page.WordsTitle = "The words"
	page.link = func(item string) string { return "#item-" + anchor(item) }
	p := &Pieces{Hear: page.Hear, page: page}
	for _, part := range []struct {
		to   *template.HTML
		name string
		data any
	}{
		{&p.Glyphs, "glyphs", nil}, {&p.Player, "player", page}, {&p.Strip, "strip", page.Strip},
		{&p.Words, "heard-words", page}, {&p.Drills, "drills", page},
	} {
		if part.name == "strip" && page.Strip.Seconds == 0 {
			continue
		}
		if *part.to, err = piece(part.name, part.data); err != nil {
			return nil, err
		}
	}
	return p, nil
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
