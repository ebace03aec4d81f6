package main

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"markaround/cmd/internal/store"
	"markaround/rubric"
)

func newForgetCommand() *cobra.Command {
	var where storeFlag
	var yes bool
	cmd := &cobra.Command{
		Use:   "forget STUDENT",
		Short: "Remove every trace of a student from the store, and prove it",
		Long: `Remove a student from the store: attempts with transcripts, sheets and copies of
recordings, corrections, and the line of the class list. There is no way back.
What was deleted is overwritten, the file is written anew, and its bytes are then
searched for the student's id, transcripts and sheets; an id of fewer than four
characters, which is found anywhere by chance, is not searched for.

Files that you have written elsewhere are not touched: recordings, transcripts,
pages, clips, exports, and backups, which hold the student still. Backups that
are known are named. On a PostgreSQL server, its own backups and logs are not
searched.`,
		Example: `  markaround forget S-014
  markaround forget S-014 --yes`,
		RunE: func(cmd *cobra.Command, args []string) error {
			if len(args) != 1 {
				return fmt.Errorf("forget takes one student id, %d given; see markaround forget --help", len(args))
			}
			ctx := cmd.Context()
			st, err := where.open(ctx, false)
			if err != nil {
				return err
			}
			defer st.Close()
			students, err := st.Students(ctx)
			if err != nil {
				return err
			}
			if !slices.ContainsFunc(students, func(s store.Student) bool { return s.ID == args[0] }) {
				return fmt.Errorf("%s: student %s is %w", st.Where(), args[0], store.ErrNotFound)
			}
			list, err := st.Attempts(ctx, store.Filter{Student: args[0]})
			if err != nil {
				return err
			}
			what := fmt.Sprintf("student %s and %s", args[0], rubric.Plural(len(list), "attempt"))
			if !yes && !confirm(cmd.InOrStdin(), cmd.ErrOrStderr(), "Remove "+what+" from "+st.Where()+" for good?") {
				return fmt.Errorf("nothing was removed; --yes removes %s for good", what)
			}
			f, err := st.Forget(ctx, args[0])
			if err != nil && !errors.Is(err, store.ErrLeft) {
				return err
			}
			return errors.Join(forgotten(cmd.OutOrStdout(), f), err)
		},
	}
	fl := cmd.Flags()
	fl.SortFlags = false
	fl.BoolVar(&yes, "yes", false, "do not ask")
	where.add(fl)
	return cmd
}

// forgotten says what was removed and what was searched.
func forgotten(w io.Writer, f store.Forgotten) error {
	var b bytes.Buffer
	fmt.Fprintf(&b, "removed student %s: %s and %s\n", f.Student, rubric.Plural(len(f.Attempts), "attempt"), rubric.Plural(f.Corrections, "correction"))
	if f.Bytes > 0 {
		fmt.Fprintf(&b, "searched %s, %d bytes: %s before, %d after\n", strings.Join(f.Searched, ", "), f.Bytes, rubric.Plural(f.Before, "trace"), f.After)
	} else {
		fmt.Fprintf(&b, "searched the %s: %d left\n", strings.Join(f.Searched, ", "), f.After)
	}
	for _, p := range f.Backups {
		fmt.Fprintf(&b, "still holds the student: backup %s\n", p)
	}
	for _, m := range f.Mentions {
		fmt.Fprintf(&b, "still names the student: %s\n", m)
	}
	_, err := w.Write(b.Bytes())
	return err
}
