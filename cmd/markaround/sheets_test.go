package main

import (
	"bytes"
	"context"
	"io"
	"maps"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/santhosh-tekuri/jsonschema/v6"
)

// The sheets of the invented attempts are what the schema command describes.
func TestSheetsMatchTheSchema(t *testing.T) {
	var schema bytes.Buffer
	if code := run(context.Background(), []string{"schema"}, nil, &schema, io.Discard); code != 0 {
		t.Fatal("schema fails")
	}
	doc, err := jsonschema.UnmarshalJSON(&schema)
	if err != nil {
		t.Fatal(err)
	}
	c := jsonschema.NewCompiler()
	if err := c.AddResource("sheet.json", doc); err != nil {
		t.Fatal(err)
	}
	sch, err := c.Compile("sheet.json")
	if err != nil {
		t.Fatal(err)
	}

	out := t.TempDir()
	var errs bytes.Buffer
	args := []string{"grade", "../../testdata/attempts", "-o", out, "--as", "json", "--quiet"}
	if code := run(context.Background(), args, nil, io.Discard, &errs); code != 0 {
		t.Fatalf("exit code %d: %s", code, &errs)
	}
	files, err := filepath.Glob(filepath.Join(out, "*.json"))
	if err != nil || len(files) == 0 {
		t.Fatalf("no sheets: %v", err)
	}
	for _, f := range files {
		data, err := os.ReadFile(f)
		if err != nil {
			t.Fatal(err)
		}
		sheet, err := jsonschema.UnmarshalJSON(bytes.NewReader(data))
		if err != nil {
			t.Fatal(err)
		}
		if err := sch.Validate(sheet); err != nil {
			t.Errorf("%s: %v", filepath.Base(f), err)
		}
		if strings.ContainsRune(sheet.(map[string]any)["source"].(string), filepath.Separator) {
			t.Errorf("%s: the source has a folder", filepath.Base(f))
		}
	}
}

// Marking several at a time gives the sheets of marking one after the other.
func TestParallelIsTheSame(t *testing.T) {
	grade := func(args ...string) string {
		var out, errs bytes.Buffer
		if code := run(context.Background(), append([]string{"grade", "--as", "json", "--quiet"}, args...), nil, &out, &errs); code != 0 {
			t.Fatalf("exit code %d: %s", code, &errs)
		}
		return out.String()
	}
	files, err := filepath.Glob("../../testdata/attempts/[ab]*.*")
	if err != nil || len(files) < 2 {
		t.Fatalf("too few attempts: %v", err)
	}
	all := grade(files...)
	for i, line := range strings.Split(strings.TrimSpace(all), "\n") {
		var one bytes.Buffer
		for _, l := range strings.Split(grade(files[i]), "\n") {
			one.WriteString(strings.TrimSpace(l))
		}
		if squeeze(one.String()) != squeeze(line) {
			t.Errorf("%s is marked differently among others", files[i])
		}
	}
}

// squeeze drops the spaces that tell the indented form from the other.
func squeeze(s string) string { return strings.ReplaceAll(s, " ", "") }

// A stopped run ends with an error and leaves no half file.
func TestStopped(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	out := filepath.Join(t.TempDir(), "all.csv")
	var errs bytes.Buffer
	if code := run(ctx, []string{"grade", "../../testdata/attempts", "-o", out, "--quiet"}, nil, io.Discard, &errs); code != 1 {
		t.Errorf("exit code %d: %s", code, &errs)
	}
	if _, err := os.Stat(out); err == nil {
		t.Error("a file was written")
	}
}

// With --only a section has the very marks that it has on the whole sheet: what
// was said elsewhere is not heard as said there.
func TestOnlyKeepsTheMarks(t *testing.T) {
	rows := func(args ...string) map[string]string {
		t.Helper()
		var out, errs bytes.Buffer
		if code := run(context.Background(), append([]string{"grade", "--as", "csv", "--quiet"}, args...), nil, &out, &errs); code != 0 {
			t.Fatalf("exit code %d: %s", code, &errs)
		}
		marks := map[string]string{}
		for line := range strings.Lines(out.String()) {
			cells := strings.SplitN(line, ",", 4)
			if strings.HasPrefix(cells[1], "air.") {
				marks[cells[1]] = cells[2]
			}
		}
		return marks
	}
	for _, name := range []string{"a1.srt", "a4.txt", "b3.vtt"} {
		whole, part := rows("../../testdata/attempts/"+name), rows("../../testdata/attempts/"+name, "--only", "air")
		if len(whole) == 0 || !maps.Equal(whole, part) {
			t.Errorf("%s: %d marks of the section on the whole sheet, %d on its own", name, len(whole), len(part))
		}
	}
}
