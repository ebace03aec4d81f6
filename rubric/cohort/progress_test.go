package cohort

import (
	"encoding/json"
	"fmt"
	"reflect"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

func ids(list []Column) (out []string) {
	for _, c := range list {
		out = append(out, c.ID)
	}
	return out
}

func TestProgressOf(t *testing.T) {
	four := &Form{Items: []Column{{ID: "a.a"}, {ID: "a.b"}, {ID: "a.c", Title: "Cee", Critical: true}, {ID: "a.d"}, {ID: "a.x", Extra: true}}}
	at := func(number int, marks string) Record {
		return Record{Name: fmt.Sprintf("n%d", number), Student: "ann", Number: number, Day: fmt.Sprintf("2026-01-0%d", number), Form: four, Marks: marks, Seconds: 1200, Limit: 1800, Points: 1, Of: 4}
	}
	list := []Record{at(3, "spsmm"), at(1, "mmwss"), at(2, "mmsss"), at(4, " ssms")}
	list[1].Details = &Details{Wrong: []WrongNumber{{"a.c/psi", "psi", "6", "4"}, {"a.d/psi", "psi", "5", "4"}}}
	p, err := ProgressOf(list, DefaultReadyRule)
	if err != nil {
		t.Fatal(err)
	}
	var steps []string
	for _, a := range p.Attempts {
		steps = append(steps, fmt.Sprintf("%s said %d partly %d missed %d wrong %d gained %v lost %v of %d", a.Name, a.Said, a.Partly, a.Missed, a.Wrong, ids(a.Gained), ids(a.Lost), a.Compared))
	}
	want := []string{"n1 said 1 partly 0 missed 2 wrong 1 gained [] lost [] of 0", "n2 said 2 partly 0 missed 2 wrong 0 gained [a.c] lost [] of 4",
		"n3 said 2 partly 1 missed 1 wrong 0 gained [a.a] lost [a.d] of 4", "n4 said 2 partly 0 missed 1 wrong 0 gained [a.b] lost [] of 3"}
	if !reflect.DeepEqual(steps, want) {
		t.Errorf("%q\nwant %q", steps, want)
	}
	// The critical a.c was right three times since: cleared. a.a was right once since, and not marked after.
	var drill []string
	for _, d := range p.Drill {
		drill = append(drill, d.ID+": "+d.Why)
	}
	want = []string{"a.d: missed in 2 of 4 attempts, last on 2026-01-04", "a.b: missed in 2, said in part in 1 of 4 attempts, last on 2026-01-03", "a.a: missed in 2 of 3 attempts, last on 2026-01-02"}
	if fmt.Sprint(drill) != fmt.Sprint([]string{want[1], want[0], want[2]}) {
		t.Errorf("drill %q", drill)
	}
	if p.RuleWords != "ready when of the last 2 attempts: all passed; no critical item missed or wrong; each within the time limit" {
		t.Errorf("rule %q", p.RuleWords)
	}
	early, err := ProgressOf(list[1:2], DefaultReadyRule)
	if err != nil || len(early.Drill) != 3 || early.Drill[0].ID != "a.c" || len(early.Drill[0].Numbers) != 1 || early.Drill[0].Why != "critical; wrong in 1 of 1 attempt, last on 2026-01-01" {
		t.Errorf("critical first: %+v %v", early, err)
	}
}

func TestReady(t *testing.T) {
	rule := DefaultReadyRule
	once := ReadyRule{Last: 3, Passed: 1, CriticalMissed: 1}
	at := func(number int, pass bool, marks string, minutes float64) Record {
		return Record{Name: fmt.Sprint(number), Student: "ann", Number: number, Pass: pass, Form: twoItems, Marks: marks, Seconds: 60 * minutes, Limit: 1800}
	}
	ok, fail, critical, slow := at(1, true, "mss", 20), at(1, false, "mss", 20), at(1, true, "sms", 20), at(1, true, "sss", 31)
	timeless, unmarked := at(1, true, "sss", 0), Record{Name: "u", Student: "ann", Pass: true, Seconds: 60, Limit: 100}
	for _, c := range []struct {
		reason string
		list   []Record
		rule   ReadyRule
		ready  bool
		seen   string // of all conditions
	}{
		{"both passed", []Record{ok, ok}, rule, true, "2 passed; none; none over time"},
		{"an early failure is past", []Record{fail, ok, ok}, rule, true, "2 passed; none; none over time"},
		{"the latest failed", []Record{ok, ok, fail}, rule, false, "1 passed; none; none over time"},
		{"one attempt only", []Record{ok}, rule, false, "1 passed, of only 1 attempt so far; none, of only 1 attempt so far; none over time, of only 1 attempt so far"},
		{"critical item missed", []Record{ok, critical}, rule, false, "2 passed; Belt; none over time"},
		{"over time", []Record{slow, ok}, rule, false, "2 passed; none; 1 attempt over time"},
		{"time not known", []Record{timeless, ok}, rule, false, "2 passed; none; time not known in 1 attempt"},
		{"items not known", []Record{unmarked, ok}, rule, false, "2 passed; items not known in 1 attempt; none over time"},
		{"a school's own rule", []Record{fail, critical, slow}, once, true, "2 passed; Belt"},
	} {
		p, err := ProgressOf(c.list, c.rule)
		if err != nil {
			t.Fatal(err)
		}
		var seen []string
		for _, k := range p.Conditions {
			seen = append(seen, k.Seen)
		}
		if p.Ready != c.ready || strings.Join(seen, "; ") != c.seen {
			t.Errorf("%s: ready %t, seen %q, want %q", c.reason, p.Ready, seen, c.seen)
		}
	}
	if w := once.Words(); w != "ready when of the last 3 attempts: 1 passed; no more than 1 critical item missed or wrong" {
		t.Errorf("rule %q", w)
	}
	for _, c := range []struct {
		list []Record
		rule ReadyRule
		want string
	}{
		{nil, rule, "no attempts to follow"},
		{[]Record{{Student: "ann"}, {Student: "bob"}}, rule, "attempts of students ann and bob; follow one"},
		{[]Record{ok}, ReadyRule{}, "rule {Last:0 Passed:0 CriticalMissed:0 InTime:false Minutes:0}: last is 1 or more, passed no more than that, no number below 0"},
		{[]Record{{Name: "z", Form: twoItems, Marks: "s"}}, rule, "attempt z: has 1 marks for 3 items; mark it again"},
	} {
		if _, err := ProgressOf(c.list, c.rule); err == nil || err.Error() != c.want {
			t.Errorf("%v, want %s", err, c.want)
		}
	}
}

func TestProgressProperties(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		var list []Record
		for i := range rapid.IntRange(1, 6).Draw(rt, "n") {
			list = append(list, Record{Name: fmt.Sprint(i), Student: "a", Number: rapid.IntRange(0, 3).Draw(rt, "number"), Form: twoItems,
				Marks: rapid.StringMatching(`[spmwSPMW ]{3}`).Draw(rt, "marks"), Pass: rapid.Bool().Draw(rt, "pass")})
		}
		p, err := ProgressOf(list, DefaultReadyRule)
		if err != nil {
			rt.Fatal(err)
		}
		said := -1
		for i, a := range p.Attempts {
			if n := a.Said + a.Partly + a.Missed + a.Wrong; n > 2 || a.Compared > n || len(a.Gained)+len(a.Lost) > a.Compared {
				rt.Fatalf("%+v", a)
			}
			if i > 0 && a.Compared == 2 && p.Attempts[i-1].Said+len(a.Gained)-len(a.Lost) != a.Said {
				rt.Fatalf("%d said, %d gained, %d lost, %d said", said, len(a.Gained), len(a.Lost), a.Said)
			}
			said = a.Said
		}
		for i, d := range p.Drill {
			if d.Missed+d.Wrong+d.Partly == 0 || d.Why == "" || d.Extra || i > 0 && d.Critical && !p.Drill[i-1].Critical {
				rt.Fatalf("%+v", p.Drill)
			}
		}
		if out, err := json.Marshal(p); err != nil || strings.Contains(string(out), "NaN") {
			rt.Fatalf("%s %v", out, err)
		}
	})
}
