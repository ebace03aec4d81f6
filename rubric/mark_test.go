package rubric

import (
	"encoding/json"
	"fmt"
	"math"
	"math/big"
	"reflect"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// words makes evidence that begins at a second.
func words(at, confidence float64) Evidence {
	return Evidence{Words: fmt.Sprintf("said at %g", at), Start: at, End: at + 1, First: int(at), Last: int(at) + 1, Confidence: confidence}
}

// contrary makes evidence that says the opposite.
func contrary(at float64) Evidence {
	e := words(at, 1)
	e.Contradicts = true
	return e
}

func list(ev ...Evidence) []Evidence { return ev }

// number makes the statement of a figure at a second.
func number(t testing.TB, at float64, how Pointing, figure string) Statement {
	s := stating(t, how, figure)
	s.Evidence = words(at, 1)
	return s
}

// pump is an invented item with every kind of check and measure.
var pump = Item{
	ID: "shed.pump", Title: "Pump", Points: 2, Critical: true,
	Checks: []Check{
		{ID: "dry", Condition: "dry"},
		{ID: "tight", Title: "tight"},
		{ID: "clean", Title: "clean", Minor: true},
	},
	Measures: []Measure{
		{ID: "loss", Title: "pressure lost", Unit: "psi", Kind: LimitKind, Min: "4", Max: "4", Direction: AtMost},
		{ID: "heat", Title: "heat", Unit: "degree", Kind: ReadingKind, Max: "90", Optional: true},
	},
}

// shed is an invented sheet around it.
func shed() *Rubric {
	return &Rubric{
		ID: "shed", Title: "Shed", Version: "1", Edition: "yard", TimeLimit: 600,
		Cautions:   []string{"invented"},
		Conditions: []Condition{{ID: "dry", Title: "no drips"}},
		Sections: []Section{
			{ID: "shed", Title: "Shed", Lines: []Line{{ID: "pumps", Title: "Pumps", Items: []Item{
				pump,
				{ID: "shed.tag", Title: "Tag", Points: 1},
				{ID: "shed.lamp", Title: "Lamp", Points: 5, Extra: true, Critical: true, Checks: []Check{{ID: "lit", Title: "lit"}}},
			}}}},
			{ID: "yard", Title: "Yard", Lines: []Line{{ID: "gates", Title: "Gates", Items: []Item{
				{ID: "yard.gate", Title: "Gate", Points: 3, Checks: []Check{{ID: "shut", Title: "shut"}}},
			}}}},
		},
	}
}

// whole answers everything of the pump rightly.
func whole(t testing.TB) *Answer {
	return &Answer{
		Named:    list(words(10, 0.9)),
		Checks:   map[string][]Evidence{"dry": list(words(11, 1)), "tight": list(words(12, 1)), "clean": list(words(13, 1))},
		Measures: map[string][]Statement{"loss": {number(t, 14, Downward, "4")}, "heat": {number(t, 15, Flat, "70")}},
	}
}

// TestMark takes the marking rule, line by line, at the item with every kind of
// check. The rule is the project's own: the doc comment of Mark.
func TestMark(t *testing.T) {
	for _, c := range []struct {
		reason  string
		change  func(a *Answer)
		want    Mark
		omitted []string
		because []string // parts of the reason given
	}{
		{"all said", func(a *Answer) {}, Said, nil, []string{"said: no drips; tight; clean"}},
		{"nothing at all", func(a *Answer) { *a = Answer{} }, Missed, nil, []string{"nothing heard"}},
		{"something that came near", func(a *Answer) {
			*a = Answer{Near: &Evidence{Words: "the plump", Confidence: 0.5, Reason: "spelled so"}}
		},
			Missed, nil, []string{`"the plump"`, "spelled so"}},
		{"only named", func(a *Answer) { a.Checks, a.Measures = nil, nil },
			Partly, []string{"no drips", "tight", "pressure lost (at most 4 psi)"}, []string{"left out: no drips; tight"}},
		{"a main check missed", func(a *Answer) { delete(a.Checks, "tight") }, Partly, []string{"tight"}, []string{"left out: tight"}},
		{"a required number missed", func(a *Answer) { delete(a.Measures, "loss") },
			Partly, []string{"pressure lost (at most 4 psi)"}, []string{"pressure lost (at most 4 psi)"}},
		{"a minor check missed", func(a *Answer) { delete(a.Checks, "clean") }, Said, nil, nil},
		{"an optional number missed", func(a *Answer) { delete(a.Measures, "heat") }, Said, nil, nil},
		{"a minor check alone", func(a *Answer) { *a = Answer{Checks: map[string][]Evidence{"clean": list(words(13, 1))}} },
			Partly, []string{"no drips", "tight", "pressure lost (at most 4 psi)"}, nil},
		{"not named, all else said", func(a *Answer) { a.Named = nil }, Said, nil, nil},
		{"a main check contradicted", func(a *Answer) { a.Checks["tight"] = list(contrary(12)) }, Wrong, nil, []string{`"said at 12" contradicts "tight"`}},
		{"a minor check contradicted", func(a *Answer) { a.Checks["clean"] = list(contrary(13)) }, Wrong, nil, []string{`contradicts "clean"`}},
		{"a shared condition contradicted goes by its title", func(a *Answer) { a.Checks["dry"] = list(contrary(13)) }, Wrong, nil, []string{`contradicts "no drips"`}},
		{"taken back: the last word counts", func(a *Answer) { a.Checks["tight"] = list(contrary(12), words(16, 1)) }, Said, nil, nil},
		{"spoiled: the last word counts", func(a *Answer) { a.Checks["tight"] = list(words(12, 1), contrary(16)) }, Wrong, nil, nil},
		{"a wrong required number", func(a *Answer) { a.Measures["loss"] = []Statement{number(t, 14, Downward, "6")} },
			Wrong, nil, []string{"pressure lost: said 6, accepted at most 4 psi"}},
		{"a number that points the wrong way", func(a *Answer) { a.Measures["loss"] = []Statement{number(t, 14, Upward, "4")} }, Wrong, nil, nil},
		{"a wrong optional number", func(a *Answer) { a.Measures["heat"] = []Statement{number(t, 15, Flat, "100")} }, Wrong, nil, []string{"heat: said 100"}},
		{"the last number counts: put right", func(a *Answer) {
			a.Measures["loss"] = []Statement{number(t, 14, Downward, "6"), number(t, 16, Downward, "4")}
		}, Said, nil, nil},
		{"the last number counts: spoiled", func(a *Answer) {
			a.Measures["loss"] = []Statement{number(t, 14, Downward, "4"), number(t, 16, Downward, "6")}
		}, Wrong, nil, nil},
		{"wrong outweighs left out", func(a *Answer) { a.Checks["tight"] = list(contrary(12)); delete(a.Checks, "dry") }, Wrong, []string{"no drips"}, nil},
		{"every fault is named", func(a *Answer) {
			a.Checks["tight"] = list(contrary(12))
			a.Measures["loss"] = []Statement{number(t, 14, Flat, "9")}
		}, Wrong, nil, []string{`contradicts "tight"`, "; ", "said 9"}},
	} {
		t.Run(c.reason, func(t *testing.T) {
			a := whole(t)
			c.change(a)
			r := shed()
			got := r.Mark(Answers{"shed.pump": a}, Marking{})[0]
			if got.Mark != c.want {
				t.Errorf("is %s, want %s: %s", got.Mark, c.want, got.Reason)
			}
			if !slices.Equal(got.Omitted, c.omitted) {
				t.Errorf("omitted %q, want %q", got.Omitted, c.omitted)
			}
			for _, part := range c.because {
				if !strings.Contains(got.Reason, part) {
					t.Errorf("reason is %q, want %q in it", got.Reason, part)
				}
			}
			points := 0.0
			if c.want == Said {
				points = 2
			}
			if got.Points != points || got.Of != 2 || !got.Critical || got.Section != "shed" || got.Line != "pumps" {
				t.Errorf("earned %v of %v, critical %v, in %s.%s", got.Points, got.Of, got.Critical, got.Section, got.Line)
			}
		})
	}
}

// The marks of checks and measures carry their own verdict and evidence.
func TestMarkDetails(t *testing.T) {
	a := whole(t)
	a.Checks["tight"] = list(contrary(12))
	delete(a.Checks, "clean")
	a.Measures["loss"] = []Statement{number(t, 14, Flat, "4"), number(t, 16, Upward, "4")}
	delete(a.Measures, "heat")
	got := shed().Mark(Answers{"shed.pump": a}, Marking{})[0]
	var marks []string
	for _, c := range got.Checks {
		marks = append(marks, fmt.Sprint(c.ID, " ", c.Title, " ", c.Mark, " ", c.Minor, " ", len(c.Evidence)))
	}
	for _, m := range got.Measures {
		marks = append(marks, fmt.Sprint(m.ID, " ", m.Mark, " ", m.Optional, " ", m.Said, " ", m.Problem, " ", len(m.Evidence)))
	}
	want := []string{"dry no drips said false 1", "tight tight wrong false 1", "clean clean missed true 0", "loss wrong false 4 direction 2", "heat missed true   0"}
	if !slices.Equal(marks, want) {
		t.Errorf("got\n%q, want\n%q", marks, want)
	}
	if ev := got.Measures[0].Evidence; ev[0].Contradicts || !ev[1].Contradicts {
		t.Error("the statement that counts is the wrong one, not the one before it")
	}
	if a.Measures["loss"][1].Contradicts {
		t.Error("the answer was changed")
	}
	if got.Start != 10 {
		t.Errorf("begins at %v, want the first evidence, 10", got.Start)
	}
}

// An extra item is shown when named; it earns nothing, is never set aside for
// having been left out and fails nobody.
func TestMarkExtra(t *testing.T) {
	r := shed()
	r.Pass = PassRule{Critical: true}
	for _, c := range []struct {
		reason string
		a      *Answer
	}{
		{"not heard of", nil},
		{"only named", &Answer{Named: list(words(1, 0.1))}},
		{"said", &Answer{Named: list(words(1, 1)), Checks: map[string][]Evidence{"lit": list(words(2, 1))}}},
		{"said wrong", &Answer{Named: list(words(1, 1)), Checks: map[string][]Evidence{"lit": list(contrary(2))}}},
	} {
		answers := Answers{"shed.pump": whole(t), "shed.tag": {Named: list(words(3, 1))}, "yard.gate": {Checks: map[string][]Evidence{"shut": list(words(4, 1))}}}
		if c.a != nil {
			answers["shed.lamp"] = c.a
		}
		items := r.Mark(answers, Marking{})
		lamp := items[2]
		if lamp.Points != 0 || lamp.Of != 0 || !lamp.Extra {
			t.Errorf("%s: %+v", c.reason, lamp)
		}
		s := &Sheet{Items: items}
		r.Conclude(s)
		if s.Of != 6 || s.Points != 6 || s.Sections[0].Missed+s.Sections[0].Wrong+s.Sections[0].Partly != 0 || s.Sections[0].Said != 2 || !s.Result.Pass {
			t.Errorf("%s: %v of %v, %+v, %+v", c.reason, s.Points, s.Of, s.Sections[0], s.Result)
		}
	}
}

func TestMarkConfidence(t *testing.T) {
	mark := func(a *Answer, how Marking) ItemMark { return shed().Mark(Answers{"shed.pump": a}, how)[0] }
	sure := mark(whole(t), Marking{})
	if sure.Confidence != 0.9 {
		t.Errorf("as sure as its weakest part, the name at 0.9: %v", sure.Confidence)
	}
	a := whole(t)
	a.Checks["tight"] = list(words(12, 0.4))
	if m := mark(a, Marking{}); m.Confidence != 0.4 {
		t.Errorf("a doubtful main check makes a doubtful mark: %v", m.Confidence)
	}
	a.Checks["tight"] = list(words(12, 0.4), words(16, 0.95))
	if m := mark(a, Marking{}); m.Confidence != 0.9 {
		t.Errorf("said again clearly: %v, want 0.9", m.Confidence)
	}
	a = whole(t)
	a.Checks["clean"] = list(words(13, 0.1))
	a.Measures["heat"][0].Confidence = 0.1
	if m := mark(a, Marking{}); m.Confidence != 0.9 {
		t.Errorf("the mark does not rest on minor checks and optional numbers: %v", m.Confidence)
	}
	missed := mark(&Answer{}, Marking{})
	near := mark(&Answer{Near: &Evidence{Words: "plump", Confidence: 0.8}}, Marking{})
	quiet := mark(&Answer{}, Marking{Silence: 0.5})
	if missed.Confidence < 0.9 || near.Confidence >= missed.Confidence || quiet.Confidence >= missed.Confidence {
		t.Errorf("missed %v, with something near %v, with half the words lost %v", missed.Confidence, near.Confidence, quiet.Confidence)
	}
	if missed.Start != -1 {
		t.Errorf("what was not said has no time: %v", missed.Start)
	}
}

// Marks come in the order of the sheet, whatever order the answers have, and an
// answer for an item that is not there is let be.
func TestMarkOrder(t *testing.T) {
	var ids []string
	for _, m := range shed().Mark(Answers{"yard.gate": {}, "nowhere.item": {Named: list(words(1, 1))}}, Marking{}) {
		ids = append(ids, m.ID)
	}
	if want := []string{"shed.pump", "shed.tag", "shed.lamp", "yard.gate"}; !slices.Equal(ids, want) {
		t.Errorf("%q, want %q", ids, want)
	}
}

// TestConclude holds the result against the sheet's own pass rule.
func TestConclude(t *testing.T) {
	gate := map[string][]Evidence{"shut": list(words(4, 1))}
	all := func() Answers {
		return Answers{"shed.pump": whole(t), "shed.tag": {Named: list(words(3, 1))}, "yard.gate": {Checks: gate}}
	}
	for _, c := range []struct {
		reason  string
		rule    PassRule
		drop    []string // items not answered
		used    float64  // seconds
		finding *Finding
		points  float64
		pass    bool
		because []string // parts of the reasons, in order
	}{
		{"all said", PassRule{MinShare: 0.8, Critical: true, WithinLimit: true}, nil, 300, nil, 6, true, nil},
		{"no rule at all", PassRule{}, []string{"shed.pump", "shed.tag", "yard.gate"}, 9999, nil, 0, true, nil},
		{"the share exactly reached", PassRule{MinShare: 0.5}, []string{"yard.gate"}, 1, nil, 3, true, nil},
		{"the share just not reached", PassRule{MinShare: 0.51}, []string{"yard.gate"}, 1, nil, 3, false, []string{"3 of 6 points is 50"}},
		{"full marks asked for", PassRule{MinShare: 1}, []string{"shed.tag"}, 1, nil, 5, false, []string{"5 of 6 points"}},
		{"critical missed", PassRule{Critical: true}, []string{"shed.pump"}, 1, nil, 4, false, []string{"critical: Pump (missed)"}},
		{"critical does not decide", PassRule{MinShare: 0.5}, []string{"shed.pump"}, 1, nil, 4, true, nil},
		{"what is not critical may be missed", PassRule{Critical: true}, []string{"yard.gate"}, 1, nil, 3, true, nil},
		{"a critical finding", PassRule{Critical: true}, nil, 1, &Finding{Kind: OrderFinding, Text: "gate came before pump", Critical: true}, 6, false,
			[]string{"critical: gate came before pump"}},
		{"a finding that is advice", PassRule{Critical: true}, nil, 1, &Finding{Kind: OrderFinding, Text: "gate came before pump"}, 6, true, nil},
		{"a critical finding where critical does not decide", PassRule{MinShare: 1}, nil, 1, &Finding{Critical: true}, 6, true, nil},
		{"exactly in time", PassRule{WithinLimit: true}, nil, 600, nil, 6, true, nil},
		{"over time", PassRule{WithinLimit: true}, nil, 700, nil, 6, false, []string{"took 1"}},
		{"time does not decide", PassRule{MinShare: 1}, nil, 700, nil, 6, true, nil},
		{"every reason is given", PassRule{MinShare: 0.9, Critical: true, WithinLimit: true}, []string{"shed.pump"}, 700, nil, 4, false,
			[]string{"4 of 6 points", "critical: Pump", "took 1"}},
	} {
		t.Run(c.reason, func(t *testing.T) {
			r := shed()
			r.Pass = c.rule
			answers := all()
			for _, id := range c.drop {
				delete(answers, id)
			}
			s := &Sheet{Items: r.Mark(answers, Marking{}), Pace: Pace{Start: 5, End: 5 + c.used}}
			if c.finding != nil {
				s.Findings = []Finding{*c.finding}
			}
			r.Conclude(s)
			if s.Points != c.points || s.Of != 6 || s.Result.Pass != c.pass || len(s.Result.Reasons) != len(c.because) {
				t.Fatalf("%v of %v, %+v; want %v, %v", s.Points, s.Of, s.Result, c.points, c.pass)
			}
			for i, part := range c.because {
				if !strings.Contains(s.Result.Reasons[i], part) {
					t.Errorf("reason %d is %q, want %q in it", i, s.Result.Reasons[i], part)
				}
			}
			if got := s.Sections[0].Points + s.Sections[1].Points; got != s.Points {
				t.Errorf("the sections have %v points, the sheet %v", got, s.Points)
			}
		})
	}
}

// A partly or wrong critical item fails as a missed one does.
func TestConcludeCriticalMarks(t *testing.T) {
	for mark, change := range map[Mark]func(*Answer){
		Partly: func(a *Answer) { delete(a.Checks, "dry") },
		Wrong:  func(a *Answer) { a.Checks["dry"] = list(contrary(11)) },
	} {
		r, a := shed(), whole(t)
		r.Pass = PassRule{Critical: true}
		change(a)
		s := &Sheet{Items: r.Mark(Answers{"shed.pump": a}, Marking{})}
		r.Conclude(s)
		if want := "critical: Pump (" + string(mark) + ")"; s.Result.Pass || !slices.Contains(s.Result.Reasons, want) {
			t.Errorf("%+v, want %q", s.Result, want)
		}
	}
}

// A reason never contradicts itself: what is below a share or over a limit must
// not read as equal to it.
func TestConcludeReadsRight(t *testing.T) {
	r := &Rubric{ID: "r", TimeLimit: 90 * 60, Pass: PassRule{MinShare: 0.8, WithinLimit: true},
		Sections: []Section{{ID: "s", Lines: []Line{{ID: "l"}}}}}
	for i := range 200 {
		r.Sections[0].Lines[0].Items = append(r.Sections[0].Lines[0].Items, Item{ID: fmt.Sprint("s.", i), Title: "I", Points: 1})
	}
	answers := Answers{}
	for i := range 159 {
		answers[fmt.Sprint("s.", i)] = &Answer{Named: list(words(1, 1))}
	}
	s := &Sheet{Items: r.Mark(answers, Marking{}), Pace: Pace{End: 90*60 + 20}}
	r.Conclude(s)
	if len(s.Result.Reasons) != 2 {
		t.Fatalf("%q", s.Result.Reasons)
	}
	if !strings.Contains(s.Result.Reasons[0], "79.5") {
		t.Errorf("159 of 200 is 79.5 of a hundred: %q", s.Result.Reasons[0])
	}
	if !strings.Contains(s.Result.Reasons[1], "20 second") {
		t.Errorf("20 seconds over 90 minutes: %q", s.Result.Reasons[1])
	}
}

// The pass rule is given in words, with who set it; the sheet names its rubric.
func TestConcludeWords(t *testing.T) {
	r := shed()
	r.Hash, r.With = "00ff", []string{"night"}
	r.Pass = PassRule{MinShare: 0.8, Critical: true, WithinLimit: true, Note: "set by the yard"}
	s := &Sheet{Items: r.Mark(nil, Marking{})}
	r.Conclude(s)
	for _, part := range []string{"80", "critical", "10 minutes", "(set by the yard)"} {
		if !strings.Contains(s.Result.Rule, part) {
			t.Errorf("rule is %q, want %q in it", s.Result.Rule, part)
		}
	}
	want := RubricID{ID: "shed", Title: "Shed", Edition: "yard", Version: "1", Hash: "00ff", With: []string{"night"}}
	if !reflect.DeepEqual(s.Rubric, want) || s.Schema != SheetSchema || !slices.Equal(s.Cautions, r.Cautions) {
		t.Errorf("%+v, schema %d, cautions %q", s.Rubric, s.Schema, s.Cautions)
	}
	// A second time gives the same: nothing is summed twice.
	before := fmt.Sprintf("%+v", *s)
	r.Conclude(s)
	if after := fmt.Sprintf("%+v", *s); after != before {
		t.Errorf("concluded twice:\n%s\n%s", before, after)
	}
}

// Lists of the JSON form are never null, so that its readers need not care.
func TestSheetHasNoNull(t *testing.T) {
	for _, answers := range []Answers{nil, {"shed.pump": {}}, {"shed.pump": whole(t)}, {"shed.pump": {Near: &Evidence{}}}} {
		r := shed()
		items := r.Mark(answers, Marking{})
		s := &Sheet{Items: items}
		r.Conclude(s)
		for what, v := range map[string]any{"items": items, "sections": s.Sections, "result": s.Result, "rubric": s.Rubric, "cautions": s.Cautions} {
			data, err := json.Marshal(v)
			if err != nil {
				t.Fatal(err)
			}
			if strings.Contains(string(data), "null") {
				t.Errorf("%s: %s", what, data)
			}
		}
	}
}

// sheets draws a small rubric and answers for it.
func sheets() *rapid.Generator[*Rubric] {
	return rapid.Custom(func(t *rapid.T) *Rubric {
		r := &Rubric{ID: "r", Title: "R", TimeLimit: float64(rapid.IntRange(0, 60).Draw(t, "limit")),
			Pass: PassRule{MinShare: float64(rapid.IntRange(0, 4).Draw(t, "share")) / 4, Critical: rapid.Bool().Draw(t, "critical"), WithinLimit: rapid.Bool().Draw(t, "within")}}
		n := 0
		for s := range rapid.IntRange(1, 3).Draw(t, "sections") {
			sec := Section{ID: fmt.Sprint("s", s), Title: "S", Lines: []Line{{ID: "l", Title: "L"}}}
			for range rapid.IntRange(0, 4).Draw(t, "items") {
				it := Item{ID: fmt.Sprint(sec.ID, ".", n), Title: "I", Points: float64(rapid.IntRange(0, 6).Draw(t, "points")) / 2,
					Extra: rapid.Bool().Draw(t, "extra"), Critical: rapid.Bool().Draw(t, "critical item")}
				n++
				for c := range rapid.IntRange(0, 3).Draw(t, "checks") {
					it.Checks = append(it.Checks, Check{ID: fmt.Sprint("c", c), Title: "C", Minor: rapid.Bool().Draw(t, "minor")})
				}
				for m := range rapid.IntRange(0, 2).Draw(t, "measures") {
					ms := measures().Draw(t, "measure")
					ms.ID = fmt.Sprint("m", m)
					it.Measures = append(it.Measures, ms)
				}
				sec.Lines[0].Items = append(sec.Lines[0].Items, it)
			}
			r.Sections = append(r.Sections, sec)
		}
		return r
	})
}

func evidences(at int) *rapid.Generator[Evidence] {
	return rapid.Custom(func(t *rapid.T) Evidence {
		e := words(float64(rapid.IntRange(at, at+60).Draw(t, "at")), float64(rapid.IntRange(0, 10).Draw(t, "confidence"))/10)
		e.Contradicts = rapid.Bool().Draw(t, "contradicts")
		return e
	})
}

func answersFor(t *rapid.T, r *Rubric) Answers {
	out := Answers{}
	for e := range r.All() {
		if rapid.Bool().Draw(t, "silent") {
			continue
		}
		a := &Answer{Named: rapid.SliceOfN(evidences(0), 0, 2).Draw(t, "named"), Checks: map[string][]Evidence{}, Measures: map[string][]Statement{}}
		for _, c := range e.Item.Checks {
			a.Checks[c.ID] = rapid.SliceOfN(evidences(0), 0, 3).Draw(t, "check")
		}
		for _, m := range e.Item.Measures {
			for _, ev := range rapid.SliceOfN(evidences(0), 0, 2).Draw(t, "stated") {
				ev.Contradicts = false
				v := big.NewRat(rapid.Int64Range(0, 40).Draw(t, "figure"), 32)
				how := Pointing(rapid.IntRange(0, 2).Draw(t, "pointing"))
				a.Measures[m.ID] = append(a.Measures[m.ID], Statement{Evidence: ev, Low: v, High: v, Pointing: how, Said: v.RatString()})
			}
		}
		if rapid.Bool().Draw(t, "near") {
			ev := evidences(0).Draw(t, "near evidence")
			a.Near = &ev
		}
		out[e.Item.ID] = a
	}
	return out
}

func TestMarkProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := sheets().Draw(t, "rubric")
		answers := answersFor(t, r)
		how := Marking{Silence: float64(rapid.IntRange(0, 10).Draw(t, "silence")) / 10}
		items := r.Mark(answers, how)
		if !reflect.DeepEqual(items, r.Mark(answers, how)) {
			t.Fatal("marked twice, not the same")
		}
		scored, n := 0, 0
		for e := range r.All() {
			m := items[n]
			n++
			if !e.Item.Extra {
				scored++
			}
			if m.ID != e.Item.ID || m.Confidence < 0 || m.Confidence > 1 || math.IsNaN(m.Confidence) {
				t.Fatalf("%+v for %s", m, e.Item.ID)
			}
			if m.Points != 0 && m.Points != m.Of || (m.Points > 0) != (m.Mark == Said && m.Of > 0) || e.Item.Extra && m.Of > 0 {
				t.Fatalf("%s earned %v of %v for %s", m.ID, m.Points, m.Of, m.Mark)
			}
			if (m.Mark == Partly) != (len(m.Omitted) > 0) && m.Mark != Wrong {
				t.Fatalf("%s is %s and omits %q", m.ID, m.Mark, m.Omitted)
			}
			if (m.Start < 0) != (m.Mark == Missed) || m.Reason == "" {
				t.Fatalf("%s is %s, begins at %v: %q", m.ID, m.Mark, m.Start, m.Reason)
			}
			wrong := false
			for _, c := range m.Checks {
				wrong = wrong || c.Mark == Wrong
			}
			for _, c := range m.Measures {
				wrong = wrong || c.Mark == Wrong
				if (c.Problem != "") != (c.Mark == Wrong) {
					t.Fatalf("%s/%s is %s with problem %q", m.ID, c.ID, c.Mark, c.Problem)
				}
			}
			if wrong != (m.Mark == Wrong) {
				t.Fatalf("%s is %s, something wrong: %v", m.ID, m.Mark, wrong)
			}
		}
		if n != len(items) {
			t.Fatalf("%d marks for %d items", len(items), n)
		}
		s := &Sheet{Items: items, Pace: Pace{End: float64(rapid.IntRange(0, 90).Draw(t, "end"))}}
		r.Conclude(s)
		sum, points, of := 0, 0.0, 0.0
		for _, sec := range s.Sections {
			sum += sec.Said + sec.Partly + sec.Wrong + sec.Missed
			points += sec.Points
			of += sec.Of
			if sec.Points > sec.Of {
				t.Fatalf("%+v", sec)
			}
		}
		if sum != scored || points != s.Points || of != s.Of || s.Points > s.Of {
			t.Fatalf("%d marks of %d items; %v and %v of %v and %v", sum, scored, points, s.Points, of, s.Of)
		}
		if s.Result.Pass != (len(s.Result.Reasons) == 0) {
			t.Fatalf("%+v", s.Result)
		}
	})
}

// More evidence for an item, said last, never takes a mark from said nor points
// from the sheet.
func TestSupportingEvidence(t *testing.T) {
	rank := map[Mark]int{Missed: 0, Wrong: 0, Partly: 1, Said: 2}
	rapid.Check(t, func(t *rapid.T) {
		r := sheets().Draw(t, "rubric")
		answers := answersFor(t, r)
		before := r.Mark(answers, Marking{})
		i := 0
		for e := range r.All() {
			m := before[i]
			i++
			for _, c := range e.Item.Checks {
				more := Answers{}
				a := Answer{Checks: map[string][]Evidence{}}
				if answers[e.Item.ID] != nil {
					a = *answers[e.Item.ID]
					a.Checks = map[string][]Evidence{}
					for k, v := range answers[e.Item.ID].Checks {
						a.Checks[k] = slices.Clone(v)
					}
				}
				ev := evidences(60).Draw(t, "more")
				ev.Contradicts = false
				a.Checks[c.ID] = append(a.Checks[c.ID], ev)
				more[e.Item.ID] = &a
				after := r.Mark(more, Marking{})[i-1]
				if rank[after.Mark] < rank[m.Mark] || after.Points < m.Points {
					t.Fatalf("%s was %s, with more evidence %s: %s", m.ID, m.Mark, after.Mark, after.Reason)
				}
				if after.Mark == Missed {
					t.Fatalf("%s is missed with evidence", m.ID)
				}
				if m.Mark == Said && after.Confidence < m.Confidence && len(answers[e.Item.ID].Checks[c.ID]) > 0 && !c.Minor {
					t.Fatalf("%s: %v, with more evidence %v", m.ID, m.Confidence, after.Confidence)
				}
			}
		}
	})
}

// The marks set aside are the least sure ones, enough of them and none too many.
func TestSetAside(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		items := make([]ItemMark, rapid.IntRange(0, 40).Draw(t, "items"))
		for i := range items {
			items[i] = ItemMark{Mark: Said, Confidence: float64(rapid.IntRange(0, 100).Draw(t, "confidence")) / 100, Listen: true}
			if rapid.IntRange(0, 4).Draw(t, "extra") == 0 {
				items[i].Mark, items[i].Extra = Missed, true
			}
		}
		SetAside(items)
		counted, wrong, surest, doubtful := 0, 0.0, 0.0, 1.0
		for _, m := range items {
			switch {
			case m.Extra:
				if m.Listen {
					t.Fatal("an extra item that was not heard of is set aside")
				}
				continue
			case m.Listen:
				surest = max(surest, m.Confidence)
			default:
				wrong += 1 - m.Confidence
				doubtful = min(doubtful, m.Confidence)
			}
			counted++
		}
		allowed := Remaining * float64(counted)
		if wrong > allowed+1e-9 {
			t.Fatalf("%.3f of %d are likely wrong after listening", wrong, counted)
		}
		if surest > doubtful {
			t.Fatalf("%v is set aside and %v is not", surest, doubtful)
		}
		if surest > 0 && wrong+1-surest <= allowed-1e-9 {
			t.Fatalf("%v need not be heard: %.3f of %.3f", surest, wrong, allowed)
		}
	})
}
