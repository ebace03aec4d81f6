package align

import (
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"markaround/rubric"
)

// reviewed are the warnings about a file, as line: message.
func reviewed(t *testing.T, name string, with []string, files ...string) []string {
	t.Helper()
	r, err := rubric.Load(name, with...)
	if err != nil {
		t.Fatal(err)
	}
	warnings, err := Review(r, files...)
	if err != nil {
		t.Fatal(err)
	}
	var out []string
	for _, w := range warnings {
		if w.Advice == "" || strings.Contains(w.Msg, "\n") || w.Pos.Line == 0 {
			t.Errorf("a warning without place or advice: %v", w)
		}
		out = append(out, fmt.Sprintf("%d: %s", w.Pos.Line, w.Msg))
	}
	return out
}

func TestReview(t *testing.T) {
	got := reviewed(t, "testdata/review.yaml", nil)
	want := []string{
		`16: no phrase reaches check "shut" of bench.jaws: said of "vise jaws", none of them is heard`, // a negation
		`18: item "bench.punch" is named too much like "bench.drill" to tell them apart`,               // half of its names
		`24: no figure reaches number "bulbs" of bench.lamp: said of "bench lamp", its own figures are not accepted`,
		`24: no figure and no bound satisfies measure "bulbs" of bench.lamp`, // nobody counts 1.2
		`25: measure "heat" of bench.lamp points at-most but has no max, so that any bound satisfies it`,
		`27: item "bench.ghost" is named too much like "bench.vise" to tell them apart`,
		`27: "over there" of item "bench.ghost" is taken for bench.vise where its section was just announced`,
		`27: nothing under say names item "bench.ghost"`,
	}
	if !slices.Equal(got, want) {
		t.Errorf("got\n\t%s\nwant\n\t%s", strings.Join(got, "\n\t"), strings.Join(want, "\n\t"))
	}
	// The warnings come in the same order, however the work is shared out.
	for range 3 {
		if again := reviewed(t, "testdata/review.yaml", nil); !slices.Equal(got, again) {
			t.Fatalf("another order: %q", again)
		}
	}
}

// With files, only what they add or change is looked at: the faults of the base
// stay out, what an overlay does to its items comes in.
func TestReviewFiles(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "o.yaml")
	text := "overlay: o\ntitle: O\nitems:\n  - {id: bench.drill, say: [bench vise]}\n  - {id: bench.lamp, measures: [{id: hours, min: 2.2, max: 2.8}]}\n" +
		"  - {id: bench.vise, checks: [{id: tidy, title: tidy, bad: [not tidy]}]}\n"
	if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	got := reviewed(t, "testdata/review.yaml", []string{path}, path)
	want := []string{
		`4: "bench vise" of item "bench.drill" is taken for bench.vise where its section was just announced`,
		`5: no figure reaches number "hours" of bench.lamp: said of "bench lamp", its own figures are not accepted`,
		`5: no figure and no bound satisfies measure "hours" of bench.lamp`,
		`6: no phrase reaches check "tidy" of bench.vise: said of "bench vise", none of them is heard`,
	}
	if !slices.Equal(got, want) {
		t.Errorf("got\n\t%s\nwant\n\t%s", strings.Join(got, "\n\t"), strings.Join(want, "\n\t"))
	}
	if got := reviewed(t, "testdata/review.yaml", nil, "elsewhere.yaml"); len(got) != 0 {
		t.Errorf("nothing stands in that file, but %q", got)
	}
}

// What the smaller embedded files say works as it was meant; the long lists of
// the Class A sheet are looked at by hand, with rubric check --all.
func TestReviewLibrary(t *testing.T) {
	for _, c := range []struct{ sheet, file string }{
		{"forklift", "forklift.yaml"}, {"straight-air", "straight-air.yaml"}, {"school-bus", "school.yaml"}, {"school-bus", "bus.yaml"},
		{"school-bus-2005", "school-bus-2005.yaml"}, {"class-a-2005", "class-a-2005.yaml"}, {"class-a-2005", "edition-2005.yaml"},
	} {
		for _, w := range reviewed(t, c.sheet, nil, c.file) {
			t.Errorf("%s in %s: %s", c.file, c.sheet, w)
		}
	}
}
