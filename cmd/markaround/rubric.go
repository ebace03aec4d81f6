package main

import "github.com/spf13/cobra"

func newRubricCommand() *cobra.Command {
	cmd := group(&cobra.Command{
		Use:   "rubric",
		Short: "List, show and check score sheets",
		Long: `List, show and check score sheets (rubrics) and the overlays that change or
add to them.`,
		Example: `  markaround rubric list
  markaround rubric show class-a
  markaround rubric check my-school.yaml`,
	})
	cmd.AddCommand(newRubricListCommand(), newRubricShowCommand(), newRubricCheckCommand())
	return cmd
}
