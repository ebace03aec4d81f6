package main

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"markaround/cmd/internal/report"
	"markaround/cmd/internal/store"
)

// schoolFlags are those of the commands that report on many attempts.
type schoolFlags struct {
	store  storeFlag
	filter filterFlags
	as     string
	table  string
	to     oneFile
}

// add adds the flags; own are those of the command that come first. Student is
// false where the student is an argument.
func (f *schoolFlags) add(cmd *cobra.Command, student bool, tables string, own func(fl *pflag.FlagSet)) {
	fl := cmd.Flags()
	fl.SortFlags = false
	if own != nil {
		own(fl)
	}
	f.filter.add(fl)
	if !student {
		fl.Lookup("student").Hidden = true
	}
	fl.StringVar(&f.filter.Rubric, "rubric", "", "those marked by this score sheet, by its id")
	fl.StringVar(&f.as, "as", "", "form: text, json, csv or html (default: text, or told from the name of -o)")
	fl.StringVar(&f.table, "table", "", "table that --as csv writes: "+tables+" (default: the first; all into a folder that -o names)")
	f.to.flags(cmd)
	fl.Lookup("out").Usage = "file to write to, or with --as csv a folder for all tables (default: standard output)"
	f.store.add(fl)
}

// about says what attempts were picked.
func (f *schoolFlags) about(r *store.Records) report.About {
	a := report.About{Picked: f.filter.Words(), Attempts: len(r.List), Sections: r.Sections}
	for _, s := range r.Sheets {
		a.Sheets = append(a.Sheets, report.SheetAttempts(s))
	}
	return a
}

// records reads what the flags pick. None at all is an error.
func (f *schoolFlags) records(cmd *cobra.Command, details bool) (*store.Records, error) {
	if err := f.filter.check(); err != nil {
		return nil, err
	}
	st, err := f.store.open(cmd.Context(), false)
	if err != nil {
		return nil, err
	}
	defer st.Close()
	r, err := st.Records(cmd.Context(), f.filter.Filter, details)
	if err != nil {
		return nil, err
	}
	if len(r.List) == 0 {
		return nil, fmt.Errorf("%s: no attempt is kept there that the flags pick; markaround attempts lists those that are", st.Where())
	}
	return r, nil
}

// schoolReport is a report in all its forms.
type schoolReport struct {
	text   func(io.Writer, report.TextOptions) error
	json   func(io.Writer) error
	page   func(io.Writer) error
	tables func() []report.Table
}

// check finds faults of the flags before anything is read. tables are the names of
// the tables.
func (f *schoolFlags) check(tables ...string) error {
	form, err := f.form()
	switch {
	case err != nil:
		return err
	case f.table != "" && form != csvForm:
		return errors.New("--table is for --as csv; add it, or leave --table out")
	case f.table != "" && !slices.Contains(tables, f.table):
		return fmt.Errorf("unknown table %q for --table; use one of %s", f.table, strings.Join(tables, ", "))
	case f.table != "" && f.folder():
		return fmt.Errorf("%s: is a folder, for all tables; leave --table out, or name a file", f.to.path)
	}
	return nil
}

// form is that of --as, or told from the name of -o.
func (f *schoolFlags) form() (string, error) {
	switch {
	case f.as != "":
		if !slices.Contains(forms, f.as) {
			return "", fmt.Errorf("unknown form %q for --as; use one of %s", f.as, strings.Join(forms, ", "))
		}
		return f.as, nil
	case f.to.path == "" || f.to.path == "-":
		return textForm, nil
	}
	form, ok := formOfExtension[strings.ToLower(filepath.Ext(f.to.path))]
	if !ok {
		return "", fmt.Errorf("%s: the name does not tell the form of the report; add --as %s", f.to.path, strings.Join(forms, ", --as "))
	}
	return form, nil
}

// folder tells whether -o names a folder.
func (f *schoolFlags) folder() bool {
	if f.to.path == "" || f.to.path == "-" {
		return false
	}
	info, err := os.Stat(f.to.path)
	if err == nil {
		return info.IsDir()
	}
	return errors.Is(err, fs.ErrNotExist) && (filepath.Ext(f.to.path) == "" || strings.HasSuffix(f.to.path, "/"))
}

// write writes the report in the form asked for.
func (f *schoolFlags) write(cmd *cobra.Command, r schoolReport) error {
	form, err := f.form()
	if err != nil {
		return err
	}
	switch form {
	case jsonForm:
		return f.to.write(cmd, r.json)
	case htmlForm:
		return f.to.write(cmd, r.page)
	case csvForm:
		tables := r.tables()
		if f.folder() {
			return f.writeTables(cmd, tables)
		}
		table := tables[0]
		if f.table != "" {
			table = tables[slices.IndexFunc(tables, func(t report.Table) bool { return t.Name == f.table })]
		}
		return f.to.write(cmd, func(w io.Writer) error { return report.WriteCSV(w, table) })
	}
	opt := report.TextOptions{}
	if f.to.path == "" || f.to.path == "-" {
		opt = textOptions(cmd.OutOrStdout())
	}
	return f.to.write(cmd, func(w io.Writer) error { return r.text(w, opt) })
}

func (f *schoolFlags) writeTables(cmd *cobra.Command, tables []report.Table) error {
	var paths []string
	for _, t := range tables {
		paths = append(paths, filepath.Join(f.to.path, t.Name+".csv"))
	}
	if err := mayOverwrite(paths, nil, f.to.force, cmd.InOrStdin(), cmd.ErrOrStderr()); err != nil {
		return err
	}
	if err := os.MkdirAll(f.to.path, 0o777); err != nil {
		return pathError(err)
	}
	for i, t := range tables {
		if err := writeFile(paths[i], func(w io.Writer) error { return report.WriteCSV(w, t) }); err != nil {
			return err
		}
	}
	return nil
}

// countFlag adds --attempts.
func countFlag(fl *pflag.FlagSet, to *string) {
	fl.StringVar(to, "attempts", "first", "attempts that count: first or last of each student, or all")
}
