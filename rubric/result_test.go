package rubric

import (
	"fmt"
	"math/big"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// spoken is evidence of some sureness.
func spoken(words string, start, sure float64) Evidence {
	return Evidence{Words: words, First: int(start), Last: int(start) + 1, Start: start, End: start + 1, Confidence: sure, Reason: "named"}
}

func against(ev Evidence) Evidence {
	ev.Contradicts = true
	return ev
}

func stated(said string, v *big.Rat, p Pointing, at float64) Statement {
	return Statement{Evidence: spoken(said, at, 0.9), Low: v, High: v, Pointing: p, Said: said}
}

// The rule of Mark, case by case, on the invented lift truck sheet.
func TestMarkOfLiftTruck(t *testing.T) {
	r := mustRead(t, "forklift.yaml", valid(t, "forklift.yaml"))
	named := []Evidence{spoken("fork blades", 10, 0.9)}
	ok, not := spoken("whole", 11, 0.9), against(spoken("bent", 12, 0.8))
	two, one := stated("2 inches", big.NewRat(2, 1), Flat, 13), stated("1 inch", big.NewRat(1, 1), Flat, 14)
	near := spoken("fort plates", 9, 0.8)
	for _, c := range []struct {
		reason string
		item   string
		answer *Answer
		mark   Mark
		points float64
		start  float64
		says   string
	}{
		{"no answer", "mast.blades", nil, Missed, 0, -1, "nothing heard that names it"},
		{"only something near", "mast.blades", &Answer{Near: &near}, Missed, 0, -1, `only "fort plates" came near: named`},
		{"named alone", "mast.blades", &Answer{Named: named}, Partly, 0, 10, "left out: no cracks or bends; heel thickness (at least 1 3/8 inches)"},
		{"all but the minor check", "mast.blades", &Answer{Named: named, Checks: map[string][]Evidence{"whole": {ok}}, Measures: map[string][]Statement{"thickness": {two}}}, Said, 2, 10, "said: no cracks or bends; 2 inches"},
		{"a defect said last", "mast.blades", &Answer{Named: named, Checks: map[string][]Evidence{"whole": {ok, not}}, Measures: map[string][]Statement{"thickness": {two}}}, Wrong, 0, 10, `"bent" contradicts "no cracks or bends"`},
		{"a defect taken back", "mast.blades", &Answer{Named: named, Checks: map[string][]Evidence{"whole": {not, ok}}, Measures: map[string][]Statement{"thickness": {two}}}, Said, 2, 10, "said: no cracks or bends; 2 inches"},
		{"a wrong number", "mast.blades", &Answer{Named: named, Checks: map[string][]Evidence{"whole": {ok}}, Measures: map[string][]Statement{"thickness": {two, one}}}, Wrong, 0, 10, "heel thickness: said 1 inch, accepted at least 1 3/8 inches"},
		{"a wrong number corrected", "mast.blades", &Answer{Named: named, Checks: map[string][]Evidence{"whole": {ok}}, Measures: map[string][]Statement{"thickness": {one, two}}}, Said, 2, 10, "said: no cracks or bends; 2 inches"},
		{"a weak name", "seat.belt", &Answer{Named: []Evidence{spoken("set belt", 3, 0.5)}, Checks: map[string][]Evidence{"latches": {spoken("clicks", 4, 0.9)}}}, Said, 1, 3, "said: latches"},
		{"an extra item not named", "seat.beacon", nil, Missed, 0, -1, "nothing heard that names it"},
		{"an extra item named", "seat.beacon", &Answer{Named: named}, Said, 0, 10, "named"},
	} {
		answers := Answers{}
		if c.answer != nil {
			answers[c.item] = c.answer
		}
		items := r.Mark(answers, Marking{})
		i := slices.IndexFunc(items, func(m ItemMark) bool { return m.ID == c.item })
		m := items[i]
		if m.Mark != c.mark || m.Points != c.points || m.Start != c.start || m.Reason != c.says {
			t.Errorf("%s: got %s, %v points, start %v, %q (%.2f)", c.reason, m.Mark, m.Points, m.Start, m.Reason, m.Confidence)
		}
		if wantNear := c.answer != nil && c.answer.Near != nil; wantNear != (len(m.Near) == 1) {
			t.Errorf("%s: near is %v", c.reason, m.Near)
		}
	}
}

// What the transcript may have lost is missed with less confidence, and says so.
func TestMarkOfLossyTranscript(t *testing.T) {
	r := mustRead(t, "forklift.yaml", valid(t, "forklift.yaml"))
	clean, damaged := r.Mark(Answers{}, Marking{})[0], r.Mark(Answers{}, Marking{Silence: 0.5})[0]
	if damaged.Confidence >= clean.Confidence || !strings.Contains(damaged.Reason, "may have lost it") {
		t.Errorf("got %+v", damaged)
	}
}

// Reasons never round: what fails must not read as what passes.
func TestResultReasons(t *testing.T) {
	for _, c := range []struct {
		points, of, min float64
		used, limit     float64
		want            []string
		why             string
	}{
		{80, 100, 0.8, 0, 0, nil, "exactly enough"},
		{79.96, 100, 0.8, 0, 0, []string{"79.96 of 100 points is 79.9%, below 80%"}, "not 80%"},
		{43, 93, 0.8, 0, 0, []string{"43 of 93 points is 46.2%, below 80%"}, "plain"},
		{0, 1, 0.8, 0, 0, []string{"0 of 1 point is 0%, below 80%"}, "one point"},
		{0.1 + 0.2, 0.3, 1, 0, 0, nil, "a sum that is off by a rounding"},
		{0.3, 0.1 + 0.2, 1, 0, 0, nil, "the other way round"},
		{66, 90, 0.735, 0, 0, []string{"66 of 90 points is 73.3%, below 73.5%"}, "a share that is not whole"},
		{9, 10, 0.8, 5400, 5400, nil, "exactly in time"},
		{9, 10, 0.8, 5400.4, 5400, []string{"took 90 minutes 1 second of 90 minutes"}, "not 90 of 90"},
		{9, 10, 0.8, 760, 750, []string{"took 12 minutes 40 seconds of 12 minutes 30 seconds"}, "limit not in minutes"},
		{9, 10, 0.8, 61, 60, []string{"took 1 minute 1 second of 1 minute"}, "one of each"},
		{9, 10, 0.8, 50, 45, []string{"took 50 seconds of 45 seconds"}, "below a minute"},
	} {
		r := &Rubric{TimeLimit: c.limit, Pass: PassRule{MinShare: c.min, WithinLimit: true}}
		s := &Sheet{Points: c.points, Of: c.of, Pace: Pace{Start: 10, End: 10 + c.used}}
		got := r.Rule().result(s, nil)
		if !slices.Equal(got.Reasons, c.want) || got.Pass != (c.want == nil) {
			t.Errorf("%s: got %q, pass %t, want %q", c.why, got.Reasons, got.Pass, c.want)
		}
	}
	r := &Rubric{TimeLimit: 5400, Pass: PassRule{MinShare: 0.8, Critical: true, WithinLimit: true, Note: "ours"}}
	got := r.Rule().result(&Sheet{Of: 1, Points: 1}, []string{"Horn (missed)"})
	if got.Rule != "at least 80% of the points, every critical item said, in order, finished within 90 minutes (ours)" {
		t.Errorf("rule is %q", got.Rule)
	}
	if got.Pass || !slices.Equal(got.Reasons, []string{"critical: Horn (missed)"}) {
		t.Errorf("reasons are %q", got.Reasons)
	}
}

// A share printed for people is rounded half up to a tenth of a percent, by exact
// fractions, but a whole percent is never printed for less.
func TestPercentRounds(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		of := rapid.IntRange(1, 2000).Draw(t, "of")
		part := rapid.IntRange(0, of).Draw(t, "part")
		var got float64
		if _, err := fmt.Sscanf(Percent(float64(part), float64(of)), "%f%%", &got); err != nil {
			t.Fatal(err)
		}
		exact := new(big.Rat).SetFrac64(int64(part)*1000, int64(of))
		half := new(big.Rat).Add(exact, big.NewRat(1, 2))
		tenths := new(big.Int).Quo(half.Num(), half.Denom()).Int64()
		if tenths%10 == 0 && exact.Cmp(new(big.Rat).SetInt64(tenths)) < 0 {
			tenths--
		}
		if int64(got*10+0.5) != tenths {
			t.Fatalf("%d of %d prints %s", part, of, Percent(float64(part), float64(of)))
		}
	})
	if Percent(17, 19) != "89.5%" || Percent(1999, 2500) != "79.9%" {
		t.Errorf("17 of 19 is %s, 79.96 of 100 is %s", Percent(17, 19), Percent(1999, 2500))
	}
	if Percent(1, 0) != "-" || Percent(1, 1) != "100%" {
		t.Errorf("nothing of nothing is %s, all is %s", Percent(1, 0), Percent(1, 1))
	}
}

func TestRemark(t *testing.T) {
	for _, c := range []struct {
		m            Measure
		want, remark string
	}{
		{Measure{Unit: "psi", Min: "4", Max: "4", Direction: AtMost, Note: "or the maker's level"}, "at most 4 psi", "or the maker's level"},
		{Measure{Unit: "psi", Min: "20", Max: "45"}, "20 to 45 psi", ""},
		{Measure{Unit: "psi", Min: "55", Max: "75", Direction: AtLeast}, "at least 55 to 75 psi", ""},
		{Measure{Unit: "inch", Min: "4/32", Direction: AtLeast}, "at least 4/32 inch", ""},
		{Measure{Unit: "inch", Min: "1/2", Max: "3/4"}, "1/2 to 3/4 inch", ""},
		{Measure{Unit: "inch", Max: "1"}, "at most 1 inch", ""},
		{Measure{Unit: "inch", Min: "1 3/8"}, "at least 1 3/8 inches", ""},
		{Measure{Unit: "foot", Min: "10", Max: "10"}, "10 feet", ""},
		{Measure{Unit: "degree", Max: "10", Direction: AtMost}, "at most 10 degrees", ""},
		{Measure{Unit: "second", Max: "45"}, "at most 45 seconds", ""},
		{Measure{Unit: "minute", Min: "1", Direction: AtLeast}, "at least 1 minute", ""},
		{Measure{Unit: "minute", Min: "1/6", Max: "1/6"}, "10 seconds", ""},
		{Measure{Unit: "minute", Min: "1/2", Max: "1"}, "1/2 to 1 minute", ""},
		{Measure{Unit: "count", Min: "3", Max: "3"}, "3", ""},
		{Measure{Unit: "fraction", Min: "1/8", Max: "1/8", Direction: AtLeast, Note: "of a tank"}, "at least 1/8 of a tank", ""},
		{Measure{Unit: "fraction", Min: "1/4", Max: "1/4", Note: "or less"}, "1/4", "or less"},
	} {
		if got := c.m.Accepted(); got != c.want || c.m.Remark() != c.remark {
			t.Errorf("got %q with %q, want %q with %q", got, c.m.Remark(), c.want, c.remark)
		}
	}
}

func TestSourcesOfTheSheet(t *testing.T) {
	r := mustRead(t, "forklift.yaml", valid(t, "forklift.yaml"))
	s := &Sheet{Items: r.Mark(Answers{}, Marking{})}
	r.Conclude(s)
	var keys []string
	for _, src := range s.Sources {
		keys = append(keys, src.Key)
	}
	if !slices.Equal(keys, []string{"178.q.7", "maker"}) {
		t.Errorf("got %q, want those of the blades' thickness in the rubric's order", keys)
	}
	for _, c := range []struct {
		source, key string
		want        bool
	}{
		{"dr, nc; page 8", "nc", true},
		{"dr; California says 55 to 75 (ca-5)", "ca-5", true},
		{"dr; not seen in print", "in", false},
		{"common practice, no source", "no", false},
	} {
		if NamesSource(c.source, c.key) != c.want {
			t.Errorf("%q names %s: want %t", c.source, c.key, c.want)
		}
	}
}
