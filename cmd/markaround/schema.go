package main

import (
	"fmt"

	"github.com/spf13/cobra"

	"markaround/cmd/internal/report"
	"markaround/rubric"
)

func newSchemaCommand() *cobra.Command {
	return &cobra.Command{
		Use:   "schema [sheet|rubric]",
		Short: "Print the JSON Schema of a sheet or of score sheet files",
		Long: `Print the JSON Schema (draft 2020-12) of what grade --as json writes, or, with
"rubric", of the YAML files of score sheets and overlays, for editors that check
and complete them. Every field is listed with its meaning and unit.`,
		Example: `  markaround schema > sheet.schema.json
  markaround schema rubric > rubric.schema.json`,
		Args: func(cmd *cobra.Command, args []string) error {
			if len(args) > 1 || len(args) == 1 && args[0] != "sheet" && args[0] != "rubric" {
				return fmt.Errorf("schema takes sheet or rubric, got %q; see markaround schema --help", args)
			}
			return nil
		},
		RunE: func(cmd *cobra.Command, args []string) error {
			schema := report.Schema
			if len(args) == 1 && args[0] == "rubric" {
				schema = rubric.Schema
			}
			_, err := cmd.OutOrStdout().Write(schema)
			return err
		},
	}
}
