package main

import (
	"fmt"
	"io"

	"github.com/spf13/cobra"

	"markaround/rubric"
)

func newRubricNewCommand() *cobra.Command {
	var base string
	var with []string
	var to oneFile
	cmd := &cobra.Command{
		Use:   "new NAME",
		Short: "Write the file of a score sheet of your own, made from another",
		Long: `Write the file of a score sheet of your own. It is made from a built-in score
sheet or a file, with overlays if any, and reads as it is; everything that may be
changed follows as comments. NAME is its id: lower-case letters, digits and
hyphens.`,
		Example: `  markaround rubric new my-school -o my-school.yaml
  markaround rubric new our-buses --from school-bus --with california -o our-buses.yaml`,
		Args: func(cmd *cobra.Command, args []string) error {
			if len(args) != 1 {
				return fmt.Errorf("rubric new takes one name, got %d; see markaround rubric new --help", len(args))
			}
			return nil
		},
		RunE: func(cmd *cobra.Command, args []string) error {
			if rubric.SourceText(args[0]) != nil {
				return fmt.Errorf("%q is built in; give yours another name", args[0])
			}
			text, err := rubric.Skeleton(args[0], base, with...)
			if err != nil {
				return err
			}
			return to.write(cmd, func(w io.Writer) error { _, err := w.Write(text); return err })
		},
	}
	cmd.Flags().StringVar(&base, "from", "class-a", "score sheet, by name or file, to make it from")
	cmd.Flags().StringArrayVar(&with, "with", nil, "overlay or add-on that it has too; may be repeated, in order")
	to.flags(cmd)
	return cmd
}
