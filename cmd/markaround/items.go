package main

import (
	"fmt"
	"io"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"markaround/cmd/internal/report"
	"markaround/rubric/cohort"
)

func newItemsCommand() *cobra.Command {
	var f schoolFlags
	var count string
	var marks []string
	cmd := &cobra.Command{
		Use:   "items",
		Short: "Analyze the items: how hard, how telling, what is left out, which numbers go wrong",
		Long: `Analyze the items of the attempts that are kept: how many get each right
(difficulty), how it goes with the rest of the sheet (discrimination), how far the
sheet measures one thing (reliability), which checks are left out most, which wrong
numbers are said most and instead of what, where the time goes, and which items tell
nothing since all get them right or nobody does. Marks are those with your
corrections. Each score sheet is looked at by itself.

Whether two people mark alike is told by kappa, where both marked the same attempts.
The store cannot tell that: it keeps corrections, which people make where the program
erred, and no second marking. Write each person's marks of the same attempts into a
file in the form that "agree" reads, and give each with --marks.`,
		Example: `  markaround items
  markaround items --cohort fall --attempts last -o items.html
  markaround items --as csv --table left-out
  markaround items --marks I-03.csv --marks I-07.csv`,
		Args: noArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			if err := f.check("items", "left-out", "numbers", "sections", "reliability", "pairs"); err != nil {
				return err
			}
			var markers []*cohort.Marks
			for _, path := range marks {
				m, err := readMarksFile(path)
				if err != nil {
					return err
				}
				markers = append(markers, m)
			}
			if len(markers) == 1 {
				return fmt.Errorf("--marks %s: two people or more are compared; give a file for each", marks[0])
			}
			r, err := f.records(cmd, true)
			if err != nil {
				return err
			}
			studies, err := cohort.Analyze(r.List, cohort.Count(count))
			if err != nil {
				return err
			}
			items := &report.Items{Markers: len(markers)}
			for _, s := range studies {
				items.Studies = append(items.Studies, report.ItemStudy{Rubric: r.Rubrics[s.Form], ItemStudy: s})
			}
			if items.Pairs, err = cohort.AgreeByPair(markers); err != nil {
				return fmt.Errorf("%w; give the files different names", err)
			}
			about := f.about(r)
			return f.write(cmd, schoolReport{
				text:   func(w io.Writer, opt report.TextOptions) error { return report.ItemsText(w, items, about, opt) },
				json:   func(w io.Writer) error { return report.ItemsJSON(w, items, about) },
				page:   func(w io.Writer) error { return report.ItemsPage(w, items, about) },
				tables: func() []report.Table { return report.ItemsTables(items, about) },
			})
		},
	}
	f.add(cmd, true, "items, left-out, numbers, sections, reliability or pairs", func(fl *pflag.FlagSet) {
		countFlag(fl, &count)
		fl.StringArrayVar(&marks, "marks", nil, "a person's marks of attempts, as agree reads them; two or more, for their agreement")
	})
	return cmd
}
