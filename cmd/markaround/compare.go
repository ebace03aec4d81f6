package main

import (
	"errors"
	"fmt"
	"io"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"markaround/cmd/internal/report"
	"markaround/cmd/internal/store"
	"markaround/rubric/cohort"
)

func newCompareCommand() *cobra.Command {
	var f schoolFlags
	var by, count string
	var o cohort.GroupOptions
	cmd := &cobra.Command{
		Use:   "compare",
		Short: "Compare cohorts, sites, instructors, vehicles, or before and after a day",
		Long: `Compare groups of the students whose attempts are kept: how many passed, points,
minutes, and every item, missed or said wrong; with intervals, with tests that are
adjusted for their number, and in words: what can be told, what cannot, and how
many students would do. Marks are those with your corrections.

Students are counted, not attempts: the first attempt of each, or the last. With
--attempts all, students are drawn and parted with all their attempts. --paired
compares two groups on the students who are in both, as before and after a day.

Every group is compared with all others together, or with the one that --base
names; the second of two with the first.

--as html writes one page with plots, --as csv a table for spreadsheets, --as json
everything.`,
		Example: `  markaround compare --by cohort
  markaround compare --by site --cohort fall --base north -o sites.html
  markaround compare --by date --date 2026-10-01 --paired --attempts last
  markaround compare --by instructor --as csv -o tables/`,
		Args: noArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			o.By, o.Count = cohort.By(by), cohort.Count(count)
			switch {
			case by == "":
				return errors.New("compare needs --by cohort, site, instructor, vehicle or date")
			case o.By == cohort.ByDate && o.Date == "":
				return errors.New("--by date needs --date, the first day of the second group")
			case o.By != cohort.ByDate && o.Date != "":
				return fmt.Errorf("--date is for --by date; attempts of some days are picked by --from and --to")
			}
			if fault := store.DayFault(o.Date); o.Date != "" && fault != "" {
				return fmt.Errorf("--date %s: %s", o.Date, fault)
			}
			if err := f.check("groups", "differences", "items"); err != nil {
				return err
			}
			r, err := f.records(cmd, false)
			if err != nil {
				return err
			}
			c, err := cohort.CompareGroups(r.List, o)
			if err != nil {
				return err
			}
			about := f.about(r)
			return f.write(cmd, schoolReport{
				text:   func(w io.Writer, opt report.TextOptions) error { return report.CompareText(w, c, about, opt) },
				json:   func(w io.Writer) error { return report.CompareJSON(w, c, about) },
				page:   func(w io.Writer) error { return report.Compare(w, c, about) },
				tables: func() []report.Table { return report.CompareTables(c) },
			})
		},
	}
	f.add(cmd, true, "groups, differences or items", func(fl *pflag.FlagSet) {
		fl.StringVar(&by, "by", "", "what groups are made of: cohort, site, instructor, vehicle or date")
		fl.StringVar(&o.Date, "date", "", "with --by date: the first day of the second group, as 2026-11-25")
		fl.StringSliceVar(&o.Groups, "groups", nil, "only these groups, as a,b (default: all)")
		fl.StringVar(&o.Base, "base", "", "group that each other is compared with")
		countFlag(fl, &count)
		fl.BoolVar(&o.Paired, "paired", false, "compare two groups on the students who are in both")
	})
	return cmd
}
