package main

import (
	"fmt"

	"github.com/spf13/cobra"

	"markaround/rubric"
)

func newBackupCommand() *cobra.Command {
	var where storeFlag
	cmd := &cobra.Command{
		Use:   "backup FILE",
		Short: "Copy the whole store into a file, and check the copy",
		Long: `Copy the whole store, as it is at one moment, into a new file, also while others
use it, and read the copy from end to end. The copy is a store itself: --store
opens it, and to go back to it, put it in the place of the other. It never writes
over a file. A PostgreSQL store is backed up with the server's pg_dump.`,
		Example: `  markaround backup 2026-11-25.db
  markaround attempts --store 2026-11-25.db`,
		RunE: func(cmd *cobra.Command, args []string) error {
			if len(args) != 1 {
				return fmt.Errorf("backup takes the name of one file, %d given; see markaround backup --help", len(args))
			}
			st, err := where.open(cmd.Context(), false)
			if err != nil {
				return err
			}
			defer st.Close()
			n, err := st.Backup(cmd.Context(), args[0])
			if err != nil {
				return err
			}
			_, err = fmt.Fprintf(cmd.OutOrStdout(), "%s: %s, read back and whole\n", args[0], rubric.Plural(n, "attempt"))
			return err
		},
	}
	where.add(cmd.Flags())
	return cmd
}
