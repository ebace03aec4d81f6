package rubric

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"math/big"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"testing"
)

// night composes the invented night overlay, which has one change of each kind.
func night(t *testing.T) (base, r *Rubric) {
	t.Helper()
	base = mustRead(t, "forklift.yaml", valid(t, "forklift.yaml"))
	r, err := Compose(base, mustReadOverlay(t, "night.yaml", valid(t, "night.yaml")))
	if err != nil {
		t.Fatal(err)
	}
	return base, r
}

func TestCompose(t *testing.T) {
	base, r := night(t)
	if !reflect.DeepEqual(base, mustRead(t, "forklift.yaml", valid(t, "forklift.yaml"))) {
		t.Error("the base was changed")
	}
	for _, c := range []struct {
		reason    string
		got, want any
	}{
		{"the rubric stays itself", r.ID + ", " + r.Title, "lift-truck, Lift truck daily check"},
		{"a given edition replaces", r.Edition, "yard sheet B, night"},
		{"either version may change marks", r.Version, "2+night.7"},
		{"overlays are named", fmt.Sprint(r.With), "[night]"},
		{"a given limit replaces", r.TimeLimit, 900.0},
		{"and its source with it", r.TimeSource, "maker"},
		{"the pass rule is replaced as a whole", r.Pass, PassRule{MinShare: 1}},
		{"cautions are appended", len(r.Cautions), 2},
		{"sources are appended", len(r.Sources), 3},
		{"phrases go to the condition that is there", fmt.Sprint(r.Conditions[0].Bad), "[cracked bent snapped]"},
		{"with its title", r.Conditions[0].Title, "no cracks or bends"},
		{"a new condition is appended", r.Conditions[2].ID, "lit"},
		{"what was heard goes to its word, whatever the case", fmt.Sprint(r.HeardAs), "[{forks [folks fork's fox]}]"},
		{"a section goes before another", order(r), "mast: forks lamp carriage chains; lamps: head; seat: belt horn; tank: gas tires"},
		{"a line takes the place of one that was emptied", r.Sections[3].Lines[1].Title, "Tires at night"},
		{"an item may take a dropped one's id", r.Item("tank.tires").Checks[0].Title, "no cracks or bends"},
		{"a dropped item is gone", r.Item("tank.valve") == nil, true},
		{"rules of before that name it are gone, those of the overlay stay", fmt.Sprintf("%d %d %d %s", len(r.Order), len(r.Holds), len(r.Agreements), r.Order[0].Reason), "1 0 0 still so"},
		{"a part becomes a detail", r.Item("seat.beacon").Of, "sounder"},
		{"extra can be turned off", r.Item("seat.beacon").Extra, false},
		{"keys not named stay", r.Item("seat.beacon").Title, "Beacon"},
	} {
		if c.got != c.want {
			t.Errorf("%s: got %v, want %v", c.reason, c.got, c.want)
		}
	}
	blades := r.Item("mast.blades")
	if got := fmt.Sprintf("%s %q %s %v %t", blades.Title, blades.Say, blades.Kind, blades.Points, blades.Critical); got != `Blades ["fork blades" "tines" "blades"] tine 0 true` {
		t.Errorf("changed item is %s", got)
	}
	var checks []string
	for _, c := range blades.Checks {
		checks = append(checks, fmt.Sprintf("%s|%s|%s %v %v %t", c.ID, c.Title, c.Condition, c.Good, c.Bad, c.Minor))
	}
	if want := []string{"whole|no cracks or bends|whole [] [] false", "heels|heels thick|whole [thick] [worn heels] true", "lit|lit|lit [] [] false"}; !slices.Equal(checks, want) {
		t.Errorf("checks are %q, want %q", checks, want)
	}
	thick := blades.Measure("thickness")
	low, high, err := thick.Range()
	if err != nil || low.Cmp(big.NewRat(1, 1)) != 0 || high != nil || thick.Direction != AtLeast || thick.Source != "night" {
		t.Errorf("changed measure is %+v, %v", thick, err)
	}
	if width := blades.Measure("width"); width == nil || width.Kind != EitherKind || width.Min != "4" {
		t.Errorf("new measure is %+v", width)
	}
	if drop := r.Item("tank.hose").Measure("drop"); drop.Min != "1/2" || drop.Note != "colder" || drop.Title != "pressure lost" || !drop.Optional {
		t.Errorf("only the keys named change: %+v", drop)
	}
	sum := sha256.Sum256(slices.Concat(valid(t, "forklift.yaml"), valid(t, "night.yaml")))
	if want := hex.EncodeToString(sum[:]); r.Hash != want {
		t.Errorf("hash is %s, want that of the files one after the other, %s", r.Hash, want)
	}
}

func TestComposeEveryMeasureKey(t *testing.T) {
	base := mustRead(t, "forklift.yaml", valid(t, "forklift.yaml"))
	r, err := Compose(base, mustReadOverlay(t, "day.yaml", valid(t, "day.yaml")))
	if err != nil {
		t.Fatal(err)
	}
	old := base.Item("tank.hose").Measure("drop")
	want := Measure{ID: "drop", Title: "loss", Unit: "psi", Kind: EitherKind, Min: "0", Max: "2", Near: []string{"gone"}, Source: "maker", Note: "day", Pos: old.Pos}
	if got := r.Item("tank.hose").Measure("drop"); !reflect.DeepEqual(*got, want) {
		t.Errorf("got  %+v\nwant %+v", *got, want)
	}
	if got, want := order(r), "mast: chains forks; seat: belt horn; tank: gas tires"; got != want {
		t.Errorf("an emptied line goes where its successor says: %s, want %s", got, want)
	}
	if got := fmt.Sprint(r.HeardAs); got != "[{forks [folks fork's]} {mast [must most]}]" {
		t.Errorf("a new word is appended: %s", got)
	}
	if r.TimeLimit != 720 || r.TimeSource != "common practice, no source" || r.Version != "2" {
		t.Errorf("limit %v, source %q, version %q: only what is given replaces", r.TimeLimit, r.TimeSource, r.Version)
	}
}

func order(r *Rubric) string {
	var sections []string
	for _, s := range r.Sections {
		line := s.ID + ":"
		for _, l := range s.Lines {
			line += " " + l.ID
		}
		sections = append(sections, line)
	}
	return strings.Join(sections, "; ")
}

// Several overlays compose in the order given; composing them one by one is
// the same as all at once.
func TestComposeSeveral(t *testing.T) {
	base := mustRead(t, "forklift.yaml", valid(t, "forklift.yaml"))
	second := mustReadOverlay(t, "b.yaml", []byte("overlay: b\ntitle: B\nitems:\n  - {id: mast.blades, measures: [{id: thickness, kind: either}]}\nsections:\n  - {id: end, title: End, lines: [{id: l, title: L, items: [{id: i, title: I, say: [i], checks: [lit]}]}]}\n"))
	first := mustReadOverlay(t, "night.yaml", valid(t, "night.yaml"))
	both, err := Compose(base, first, second)
	if err != nil {
		t.Fatal(err)
	}
	if got := both.Item("mast.blades").Measure("thickness"); got.Kind != EitherKind || got.Min != "1" {
		t.Errorf("got %+v, both overlays' changes must be there", got)
	}
	if both.Sections[len(both.Sections)-1].ID != "end" {
		t.Error("a section without after or before goes to the end")
	}
	one, err := Compose(base, first)
	if err != nil {
		t.Fatal(err)
	}
	byOne, err := Compose(one, second)
	if err != nil {
		t.Fatal(err)
	}
	if !reflect.DeepEqual(both, byOne) {
		t.Error("one by one gives another rubric than at once")
	}
	if _, err := Compose(byOne, first); err == nil || !strings.Contains(err.Error(), "part of the rubric already") {
		t.Errorf("an overlay put on a second time gives %v", err)
	}
	if _, err := Compose(base, second); err == nil || !strings.Contains(err.Error(), `condition "lit", which is not there`) {
		t.Errorf("without the first, the second's condition is missing; got %v", err)
	}
}

// Changing what Compose gave must not reach the base or the overlay.
func TestComposeCopies(t *testing.T) {
	base := mustRead(t, "forklift.yaml", valid(t, "forklift.yaml"))
	o := mustReadOverlay(t, "night.yaml", valid(t, "night.yaml"))
	for _, overlays := range [][]*Overlay{nil, {o}} {
		r, err := Compose(base, overlays...)
		if err != nil {
			t.Fatal(err)
		}
		scribble(reflect.ValueOf(r).Elem())
	}
	if !reflect.DeepEqual(base, mustRead(t, "forklift.yaml", valid(t, "forklift.yaml"))) {
		t.Error("the base shares memory with the result")
	}
	if !reflect.DeepEqual(o, mustReadOverlay(t, "night.yaml", valid(t, "night.yaml"))) {
		t.Error("the overlay shares memory with the result")
	}
}

// scribble overwrites every exported string, flag and number it can reach.
func scribble(v reflect.Value) {
	switch v.Kind() {
	case reflect.Struct:
		for i := range v.NumField() {
			if v.Type().Field(i).IsExported() {
				scribble(v.Field(i))
			}
		}
	case reflect.Slice:
		for i := range v.Len() {
			scribble(v.Index(i))
		}
	case reflect.String:
		v.SetString("scribble")
	case reflect.Bool:
		v.SetBool(!v.Bool())
	case reflect.Float64:
		v.SetFloat(-1)
	}
}

// A rubric made in code, without a file, composes and is checked too.
func TestComposeMadeInCode(t *testing.T) {
	made := &Rubric{ID: "made", Title: "Made", Version: "1", Sections: []Section{{ID: "s", Title: "S", Lines: []Line{{ID: "l", Title: "L",
		Items: []Item{{ID: "s.i", Title: "I", Say: []string{"i"}, Points: 1}}}}}}}
	o := mustReadOverlay(t, "o.yaml", []byte("overlay: o\ntitle: O\nitems: [{id: s.i, critical: true}]\n"))
	r, err := Compose(made, o)
	if err != nil || !r.Item("s.i").Critical || made.Item("s.i").Critical {
		t.Fatalf("got %+v, %v", r, err)
	}
	made.Order = []OrderRule{{Before: "s.i", After: "s.x", Reason: "r"}}
	if _, err := Compose(made); err == nil || err.Error() != `after names the item "s.x", which is not there; name an item as section.part` {
		t.Errorf("got %v", err)
	}
}

func TestReadWrongKind(t *testing.T) {
	_, err := Read("night.yaml", valid(t, "night.yaml"))
	if want := "night.yaml:4:1: this is an overlay, not a rubric; name a rubric, and add this to it"; err == nil || err.Error() != want {
		t.Errorf("got %v, want %s", err, want)
	}
	_, err = ReadOverlay("least.yaml", valid(t, "least.yaml"))
	if want := "least.yaml:3:1: this is a rubric, not an overlay; it must begin with overlay: and its id"; err == nil || err.Error() != want {
		t.Errorf("got %v, want %s", err, want)
	}
}

// A rubric made from another says what it is made from, takes what is written
// once there, and may set again what its own overlays have set.
func TestDerived(t *testing.T) {
	r, err := read("yard-truck.yaml", valid(t, "yard-truck.yaml"), corpus, nil)
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct{ reason, got, want string }{
		{"its own names", r.ID + ", " + r.Title + ", " + r.Edition, "yard-truck, Battery lift truck daily check, yard sheet C"},
		{"any of the versions may change marks", r.Version, "1+lift-truck.2+night.7"},
		{"the overlays inside are part of it", fmt.Sprint(r.Bases, r.With, r.within), "[lift-truck] [] [night]"},
		{"sections are moved and dropped", order(r), "seat: belt horn; mast: forks lamp carriage chains; battery: cells"},
		{"a section is retitled", r.Sections[0].Title + fmt.Sprint(r.Sections[0].Budget, r.Sections[0].Place, r.Sections[0].Say), "On the seat120cab[on the seat]"},
		{"a line keeps what is not named", r.Sections[1].Lines[0].Title + fmt.Sprint(r.Sections[1].Lines[0].Say, r.Sections[1].Lines[0].Source), "Forks[the forks my forks]maker"},
		{"items are added to a line", fmt.Sprint(len(r.Sections[1].Lines[3].Items), r.Item("mast.anchors").Title), "2Chain anchors"},
		{"no limit, and the source of the old one gone", fmt.Sprint(r.TimeLimit, r.TimeSource), "0"},
		{"it sets again what night has set", r.Item("mast.blades").Title + r.Item("mast.blades").Measure("thickness").Min, "Fork blades again1 1/4"},
		{"a check keeps what is not named", fmt.Sprint(r.Item("mast.blades").Checks[1]), "{heels heels thick whole [thick] [worn heels thin heels] false forklift.yaml:42:29}"},
		{"rules of what is dropped go", fmt.Sprint(len(r.Order), len(r.Holds), len(r.Agreements)), "0 0 0"},
	} {
		if c.got != c.want {
			t.Errorf("%s: got %q, want %q", c.reason, c.got, c.want)
		}
	}
	sum := sha256.Sum256(slices.Concat(valid(t, "forklift.yaml"), valid(t, "night.yaml"), valid(t, "yard-truck.yaml")))
	if want := hex.EncodeToString(sum[:]); r.Hash != want {
		t.Errorf("hash is %s, want that of the files one after the other, %s", r.Hash, want)
	}
	// An overlay for the base fits, and one that is inside cannot be put on again.
	day := mustReadOverlay(t, "o.yaml", []byte("overlay: o\ntitle: O\nfor: [lift-truck]\nitems: [{id: mast.blades, title: Mine}]\n"))
	if with, err := Compose(r, day); err != nil || with.Item("mast.blades").Title != "Mine" || fmt.Sprint(with.With) != "[o]" {
		t.Errorf("an overlay for the base: %v", err)
	}
	if _, err := Compose(r, mustReadOverlay(t, "night.yaml", valid(t, "night.yaml"))); err == nil || !strings.Contains(err.Error(), "part of the rubric already") {
		t.Errorf("an overlay that is inside: %v", err)
	}
}

// Files name what they are made from by paths from their own folder.
func TestDerivedFiles(t *testing.T) {
	dir := t.TempDir()
	write := func(name, text string) string {
		t.Helper()
		path := filepath.Join(dir, name)
		if err := errors.Join(os.MkdirAll(filepath.Dir(path), 0o700), os.WriteFile(path, []byte(text), 0o600)); err != nil {
			t.Fatal(err)
		}
		return path
	}
	write("base.yaml", string(valid(t, "forklift.yaml")))
	write("night.yml", string(valid(t, "night.yaml")))
	first := write("a/first.yaml", "rubric: first\nbase: ../base.yaml\nwith: [../night.yml]\ntitle: First\nversion: 1\n")
	second := write("second", "rubric: second\nbase: a/first.yaml\ntitle: Second\nversion: 1\ndrop: [mast]\n")
	if r, err := Load(first); err != nil || r.Item("lamps.left") == nil {
		t.Errorf("by a path upward: %v", err)
	}
	r, err := ReadFile(second)
	if err != nil {
		t.Fatal(err)
	}
	if got := fmt.Sprint(r.ID, r.Bases, order(r)); got != "second[first lift-truck]lamps: head; seat: belt horn; tank: gas tires" {
		t.Errorf("got %s", got)
	}
	loop := write("loop.yaml", "rubric: loop\nbase: loop2.yaml\ntitle: L\nversion: 1\n")
	write("loop2.yaml", "rubric: loop2\nbase: loop.yaml\ntitle: L\nversion: 1\n")
	if _, err := Load(loop); err == nil || !strings.Contains(err.Error(), "made from itself") {
		t.Errorf("a circle: %v", err)
	}
	// A school may give its file the name of an embedded one.
	names, _ := Names()
	same := write(names[0]+".yaml", "rubric: mine\nbase: "+names[0]+"\ntitle: Mine\nversion: 1\n")
	if r, err := Load(same); err != nil || r.ID != "mine" {
		t.Errorf("a file named like an embedded one: %v", err)
	}
	if _, err := Read("x.yaml", []byte("rubric: x\nbase: base.yaml\ntitle: X\nversion: 1\n")); err == nil || !strings.Contains(err.Error(), "read this one by its path") {
		t.Errorf("Read opens no files: %v", err)
	}
	if _, err := Read("x.yaml", []byte("rubric: x\nbase: "+names[0]+"\ntitle: X\nversion: 1\n")); err != nil {
		t.Errorf("but knows the embedded ones: %v", err)
	}
}

// An overlay may let steps come in any order.
func TestDropOrderRule(t *testing.T) {
	base := mustRead(t, "forklift.yaml", valid(t, "forklift.yaml"))
	r, err := Compose(base, mustReadOverlay(t, "o.yaml", []byte("overlay: o\ntitle: O\ndrop: [tank.valve > tank.hose]\n")))
	if err != nil {
		t.Fatal(err)
	}
	if len(r.Order) != 1 || r.Order[0].Before != "tank.hose" || len(base.Order) != 2 || r.Item("tank.valve") == nil {
		t.Errorf("rules are %+v", r.Order)
	}
}
