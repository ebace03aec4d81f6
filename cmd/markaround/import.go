package main

import (
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"markaround/cmd/internal/store"
	"markaround/rubric"
)

func newImportCommand() *cobra.Command {
	cmd := group(&cobra.Command{
		Use:     "import",
		Short:   "Read class lists into the store",
		Long:    `Read class lists into the store.`,
		Example: `  markaround import students class.csv`,
	})
	cmd.AddCommand(newImportStudentsCommand())
	return cmd
}

func newImportStudentsCommand() *cobra.Command {
	var where storeFlag
	cmd := &cobra.Command{
		Use:   "students FILE.csv",
		Short: "Read a class list: students with cohort, site and instructor",
		Long: `Read a class list into the store: a CSV file with a column student, the id, and
cohort, site and instructor as known. Other columns, such as names, are not read.
Attempts that do not say otherwise have these of their student. Who is there
already is changed where a field is filled in; who is new is named, since an old
list brings back students that were forgotten. All of the file is taken or nothing.`,
		Example: `  markaround import students class.csv`,
		RunE: func(cmd *cobra.Command, args []string) error {
			if len(args) != 1 {
				return fmt.Errorf("import students takes one file, %d given; see markaround import students --help", len(args))
			}
			rows, err := readTable(args[0], "student")
			if err != nil {
				return err
			}
			list := make([]store.Student, len(rows))
			for i, r := range rows {
				list[i] = store.Student{ID: r.Get("student"), Cohort: r.Get("cohort"), Site: r.Get("site"), Instructor: r.Get("instructor")}
			}
			st, err := where.open(cmd.Context(), true)
			if err != nil {
				return err
			}
			defer st.Close()
			before, err := st.Students(cmd.Context())
			if err != nil {
				return err
			}
			if _, err := st.PutStudents(cmd.Context(), list); err != nil {
				return err
			}
			_, err = fmt.Fprintf(cmd.OutOrStdout(), "%s read, %s\n", rubric.Plural(len(list), "student"), newOnes(list, before))
			return err
		},
	}
	where.add(cmd.Flags())
	return cmd
}

// newOnes names the first students of a list that were not there before.
func newOnes(list, before []store.Student) string {
	const most = 10
	known := map[string]bool{}
	for _, s := range before {
		known[s.ID] = true
	}
	var ids []string
	for _, s := range list {
		if id := strings.TrimSpace(s.ID); !known[id] {
			known[id] = true
			ids = append(ids, id)
		}
	}
	if len(ids) == 0 {
		return "none of them new"
	}
	text := fmt.Sprintf("%d of them new: %s", len(ids), strings.Join(ids[:min(len(ids), most)], ", "))
	if n := len(ids) - most; n > 0 {
		text += fmt.Sprintf(" and %d more", n)
	}
	return text
}
