package report

import (
	"bufio"
	"cmp"
	"fmt"
	"io"
	"slices"
	"strings"
	"unicode/utf8"

	"markaround/rubric"
	"markaround/speech"
)

// TextOptions says how Text is laid out.
type TextOptions struct {
	Color bool // marks and headings in color; the words say the same without
	Width int  // columns, 60 to 100; 0 is 100
	All   bool // list the items that were said as well

	Transcript *speech.Transcript // for the words around the evidence; may be nil
}

// Text writes the sheet for a terminal: the result, the points, then what went
// wrong, what was left out, and what to hear again.
func Text(w io.Writer, s *rubric.Sheet, opt TextOptions) error {
	b := bufio.NewWriter(w)
	t := &texter{w: b, color: opt.Color, width: 100, titles: titles(s), words: opt.Transcript}
	if opt.Width > 0 {
		t.width = min(max(opt.Width, 60), 100)
	}
	d := newDigest(s)
	t.head(s, d)
	t.points(s)
	t.critical(d)
	t.numbers(d)
	t.contradictions(d)
	t.missed(d)
	t.partly(d)
	t.findings(d)
	t.pace(s, d)
	t.listen(d)
	t.corrected(d)
	if opt.All {
		t.said(d)
	}
	t.sources(d)
	t.notes("TRANSCRIPT NOTES", s.Warnings)
	t.notes("CAUTIONS", s.Cautions)
	return b.Flush()
}

type texter struct {
	w      *bufio.Writer
	color  bool
	width  int
	titles map[string]string
	words  *speech.Transcript
}

// quote is the evidence in quotation marks, with the words around it in so far
// as there is room.
func (t *texter) quote(ev rubric.Evidence, width int) string {
	return `"` + inContext(t.words, ev).fit(max(width-2, 12)) + `"`
}

// The few terminal colors in use; each goes with a word that says the same.
const (
	bold   = "1"
	red    = "31"
	yellow = "33"
	green  = "32"
	cyan   = "36"
)

func (t *texter) paint(code, s string) string {
	if !t.color || code == "" {
		return s
	}
	return "\x1b[" + code + "m" + s + "\x1b[0m"
}

func markColor(m rubric.Mark) string {
	switch m {
	case rubric.Said:
		return green
	case rubric.Partly:
		return yellow
	}
	return red
}

func (t *texter) line(s string) { fmt.Fprintln(t.w, strings.TrimRight(s, " ")) }

// heading starts a part: "WRONG NUMBERS (3)  remark".
func (t *texter) heading(name string, n int, remark string) {
	h := t.paint(bold, name)
	if n >= 0 {
		h += fmt.Sprintf(" (%d)", n)
	}
	if remark != "" && len(name)+8+len(remark) <= t.width {
		h += "  " + remark
	}
	t.line("")
	t.line(h)
}

// field writes "  label    text", wrapped with a hanging indent.
func (t *texter) field(indent int, label string, labelWidth int, text string) {
	lead := strings.Repeat(" ", indent) + pad(label, labelWidth) + "  "
	t.hang(lead, utf8.RuneCountInString(lead), clean(text))
}

// hang writes text behind lead, which takes up at columns, and what does not fit
// below itself.
func (t *texter) hang(lead string, at int, text string) {
	for _, l := range Wrap(text, t.width-at) {
		t.line(lead + l)
		lead = strings.Repeat(" ", at)
	}
}

// timeWidth fits "1:02:03".
const timeWidth = 7

// stamp is a time set to the right of its column, so that the colons line up.
func stamp(seconds float64) string { return fmt.Sprintf("%*s", timeWidth, Clock(seconds)) }

func (t *texter) head(s *rubric.Sheet, d digest) {
	t.line(t.paint(bold, clean(s.Rubric.Title)))
	var about []string
	if s.Rubric.Edition != "" {
		about = append(about, clean(s.Rubric.Edition))
	}
	about = append(about, "score sheet "+clean(s.Rubric.ID)+" version "+clean(s.Rubric.Version))
	if len(s.Rubric.With) > 0 {
		about = append(about, "with "+clean(strings.Join(s.Rubric.With, ", ")))
	}
	t.hang("", 0, strings.Join(about, "; "))
	t.line("")
	const lw = 8
	t.field(0, "Attempt", lw, fmt.Sprintf("%s, from %s (%s), %s", s.Attempt, s.Source, s.Format, rubric.Plural(s.Words, "word")))
	word, color := "PASS", green
	if !s.Result.Pass {
		word, color = "NO PASS", red
	}
	figures := fmt.Sprintf("%s of %s (%s)", rubric.Figure(s.Points), rubric.Points(s.Of), percent(s.Points, s.Of))
	room := t.width - lw - len(word) - 5 - len(figures)
	t.line(pad("Result", lw) + "  " + t.paint(bold+";"+color, word) + "   " + figures + atEnd(spent(s.Pace), room))
	for _, r := range d.Reasons {
		t.field(lw+2, "-", 1, r)
	}
	if s.Result.Rule != "" {
		t.field(0, "Rule", lw, s.Result.Rule)
	}
}

// atEnd is s after a gap where there is room for it, else nothing: the time
// stands under PACE as well.
func atEnd(s string, room int) string {
	if len(s)+3 > room {
		return ""
	}
	return "   " + s
}

// spent is the time used and the limit.
func spent(p rubric.Pace) string {
	used := "time " + usedTime(p)
	if p.Limit > 0 {
		used += " of " + limitTime(p.Limit)
	}
	return used
}

func (t *texter) points(s *rubric.Sheet) {
	t.line("")
	name := len("Section")
	for _, sec := range s.Sections {
		name = max(name, utf8.RuneCountInString(clean(sec.Title)))
	}
	name = min(name, t.width-52)
	row := func(cells ...string) string {
		return fmt.Sprintf("%s  %9s  %6s  %5s  %6s  %5s  %6s",
			pad(Shorten(cells[0], name), name), cells[1], cells[2], cells[3], cells[4], cells[5], cells[6])
	}
	t.line(t.paint(bold, row("Section", "points", "", "said", "partly", "wrong", "missed")))
	for _, sec := range s.Sections {
		t.line(sectionRow(row, clean(sec.Title), sec))
	}
	t.line(sectionRow(row, "All", total(s)))
}

func sectionRow(row func(...string) string, name string, m rubric.SectionMark) string {
	n := func(k int) string {
		if k == 0 {
			return "."
		}
		return fmt.Sprint(k)
	}
	return row(name, rubric.Figure(m.Points)+"/"+rubric.Figure(m.Of), percent(m.Points, m.Of), n(m.Said), n(m.Partly), n(m.Wrong), n(m.Missed))
}

func (t *texter) critical(d digest) {
	if len(d.Critical) == 0 {
		return
	}
	t.heading("CRITICAL FAILURES", len(d.Critical), "each fails the test by itself")
	for _, c := range d.Critical {
		name := clean(c.Title)
		if c.Section != "" {
			name = clean(c.Section) + ": " + name
		}
		if c.Listen {
			name += " (listen)"
		}
		t.entry(c.Start, pad(c.What, 7), red, name, c.Reason)
	}
}

// above says of a heading's count how many are listed further up.
func above(all int, listed []group) string {
	n := all - count(listed)
	if n == 0 {
		return ""
	}
	return fmt.Sprintf("%d critical, listed above", n)
}

// entry writes "   12:04  missed   Title" and the note below the title.
func (t *texter) entry(start float64, word, color, title, note string) {
	lead := stamp(start) + "  " + t.paint(color, word) + "  "
	at := timeWidth + 4 + utf8.RuneCountInString(word)
	t.hang(lead, at, title)
	if note = clean(note); note != "" && note != title {
		t.hang(strings.Repeat(" ", at), at, note)
	}
}

// labelWidth fits "accepted" and "expected".
const labelWidth = 8

func (t *texter) numbers(d digest) {
	if len(d.Numbers) == 0 {
		return
	}
	t.heading("WRONG NUMBERS", len(d.Numbers), "")
	for _, n := range d.Numbers {
		name := n.Item.Title
		if n.Measure.Title != "" && n.Measure.Title != name {
			name += ": " + n.Measure.Title
		}
		t.field(0, stamp(n.Said.Start), timeWidth, name+tags(n.Item))
		said := n.Measure.Said
		if n.Measure.Problem == "direction" {
			said += " (the bound points the wrong way)"
		}
		t.field(timeWidth+2, "said", labelWidth, said)
		if n.Said.Words != "" {
			t.field(timeWidth+2, "words", labelWidth, t.quote(n.Said, t.width-timeWidth-labelWidth-4))
		}
		accepted := n.Measure.Accepted
		if n.Measure.Note != "" {
			accepted += "; " + n.Measure.Note
		}
		t.field(timeWidth+2, "accepted", labelWidth, accepted)
		source := n.Measure.Source
		if n.Measure.Unconfirmed {
			source = strings.TrimPrefix(source+"; figure not confirmed in a published source", "; ")
		}
		t.field(timeWidth+2, "source", labelWidth, source)
	}
}

// tags are the remarks behind an item's title.
func tags(it rubric.ItemMark) string {
	var s string
	if it.Critical {
		s += " (critical)"
	}
	if it.Extra {
		s += " (extra)"
	}
	return s
}

func (t *texter) contradictions(d digest) {
	if len(d.Contradictions) == 0 {
		return
	}
	t.heading("CONTRADICTED CONDITIONS", len(d.Contradictions), "the words say the opposite of what is looked for")
	for _, c := range d.Contradictions {
		t.field(0, stamp(c.Said.Start), timeWidth, c.Item.Title+tags(c.Item))
		if c.Check.Title != "" {
			t.field(timeWidth+2, "expected", labelWidth, c.Check.Title)
		} else {
			t.field(timeWidth+2, "why", labelWidth, c.Item.Reason)
		}
		if c.Said.Words != "" {
			t.field(timeWidth+2, "words", labelWidth, t.quote(c.Said, t.width-timeWidth-labelWidth-4))
		}
	}
}

func (t *texter) missed(d digest) {
	if len(d.Missed) == 0 {
		return
	}
	t.heading("MISSED", d.AllMissed, above(d.AllMissed, d.Missed))
	for _, g := range d.Missed {
		t.group(g)
		for _, it := range g.Items {
			name := it.Title + tags(it)
			if it.Listen {
				name += " (listen)"
			}
			t.field(4, "-", 1, name)
		}
	}
}

func (t *texter) group(g group) {
	t.line("  " + t.paint(bold, Shorten(clean(g.Section.Title), t.width-10)) + fmt.Sprintf(" (%d)", len(g.Items)))
}

func (t *texter) partly(d digest) {
	if len(d.Partly) == 0 {
		return
	}
	remark := "and what was left out"
	if up := above(d.AllPartly, d.Partly); up != "" {
		remark += "; " + up
	}
	t.heading("PARTLY SAID", d.AllPartly, remark)
	name := t.nameWidth(d.Partly)
	for _, g := range d.Partly {
		t.group(g)
		for _, it := range g.Items {
			left := strings.Join(it.Omitted, "; ")
			if left == "" {
				left = it.Reason
			}
			t.field(0, stamp(it.Start)+"  "+pad(Shorten(clean(it.Title+tags(it)), name), name), timeWidth+2+name, left)
		}
	}
}

// nameWidth is the width of a column of item titles. Those longer than 44 of 100
// columns are shortened.
func (t *texter) nameWidth(gs []group) int {
	w := 0
	for _, g := range gs {
		for _, it := range g.Items {
			w = max(w, utf8.RuneCountInString(clean(it.Title+tags(it))))
		}
	}
	return min(w, t.width*44/100)
}

func (t *texter) findings(d digest) {
	if len(d.Findings) == 0 {
		return
	}
	t.heading("ORDER, HOLDS AND READINGS", len(d.Findings), "")
	for _, f := range d.Findings {
		t.finding(f)
	}
}

func (t *texter) finding(f rubric.Finding) {
	text := clean(f.Text)
	if f.Critical {
		text += " (critical)"
	}
	t.entry(f.Start, pad(string(f.Kind), 7), red, text, f.Reason)
	for _, ev := range runTogether(t.words, f.Evidence) {
		if ev.Words != "" {
			lead := strings.Repeat(" ", timeWidth+11) + stamp(ev.Start) + "  "
			t.line(lead + t.quote(ev, t.width-utf8.RuneCountInString(lead)))
		}
	}
}

func (t *texter) pace(s *rubric.Sheet, d digest) {
	p := s.Pace
	t.heading("PACE", -1, "")
	const lw = 11
	limit := "no limit"
	if p.Limit > 0 {
		limit = "limit " + limitTime(p.Limit)
		if over := p.End - p.Start - p.Limit; over > 0 {
			limit += ", over by " + clockUp(over)
		}
	}
	t.field(2, "Time", lw, fmt.Sprintf("%s, from %s to %s; %s", usedTime(p), Clock(p.Start), Clock(p.End), limit))
	if p.WordsPerMinute > 0 {
		t.field(2, "Rate", lw, fmt.Sprintf("%.0f words a minute", p.WordsPerMinute))
	}
	if len(p.DeadAir) > 0 {
		var at []string
		for _, g := range p.DeadAir[:min(len(p.DeadAir), 5)] {
			at = append(at, fmt.Sprintf("%s at %s", Clock(g.End-g.Start), Clock(g.Start)))
		}
		more := ""
		if n := len(p.DeadAir) - len(at); n > 0 {
			more = fmt.Sprintf(" and %d more", n)
		}
		t.field(2, "Dead air", lw, fmt.Sprintf("%s in all, longest first: %s%s", Clock(deadAir(p)), strings.Join(at, ", "), more))
	}
	t.names("After limit", lw, p.AfterLimit)
	t.names("Rushed", lw, p.Rushed)
	t.recording(s, lw)
	if len(p.Sections) > 0 {
		name := 0
		for _, sec := range p.Sections {
			name = max(name, utf8.RuneCountInString(clean(title(t.titles, sec.Section))))
		}
		name = min(name, t.width-42)
		t.line(t.paint(bold, fmt.Sprintf("  %s  %7s  %7s", pad("Section", name), "time", "budget")))
		for _, sec := range p.Sections {
			budget, over := "", ""
			if sec.Budget > 0 {
				budget = Clock(sec.Budget)
				if sec.Seconds > sec.Budget {
					over = "  " + t.paint(yellow, "over by "+Clock(sec.Seconds-sec.Budget))
				}
			}
			t.line(fmt.Sprintf("  %s  %s  %7s%s", pad(Shorten(clean(title(t.titles, sec.Section)), name), name), stamp(sec.Seconds), budget, over))
		}
	}
	for _, f := range d.PaceFindings {
		t.finding(f)
	}
}

// recording says what the recording shows beyond the transcript.
func (t *texter) recording(s *rubric.Sheet, lw int) {
	r := s.Recording
	if r == nil {
		return
	}
	text := fmt.Sprintf("%s, %s; speech for %s", r.File, Clock(r.Seconds), Clock(r.Speech))
	if moved := Moved(r); moved != "" {
		text += "; " + moved
	}
	t.field(2, "Recording", lw, text)
	t.gaps("Unheard", lw, "of speech without words", r.Unheard)
	t.gaps("Unspoken", lw, "of words where nobody speaks", r.Unspoken)
}

// gaps lists stretches of the recording, the longest first.
func (t *texter) gaps(label string, lw int, of string, gaps []rubric.Gap) {
	if len(gaps) == 0 {
		return
	}
	sorted := slices.Clone(gaps)
	slices.SortStableFunc(sorted, func(a, b rubric.Gap) int { return cmp.Compare(b.End-b.Start, a.End-a.Start) })
	var at []string
	sum := 0.0
	for i, g := range sorted {
		sum += g.End - g.Start
		if i < 5 {
			at = append(at, fmt.Sprintf("%.0f s at %s", g.End-g.Start, Clock(g.Start)))
		}
	}
	more := ""
	if n := len(sorted) - len(at); n > 0 {
		more = fmt.Sprintf(" and %d more", n)
	}
	t.field(2, label, lw, fmt.Sprintf("%.0f s %s, longest first: %s%s", sum, of, strings.Join(at, ", "), more))
}

func (t *texter) names(label string, labelWidth int, ids []string) {
	if len(ids) == 0 {
		return
	}
	var list []string
	for _, id := range ids {
		list = append(list, title(t.titles, id))
	}
	t.field(2, label, labelWidth, fmt.Sprintf("%s: %s", rubric.Plural(len(ids), "item"), strings.Join(list, "; ")))
}

func (t *texter) listen(d digest) {
	if len(d.Listen) == 0 {
		return
	}
	t.heading("LISTEN TO", len(d.Listen), "the mark is doubtful; hear the recording at the time shown")
	items := make([]rubric.ItemMark, len(d.Listen))
	for i, l := range d.Listen {
		items[i] = l.Item
	}
	name := t.nameWidth([]group{{Items: items}})
	const at = timeWidth + 16
	for i, l := range d.Listen {
		lead := stamp(l.At.Start) + "  " + t.paint(markColor(l.Item.Mark), pad(string(l.Item.Mark), 6)) + fmt.Sprintf("  %.2f  ", l.Item.Confidence)
		lead += pad(Shorten(clean(l.Item.Title+tags(l.Item)), name), name)
		if room := t.width - at - name - 2; l.At.Words != "" && room >= 14 {
			lead += "  " + t.quote(l.At, room)
		}
		t.line(lead)
		// What holds for several in a row is said once, below the last.
		if i+1 == len(d.Listen) || d.Listen[i+1].Why != l.Why || l.At.Words != "" {
			t.field(at-2, "", 0, l.Why)
		}
	}
}

func (t *texter) corrected(d digest) {
	if len(d.Corrected) == 0 {
		return
	}
	t.heading("CORRECTED", len(d.Corrected), "by a person; points and result go by it")
	for _, c := range d.Corrected {
		what := fmt.Sprintf("%s, was %s", c.Mark, c.Was)
		if !c.Changed {
			what = c.Mark + ", confirmed"
		}
		t.field(2, "-", 1, c.Title+": "+what)
		t.field(5, "", 0, strings.TrimSuffix(fmt.Sprintf("by %s, %s: %s", c.Who, c.When, c.Why), ": "))
	}
}

func (t *texter) sources(d digest) {
	if len(d.Sources) == 0 {
		return
	}
	t.heading("SOURCES", -1, "of the numbers above")
	key := 0
	for _, src := range d.Sources {
		key = max(key, utf8.RuneCountInString(clean(src.Key)))
	}
	key = min(key, 20)
	for _, src := range d.Sources {
		where := ""
		if src.Where != "" {
			where = "; " + src.Where
		}
		t.field(2, Shorten(clean(src.Key), key), key, src.Title+where)
	}
}

func (t *texter) said(d digest) {
	if len(d.Said) == 0 {
		return
	}
	t.heading("SAID", count(d.Said), "")
	name := t.nameWidth(d.Said)
	for _, g := range d.Said {
		t.group(g)
		for _, it := range g.Items {
			ev := deciding(it)
			lead := stamp(ev.Start) + "  " + pad(Shorten(clean(it.Title+tags(it)), name), name) + "  "
			if ev.Words != "" {
				lead += t.quote(ev, t.width-timeWidth-name-4)
			}
			t.line(lead)
		}
	}
}

func (t *texter) notes(name string, notes []string) {
	if len(notes) == 0 {
		return
	}
	t.heading(name, -1, "")
	for _, n := range notes {
		t.field(2, "-", 1, n)
	}
}
