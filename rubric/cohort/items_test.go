package cohort

import (
	"encoding/json"
	"fmt"
	"reflect"
	"strings"
	"testing"
)

func TestAnalyzeCounts(t *testing.T) {
	list := recs("ann 1 fall - mss", "ann 2 fall - sss", "bob 1 fall - wps", "cy 1 fall - _ss", "dee 1 fall - ssm", "- 1 fall - sss")
	bus := &Form{Items: []Column{{ID: "bus.door"}, {ID: "bus.step"}}}
	list = append(list, Record{Name: "x", Student: "xi", Form: bus, Marks: "sm"})
	list[0].Details = &Details{LeftOut: []Check{{"cab.horn/works", "works"}, {"cab.radio/on", "on"}}, Sections: []SectionTime{{"cab", 120}, {"air", 60}}}
	list[2].Details = &Details{LeftOut: []Check{{"cab.horn/works", "works"}}, Sections: []SectionTime{{"air", 240}, {"cab", -1}},
		Wrong: []WrongNumber{{"cab.horn/db", "loudness", "9 psi", "at most 4 psi"}, {"cab.horn/db", "loudness", "9 psi", "at most 4 psi"}}}
	list[3].Details = &Details{LeftOut: []Check{{"cab.horn/works", "works"}}}
	list[4].Details = &Details{Wrong: []WrongNumber{{"cab.horn/db", "loudness", "9 psi", "at most 4 psi"}, {"cab.horn/db", "loudness", "5 psi", "at most 4 psi"}}}
	got, err := Analyze(list, "")
	if err != nil || len(got) != 2 {
		t.Fatal(got, err)
	}
	s := got[0]
	if s.Form != twoItems || s.Students != 4 || s.Attempts != 4 || len(s.Items) != 2 || s.Unmarked != 1 || s.NoDetails != 0 || s.Dependent {
		t.Errorf("%+v", s)
	}
	horn := s.Items[0]
	if horn.Difficulty != (Share{1, 3}) || horn.Missed != 1 || horn.Wrong != 1 || horn.Partly != 0 || s.Items[1].Partly != 1 || s.Reliability.Students != 3 {
		t.Errorf("horn %+v, belt %+v, reliability %+v", horn, s.Items[1], s.Reliability)
	}
	// The radio is extra; cy's horn is not marked.
	if want := []CheckCount{{Check{"cab.horn/works", "works"}, Share{2, 3}}}; !reflect.DeepEqual(s.LeftOut, want) {
		t.Errorf("left out %+v, want %+v", s.LeftOut, want)
	}
	if len(s.Numbers) != 2 || s.Numbers[0].Times != 3 || s.Numbers[0].Students != 2 || s.Numbers[0].Said != "9 psi" || s.Numbers[1].Times != 1 {
		t.Errorf("numbers %+v", s.Numbers)
	}
	if len(s.Sections) != 2 || s.Sections[0].Section != "air" || !near(s.Sections[0].Minutes.Value, 2.5, 1e-12) || !near(s.Sections[0].Share, 5./7, 1e-12) {
		t.Errorf("sections %+v", s.Sections)
	}
	if all, _ := Analyze(list, AllAttempts); all[0].Attempts != 5 || !all[0].Dependent || all[0].NoDetails != 1 {
		t.Errorf("all attempts: %+v", all[0])
	}
	if last, _ := Analyze(list, LastAttempt); last[0].Items[0].Difficulty != (Share{2, 3}) {
		t.Errorf("last attempts: %+v", last[0].Items[0])
	}
	if _, err := Analyze(list, "best"); err == nil {
		t.Error("counts the best")
	}
	if out, err := json.Marshal(got); err != nil || strings.Contains(string(out), "NaN") {
		t.Errorf("%s %v", out, err)
	}
}

// Reference: R, psych::alpha on the scores of 0 and 1 that the marks stand for.
func TestAnalyzeAgainstReference(t *testing.T) {
	tried := 0
	for _, c := range load[fromR](t, "school.R.json").Reliability {
		if c.X[0][0] != 0 && c.X[0][0] != 1 {
			continue
		}
		form := &Form{}
		var list []Record
		for i := range c.X[0] {
			form.Items = append(form.Items, Column{ID: fmt.Sprint(i)})
		}
		for n, row := range c.X {
			r := Record{Student: fmt.Sprint(n), Form: form}
			for i, x := range row {
				r.Marks += []string{"mwpMP"[(i+n)%5 : (i+n)%5+1], "s"}[int(x)]
			}
			list = append(list, r)
		}
		got, err := Analyze(list, FirstAttempt)
		if err != nil {
			t.Fatal(err)
		}
		s := got[0]
		if !close9(s.Reliability.Alpha, c.Alpha) || !close9(s.Reliability.Interval.Low, c.Low) || !close9(s.Reliability.Interval.High, c.High) {
			t.Errorf("%d by %d: %+v, reference %v", len(c.X), len(form.Items), s.Reliability, c.Alpha)
		}
		for i, it := range s.Items {
			if !close9(it.Discrimination.R, c.Rest[i]) || it.Discrimination.N != len(c.X) {
				t.Errorf("item %d: %+v, reference %v", i, it.Discrimination, c.Rest[i])
			}
		}
		tried++
	}
	if tried < 8 {
		t.Errorf("%d tables of 0 and 1, want 8", tried)
	}
}

func TestItemsAsleep(t *testing.T) {
	for _, c := range []struct {
		reason string
		n      int
		marks  string
		want   [2]bool
	}{
		{"all right, in enough attempts", 20, "ssm", [2]bool{true, true}},
		{"none right, all right", 20, "mss", [2]bool{true, true}},
		{"too few attempts", 19, "sms", [2]bool{false, false}},
	} {
		var list []Record
		for i := range c.n {
			list = append(list, Record{Student: fmt.Sprint(i), Form: twoItems, Marks: c.marks})
		}
		got, err := Analyze(list, FirstAttempt)
		if err != nil || got[0].Items[0].Sleeps != c.want[0] || got[0].Items[1].Sleeps != c.want[1] {
			t.Errorf("%s: %+v %v", c.reason, got, err)
		}
	}
}

func TestAgreeByPair(t *testing.T) {
	named := func(name string, m *Marks) *Marks { m.Name = name; return m }
	a := named("ann", marks(t, "a1,cab.horn,said", "a1,cab.belt,missed", "a2,cab.horn,said", "a2,cab.belt,said"))
	b := named("bob", marks(t, "a1,cab.horn,said", "a1,cab.belt,missed", "a1,cab.seat,said", "a2,cab.horn,missed", "a2,cab.belt,said"))
	c := named("cy", marks(t, "a9,cab.horn,said"))
	got, err := AgreeByPair([]*Marks{a, b, c})
	if err != nil || len(got) != 1 {
		t.Fatal(got, err)
	}
	// po 3/4; pe = 3/4*2/4 + 1/4*2/4 = 1/2; kappa 1/2, by hand.
	if g := got[0]; g.A != "ann" || g.B != "bob" || g.Attempts != 2 || g.Alike != (Share{3, 4}) || !near(g.Kappa.Value, 0.5, 1e-12) || g.Kappa.N != 4 {
		t.Errorf("%+v", g)
	}
	if _, err := AgreeByPair([]*Marks{a, a}); err == nil {
		t.Error("one marker twice")
	}
}
