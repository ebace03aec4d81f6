package main

import (
	"fmt"
	"io"
	"strings"

	"github.com/spf13/cobra"

	"markaround/cmd/internal/report"
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
		fmt.Fprintf(w, "  %-18s  %s; %s; %s\n", name, r.Title, r.Edition, rubric.Plural(items, "item"))
	}
	if len(overlays) == 0 {
		return nil
	}
	fmt.Fprintln(w, "\nOverlays and add-ons (--with)")
	for _, name := range overlays {
		title, fit, err := fits(name, rubrics)
		if err != nil {
			return err
		}
		fmt.Fprintf(w, "  %-18s  %s\n", name, title)
		for _, line := range report.Wrap(fit, 78) {
			fmt.Fprintf(w, "  %-18s  %s\n", "", line)
		}
	}
	return nil
}

// fits gives an overlay's title, and says which score sheets it goes onto and
// what it does to the number of items there.
func fits(overlay string, rubrics []string) (title, fit string, err error) {
	o, err := rubric.ReadOverlay(overlay+".yaml", rubric.SourceText(overlay))
	if err != nil {
		return "", "", err
	}
	var list []string
	for _, name := range rubrics {
		base, err := rubric.Load(name)
		if err != nil || !o.Fits(base) {
			continue
		}
		whole, err := rubric.Compose(base, o)
		if err != nil {
			continue // it is part of that sheet already, or changes what is not there
		}
		_, _, before, _, _ := base.Counts()
		_, _, after, _, _ := whole.Counts()
		if after != before {
			name += fmt.Sprintf(" (%+d %s)", after-before, itemsOf(after-before))
		}
		list = append(list, name)
	}
	if len(list) == 0 {
		return o.Title, "fits no built-in score sheet by itself", nil
	}
	return o.Title, "for " + strings.Join(list, ", "), nil
}

func itemsOf(n int) string {
	if n == 1 || n == -1 {
		return "item"
	}
	return "items"
}
