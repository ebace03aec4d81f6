package main

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
)

// The forms that a report is written in.
const (
	textForm = "text"
	jsonForm = "json"
	csvForm  = "csv"
	htmlForm = "html"
)

var forms = []string{textForm, jsonForm, csvForm, htmlForm}

var formOfExtension = map[string]string{
	".txt": textForm, ".text": textForm, ".json": jsonForm, ".jsonl": jsonForm, ".csv": csvForm, ".html": htmlForm, ".htm": htmlForm,
}

var extensionOfForm = map[string]string{textForm: ".txt", jsonForm: ".json", csvForm: ".csv", htmlForm: ".html"}

// destination is where reports go: standard output, one file, or a file each
// in a folder.
type destination struct {
	form   string
	file   string // "" for standard output or a folder
	folder string
}

// newDestination works out form and place from the flags. several tells that
// there may be more than one report.
func newDestination(out, as string, several bool) (destination, error) {
	d := destination{form: as}
	if as != "" && !slices.Contains(forms, as) {
		return d, fmt.Errorf("unknown form %q for --as; use one of %s", as, strings.Join(forms, ", "))
	}
	if d.form == "" {
		d.form = textForm
	}
	if out == "" || out == "-" {
		if several && d.form == htmlForm {
			return d, errors.New("several pages need a folder; add -o FOLDER")
		}
		return d, nil
	}
	info, err := os.Stat(out)
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return d, pathError(err)
	}
	exists := err == nil
	ext := strings.ToLower(filepath.Ext(out))
	slash := strings.HasSuffix(out, "/") || strings.HasSuffix(out, string(filepath.Separator))
	switch {
	case exists && info.IsDir(), slash, several && ext == "" && !exists:
		d.folder = out
		return d, nil
	case exists && slash:
		return d, fmt.Errorf("%s: is a file, not a folder; give another name", out)
	}
	d.file = out
	if as == "" {
		form, ok := formOfExtension[ext]
		if !ok {
			return d, fmt.Errorf("%s: the name does not tell the form of the report; add --as %s", out, strings.Join(forms, ", --as "))
		}
		d.form = form
	}
	if several && d.form == htmlForm {
		return d, fmt.Errorf("%s: several pages need a folder; give -o a folder", out)
	}
	return d, nil
}

// path is the file of one attempt in the folder. The ".sheet" in the name
// keeps reports from being taken for transcripts.
func (d destination) path(attempt string) string {
	return filepath.Join(d.folder, fileName(attempt)+".sheet"+extensionOfForm[d.form])
}

// fileName makes an attempt id safe as part of a file name.
func fileName(id string) string {
	s := strings.Map(func(r rune) rune {
		if r < ' ' || strings.ContainsRune(`/\:*?"<>|`, r) {
			return '-'
		}
		return r
	}, id)
	return strings.TrimLeft(s, ".")
}

// mayOverwrite checks that no transcript would be overwritten, and that files
// which exist may be: by force, or by asking on a terminal.
func mayOverwrite(paths []string, inputs []string, force bool, stdin io.Reader, stderr io.Writer) error {
	var transcripts []fs.FileInfo
	for _, in := range inputs {
		if info, err := os.Stat(in); err == nil {
			transcripts = append(transcripts, info)
		}
	}
	var there []string
	for _, p := range paths {
		info, err := os.Stat(p)
		if err != nil || (!info.Mode().IsRegular() && !info.IsDir()) {
			continue
		}
		if info.IsDir() {
			return fmt.Errorf("%s: is a folder; give another name", p)
		}
		if slices.ContainsFunc(transcripts, func(t fs.FileInfo) bool { return os.SameFile(t, info) }) {
			return fmt.Errorf("%s: is the transcript itself; give another name", p)
		}
		there = append(there, p)
	}
	if len(there) == 0 || force {
		return nil
	}
	what := there[0] + ": exists already"
	if len(there) > 1 {
		what = fmt.Sprintf("%s and %d more of %d files exist already", there[0], len(there)-1, len(paths))
	}
	if confirm(stdin, stderr, what+". Overwrite?") {
		return nil
	}
	return fmt.Errorf("%s; add --force to overwrite, or give another name", what)
}

// writeFile writes a file whole or not at all: into a file beside it, which
// then takes its name. What is not a regular file, such as a pipe, is written
// directly.
func writeFile(path string, write func(io.Writer) error) (err error) {
	mode := fs.FileMode(0o666)
	if info, err := os.Stat(path); err == nil {
		if !info.Mode().IsRegular() {
			return writeDirectly(path, write)
		}
		mode = info.Mode().Perm()
	}
	temp := filepath.Join(filepath.Dir(path), fmt.Sprintf(".%s.%08x.tmp", filepath.Base(path), rand.Uint32()))
	f, err := os.OpenFile(temp, os.O_WRONLY|os.O_CREATE|os.O_EXCL, mode)
	if err != nil {
		return fmt.Errorf("%s: cannot be written: %w", path, cause(err))
	}
	defer func() {
		if err != nil {
			f.Close()
			os.Remove(temp)
			err = fmt.Errorf("%s: cannot be written: %w", path, cause(err))
		}
	}()
	b := bufio.NewWriter(f)
	if err := write(b); err != nil {
		return err
	}
	if err := b.Flush(); err != nil {
		return err
	}
	if err := f.Sync(); err != nil {
		return err
	}
	if err := f.Close(); err != nil {
		return err
	}
	return os.Rename(temp, path)
}

func writeDirectly(path string, write func(io.Writer) error) error {
	f, err := os.OpenFile(path, os.O_WRONLY, 0)
	if err != nil {
		return fmt.Errorf("%s: cannot be written: %w", path, cause(err))
	}
	if err := errors.Join(write(f), f.Close()); err != nil {
		return fmt.Errorf("%s: cannot be written: %w", path, cause(err))
	}
	return nil
}

// cause takes the operation and the path off an error of the file system: our
// messages begin with the path.
func cause(err error) error {
	var pe *fs.PathError
	if errors.As(err, &pe) {
		return pe.Err
	}
	var le *os.LinkError
	if errors.As(err, &le) {
		return le.Err
	}
	return err
}

// pathError puts the path first: "x.vtt: no such file or directory".
func pathError(err error) error {
	var pe *fs.PathError
	if errors.As(err, &pe) {
		return fmt.Errorf("%s: %w", pe.Path, pe.Err)
	}
	return err
}
