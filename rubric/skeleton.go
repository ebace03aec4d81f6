package rubric

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

// Skeleton is the text of a rubric file that is made from another with
// overlays. It reads as it stands and changes nothing. What may be changed
// follows as comments, so that a person only takes the # off: lines that begin
// with "# " are for people, those that begin with # alone are YAML.
//
// Base and with are the names that the file gives. It fails when id is no id or
// the base cannot be had.
func Skeleton(id, base string, with ...string) ([]byte, error) {
	if !isName(id, "-") {
		return nil, fmt.Errorf("id %q; use lower-case letters, digits and hyphens", clip(id))
	}
	r, err := Load(base, with...)
	if err != nil {
		return nil, err
	}
	var b strings.Builder
	p := func(format string, args ...any) { fmt.Fprintf(&b, format+"\n", args...) }
	from := base
	if len(with) > 0 {
		from += " with " + strings.Join(with, ", ")
	}
	p("# A score sheet of your own, made from %s. It reads as it is. Take the # off the", from)
	p("# front of what you want to have otherwise, change it, and try it:")
	p("#   markaround rubric check %s.yaml", id)
	p("rubric: %s", id)
	p("base: %s", scalar(base))
	if len(with) > 0 {
		quoted := make([]string, len(with))
		for i, w := range with {
			quoted[i] = scalar(w)
		}
		p("with: [%s]", strings.Join(quoted, ", "))
	}
	p("title: %s", scalar(r.Title))
	if r.Edition != "" {
		p("edition: %s", scalar(r.Edition))
	}
	p("version: \"1\" # change it whenever marks may change")
	p("")
	p("# The time limit (45 min, 1 h 30 min, none) and the rule for a pass.")
	p("#time_limit: %s", limit(r.TimeLimit))
	p("#time_source: our own rule")
	p("#pass: {min_share: %s, critical: %t, within_limit: %t, note: our own rule}", strconv.FormatFloat(r.Pass.MinShare, 'f', -1, 64), r.Pass.Critical, r.Pass.WithinLimit)
	p("")
	p("# Documents that your figures come from; name the key as source: of a number.")
	p("#sources:")
	p("#  - {key: our-state, title: Our state's manual, where: section 5}")
	p("")
	p("# More ways to say what is said of many parts, and what your recognizer writes.")
	p("#conditions:")
	for _, c := range r.Conditions {
		p("#  - {id: %s, good: [your own words], bad: [your own word for the defect]} # %s", c.ID, c.Title)
	}
	p("#heard_as:")
	p("#  - {means: your own words, heard: [what it writes]}")
	p("")
	p("# What is not on your list: a section, an item, one condition or number of it.")
	p("#drop:")
	for _, s := range r.Sections {
		p("#  - %s # %s, the whole section", s.ID, s.Title)
		for _, l := range s.Lines {
			for _, it := range l.Items {
				p("#  - %s # %s", it.ID, it.Title)
			}
		}
	}
	p("")
	p("# Where the student stands: other words to announce it, another time.")
	p("#sections:")
	for _, s := range r.Sections {
		budget := ""
		if s.Budget > 0 {
			budget = ", budget: " + spelledSeconds(s.Budget)
		}
		p("#  - {id: %s, title: %s%s}", s.ID, scalar(s.Title), budget)
	}
	p("")
	p("# Items of your own, in a line that is there or a new one.")
	first := &r.Sections[0]
	p("#lines:")
	p("#  - section: %s", first.ID)
	p("#    id: our-own")
	p("#    title: Our own items")
	p("#    items:")
	p("#      - {id: our-item, title: Our item, say: [our item], checks: [{id: done, title: done, good: [done]}]}")
	p("")
	p("# Other figures and words. Only what is named changes; say: [...] adds ways to name")
	p("# an item, extra: true takes it off the points, critical: true fails the sheet.")
	p("#items:")
	for e := range r.All() {
		it := e.Item
		p("#  - id: %s # %s", it.ID, it.Title)
		p("#    title: %s", scalar(it.Title))
		if len(it.Measures) == 0 {
			continue
		}
		p("#    measures:")
		for i := range it.Measures {
			m := &it.Measures[i]
			p("#      - {id: %s, min: %s, max: %s, source: %s} # %s, %s", m.ID, end(m.Min), end(m.Max), scalar(m.Source), m.Title, m.Unit)
		}
	}
	return []byte(b.String()), nil
}

// limit is a time limit in YAML.
func limit(seconds float64) string {
	if seconds == 0 {
		return "none"
	}
	return spelledSeconds(seconds)
}

// spelledSeconds is a time as people write it and parseSeconds reads it: in
// minutes where these are whole, else in seconds.
func spelledSeconds(seconds float64) string {
	if minutes := seconds / 60; minutes == math.Trunc(minutes) {
		return strconv.FormatFloat(minutes, 'f', -1, 64) + " min"
	}
	return strconv.FormatFloat(seconds, 'f', -1, 64) + " s"
}

// end is one end of a range in YAML.
func end(figure string) string {
	if figure == "" {
		return "null"
	}
	return figure
}

// scalar is a text in YAML, in quotes unless it is plain words.
func scalar(s string) string {
	if isName(s, "-._/ ") && strings.ToLower(s) == s {
		return s
	}
	return strconv.Quote(s)
}
