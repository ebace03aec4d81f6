package main

import (
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"

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

With overlays (--with), lines that begin with + are new, those with ~ are changed
by them, in what is shown or in the phrases, and what they drop is listed at the
end, with - in front.

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
			if err := refuseOverlay(args[0]); err != nil {
				return err
			}
			r, err := rubric.Load(args[0], with...)
			if err != nil {
				return err
			}
			var before *rubric.Rubric
			if len(with) > 0 {
				if before, err = rubric.Load(args[0]); err != nil {
					return err
				}
			}
			write := func(w io.Writer) error { return writeOutline(w, r, before, phrases) }
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

// refuseOverlay says how an overlay is shown: on a score sheet.
func refuseOverlay(name string) error {
	data := rubric.SourceText(name)
	if data == nil {
		var err error
		if data, err = os.ReadFile(name); err != nil {
			return nil // Load says what is wrong
		}
	}
	if !overlayKey.Match(data) {
		return nil
	}
	sheet := "NAME"
	if o, err := rubric.ReadOverlay(name, data); err == nil && len(o.For) > 0 {
		sheet = o.For[0]
	}
	return fmt.Errorf("%s is an overlay, to be shown on a score sheet; use markaround rubric show %s --with %s", name, sheet, name)
}
