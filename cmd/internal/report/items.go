package report

import (
	"cmp"
	"fmt"
	"io"
	"slices"
	"strings"

	"markaround/rubric"
	"markaround/rubric/cohort"
)

// Items is what is known of the items of score sheets.
type Items struct {
	Studies []ItemStudy         `json:"studies"` // one a score sheet, the one with most attempts first
	Pairs   []cohort.MarkerPair `json:"pairs"`   // of people who marked the same attempts
	Markers int                 `json:"markers"` // people whose marks were given
}

// ItemStudy is the analysis of one score sheet.
type ItemStudy struct {
	Rubric string `json:"rubric"` // id
	cohort.ItemStudy
}

// ItemsText writes an item analysis for a terminal.
func ItemsText(w io.Writer, s *Items, about About, opt TextOptions) error {
	return itemsDoc(s, about).text(w, opt)
}

// ItemsPage writes an item analysis as one page.
func ItemsPage(w io.Writer, s *Items, about About) error {
	return itemsDoc(s, about).html(w, about)
}

// ItemsJSON writes an item analysis as one object.
func ItemsJSON(w io.Writer, s *Items, about About) error {
	return schoolJSON(w, "items", about, noNulls(s))
}

// Rows that text shows of the tables, and pages of the two last.
const (
	mostHard   = 20
	mostParts  = 15
	mostSaid   = 15
	mostOnPage = 40
)

func itemsDoc(s *Items, about About) doc {
	d := doc{Title: "Items", Over: "Of " + about.picked() + ": " + rubric.Plural(about.Attempts, "attempt")}
	dependent, noDetails := false, 0
	for i := range s.Studies {
		st := &s.Studies[i]
		name := ""
		if len(s.Studies) > 1 {
			name = " of " + st.Rubric
		}
		if i == 0 {
			d.Title = "Items of " + st.Rubric
			d.Facts = []fact{{"Students", fmt.Sprint(st.Students), ""}, {"Attempts counted", fmt.Sprintf("%d, %s", st.Attempts, countWords(st.Count)), ""}, {"Items", fmt.Sprint(len(st.Items)), ""}}
		}
		d.Blocks = append(d.Blocks, reliabilityBlock(st, name), mapBlock(st, name), sleepersBlock(st, name), leftOutBlock(st, name), saidBlock(st, name), timeBlock(st, name, about))
		dependent, noDetails = dependent || st.Dependent, noDetails+st.NoDetails
	}
	if len(s.Studies) > 1 {
		d.Title = "Items of " + rubric.Plural(len(s.Studies), "score sheet")
		d.Facts = nil
	}
	d.Blocks = append(d.Blocks, pairsBlock(s))
	d.Notes = append(d.Notes, about.Notes...)
	if dependent {
		d.Notes = append(d.Notes, "All attempts of a student count, and these are alike: intervals are narrower than they should be. Leave --attempts out for those that hold.")
	}
	if noDetails > 0 {
		d.Notes = append(d.Notes, fmt.Sprintf("Of %s the checks, numbers and times are not known, since an earlier version kept them; markaround regrade --all brings them.", rubric.Plural(noDetails, "attempt")))
	}
	d.Notes = append(d.Notes,
		fmt.Sprintf("Intervals are at %.0f%%: Wilson's for shares, Fisher's z for discrimination, Feldt's for reliability. Discrimination is the correlation of an item being right with the number of the others that are.", 100*cohort.Level),
		"Marks are with the corrections of instructors. Extra items are left out.")
	return d
}

func reliabilityBlock(st *ItemStudy, name string) block {
	b := block{Heading: "Reliability" + name, Small: "how far the items measure one thing"}
	r := st.Reliability
	if r.Undefined != "" {
		b.Words = []string{"Not defined: " + r.Undefined + "."}
	} else {
		b.Words = []string{fmt.Sprintf("KR-20 (Cronbach's alpha of right or not) is %.2f (%.2f to %.2f), n = %d attempts, %d items. 1 would be all of one kind, 0 none.", r.Alpha, r.Interval.Low, r.Interval.High, r.Students, r.Items)}
	}
	if st.Unmarked > 0 {
		b.Words = append(b.Words, rubric.Plural(st.Unmarked, "attempt")+" left out of it, in which not every item is marked.")
	}
	return b
}

// hardest orders items by the share right, those never marked last.
func hardest(st *ItemStudy) []*cohort.ItemStatistics {
	var list []*cohort.ItemStatistics
	for i := range st.Items {
		list = append(list, &st.Items[i])
	}
	slices.SortStableFunc(list, func(a, b *cohort.ItemStatistics) int {
		x, okx := a.Difficulty.Value()
		y, oky := b.Difficulty.Value()
		if okx != oky {
			return map[bool]int{true: -1, false: 1}[okx]
		}
		return cmp.Compare(x, y)
	})
	return list
}

func mapBlock(st *ItemStudy, name string) block {
	b := block{Heading: "Difficulty and discrimination" + name, Small: "hardest first"}
	g := grid{Heads: []string{"item", "right", "95% interval", "n", "partly", "missed", "wrong", "discrimination", "remark"}, Left: 1, Last: true, Few: mostHard, Rest: "--as csv"}
	low, high := 0.0, 0.5
	type placed struct {
		it   *cohort.ItemStatistics
		x, y float64
	}
	var points []placed
	for _, it := range hardest(st) {
		right, interval := "-", "-"
		x, ok := it.Difficulty.Value()
		if ok {
			in, _ := it.Difficulty.Interval()
			right, interval = shareText(x), between(&in, shareText)
		}
		r, remark := "-", []string{}
		if it.Discrimination.Undefined == "" {
			r = fmt.Sprintf("%+.2f (%+.2f to %+.2f)", it.Discrimination.R, it.Discrimination.Interval.Low, it.Discrimination.Interval.High)
			low, high = min(low, it.Discrimination.R), max(high, it.Discrimination.R)
			if it.Discrimination.N != it.Difficulty.Of {
				r += fmt.Sprintf(", n %d", it.Discrimination.N)
			}
			points = append(points, placed{it: it, x: x, y: it.Discrimination.R})
		}
		if it.Critical {
			remark = append(remark, "critical")
		}
		if it.Sleeps {
			remark = append(remark, "tells nothing")
		}
		if it.Discrimination.Undefined == "" && it.Discrimination.Interval.High < 0 {
			remark = append(remark, "runs against the rest")
		}
		g.Rows = append(g.Rows, []string{it.Title, right, interval, fmt.Sprint(it.Difficulty.Of), fmt.Sprint(it.Partly), fmt.Sprint(it.Missed), fmt.Sprint(it.Wrong), r, strings.Join(remark, ", ")})
	}
	b.Grids = []grid{g}
	if len(points) == 0 {
		return b
	}
	low, high = outward(low, high)
	s := scatter{Height: 400, XUnit: "share that got it right: harder to the left", YUnit: "discrimination", Zero: -1}
	xs, ys := across(0, 1), axis{low, high, float64(s.Height - scatterFoot), 34}
	s.XAxis = xs.ticks(5, asPercent)
	s.YAxis = ys.ticks(6, plain)
	if low < 0 {
		s.Zero = ys.at(0)
	}
	// Letters for the hardest and for those that run against the rest.
	order := slices.Clone(points)
	slices.SortStableFunc(order, func(a, b placed) int { return cmp.Compare(a.y, b.y) })
	letters := map[*cohort.ItemStatistics]string{}
	lettered := func(it *cohort.ItemStatistics) {
		if letters[it] == "" && len(letters) < 26 {
			letters[it] = string(rune('A' + len(letters)))
			s.Keys = append(s.Keys, letters[it]+": "+it.Title)
		}
	}
	for i := 0; i < min(6, len(points)); i++ {
		lettered(points[i].it)
	}
	for i := 0; i < min(4, len(order)); i++ {
		lettered(order[i].it)
	}
	for _, p := range points {
		kind := "item"
		if p.it.Critical {
			kind = "critical"
		}
		s.Points = append(s.Points, mapPoint{X: xs.at(p.x), Y: ys.at(p.y), Kind: kind, Letter: letters[p.it], Right: xs.at(p.x) > 92,
			Words: fmt.Sprintf("%s: %s right, n = %d; discrimination %+.2f", p.it.Title, shareText(p.x), p.it.Difficulty.Of, p.y)})
	}
	b.Grids[0].Plots = []figure{{Title: "Item map", Desc: "Each point is an item: across how many got it right, up how well it goes with the rest. Letters name the hardest and those that go least with the rest.", Points: &s}}
	return b
}

func sleepersBlock(st *ItemStudy, name string) block {
	b := block{Heading: "Items that tell nothing" + name, Small: fmt.Sprintf("all right or none, in %d attempts or more", cohort.AsleepFrom)}
	var all, none []string
	for _, it := range st.Items {
		text := fmt.Sprintf("%s (n = %d)", it.Title, it.Difficulty.Of)
		switch {
		case it.Sleeps && it.Difficulty.Hits > 0:
			all = append(all, text)
		case it.Sleeps:
			none = append(none, text)
		}
	}
	if len(all) > 0 {
		b.Words = append(b.Words, fmt.Sprintf("All got it right, %s: %s.", rubric.Plural(len(all), "item"), strings.Join(all, "; ")))
	}
	if len(none) > 0 {
		b.Words = append(b.Words, fmt.Sprintf("Nobody got it right, %s: %s. Teach it, or look whether the score sheet knows how it is said.", rubric.Plural(len(none), "item"), strings.Join(none, "; ")))
	}
	if len(b.Words) == 0 {
		b.Words = []string{"None."}
		if st.Attempts < cohort.AsleepFrom {
			b.Words = []string{fmt.Sprintf("Cannot be told from %s.", rubric.Plural(st.Attempts, "attempt"))}
		}
	}
	return b
}

func itemTitleOf(st *ItemStudy) func(part string) string {
	titles := map[string]string{}
	for _, it := range st.Items {
		titles[it.ID] = it.Title
	}
	return func(part string) string {
		item, _, _ := strings.Cut(part, "/")
		if t := titles[item]; t != "" {
			return t
		}
		return item
	}
}

func leftOutBlock(st *ItemStudy, name string) block {
	b := block{Heading: "Left out most" + name, Small: "checks and numbers that an item asks for"}
	title := itemTitleOf(st)
	g := grid{Heads: []string{"item", "what", "left out", "95% interval", "times", "n"}, Left: 2, Few: mostParts, Most: mostOnPage, Rest: "--as csv --table left-out"}
	for _, c := range st.LeftOut {
		x, ok := c.Left.Value()
		if !ok {
			continue
		}
		in, _ := c.Left.Interval()
		g.Rows = append(g.Rows, []string{title(c.ID), c.Title, shareText(x), between(&in, shareText), fmt.Sprint(c.Left.Hits), fmt.Sprint(c.Left.Of)})
	}
	if len(g.Rows) == 0 {
		b.Words = []string{known(st, "Nothing.")}
		return b
	}
	b.Grids = []grid{g}
	return b
}

func saidBlock(st *ItemStudy, name string) block {
	b := block{Heading: "Wrong numbers said most" + name, Small: "and instead of what"}
	title := itemTitleOf(st)
	g := grid{Heads: []string{"item", "number", "said", "instead of", "times", "students"}, Left: 4, Few: mostSaid, Most: mostOnPage, Rest: "--as csv --table numbers"}
	for _, n := range st.Numbers {
		g.Rows = append(g.Rows, []string{title(n.Item), n.Title, n.Said, n.Accepted, fmt.Sprint(n.Times), fmt.Sprint(n.Students)})
	}
	if len(g.Rows) == 0 {
		b.Words = []string{known(st, "None.")}
		return b
	}
	b.Grids = []grid{g}
	return b
}

// known is the text, unless no attempt tells.
func known(st *ItemStudy, text string) string {
	if st.NoDetails == st.Attempts {
		return "Not known."
	}
	return text
}

func timeBlock(st *ItemStudy, name string, about About) block {
	b := block{Heading: "Where the time goes" + name, Small: "minutes in a section, of the attempts that were there"}
	g := grid{Heads: []string{"section", "mean", "95% interval", "median", "n", "of all"}, Left: 1}
	var rows []valued
	for _, s := range st.Sections {
		m := s.Minutes
		title := about.section(s.Section)
		g.Rows = append(g.Rows, []string{title, oneDigit(m.Value), between(m.Interval, oneDigit), oneDigit(m.Median), fmt.Sprint(m.N), shareText(s.Share)})
		v := valued{name: title, small: fmt.Sprintf("n = %d", m.N), value: m.Value, bar: true, found: true, words: fmt.Sprintf("%s minutes, n = %d, %s of all", oneDigit(m.Value), m.N, shareText(s.Share))}
		if m.Interval != nil {
			v.interval, v.low, v.high = true, max(0, m.Interval.Low), m.Interval.High
		}
		rows = append(rows, v)
	}
	if len(rows) == 0 {
		b.Words = []string{"Not known."}
		return b
	}
	b.Grids = []grid{g}
	b.Grids[0].Plots = []figure{{Title: "Pace", Desc: "Mean minutes in each section, with 95% intervals.", Forest: newForest(rows, "section", "minutes", false, 0, 0, plain)}}
	return b
}

func pairsBlock(s *Items) block {
	b := block{Heading: "Agreement of people", Small: "kappa of two who marked the same attempts"}
	switch {
	case s.Markers == 0:
		b.Words = []string{"Not looked at. The store keeps corrections, which people make where the program erred, and no full second marking: give each person's marks of the same attempts as a file of its own, --marks FIRST.csv --marks SECOND.csv."}
		return b
	case len(s.Pairs) == 0:
		b.Words = []string{fmt.Sprintf("No two of %s marked the same attempt.", rubric.Plural(s.Markers, "person"))}
		return b
	}
	g := grid{Heads: []string{"one", "other", "attempts", "items", "same mark", "95% interval", "kappa", "95% interval"}, Left: 2}
	var rows []valued
	for _, p := range s.Pairs {
		x, _ := p.Alike.Value()
		in, _ := p.Alike.Interval()
		kappa, interval := "-", p.Kappa.Undefined
		v := valued{name: p.A + " and " + p.B, small: fmt.Sprintf("n = %d", p.Kappa.N), empty: p.Kappa.Undefined != ""}
		if p.Kappa.Undefined == "" {
			kappa = fmt.Sprintf("%.2f", p.Kappa.Value)
			interval = fmt.Sprintf("%.2f to %.2f", p.Kappa.Interval.Low, p.Kappa.Interval.High)
			v.value, v.found, v.interval, v.low, v.high = p.Kappa.Value, true, true, p.Kappa.Interval.Low, p.Kappa.Interval.High
			v.words = kappa + ", " + interval + ", " + v.small
		} else {
			v.words = "not defined"
		}
		g.Rows = append(g.Rows, []string{p.A, p.B, fmt.Sprint(p.Attempts), fmt.Sprint(p.Alike.Of), shareText(x), between(&in, shareText), kappa, interval})
		rows = append(rows, v)
	}
	b.Grids = []grid{g}
	b.Grids[0].Plots = []figure{{Title: "Kappa", Desc: "With 95% intervals.", Forest: newForest(rows, "pair", "Cohen's kappa", true, 0, 1, plain)}}
	return b
}

// ItemsTables are the tables of an item analysis for spreadsheets: items,
// left-out, numbers, sections and pairs.
func ItemsTables(s *Items, about About) []Table {
	items := Table{Name: "items", Header: []string{"rubric", "item", "title", "section", "critical", "n", "right", "right_low", "right_high", "partly", "missed", "wrong", "discrimination", "discrimination_low", "discrimination_high", "discrimination_n", "tells_nothing"}}
	left := Table{Name: "left-out", Header: []string{"rubric", "part", "item_title", "title", "n", "times", "share", "low", "high"}}
	numbers := Table{Name: "numbers", Header: []string{"rubric", "number", "item_title", "title", "said", "accepted", "times", "students"}}
	sections := Table{Name: "sections", Header: []string{"rubric", "section", "title", "n", "mean_minutes", "low", "high", "median_minutes", "share"}}
	pairs := Table{Name: "pairs", Header: []string{"a", "b", "attempts", "items", "same", "same_low", "same_high", "kappa", "kappa_low", "kappa_high"}}
	whole := Table{Name: "reliability", Header: []string{"rubric", "count", "students", "attempts", "n", "items", "kr20", "low", "high", "undefined"}}
	for i := range s.Studies {
		st := &s.Studies[i]
		title := itemTitleOf(st)
		r := st.Reliability
		ok := r.Undefined == ""
		whole.Rows = append(whole.Rows, []string{st.Rubric, string(st.Count), fmt.Sprint(st.Students), fmt.Sprint(st.Attempts), fmt.Sprint(r.Students), fmt.Sprint(r.Items),
			cellNumber(r.Alpha, ok), cellNumber(r.Interval.Low, ok), cellNumber(r.Interval.High, ok), r.Undefined})
		for _, it := range st.Items {
			x, ok := it.Difficulty.Value()
			in, _ := it.Difficulty.Interval()
			d := it.Discrimination
			known := d.Undefined == ""
			items.Rows = append(items.Rows, []string{st.Rubric, it.ID, it.Title, it.Section, yes(it.Critical), fmt.Sprint(it.Difficulty.Of), cellNumber(x, ok), cellNumber(in.Low, ok), cellNumber(in.High, ok),
				fmt.Sprint(it.Partly), fmt.Sprint(it.Missed), fmt.Sprint(it.Wrong), cellNumber(d.R, known), cellNumber(d.Interval.Low, known), cellNumber(d.Interval.High, known), fmt.Sprint(d.N), yes(it.Sleeps)})
		}
		for _, c := range st.LeftOut {
			x, ok := c.Left.Value()
			in, _ := c.Left.Interval()
			left.Rows = append(left.Rows, []string{st.Rubric, c.ID, title(c.ID), c.Title, fmt.Sprint(c.Left.Of), fmt.Sprint(c.Left.Hits), cellNumber(x, ok), cellNumber(in.Low, ok), cellNumber(in.High, ok)})
		}
		for _, n := range st.Numbers {
			numbers.Rows = append(numbers.Rows, []string{st.Rubric, n.Item, title(n.Item), n.Title, n.Said, n.Accepted, fmt.Sprint(n.Times), fmt.Sprint(n.Students)})
		}
		for _, sec := range st.Sections {
			m := sec.Minutes
			low, high := limits(m.Interval)
			sections.Rows = append(sections.Rows, []string{st.Rubric, sec.Section, about.section(sec.Section), fmt.Sprint(m.N), cellNumber(m.Value, m.N > 0), low, high, cellNumber(m.Median, m.N > 0), cellNumber(sec.Share, true)})
		}
	}
	for _, p := range s.Pairs {
		x, ok := p.Alike.Value()
		in, _ := p.Alike.Interval()
		known := p.Kappa.Undefined == ""
		pairs.Rows = append(pairs.Rows, []string{p.A, p.B, fmt.Sprint(p.Attempts), fmt.Sprint(p.Alike.Of), cellNumber(x, ok), cellNumber(in.Low, ok), cellNumber(in.High, ok),
			cellNumber(p.Kappa.Value, known), cellNumber(p.Kappa.Interval.Low, known), cellNumber(p.Kappa.Interval.High, known)})
	}
	return []Table{items, left, numbers, sections, whole, pairs}
}
