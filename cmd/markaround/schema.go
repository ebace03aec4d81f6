package main

import (
	"github.com/spf13/cobra"

	"markaround/cmd/internal/report"
)

func newSchemaCommand() *cobra.Command {
	return &cobra.Command{
		Use:   "schema",
		Short: "Print the JSON Schema of a sheet",
		Long: `Print the JSON Schema (draft 2020-12) of what grade --as json writes. Every
field is listed with its meaning and unit.`,
		Example: `  markaround schema > sheet.schema.json`,
		Args:    noArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			_, err := cmd.OutOrStdout().Write(report.Schema)
			return err
		},
	}
}
