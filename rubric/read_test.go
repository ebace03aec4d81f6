package rubric

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"math/big"
	"reflect"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/goccy/go-yaml"
	"pgregory.net/rapid"
)

func TestValid(t *testing.T) {
	for _, f := range testFiles(t, "valid") {
		t.Run(f.name, func(t *testing.T) {
			r, err := f.readTest(t)
			if err != nil {
				t.Fatal(err)
			}
			var got []any
			s, l, i, c, m := r.Counts()
			got = append(got, s, l, i, c, m, r.Extras())
			if counts := fmt.Sprintf("%d %d %d %d %d, extra %d", got...); counts != f.tags["counts"][0] {
				t.Errorf("counts are %s, want %s", counts, f.tags["counts"][0])
			}
			composeNothing(t, r)
		})
	}
}

// composeNothing sees that a rubric that was read is whole: composed with
// nothing it is sound and the same.
func composeNothing(t testing.TB, r *Rubric) {
	t.Helper()
	again, err := Compose(r)
	if err != nil {
		t.Fatalf("read, but does not compose with nothing: %v", err)
	}
	if !reflect.DeepEqual(r, again) {
		t.Error("composing with nothing changed it")
	}
}

// TestInvalid reads every file of testdata/invalid and wants the faults that
// its "# error:" lines name, all of them and in order.
func TestInvalid(t *testing.T) {
	for _, f := range testFiles(t, "invalid") {
		t.Run(f.name, func(t *testing.T) {
			_, err := f.readTest(t)
			if err == nil {
				t.Fatal("read without a fault")
			}
			got := strings.Split(err.Error(), "\n")
			want := f.tags["error"]
			for i := range want {
				if '0' <= want[i][0] && want[i][0] <= '9' { // the place alone is one in this file
					want[i] = f.name + ":" + want[i]
				}
			}
			if !slices.Equal(got, want) {
				t.Errorf("got\n\t%s\nwant\n\t%s", strings.Join(got, "\n\t"), strings.Join(want, "\n\t"))
			}
		})
	}
}

// A lift truck's daily check shares nothing with a truck test but the form.
// The daily check itself: 29 CFR 1910.178(q)(7), from memory; items invented.
func TestReadOtherTrade(t *testing.T) {
	data := valid(t, "forklift.yaml")
	r := mustRead(t, "forklift.yaml", data)
	sum := sha256.Sum256(data)
	if want := hex.EncodeToString(sum[:]); r.Hash != want {
		t.Errorf("hash is %s, want that of the file, %s", r.Hash, want)
	}
	blades := r.Item("mast.blades")
	if blades == nil || r.Item("blades") != nil || r.Item("mast.") != nil {
		t.Fatal("items must be found by section.part, and by nothing else")
	}
	want := Item{
		ID: "mast.blades", Title: "Fork blades", Say: []string{"fork blades", "tines"}, Kind: "blade", Points: 2,
		Checks: []Check{
			{ID: "whole", Title: "no cracks or bends", Condition: "whole", Pos: Pos{"forklift.yaml", 42, 22}},
			{ID: "heels", Title: "heels not worn", Condition: "whole", Bad: []string{"worn heels"}, Minor: true, Pos: Pos{"forklift.yaml", 42, 29}},
		},
		Measures: []Measure{{ID: "thickness", Title: "heel thickness", Unit: "inch", Kind: "limit", Min: "1 3/8",
			Direction: AtLeast, Source: "maker, 178.q.7; page 3", Pos: Pos{"forklift.yaml", 44, 17}}},
		Pos: Pos{"forklift.yaml", 37, 13},
	}
	if !reflect.DeepEqual(*blades, want) {
		t.Errorf("got  %+v\nwant %+v", *blades, want)
	}
	low, high, err := blades.Measures[0].Range()
	if err != nil || high != nil || low.Cmp(big.NewRat(11, 8)) != 0 {
		t.Errorf("range is %v to %v, %v; want 11/8 and open", low, high, err)
	}
	good, bad := r.Phrases(&blades.Checks[1])
	if fmt.Sprint(good, bad) != "[whole] [cracked bent worn heels]" {
		t.Errorf("phrases of heels are %v and %v", good, bad)
	}
	hose := r.Item("tank.hose")
	if hose.Points != 1 || hose.Checks[0].Minor || !hose.Checks[1].Minor || !r.Item("tank.valve").Checks[1].Minor {
		t.Errorf("an item has 1 point unless given, and only ? or (minor) makes a check minor: %+v", hose)
	}
	if got := r.Item("tank.tires").Checks[0].Bad; !slices.Equal(got, r.Item("tank.tires").Say) {
		t.Errorf("an alias reads as what its anchor names, not %v", got)
	}
	if r.Sections[1].Place != "cab" || r.Item("seat.belt").Of != r.Item("seat.horn").Kind || r.Item("seat.belt").Of == "" {
		t.Errorf("place is %q, the belt is of %q", r.Sections[1].Place, r.Item("seat.belt").Of)
	}
	if r.TimeLimit != 720 || r.Sections[1].Budget != 3723 || r.Pass.MinShare != 0.75 || r.Holds[0].Seconds != 30 {
		t.Errorf("times %v, %v, %v or share %v", r.TimeLimit, r.Sections[1].Budget, r.Holds[0].Seconds, r.Pass.MinShare)
	}
	if got := r.Order[1].Reason; got != "a leak by the wheels is heard first" {
		t.Errorf("folded text is %q", got)
	}
	var walk []string
	for e := range r.All() {
		walk = append(walk, e.Section.ID+" "+e.Line.ID+" "+e.Item.ID)
	}
	if len(walk) != 9 || walk[0] != "mast forks mast.blades" || walk[8] != "tank tires tank.tires" {
		t.Errorf("items in order: %q", walk)
	}
	for e := range r.All() {
		e.Item.Title = "changed" // the pointers lead into the rubric
		break
	}
	if r.Item("mast.blades").Title != "changed" {
		t.Error("All gave a copy")
	}
}

// The words must be those that the YAML library's own decoder gives.
func TestReadAgainstDecoder(t *testing.T) {
	data := valid(t, "forklift.yaml")
	var plain struct {
		Sections []struct {
			Lines []struct {
				Items []struct {
					Title string
					Say   []string
				}
			}
		}
	}
	if err := yaml.Unmarshal(data, &plain); err != nil {
		t.Fatal(err)
	}
	r := mustRead(t, "forklift.yaml", data)
	n := 0
	for s, section := range plain.Sections {
		for l, line := range section.Lines {
			for i, item := range line.Items {
				n++
				got := r.Sections[s].Lines[l].Items[i]
				if got.Title != item.Title || !slices.Equal(got.Say, item.Say) {
					t.Errorf("%s: %q %q, the library gives %q %q", got.ID, got.Title, got.Say, item.Title, item.Say)
				}
			}
		}
	}
	if n != 9 {
		t.Errorf("compared %d items, want 9", n)
	}
}

// Files made to exhaust a reader end in a fault of one line each.
func TestReadHostile(t *testing.T) {
	rep := strings.Repeat
	for _, c := range []struct{ reason, data, want string }{
		{"over the size limit", rep("#", MaxBytes+1), "more than the limit of 1048576"},
		{"deep flow lists", "rubric: " + rep("[", 100_000), "nested more than 32 deep"},
		{"deep flow mappings", rep("{a: ", 100_000), "nested more than 32 deep"},
		{"deep lists on one line", rep("- ", 100_000), "nested more than 32 deep"},
		{"deep keys that are lists", rep("? ", 100_000), "nested more than 32 deep"},
		{"deep by indentation", deepBlock(200), "nested more than 32 deep"},
		{"many keys, for which the parser recurses", rep("a:\n", 300_000), "more than 100 keys"},
		{"anchors in a row", rep("&a ", 100_000), "not valid YAML"},
		{"tags in a row", rep("!a ", 100_000), "follow each other"},
		{"many documents", rep("--- a\n", 100_000), "second document"},
		{"an alias inside its own anchor", "rubric: a\ncautions: &x [*x]\n", "must be text, not a list"},
		{"doubling aliases", laughs(20), "more than 131072 values"},
		{"many quotes", rep(`"`, 100_000), "not valid YAML"},
		{"NUL", "rubric: a\x00b", "control character U+0000"},
		{"escape in quotes", `rubric: "a\x1b[2J"`, "control character"},
		{"broken UTF-8", "rubric: a\xff", "byte 0xff is not UTF-8"},
		{"empty", "", "the file is empty"},
		{"only a comment", "# nothing\n", "the file is empty"},
		{"a list", "- rubric\n", "this is no rubric"},
		{"more faults than anyone reads", "rubric: a\n" + "cautions: [" + rep("null, ", 1000) + "]", "more than 200 faults"},
	} {
		t.Run(c.reason, func(t *testing.T) {
			for _, read := range []func() error{
				func() error { _, err := Read("hostile.yaml", []byte(c.data)); return err },
				func() error {
					_, err := ReadOverlay("hostile.yaml", []byte(strings.ReplaceAll(c.data, "rubric", "overlay")))
					return err
				},
			} {
				err := read()
				if err == nil || !strings.Contains(strings.ReplaceAll(err.Error(), "overlay", "rubric"), c.want) {
					t.Errorf("got %v, want %q", err, c.want)
				}
				wellFormed(t, err)
			}
		})
	}
}

func deepBlock(n int) string {
	var b strings.Builder
	for i := range n {
		b.WriteString(strings.Repeat(" ", i) + "a:\n")
	}
	return b.String()
}

// laughs is a list of lists of lists …, each naming the one before it often.
// The typed reader has no such lists, so the phrases of many items stand in.
func laughs(n int) string {
	phrases := make([]string, 2000)
	for i := range phrases {
		phrases[i] = fmt.Sprintf("p%d", i)
	}
	var b strings.Builder
	b.WriteString("rubric: a\nconditions:\n  - &c {id: c, title: c, good: &p [" + strings.Join(phrases, ",") + "], bad: *p}\n")
	b.WriteString(strings.Repeat("  - *c\n", n*2))
	return b.String()
}

var errorLine = regexp.MustCompile(`^[^\n:]+\.yaml(:\d+:\d+)?: [^\n]+; [^\n]+$`)

// wellFormed sees that every fault is one line with a place and advice.
func wellFormed(t testing.TB, err error) {
	t.Helper()
	errs, ok := errors.AsType[Errors](err)
	if !ok || len(errs) == 0 {
		t.Fatalf("want Errors, got %T %v", err, err)
	}
	for _, e := range errs {
		if !errorLine.MatchString(e.Error()) {
			t.Errorf("not one line of file:line:column: message; advice: %q", e.Error())
		}
	}
	if first, ok := errors.AsType[*Error](err); !ok || first != errs[0] {
		t.Error("a single *Error must be found in Errors")
	}
}

func TestParseRational(t *testing.T) {
	for _, c := range []struct{ in, want, reason string }{
		{"3", "3", "whole"},
		{"0.5", "1/2", "decimal"},
		{"4/32", "1/8", "fraction"},
		{"3 1/2", "7/2", "mixed"},
		{"-3 1/2", "-7/2", "the sign is of the whole figure"},
		{"007", "7", "leading zeros are not octal"},
		{"010/032", "5/16", "nor in fractions"},
		{"08 09/010", "89/10", "nor in mixed figures"},
		{"0/5", "0", "zero"},
		{"120", "120", "a pressure"},
		{"-2", "-2", "a sign"},
		{"-1 1/2", "-3/2", "a sign before a mixed figure"},
	} {
		got, err := ParseRational(c.in)
		if err != nil || got.RatString() != c.want {
			t.Errorf("%s: %q is %v, %v; want %s", c.reason, c.in, got, err, c.want)
		}
	}
	for _, in := range []string{"", " ", "1/0", "1e9", "0x10", "1_0", "1/2/3", "1 2", "1/2.5", "1.", ".5", "--1", "+1", "½", "1 -1/2", "1234567890", "inf", "NaN", "3  1/2", "3\n",
		"-", "x", "1/2 3", "3.5 1/2", "/2", "1_000", "1234567890123456789", "+4", "4 psi", "1.5/2"} {
		if got, err := ParseRational(in); err == nil {
			t.Errorf("%q reads as %v", in, got)
		}
	}
}

// math/big reads the same figures where both take the form.
func TestParseRationalAgainstBig(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		// No leading zeros: math/big takes 010/32 for octal.
		s := rapid.StringMatching(`-?(0|[1-9][0-9]{0,8})((\.[0-9]{1,9})|(/[1-9][0-9]{0,8}))?`).Draw(t, "figure")
		got, err := ParseRational(s)
		want, ok := new(big.Rat).SetString(s)
		if err != nil || !ok || got.Cmp(want) != 0 {
			t.Fatalf("%q is %v, %v; math/big gives %v", s, got, err, want)
		}
	})
}

func TestParseSeconds(t *testing.T) {
	for _, c := range []struct {
		in   string
		want float64
	}{
		{"90 min", 5400}, {"45 s", 45}, {"1 h 30 min", 5400}, {"60", 60}, {"1.5 min", 90}, {"0.5", 0.5},
		{"1 h", 3600}, {"1 h 5 s", 3605}, {"2 min 30 s", 150}, {"90min", 5400}, {"1h30min 5s", 5405}, {"24 h", 86400},
	} {
		if got, ok := parseSeconds(c.in); !ok || got != c.want {
			t.Errorf("%q is %v %v, want %v", c.in, got, ok, c.want)
		}
	}
	for _, in := range []string{"", "0", "0 s", "-5", "-5 s", "5 m", "5 minutes", "30 min 1 h", "1 h 1 h", "25 h", "1:30", "min", "5 s ", "1e3", "NaN", "inf", "1 h 30"} {
		if got, ok := parseSeconds(in); ok {
			t.Errorf("%q reads as %v", in, got)
		}
	}
}

func TestSourceKeys(t *testing.T) {
	for in, want := range map[string][]string{
		"":                               nil,
		"gi":                             {"gi"},
		"gi, ga-11m.1.2; page 3, line 4": {"gi", "ga-11m.1.2"},
		"from memory; see gi":            nil,
		"Common practice, no source":     nil,
		"; a remark":                     {""},
	} {
		if got := SourceKeys(in); !slices.Equal(got, want) {
			t.Errorf("%q names %q, want %q", in, got, want)
		}
	}
}

func FuzzRead(f *testing.F) {
	seed(f, false)
	f.Fuzz(func(t *testing.T, data []byte) {
		r, err := Read("fuzz.yaml", data)
		if err != nil {
			wellFormed(t, err)
			return
		}
		composeNothing(t, r)
	})
}

func FuzzOverlay(f *testing.F) {
	seed(f, true)
	base := mustRead(f, "forklift.yaml", valid(f, "forklift.yaml"))
	untouched := base.clone()
	f.Fuzz(func(t *testing.T, data []byte) {
		o, err := ReadOverlay("fuzz.yaml", data)
		if err != nil {
			wellFormed(t, err)
			return
		}
		r, err := Compose(base, o)
		if !reflect.DeepEqual(base, untouched) {
			t.Fatal("the base was changed")
		}
		if err != nil {
			wellFormed(t, err)
			return
		}
		composeNothing(t, r)
	})
}

func seed(f *testing.F, overlays bool) {
	for _, folder := range []string{"valid", "invalid"} {
		for _, file := range testFiles(f, folder) {
			if isOverlay(file.data) == overlays {
				f.Add(file.data)
			}
		}
	}
}

func BenchmarkLoad(b *testing.B) {
	rubrics, _ := Names()
	b.ReportAllocs()
	for b.Loop() {
		if _, err := Load(rubrics[0]); err != nil {
			b.Fatal(err)
		}
	}
}

// BenchmarkRead shows that reading is linear: 2,500 lines and four times that.
func BenchmarkRead(b *testing.B) {
	for _, items := range []int{156, 625, 2500} {
		data := manyItems(items)
		b.Run(fmt.Sprintf("lines=%d", strings.Count(string(data), "\n")), func(b *testing.B) {
			b.SetBytes(int64(len(data)))
			b.ReportAllocs()
			for b.Loop() {
				if _, err := Read("many.yaml", data); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

func manyItems(n int) []byte {
	var b strings.Builder
	b.WriteString("rubric: many\ntitle: Many\nversion: 1\nconditions: [{id: ok, title: ok, good: [fine], bad: [bad]}]\nsections:\n  - id: a\n    title: A\n    lines:\n      - id: l\n        title: L\n        items:\n")
	for i := range n {
		fmt.Fprintf(&b, "          - id: i%d\n            title: Item %d of many\n            say: [item %d, number %d, that one]\n            checks: [ok, {id: own, title: own, good: [clean, clear], bad: [dirty]}]\n", i, i, i, i)
	}
	return []byte(b.String())
}
