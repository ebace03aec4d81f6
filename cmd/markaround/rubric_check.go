package main

import (
	"fmt"
	"io"
	"os"
	"regexp"

	"github.com/spf13/cobra"

	"markaround/rubric"
)

func newRubricCheckCommand() *cobra.Command {
	var onto string
	cmd := &cobra.Command{
		Use:   "check FILE ...",
		Short: "Check score sheet files and report every fault with its place",
		Long: `Check score sheet and overlay files, and report every fault with file, line and
column, and what to do about it. An overlay is put onto the score sheets that
it says it is for, or onto the one that --onto names.`,
		Example: `  markaround rubric check my-school.yaml
  markaround rubric check my-state.yaml --onto class-a`,
		Args: func(cmd *cobra.Command, args []string) error {
			if len(args) == 0 {
				return fmt.Errorf("no file given; see markaround rubric check --help")
			}
			return nil
		},
		RunE: func(cmd *cobra.Command, args []string) error {
			failed := false
			for _, path := range args {
				if err := checkFile(cmd.OutOrStdout(), path, onto); err != nil {
					complain(cmd.ErrOrStderr(), err)
					failed = true
				}
			}
			if failed {
				return errSaid
			}
			return nil
		},
	}
	cmd.Flags().StringVar(&onto, "onto", "", "score sheet, by name or file, to put overlays onto")
	return cmd
}

// overlayKey begins an overlay file, as "rubric:" begins a score sheet.
var overlayKey = regexp.MustCompile(`(?m)^\x{feff}?overlay:`)

func checkFile(w io.Writer, path, onto string) error {
	data, err := os.ReadFile(path)
	if err != nil {
		return pathError(err)
	}
	if !overlayKey.Match(data) {
		r, err := rubric.ReadFile(path)
		if err != nil {
			return err
		}
		sections, lines, items, checks, measures := r.Counts()
		fmt.Fprintf(w, "%s: score sheet %s is sound: %s, %s, %s, %s, %s\n",
			path, r.ID, rubric.Plural(sections, "section"), rubric.Plural(lines, "line"), rubric.Plural(items, "item"), rubric.Plural(checks, "condition"), rubric.Plural(measures, "number"))
		return nil
	}
	o, err := rubric.ReadOverlay(path, data)
	if err != nil {
		return err
	}
	bases := o.For
	if onto != "" {
		bases = []string{onto}
	}
	if len(bases) == 0 {
		fmt.Fprintf(w, "%s: overlay %s reads; add --onto NAME to try it on a score sheet\n", path, o.ID)
		return nil
	}
	for _, name := range bases {
		base, err := rubric.Load(name)
		if err != nil {
			return fmt.Errorf("%s: %w; add --onto with its file", path, err)
		}
		if _, err := rubric.Compose(base, o); err != nil {
			return err
		}
		fmt.Fprintf(w, "%s: overlay %s is sound on %s\n", path, o.ID, name)
	}
	return nil
}
