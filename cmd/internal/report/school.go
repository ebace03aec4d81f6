package report

import (
	"bufio"
	_ "embed"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"html/template"
	"io"
	"reflect"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"
)

// SchoolVersion is the version of what the reports of the school write as JSON. It
// grows when a field changes its name or meaning.
const SchoolVersion = 1

// About says what attempts a report of the school is on.
type About struct {
	Picked   string            `json:"picked"`   // what picked them: "cohort fall, site north"; "" when all that are kept
	Attempts int               `json:"attempts"` // read, before any was left out
	Sheets   []SheetAttempts   `json:"sheets"`   // score sheets, those with most attempts first
	Sections map[string]string `json:"sections"` // titles by id; ids stand where there is none
	Notes    []string          `json:"notes"`    // what else must be known, a sentence each
	Top      template.HTML     `json:"-"`        // put on top of a page, as links of a server; "" for none
}

// SheetAttempts is how many attempts were marked by a score sheet.
type SheetAttempts struct {
	Rubric   string `json:"rubric"` // id
	Attempts int    `json:"attempts"`
}

// picked says it in a sentence's part.
func (a About) picked() string {
	if a.Picked == "" {
		return "all attempts kept"
	}
	return a.Picked
}

// several tells of attempts of several score sheets in one report.
func (a About) several() (notes []string) {
	if len(a.Sheets) < 2 {
		return nil
	}
	var list []string
	for _, s := range a.Sheets {
		list = append(list, fmt.Sprintf("%s %d", s.Rubric, s.Attempts))
	}
	return []string{"Attempts by several score sheets are in one figure here (" + strings.Join(list, ", ") + "); --rubric picks one."}
}

func (a About) section(id string) string {
	if t := a.Sections[id]; t != "" {
		return t
	}
	return id
}

// Table is a table for spreadsheets: numbers are numbers, and shares 0 to 1.
type Table struct {
	Name   string // of a file, without extension
	Header []string
	Rows   [][]string
}

// WriteCSV writes a table. Cells that a spreadsheet would run as a formula get a
// leading apostrophe.
func WriteCSV(w io.Writer, t Table) error {
	c := csv.NewWriter(w)
	c.Write(t.Header)
	for _, row := range t.Rows {
		cells := make([]string, len(row))
		for i := range row {
			cells[i] = row[i]
			if !isNumber(row[i]) {
				cells[i] = Cell(row[i])
			}
		}
		c.Write(cells)
	}
	c.Flush()
	return c.Error()
}

// isNumber tells a negative number from what a spreadsheet would run.
func isNumber(s string) bool {
	digits := strings.TrimPrefix(s, "-")
	_, err := strconv.ParseFloat(s, 64)
	return err == nil && digits != "" && digits[0] >= '0' && digits[0] <= '9'
}

// schoolJSON writes a report as one object.
func schoolJSON(w io.Writer, kind string, about About, value any) error {
	enc := json.NewEncoder(w)
	enc.SetEscapeHTML(false)
	enc.SetIndent("", "  ")
	if about.Sheets == nil {
		about.Sheets = []SheetAttempts{}
	}
	if about.Notes == nil {
		about.Notes = []string{}
	}
	return enc.Encode(struct {
		Version int    `json:"version"`
		Kind    string `json:"kind"`
		About   About  `json:"about"`
		Report  any    `json:"report"`
	}{SchoolVersion, kind, about, value})
}

// noNulls is a copy in which lists of nothing are empty, and not null.
func noNulls[T any](v *T) any {
	asIs := func(text string) string { return text }
	return deep(reflect.ValueOf(v).Elem(), asIs).Interface()
}

// doc is a report of the school, to be written as text or as a page.
type doc struct {
	Over   string // above the title
	Title  string
	Facts  []fact
	Blocks []block
	Notes  []string // at the end, a sentence each
}

// fact is a figure at the head.
type fact struct {
	Label, Value string
	Class        string // "pass", "nopass" or ""
}

// block is a part of a report. All that is empty is left out.
type block struct {
	Heading string
	Small   string // beside the heading
	Words   []string
	List    []string // in order, with numbers
	Few     int      // in text no more of the list than this; 0 for all
	Rest    string   // told in text of what was cut off: "--as csv --table drill"
	Grids   []grid
	After   []string // beneath the grids
}

// grid is a table with cells as texts.
type grid struct {
	Plots   []figure // of the same figures, above the table, on pages only
	Caption string
	Heads   []string
	Left    int  // columns on the left that are texts, the first one the row's head
	Last    bool // the last column is a text too
	Rows    [][]string
	Few     int    // in text no more rows than this; 0 for all
	Most    int    // on pages no more rows than this; 0 for all
	Cut     string // told on pages of rows that were cut off
	Label   string // of the table for those who cannot see the page
	Rest    string // told in text of rows that were cut off: "--as csv --table items"
}

// few and rest are what text shows of the rows.
func (g grid) few() (rows [][]string, rest int) {
	if g.Few > 0 && len(g.Rows) > g.Few {
		return g.Rows[:g.Few], len(g.Rows) - g.Few
	}
	return g.Rows, 0
}

// right tells a column of figures.
func (g grid) right(i int) bool { return i >= g.Left && !(g.Last && i == len(g.Heads)-1) }

// cleanDoc takes control characters out of all texts.
func cleanDoc(d doc) doc { return deep(reflect.ValueOf(d), clean).Interface().(doc) }

// text writes the report for a terminal.
func (d doc) text(w io.Writer, opt TextOptions) error {
	d = cleanDoc(d)
	b := bufio.NewWriter(w)
	t := &texter{w: b, color: opt.Color, width: 100}
	if opt.Width > 0 {
		t.width = min(max(opt.Width, 60), 100)
	}
	t.hang("", 0, d.Title)
	if d.Over != "" {
		t.hang("", 0, d.Over)
	}
	if len(d.Facts) > 0 {
		width := 0
		for _, f := range d.Facts {
			width = max(width, utf8.RuneCountInString(f.Label))
		}
		t.line("")
		for _, f := range d.Facts {
			t.field(0, f.Label, width, f.Value)
		}
	}
	for _, bl := range d.Blocks {
		t.block(bl)
	}
	t.notes("NOTES", d.Notes)
	return b.Flush()
}

func (t *texter) block(bl block) {
	if bl.Heading != "" {
		t.line("")
		h := t.paint(bold, strings.ToUpper(bl.Heading))
		if bl.Small != "" {
			if len(bl.Heading)+2+len(bl.Small) <= t.width {
				h += "  " + bl.Small
			} else {
				t.line(h)
				h = ""
				t.hang("  ", 2, bl.Small)
			}
		}
		if h != "" {
			t.line(h)
		}
	}
	for _, p := range bl.Words {
		t.hang("  ", 4, p)
	}
	for i, p := range bl.List {
		if bl.Few > 0 && i == bl.Few {
			t.line("      " + andMore(len(bl.List)-i, bl.Rest))
			break
		}
		lead := fmt.Sprintf("  %2d. ", i+1)
		t.hang(lead, len(lead), p)
	}
	first := len(bl.Words)+len(bl.List) == 0
	for _, g := range bl.Grids {
		if !first {
			t.line("")
		}
		first = false
		t.grid(g)
	}
	for _, p := range bl.After {
		t.hang("  ", 4, p)
	}
}

// grid writes a table. Where it does not fit, texts go on below themselves, in the
// widest column first.
func (t *texter) grid(g grid) {
	if g.Caption != "" {
		t.hang("  ", 2, g.Caption)
	}
	rows, rest := g.few()
	g, rows = g.filled(rows)
	width, least := make([]int, len(g.Heads)), make([]int, len(g.Heads))
	for _, row := range append([][]string{g.Heads}, rows...) {
		for i, c := range row {
			width[i] = max(width[i], utf8.RuneCountInString(c))
			for _, word := range strings.Fields(c) {
				least[i] = min(max(least[i], 8, utf8.RuneCountInString(word)), 12)
			}
		}
	}
	const gap = 2
	for {
		sum, widest := 0, -1
		for i, n := range width {
			sum += n + gap
			if !g.right(i) && n > max(least[i], utf8.RuneCountInString(g.Heads[i])) && (widest < 0 || n > width[widest]) {
				widest = i
			}
		}
		over := sum - t.width
		if over <= 0 || widest < 0 {
			break
		}
		width[widest]--
	}
	write := func(row []string, color string) {
		cells, high := make([][]string, len(row)), 1
		for i, c := range row {
			if cells[i] = []string{c}; !g.right(i) && utf8.RuneCountInString(c) > width[i] {
				cells[i] = Wrap(c, width[i])
			}
			high = max(high, len(cells[i]))
		}
		for k := range high {
			line := ""
			for i := range row {
				c := ""
				if k < len(cells[i]) {
					c = cells[i][k]
				}
				gap := strings.Repeat(" ", max(0, width[i]-utf8.RuneCountInString(c)))
				if g.right(i) {
					c = gap + c
				} else {
					c += gap
				}
				line += "  " + c
			}
			t.line(t.paint(color, strings.TrimRight(line, " ")))
		}
	}
	write(g.Heads, bold)
	for _, row := range rows {
		write(row, "")
	}
	if rest > 0 {
		t.line("  " + andMore(rest, g.Rest))
	}
}

// filled leaves out the columns in which no row has anything.
func (g grid) filled(rows [][]string) (grid, [][]string) {
	out := g
	out.Heads, out.Last = nil, false
	cut := make([][]string, len(rows))
	for i, h := range g.Heads {
		if i > 0 && !slices.ContainsFunc(rows, func(row []string) bool { return row[i] != "" }) {
			if i < g.Left {
				out.Left--
			}
			continue
		}
		out.Heads = append(out.Heads, h)
		out.Last = g.Last && i == len(g.Heads)-1
		for k, row := range rows {
			cut[k] = append(cut[k], row[i])
		}
	}
	return out, cut
}

func andMore(n int, where string) string { return fmt.Sprintf("and %d more; %s lists all", n, where) }

//go:embed page/school.css
var schoolStyle string

type schoolPage struct {
	frame
	doc
	Top template.HTML
}

// Policy is the content security policy: no script at all.
func (p *schoolPage) Policy() string {
	return fmt.Sprintf("default-src 'none'; style-src '%s'; img-src data:; base-uri 'none'; form-action 'none'", hash([]byte(p.CSS())))
}

// html writes the report as one page that needs no other file, no script and
// makes no request.
func (d doc) html(w io.Writer, about About) error {
	p := schoolPage{frame: frame{style: schoolStyle}, doc: cleanDoc(d), Top: about.Top}
	// Ids of figures must be the page's own.
	n := 0
	for i := range p.Blocks {
		for j, g := range p.Blocks[i].Grids {
			if n := len(g.Rows) - g.Most; g.Most > 0 && n > 0 {
				g.Rows, g.Cut = g.Rows[:g.Most], andMore(n, g.Rest)
			}
			g, g.Rows = g.filled(g.Rows)
			if g.Label = p.Blocks[i].Heading; g.Caption != "" {
				g.Label += ": " + g.Caption
			}
			p.Blocks[i].Grids[j] = g
			for k := range g.Plots {
				n++
				g.Plots[k].ID = fmt.Sprintf("figure-%d", n)
			}
		}
	}
	return render(w, "school.html", &p)
}

// Small tells a table that should not be parted on paper.
func (g grid) Small() bool { return len(g.Rows) <= 15 }

// Columns are the heads of a grid as the template needs them.
func (g grid) Columns() []gridCell { return g.Cells(g.Heads) }

// Cells is a row as the template needs it.
func (g grid) Cells(row []string) (list []gridCell) {
	for i, c := range row {
		cell := gridCell{Text: c}
		switch {
		case g.right(i):
			cell.Class = "right"
		case len(c) <= 14: // a day, a name: not to be broken
			cell.Class = "short"
		}
		list = append(list, cell)
	}
	return list
}

type gridCell struct{ Text, Class string }

// outOf is "3 of 5".
func outOf(hits, of int) string { return fmt.Sprintf("%d of %d", hits, of) }
