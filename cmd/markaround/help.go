package main

import (
	"fmt"

	"github.com/spf13/cobra"
)

// newHelpCommand answers an unknown topic with an error, as every other wrong
// usage is answered.
func newHelpCommand() *cobra.Command {
	return &cobra.Command{
		Use:     "help [COMMAND]",
		Short:   "Print the help of a command",
		Example: `  markaround help grade`,
		RunE: func(cmd *cobra.Command, args []string) error {
			root := cmd.Root()
			about, rest, err := root.Find(args)
			if err != nil || len(rest) > 0 {
				return fmt.Errorf("no help on %q; see %s --help", args, root.CommandPath())
			}
			return about.Help()
		},
	}
}
