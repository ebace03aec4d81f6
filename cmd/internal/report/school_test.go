package report

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"strconv"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"
	"golang.org/x/net/html"

	"markaround/rubric/cohort"
)

// schoolRecords are invented attempts of three cohorts; in the second an item is
// missed far more often.
func schoolRecords(students int, name func(string) string) []cohort.Record {
	r := rand.New(rand.NewPCG(1, 2))
	form := &cohort.Form{ID: "f"}
	for i := range 12 {
		form.Items = append(form.Items, cohort.Column{ID: fmt.Sprintf("s%d.i%d", i/4, i), Title: name(fmt.Sprint("Item ", i)), Section: fmt.Sprint("s", i/4), Critical: i == 3, Of: 1})
	}
	var list []cohort.Record
	for s := range students {
		able := r.Float64()
		for n := range 1 + s%3 {
			a := cohort.Record{Name: name(fmt.Sprintf("S-%d_%d", s, n+1)), Student: name(fmt.Sprint("S-", s)), Number: n + 1, Day: fmt.Sprintf("2026-%02d-%02d", 1+n*3, 1+s%28),
				Cohort: name([]string{"A", "B", "C"}[s%3]), Of: 12, Seconds: 600 + 600*r.Float64(), Limit: 900, Form: form, Details: &cohort.Details{}}
			for i := range form.Items {
				m := byte('s')
				switch x := r.Float64(); {
				case i == 0: // all say it
				case i == 5 && s%3 == 1 && x < 0.9, x < 0.35*(1-able):
					m = 'm'
					a.Details.LeftOut = append(a.Details.LeftOut, cohort.Check{ID: form.Items[i].ID + "/c", Title: name("check")})
				case i == 7 && x < 0.5:
					m = 'w'
					a.Details.Wrong = append(a.Details.Wrong, cohort.WrongNumber{Item: form.Items[i].ID + "/n", Title: name("depth"), Said: name("2/32 inch"), Accepted: "4/32 inch"})
				case x < 0.5*(1-able):
					m = 'p'
				default:
					a.Points++
				}
				a.Marks += string(m)
			}
			a.Pass = a.Points >= 9
			for i := range 3 {
				a.Details.Sections = append(a.Details.Sections, cohort.SectionTime{Section: fmt.Sprint("s", i), Seconds: 100 + 100*r.Float64()})
			}
			list = append(list, a)
		}
	}
	return list
}

func asIs(s string) string { return s }

// schoolReports are the three reports on the records, in all forms.
type schoolForms struct {
	text func(io.Writer, TextOptions) error
	page func(io.Writer) error
	json func(io.Writer) error
	rows []Table
}

func schoolReports(t testing.TB, list []cohort.Record, about About) (map[string]schoolForms, *cohort.GroupComparison) {
	t.Helper()
	about.Attempts = len(list)
	c, err := cohort.CompareGroups(list, cohort.GroupOptions{By: cohort.ByCohort})
	if err != nil {
		t.Fatal(err)
	}
	all, err := cohort.CompareGroups(list, cohort.GroupOptions{By: cohort.ByCohort, Count: cohort.AllAttempts})
	if err != nil {
		t.Fatal(err)
	}
	studies, err := cohort.Analyze(list, cohort.FirstAttempt)
	if err != nil {
		t.Fatal(err)
	}
	items := &Items{Markers: 2, Pairs: []cohort.MarkerPair{{A: list[0].Name, B: "b", Attempts: 2, Alike: cohort.Share{Hits: 20, Of: 24}, Kappa: cohort.Kappa([][]int{{9, 1}, {2, 12}})}}}
	for _, s := range studies {
		items.Studies = append(items.Studies, ItemStudy{"yard", s})
	}
	var own []cohort.Record
	for _, r := range list {
		if r.Student == list[3].Student {
			own = append(own, r)
		}
	}
	p, err := cohort.ProgressOf(own, cohort.DefaultReadyRule)
	if err != nil {
		t.Fatal(err)
	}
	return map[string]schoolForms{
		"compare": {func(w io.Writer, o TextOptions) error { return CompareText(w, c, about, o) }, func(w io.Writer) error { return Compare(w, c, about) },
			func(w io.Writer) error { return CompareJSON(w, c, about) }, CompareTables(c)},
		"compare all attempts": {func(w io.Writer, o TextOptions) error { return CompareText(w, all, about, o) }, func(w io.Writer) error { return Compare(w, all, about) },
			func(w io.Writer) error { return CompareJSON(w, all, about) }, CompareTables(all)},
		"items": {func(w io.Writer, o TextOptions) error { return ItemsText(w, items, about, o) }, func(w io.Writer) error { return ItemsPage(w, items, about) },
			func(w io.Writer) error { return ItemsJSON(w, items, about) }, ItemsTables(items, about)},
		"progress": {func(w io.Writer, o TextOptions) error { return ProgressText(w, p, about, o) }, func(w io.Writer) error { return Progress(w, p, about) },
			func(w io.Writer) error { return ProgressJSON(w, p, about) }, ProgressTables(p)},
	}, c
}

func written(t testing.TB, write func(io.Writer) error) string {
	t.Helper()
	var b bytes.Buffer
	if err := write(&b); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

// Pages stand alone without a script; every plot has a title, words for those who
// cannot see it, and a table after it.
func TestSchoolPages(t *testing.T) {
	reports, _ := schoolReports(t, schoolRecords(60, asIs), About{Picked: "site north"})
	for name, r := range reports {
		page := written(t, r.page)
		checkStructure(t, []byte(page))
		if strings.Contains(page, "<script") || strings.Contains(page, "http") && !strings.Contains(page, "http-equiv") {
			t.Errorf("%s: has a script or an address", name)
		}
		plots, after := 0, 0
		for _, n := range nodes(t, []byte(page)) {
			switch {
			case n.Data == "figure":
				plots++
				for next := n.NextSibling; next != nil; next = next.NextSibling {
					if next.Type == html.ElementNode && strings.HasPrefix(attr(next, "class"), "scroll") {
						after++
						break
					}
				}
			case n.Data == "svg" && attr(n, "role") == "img":
				if attr(n, "aria-label") == "" && attr(n, "aria-labelledby") == "" {
					t.Errorf("%s: a plot without a name", name)
				}
			case n.Data == "svg" && attr(n, "role") == "" && attr(n, "aria-hidden") == "" && attr(n.Parent, "aria-hidden") == "" && attr(n.Parent.Parent, "aria-hidden") == "":
				t.Errorf("%s: a drawing that is neither named nor hidden", name)
			}
		}
		if plots == 0 || plots != after {
			t.Errorf("%s: %d plots, %d with a table after them", name, plots, after)
		}
	}
}

// What is drawn is what was counted: places are read back from the page.
func TestForestIsDrawnToScale(t *testing.T) {
	reports, c := schoolReports(t, schoolRecords(60, asIs), About{})
	page := written(t, reports["compare"].page)
	percent := func(s string) float64 {
		v, err := strconv.ParseFloat(strings.TrimSuffix(s, "%"), 64)
		if err != nil {
			t.Fatal(err)
		}
		return (v - margin) / (100 - 2*margin) // shares are drawn from 0 to 1
	}
	seen := 0
	for _, n := range nodes(t, []byte(page)) {
		g := seen
		if g >= len(c.Groups) {
			break
		}
		if n.Data != "svg" || !strings.HasPrefix(attr(n, "aria-label"), c.Groups[g].Name+": ") {
			continue
		}
		seen++
		f := c.Groups[g].Passed
		near := func(what string, got, want float64) {
			if math.Abs(got-want) > 0.0002 {
				t.Errorf("%s: %s drawn at %v, is %v", c.Groups[g].Name, what, got, want)
			}
		}
		for m := range n.Descendants() {
			switch {
			case m.Data == "rect":
				near("share", percent(attr(m, "x")), f.Value)
			case m.Data == "line" && attr(m, "class") == "interval" && attr(m, "x1") != attr(m, "x2"):
				near("low", percent(attr(m, "x1")), f.Interval.Low)
				near("high", percent(attr(m, "x2")), f.Interval.High)
			}
		}
	}
	if seen != len(c.Groups) {
		t.Errorf("%d groups are drawn, want %d", seen, len(c.Groups))
	}
}

// Names with everything in them break neither pages nor tables nor terminals.
func TestSchoolNames(t *testing.T) {
	evil := func(s string) string {
		return "=" + s + "\x1b[2J<img src=x onerror=alert(1)>\u202e\n" + strings.Repeat(" very long", 12)
	}
	reports, _ := schoolReports(t, schoolRecords(40, evil), About{Picked: evil("x"), Notes: []string{evil("note")}, Sections: map[string]string{"s0": evil("Section")}})
	for name, r := range reports {
		for _, n := range nodes(t, []byte(written(t, r.page))) {
			if n.Data == "img" {
				t.Fatalf("%s: an element came in with a name", name)
			}
		}
		for _, width := range []int{60, 100} {
			text := written(t, func(w io.Writer) error { return r.text(w, TextOptions{Width: width}) })
			for _, line := range strings.Split(text, "\n") {
				// The columns of figures need 83 at most.
				if n := utf8.RuneCountInString(line); n > max(width, 97) {
					t.Errorf("%s: %d columns: %s", name, n, line)
				}
			}
			if strings.ContainsAny(text, "\x1b\u202e") {
				t.Errorf("%s: control characters in the text", name)
			}
		}
		for _, table := range r.rows {
			text := written(t, func(w io.Writer) error { return WriteCSV(w, table) })
			rows, err := csv.NewReader(strings.NewReader(text)).ReadAll() // all rows of one length
			if err != nil {
				t.Errorf("%s, %s: %v", name, table.Name, err)
			}
			for _, row := range rows {
				for _, cell := range row {
					if strings.HasPrefix(cell, "=") {
						t.Errorf("%s, %s: a formula: %s", name, table.Name, cell)
					}
				}
			}
		}
	}
}

func TestCSVKeepsNumbers(t *testing.T) {
	for _, c := range []struct{ in, want, reason string }{
		{"-0.25", "-0.25", "a negative difference"},
		{"-2", "-2", "a whole one"},
		{"-", "'-", "a formula to some"},
		{"-2+3", "'-2+3", "a formula"},
		{"@x", "'@x", "a formula"},
		{"-1e-05", "-1e-05", "a small difference"},
		{"-Inf", "'-Inf", "no number of ours"},
		{"A", "A", "a text"},
	} {
		if got := written(t, func(w io.Writer) error { return WriteCSV(w, Table{Header: []string{"x"}, Rows: [][]string{{c.in}}}) }); got != "x\n"+c.want+"\n" {
			t.Errorf("%s (%s): %q", c.in, c.reason, got)
		}
	}
}

// A text that does not fit goes on below itself, and no word of it is lost.
func TestGridWraps(t *testing.T) {
	d := doc{Title: "T", Blocks: []block{{Grids: []grid{{Heads: []string{"item", "right", "remark"}, Left: 1, Last: true,
		Rows: [][]string{{"Windshield washers and wipers of the cab", "80%", "the hardest of all the items"}, {"Horn", "9%", ""}}}}}}}
	got := written(t, func(w io.Writer) error { return d.text(w, TextOptions{Width: 60}) })
	want := `T
  item                      right  remark
  Windshield washers and      80%  the hardest of all the
  wipers of the cab                items
  Horn                         9%
`
	if got != want {
		t.Errorf("got\n%s\nwant\n%s", got, want)
	}
}

// JSON has a version and the figures, and no list is null.
func TestSchoolJSON(t *testing.T) {
	reports, c := schoolReports(t, schoolRecords(30, asIs), About{})
	for name, r := range reports {
		text := written(t, r.json)
		var v struct {
			Version int
			Kind    string
			About   map[string]any
			Report  map[string]any
		}
		if err := json.Unmarshal([]byte(text), &v); err != nil {
			t.Fatal(err)
		}
		if v.Version != SchoolVersion || v.Kind == "" || len(v.Report) == 0 || v.About["attempts"] == 0.0 {
			t.Errorf("%s: version %d, kind %q", name, v.Version, v.Kind)
		}
		for _, list := range []string{"drill", "attempts", "studies", "pairs", "groups", "left_out"} {
			if got, ok := v.Report[list]; ok && got == nil {
				t.Errorf("%s: %s is null", name, list)
			}
		}
		if name == "compare" {
			share := v.Report["groups"].([]any)[0].(map[string]any)["passed"].(map[string]any)["value"].(float64)
			if share != c.Groups[0].Passed.Value {
				t.Errorf("passed %v, want %v", share, c.Groups[0].Passed.Value)
			}
		}
	}
}

// The same attempts give the same bytes.
func TestSchoolIsStable(t *testing.T) {
	list := schoolRecords(30, asIs)
	a, _ := schoolReports(t, list, About{})
	b, _ := schoolReports(t, list, About{})
	for name := range a {
		for _, form := range []func(schoolForms) func(io.Writer) error{
			func(f schoolForms) func(io.Writer) error { return f.page },
			func(f schoolForms) func(io.Writer) error { return f.json },
			func(f schoolForms) func(io.Writer) error {
				return func(w io.Writer) error { return f.text(w, TextOptions{}) }
			},
		} {
			if written(t, form(a[name])) != written(t, form(b[name])) {
				t.Errorf("%s: differs from one time to the other", name)
			}
		}
	}
}

func TestTicks(t *testing.T) {
	for _, c := range []struct {
		low, high float64
		n         int
		want      string
		reason    string
	}{
		{0, 1, 5, "0 0.2 0.4 0.6 0.8 1", "shares"},
		{-0.2, 0.6, 5, "-0.2 0 0.2 0.4 0.6", "zero is no negative zero"},
		{0, 0, 5, "", "no length"},
		{82, 92, 5, "82 84 86 88 90 92", "points"},
	} {
		var got []string
		for _, k := range across(c.low, c.high).ticks(c.n, plain) {
			got = append(got, k.Text)
		}
		if strings.Join(got, " ") != c.want {
			t.Errorf("%v to %v (%s): %s, want %s", c.low, c.high, c.reason, strings.Join(got, " "), c.want)
		}
	}
	for _, c := range []struct{ low, high, wantLow, wantHigh float64 }{{0.31, 0.72, 0.3, 0.8}, {-3, 17, -5, 20}, {5, 5, 5, 6}} {
		if low, high := outward(c.low, c.high); math.Abs(low-c.wantLow) > 1e-9 || math.Abs(high-c.wantHigh) > 1e-9 {
			t.Errorf("around %v to %v: %v to %v, want %v to %v", c.low, c.high, low, high, c.wantLow, c.wantHigh)
		}
	}
}

// An attempt without points or time leaves a gap in the line.
func TestTimelineGap(t *testing.T) {
	l := newTimeline([]timed{{label: "1", known: true, value: 50}, {label: "2"}, {label: "3", known: true, value: 100, limit: 120}}, 0, "", plain)
	if !l.Steps[1].Empty || l.Steps[1].Connected || !l.Steps[2].Connected || l.Steps[2].PrevX != l.Steps[0].X {
		t.Errorf("steps %+v", l.Steps)
	}
	if l.Steps[0].Y <= l.Steps[2].Y || l.Steps[2].Limit >= l.Steps[2].Y || l.Steps[0].Limit >= 0 {
		t.Errorf("50, 100 and the limit 120 are drawn at %v, %v, %v", l.Steps[0].Y, l.Steps[2].Y, l.Steps[2].Limit)
	}
}

func TestSchoolPagesInBrowser(t *testing.T) {
	reports, _ := schoolReports(t, schoolRecords(60, asIs), About{})
	// One page after the other in one tab: they have nothing to run.
	page := written(t, reports["items"].page)
	p := open(t, t.TempDir(), []byte(page), nothingElse)
	defer p.done()
	if n := eval[int](p, `[...document.querySelectorAll("svg.map use")].filter((u) => u.getBoundingClientRect().width < 4).length`); n != 0 {
		t.Errorf("%d points of the map are not drawn", n)
	}
	for _, name := range []string{"items", "compare", "compare all attempts", "progress"} {
		page, err := json.Marshal(written(t, reports[name].page))
		if err != nil {
			t.Fatal(err)
		}
		eval[int](p, `(document.body.innerHTML = new DOMParser().parseFromString(`+string(page)+`, "text/html").body.innerHTML, 1)`)
		p.fits()
		p.print()
		p.run("resize", chromedp.EmulateViewport(687, 900)) // A4 less margins of 14 mm, at 96 dots an inch
		if got := eval[int](p, `document.documentElement.scrollWidth`); got > 687 {
			t.Errorf("%s: on paper it is %d px wide, and 687 are there", name, got)
		}
		if _, err := chromedp.Call(p.ctx, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{}); err != nil {
			t.Fatal(err)
		}
		p.run("resize", chromedp.EmulateViewport(390, 900))
		if wide := eval[string](p, `[...document.querySelectorAll("main *, header *")].filter((e) => !e.closest(".scroll") && e.getBoundingClientRect().right > 391).map((e) => e.tagName + "." + e.className + ": " + e.textContent.slice(0, 60)).join("; ")`); wide != "" {
			t.Errorf("%s: out of a phone's screen: %s", name, wide)
		}
	}
}

func BenchmarkComparePage(b *testing.B) {
	_, c := schoolReports(b, schoolRecords(60, asIs), About{})
	for b.Loop() {
		if err := Compare(io.Discard, c, About{}); err != nil {
			b.Fatal(err)
		}
	}
}

// Every difference of a whole attempt is said once, as one that can be told or as
// one that cannot, and so is every item; what was planted can be told.
func TestPlainWords(t *testing.T) {
	for _, students := range []int{6, 60, 600} {
		_, c := schoolReports(t, schoolRecords(students, asIs), About{})
		can, cannot := plainWords(c)
		for i := range outcomes {
			for k := range c.Contrasts {
				x := outcomes[i].between(&c.Contrasts[k])
				told, untold := 0, 0
				for _, line := range can.Words {
					told += strings.Count(line, x.Words)
				}
				for _, line := range cannot.Words {
					untold += strings.Count(line, x.Words)
				}
				sure := x.Verdict == cohort.Differs || x.Verdict == cohort.Alike
				if sure && (told == 0 || untold > 0) || !sure && (told > 0 || untold == 0) {
					t.Errorf("%d students, %s of %s, %s: said %d times as known, %d as not", students, outcomes[i].title, c.Contrasts[k].A, x.Verdict, told, untold)
				}
			}
		}
		found := strings.Contains(strings.Join(can.Words, "\n"), "Item 5, missed: higher in B than in all others")
		if want := students >= 60; found != want {
			t.Errorf("%d students: the item missed in B is found: %t", students, found)
		}
	}
}

func TestWithinMatters(t *testing.T) {
	m := cohort.Matters{Share: 0.1, Points: 5, Minutes: 3}
	for _, c := range []struct {
		what   cohort.Outcome
		in     *cohort.Interval
		want   bool
		reason string
	}{
		{cohort.Passed, &cohort.Interval{Low: 0.01, High: 0.09}, true, "under ten points"},
		{cohort.Passed, &cohort.Interval{Low: 0.01, High: 0.11}, false, "may be more"},
		{cohort.PointsEarned, &cohort.Interval{Low: -4.9, High: -1}, true, "under five percent"},
		{cohort.MinutesTaken, &cohort.Interval{Low: -3.1, High: -1}, false, "may be more the other way"},
		{cohort.ItemNotSaid, nil, false, "no interval"},
	} {
		if got := withinMatters(&cohort.Difference{Outcome: c.what, Interval: c.in}, m); got != c.want {
			t.Errorf("%s %v (%s): %t", c.what, c.in, c.reason, got)
		}
	}
}

// Attempts of which next to nothing is known give reports that say so.
func TestSchoolUnknowns(t *testing.T) {
	form := &cohort.Form{ID: "f", Items: []cohort.Column{{ID: "a.b", Title: "B", Section: "a"}, {ID: "a.c", Title: "C", Section: "a"}}}
	list := []cohort.Record{
		{Name: "1", Student: "S-1", Cohort: "A"},
		{Name: "2", Student: "S-2", Cohort: "B", Form: form, Marks: "s "},
		{Name: "3", Student: "S-3", Cohort: "B", Form: form, Marks: "mm", Of: 2, Seconds: 60},
		{Name: "4", Student: "S-3", Cohort: "B", Number: 2, Form: form, Marks: "ss", Points: 2, Of: 2, Pass: true},
	}
	reports, _ := schoolReports(t, list, About{})
	for name, r := range reports {
		texts := []string{written(t, r.page), written(t, r.json), written(t, func(w io.Writer) error { return r.text(w, TextOptions{}) })}
		for _, table := range r.rows {
			texts = append(texts, written(t, func(w io.Writer) error { return WriteCSV(w, table) }))
		}
		for _, text := range texts {
			if i := strings.Index(text, "NaN"); i >= 0 {
				t.Errorf("%s: %s", name, text[max(0, i-100):i+20])
			}
			if i := strings.Index(text, "Inf"); i >= 0 {
				t.Errorf("%s: %s", name, text[max(0, i-100):i+20])
			}
		}
		checkStructure(t, []byte(texts[0]))
		if words := map[string]string{"compare": "not compared: nobody in A", "items": "Not known.", "progress": "Not known."}[name]; !strings.Contains(texts[2], words) {
			t.Errorf("%s: does not say %q:\n%s", name, words, texts[2])
		}
	}
}

// Items are told by title, and a paragraph of them ends.
func TestProgressTitles(t *testing.T) {
	form := &cohort.Form{}
	for i := range mostTitles + 3 {
		form.Items = append(form.Items, cohort.Column{ID: fmt.Sprintf("s.i%d", i), Title: fmt.Sprintf("Part %d", i), Of: 1})
	}
	n := len(form.Items)
	list := []cohort.Record{
		{Name: "a", Student: "S", Number: 1, Form: form, Marks: strings.Repeat("m", n)},
		{Name: "b", Student: "S", Number: 2, Form: form, Marks: strings.Repeat("s", n),
			Details: &cohort.Details{Wrong: []cohort.WrongNumber{{Item: "s.i2/depth", Title: "depth", Said: "2", Accepted: "4"}, {Item: "s.gone/depth", Title: "depth", Said: "1", Accepted: "4"}}}},
	}
	p, err := cohort.ProgressOf(list, cohort.DefaultReadyRule)
	if err != nil {
		t.Fatal(err)
	}
	text := written(t, func(w io.Writer) error { return ProgressText(w, p, About{}, TextOptions{}) })
	for _, c := range []struct {
		want   string
		there  bool
		reason string
	}{
		{"gained 18: Part 0; Part 1;", true, "how many, and the first ones"},
		{"; and 3 more. Lost none.", true, "the rest is counted"},
		{"Part 17", false, "it is not listed"},
		{"--as csv --table changes lists all.", true, "where it is"},
		{"  2    Part 2  depth", true, "the title stands by a wrong number"},
		{"  2    s.gone  depth", true, "the id, where no title is known"},
	} {
		if strings.Contains(strings.Join(strings.Fields(text), " "), strings.Join(strings.Fields(c.want), " ")) != c.there {
			t.Errorf("%s: %q in the text is not %v:\n%s", c.reason, c.want, c.there, text)
		}
	}
}
