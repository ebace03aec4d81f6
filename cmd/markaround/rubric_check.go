package main

import (
	"fmt"
	"io"
	"os"
	"regexp"

	"github.com/spf13/cobra"

	"markaround/align"
	"markaround/rubric"
)

// checking is what rubric check was asked for.
type checking struct {
	onto   string
	faults bool // only
	all    bool // warnings of what is built in too
}

func newRubricCheckCommand() *cobra.Command {
	var c checking
	cmd := &cobra.Command{
		Use:   "check FILE ...",
		Short: "Check score sheet files and report every fault with its place",
		Long: `Check score sheet and overlay files, and report every fault with file, line and
column, and what to do about it. An overlay is put onto the score sheets that
it says it is for, or onto the one that --onto names.

Of files without faults every phrase is then said to the matcher, and what will
not work as it was meant is printed as a warning: phrases that name nothing or
another part, parts named too much alike to tell apart, conditions and numbers
that nothing reaches, numbers that no figure satisfies. Warnings do not change
the exit code. They are about what the file adds or changes; --all adds those
about the parts it has from built-in sheets, which takes longer.`,
		Example: `  markaround rubric check my-school.yaml
  markaround rubric check my-state.yaml --onto class-a
  markaround rubric check my-school.yaml --faults-only`,
		Args: func(cmd *cobra.Command, args []string) error {
			if len(args) == 0 {
				return fmt.Errorf("no file given; see markaround rubric check --help")
			}
			return nil
		},
		RunE: func(cmd *cobra.Command, args []string) error {
			failed := false
			for _, path := range args {
				if err := c.file(cmd.OutOrStdout(), path); err != nil {
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
	cmd.Flags().StringVar(&c.onto, "onto", "", "score sheet, by name or file, to put overlays onto")
	cmd.Flags().BoolVar(&c.faults, "faults-only", false, "leave the warnings out")
	cmd.Flags().BoolVar(&c.all, "all", false, "warnings about parts from built-in sheets too")
	return cmd
}

// warnings prints what will not work as it was meant of what stands in a file.
func (c *checking) warnings(w io.Writer, path string, r *rubric.Rubric) error {
	if c.faults {
		return nil
	}
	var files []string
	if !c.all {
		files = []string{path}
	}
	list, err := align.Review(r, files...)
	if err != nil {
		return err
	}
	for _, warning := range list {
		fmt.Fprintf(w, "%s: warning: %s; %s\n", warning.Pos, warning.Msg, warning.Advice)
	}
	return nil
}

// overlayKey begins an overlay file, as "rubric:" begins a score sheet.
var overlayKey = regexp.MustCompile(`(?m)^\x{feff}?overlay:`)

func (c *checking) file(w io.Writer, path string) error {
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
		return c.warnings(w, path, r)
	}
	o, err := rubric.ReadOverlay(path, data)
	if err != nil {
		return err
	}
	bases := o.For
	if c.onto != "" {
		bases = []string{c.onto}
	}
	if len(bases) == 0 {
		fmt.Fprintf(w, "%s: overlay %s reads; add --onto NAME to try it on a score sheet\n", path, o.ID)
		return nil
	}
	var first *rubric.Rubric // to say the overlay's phrases on: they are the same on all
	for _, name := range bases {
		base, err := rubric.Load(name)
		if err != nil {
			return fmt.Errorf("%s: %w; add --onto with its file", path, err)
		}
		r, err := rubric.Compose(base, o)
		if err != nil {
			return err
		}
		if first == nil {
			first = r
		}
		fmt.Fprintf(w, "%s: overlay %s is sound on %s\n", path, o.ID, name)
	}
	return c.warnings(w, path, first)
}
