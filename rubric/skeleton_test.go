package rubric

import (
	"path/filepath"
	"reflect"
	"regexp"
	"strings"
	"testing"
)

// block is the commented YAML of a skeleton that begins with a key.
func block(text, key string) string {
	m := regexp.MustCompile(`(?m)^#` + key + `:.*\n(?:#  .*\n)*`).FindString(text)
	return strings.TrimSuffix(regexp.MustCompile(`(?m)^#`).ReplaceAllString(m, ""), "\n") + "\n"
}

// A skeleton of every embedded rubric, and of one with every overlay that fits,
// reads and asks the same as what it is made from; so it does with all items and
// sections uncommented, which give again what is there.
func TestSkeleton(t *testing.T) {
	for name, whole := range everyRubric(t) {
		base, overlay, _ := strings.Cut(name, " with ")
		if overlay != "" && base != "class-a" {
			continue
		}
		var with []string
		if overlay != "" {
			with = append(with, overlay)
		}
		text, err := Skeleton("my-own", base, with...)
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		for _, more := range []string{"", block(string(text), "items") + block(string(text), "sections") + block(string(text), "time_limit")} {
			r, err := Read("my-own.yaml", []byte(string(text)+more))
			if err != nil {
				t.Errorf("%s: %v", name, err)
				break
			}
			a, b := figures(whole), figures(r)
			if more != "" {
				delete(a, "time-limit") // its source goes with the old limit
				delete(b, "time-limit")
			}
			if !reflect.DeepEqual(a, b) || r.Title != whole.Title || r.Pass != whole.Pass || r.TimeLimit != whole.TimeLimit {
				t.Errorf("%s: the skeleton asks something else", name)
			}
			var x, y []string
			for e := range whole.All() {
				x = append(x, e.Section.Title+e.Line.Title+e.Item.ID+e.Item.Title)
			}
			for e := range r.All() {
				y = append(y, e.Section.Title+e.Line.Title+e.Item.ID+e.Item.Title)
			}
			if !reflect.DeepEqual(x, y) {
				t.Errorf("%s: the skeleton has other items", name)
			}
		}
	}
}

// Each of the other parts reads when it is uncommented.
func TestSkeletonParts(t *testing.T) {
	text, err := Skeleton("my-own", "class-a")
	if err != nil {
		t.Fatal(err)
	}
	for _, key := range []string{"sources", "conditions", "heard_as", "lines", "pass", "time_source"} {
		part := block(string(text), key)
		if !strings.HasPrefix(part, key+":") {
			t.Errorf("no part %s", key)
		}
		if _, err := Read("my-own.yaml", []byte(string(text)+part)); err != nil {
			t.Errorf("%s: %v", key, err)
		}
	}
	drops := strings.Split(strings.TrimSpace(block(string(text), "drop")), "\n")
	if len(drops) < 100 {
		t.Fatalf("only %d lines to drop", len(drops))
	}
	for _, line := range drops[1:] {
		if _, err := Read("my-own.yaml", []byte(string(text)+"drop:\n"+line+"\n")); err != nil {
			t.Errorf("%s: %v", line, err)
		}
	}
}

// Times are written as people do, and read as the same.
func TestSpelledSeconds(t *testing.T) {
	for _, c := range []struct {
		seconds float64
		want    string
		reason  string
	}{
		{5400, "90 min", "whole minutes"},
		{60, "1 min", "one"},
		{90, "90 s", "no whole minutes"},
		{30.5, "30.5 s", "part of a second"},
	} {
		got := spelledSeconds(c.seconds)
		if back, ok := parseSeconds(got); got != c.want || !ok || back != c.seconds {
			t.Errorf("%s: %v is %q, read as %v; want %q", c.reason, c.seconds, got, back, c.want)
		}
	}
}

func TestSkeletonRefuses(t *testing.T) {
	for _, c := range []struct{ reason, id, base, want string }{
		{"no id", "My School", "class-a", `id "My School"; use lower-case`},
		{"empty", "", "class-a", `id ""; use lower-case`},
		{"no base", "x", "class-q", `there is no rubric "class-q"`},
	} {
		if _, err := Skeleton(c.id, c.base); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v", c.reason, err)
		}
	}
	// A file as base, and text that needs quotes.
	path := filepath.Join("testdata", "valid", "forklift.yaml")
	text, err := Skeleton("x", path, filepath.Join("testdata", "valid", "night.yaml"))
	if err != nil {
		t.Fatal(err)
	}
	if r, err := read("x.yaml", text, anywhere, nil); err != nil || r.Item("mast.blades").Title != "Blades" {
		t.Errorf("from files: %v", err)
	}
}
