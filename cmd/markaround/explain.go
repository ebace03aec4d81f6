package main

import (
	"encoding/json"
	"fmt"
	"io"
	"strings"

	"github.com/spf13/cobra"

	"markaround/align"
	"markaround/cmd/internal/report"
)

type explainFlags struct {
	markFlags
	as string
}

func newExplainCommand() *cobra.Command {
	var f explainFlags
	cmd := &cobra.Command{
		Use:   "explain FILE ITEM",
		Short: "Show why an item got its mark",
		Long: `Mark one transcript and show how one item came to its mark: the words that were
considered for it and why they were taken or not, the student's way around it,
and what would have earned it. ITEM is an id as in "markaround rubric show",
section.part; or the item's title, or the last part of its id, where no other item
has the same.`,
		Example: `  markaround explain student-07.srt coupling.kingpin
  markaround explain student-07.srt "Windshield washers"
  markaround explain student-07.json air.leak --as json`,
		Args: func(cmd *cobra.Command, args []string) error {
			if len(args) != 2 {
				return fmt.Errorf("explain takes a transcript and an item, %d given; see markaround explain --help", len(args))
			}
			return nil
		},
		RunE: func(cmd *cobra.Command, args []string) error {
			return explain(args[0], args[1], f, cmd.InOrStdin(), cmd.OutOrStdout())
		},
	}
	fl := cmd.Flags()
	fl.SortFlags = false
	f.markFlags.add(fl)
	fl.StringVar(&f.as, "as", "text", "form: text or json")
	return cmd
}

func explain(path, item string, f explainFlags, stdin io.Reader, stdout io.Writer) error {
	if f.as != "text" && f.as != "json" {
		return fmt.Errorf("--as %s is no form of explain; use text or json", f.as)
	}
	m, err := newMarker(f.markFlags, stdin)
	if err != nil {
		return err
	}
	id, fault := whichItem(namesOfRubric(m.rubric), item, "markaround rubric show "+f.rubric)
	if id == "" {
		return fmt.Errorf("score sheet %s has %s", m.rubric.ID, fault)
	}
	h, err := m.hear(input{path: path, attempt: attemptOf(path)})
	if err != nil {
		return err
	}
	e, err := m.matcher.Explain(h.words, h.options(), id)
	if err != nil {
		return err
	}
	if f.as == "json" {
		enc := json.NewEncoder(stdout)
		enc.SetIndent("", "  ")
		return enc.Encode(e)
	}
	return writeExplanation(stdout, e)
}

func writeExplanation(w io.Writer, e *align.Explanation) error {
	var b strings.Builder
	m := &e.Mark
	fmt.Fprintf(&b, "%s (%s): %s, confidence %.2f\n", m.Title, m.ID, m.Mark, m.Confidence)
	para(&b, "  ", m.Reason)
	if e.Damage > 0 {
		para(&b, "  ", fmt.Sprintf("The transcript looks damaged: about %.0f of 100 words are not as spoken.", e.Damage*100))
	}
	b.WriteString("\nWords considered\n")
	if len(e.Candidates) == 0 {
		b.WriteString("  none: no words of the transcript are like any way to say it\n")
	}
	for _, c := range e.Candidates {
		took := "-"
		if c.Taken {
			took = "+"
		}
		fmt.Fprintf(&b, "  %s %s  %.2f  %q\n", took, report.Clock(c.Start), c.Likeness, c.Words)
		para(&b, "              ", c.Why)
	}
	if len(e.Path) > 0 {
		b.WriteString("\nThe student's way around it\n")
		for _, s := range e.Path {
			fmt.Fprintf(&b, "    %s  %-28s %s\n", report.Clock(s.Start), s.Section+" / "+s.Line, s.Words)
		}
	}
	if len(e.Earns) > 0 {
		b.WriteString("\nWhat would have earned it\n")
		for _, s := range e.Earns {
			para(&b, "  - ", s)
		}
	}
	_, err := io.WriteString(w, b.String())
	return err
}

// para writes text in lines of at most 96 columns, the first after lead and the
// others as far in.
func para(b *strings.Builder, lead, text string) {
	for i, line := range report.Wrap(text, 96-len(lead)) {
		if i > 0 {
			lead = strings.Repeat(" ", len(lead))
		}
		b.WriteString(lead + line + "\n")
	}
}
