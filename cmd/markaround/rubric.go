package main

import "github.com/spf13/cobra"

func newRubricCommand() *cobra.Command {
	cmd := group(&cobra.Command{
		Use:   "rubric",
		Short: "List, show, make and check score sheets",
		Long: `List, show, make and check score sheets (rubrics) and the overlays that change
or add to them.`,
		Example: `  markaround rubric list
  markaround rubric show class-a
  markaround rubric new my-school -o my-school.yaml
  markaround rubric check my-school.yaml`,
	})
	cmd.AddCommand(newRubricListCommand(), newRubricShowCommand(), newRubricNewCommand(), newRubricCheckCommand(), newRubricTrialCommand(), newRubricHintsCommand())
	return cmd
}
