package report

import (
	"fmt"
	"io"
	"slices"
	"strings"

	"markaround/rubric"
	"markaround/rubric/cohort"
)

// ProgressText writes a student's progress for a terminal.
func ProgressText(w io.Writer, p *cohort.Progress, about About, opt TextOptions) error {
	return progressDoc(p, about).text(w, opt)
}

// Progress writes a student's progress as one page.
func Progress(w io.Writer, p *cohort.Progress, about About) error {
	return progressDoc(p, about).html(w, about)
}

// ProgressJSON writes a student's progress as one object.
func ProgressJSON(w io.Writer, p *cohort.Progress, about About) error {
	return schoolJSON(w, "progress", about, noNulls(p))
}

// mostTitles are the items listed in one paragraph.
const mostTitles = 15

func columnTitles(list []cohort.Column) string {
	var titles []string
	for _, c := range list[:min(len(list), mostTitles)] {
		titles = append(titles, c.Title)
	}
	more := ""
	if n := len(list) - mostTitles; n > 0 {
		more = fmt.Sprintf("; and %d more", n)
	}
	return strings.Join(titles, "; ") + more
}

func passText(pass bool) string {
	if pass {
		return "pass"
	}
	return "no pass"
}

// try names an attempt: "attempt 3, 2026-11-20".
func try(a *cohort.ProgressAttempt) string {
	name := a.Name
	if a.Number > 0 {
		name = fmt.Sprintf("attempt %d", a.Number)
	}
	if a.Day != "" {
		name += ", " + a.Day
	}
	return name
}

// upper begins a sentence with an attempt; names stay as they are.
func upper(try string) string {
	if rest, ok := strings.CutPrefix(try, "attempt "); ok {
		return "Attempt " + rest
	}
	return try
}

func progressDoc(p *cohort.Progress, about About) doc {
	d := doc{Title: "Progress of " + p.Student, Over: "Practice marking, not a license decision"}
	if about.Picked != "" {
		d.Over = "Of attempts with " + about.Picked + ". " + d.Over
	}
	last := &p.Attempts[len(p.Attempts)-1]
	passed := 0
	for _, a := range p.Attempts {
		if a.Pass {
			passed++
		}
	}
	ready := fact{"For the test", "not ready", "nopass"}
	if p.Ready {
		ready = fact{"For the test", "ready", "pass"}
	}
	d.Facts = []fact{ready, {"Passed", outOf(passed, len(p.Attempts)) + " attempts", ""}}
	if last.Of > 0 {
		d.Facts = append(d.Facts, fact{"Latest", rubric.Figure(last.Points) + " of " + rubric.Points(last.Of) + ", " + passText(last.Pass), ""})
	}

	rule := block{Heading: "Ready or not", Small: p.RuleWords}
	for _, c := range p.Conditions {
		word := "not met"
		if c.Met {
			word = "met"
		}
		rule.Words = append(rule.Words, fmt.Sprintf("%s: %s; seen: %s", word, c.Words, c.Seen))
	}
	d.Blocks = append(d.Blocks, rule, attemptsBlock(p))
	if len(p.Attempts) > 1 {
		d.Blocks = append(d.Blocks, gainedBlock(p))
	}
	d.Blocks = append(d.Blocks, wrongBlock(p), drillBlock(p))
	d.Notes = append(d.Notes, about.several()...)
	d.Notes = append(d.Notes, about.Notes...)
	for _, a := range p.Attempts {
		if !a.Details {
			d.Notes = append(d.Notes, "Wrong numbers are not known of "+try(&a)+".")
		}
	}
	d.Notes = append(d.Notes, "Marks are with your instructor's corrections. Extra items are left out.")
	return d
}

func attemptsBlock(p *cohort.Progress) block {
	b := block{Heading: "Attempts", Small: "first to last"}
	g := grid{Heads: []string{"try", "date", "points", "", "time", "of", "result", "said", "partly", "wrong", "missed"}, Left: 2}
	var points, minutes []timed
	timeKnown := false
	for i := range p.Attempts {
		a := &p.Attempts[i]
		label := fmt.Sprint(i + 1)
		if a.Number > 0 {
			label = fmt.Sprint(a.Number)
		}
		row := []string{label, a.Day, "-", "", "-", "-", passText(a.Pass), fmt.Sprint(a.Said), fmt.Sprint(a.Partly), fmt.Sprint(a.Wrong), fmt.Sprint(a.Missed)}
		pt := timed{label: label, pass: a.Pass, words: fmt.Sprintf("%s: points not known", try(a))}
		if a.Of > 0 {
			row[2], row[3] = rubric.Figure(a.Points)+"/"+rubric.Figure(a.Of), percent(a.Points, a.Of)
			share := percent(a.Points, a.Of)
			pt.known, pt.value, pt.text = true, 100*a.Points/a.Of, share
			pt.words = fmt.Sprintf("%s: %s of the points, %s", try(a), share, passText(a.Pass))
		}
		mt := timed{label: label, pass: a.Pass, limit: a.Limit, words: fmt.Sprintf("%s: time not known", try(a))}
		if a.Minutes > 0 {
			row[4] = Clock(60 * a.Minutes)
			if a.Limit > 0 && a.Minutes > a.Limit {
				row[4] = clockUp(60 * a.Minutes)
			}
			timeKnown = true
			mt.known, mt.value, mt.text = true, a.Minutes, row[4]
			mt.words = fmt.Sprintf("%s: %s minutes", try(a), row[4])
		}
		if a.Limit > 0 {
			row[5] = limitTime(60 * a.Limit)
			mt.words += " of " + row[5]
		}
		g.Rows = append(g.Rows, row)
		points, minutes = append(points, pt), append(minutes, mt)
	}
	g.Plots = []figure{{Title: "Points over time", Desc: "One mark an attempt, in percent of the points possible.", Line: newTimeline(points, 100, "percent of the points", func(x float64) string { return plain(x) })}}
	if timeKnown {
		g.Plots = append(g.Plots, figure{Title: "Pace", Desc: "Minutes from the first word to the last.", Line: newTimeline(minutes, 0, "minutes", plain)})
	}
	b.Grids = []grid{g}
	return b
}

func gainedBlock(p *cohort.Progress) block {
	b := block{Heading: "Gained and lost", Small: "items said now and not the time before, and the reverse"}
	cut := false
	for i := 1; i < len(p.Attempts); i++ {
		a := &p.Attempts[i]
		if a.Compared == 0 {
			b.Words = append(b.Words, upper(try(a))+": no item is marked in this attempt and the one before.")
			continue
		}
		side := func(word string, list []cohort.Column) string {
			if len(list) == 0 {
				return word + " none"
			}
			cut = cut || len(list) > mostTitles
			return fmt.Sprintf("%s %d: %s", word, len(list), columnTitles(list))
		}
		b.Words = append(b.Words, fmt.Sprintf("%s, of %s in both: %s. %s.", upper(try(a)), rubric.Plural(a.Compared, "item"), side("gained", a.Gained), side("Lost", a.Lost)))
	}
	if cut {
		b.After = []string{"--as csv --table changes lists all."}
	}
	return b
}

func wrongBlock(p *cohort.Progress) block {
	b := block{Heading: "Wrong numbers", Small: "as said, latest attempt first"}
	g := grid{Heads: []string{"try", "item", "number", "said", "accepted"}, Left: 5}
	for i := len(p.Attempts) - 1; i >= 0; i-- {
		a := &p.Attempts[i]
		for _, n := range a.Numbers {
			label := a.Name
			if a.Number > 0 {
				label = fmt.Sprint(a.Number)
			}
			item := itemOf(n.Item)
			if title := p.Titles[item]; title != "" {
				item = title
			}
			g.Rows = append(g.Rows, []string{label, item, n.Title, n.Said, n.Accepted})
		}
	}
	if len(g.Rows) == 0 {
		b.Words = []string{"Not known."}
		if slices.ContainsFunc(p.Attempts, func(a cohort.ProgressAttempt) bool { return a.Details }) {
			b.Words = []string{"None."}
		}
		return b
	}
	b.Grids = []grid{g}
	return b
}

// mostDrills are listed in text.
const mostDrills = 15

func drillBlock(p *cohort.Progress) block {
	b := block{Heading: "What to drill next", Small: fmt.Sprintf("what was not right in one of the last %d attempts with it; critical first, then most often", cohort.DrillCleared), Few: mostDrills, Rest: "--as csv --table drill"}
	for _, d := range p.Drill {
		line := d.Title + ": " + d.Why
		if len(d.Numbers) > 0 {
			line += fmt.Sprintf("; said %s, accepted %s", d.Numbers[0].Said, d.Numbers[0].Accepted)
		}
		b.List = append(b.List, line)
	}
	if len(b.List) == 0 {
		b.Words = []string{"Nothing: every item was right in its last attempts."}
	}
	return b
}

// ProgressTables are the tables of a student's progress for spreadsheets:
// attempts, drill, changes (items gained and lost), and numbers said wrong.
func ProgressTables(p *cohort.Progress) []Table {
	attempts := Table{Name: "attempts", Header: []string{"student", "attempt", "number", "date", "points", "of", "result", "minutes", "limit", "said", "partly", "wrong", "missed", "gained", "lost", "compared"}}
	drill := Table{Name: "drill", Header: []string{"student", "rank", "item", "title", "section", "critical", "attempts", "missed", "wrong", "partly", "last_attempt", "why"}}
	changes := Table{Name: "changes", Header: []string{"student", "attempt", "item", "title", "change"}}
	numbers := Table{Name: "numbers", Header: []string{"student", "attempt", "number", "title", "said", "accepted"}}
	for i := range p.Attempts {
		a := &p.Attempts[i]
		count := ""
		if a.Number > 0 {
			count = fmt.Sprint(a.Number)
		}
		attempts.Rows = append(attempts.Rows, []string{p.Student, a.Name, count, a.Day, cellNumber(a.Points, a.Of > 0), cellNumber(a.Of, a.Of > 0), passText(a.Pass),
			cellNumber(a.Minutes, a.Minutes > 0), cellNumber(a.Limit, a.Limit > 0), fmt.Sprint(a.Said), fmt.Sprint(a.Partly), fmt.Sprint(a.Wrong), fmt.Sprint(a.Missed),
			fmt.Sprint(len(a.Gained)), fmt.Sprint(len(a.Lost)), fmt.Sprint(a.Compared)})
		for _, c := range a.Gained {
			changes.Rows = append(changes.Rows, []string{p.Student, a.Name, c.ID, c.Title, "gained"})
		}
		for _, c := range a.Lost {
			changes.Rows = append(changes.Rows, []string{p.Student, a.Name, c.ID, c.Title, "lost"})
		}
		for _, n := range a.Numbers {
			numbers.Rows = append(numbers.Rows, []string{p.Student, a.Name, n.Item, n.Title, n.Said, n.Accepted})
		}
	}
	for i, d := range p.Drill {
		drill.Rows = append(drill.Rows, []string{p.Student, fmt.Sprint(i + 1), d.ID, d.Title, d.Section, yes(d.Critical), fmt.Sprint(d.Attempts), fmt.Sprint(d.Missed), fmt.Sprint(d.Wrong),
			fmt.Sprint(d.Partly), p.Attempts[d.Last].Name, d.Why})
	}
	return []Table{attempts, drill, changes, numbers}
}

// itemOf is the item of "section.part/number".
func itemOf(part string) string {
	item, _, _ := strings.Cut(part, "/")
	return item
}
