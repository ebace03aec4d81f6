package report

import (
	"cmp"
	"fmt"
	"io"
	"math"
	"regexp"
	"slices"
	"strings"

	"markaround/rubric"
	"markaround/rubric/cohort"
)

// CompareText writes a comparison of groups for a terminal.
func CompareText(w io.Writer, c *cohort.GroupComparison, about About, opt TextOptions) error {
	return compareDoc(c, about).text(w, opt)
}

// Compare writes a comparison of groups as one page.
func Compare(w io.Writer, c *cohort.GroupComparison, about About) error {
	return compareDoc(c, about).html(w, about)
}

// CompareJSON writes a comparison of groups as one object, with all items.
func CompareJSON(w io.Writer, c *cohort.GroupComparison, about About) error {
	all := *c
	all.Left = append([]cohort.LeftOut{}, c.Left...)
	return schoolJSON(w, "compare", about, all)
}

// outcome is how a whole attempt's outcome is shown.
type outcome struct {
	name    cohort.Outcome
	title   string
	unit    string
	of      func(*cohort.Group) *cohort.Figure
	between func(*cohort.Contrast) *cohort.Difference
	text    func(float64) string // a value
	less    func(float64) string // a difference
	by      string               // head of the column of differences
	apart   string               // unit of a difference
}

func shareText(x float64) string {
	if x < 0.995 || x == 1 {
		return fmt.Sprintf("%.0f%%", 100*x)
	}
	return percent(x, 1)
}

func hundredfold(x float64) string { return plain(100 * x) }

func pointsText(x float64) string { return fmt.Sprintf("%.1f%%", x) }
func oneDigit(x float64) string   { return fmt.Sprintf("%.1f", x) }
func inPoints(x float64) string   { return withSign(fmt.Sprintf("%+.0f", 100*x)) }
func signedOne(x float64) string  { return withSign(fmt.Sprintf("%+.1f", x)) }

// withSign takes the sign off a zero.
func withSign(s string) string {
	if strings.Trim(s, "+-0.") == "" {
		return s[1:]
	}
	return s
}

var outcomes = []outcome{
	{cohort.Passed, "Passed", "share of attempts passed", func(g *cohort.Group) *cohort.Figure { return &g.Passed },
		func(k *cohort.Contrast) *cohort.Difference { return &k.Passed }, shareText, inPoints, "by, pp", "percentage points"},
	{cohort.PointsEarned, "Points", "percent of the points possible", func(g *cohort.Group) *cohort.Figure { return &g.Points },
		func(k *cohort.Contrast) *cohort.Difference { return &k.Points }, pointsText, signedOne, "by, %", "percent of the points possible"},
	{cohort.MinutesTaken, "Minutes", "from the first word to the last", func(g *cohort.Group) *cohort.Figure { return &g.Minutes },
		func(k *cohort.Contrast) *cohort.Difference { return &k.Minutes }, oneDigit, signedOne, "by, min", "minutes"},
}

func between(in *cohort.Interval, text func(float64) string) string {
	if in == nil {
		return "-"
	}
	return text(in.Low) + " to " + text(in.High)
}

// pText writes p so that it never reads as 0.
func pText(p float64) string {
	switch {
	case p < 0.0001:
		return "<0.0001"
	case p < 0.01:
		return fmt.Sprintf("%.4f", p)
	}
	return fmt.Sprintf("%.3f", p)
}

// bothN is the n of a difference.
func bothN(d *cohort.Difference) string {
	if d.Pairs != nil || d.A.N == d.B.N && strings.HasPrefix(d.Test, "sign-flip") {
		return fmt.Sprint(d.A.N)
	}
	return fmt.Sprintf("%d, %d", d.A.N, d.B.N)
}

// waysTried is how many ways a test at random tried: each stops where it can tell.
var waysTried = regexp.MustCompile(`[0-9]+ (ways )`)

func contrastName(k *cohort.Contrast) string { return k.A + " minus " + k.B }

func compareDoc(c *cohort.GroupComparison, about About) doc {
	d := doc{Title: "Comparison by " + string(c.By), Over: "Of " + about.picked() + ": " + rubric.Plural(about.Attempts, "attempt")}
	if c.By == cohort.ByDate {
		d.Title = "Comparison of before and from " + c.Date
	}
	students, attempts := 0, 0
	for _, g := range c.Groups {
		students, attempts = students+g.Students, attempts+g.Attempts
	}
	if c.Paired {
		students = c.Groups[0].Students
	}
	d.Facts = []fact{{"Groups", fmt.Sprint(len(c.Groups)), ""}, {"Students", fmt.Sprint(students), ""}, {"Attempts counted", fmt.Sprintf("%d, %s", attempts, countWords(c.Count)), ""}}
	if c.Paired {
		d.Facts = append(d.Facts, fact{"Paired", "the same students in both", ""})
	}
	for i := range outcomes {
		d.Blocks = append(d.Blocks, outcomeBlock(c, &outcomes[i]))
	}
	d.Blocks = append(d.Blocks, itemsThatDiffer(c))
	can, cannot := plainWords(c)
	d.Blocks = append(d.Blocks, can, cannot)
	for _, l := range c.Left {
		if strings.Contains(l.Why, "counted") {
			d.Notes = append(d.Notes, l.Why+".")
		} else {
			d.Notes = append(d.Notes, "Left out: "+l.Why+".")
		}
	}
	d.Notes = append(d.Notes, about.several()...)
	d.Notes = append(d.Notes, about.Notes...)
	d.Notes = append(d.Notes,
		fmt.Sprintf("Intervals are at %.0f%%. p (adjusted) holds for the comparison as a whole: %s of whole attempts and %s of items, Benjamini and Hochberg for each of these two, doubled. A difference is called found at %.2f or less.",
			100*c.Level, rubric.Plural(c.Tests, "test"), rubric.Plural(c.ItemTests, "test"), cohort.Alpha),
		fmt.Sprintf("What matters is taken to be %.0f percentage points, %s%% of the points, %s minutes; numbers of students needed are for that much or for the difference seen, whichever is more.",
			100*c.Matters.Share, rubric.Figure(c.Matters.Points), rubric.Figure(c.Matters.Minutes)),
		"Groups that were not drawn by lot differ in more than their name: a difference found is one between these students, not its cause.")
	return d
}

func countWords(c cohort.Count) string {
	switch c {
	case cohort.FirstAttempt:
		return "the first of each student"
	case cohort.LastAttempt:
		return "the last of each student"
	}
	return "all of each student"
}

func outcomeBlock(c *cohort.GroupComparison, o *outcome) block {
	b := block{Heading: o.title, Small: o.unit}
	share := o.name == cohort.Passed
	groups := grid{Caption: "Groups", Heads: []string{string(c.By), "students", "n", "mean", "95% interval", "median", "spread (SD)"}, Left: 1}
	if share {
		groups.Heads = []string{string(c.By), "students", "n", "passed", "share", "95% interval"}
	}
	var rows, lesses []valued
	var tests, methods, ofGroups []string
	note := func(list *[]string, text string) {
		if text = waysTried.ReplaceAllString(text, "$1"); text != "" && !slices.Contains(*list, text) {
			*list = append(*list, text)
		}
	}
	for i := range c.Groups {
		g := &c.Groups[i]
		f := o.of(g)
		note(&ofGroups, f.Method)
		row := []string{g.Name, fmt.Sprint(f.Students), fmt.Sprint(f.N)}
		v := valued{name: g.Name, small: fmt.Sprintf("n = %d", f.N), empty: f.N == 0}
		switch {
		case f.N == 0:
			v.words = "not known of anybody"
			for len(row) < len(groups.Heads) {
				row = append(row, "-")
			}
		case share:
			row = append(row, fmt.Sprint(f.Hits), o.text(f.Value), between(f.Interval, o.text))
		default:
			median, sd := "", "" // of one attempt a student only
			if f.SD > 0 || f.Median != 0 {
				median, sd = o.text(f.Median), oneDigit(f.SD)
			}
			row = append(row, o.text(f.Value), between(f.Interval, o.text), median, sd)
		}
		if f.N > 0 {
			v.value, v.found = f.Value, true
			v.words = fmt.Sprintf("%s, n = %d", o.text(f.Value), f.N)
			if f.Interval != nil {
				v.interval, v.low, v.high = true, f.Interval.Low, f.Interval.High
				// Of a few, an interval may go where no value can: it is drawn to the edge.
				if v.low = max(0, v.low); o.name == cohort.PointsEarned {
					v.high = min(100, v.high)
				}
				v.words = fmt.Sprintf("%s, %s, n = %d", o.text(f.Value), between(f.Interval, o.text), f.N)
			}
		}
		groups.Rows, rows = append(groups.Rows, row), append(rows, v)
	}
	differences := grid{Caption: "Differences", Heads: []string{"groups", "n", o.by, "95% interval", "p", "adjusted", "verdict"}, Left: 1}
	for i := range c.Contrasts {
		k := &c.Contrasts[i]
		x := o.between(k)
		name := contrastName(k)
		if x.Verdict == cohort.NotCompared {
			differences.Rows = append(differences.Rows, []string{name, bothN(x), "-", "-", "-", "-", string(x.Verdict)})
			lesses = append(lesses, valued{name: name, words: x.Words, empty: true})
			continue
		}
		differences.Rows = append(differences.Rows, []string{name, bothN(x), o.less(x.Value), between(x.Interval, o.less), pText(x.P), pText(x.Adjusted), string(x.Verdict)})
		note(&tests, x.Test)
		note(&methods, x.Method)
		v := valued{name: name, small: string(x.Verdict), words: fmt.Sprintf("%s, %s, n = %s", o.less(x.Value), x.Verdict, bothN(x)), value: x.Value, found: x.Verdict == cohort.Differs}
		if x.Interval != nil {
			v.interval, v.low, v.high = true, x.Interval.Low, x.Interval.High
			v.words = fmt.Sprintf("%s, %s, %s, n = %s", o.less(x.Value), between(x.Interval, o.less), x.Verdict, bothN(x))
		}
		lesses = append(lesses, v)
	}
	if len(tests) > 0 {
		b.After = []string{"Tested by: " + strings.Join(tests, "; ") + ". Intervals by: " + strings.Join(ofGroups, "; ")}
		if len(methods) > 0 {
			b.After[0] += "; of differences " + strings.Join(methods, "; ")
		}
		b.After[0] += "."
	}
	text, low, high, mean := plain, math.Inf(1), math.Inf(-1), "means"
	apart := plain
	if share {
		text, low, high, mean = asPercent, 0, 1, "shares"
		apart = hundredfold
	} else {
		for _, v := range rows {
			if !v.empty {
				low, high = min(low, v.value), max(high, v.value)
			}
		}
	}
	if low <= high {
		groups.Plots = []figure{{Title: o.title + " by " + string(c.By), Desc: "Squares are " + mean + ", lines their 95% intervals.",
			Forest: newForest(rows, "group", o.unit, false, low, high, text)}}
		differences.Plots = []figure{{Title: "Differences", Desc: "Full squares were found, open ones were not; the dashed line is no difference.",
			Forest: newForest(lesses, "difference", o.apart, true, 0, 0, signed(apart))}}
	}
	b.Grids = []grid{groups, differences}
	return b
}

// mostItems are the rows of the table of items in text, mostWords those said in
// words of two groups.
const (
	mostItems = 20
	mostWords = 5
)

// withinMatters tells of a difference that is surely less than what matters.
func withinMatters(x *cohort.Difference, m cohort.Matters) bool {
	most := m.Share
	switch x.Outcome {
	case cohort.PointsEarned:
		most = m.Points
	case cohort.MinutesTaken:
		most = m.Minutes
	}
	return x.Interval != nil && x.Interval.Low > -most && x.Interval.High < most
}

func itemTitles(c *cohort.GroupComparison) map[string]string {
	titles := map[string]string{}
	for _, it := range c.Items {
		titles[it.ID] = it.Title
	}
	return titles
}

var didWhat = map[cohort.Outcome]string{cohort.ItemNotSaid: "missed", cohort.ItemSaidWrong: "wrong"}

func itemsThatDiffer(c *cohort.GroupComparison) block {
	b := block{Heading: "Items that differ", Small: "shares of students who missed an item, or got it wrong"}
	if c.Count == cohort.AllAttempts {
		b.Small = "shares of attempts that missed an item, or got it wrong"
	}
	titles := itemTitles(c)
	g := grid{Heads: []string{"item", "what", "groups", "one", "other", "by, pp", "95% interval", "adjusted"}, Left: 3, Few: mostItems, Rest: "--as csv --table items"}
	var rows []valued
	for i := range c.Contrasts {
		k := &c.Contrasts[i]
		for _, x := range k.Found() {
			if x.Item == "" {
				continue
			}
			hits := func(f cohort.Figure) string { return fmt.Sprintf("%s of %d", shareText(f.Value), f.N) }
			g.Rows = append(g.Rows, []string{titles[x.Item], didWhat[x.Outcome], contrastName(k), hits(x.A), hits(x.B), inPoints(x.Value), between(x.Interval, inPoints), pText(x.Adjusted)})
			v := valued{name: titles[x.Item] + ", " + didWhat[x.Outcome], small: contrastName(k), value: x.Value, found: true,
				words: fmt.Sprintf("%s, %s, %s", contrastName(k), inPoints(x.Value), between(x.Interval, inPoints))}
			if x.Interval != nil {
				v.interval, v.low, v.high = true, x.Interval.Low, x.Interval.High
			}
			rows = append(rows, v)
		}
	}
	if len(g.Rows) == 0 {
		b.Words = []string{fmt.Sprintf("No item was found to differ, of %s.", rubric.Plural(len(c.Items), "item"))}
		return b
	}
	if len(rows) > 40 {
		rows = rows[:40]
	}
	g.Plots = []figure{{Title: "Differences of items", Desc: "With 95% intervals; the dashed line is no difference.",
		Forest: newForest(rows, "item", "percentage points", true, 0, 0, signed(hundredfold))}}
	b.Grids = []grid{g}
	return b
}

// plainWords says what can be told and what cannot.
func plainWords(c *cohort.GroupComparison) (can, cannot block) {
	can, cannot = block{Heading: "What can be told"}, block{Heading: "What cannot be told"}
	titles := itemTitles(c)
	plainer := strings.NewReplacer()
	if c.By == cohort.ByDate {
		plainer = strings.NewReplacer("in from ", "from ", "in before ", "before ")
	}
	words := func(x *cohort.Difference) string {
		text := plainer.Replace(x.Words)
		if x.Verdict == cohort.Differs && withinMatters(x, c.Matters) {
			text += ", which is less than matters"
		}
		return text
	}
	for i := range outcomes {
		o := &outcomes[i]
		for k := range c.Contrasts {
			x := o.between(&c.Contrasts[k])
			pair := ""
			if x.Verdict != cohort.Differs { // which names them itself
				pair = ", " + c.Contrasts[k].A + " and " + c.Contrasts[k].B
			}
			line := o.title + pair + ": " + words(x) + "."
			if x.Verdict == cohort.Differs || x.Verdict == cohort.Alike {
				can.Words = append(can.Words, line)
			} else {
				cannot.Words = append(cannot.Words, line)
			}
		}
	}
	for k := range c.Contrasts {
		n := &c.Contrasts[k]
		found, alike, few, none := 0, 0, 0, 0
		var needed []int
		for _, x := range n.Found() { // the surest first
			if x.Item == "" {
				continue
			}
			if found++; found <= mostWords {
				can.Words = append(can.Words, fmt.Sprintf("%s, %s: %s.", titles[x.Item], didWhat[x.Outcome], words(x)))
			}
		}
		for i := range n.Items {
			for _, x := range []*cohort.Difference{&n.Items[i].Missed, &n.Items[i].Wrong} {
				switch {
				case x.Verdict == cohort.Differs:
				case x.Verdict == cohort.Alike:
					alike++
				case x.Verdict == cohort.NotCompared:
					none++
				case x.A.Hits+x.B.Hits == 0 && x.Outcome == cohort.ItemSaidWrong:
					// Nobody got it wrong, mostly because it has no number to get wrong.
				default:
					few++
					if x.Needed > 0 {
						needed = append(needed, x.Needed)
					}
				}
			}
		}
		pair := n.A + " and " + n.B
		if found > mostWords {
			can.Words = append(can.Words, fmt.Sprintf("Items, %s: %d more differences were found; the table of items has them.", pair, found-mostWords))
		}
		if alike > 0 {
			can.Words = append(can.Words, fmt.Sprintf("Items, %s: alike in %s (an item missed, or said wrong): a difference of %.0f percentage points or more would have shown.", pair, rubric.Plural(alike, "comparison"), 100*c.Matters.Share))
		}
		if few > 0 {
			line := fmt.Sprintf("Items, %s: too few to tell in %s (an item missed, or said wrong)", pair, rubric.Plural(few, "comparison"))
			if len(needed) > 0 {
				slices.SortFunc(needed, cmp.Compare[int])
				who := "a group"
				if c.Paired {
					who = "measured twice"
				}
				half, most := needed[(len(needed)-1)/2], needed[(len(needed)-1)*9/10]
				line += fmt.Sprintf("; about %d students %s would do", half, who)
				if most > half {
					line += fmt.Sprintf(" for half of these, about %d for nine in ten", most)
				}
			}
			cannot.Words = append(cannot.Words, line+".")
		}
		if none > 0 {
			cannot.Words = append(cannot.Words, fmt.Sprintf("Items, %s: %s could not be made: the item is not marked in one of the groups.", pair, rubric.Plural(none, "comparison")))
		}
	}
	if len(can.Words) == 0 {
		can.Words = []string{"Nothing: no difference was found, and none can be ruled out with so few students."}
	}
	if len(cannot.Words) == 0 {
		cannot.Words = []string{"Nothing that was asked."}
	}
	return can, cannot
}

// CompareTables are the tables of a comparison for spreadsheets: groups,
// differences, and items.
func CompareTables(c *cohort.GroupComparison) []Table {
	groups := Table{Name: "groups", Header: []string{"group", "outcome", "students", "n", "hits", "value", "low", "high", "median", "sd", "interval"}}
	differences := Table{Name: "differences", Header: []string{"a", "b", "outcome", "n_a", "n_b", "value_a", "value_b", "difference", "low", "high", "interval", "test", "p", "adjusted_p", "verdict", "needed", "words"}}
	items := Table{Name: "items", Header: append([]string{"item", "title", "section", "critical"}, differences.Header...)}
	for i := range c.Groups {
		g := &c.Groups[i]
		for k := range outcomes {
			f := outcomes[k].of(g)
			row := []string{g.Name, string(outcomes[k].name), fmt.Sprint(f.Students), fmt.Sprint(f.N)}
			hits := ""
			if outcomes[k].name == cohort.Passed {
				hits = fmt.Sprint(f.Hits)
			}
			row = append(row, hits)
			low, high := limits(f.Interval)
			spread := f.SD > 0 || f.Median != 0
			row = append(row, cellNumber(f.Value, f.N > 0), low, high, cellNumber(f.Median, spread), cellNumber(f.SD, spread), f.Method)
			groups.Rows = append(groups.Rows, row)
		}
	}
	put := func(k *cohort.Contrast, x *cohort.Difference) []string {
		row := []string{k.A, k.B, string(x.Outcome), fmt.Sprint(x.A.N), fmt.Sprint(x.B.N), cellNumber(x.A.Value, x.A.N > 0), cellNumber(x.B.Value, x.B.N > 0)}
		low, high := limits(x.Interval)
		ok := x.Verdict != cohort.NotCompared
		needed := ""
		if x.Needed > 0 {
			needed = fmt.Sprint(x.Needed)
		}
		return append(row, cellNumber(x.Value, ok), low, high, x.Method, x.Test, cellNumber(x.P, ok), cellNumber(x.Adjusted, ok), string(x.Verdict), needed, x.Words)
	}
	for i := range c.Contrasts {
		k := &c.Contrasts[i]
		for n := range outcomes {
			differences.Rows = append(differences.Rows, put(k, outcomes[n].between(k)))
		}
		for n := range k.Items {
			it := c.Items[n]
			for _, x := range []*cohort.Difference{&k.Items[n].Missed, &k.Items[n].Wrong} {
				items.Rows = append(items.Rows, append([]string{it.ID, it.Title, it.Section, yes(it.Critical)}, put(k, x)...))
			}
		}
	}
	return []Table{groups, differences, items}
}

// limits are the ends of an interval for a spreadsheet, empty without one.
func limits(in *cohort.Interval) (low, high string) {
	if in == nil {
		return "", ""
	}
	return cellNumber(in.Low, true), cellNumber(in.High, true)
}

// cellNumber is a figure for a spreadsheet.
func cellNumber(x float64, known bool) string {
	if !known || math.IsNaN(x) || math.IsInf(x, 0) {
		return ""
	}
	return fmt.Sprintf("%.6g", x)
}
