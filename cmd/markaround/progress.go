package main

import (
	"cmp"
	"context"
	"fmt"
	"io"
	"os"
	"slices"
	"strings"

	"github.com/goccy/go-yaml"
	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"markaround/cmd/internal/report"
	"markaround/cmd/internal/store"
	"markaround/rubric"
	"markaround/rubric/cohort"
)

func newProgressCommand() *cobra.Command {
	var f schoolFlags
	var ready string
	cmd := &cobra.Command{
		Use:   "progress STUDENT",
		Short: "Follow a student: attempts over time, what to drill next, ready or not",
		Long: `Follow a student through the attempts that are kept: points, minutes and result
over time, items gained and lost since the attempt before, wrong numbers, what to
drill next and why, and whether the student is ready by a rule that is printed.
Marks are those with your corrections.

Where the student's attempts were marked by several score sheets, that of the
latest attempt is taken; --rubric names another.

The rule is: the last 2 attempts passed, no critical item missed or wrong in them,
each within the time limit. --ready names a YAML file with another one:

  last: 3             # latest attempts that are looked at
  passed: 2           # of these, at least
  critical_missed: 0  # critical items missed or wrong in them together, at most
  in_time: true       # each within the time limit
  minutes: 60         # allowed where the score sheet has no limit; 0 for none`,
		Example: `  markaround progress S-014
  markaround progress S-014 -o S-014.html
  markaround progress S-014 --ready our-rule.yaml
  markaround progress S-014 --as csv --table drill`,
		Args: func(cmd *cobra.Command, args []string) error {
			if len(args) != 1 {
				return fmt.Errorf("progress takes one student id, got %d; see markaround progress --help", len(args))
			}
			return nil
		},
		RunE: func(cmd *cobra.Command, args []string) error {
			if cmd.Flags().Changed("student") {
				return fmt.Errorf("the student is named without --student: markaround progress %s", f.filter.Student)
			}
			if err := f.check("attempts", "drill", "changes", "numbers"); err != nil {
				return err
			}
			rule, err := readyRule(ready)
			if err != nil {
				return err
			}
			f.filter.Student = strings.TrimSpace(args[0])
			if f.filter.Student == "" {
				return fmt.Errorf("no student id; markaround attempts lists attempts with theirs")
			}
			r, err := f.records(cmd, true)
			if err != nil {
				return fmt.Errorf("student %s: %w", f.filter.Student, err)
			}
			var others []string
			if len(r.Sheets) > 1 {
				if f.filter.Rubric, err = f.latestSheet(cmd.Context()); err != nil {
					return err
				}
				for _, s := range r.Sheets {
					if s.Rubric != f.filter.Rubric {
						others = append(others, fmt.Sprintf("%s by the score sheet %s left out; --rubric %s follows these.", rubric.Plural(s.Attempts, "attempt"), s.Rubric, s.Rubric))
					}
				}
				if r, err = f.records(cmd, true); err != nil {
					return err
				}
			}
			f.filter.Student = "" // which the title has
			about := f.about(r)
			about.Notes = others
			p, err := cohort.ProgressOf(r.List, rule)
			if err != nil && ready != "" {
				err = fmt.Errorf("%s: %w", ready, err)
			}
			if err != nil {
				return err
			}
			return f.write(cmd, schoolReport{
				text:   func(w io.Writer, opt report.TextOptions) error { return report.ProgressText(w, p, about, opt) },
				json:   func(w io.Writer) error { return report.ProgressJSON(w, p, about) },
				page:   func(w io.Writer) error { return report.Progress(w, p, about) },
				tables: func() []report.Table { return report.ProgressTables(p) },
			})
		},
	}
	f.add(cmd, false, "attempts, drill, changes or numbers", func(fl *pflag.FlagSet) {
		fl.StringVar(&ready, "ready", "", "YAML file with the rule for when a student is ready (default: the one above)")
	})
	return cmd
}

// readyRule reads the rule of a file, "" for the default one.
func readyRule(path string) (cohort.ReadyRule, error) {
	rule := cohort.DefaultReadyRule
	if path == "" {
		return rule, nil
	}
	data, err := os.ReadFile(path)
	if err != nil {
		return rule, pathError(err)
	}
	rule = cohort.ReadyRule{}
	if err := yaml.UnmarshalWithOptions(data, &rule, yaml.Strict()); err != nil {
		// The library's message goes on with lines of the file.
		first, _, _ := strings.Cut(yaml.FormatError(err, false, false), "\n")
		return rule, fmt.Errorf("%s: %s; see markaround progress --help", path, first)
	}
	return rule, nil
}

// latestSheet is the score sheet of the latest attempt that the flags pick.
func (f *schoolFlags) latestSheet(ctx context.Context) (string, error) {
	st, err := f.store.open(ctx, false)
	if err != nil {
		return "", err
	}
	defer st.Close()
	list, err := st.Attempts(ctx, f.filter.Filter)
	if err != nil || len(list) == 0 { // forgotten meanwhile
		return f.filter.Rubric, err
	}
	latest := slices.MaxFunc(list, func(a, b store.Attempt) int {
		return cmp.Or(cmp.Compare(a.Number, b.Number), cmp.Compare(a.Day, b.Day))
	})
	return latest.Rubric.ID, nil
}
