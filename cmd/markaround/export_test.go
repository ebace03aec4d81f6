package main

import (
	"bytes"
	"context"
	"encoding/csv"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/parquet-go/parquet-go"
)

// The two forms of every table hold the same. (Parquet files were also read by
// another program, by hand; DEVELOPERS.md says which.)
func TestExportForms(t *testing.T) {
	dir := t.TempDir()
	var files []string
	for i, text := range []string{"[0:01] the horn works and the seat belt is not frayed\n", "[0:01] =the forks are not cracked, \"so to say\"\n"} {
		path := filepath.Join(dir, fmt.Sprintf("S-%d.txt", i))
		if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
		files = append(files, path)
	}
	do := func(args ...string) {
		t.Helper()
		var errs strings.Builder
		if code := run(context.Background(), append(args, "--store", filepath.Join(dir, "a.db")), nil, io.Discard, &errs); code != 0 {
			t.Fatal(errs.String())
		}
	}
	do(append([]string{"grade", "--keep", "--rubric", "forklift", "--cohort", "=fall", "--quiet"}, files...)...)
	out := filepath.Join(dir, "out")
	do("export", out, "--quiet")
	same[attemptOut](t, out, "attempts", 2)
	same[markOut](t, out, "marks", 50)
	same[numberOut](t, out, "numbers", -1)
	same[findingOut](t, out, "findings", -1)
	same[correctionOut](t, out, "corrections", 0)
	same[studentOut](t, out, "students", 2)
}

// same reads both forms of a table. Rows is how many there must be, -1 for any.
func same[T any](t *testing.T, folder, name string, rows int) {
	t.Helper()
	list, err := parquet.ReadFile[T](filepath.Join(folder, name+".parquet"))
	if err != nil {
		t.Fatal(err)
	}
	data, err := os.ReadFile(filepath.Join(folder, name+".csv"))
	if err != nil {
		t.Fatal(err)
	}
	want, err := csv.NewReader(bytes.NewReader(data)).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var b bytes.Buffer
	o := newOut[T]([]io.Writer{&b}, []string{".csv"})
	for _, row := range list {
		if err := o.put(row); err != nil {
			t.Fatal(err)
		}
	}
	if err := o.close(); err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(b.Bytes(), data) || rows >= 0 && len(list) != rows {
		t.Errorf("%s: %d rows of Parquet, %d of CSV, want %d and the same", name, len(list), len(want)-1, rows)
	}
}
