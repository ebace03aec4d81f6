package main

import (
	"errors"
	"io"
	"os"
	"path/filepath"
	"testing"
)

// A report that fails half way leaves the old file, and nothing beside it.
func TestWriteFileWholeOrNot(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "out.txt")
	if err := os.WriteFile(path, []byte("old"), 0o600); err != nil {
		t.Fatal(err)
	}
	broken := errors.New("disk full")
	err := writeFile(path, func(w io.Writer) error {
		io.WriteString(w, "new and half")
		return broken
	})
	if !errors.Is(err, broken) {
		t.Errorf("got %v, want the cause", err)
	}
	if data, _ := os.ReadFile(path); string(data) != "old" {
		t.Errorf("the file now holds %q", data)
	}
	if list, _ := os.ReadDir(dir); len(list) != 1 {
		t.Errorf("left behind: %v", list)
	}

	if err := writeFile(path, func(w io.Writer) error { _, err := io.WriteString(w, "new"); return err }); err != nil {
		t.Fatal(err)
	}
	if data, _ := os.ReadFile(path); string(data) != "new" {
		t.Errorf("the file holds %q, want the new text", data)
	}
	if info, _ := os.Stat(path); info.Mode().Perm() != 0o600 {
		t.Errorf("the mode changed to %v", info.Mode())
	}
}

// A device is written to, not replaced by a file.
func TestWriteFileToDevice(t *testing.T) {
	before, err := os.Stat(os.DevNull)
	if err != nil || before.Mode().IsRegular() {
		t.Skip("no null device")
	}
	if err := writeFile(os.DevNull, func(w io.Writer) error { _, err := io.WriteString(w, "x"); return err }); err != nil {
		t.Fatal(err)
	}
	if after, err := os.Stat(os.DevNull); err != nil || after.Mode() != before.Mode() {
		t.Fatal("the null device was replaced")
	}
}

func TestNewDestination(t *testing.T) {
	dir := t.TempDir()
	file := filepath.Join(dir, "there.txt")
	if err := os.WriteFile(file, nil, 0o644); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		out, as string
		several bool
		want    destination
		fails   bool
		reason  string
	}{
		{out: "", want: destination{form: textForm}, reason: "text on standard output"},
		{out: "-", as: "csv", want: destination{form: csvForm}, reason: "a dash is standard output"},
		{out: "x.HTML", want: destination{form: htmlForm, file: "x.HTML"}, reason: "form from the name, whatever its case"},
		{out: "x.html", as: "json", want: destination{form: jsonForm, file: "x.html"}, reason: "--as wins over the name"},
		{out: "x", fails: true, reason: "a name without a form"},
		{out: dir, as: "html", want: destination{form: htmlForm, folder: dir}, reason: "a folder that exists"},
		{out: "new/", want: destination{form: textForm, folder: "new/"}, reason: "a slash at the end makes a folder"},
		{out: "new", several: true, want: destination{form: textForm, folder: "new"}, reason: "several and no extension make a folder"},
		{out: "all.csv", several: true, want: destination{form: csvForm, file: "all.csv"}, reason: "several in one table"},
		{out: "all.html", several: true, fails: true, reason: "several pages do not fit in one file"},
		{out: file + "/", fails: true, reason: "a file is no folder"},
		{out: "", as: "html", several: true, fails: true, reason: "several pages on standard output"},
		{out: "", as: "pdf", fails: true, reason: "an unknown form"},
	} {
		got, err := newDestination(c.out, c.as, c.several)
		if (err != nil) != c.fails {
			t.Errorf("%s: error is %v", c.reason, err)
		}
		if err == nil && got != c.want {
			t.Errorf("%s: got %+v, want %+v", c.reason, got, c.want)
		}
	}
}
