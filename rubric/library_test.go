package rubric

import (
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

// Every embedded rubric reads, alone and with every overlay that fits it, and
// has the id that it is loaded by.
func TestLibrary(t *testing.T) {
	rubrics, overlays := Names()
	if len(rubrics) == 0 {
		t.Fatal("no rubric is built in")
	}
	fits := map[string]*Overlay{}
	for _, name := range overlays {
		file, data, err := open(name, true)
		if err != nil {
			t.Fatal(err)
		}
		o, err := ReadOverlay(file, data)
		if err != nil {
			t.Errorf("%v", err)
			continue
		}
		if o.ID != name {
			t.Errorf("overlay %s has the id %q", file, o.ID)
		}
		fits[name] = o
	}
	for _, name := range rubrics {
		r, err := Load(name)
		if err != nil {
			t.Errorf("%v", err)
			continue
		}
		if r.ID != name {
			t.Errorf("%s.yaml has the id %q", name, r.ID)
		}
		composeNothing(t, r)
		for _, o := range fits {
			if len(o.For) > 0 && !slices.Contains(o.For, name) || slices.Contains(r.within, o.ID) {
				continue
			}
			with, err := Load(name, o.ID)
			if err != nil {
				t.Errorf("%s with %s:\n%v", name, o.ID, err)
				continue
			}
			composeNothing(t, with)
		}
	}
}

func TestLoadFiles(t *testing.T) {
	path, onto := filepath.Join("testdata", "valid", "forklift.yaml"), filepath.Join("testdata", "valid", "night.yaml")
	r, err := Load(path, onto)
	if err != nil {
		t.Fatal(err)
	}
	if r.Item("mast.blades").Pos.File != path || r.Item("lamps.left").Pos.File != onto {
		t.Error("positions name the file as it was given")
	}
}

func TestLoadErrors(t *testing.T) {
	rubrics, overlays := Names()
	if len(overlays) == 0 {
		t.Fatal("no overlay is built in")
	}
	dir := t.TempDir()
	broken := filepath.Join(dir, "broken.yaml")
	bad := filepath.Join(dir, "bad.yaml")
	huge := filepath.Join(dir, "huge.yaml")
	for path, text := range map[string]string{
		broken: "rubric: r\ntitle: R\nversion: 1\n",
		bad:    "overlay: o\n",
		huge:   "rubric: r\n" + strings.Repeat("#", 2*MaxBytes),
	} {
		if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	there, others := "built in: "+strings.Join(rubrics, ", "), "built in: "+strings.Join(overlays, ", ")
	for _, c := range []struct {
		reason, name string
		with         []string
		want         []string
	}{
		{"no such name", "class-z", nil, []string{`there is no rubric "class-z"; ` + there + ", or give the path of a .yaml file"}},
		{"empty name", "", nil, []string{`there is no rubric ""; ` + there}},
		{"no such overlay", rubrics[0], []string{"mars"}, []string{`there is no overlay "mars"; ` + others}},
		{"an overlay as rubric", overlays[0], nil, []string{"is an overlay, to be added to a rubric; " + there}},
		{"a rubric as overlay", rubrics[0], []string{rubrics[0]}, []string{"is a rubric, not an overlay; " + others}},
		{"no such file", filepath.Join(dir, "none.yaml"), nil, []string{"none.yaml: no such file", there}},
		{"a folder", dir + "/", nil, []string{dir}},
		{"a name cannot leave the library", "../library/class-a", nil, []string{"no such file"}},
		{"over the size limit", huge, nil, []string{"more than the limit"}},
		{"faults of all files at once", broken, []string{bad}, []string{"broken.yaml:1:1: the rubric has no sections", "bad.yaml:1:1: an overlay has no title"}},
	} {
		r, err := Load(c.name, c.with...)
		if err == nil || r != nil {
			t.Errorf("%s: loaded", c.reason)
			continue
		}
		for _, want := range c.want {
			if !strings.Contains(err.Error(), want) {
				t.Errorf("%s: got %v, want %q", c.reason, err, want)
			}
		}
	}
}

func TestUnits(t *testing.T) {
	for _, u := range Units() {
		data := "rubric: r\ntitle: R\nversion: 1\nsections: [{id: s, title: S, lines: [{id: l, title: L, items: [{id: i, title: I, say: [i], measures: [{id: m, title: M, max: 1, unit: " + u + "}]}]}]}]\n"
		if _, err := Read("unit.yaml", []byte(data)); err != nil {
			t.Error(err)
		}
	}
}
