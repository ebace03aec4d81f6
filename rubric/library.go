package rubric

import (
	"bytes"
	"embed"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"slices"
	"strings"
	"sync"
)

// library holds the score sheets and overlays that come with the program, each
// in a file named by its id.
//
//go:embed library/*.yaml
var library embed.FS

// files are the embedded files by id, and the ids of each kind, sorted.
var files = sync.OnceValue(func() (all struct {
	data              map[string][]byte
	rubrics, overlays []string
}) {
	entries, err := library.ReadDir("library")
	if err != nil {
		panic(err) // the folder is part of the program
	}
	all.data = map[string][]byte{}
	for _, e := range entries {
		name, _ := strings.CutSuffix(e.Name(), ".yaml")
		data, err := library.ReadFile("library/" + e.Name())
		if err != nil {
			panic(err)
		}
		all.data[name] = data
		if isOverlay(data) {
			all.overlays = append(all.overlays, name)
		} else {
			all.rubrics = append(all.rubrics, name)
		}
	}
	slices.Sort(all.rubrics) // the folder's order is that of names with their endings
	slices.Sort(all.overlays)
	return all
})

// Names are the ids of the embedded rubrics and overlays, sorted.
func Names() (rubrics, overlays []string) {
	all := files()
	return slices.Clone(all.rubrics), slices.Clone(all.overlays)
}

// SourceText is the text of an embedded rubric or overlay file, nil when there is
// none of that id.
func SourceText(id string) []byte { return bytes.Clone(files().data[id]) }

// parsed are the embedded rubrics that were read already, by id.
var parsed sync.Map

// readCached reads a rubric; an embedded one is read only once. The caller must
// not change what it gives.
func readCached(name string, data []byte, find finder, chain []string) (*Rubric, error) {
	id, _ := strings.CutSuffix(name, ".yaml")
	if own, ok := files().data[id]; !ok || !bytes.Equal(own, data) {
		return read(name, data, find, chain)
	}
	if r, ok := parsed.Load(id); ok {
		return r.(*Rubric), nil
	}
	r, err := read(name, data, embedded, chain)
	if err != nil {
		return nil, err
	}
	parsed.Store(id, r)
	return r, nil
}

// isOverlay tells the two kinds of file apart by which of their two
// keys comes first, without parsing.
func isOverlay(data []byte) bool {
	for line := range bytes.Lines(bytes.TrimPrefix(data, []byte("\ufeff"))) {
		if bytes.HasPrefix(line, []byte("overlay:")) {
			return true
		}
		if bytes.HasPrefix(line, []byte("rubric:")) {
			return false
		}
	}
	return false
}

// Load gives the rubric of a name with overlays put on, in order. A name is
// that of an embedded file ("class-a", see Names) or, when it ends in .yaml or
// .yml or holds a slash, the path of a file.
func Load(nameOrPath string, with ...string) (*Rubric, error) {
	name, data, err := open(nameOrPath, false)
	if err != nil {
		return nil, err
	}
	base, err := readCached(name, data, anywhere, nil)
	errs := asErrors(err)
	overlays := make([]*Overlay, len(with))
	for i, w := range with {
		name, data, err := open(w, true)
		if err != nil {
			return nil, err
		}
		overlays[i], err = ReadOverlay(name, data)
		errs = append(errs, asErrors(err)...)
	}
	switch {
	case len(errs) > 0:
		return nil, errs.err()
	case len(with) == 0:
		return base.clone(), nil
	}
	return Compose(base, overlays...)
}

// ReadFile reads a rubric file, whatever its name ends in, as Load does.
func ReadFile(path string) (*Rubric, error) {
	data, err := readFile(path)
	if err != nil {
		return nil, err
	}
	return read(path, data, anywhere, nil)
}

// asErrors are the faults that a reader found.
func asErrors(err error) Errors {
	errs, _ := errors.AsType[Errors](err)
	return errs
}

// open gives the content of an embedded or other file; an embedded one is
// of the kind wanted.
func open(nameOrPath string, overlay bool) (name string, data []byte, err error) {
	rubrics, overlays := Names()
	kind, names, other := "rubric", rubrics, overlays
	if overlay {
		kind, names, other = "overlay", overlays, rubrics
	}
	there := "built in: " + strings.Join(names, ", ")
	if len(names) == 0 {
		there = "none is built in"
	}
	if isPath(nameOrPath) {
		name = nameOrPath
		data, err = readFile(name)
		if err != nil {
			return "", nil, fmt.Errorf("%s %w; %s", kind, err, there)
		}
	} else {
		name = nameOrPath + ".yaml"
		switch {
		case slices.Contains(names, nameOrPath):
			data = files().data[nameOrPath]
		case slices.Contains(other, nameOrPath) && overlay:
			err = fmt.Errorf("%q is a rubric, not an overlay; %s", nameOrPath, there)
		case slices.Contains(other, nameOrPath):
			err = fmt.Errorf("%q is an overlay, to be added to a rubric; %s", nameOrPath, there)
		default:
			err = fmt.Errorf("there is no %s %q; %s, or give the path of a .yaml file", kind, nameOrPath, there)
		}
		if err != nil {
			return "", nil, err
		}
	}
	return name, data, nil
}

func isPath(s string) bool {
	return strings.HasSuffix(s, ".yaml") || strings.HasSuffix(s, ".yml") || strings.ContainsAny(s, `/\`)
}

// readFile reads a file up to one byte over the limit, which Read then refuses.
func readFile(path string) ([]byte, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, plain(err)
	}
	defer f.Close()
	data, err := io.ReadAll(io.LimitReader(f, MaxBytes+1))
	return data, plain(err)
}

// plain puts the path before the cause, as all our messages do.
func plain(err error) error {
	if pe, ok := errors.AsType[*fs.PathError](err); ok {
		return fmt.Errorf("%s: %w", pe.Path, pe.Err)
	}
	return err
}
