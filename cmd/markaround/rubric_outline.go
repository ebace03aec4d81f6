package main

import (
	"bufio"
	"fmt"
	"io"
	"strings"
	"unicode/utf8"

	"markaround/cmd/internal/report"
	"markaround/rubric"
)

// entry is a part of the outline. Two outlines have the same part under one key.
type entry struct {
	key  string // "" for what is no part of the sheet
	text string // lines, indented
	all  string // what may change: the text and the phrases, shown or not
}

// outline is a sheet as text with everything that is asked.
type outline struct {
	entries []entry
	phrases bool // shown
}

// add puts in a part, with further words that are part of it but not shown.
func (o *outline) add(key, unseen, format string, args ...any) {
	text := fmt.Sprintf(format, args...)
	o.entries = append(o.entries, entry{key, text, text + "\x00" + unseen})
}

// say adds phrases, when they are shown.
func (o *outline) say(key, indent, label string, list []string) {
	if o.phrases && len(list) > 0 {
		o.add(key+" "+label, "", "%s%s: %s", indent, label, strings.Join(list, " | "))
	}
}

// writeOutline prints the outline of r. Where before is given, what overlays have
// made of it is marked at the beginning of its lines.
func writeOutline(out io.Writer, r, before *rubric.Rubric, phrases bool) error {
	w := bufio.NewWriter(out)
	o := outlineOf(r, phrases)
	if before == nil {
		for _, e := range o.entries {
			printWrapped(w, "", e.text)
		}
		return w.Flush()
	}
	old := map[string]entry{}
	for _, e := range outlineOf(before, phrases).entries {
		old[e.key] = e
	}
	there := map[string]bool{}
	for _, e := range o.entries {
		there[e.key] = true
		mark := "  "
		if was, ok := old[e.key]; e.key == "" || ok && was.all == e.all {
			// as it was
		} else if ok {
			mark = "~ "
		} else {
			mark = "+ "
		}
		printWrapped(w, mark, e.text)
		if e.key == legendAfter {
			printWrapped(w, "  ", fmt.Sprintf("\n+ new with %s; ~ changed, here or in its phrases; - taken off, listed at the end", strings.Join(r.With, ", ")))
		}
	}
	title := "\nTAKEN OFF"
	for _, e := range outlineOf(before, phrases).entries {
		if there[e.key] {
			continue
		}
		if title != "" {
			printWrapped(w, "  ", title)
			title = ""
		}
		printWrapped(w, "- ", strings.TrimPrefix(e.text, "\n"))
	}
	return w.Flush()
}

// legendAfter is the part of the outline that the marks are explained behind.
const legendAfter = "pass"

func outlineOf(r *rubric.Rubric, phrases bool) *outline {
	o := &outline{phrases: phrases}
	o.add("", "", "%s", r.Title)
	o.add("", "", "%s; %s version %s%s", r.Edition, r.ID, r.Version, prefixed("; with ", strings.Join(r.With, ", ")))
	sections, lines, items, checks, measures := r.Counts()
	o.add("", "", "%s, %s, %s (%d extra), %s, %s", rubric.Plural(sections, "section"), rubric.Plural(lines, "line"), rubric.Plural(items, "item"), r.Extras(),
		rubric.Plural(checks, "condition"), rubric.Plural(measures, "number"))
	if r.TimeLimit > 0 {
		o.add("time limit", "", "time limit %s%s", report.Clock(r.TimeLimit), sourceOf(r.TimeSource))
	}
	o.add("pass", "", "pass: %s", report.PassRule(r.Pass))
	o.add("", "", "\nItems marked (critical) fail the test when they are not said. A condition or\n"+
		"number in parentheses may be left out. An (extra) item has no points and is\nnever missed.")

	for _, sec := range r.Sections {
		budget := ""
		if sec.Budget > 0 {
			budget = "  about " + report.Clock(sec.Budget)
		}
		o.add(sec.ID, strings.Join(sec.Say, "|"), "\n%s  [%s]%s", strings.ToUpper(sec.Title), sec.ID, budget)
		o.say(sec.ID, "    ", "announced", sec.Say)
		for _, line := range sec.Lines {
			key := sec.ID + ":" + line.ID
			o.add(key, strings.Join(line.Say, "|"), "\n  %s%s", line.Title, sourceOf(line.Source))
			o.say(key, "    ", "announced", line.Say)
			for i := range line.Items {
				o.item(r, &line.Items[i])
			}
		}
	}
	heading := func(n int, title string) {
		if n > 0 {
			o.add("", "", "\n%s", title)
		}
	}
	heading(len(r.Order), "ORDER")
	for _, rule := range r.Order {
		o.add(rule.Before+">"+rule.After, "", "  %s before %s%s%s", rule.Before, rule.After, prefixed("; ", rule.Reason), sourceOf(rule.Source))
	}
	heading(len(r.Holds), "HOLDS")
	for _, h := range r.Holds {
		o.add("hold "+h.ID, "", "  [%s] %s: %s from %s to %s%s%s", h.ID, h.Title, report.Clock(h.Seconds), h.From, h.To, prefixed("; ", h.Reason), sourceOf(h.Source))
	}
	heading(len(r.Agreements), "READINGS THAT MUST FIT")
	for _, a := range r.Agreements {
		o.add("agreement "+a.Start+" "+a.End+" "+a.Loss, "", "  %s less %s is %s, within %s%s", a.Start, a.End, a.Loss, a.Within, prefixed("; ", a.Reason))
	}
	sources := r.NamedSources()
	heading(len(sources), "SOURCES")
	for _, s := range sources {
		o.add("source "+s.Key, "", "  [%s] %s%s", s.Key, s.Title, prefixed("; ", s.Where))
	}
	heading(len(r.Cautions), "CAUTIONS")
	for _, c := range r.Cautions {
		o.add("caution "+c, "", "  - %s", c)
	}
	return o
}

// printWrapped prints s behind a mark, in lines of at most 100 columns, the
// further ones indented below the first.
func printWrapped(w io.Writer, mark, s string) {
	width := 100 - len(mark)
	print := func(line string) {
		if line != "" {
			line = mark + line
		}
		fmt.Fprintln(w, strings.TrimRight(line, " "))
	}
	for first := range strings.Lines(s + "\n") {
		first = strings.TrimSuffix(first, "\n")
		indent := first[:len(first)-len(strings.TrimLeft(first, " "))]
		if utf8.RuneCountInString(first) <= width {
			print(first)
			continue
		}
		for i, line := range report.Wrap(first, width-4-len(indent)) {
			if i == 1 {
				indent += "    "
			}
			print(indent + line)
		}
	}
}

func (o *outline) item(r *rubric.Rubric, it *rubric.Item) {
	var tags string
	if it.Critical {
		tags += " (critical)"
	}
	if it.Extra {
		tags += " (extra)"
	} else if it.Points != 1 {
		tags += fmt.Sprintf(" (%g points)", it.Points)
	}
	o.add(it.ID, strings.Join(it.Say, "|"), "    %s  [%s]%s", it.Title, it.ID, tags)
	o.say(it.ID, "        ", "named", it.Say)
	for i := range it.Checks {
		c := &it.Checks[i]
		key := it.ID + "/" + c.ID
		good, bad := r.Phrases(c)
		o.add(key, strings.Join(good, "|")+"/"+strings.Join(bad, "|"), "      - %s  [/%s]", optional(c.Title, c.Minor), c.ID)
		o.say(key, "          ", "sound", good)
		o.say(key, "          ", "defect", bad)
	}
	for i := range it.Measures {
		m := &it.Measures[i]
		text := fmt.Sprintf("%s: %s", m.Title, m.Accepted())
		note := prefixed("; ", m.Remark())
		if m.Unconfirmed {
			note += "; not confirmed in a published source"
		}
		o.add(it.ID+"/"+m.ID, strings.Join(m.Near, "|"), "      # %s  [/%s]%s%s", optional(text, m.Optional), m.ID, note, sourceOf(m.Source))
	}
}

func optional(s string, yes bool) string {
	if yes {
		return "(" + s + ")"
	}
	return s
}

func sourceOf(s string) string {
	if s == "" {
		return ""
	}
	return "  {" + s + "}"
}

func prefixed(prefix, s string) string {
	if s == "" {
		return ""
	}
	return prefix + s
}
