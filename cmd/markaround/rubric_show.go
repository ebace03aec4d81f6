package main

import (
	"bufio"
	"fmt"
	"io"
	"path/filepath"
	"strings"
	"unicode/utf8"

	"github.com/spf13/cobra"

	"markaround/cmd/internal/report"
	"markaround/rubric"
)

func newRubricShowCommand() *cobra.Command {
	var with []string
	var phrases bool
	var as string
	var to oneFile
	cmd := &cobra.Command{
		Use:   "show NAME|FILE",
		Short: "Print a score sheet as an outline with ids, numbers and sources",
		Long: `Print a score sheet as an outline: sections, lines, items, what to say of each,
the numbers with their sources, order, holds, and the sources in full. Items
are shown with the ids that marks files use: section.part for an item,
section.part/id for a condition or number.

With --as html it is a page to print and mark by hand: a row of boxes for each
item, what to say of it, and the numbers.`,
		Example: `  markaround rubric show class-a
  markaround rubric show class-a --with passenger
  markaround rubric show my-school.yaml --phrases
  markaround rubric show school-bus --as html -o school-bus.html`,
		Args: func(cmd *cobra.Command, args []string) error {
			if len(args) != 1 {
				return fmt.Errorf("rubric show takes one name or file, got %d; see markaround rubric list", len(args))
			}
			return nil
		},
		RunE: func(cmd *cobra.Command, args []string) error {
			r, err := rubric.Load(args[0], with...)
			if err != nil {
				return err
			}
			write := func(w io.Writer) error { return outline(w, r, phrases) }
			switch {
			case as == htmlForm || as == "" && formOfExtension[strings.ToLower(filepath.Ext(to.path))] == htmlForm:
				write = func(w io.Writer) error { return report.BlankHTML(w, r) }
			case as != "" && as != textForm:
				return fmt.Errorf("unknown form %q for --as; use one of text, html", as)
			}
			return to.write(cmd, write)
		},
	}
	cmd.Flags().StringArrayVar(&with, "with", nil, "overlay or add-on put onto it; may be repeated, in order")
	cmd.Flags().StringVar(&as, "as", "", "form: text or html (default: text, or told from the name of -o)")
	to.flags(cmd)
	cmd.Flags().BoolVar(&phrases, "phrases", false, "print the phrases that are listened for as well")
	return cmd
}

func outline(out io.Writer, r *rubric.Rubric, phrases bool) error {
	w := bufio.NewWriter(out)
	p := func(format string, args ...any) { printWrapped(w, fmt.Sprintf(format, args...)) }
	p("%s", r.Title)
	p("%s; %s version %s%s", r.Edition, r.ID, r.Version, prefixed("; with ", strings.Join(r.With, ", ")))
	sections, lines, items, checks, measures := r.Counts()
	p("%s, %s, %s (%d extra), %s, %s", rubric.Plural(sections, "section"), rubric.Plural(lines, "line"), rubric.Plural(items, "item"), r.Extras(),
		rubric.Plural(checks, "condition"), rubric.Plural(measures, "number"))
	if r.TimeLimit > 0 {
		p("time limit %s%s", report.Clock(r.TimeLimit), sourceOf(r.TimeSource))
	}
	p("pass: %s", report.PassRule(r.Pass))
	p("")
	p("Items marked (critical) fail the test when they are not said. A condition or")
	p("number in parentheses may be left out. An (extra) item has no points and is")
	p("never missed.")

	for _, sec := range r.Sections {
		budget := ""
		if sec.Budget > 0 {
			budget = "  about " + report.Clock(sec.Budget)
		}
		p("\n%s  [%s]%s", strings.ToUpper(sec.Title), sec.ID, budget)
		if phrases {
			sayings(p, "    ", "announced", sec.Say)
		}
		for _, line := range sec.Lines {
			p("\n  %s%s", line.Title, sourceOf(line.Source))
			if phrases {
				sayings(p, "    ", "announced", line.Say)
			}
			for i := range line.Items {
				showItem(p, r, &line.Items[i], phrases)
			}
		}
	}
	if len(r.Order) > 0 {
		p("\nORDER")
		for _, o := range r.Order {
			p("  %s before %s%s%s", o.Before, o.After, prefixed("; ", o.Reason), sourceOf(o.Source))
		}
	}
	if len(r.Holds) > 0 {
		p("\nHOLDS")
		for _, h := range r.Holds {
			p("  [%s] %s: %s from %s to %s%s%s", h.ID, h.Title, report.Clock(h.Seconds), h.From, h.To, prefixed("; ", h.Reason), sourceOf(h.Source))
		}
	}
	if len(r.Agreements) > 0 {
		p("\nREADINGS THAT MUST FIT")
		for _, a := range r.Agreements {
			p("  %s less %s is %s, within %s%s", a.Start, a.End, a.Loss, a.Within, prefixed("; ", a.Reason))
		}
	}
	if sources := r.NamedSources(); len(sources) > 0 {
		p("\nSOURCES")
		for _, s := range sources {
			p("  [%s] %s%s", s.Key, s.Title, prefixed("; ", s.Where))
		}
	}
	if len(r.Cautions) > 0 {
		p("\nCAUTIONS")
		for _, c := range r.Cautions {
			p("  - %s", c)
		}
	}
	return w.Flush()
}

// printWrapped prints s in lines of at most 100 columns, the further ones
// indented below the first.
func printWrapped(w io.Writer, s string) {
	for first := range strings.Lines(s + "\n") {
		first = strings.TrimSuffix(first, "\n")
		indent := first[:len(first)-len(strings.TrimLeft(first, " "))]
		if utf8.RuneCountInString(first) <= 100 {
			fmt.Fprintln(w, first)
			continue
		}
		for i, line := range report.Wrap(first, 96-len(indent)) {
			if i == 1 {
				indent += "    "
			}
			fmt.Fprintln(w, indent+line)
		}
	}
}

func showItem(p func(string, ...any), r *rubric.Rubric, it *rubric.Item, phrases bool) {
	var tags string
	if it.Critical {
		tags += " (critical)"
	}
	if it.Extra {
		tags += " (extra)"
	} else if it.Points != 1 {
		tags += fmt.Sprintf(" (%g points)", it.Points)
	}
	p("    %s  [%s]%s", it.Title, it.ID, tags)
	if phrases {
		sayings(p, "        ", "named", it.Say)
	}
	for i := range it.Checks {
		c := &it.Checks[i]
		p("      - %s  [/%s]", optional(c.Title, c.Minor), c.ID)
		if phrases {
			good, bad := r.Phrases(c)
			sayings(p, "          ", "sound", good)
			sayings(p, "          ", "defect", bad)
		}
	}
	for i := range it.Measures {
		m := &it.Measures[i]
		text := fmt.Sprintf("%s: %s", m.Title, m.Accepted())
		note := prefixed("; ", m.Remark())
		if m.Unconfirmed {
			note += "; not confirmed in a published source"
		}
		p("      # %s  [/%s]%s%s", optional(text, m.Optional), m.ID, note, sourceOf(m.Source))
	}
}

func optional(s string, yes bool) string {
	if yes {
		return "(" + s + ")"
	}
	return s
}

func sayings(p func(string, ...any), indent, label string, list []string) {
	if len(list) > 0 {
		p("%s%s: %s", indent, label, strings.Join(list, " | "))
	}
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
