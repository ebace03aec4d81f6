package cohort

import (
	"encoding/json"
	"fmt"
	"reflect"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"markaround/rubric"
)

// item makes an invented item mark with parts written "c:id=mark" for a check
// and "m:id=mark" for a measure.
func item(id string, mark rubric.Mark, confidence float64, parts ...string) rubric.ItemMark {
	it := rubric.ItemMark{ID: id, Mark: mark, Confidence: confidence, Start: -1}
	for i, p := range parts {
		kind, rest, _ := strings.Cut(p, ":")
		name, m, _ := strings.Cut(rest, "=")
		ev := []rubric.Evidence{{Words: "about " + name, Start: float64(10 * i), Confidence: 0.5},
			{Words: "the " + name, Start: float64(10*i + 1), Confidence: 0.8}, {Words: "later", Confidence: 0.3}}
		if rubric.Mark(m) == rubric.Missed {
			ev = nil
		}
		if kind == "c" {
			it.Checks = append(it.Checks, rubric.CheckMark{ID: name, Mark: rubric.Mark(m), Evidence: ev})
		} else {
			it.Measures = append(it.Measures, rubric.MeasureMark{ID: name, Mark: rubric.Mark(m), Evidence: ev})
		}
	}
	return it
}

func sheet(attempt string, items ...rubric.ItemMark) *rubric.Sheet {
	return &rubric.Sheet{Schema: rubric.SheetSchema, Attempt: attempt, Items: items}
}

func sheets(t *testing.T, list ...*rubric.Sheet) *Marks {
	t.Helper()
	m := NewMarks("the sheets")
	for _, s := range list {
		if err := m.AddSheet(s); err != nil {
			t.Fatal(err)
		}
	}
	return m
}

// marks reads rows "attempt,item,mark".
func marks(t *testing.T, rows ...string) *Marks {
	t.Helper()
	m, err := ReadMarks(strings.NewReader("attempt,item,mark\n"+strings.Join(rows, "\n")), "m.csv")
	if err != nil {
		t.Fatal(err)
	}
	return m
}

func TestCompareCounts(t *testing.T) {
	extra := item("cab.belt", rubric.Missed, 0.9)
	extra.Extra = true
	extraMarked := item("cab.gauge", rubric.Said, 0.95)
	extraMarked.Extra = true
	one := sheet("a1",
		item("cab.horn", rubric.Said, 0.95),
		item("cab.wipers", rubric.Said, 0.9),
		item("cab.heater", rubric.Missed, 0.6),
		item("cab.mirror", rubric.Partly, 0.7),
		item("cab.glass", rubric.Said, 0.97),
		extra, extraMarked)
	one.Findings = []rubric.Finding{
		{Kind: rubric.OrderFinding, ID: "chock"},
		{Kind: rubric.HoldFinding, ID: "minute"},
		{Kind: rubric.PaceFinding, ID: "slow"},
	}
	ours := sheets(t, one, sheet("a3", item("cab.horn", rubric.Said, 0.9)))
	theirs := marks(t, "a1,cab.horn,said", "a1,cab.wipers,missed", "a1,cab.heater,missed", "a1,cab.mirror,said",
		"a1,cab.gauge,said", "a1,cab.typo,said", "a2,cab.horn,said", "a1,order:chock,found", "a1,reading:loss,found")
	c := Compare(theirs, ours, ByItem)

	if c.Attempts != 1 || c.Alike != (Share{3, 5}) || c.Kappa.N != 5 {
		t.Errorf("attempts %d, alike %v, kappa over %d", c.Attempts, c.Alike, c.Kappa.N)
	}
	// Rows theirs, columns ours: said partly missed wrong.
	if want := [4][4]int{{2, 1, 0, 0}, {}, {1, 0, 1, 0}, {}}; c.Table != want {
		t.Errorf("table %v, want %v", c.Table, want)
	}
	if want := (Detection{"missed", 5, 1, 0, 1}); c.Missed != want {
		t.Errorf("missed %+v, want %+v", c.Missed, want)
	}
	if p, r := c.Missed.Precision(), c.Missed.Recall(); p != (Share{1, 1}) || r != (Share{1, 2}) {
		t.Errorf("precision %v, recall %v", p, r)
	}
	if want := (&Detection{"findings", 3, 1, 1, 1}); !reflect.DeepEqual(c.Findings, want) {
		t.Errorf("findings %+v, want %+v; pace is no finding that a person marks", c.Findings, want)
	}
	if c.Calibration == nil || c.Calibration.N != 5 || c.Calibration.Sure != (Share{2, 3}) {
		t.Errorf("calibration %+v", c.Calibration)
	}
	if c.NotMarked != 1 || c.ExtraLeftOut != 1 || len(c.Unmatched) != 1 || c.Unmatched[0].Item != "cab.typo" {
		t.Errorf("not marked %d, extra %d, unmatched %v", c.NotMarked, c.ExtraLeftOut, c.Unmatched)
	}
	if !reflect.DeepEqual(c.TheirAttempts, []string{"a2"}) || !reflect.DeepEqual(c.OurAttempts, []string{"a3"}) {
		t.Errorf("attempts of one only: %v, %v", c.TheirAttempts, c.OurAttempts)
	}
	if got := len(c.Left()); got != 5 {
		t.Errorf("%d sentences on what was left out, want 5: %q", got, c.Left())
	}
	var list []string
	for _, d := range c.Disagreements() {
		list = append(list, fmt.Sprintf("%s %s/%s", d.Item, d.Theirs, d.Ours))
	}
	if want := []string{"cab.wipers missed/said", "cab.mirror said/partly", "hold:minute /found", "reading:loss found/"}; !reflect.DeepEqual(list, want) {
		t.Errorf("disagreements %q, want %q", list, want)
	}
}

func TestCompareFaults(t *testing.T) {
	number := func(mark string) rubric.ItemMark {
		return item("air.leak", rubric.Mark(mark), 0.9, "m:loss="+mark)
	}
	for _, c := range []struct {
		reason              string
		ours                rubric.ItemMark
		theirs              []string
		numbers, conditions Detection
	}{
		{"both call the number wrong, by part", number("wrong"), []string{"air.leak,wrong", "air.leak/loss,wrong"}, Detection{N: 1, Both: 1}, Detection{}},
		{"only ours does", number("wrong"), []string{"air.leak/loss,said"}, Detection{N: 1, Ours: 1}, Detection{}},
		{"item marks only: wrong stands for the number", number("said"), []string{"air.leak,wrong"}, Detection{N: 1, Theirs: 1}, Detection{}},
		{"item marks only, both wrong", number("wrong"), []string{"air.leak,wrong"}, Detection{N: 1, Both: 1}, Detection{}},
		{"no number there: wrong stands for the condition", item("cab.horn", rubric.Said, 0.9, "c:works=said"), []string{"cab.horn,wrong"}, Detection{}, Detection{N: 1, Theirs: 1}},
		{"number and condition, ours finds the condition", item("w.tire", rubric.Wrong, 0.9, "c:cuts=wrong", "m:tread=said"), []string{"w.tire,wrong"}, Detection{}, Detection{N: 1, Both: 1}},
		{"number and condition, ours finds both", item("w.tire", rubric.Wrong, 0.9, "c:cuts=wrong", "m:tread=wrong"), []string{"w.tire,wrong"}, Detection{N: 1, Both: 1}, Detection{}},
		{"parts marked: the item's own mark says nothing more", item("w.tire", rubric.Wrong, 0.9, "c:cuts=said", "m:tread=wrong"), []string{"w.tire,wrong", "w.tire/cuts,said"}, Detection{}, Detection{N: 1}},
		{"neither has marks there", number("wrong"), []string{"cab.other,said"}, Detection{}, Detection{}},
	} {
		var rows []string
		for _, r := range c.theirs {
			rows = append(rows, "a1,"+r)
		}
		got := Compare(marks(t, rows...), sheets(t, sheet("a1", c.ours)), ByItem)
		c.numbers.Name, c.conditions.Name = "wrong numbers", "contradicted conditions"
		if *got.Numbers != c.numbers || *got.Conditions != c.conditions {
			t.Errorf("%s: %+v %+v, want %+v %+v", c.reason, *got.Numbers, *got.Conditions, c.numbers, c.conditions)
		}
	}
}

func TestCompareByCheck(t *testing.T) {
	ours := sheets(t, sheet("a1", item("w.tire", rubric.Partly, 0.9, "c:cuts=said", "c:valve=missed", "m:tread=wrong")))
	c := Compare(marks(t, "a1,w.tire,partly", "a1,w.tire/cuts,said", "a1,w.tire/valve,said", "a1,w.tire/tread,wrong"), ours, ByCheck)
	if c.Alike != (Share{2, 3}) || c.Kappa.N != 3 || len(c.Pairs) != 3 {
		t.Errorf("alike %v, kappa over %d, pairs %+v", c.Alike, c.Kappa.N, c.Pairs)
	}
	if c.NoConfidence != 1 || c.Calibration.N != 2 {
		t.Errorf("a missed check has no evidence and no confidence: %d without, %+v", c.NoConfidence, c.Calibration)
	}
	if p := c.Pairs[0]; p.Words != "the cuts" || p.Start != 1 || p.Confidence != 0.8 {
		t.Errorf("not the surest evidence: %+v", p)
	}
	if c := Compare(marks(t, "a1,w.tire,partly"), ours, ByCheck); c.Kappa.Undefined == "" || c.NotMarked != 3 {
		t.Errorf("only items marked: kappa %+v, not marked %d", c.Kappa, c.NotMarked)
	}
}

func TestCompareTwoPersons(t *testing.T) {
	a := marks(t, "a1,cab.horn,said", "a1,cab.heater,missed", "a1,air.leak,wrong", "a1,air.leak/loss,wrong")
	b := marks(t, "a1,cab.horn,said", "a1,cab.heater,said", "a1,air.leak,wrong", "a1,hold:minute,found")
	c := Compare(a, b, ByItem)
	if c.Kappa.N != 3 || c.Wrong != (Detection{"wrong", 3, 1, 0, 0}) || c.Calibration != nil || c.Numbers != nil || c.Findings != nil {
		t.Errorf("%+v", c)
	}
	if len(c.Unmatched) != 1 || c.NotMarked != 0 {
		t.Errorf("unmatched %v, not marked %d", c.Unmatched, c.NotMarked)
	}
}

func TestAddSheetErrors(t *testing.T) {
	m := sheets(t, sheet("a1", item("cab.horn", rubric.Said, 1)))
	for _, c := range []struct {
		s    *rubric.Sheet
		want string
	}{
		{sheet("a1"), `attempt "a1" has a second sheet; leave one of them out`},
		{sheet("a2", item("cab.horn", "good", 1)), `attempt "a2": item cab.horn has "good", which is no mark; grade the recording again`},
		{sheet("a2", item("cab.horn", rubric.Said, 1, "m:x=")), `attempt "a2": item cab.horn has "", which is no mark; grade the recording again`},
	} {
		if err := m.AddSheet(c.s); err == nil || err.Error() != c.want {
			t.Errorf("got %v, want %s", err, c.want)
		}
	}
	if len(m.All()) != 1 {
		t.Errorf("a refused sheet left marks behind: %v", m.All())
	}
}

// Reference: scikit-learn, precision_score and recall_score.
func TestDetectionAgainstReference(t *testing.T) {
	for _, r := range loadReference(t).Detection {
		var rows []string
		var items []rubric.ItemMark
		for i := range r.Theirs {
			id := fmt.Sprintf("s.i%d", i)
			rows = append(rows, "a1,"+id+","+r.Theirs[i])
			items = append(items, item(id, rubric.Mark(r.Ours[i]), 0.5))
		}
		c := Compare(marks(t, rows...), sheets(t, sheet("a1", items...)), ByItem)
		p, _ := c.Missed.Precision().Value()
		q, _ := c.Missed.Recall().Value()
		if !near(p, r.Precision, 1e-12) || !near(q, r.Recall, 1e-12) {
			t.Errorf("precision %v recall %v, reference %v %v", p, q, r.Precision, r.Recall)
		}
	}
}

func TestCompareProperties(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		draw := func(name string) *Marks {
			m := NewMarks(name)
			for range rapid.IntRange(0, 30).Draw(rt, name) {
				m.Add(Judgment{Attempt: rapid.SampledFrom([]string{"a1", "a2"}).Draw(rt, "attempt"),
					Item: fmt.Sprintf("s.i%d", rapid.IntRange(0, 9).Draw(rt, "item")), Kind: ItemKind,
					Mark: rapid.SampledFrom(Classes[:]).Draw(rt, "mark"), Confidence: rapid.Float64Range(-1, 1).Draw(rt, "confidence")})
			}
			return m
		}
		a, b := draw("a"), draw("b")
		ab, ba := Compare(a, b, ByItem), Compare(b, a, ByItem)
		if ab.Alike != ba.Alike || ab.Missed.Precision() != ba.Missed.Recall() || !near(ab.Kappa.Value, ba.Kappa.Value, 1e-9) {
			rt.Fatalf("the markers changed places: %+v and %+v", ab, ba)
		}
		compared := len(ab.Pairs)
		if compared+ab.NotMarked+countAttempts(b, ab.OurAttempts) != len(b.All()) || compared+len(ab.Unmatched)+countAttempts(a, ab.TheirAttempts) != len(a.All()) {
			rt.Fatalf("a mark is neither compared nor counted: %+v", ab)
		}
		var sum int
		for _, row := range ab.Table {
			for _, n := range row {
				sum += n
			}
		}
		if sum != ab.Kappa.N || sum != ab.Alike.Of || len(ab.Disagreements()) != ab.Alike.Of-ab.Alike.Hits {
			rt.Fatalf("counts do not fit: %+v", ab)
		}
		out, err := json.Marshal(ab)
		if err != nil || strings.Contains(string(out), "NaN") {
			rt.Fatalf("JSON: %s %v", out, err)
		}
		if self := Compare(a, a, ByItem); len(self.Disagreements()) > 0 || self.Kappa.Undefined == "" && !near(self.Kappa.Value, 1, 1e-9) {
			rt.Fatalf("a marker disagrees with itself: %+v", self)
		}
	})
}

func countAttempts(m *Marks, attempts []string) int {
	n := 0
	for _, j := range m.All() {
		for _, a := range attempts {
			if j.Attempt == a {
				n++
			}
		}
	}
	return n
}
