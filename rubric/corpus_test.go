package rubric

import (
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
)

// testFile is a file of testdata/valid or testdata/invalid. Its first comment
// lines hold the directives "# KEY: VALUE" that tests read; a key may repeat.
type testFile struct {
	name string // base name, as in messages
	data []byte
	tags map[string][]string
}

var directive = regexp.MustCompile(`^# ([a-z]+): (.*)$`)

func testFiles(t testing.TB, folder string) []testFile {
	t.Helper()
	paths, err := filepath.Glob(filepath.Join("testdata", folder, "*.yaml"))
	if err != nil || len(paths) == 0 {
		t.Fatalf("no files in testdata/%s: %v", folder, err)
	}
	var files []testFile
	for _, path := range paths {
		data, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		f := testFile{filepath.Base(path), data, map[string][]string{}}
		for line := range strings.Lines(strings.TrimPrefix(string(data), "\ufeff")) {
			m := directive.FindStringSubmatch(strings.TrimRight(line, "\r\n"))
			if m == nil {
				break
			}
			f.tags[m[1]] = append(f.tags[m[1]], m[2])
		}
		files = append(files, f)
	}
	return files
}

// readTest reads the file as what it is. An overlay goes onto the rubric and
// after the overlays of testdata/valid that its onto: directive names.
func (f testFile) readTest(t testing.TB) (*Rubric, error) {
	t.Helper()
	if !isOverlay(f.data) {
		return read(f.name, f.data, corpus, nil)
	}
	o, err := ReadOverlay(f.name, f.data)
	if err != nil {
		return nil, err
	}
	if len(f.tags["onto"]) == 0 {
		t.Fatalf("%s: an overlay that reads needs # onto: RUBRIC.yaml", f.name)
	}
	var base *Rubric
	var overlays []*Overlay
	for i, name := range strings.Split(f.tags["onto"][0], ", ") {
		data, err := os.ReadFile(filepath.Join("testdata", "valid", name))
		if err != nil {
			t.Fatal(err)
		}
		if i == 0 {
			base = mustRead(t, name, data)
			continue
		}
		overlays = append(overlays, mustReadOverlay(t, name, data))
	}
	return Compose(base, append(overlays, o)...)
}

// corpus finds what files of testdata are made from, among the valid ones or,
// to find itself, the invalid.
func corpus(_, name string, _ bool) (string, []byte, error) {
	for _, folder := range []string{"valid", "invalid"} {
		if data, err := os.ReadFile(filepath.Join("testdata", folder, name)); err == nil {
			return name, data, nil
		}
	}
	return "", nil, fmt.Errorf("there is no file %s", name)
}

func mustRead(t testing.TB, name string, data []byte) *Rubric {
	t.Helper()
	r, err := Read(name, data)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func mustReadOverlay(t testing.TB, name string, data []byte) *Overlay {
	t.Helper()
	o, err := ReadOverlay(name, data)
	if err != nil {
		t.Fatal(err)
	}
	return o
}

func valid(t testing.TB, name string) []byte {
	t.Helper()
	data, err := os.ReadFile(filepath.Join("testdata", "valid", name))
	if err != nil {
		t.Fatal(err)
	}
	return data
}
