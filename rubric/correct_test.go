package rubric

import (
	"reflect"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// correctedShed is a sheet of the shed, marked and concluded, after corrections.
func correctedShed(t *testing.T, answers Answers, findings []Finding, list ...Correction) (s *Sheet, left []Correction) {
	t.Helper()
	r := shed()
	r.Pass = PassRule{MinShare: 0.8, Critical: true}
	s = &Sheet{Items: r.Mark(answers, Marking{}), Findings: findings}
	r.Conclude(s)
	return s, r.Rule().Correct(s, list)
}

func itemOf(s *Sheet, id string) ItemMark {
	return s.Items[slices.IndexFunc(s.Items, func(m ItemMark) bool { return m.ID == id })]
}

func TestCorrect(t *testing.T) {
	by := func(mark Mark) Correction {
		return Correction{Item: "shed.pump", Mark: mark, Why: "heard it", Who: "I-03", When: "2026-11-02T09:00:00Z"}
	}
	wrong := whole(t)
	wrong.Measures["loss"] = []Statement{number(t, 14, Downward, "6")}
	delete(wrong.Checks, "clean")
	for _, c := range []struct {
		reason string
		answer *Answer
		marks  []Mark
		want   Mark
		points float64
		parts  string // dry, tight, clean, loss, heat
	}{
		{"a missed item was said: all its main parts were", nil, []Mark{Said}, Said, 2, "said said missed said missed"},
		{"a wrong number was said rightly", wrong, []Mark{Said}, Said, 2, "said said missed said said"},
		{"a said item was not", whole(t), []Mark{Missed}, Missed, 0, "missed missed missed missed missed"},
		{"a wrong one was left out in part", wrong, []Mark{Partly}, Partly, 0, "said said missed missed said"},
		{"a said one was wrong, the parts are not known", whole(t), []Mark{Wrong}, Wrong, 0, "said said said said said"},
		{"the last one counts", whole(t), []Mark{Missed, Wrong, Said}, Said, 2, "said said said said said"},
		{"undone by a later row", whole(t), []Mark{Missed, ""}, Said, 2, "said said said said said"},
	} {
		answers := Answers{}
		if c.answer != nil {
			answers["shed.pump"] = c.answer
		}
		var list []Correction
		for _, m := range c.marks {
			list = append(list, by(m))
		}
		before, _ := correctedShed(t, answers, nil)
		s, left := correctedShed(t, answers, nil, list...)
		m := itemOf(s, "shed.pump")
		var parts []string
		for _, k := range m.Checks {
			parts = append(parts, string(k.Mark))
		}
		for _, k := range m.Measures {
			parts = append(parts, string(k.Mark))
			if (k.Problem != "") != (k.Mark == Wrong) {
				t.Errorf("%s: measure %s is %s with problem %q", c.reason, k.ID, k.Mark, k.Problem)
			}
		}
		if m.Mark != c.want || m.Points != c.points || strings.Join(parts, " ") != c.parts || len(left) > 0 {
			t.Errorf("%s: %s, %g points, parts %v, left %v", c.reason, m.Mark, m.Points, parts, left)
		}
		if s.Points != c.points || s.Sections[0].Points != c.points {
			t.Errorf("%s: the sheet has %g points, its section %g", c.reason, s.Points, s.Sections[0].Points)
		}
		if c.marks[len(c.marks)-1] == "" {
			if !reflect.DeepEqual(s, before) {
				t.Errorf("%s: the sheet is not what it was", c.reason)
			}
			continue
		}
		if want := (&Corrected{From: itemOf(before, "shed.pump").Mark, Why: "heard it", Who: "I-03", When: "2026-11-02T09:00:00Z"}); !reflect.DeepEqual(m.Corrected, want) {
			t.Errorf("%s: corrected is %+v, want %+v", c.reason, m.Corrected, want)
		}
		if m.Listen || m.Confidence != 1 {
			t.Errorf("%s: still in doubt", c.reason)
		}
	}
}

// The result is concluded again: a critical item said after all, and a finding
// that does not stand.
func TestCorrectConcludes(t *testing.T) {
	answers := Answers{"yard.gate": {Named: list(words(1, 1)), Checks: map[string][]Evidence{"shut": list(words(1, 1))}}, "shed.tag": {Named: list(words(2, 1))}}
	hold := Finding{Kind: HoldFinding, ID: "leak", Text: "held too short", Critical: true}
	order := Finding{Kind: OrderFinding, ID: "a>b", Text: "a before b"}
	said := Correction{Item: "shed.pump", Mark: Said}
	aside := Correction{Item: "hold:leak", Mark: None, Why: "held by my watch"}
	for _, c := range []struct {
		reason string
		list   []Correction
		pass   bool
		found  int
	}{
		{"nothing", nil, false, 3},
		{"the pump alone", []Correction{said}, false, 3},
		{"the finding alone", []Correction{aside}, false, 1},
		{"both, and the finding twice on the sheet", []Correction{said, aside}, true, 1},
		{"the finding stands again", []Correction{said, aside, {Item: "hold:leak"}}, false, 3},
	} {
		s, left := correctedShed(t, answers, []Finding{hold, order, hold}, c.list...)
		if s.Result.Pass != c.pass || len(s.Findings) != c.found || len(s.Findings)+len(s.Rejected) != 3 || len(left) > 0 {
			t.Errorf("%s: pass %t (%v), %d findings, %d set aside, left %v", c.reason, s.Result.Pass, s.Result.Reasons, len(s.Findings), len(s.Rejected), left)
		}
		for _, f := range s.Rejected {
			if f.Corrected == nil || f.Corrected.From != "found" || f.Corrected.Why != aside.Why {
				t.Errorf("%s: set aside as %+v", c.reason, f.Corrected)
			}
		}
	}
}

func TestCorrectLeavesWhatIsNotThere(t *testing.T) {
	bad := []Correction{{Item: "shed.pump/dry", Mark: Said}, {Item: "shed.pump", Mark: "none"}, {Item: "shed.pump", Mark: "good"},
		{Item: "hold:leak", Mark: Said}, {Item: "shed.door", Mark: Said}, {Item: "order:x>y", Mark: None}}
	before, _ := correctedShed(t, nil, nil)
	s, left := correctedShed(t, nil, nil, bad...)
	if !reflect.DeepEqual(left, bad) {
		t.Errorf("left out %v, want %v", left, bad)
	}
	if !reflect.DeepEqual(s, before) {
		t.Error("the sheet changed")
	}
	for i, c := range bad {
		if (c.Check() != nil) != (i < 4) {
			t.Errorf("%+v: check says %v", c, c.Check())
		}
	}
}

// A sheet keeps its sums whatever is corrected, and the rubric's Conclude comes
// to the same ones.
func TestCorrectProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := sheets().Draw(t, "rubric")
		r.Pass.MinShare = 0.5
		s := &Sheet{Items: r.Mark(answersFor(t, r), Marking{})}
		r.Conclude(s)
		var list []Correction
		for _, m := range s.Items {
			if rapid.Bool().Draw(t, "correct") {
				list = append(list, Correction{Item: m.ID, Mark: rapid.SampledFrom([]Mark{Said, Partly, Wrong, Missed, ""}).Draw(t, "mark"), Who: "I"})
			}
		}
		items := slices.Clone(s.Items)
		c := *s
		if left := r.Rule().Correct(&c, list); len(left) > 0 {
			t.Fatalf("left out %v", left)
		}
		if !reflect.DeepEqual(items, s.Items) {
			t.Fatal("the sheet that it came from changed")
		}
		again := c
		r.Conclude(&again)
		if !reflect.DeepEqual(again.Result, c.Result) || !reflect.DeepEqual(again.Sections, c.Sections) || again.Points != c.Points {
			t.Fatal("the rubric concludes otherwise")
		}
		sum := 0.0
		for _, m := range c.Items {
			sum += m.Points
		}
		if sum != c.Points {
			t.Fatalf("%g points, its items have %g", c.Points, sum)
		}
	})
}
