package main

import (
	"fmt"
	"io"
	"strings"

	"github.com/spf13/cobra"

	"markaround/rubric"
)

func newRubricListCommand() *cobra.Command {
	return &cobra.Command{
		Use:     "list",
		Short:   "List the built-in score sheets and overlays",
		Example: `  markaround rubric list`,
		Args:    noArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			return listRubrics(cmd.OutOrStdout())
		},
	}
}

func listRubrics(w io.Writer) error {
	rubrics, overlays := rubric.Names()
	fmt.Fprintln(w, "Score sheets (--rubric)")
	for _, name := range rubrics {
		r, err := rubric.Load(name)
		if err != nil {
			return err
		}
		_, _, items, _, _ := r.Counts()
		fmt.Fprintf(w, "  %-16s  %s; %s; %s\n", name, r.Title, r.Edition, rubric.Plural(items, "item"))
	}
	if len(overlays) == 0 {
		return nil
	}
	fmt.Fprintln(w, "\nOverlays and add-ons (--with)")
	for _, name := range overlays {
		fmt.Fprintf(w, "  %-16s  %s\n", name, fits(name, rubrics))
	}
	return nil
}

// fits says which score sheets an overlay goes onto, and what it does to the
// number of items there.
func fits(overlay string, rubrics []string) string {
	var list []string
	for _, name := range rubrics {
		base, err := rubric.Load(name)
		if err != nil {
			continue
		}
		whole, err := rubric.Load(name, overlay)
		if err != nil {
			continue
		}
		_, _, before, _, _ := base.Counts()
		_, _, after, _, _ := whole.Counts()
		list = append(list, fmt.Sprintf("%s (%+d %s)", name, after-before, itemsOf(after-before)))
	}
	if len(list) == 0 {
		return "fits no built-in score sheet by itself"
	}
	return "for " + strings.Join(list, ", ")
}

func itemsOf(n int) string {
	if n == 1 || n == -1 {
		return "item"
	}
	return "items"
}
