package report

import (
	_ "embed"
	"fmt"
	"html/template"
	"io"
	"strings"

	"markaround/rubric"
)

//go:embed page/blank.css
var blankStyle []byte

// blankPage is a score sheet to be marked by hand.
type blankPage struct{ *rubric.Rubric }

// CSS is the page's style.
func (blankPage) CSS() template.CSS { return template.CSS(blankStyle) }

// Policy is the content security policy: no script at all.
func (blankPage) Policy() string {
	return fmt.Sprintf("default-src 'none'; style-src '%s'; img-src data:; base-uri 'none'; form-action 'none'", hash(blankStyle))
}

// PassText is the pass rule in words.
func (p blankPage) PassText() string { return PassRule(p.Pass) }

// ItemTitle is the title of the item with an id.
func (p blankPage) ItemTitle(id string) string {
	if it := p.Item(id); it != nil {
		return it.Title
	}
	return id
}

// Points is the sum of the points that count.
func (p blankPage) Points() (sum float64) {
	for e := range p.All() {
		if !e.Item.Extra {
			sum += e.Item.Points
		}
	}
	return sum
}

// BlankHTML writes a score sheet as a page to print and mark by hand: a row of
// boxes for each item, with what to say, the numbers and their sources. The page
// needs no other file, has no script and makes no request.
func BlankHTML(w io.Writer, r *rubric.Rubric) error { return render(w, "blank.html", blankPage{r}) }

// PassRule says a pass rule in words.
func PassRule(p rubric.PassRule) string {
	var rule []string
	if p.MinShare > 0 {
		rule = append(rule, "at least "+rubric.Percent(p.MinShare, 1)+" of the points")
	}
	if p.Critical {
		rule = append(rule, "no critical item failed")
	}
	if p.WithinLimit {
		rule = append(rule, "within the time limit")
	}
	if len(rule) == 0 {
		rule = append(rule, "no rule")
	}
	text := strings.Join(rule, ", ")
	if p.Note != "" {
		text += "; " + p.Note
	}
	return text
}
