package main

import (
	"context"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"reflect"
	"strconv"
	"strings"

	"github.com/parquet-go/parquet-go"
	"github.com/spf13/cobra"

	"markaround/cmd/internal/report"
	"markaround/cmd/internal/store"
	"markaround/rubric"
)

func newExportCommand() *cobra.Command {
	var where storeFlag
	var filter filterFlags
	var as string
	var force, quiet bool
	cmd := &cobra.Command{
		Use:   "export FOLDER",
		Short: "Write all that is kept as tables for other programs",
		Long: `Write what is kept as tables, each as CSV and as Parquet: attempts, marks (one row
an item, with the correction and the program's mark), numbers, findings,
corrections and students. They are joined by attempt, its number in the store.
Flags such as --cohort pick attempts; students are written without them only.
Transcripts are not written; of the words there are only the numbers said.`,
		Example: `  markaround export tables
  markaround export fall --cohort fall --as parquet`,
		RunE: func(cmd *cobra.Command, args []string) error {
			if len(args) != 1 {
				return fmt.Errorf("export takes one folder, %d given; see markaround export --help", len(args))
			}
			ends, ok := map[string][]string{"": {".csv", ".parquet"}, "csv": {".csv"}, "parquet": {".parquet"}}[as]
			if !ok {
				return fmt.Errorf("unknown form %q for --as; use csv or parquet, or leave it out for both", as)
			}
			ctx := cmd.Context()
			st, err := where.open(ctx, false)
			if err != nil {
				return err
			}
			defer st.Close()
			if err := filter.check(); err != nil {
				return err
			}
			e := &exporter{store: st, folder: args[0], ends: ends, filter: filter.Filter, force: force, stdin: cmd.InOrStdin(), stderr: cmd.ErrOrStderr()}
			n, err := e.run(ctx)
			if err != nil {
				return err
			}
			note(cmd.ErrOrStderr(), quiet, fmt.Sprintf("%s in %s", rubric.Plural(n, "attempt"), args[0]))
			return nil
		},
	}
	fl := cmd.Flags()
	fl.SortFlags = false
	filter.add(fl)
	fl.StringVar(&as, "as", "", "csv or parquet alone (default: both)")
	fl.BoolVar(&force, "force", false, "overwrite files that exist")
	fl.BoolVar(&quiet, "quiet", false, "no notes")
	where.add(fl)
	return cmd
}

// The tables. Names of columns are those of the fields' tags in both forms.
type (
	attemptOut struct {
		Attempt        int64   `parquet:"attempt"`
		Name           string  `parquet:"name"`
		Student        string  `parquet:"student,dict"`
		Number         int64   `parquet:"number"`
		Date           string  `parquet:"date,dict"`
		Cohort         string  `parquet:"cohort,dict"`
		Site           string  `parquet:"site,dict"`
		Instructor     string  `parquet:"instructor,dict"`
		Vehicle        string  `parquet:"vehicle,dict"`
		Rubric         string  `parquet:"rubric,dict"`
		RubricVersion  string  `parquet:"rubric_version,dict"`
		RubricHash     string  `parquet:"rubric_hash,dict"`
		RubricWith     string  `parquet:"rubric_with,dict"` // joined by +
		Tool           string  `parquet:"tool,dict"`
		Kept           string  `parquet:"kept"`
		Marked         string  `parquet:"marked"`
		TranscriptHash string  `parquet:"transcript_hash"`
		Points         float64 `parquet:"points"`
		Of             float64 `parquet:"of"`
		Pass           bool    `parquet:"pass"`
		Seconds        float64 `parquet:"seconds"`
		DeadAir        float64 `parquet:"dead_air"` // seconds
		WordsPerMinute float64 `parquet:"words_per_minute"`
		Listen         int64   `parquet:"listen"` // doubtful marks left
	}
	markOut struct {
		Attempt    int64   `parquet:"attempt"`
		Student    string  `parquet:"student,dict"`
		Item       string  `parquet:"item,dict"`
		Section    string  `parquet:"section,dict"`
		Title      string  `parquet:"title,dict"`
		Mark       string  `parquet:"mark,dict"`
		Machine    string  `parquet:"machine,dict"` // as the program marked it
		Corrected  bool    `parquet:"corrected"`
		Critical   bool    `parquet:"critical"`
		Extra      bool    `parquet:"extra"`
		Points     float64 `parquet:"points"`
		Of         float64 `parquet:"of"`
		Confidence float64 `parquet:"confidence"`
		Listen     bool    `parquet:"listen"`
		Start      float64 `parquet:"start"` // seconds, -1 when nothing was said
	}
	numberOut struct {
		Attempt  int64   `parquet:"attempt"`
		Student  string  `parquet:"student,dict"`
		Item     string  `parquet:"item,dict"`
		Number   string  `parquet:"number,dict"`
		Title    string  `parquet:"title,dict"`
		Mark     string  `parquet:"mark,dict"`
		Said     string  `parquet:"said,dict"`
		Accepted string  `parquet:"accepted,dict"`
		Problem  string  `parquet:"problem,dict"`
		Start    float64 `parquet:"start"` // seconds, -1 when nothing was said
	}
	findingOut struct {
		Attempt  int64   `parquet:"attempt"`
		Student  string  `parquet:"student,dict"`
		Finding  string  `parquet:"finding,dict"` // kind:id
		Text     string  `parquet:"text,dict"`
		Critical bool    `parquet:"critical"`
		SetAside bool    `parquet:"set_aside"` // by a person
		Start    float64 `parquet:"start"`     // seconds
	}
	correctionOut struct {
		Attempt int64  `parquet:"attempt"`
		Item    string `parquet:"item,dict"`
		Mark    string `parquet:"mark,dict"` // "" takes those before back
		Why     string `parquet:"why"`
		By      string `parquet:"by,dict"`
		Made    string `parquet:"made"`
	}
	studentOut struct {
		Student    string `parquet:"student"`
		Cohort     string `parquet:"cohort,dict"`
		Site       string `parquet:"site,dict"`
		Instructor string `parquet:"instructor,dict"`
	}
)

type exporter struct {
	store  *store.Store
	folder string
	ends   []string
	filter store.Filter
	force  bool
	stdin  io.Reader
	stderr io.Writer
}

// run writes all tables and tells the attempts in them.
func (e *exporter) run(ctx context.Context) (int, error) {
	list, err := e.store.Attempts(ctx, e.filter)
	if err != nil {
		return 0, err
	}
	all := e.filter == store.Filter{}
	names := []string{"attempts", "marks", "numbers", "findings", "corrections"}
	if all {
		names = append(names, "students")
	}
	var paths []string
	for _, name := range names {
		for _, end := range e.ends {
			paths = append(paths, filepath.Join(e.folder, name+end))
		}
	}
	if err := mayOverwrite(paths, nil, e.force, e.stdin, e.stderr); err != nil {
		return 0, err
	}
	if err := os.MkdirAll(e.folder, 0o777); err != nil {
		return 0, pathError(err)
	}
	err = writeFiles(paths, nil, func(to []io.Writer) error {
		at := func(i int) []io.Writer { return to[i*len(e.ends) : (i+1)*len(e.ends)] }
		attempts, marks := newOut[attemptOut](at(0), e.ends), newOut[markOut](at(1), e.ends)
		numbers, findings := newOut[numberOut](at(2), e.ends), newOut[findingOut](at(3), e.ends)
		corrections := newOut[correctionOut](at(4), e.ends)
		for _, a := range list {
			m, err := e.store.Marks(ctx, a.ID)
			if err != nil {
				return err
			}
			if err := exportAttempt(a, m, attempts, marks, numbers, findings); err != nil {
				return err
			}
			for _, c := range m.Given {
				if err := corrections.put(correctionOut{a.ID, c.Item, string(c.Mark), c.Why, c.Who, c.When}); err != nil {
					return err
				}
			}
		}
		if all {
			students := newOut[studentOut](at(5), e.ends)
			known, err := e.store.Students(ctx)
			if err != nil {
				return err
			}
			for _, s := range known {
				if err := students.put(studentOut{s.ID, s.Cohort, s.Site, s.Instructor}); err != nil {
					return err
				}
			}
			if err := students.close(); err != nil {
				return err
			}
		}
		return errors.Join(attempts.close(), marks.close(), numbers.close(), findings.close(), corrections.close())
	})
	return len(list), err
}

func exportAttempt(a store.Attempt, m store.Marks, attempts *out[attemptOut], marks *out[markOut], numbers *out[numberOut], findings *out[findingOut]) error {
	dead, listen := 0.0, 0
	for _, g := range m.Corrected.Pace.DeadAir {
		dead += g.End - g.Start
	}
	for _, it := range m.Corrected.Items {
		if it.Listen {
			listen++
		}
	}
	if err := attempts.put(attemptOut{a.ID, a.Name, a.Student, int64(a.Number), a.Day, a.Cohort, a.Site, a.Instructor, a.Vehicle,
		a.Rubric.ID, a.Rubric.Version, a.Rubric.Hash, strings.Join(a.Rubric.With, "+"), a.Tool, a.Kept, a.Marked, a.TranscriptHash,
		a.Points, a.Of, a.Pass, a.Seconds, dead, m.Corrected.Pace.WordsPerMinute, int64(listen)}); err != nil {
		return err
	}
	for _, it := range m.Corrected.Items {
		machine := it.Mark
		if it.Corrected != nil {
			machine = it.Corrected.From
		}
		if err := marks.put(markOut{a.ID, a.Student, it.ID, it.Section, it.Title, string(it.Mark), string(machine), it.Corrected != nil,
			it.Critical, it.Extra, it.Points, it.Of, it.Confidence, it.Listen, it.Start}); err != nil {
			return err
		}
		for _, q := range it.Measures {
			start := -1.0
			if n := len(q.Evidence); n > 0 {
				start = q.Evidence[n-1].Start
			}
			if err := numbers.put(numberOut{a.ID, a.Student, it.ID, q.ID, q.Title, string(q.Mark), q.Said, q.Accepted, q.Problem, start}); err != nil {
				return err
			}
		}
	}
	for _, list := range [][]rubric.Finding{m.Corrected.Findings, m.Corrected.Rejected} {
		for _, f := range list {
			if err := findings.put(findingOut{a.ID, a.Student, f.Key(), f.Text, f.Critical, f.Corrected != nil, f.Start}); err != nil {
				return err
			}
		}
	}
	return nil
}

// out writes the rows of one table in every form asked for.
type out[T any] struct {
	csv     *csv.Writer
	parquet *parquet.GenericWriter[T]
}

func newOut[T any](to []io.Writer, ends []string) *out[T] {
	o := &out[T]{}
	for i, end := range ends {
		if end == ".parquet" {
			o.parquet = parquet.NewGenericWriter[T](to[i], parquet.Compression(&parquet.Snappy), parquet.MaxRowsPerRowGroup(100_000))
			continue
		}
		o.csv = csv.NewWriter(to[i])
		var header []string
		for f := range reflect.TypeFor[T]().Fields() {
			name, _, _ := strings.Cut(f.Tag.Get("parquet"), ",")
			header = append(header, name)
		}
		o.csv.Write(header) // its error comes with close
	}
	return o
}

func (o *out[T]) put(row T) error {
	if o.csv != nil {
		var cells []string
		for _, v := range reflect.ValueOf(row).Fields() {
			cells = append(cells, plain(v))
		}
		if err := o.csv.Write(cells); err != nil {
			return err
		}
	}
	if o.parquet != nil {
		_, err := o.parquet.Write([]T{row})
		return err
	}
	return nil
}

func plain(v reflect.Value) string {
	switch v.Kind() {
	case reflect.Float64:
		return strconv.FormatFloat(v.Float(), 'f', -1, 64)
	case reflect.Int64:
		return strconv.FormatInt(v.Int(), 10)
	case reflect.Bool:
		return strconv.FormatBool(v.Bool())
	}
	return report.Cell(v.String())
}

func (o *out[T]) close() error {
	var err error
	if o.csv != nil {
		o.csv.Flush()
		err = o.csv.Error()
	}
	if o.parquet != nil {
		err = errors.Join(err, o.parquet.Close())
	}
	return err
}

// writeFiles writes several files at a time; each is written whole or not at all.
func writeFiles(paths []string, open []io.Writer, write func([]io.Writer) error) error {
	if len(open) == len(paths) {
		return write(open)
	}
	return writeFile(paths[len(open)], func(w io.Writer) error { return writeFiles(paths, append(open, w), write) })
}
