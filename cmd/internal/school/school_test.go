package school

import (
	"bytes"
	"encoding/csv"
	"flag"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"markaround/rubric"
	"markaround/rubric/cohort"
	"markaround/speech"
)

var update = flag.Bool("update", false, "rewrite the files that tests compare with")

func made(t testing.TB, o Options) *School {
	t.Helper()
	s, err := Make(o)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func bicycle(t testing.TB) *rubric.Rubric { return sheet(t, "testdata/bicycle.yaml") }

func goldText(s *School, b *bytes.Buffer) error {
	w := csv.NewWriter(b)
	w.Write(goldHeader)
	for i := range s.Attempts {
		s.writeGold(w, &s.Attempts[i])
	}
	w.Flush()
	return w.Error()
}

// The same seed gives the same school, also from one version to the next unless
// that is meant. The file was written on amd64.
func TestSameSeedSameSchool(t *testing.T) {
	var b bytes.Buffer
	s := made(t, Options{Seed: 3, Students: 4, Rubric: bicycle(t)})
	for _, write := range []func() error{
		func() error { return s.writeAttempts(&b) }, func() error { return s.writePlanted(&b) }, func() error { return goldText(s, &b) },
		func() error { return writeSRT(&b, s.Attempts[0].Transcript) }, func() error { return writeJSON(&b, s.Attempts[1].Transcript) },
	} {
		if err := write(); err != nil {
			t.Fatal(err)
		}
	}
	const file = "testdata/bicycle.golden"
	if *update {
		if err := os.WriteFile(file, b.Bytes(), 0o666); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(b.Bytes(), want) {
		t.Errorf("the school of seed 3 is not that of %s any more; if that is meant, run with -update", file)
	}
	other := made(t, Options{Seed: 4, Students: 4, Rubric: bicycle(t)})
	if slices.EqualFunc(s.Attempts, other.Attempts, func(a, b Attempt) bool { return slices.Equal(a.Marks, b.Marks) }) {
		t.Error("seeds 3 and 4 have the same marks")
	}
}

func TestSchoolIsAsLargeAsAsked(t *testing.T) {
	s, err := Marks(Options{Seed: 1, Rubric: sheet(t, "class-a")})
	if err != nil {
		t.Fatal(err)
	}
	groups := map[string]map[string]int{"cohort": {}, "site": {}, "instructor": {}, "vehicle": {}}
	for _, st := range s.Students {
		groups["cohort"][st.Cohort]++
		groups["site"][st.Site]++
		groups["instructor"][st.Instructor]++
	}
	for _, a := range s.Attempts {
		groups["vehicle"][a.Vehicle]++
	}
	if len(s.Students) != 90 || len(s.Attempts) < 250 || len(groups["cohort"]) < 3 || len(groups["site"]) < 2 || len(groups["instructor"]) < 3 || len(groups["vehicle"]) < 3 {
		t.Errorf("%d students, %d attempts, %v", len(s.Students), len(s.Attempts), groups)
	}
	for _, g := range []string{"cohort", "site", "instructor"} {
		for id, n := range groups[g] {
			if n != 90/len(groups[g]) {
				t.Errorf("%s %s has %d students", g, id, n)
			}
		}
	}
	if !slices.IsSortedFunc(s.Attempts, func(a, b Attempt) int { return strings.Compare(a.ID, b.ID) }) {
		t.Error("attempts are not sorted")
	}
}

func TestMarksAreThoseOfMake(t *testing.T) {
	o := Options{Seed: 5, Students: 12, Rubric: sheet(t, "forklift")}
	s := made(t, o)
	light, err := Marks(o)
	if err != nil {
		t.Fatal(err)
	}
	for i := range s.Attempts {
		a, b := s.Attempts[i], light.Attempts[i]
		if a.ID != b.ID || a.Date != b.Date || !slices.Equal(a.Marks, b.Marks) || !slices.Equal(a.Findings, b.Findings) {
			t.Errorf("%s differs", a.ID)
		}
		if r := b.Seconds / a.Seconds; r < 0.4 || r > 2.5 {
			t.Errorf("%s: %.0f s were estimated for %.0f s", a.ID, b.Seconds, a.Seconds)
		}
	}
}

// Every embedded score sheet can be spoken, and what is said of the parts of an
// item makes its mark by the rule of rubric.Mark.
func TestPartsMakeTheMark(t *testing.T) {
	names, _ := rubric.Names()
	for _, name := range names {
		s := made(t, Options{Seed: 9, Students: 3, Rubric: sheet(t, name)})
		for _, a := range s.Attempts {
			at := 0
			for i, it := range s.Items {
				said, wrong, omitted := false, false, 0
				for ; at < len(a.Parts) && a.Parts[at].Item == i; at++ {
					p := a.Parts[at]
					minor := false
					for _, c := range it.Checks {
						minor = minor || !p.Measure && c.ID == p.ID && c.Minor
					}
					if ms := it.Measure(p.ID); p.Measure && ms.Optional {
						minor = true
					}
					switch p.Mark {
					case rubric.Said:
						said = true
					case rubric.Wrong:
						said, wrong = true, true
					case rubric.Missed:
						if !minor {
							omitted++
						}
					}
				}
				want := rubric.Said
				switch {
				case a.Marks[i] == rubric.Missed && !said:
					want = rubric.Missed
				case wrong:
					want = rubric.Wrong
				case omitted > 0:
					want = rubric.Partly
				}
				if a.Marks[i] != want {
					t.Errorf("%s: %s of %s is marked %s, its parts make %s: %q", name, it.ID, a.ID, a.Marks[i], want, a.texts[it.ID])
				}
			}
			if at != len(a.Parts) {
				t.Errorf("%s: %d parts of %s are out of order", name, len(a.Parts)-at, a.ID)
			}
		}
	}
}

func TestTimes(t *testing.T) {
	r := sheet(t, "class-a")
	s := made(t, Options{Seed: 2, Students: 8, Rubric: r})
	held, cut := 0, 0
	for _, a := range s.Attempts {
		words := a.Transcript.Words
		spoken, gap := 0.0, 0.0 // seconds without pauses of 2 s and more; the longest pause
		for i, w := range words {
			if w.End < w.Start || i > 0 && w.Start < words[i-1].End {
				t.Fatalf("%s: word %d %q at %v to %v, before it %v", a.ID, i, w.Text, w.Start, w.End, words[i-1].End)
			}
			if i > 0 {
				g := w.Start - words[i-1].End
				gap = max(gap, g)
				if g < 2 {
					spoken += g
				}
			}
			spoken += w.End - w.Start
		}
		if rate := float64(len(words)) / spoken * 60; rate < 120 || rate > 180 {
			t.Errorf("%s: %.0f words a minute", a.ID, rate)
		}
		limit := r.Holds[0].Seconds
		switch hasty := slices.Contains(a.Findings, "hold:"+r.Holds[0].ID); {
		case hasty && gap > limit*0.6:
			t.Errorf("%s: a hold that was cut short has a pause of %.0f s", a.ID, gap)
		case hasty:
			cut++
		case gap > limit:
			held++
		}
	}
	if held < 10 || cut == 0 {
		t.Errorf("%d holds held, %d cut short of %d attempts", held, cut, len(s.Attempts))
	}
}

// Both formats give back the words and times that were written.
func TestTranscriptsReadBack(t *testing.T) {
	for _, errors := range []float64{0, 0.1} {
		s := made(t, Options{Seed: 6, Students: 2, Rubric: sheet(t, "forklift"), Errors: errors})
		for _, f := range []struct {
			format speech.Format
			write  func(*bytes.Buffer, *speech.Transcript) error
		}{
			{speech.SRT, func(b *bytes.Buffer, t *speech.Transcript) error { return writeSRT(b, t) }},
			{speech.Whisper, func(b *bytes.Buffer, t *speech.Transcript) error { return writeJSON(b, t) }},
		} {
			want := s.Attempts[0].Transcript
			var b bytes.Buffer
			if err := f.write(&b, want); err != nil {
				t.Fatal(err)
			}
			got, err := speech.Read(&b, speech.Options{Name: "x"})
			if err != nil {
				t.Fatal(err)
			}
			if got.Format != f.format || errors == 0 && len(got.Warnings) > 0 || got.Text(0, len(got.Words)) != want.Text(0, len(want.Words)) {
				t.Errorf("%s: came back as %s, %d words for %d, warnings %v", f.format, got.Format, len(got.Words), len(want.Words), got.Warnings)
			}
			if f.format == speech.Whisper {
				for i := range got.Words {
					if math.Abs(got.Words[i].Start-want.Words[i].Start) > 0.0011 {
						t.Errorf("word %d came back at %v, was at %v", i, got.Words[i].Start, want.Words[i].Start)
					}
				}
			}
		}
	}
}

func TestGoldReadsBack(t *testing.T) {
	s := made(t, Options{Seed: 1, Students: 3, Rubric: sheet(t, "school-bus")})
	var b bytes.Buffer
	if err := goldText(s, &b); err != nil {
		t.Fatal(err)
	}
	got, err := cohort.ReadMarks(&b, "gold.csv")
	if err != nil {
		t.Fatal(err)
	}
	want := s.Gold()
	if len(got.All()) != len(want.All()) || len(want.All()) < len(s.Attempts)*len(s.Items) {
		t.Fatalf("%d marks came back of %d", len(got.All()), len(want.All()))
	}
	for i, j := range got.All() {
		if w := want.All()[i]; j.Attempt != w.Attempt || j.Item != w.Item || j.Mark != w.Mark || j.Kind != w.Kind {
			t.Errorf("mark %d came back as %v, was %v", i, j, w)
		}
	}
	sheets := cohort.NewMarks("sheets")
	for _, sh := range s.Sheets() {
		if err := sheets.AddSheet(sh); err != nil {
			t.Fatal(err)
		}
	}
	if c := cohort.Compare(want, sheets, cohort.ByItem); len(c.Disagreements()) > 0 || c.Alike.Of != len(s.Attempts)*len(s.Items) {
		t.Errorf("sheets are not the gold marks: %v", c.Disagreements())
	}
}

// share is how often something is so among first attempts of a group.
func share(s *School, group func(*Student) string, id string, so func(*Attempt) bool) (hits, of int) {
	for i := range s.Attempts {
		a := &s.Attempts[i]
		if a.Number == 1 && group(s.Of(a)) == id {
			of++
			if so(a) {
				hits++
			}
		}
	}
	return hits, of
}

func byCohort(st *Student) string     { return st.Cohort }
func byInstructor(st *Student) string { return st.Instructor }

// What is planted is there, at first attempts, and what is not is not: the first
// and the last cohort are alike in every mark, over many seeds.
func TestPlanted(t *testing.T) {
	r := sheet(t, "class-a")
	const schools = 25
	var with, without, wrongWith, wrongWithout [2]int
	var first, last [2]int
	for seed := range uint64(schools) {
		s, err := Marks(Options{Seed: seed, Rubric: r})
		if err != nil {
			t.Fatal(err)
		}
		if len(s.Planted) != 6 {
			t.Fatalf("seed %d: planted %v", seed, s.Planted)
		}
		for _, p := range s.Planted {
			group, other := byCohort, talk().Cohorts[0]
			if p.Kind == "instructor" {
				group, other = byInstructor, talk().Instructors[0]
			}
			i := slices.IndexFunc(s.Items, func(it *rubric.Item) bool { return it.ID == p.Item })
			so := func(a *Attempt) bool { return a.Marks[i] == p.Mark }
			to, from := &with, &without
			if p.Mark == rubric.Wrong {
				to, from = &wrongWith, &wrongWithout
			}
			h, n := share(s, group, p.Group, so)
			to[0], to[1] = to[0]+h, to[1]+n
			h, n = share(s, group, other, so)
			from[0], from[1] = from[0]+h, from[1]+n
		}
		for i := range s.Items {
			so := func(a *Attempt) bool { return a.Marks[i] != rubric.Said }
			h, n := share(s, byCohort, talk().Cohorts[0], so)
			first[0], first[1] = first[0]+h, first[1]+n
			h, n = share(s, byCohort, talk().Cohorts[2], so)
			last[0], last[1] = last[0]+h, last[1]+n
		}
	}
	p := func(x [2]int) float64 { return float64(x[0]) / float64(x[1]) }
	t.Logf("missed %.3f and %.3f, wrong %.3f and %.3f, not said in cohorts that are alike %.4f and %.4f", p(with), p(without), p(wrongWith), p(wrongWithout), p(first), p(last))
	if p(with)-p(without) < 0.4 || p(wrongWith)-p(wrongWithout) < 0.3 {
		t.Error("what was planted is hardly there")
	}
	// Marks of one student go together, by ability: the variance is that of 750
	// students a side, whose shares have a standard deviation of some 0.08.
	if math.Abs(p(first)-p(last)) > 0.015 {
		t.Error("cohorts that are alike differ")
	}
}

func TestStudentsGetBetter(t *testing.T) {
	s, err := Marks(Options{Seed: 8, Rubric: sheet(t, "class-a")})
	if err != nil {
		t.Fatal(err)
	}
	var points, of [4]float64
	for i := range s.Attempts {
		a := &s.Attempts[i]
		p, o := s.Points(a)
		points[a.Number] += p
		of[a.Number] += o
	}
	if !(points[1]/of[1]+0.03 < points[2]/of[2] && points[2]/of[2] < points[3]/of[3]) {
		t.Errorf("points %v of %v by attempt", points, of)
	}
}

func TestNullSchool(t *testing.T) {
	s, err := Marks(Options{Seed: 1, Rubric: sheet(t, "class-a"), Null: true})
	if err != nil {
		t.Fatal(err)
	}
	if len(s.Planted) > 0 {
		t.Errorf("planted %v", s.Planted)
	}
}

func TestOptions(t *testing.T) {
	r := bicycle(t)
	for _, c := range []struct {
		reason string
		o      Options
		want   string
	}{
		{"no sheet", Options{}, "needs a score sheet"},
		{"fewer than nobody", Options{Rubric: r, Students: -1}, "-1 students"},
		{"more than memory may hold", Options{Rubric: r, Students: MostStudents + 1}, "10001 students"},
	} {
		if _, err := Make(c.o); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: error %v, want %q", c.reason, err, c.want)
		}
	}
}

func TestWrite(t *testing.T) {
	dir := t.TempDir()
	folder := filepath.Join(dir, "demo")
	s := made(t, Options{Seed: 1, Students: 4, Rubric: bicycle(t)})
	must := func(err error) {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
	}
	refused := func(what, want string, err error) {
		t.Helper()
		if err == nil || !strings.Contains(err.Error(), want) || strings.Contains(err.Error(), "\n") {
			t.Errorf("%s: error %v, want one line with %q", what, err, want)
		}
	}
	must(s.Write(folder, false))
	light, err := Marks(Options{Seed: 1, Students: 4, Rubric: bicycle(t)})
	must(err)
	must(light.Write(filepath.Join(dir, "light"), false))
	for _, name := range []string{GoldFile, TranscriptsFolder + "/" + s.File(&s.Attempts[3])} {
		a, err := os.ReadFile(filepath.Join(folder, name))
		must(err)
		b, err := os.ReadFile(filepath.Join(dir, "light", name))
		must(err)
		if !bytes.Equal(a, b) || len(a) == 0 {
			t.Errorf("%s is another when it is made while it is written", name)
		}
	}
	list, err := os.ReadDir(filepath.Join(folder, TranscriptsFolder))
	must(err)
	if len(list) != len(s.Attempts) {
		t.Errorf("%d transcripts of %d attempts", len(list), len(s.Attempts))
	}
	text, err := os.ReadFile(filepath.Join(folder, ReadmeFile))
	must(err)
	for _, p := range s.Planted {
		if !bytes.Contains(text, []byte("`"+p.Item+"`")) {
			t.Errorf("the readme does not tell of %v", p)
		}
	}
	refused("a second time", "add --force to replace it", s.Write(folder, false))
	must(os.Remove(filepath.Join(folder, TranscriptsFolder, list[0].Name())))
	must(s.Write(folder, true))
	if _, err := os.Stat(filepath.Join(folder, TranscriptsFolder, list[0].Name())); err != nil {
		t.Error("replacing left a gap:", err)
	}
	must(os.WriteFile(filepath.Join(folder, "notes.txt"), []byte("mine"), 0o666))
	refused("somebody's file in it", "holds notes.txt", s.Write(folder, true))
	must(os.Mkdir(filepath.Join(dir, "other"), 0o777))
	must(os.WriteFile(filepath.Join(dir, "other", ReadmeFile), nil, 0o666))
	refused("a folder with a readme of its own", "is not empty", s.Write(filepath.Join(dir, "other"), true))
	must(os.WriteFile(filepath.Join(dir, "file"), nil, 0o666))
	refused("a file", "is a file", s.Write(filepath.Join(dir, "file"), true))
	refused("a folder that is not there", "no such file", s.Write(filepath.Join(dir, "nowhere", "x"), false))
	must(os.Mkdir(filepath.Join(dir, "empty"), 0o777))
	must(s.Write(filepath.Join(dir, "empty"), false))
	left, err := os.ReadDir(dir)
	must(err)
	for _, e := range left {
		if strings.HasPrefix(e.Name(), ".") {
			t.Errorf("%s was left behind", e.Name())
		}
	}
}

func TestFigures(t *testing.T) {
	m := func(kind, lo, hi string, d rubric.Direction) *rubric.Measure {
		return &rubric.Measure{Unit: "inch", Kind: kind, Min: lo, Max: hi, Direction: d}
	}
	for _, c := range []struct {
		reason string
		m      *rubric.Measure
		want   string
	}{
		{"half of a least one, over the same denominator", m("limit", "4/32", "4/32", rubric.AtLeast), "2/32"},
		{"half as much again of a largest one", m("limit", "4", "4", rubric.AtMost), "6"},
		{"below a range by its width", m("either", "120", "140", ""), "100"},
		{"above it where below is nothing", m("either", "20", "45", ""), "70"},
		{"an exact one", m("either", "3", "3", ""), "1"},
		{"twice as much where half is nothing", m("either", "1/4", "1/4", ""), "2/4"},
		{"no limit at all", m("reading", "", "", ""), ""},
	} {
		f, ok := wrongFigure(c.m)
		got := ""
		if ok {
			got = f.String()
		}
		if got != c.want {
			t.Errorf("%s: the wrong figure is %q, want %q", c.reason, got, c.want)
		}
	}
	// Other spellings of the same figures are tested in package speech; here each
	// must be read as the figure that it was made of.
	rng := random(1, useWords, 0, 0)
	for n := range 1000 {
		if n == 0 {
			continue
		}
		text := inWords(rng, figure{n, 1}) + " psi"
		q := speech.Quantities(speech.TokensOf(strings.Fields(text)...))
		if len(q) != 1 || q[0].Readings[0].Low.Cmp(figure{n, 1}.rat()) != 0 {
			t.Errorf("%d was said as %q and is read as %v", n, text, q)
		}
	}
}

func TestTalk(t *testing.T) {
	seen := map[string]string{}
	for third, plain := range talk().Verbs {
		if other, twice := seen[plain]; twice {
			t.Errorf("%s is the plain form of %s and %s", plain, third, other)
		}
		seen[plain] = third
		if agree(third+" fine", true) != plain+" fine" || agree(plain, false) != third {
			t.Errorf("%s and %s do not change into each other", third, plain)
		}
	}
	for _, c := range []struct {
		phrase, reason string
		form           form
		ok             bool
	}{
		{"tight to the touch", "a state with what follows it", state, true},
		{"securely mounted", "a state behind an adverb", state, true},
		{"in good condition", "a place", state, true},
		{"works fine", "a verb", doing, true},
		{"good condition", "a noun, not a state", 0, false},
		{"whole and", "half a phrase", 0, false},
	} {
		if f, ok := affirmed(c.phrase); f != c.form || ok != c.ok {
			t.Errorf("%q (%s): form %d %t", c.phrase, c.reason, f, ok)
		}
	}
	for _, c := range []struct {
		phrase, reason string
		form           form
		ok             bool
	}{
		{"missing bolts", "things that are not there", without, true},
		{"loose", "a state", denied, true},
		{"moves when touched", "too long to deny in a word", 0, false},
		{"only sometimes", "no thing", 0, false},
	} {
		if f, ok := deniable(c.phrase); f != c.form || ok != c.ok {
			t.Errorf("%q (%s): form %d %t", c.phrase, c.reason, f, ok)
		}
	}
}

func TestLogistic(t *testing.T) {
	for x := -900; x <= 900; x++ {
		want := 1e6 / (1 + math.Exp(-float64(x)/100))
		if got := float64(logistic(x)); math.Abs(got-want) > 25_000 || x > -900 && logistic(x) < logistic(x-1) {
			t.Errorf("logistic(%d) is %v, the curve %v", x, got, want)
		}
	}
}

func BenchmarkMake(b *testing.B) {
	r := sheet(b, "class-a")
	for b.Loop() {
		made(b, Options{Seed: 1, Students: 10, Rubric: r})
	}
}

func BenchmarkMarks(b *testing.B) {
	r := sheet(b, "class-a")
	for b.Loop() {
		if _, err := Marks(Options{Seed: 1, Rubric: r}); err != nil {
			b.Fatal(err)
		}
	}
}
