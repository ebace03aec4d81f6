package main

import (
	"fmt"

	"github.com/spf13/cobra"

	"markaround/cmd/internal/store"
)

func newAmendCommand() *cobra.Command {
	var where storeFlag
	var f detailFlags
	cmd := &cobra.Command{
		Use:   "amend ATTEMPT",
		Short: "Change whose attempt it is, or another detail of it",
		Long: `Change what was said of a kept attempt when it was kept: student, cohort, site,
instructor, vehicle, date or number. What no flag names stays as it is. Marks are
not touched; "markaround correct" is for these.`,
		Example: `  markaround amend 12 --student S-015
  markaround amend S-014 --date 2026-11-25 --vehicle "truck 12"`,
		RunE: func(cmd *cobra.Command, args []string) error {
			switch {
			case len(args) != 1:
				return fmt.Errorf("amend takes one attempt, %d given; see markaround amend --help", len(args))
			case f.Details == store.Details{}:
				return fmt.Errorf("what is to change? give --student, --date or another detail; see markaround amend --help")
			}
			ctx := cmd.Context()
			st, err := where.open(ctx, false)
			if err != nil {
				return err
			}
			defer st.Close()
			a, err := st.Find(ctx, args[0])
			if err != nil {
				return err
			}
			if a, err = st.Amend(ctx, a.ID, f.Details); err != nil {
				return err
			}
			return attemptsText(cmd.OutOrStdout(), []attemptRow{newAttemptRow(a, 0)})
		},
	}
	fl := cmd.Flags()
	fl.SortFlags = false
	f.add(fl)
	where.add(fl)
	return cmd
}
