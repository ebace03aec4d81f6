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

var twoItems = &Form{ID: "two", Items: []Column{{ID: "cab.horn", Title: "Horn", Of: 1}, {ID: "cab.belt", Title: "Belt", Critical: true, Of: 1}, {ID: "cab.radio", Extra: true}}}

// rec makes a record "student number cohort day marks", "-" for unknown.
func rec(line string) Record {
	f := strings.Fields(line)
	for i := range f {
		if f[i] == "-" {
			f[i] = ""
		}
	}
	r := Record{Name: line, Student: f[0], Cohort: f[2], Day: f[3], Form: twoItems, Marks: strings.ReplaceAll(f[4], "_", " "), Of: 10, Seconds: 600}
	fmt.Sscan(f[1], &r.Number)
	r.Pass = !strings.ContainsAny(r.Marks, "mMwW")
	r.Points = float64(strings.Count(strings.ToLower(r.Marks), "s"))
	return r
}

func recs(lines ...string) (list []Record) {
	for _, l := range lines {
		list = append(list, rec(l))
	}
	return list
}

func compare(t *testing.T, list []Record, o GroupOptions) *GroupComparison {
	t.Helper()
	c, err := CompareGroups(list, o)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func TestCompareGroupsCounts(t *testing.T) {
	list := recs(
		"ann 2 fall 2026-02-01 ssm", "ann 1 fall 2026-01-01 msm", // belt said both times, horn missed first
		"bob 1 fall 2026-01-01 wMs",
		"cy 1 spring 2026-03-01 s_s", // belt is not marked
		"dee 1 spring 2026-03-01 sss", "dee 2 spring 2026-03-02 mms",
		"eve 2 spring 2026-03-02 mms",
		"flo 1 - 2026-03-02 mms",
		"- 1 fall 2026-03-02 mms",
		"gus 1 winter 2026-03-02 mms", "gus 2 fall 2026-04-02 sss",
	)
	for _, c := range []struct {
		reason                      string
		o                           GroupOptions
		students, attempts          [2]int
		pass, horn, belt, hornWrong [2]Share // of fall and spring
		left                        []string
	}{
		{"first attempts: gus began in another group", GroupOptions{Groups: []string{"fall", "spring"}}, [2]int{2, 3}, [2]int{2, 3},
			[2]Share{{0, 2}, {2, 3}}, [2]Share{{1, 2}, {1, 3}}, [2]Share{{1, 2}, {1, 2}}, [2]Share{{1, 2}, {0, 3}},
			[]string{"1 attempt without a student id", "1 student without a known cohort", "1 student in other groups", "1 student counted by a later attempt, since the first was not kept", "1 item not on the edition's list"}},
		{"last attempts", GroupOptions{Groups: []string{"fall", "spring"}, Count: LastAttempt}, [2]int{3, 3}, [2]int{3, 3},
			[2]Share{{1, 3}, {1, 3}}, [2]Share{{0, 3}, {2, 3}}, [2]Share{{1, 3}, {2, 2}}, [2]Share{{1, 3}, {0, 3}},
			[]string{"1 attempt without a student id", "1 student without a known cohort", "1 item not on the edition's list"}},
		{"all attempts", GroupOptions{Groups: []string{"fall", "spring"}, Count: AllAttempts}, [2]int{3, 3}, [2]int{4, 4},
			[2]Share{{1, 4}, {2, 4}}, [2]Share{{1, 4}, {2, 4}}, [2]Share{{1, 4}, {2, 3}}, [2]Share{{1, 4}, {0, 4}},
			[]string{"1 attempt without a student id", "1 attempt without a known cohort", "1 attempt in other groups", "1 item not on the edition's list"}},
	} {
		c.o.By = ByCohort
		got := compare(t, list, c.o)
		for g := range 2 {
			n := got.Groups[g]
			share := func(f Figure) Share { return Share{f.Hits, f.N} }
			have := []any{n.Students, n.Attempts, share(n.Passed), share(n.Items[0].Missed), share(n.Items[1].Missed), share(n.Items[0].Wrong)}
			want := []any{c.students[g], c.attempts[g], c.pass[g], c.horn[g], c.belt[g], c.hornWrong[g]}
			// ann's second marks: the radio, an extra, is missed both times and counts nowhere.
			if c.o.Count != FirstAttempt && g == 0 {
				have[2], want[2] = nil, nil
			}
			if !reflect.DeepEqual(have, want) {
				t.Errorf("%s, %s: %v, want %v", c.reason, n.Name, have, want)
			}
		}
		var left []string
		for _, l := range got.Left {
			left = append(left, l.Why)
		}
		if !reflect.DeepEqual(left, c.left) {
			t.Errorf("%s: left out %q, want %q", c.reason, left, c.left)
		}
		k := got.Contrasts[0]
		if len(got.Contrasts) != 1 || k.A != "spring" || k.B != "fall" || len(k.Items) != 2 || k.Items[1].Missed.Item != "cab.belt" {
			t.Errorf("%s: contrasts %+v", c.reason, got.Contrasts)
		}
	}
}

func TestCompareGroupsPaired(t *testing.T) {
	list := recs(
		"ann 1 c 2026-01-01 mss", "ann 2 c 2026-01-02 mms", "ann 3 c 2026-02-01 sss", "ann 4 c 2026-02-02 mss",
		"bob 1 c 2026-01-01 mss", "bob 2 c 2026-03-01 sss",
		"cy 1 c 2026-01-01 s_s", "cy 2 c 2026-03-01 sms",
		"dee 1 c 2026-01-01 sss", "eve 1 c - sss",
	)
	got := compare(t, list, GroupOptions{By: ByDate, Date: "2026-02-01", Paired: true})
	k := got.Contrasts[0]
	if k.A != "from 2026-02-01" || k.B != "before 2026-02-01" {
		t.Errorf("%s less %s", k.A, k.B)
	}
	// Horn missed from the day on, before it: ann and bob before only, cy never.
	if want := (Fourfold{0, 0, 2, 1}); *k.Items[0].Missed.Pairs != want {
		t.Errorf("horn %+v, want %+v", *k.Items[0].Missed.Pairs, want)
	}
	if want := (Fourfold{0, 0, 0, 2}); *k.Items[1].Missed.Pairs != want {
		t.Errorf("belt %+v, want %+v: cy's is not marked before", *k.Items[1].Missed.Pairs, want)
	}
	if k.Points.A.N != 3 || !near(k.Points.Value, 100*(3+3+2-2-2-2)/30., 1e-9) || k.Points.Test != "sign-flip permutation test, all ways" {
		t.Errorf("points %+v", k.Points)
	}
	if len(got.Left) == 0 || got.Left[0].Why != "2 students not in both groups" {
		t.Errorf("left out %+v", got.Left)
	}
	last := compare(t, list, GroupOptions{By: ByDate, Date: "2026-02-01", Paired: true, Count: LastAttempt})
	if want := (Fourfold{1, 0, 1, 1}); *last.Contrasts[0].Items[0].Missed.Pairs != want {
		t.Errorf("last of each: horn %+v, want %+v", *last.Contrasts[0].Items[0].Missed.Pairs, want)
	}
}

func TestCompareGroupsMixed(t *testing.T) {
	got := compare(t, recs("ann 1 fall - sss", "ann 2 spring - sss", "bob 1 fall - mms", "cy 1 spring - sss"), GroupOptions{By: ByCohort, Count: AllAttempts})
	if got.Groups[0].Students != 1 || got.Groups[1].Students != 1 || !strings.Contains(got.Left[0].Why, "1 student in more than one group") {
		t.Errorf("%+v", got)
	}
}

func TestGroupsBy(t *testing.T) {
	two := []Record{{Student: "a", Site: "n", Instructor: "i", Vehicle: "bus", Day: "2026-05-01"}, {Student: "b", Site: "s", Instructor: "j", Vehicle: "truck", Day: "2026-06-01"}}
	for _, c := range []struct {
		o    GroupOptions
		a, b string
	}{
		{GroupOptions{By: BySite}, "s", "n"}, {GroupOptions{By: ByInstructor}, "j", "i"}, {GroupOptions{By: ByVehicle}, "truck", "bus"},
		{GroupOptions{By: BySite, Base: "s"}, "n", "s"}, {GroupOptions{By: BySite, Groups: []string{"s", "n"}}, "n", "s"},
		{GroupOptions{By: ByDate, Date: "2026-06-01"}, "from 2026-06-01", "before 2026-06-01"},
	} {
		// Without forms, points and seconds there is only the pass.
		k := compare(t, two, c.o).Contrasts[0]
		if k.A != c.a || k.B != c.b || k.Points.Verdict != NotCompared || k.Passed.A.N != 1 || len(k.Items) != 0 {
			t.Errorf("%+v: %+v", c.o, k)
		}
	}
}

// Three groups: each against the rest, or two against the base; what differs
// comes out sorted.
func TestContrastsOfThree(t *testing.T) {
	s := school{students: 240, attempts: 1, items: 30, groups: 3, more: func(i int) float64 { return []float64{0, 6, 3}[min(i, 2)] * float64((i+1)%3) }}
	list := s.draw(3)
	rest, base := compare(t, list, GroupOptions{By: ByCohort}), compare(t, list, GroupOptions{By: ByCohort, Base: "c1"})
	if len(rest.Contrasts) != 3 || rest.Contrasts[0].B != Others || rest.Contrasts[2].Passed.B.N != 160 || rest.Tests != 9 {
		t.Errorf("%d contrasts, %d tests", len(rest.Contrasts), rest.Tests)
	}
	if len(base.Contrasts) != 2 || base.Contrasts[0].A != "c0" || base.Contrasts[1].A != "c2" || base.Contrasts[1].B != "c1" || base.Tests != 6 {
		t.Errorf("%d contrasts, %d tests", len(base.Contrasts), base.Tests)
	}
	found := base.Contrasts[1].Found()
	if len(found) < 5 || found[0].Outcome != Passed {
		t.Fatalf("%d found", len(found))
	}
	items := false
	for i, d := range found {
		if d.Verdict != Differs || items && d.Item == "" || i > 0 && items && d.Adjusted < found[i-1].Adjusted {
			t.Errorf("%d: %+v", i, d)
		}
		items = items || d.Item != ""
	}
}

// Many attempts of a student, alike or not, are counted with all.
func TestTallyOfManyAttempts(t *testing.T) {
	var list []Record
	for i := range 20 {
		for a := range 7 + i%6 {
			list = append(list, Record{Student: fmt.Sprint(i), Number: a + 1, Site: []string{"n", "s"}[i/10], Form: twoItems, Marks: []string{"mss", "wss", "sss"}[a%3]})
		}
	}
	c := compare(t, list, GroupOptions{By: BySite, Count: AllAttempts})
	var missed, wrong, of int
	for _, g := range c.Groups {
		missed, wrong, of = missed+g.Items[0].Missed.Hits, wrong+g.Items[0].Wrong.Hits, of+g.Items[0].Wrong.N
	}
	want := [3]int{}
	for _, r := range list {
		want[2]++
		switch r.Marks[0] {
		case 'm':
			want[0]++
		case 'w':
			want[1]++
		}
	}
	if want != [3]int{missed, wrong, of} {
		t.Errorf("%d missed, %d wrong of %d, want %v", missed, wrong, of, want)
	}
}

func TestCompareGroupsErrors(t *testing.T) {
	two := recs("ann 1 fall 2026-01-01 sss", "bob 1 spring 2026-01-01 sss")
	short := recs("ann 1 fall 2026-01-01 ss")
	for _, c := range []struct {
		reason string
		list   []Record
		o      GroupOptions
		want   string
	}{
		{"no such parting", two, GroupOptions{By: "color"}, `groups by "color": use cohort, site, instructor, vehicle or date`},
		{"no date", two, GroupOptions{By: ByDate, Date: "June"}, `date "June": write it as 2026-11-25`},
		{"no such count", two, GroupOptions{By: ByCohort, Count: "best"}, `count "best": use first, last or all`},
		{"one group", two[:1], GroupOptions{By: ByCohort}, `cohort fall: two groups or more are compared, each named once`},
		{"nobody", nil, GroupOptions{By: ByCohort}, `cohort : two groups or more are compared, each named once`},
		{"one twice", two, GroupOptions{By: ByCohort, Groups: []string{"fall", "fall"}}, `cohort fall, fall: two groups or more are compared, each named once`},
		{"unknown group", two, GroupOptions{By: ByCohort, Groups: []string{"fall", "summer"}}, `cohort "summer": no attempt of a known student; there are: fall, spring`},
		{"unknown base", two, GroupOptions{By: ByCohort, Base: "summer"}, `base "summer": is not among the groups: fall, spring`},
		{"all, paired", two, GroupOptions{By: ByCohort, Count: AllAttempts, Paired: true}, `paired: one attempt a student in each group; count the first or the last`},
		{"nobody twice", two, GroupOptions{By: ByCohort, Paired: true}, `paired: no student is in both fall and spring`},
		{"all before", two, GroupOptions{By: ByDate, Date: "2026-06-01"}, `date "from 2026-06-01": no attempt of a known student; there are: before 2026-06-01`},
		{"marks do not fit", short, GroupOptions{By: ByCohort}, `attempt ann 1 fall 2026-01-01 ss: has 2 marks for 3 items; mark it again`},
		{"nothing matters", two, GroupOptions{By: ByCohort, Matters: Matters{Share: 2, Points: 1, Minutes: 1}}, `differences that matter are above 0, shares below 1; got {2 1 1}`},
	} {
		if _, err := CompareGroups(c.list, c.o); err == nil || err.Error() != c.want {
			t.Errorf("%s: %v, want %s", c.reason, err, c.want)
		}
	}
}

// Students needed: R, power.prop.test at 0.025 (two families) divided by the number of tests: 50.96, 12.86, 190.79.
func TestVerdicts(t *testing.T) {
	for _, c := range []struct {
		reason string
		d      Difference
		tests  int
		want   Verdict
		words  string
	}{
		{"clear", shareDifference(Passed, Share{90, 100}, Share{60, 100}), 3, Differs, "higher in A than in B by 30 percentage points (18 to 41)"},
		{"the other way", shareDifference(Passed, Share{60, 100}, Share{90, 100}), 3, Differs, "lower in A than in B by 30 percentage points (18 to 41)"},
		{"few", shareDifference(Passed, Share{6, 10}, Share{3, 10}), 1, TooFew, "too few to tell; about 51 students a group would show a difference of this size"},
		{"hardly any", shareDifference(Passed, Share{1, 2}, Share{2, 2}), 1, TooFew, "too few to tell: no outcome of so few would show a difference; about 13 students a group would show a difference of this size"},
		{"nothing seen in few", shareDifference(ItemNotSaid, Share{0, 12}, Share{0, 9}), 100, TooFew, "too few to tell, and no difference seen; about 191 students a group would show a difference of 10 percentage points"},
		{"many and alike", shareDifference(ItemNotSaid, Share{200, 1000}, Share{205, 1000}), 100, Alike, "alike: a difference of 10 percentage points or more would have shown (-4.0 to 3.0)"},
		{"nobody", shareDifference(Passed, Share{0, 0}, Share{9, 10}), 1, NotCompared, "not compared: nobody in A"},
		{"no spread", numberDifference(MinutesTaken, []float64{5}, []float64{9}, 1), 1, TooFew, "too few to tell: no outcome of so few would show a difference"},
	} {
		c.d.Tested = c.d.least <= Alpha
		if c.d.Adjusted = 1; c.d.Tested {
			c.d.Adjusted = min(1, families*c.d.P*float64(c.tests))
		}
		c.d.judge("A", "B", DefaultMatters, c.tests)
		if c.d.Verdict != c.want || c.d.Words != c.words {
			t.Errorf("%s: %s, %q\nwant %s, %q", c.reason, c.d.Verdict, c.d.Words, c.want, c.words)
		}
	}
}

// Of few hits among few students, drawing students gives a narrow interval; that
// must not pass for groups that are alike.
func TestAllAttemptsOfFew(t *testing.T) {
	var list []Record
	for i := range 40 {
		marks := "sss"
		if i == 0 {
			marks = "mss"
		}
		for a := 1; a <= 2; a++ {
			list = append(list, Record{Student: fmt.Sprint(i), Number: a, Cohort: []string{"x", "y"}[i%2], Form: twoItems, Marks: marks, Pass: true, Of: 1, Points: 1, Seconds: 60})
		}
	}
	c := compare(t, list, GroupOptions{By: ByCohort, Count: AllAttempts})
	horn, belt := c.Contrasts[0].Items[0].Missed, c.Contrasts[0].Items[1].Missed
	if horn.Verdict != TooFew || horn.A.N != 40 || horn.A.Students != 20 || horn.B.Hits != 2 {
		t.Errorf("horn, missed by one of 40: %+v", horn)
	}
	// Nobody missed the belt: of 20 students, Wilson's upper end is 0.1611 (Newcombe 1998).
	if belt.Verdict != TooFew || belt.A.Interval == nil || !near(belt.A.Interval.High, 0.1611, 5e-5) || belt.Interval == nil || !near(belt.Interval.High, 0.1611, 5e-5) {
		t.Errorf("belt, missed by nobody: %+v", belt)
	}
}

// A comparison says the same as counting by hand with maps and the tests of one
// share each, which are checked against other programs.
func TestCompareGroupsProperties(t *testing.T) {
	forms := []*Form{twoItems, {Items: []Column{{ID: "cab.belt"}, {ID: "cab.seat"}}}}
	rapid.Check(t, func(rt *rapid.T) {
		var list []Record
		for i := range rapid.IntRange(0, 40).Draw(rt, "n") {
			f := rapid.SampledFrom(forms).Draw(rt, "form")
			r := Record{Name: fmt.Sprint(i), Student: rapid.SampledFrom([]string{"", "a", "b", "c", "d", "e", "f", "g", "h"}).Draw(rt, "student"),
				Number: rapid.IntRange(0, 3).Draw(rt, "number"), Cohort: rapid.SampledFrom([]string{"", "x", "y", "z"}).Draw(rt, "cohort"),
				Pass: rapid.Bool().Draw(rt, "pass"), Points: float64(rapid.IntRange(0, 9).Draw(rt, "points")), Of: 9, Seconds: float64(rapid.IntRange(0, 3).Draw(rt, "s")), Form: f}
			for range f.Items {
				r.Marks += rapid.SampledFrom([]string{"s", "p", "m", "w", "M", " "}).Draw(rt, "mark")
			}
			list = append(list, r)
		}
		o := GroupOptions{By: ByCohort, Count: rapid.SampledFrom([]Count{FirstAttempt, LastAttempt, AllAttempts}).Draw(rt, "count"),
			Base: rapid.SampledFrom([]string{"", "x"}).Draw(rt, "base"), draws: 30}
		c, err := CompareGroups(list, o)
		if err != nil {
			return // too few groups
		}
		again, _ := CompareGroups(list, o)
		text, err := json.Marshal(c)
		if same, _ := json.Marshal(again); err != nil || string(text) != string(same) || strings.Contains(string(text), "NaN") {
			rt.Fatalf("not the same twice, or no JSON: %v", err)
		}
		// Who counts, by hand.
		counts := map[string][]Record{} // by student
		for _, r := range list {
			if r.Student == "" {
				continue
			}
			have := counts[r.Student]
			switch {
			case o.Count == AllAttempts, len(have) == 0:
				counts[r.Student] = append(have, r)
			case o.Count == FirstAttempt && r.Number < have[0].Number, o.Count == LastAttempt && r.Number >= have[0].Number:
				have[0] = r
			}
		}
		missed, passes := map[string]Share{}, map[string]Share{}
		for student, have := range counts {
			groups := map[string]bool{}
			for _, r := range have {
				if r.Cohort != "" {
					groups[r.Cohort] = true
				}
			}
			if len(groups) != 1 {
				delete(counts, student)
				continue
			}
			for _, r := range have {
				if r.Cohort == "" {
					continue
				}
				p := passes[r.Cohort]
				p.Of++
				if r.Pass {
					p.Hits++
				}
				passes[r.Cohort] = p
				for i, col := range r.Form.Items {
					if m := r.Marks[i]; m != ' ' {
						s := missed[r.Cohort+col.ID]
						s.Of++
						if m == 'm' || m == 'M' {
							s.Hits++
						}
						missed[r.Cohort+col.ID] = s
					}
				}
			}
		}
		for _, g := range c.Groups {
			if p := passes[g.Name]; p != (Share{g.Passed.Hits, g.Passed.N}) || g.Attempts != p.Of {
				rt.Fatalf("%s passed: %+v, by hand %v", g.Name, g.Passed, p)
			}
			for i, col := range c.Items {
				if f := g.Items[i].Missed; missed[g.Name+col.ID] != (Share{f.Hits, f.N}) {
					rt.Fatalf("%s missed %s: %+v, by hand %v", g.Name, col.ID, f, missed[g.Name+col.ID])
				}
			}
		}
		for k := range c.Contrasts {
			con := &c.Contrasts[k]
			var b Share
			for name, p := range passes {
				if name == con.B || con.B == Others && name != con.A {
					b.Hits, b.Of = b.Hits+p.Hits, b.Of+p.Of
				}
			}
			a := passes[con.A]
			if o.Count != AllAttempts {
				p, _ := Fisher(a, b)
				in, _ := Newcombe(a, b, Level)
				if con.Passed.P != p || *con.Passed.Interval != in {
					rt.Fatalf("%s against %s: %+v, by hand p %v %v", con.A, con.B, con.Passed, p, in)
				}
			}
			con.All(func(d *Difference) {
				if d.Words == "" || d.Verdict == "" || d.P < 0 || d.P > 1 || d.Adjusted < d.P-1e-12 || d.Verdict == Differs && d.Adjusted > Alpha ||
					d.Interval != nil && (d.Interval.Low > d.Value+1e-9 || d.Interval.High < d.Value-1e-9) && o.Count != AllAttempts {
					rt.Fatalf("%+v", d)
				}
			})
		}
	})
}

func TestRecordOfSheet(t *testing.T) {
	s := sheet("a1", item("cab.horn", rubric.Partly, 1, "c:works=missed", "c:minor=missed"), item("air.leak", rubric.Wrong, 1, "m:loss=wrong", "m:time=missed"))
	s.Items[0].Checks[1].Minor, s.Items[1].Measures[0].Said, s.Items[1].Measures[0].Accepted = true, "at most 6 psi", "at most 4 psi"
	s.Items[1].Corrected = &rubric.Corrected{From: rubric.Said}
	s.Points, s.Of, s.Pace = 3, 4, rubric.Pace{Start: 10, End: 610, Limit: 1800, Sections: []rubric.SectionPace{{Section: "cab", Seconds: 300}, {Section: "air"}}}
	var forms Forms
	r, again := forms.Record(s), forms.Record(s)
	if r.Form != again.Form || r.Marks != "pW" || r.Seconds != 600 || r.Limit != 1800 || r.Points != 3 || r.Name != "a1" {
		t.Errorf("%+v", r)
	}
	want := &Details{[]WrongNumber{{"air.leak/loss", "", "at most 6 psi", "at most 4 psi"}}, []Check{{ID: "cab.horn/works"}, {ID: "air.leak/time"}}, []SectionTime{{"cab", 300}}}
	if !reflect.DeepEqual(r.Details, want) {
		t.Errorf("details %+v, want %+v", r.Details, want)
	}
}
