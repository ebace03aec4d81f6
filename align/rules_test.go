package align

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"

	"markaround/rubric"
	"markaround/speech"
)

// TestLaunch holds the matcher against an invented sheet of another trade.
func TestLaunch(t *testing.T) {
	play(t, launch(t), []scene{
		{"said", "house", "the steering wheel is not cracked or bent and it is tight.", "house.wheel=said", ""},
		{"the same as the other one", "deck", "the port davit is sound and tight. the starboard davit is the same as the other one.", "deck.port=said deck.starboard=said", ""},
		{"the same with", "deck", "the port davit is sound and tight. same with the starboard davit.", "deck.starboard=said", ""},
		{"the same as nothing", "deck", "the starboard davit is the same as the other one.", "deck.starboard=partly deck.port=missed", ""},
		{"only what was said carries over", "deck", "the port davit is sound. the starboard davit is the same as the other one.",
			"deck.port/fast=missed deck.starboard/sound=said deck.starboard/fast=missed", ""},
		{"everything", "house", "here is the steering wheel. the throttle lever. the compass. everything is sound and tight.", "house.wheel=said house.throttle=said house.compass=said", ""},
		{"a part that two places have", "deck", "the hose is dry and sound.", "deck.hose=said engine.hose=missed", ""},
		{"the other place", "engine", "the hose is dry and sound.", "engine.hose=said deck.hose=missed", ""},
		{"an extra part", "deck", "the flag staff is sound.", "deck.flag=said", ""},
		{"a wrong limit", "line", "the line may lose no more than nine psi.", "line.loss/limit=wrong", ""},
		{"a limit and readings", "line", "starting at ninety psi, now eighty eight psi, lost two psi, allowed to lose no more than five psi.",
			"line.loss=said line.loss/start:90_psi line.loss/end:88_psi line.loss/lost:2_psi line.loss/limit:at_most_5_psi", ""},
		{"nothing", "", "", "house.wheel=missed deck.flag=missed line.loss=missed", ""},
	})
}

// TestSpeakers leaves out what others say: a right answer of the examiner is
// not the student's.
func TestSpeakers(t *testing.T) {
	m := launch(t)
	const mine, theirs = "in the wheelhouse. the steering wheel is sound and tight.", "the compass is sound and tight, isn't it?"
	long := mine + " the throttle lever is sound and tight. the panes are not cracked."
	for _, c := range []struct {
		reason  string
		turns   []turn
		student []string
		want    string
		warning string // part of a warning, "" for none
	}{
		{"no labels: all is the student's", []turn{{0, "", mine}, {0, "", theirs}}, nil, "house.wheel=said house.compass=said", ""},
		{"one label is nobody else", []turn{{0, "A", mine}, {0, "A", theirs}}, nil, "house.wheel=said house.compass=said", ""},
		{"the label says who", []turn{{0, "Examiner", long + " the compass is sound and tight."}, {0, "Student", mine}}, nil, "house.wheel=said house.throttle=missed house.compass=missed", "Student"},
		{"a label that begins so", []turn{{0, "A", long}, {0, "TRAINEE 4", mine}}, nil, "house.wheel=said house.throttle=missed", "TRAINEE 4"},
		{"else the one who talks most", []turn{{0, "SPEAKER_01", theirs}, {0, "SPEAKER_00", long}, {0, "SPEAKER_01", theirs}}, nil, "house.wheel=said house.throttle=said house.compass=missed", "SPEAKER_00"},
		{"named by the instructor", []turn{{0, "A", long}, {0, "B", "in the wheelhouse. the compass is sound and tight."}}, []string{"B"}, "house.wheel=missed house.compass=said", ""},
		{"in any case of letters", []turn{{0, "Ann", long}, {0, "Bo", theirs}}, []string{"ann"}, "house.wheel=said house.compass=missed", ""},
		{"two labels are one student", []turn{{0, "A", mine}, {0, "B", "the compass is sound and tight."}, {0, "C", "the throttle lever is sound and tight."}}, []string{"A", "B"},
			"house.wheel=said house.compass=said house.throttle=missed", ""},
		{"a label that nobody has", []turn{{0, "A", long}, {0, "B", theirs}}, []string{"Zoe"}, "house.wheel=missed house.compass=missed", "speakers are A, B"},
		{"a question and a bare yes", []turn{{0, "Examiner", "in the wheelhouse. " + theirs}, {0, "Student", "yes."}}, nil, "house.compass=missed", "Student"},
		{"the question names the part, the student says what is so", []turn{{0, "Student", "in the wheelhouse. the steering wheel is sound."}, {0, "Examiner", "and the compass?"},
			{0, "Student", "that is tight."}}, nil, "house.wheel/sound=said house.compass=partly", "Student"},
		{"what the examiner says of it is not the student's", []turn{{0, "Student", "in the wheelhouse. the steering wheel is sound."}, {0, "Examiner", "the compass is sound, is it tight?"},
			{0, "Student", "yes, it is."}}, nil, "house.wheel/sound=said house.compass=missed", "Student"},
		{"a broken statement", []turn{{0, "Student", "in the wheelhouse. the compass is"}, {0, "Examiner", "cracked and loose?"}, {0, "Student", "sound and tight."}}, nil, "house.compass=said", "Student"},
	} {
		t.Run(c.reason, func(t *testing.T) {
			tr := talk(c.turns...)
			s := m.Grade(tr, Options{Student: c.student})
			for _, b := range wrongs(s, c.want) {
				t.Error(b)
			}
			all := strings.Join(s.Warnings, "\n")
			if !strings.Contains(all, c.warning) || c.warning == "" && all != "" {
				t.Errorf("warnings are %q, want %q", all, c.warning)
			}
			sane(t, m.rubric, tr, s)
		})
	}
}

// TestOrder holds the findings about order, hold and readings against the times
// of invented turns.
func TestOrder(t *testing.T) {
	m := launch(t)
	const (
		stop  = "stop the engine, key out."
		open  = "open the sea cock, fully open."
		limit = "allowed to lose no more than five psi."
	)
	start := turn{text: "fire line test."}
	for _, c := range []struct {
		reason         string
		turns          []turn
		order, hold    string
		reading, fails string // the id, and part of a reason of the result
	}{
		{"kept", []turn{start, {5, "", stop}, {10, "", open}, {50, "", limit}}, "", "", "", ""},
		{"two steps turned round", []turn{start, {5, "", open}, {10, "", stop}, {50, "", limit}}, "line.shut>line.press", "", "", "critical: Line under pressure came before"},
		{"both rules broken", []turn{start, {5, "", limit}, {50, "", open}, {60, "", stop}}, "line.shut>line.press line.press>line.loss", "", "", "critical: Loss of the line came before"},
		{"half done: a step not done is missed, not out of order", []turn{start, {5, "", open}, {50, "", limit}}, "", "", "", "critical: Engine stopped (missed)"},
		{"the first half only", []turn{start, {5, "", stop}}, "", "", "", "critical: Line under pressure (missed)"},
		{"spoken of before, done in order", []turn{start, {2, "", limit}, {5, "", stop}, {10, "", open}, {50, "", limit}}, "", "", "", ""},
		{"held too short", []turn{start, {5, "", stop}, {10, "", open}, {25, "", limit}}, "", "half-minute", "", ""},
		{"held", []turn{start, {5, "", stop}, {10, "", open}, {45, "", limit}}, "", "", "", ""},
		{"readings that fit", []turn{start, {5, "", stop}, {10, "", open + " starting at ninety psi."}, {50, "", "now eighty eight psi. lost two psi. " + limit}}, "", "", "", ""},
		{"readings within the tolerance", []turn{start, {5, "", stop}, {10, "", open + " starting at ninety psi."}, {50, "", "now eighty eight and a half psi. lost two psi. " + limit}}, "", "", "", ""},
		{"readings that do not fit", []turn{start, {5, "", stop}, {10, "", open + " starting at ninety psi."}, {50, "", "now eighty five psi. lost two psi. " + limit}}, "", "", "line.loss", ""},
		{"readings out of step with the loss only said", []turn{start, {5, "", stop}, {10, "", open}, {50, "", "lost two psi. " + limit}}, "", "", "", ""},
	} {
		t.Run(c.reason, func(t *testing.T) {
			tr := talk(c.turns...)
			s := m.Grade(tr, Options{})
			for _, f := range []struct {
				kind rubric.FindingKind
				want string
			}{{rubric.OrderFinding, c.order}, {rubric.HoldFinding, c.hold}, {rubric.ReadingFinding, c.reading}} {
				if got := findings(s, f.kind); got != f.want {
					t.Errorf("%s findings are %q, want %q", f.kind, got, f.want)
				}
			}
			if all := strings.Join(s.Result.Reasons, "; "); !strings.Contains(all, c.fails) || c.fails == "" && strings.Contains(all, "critical") {
				t.Errorf("result is %q, want %q", all, c.fails)
			}
			for _, f := range s.Findings {
				if f.Text == "" || f.Reason == "" || f.Start > f.End || len(f.Evidence) < 2 {
					t.Errorf("a finding without reason, time or evidence: %+v", f)
				}
			}
			sane(t, m.rubric, tr, s)
		})
	}
}

// The published hold: one minute after the gauge settles, Georgia manual
// 11M.1.2; and the order of its four parts.
func TestLeakMinute(t *testing.T) {
	m := matcher(t, "class-a")
	leak := func(held float64) *rubric.Sheet {
		tr := talk(turn{text: "air brake check."}, turn{at: 5, text: "wheels are chocked, in place."},
			turn{at: 10, text: "the governor cuts out at one hundred twenty five psi."},
			turn{at: 20, text: "engine off, key on."}, turn{at: 25, text: "release both brakes, push in the yellow and the red."},
			turn{at: 30, text: "apply the foot brake, full pedal and hold it."},
			turn{at: 35 + held, text: "leak test, i lost two psi, no more than four psi is allowed."},
			turn{at: 45 + held, text: "fan off the air, the low air warning buzzer comes on before fifty five psi."},
			turn{at: 60 + held, text: "keep fanning until the yellow and red knobs pop out at about forty psi."})
		s := m.Grade(tr, Options{})
		sane(t, m.rubric, tr, s)
		return s
	}
	short, full := leak(20), leak(65)
	if got := findings(short, rubric.HoldFinding); got != "leak-minute" {
		t.Errorf("held some 25 seconds: %q", got)
	}
	if got := findings(full, rubric.HoldFinding); got != "" {
		t.Errorf("held over a minute: %q", got)
	}
	for _, s := range []*rubric.Sheet{short, full} {
		if got := findings(s, rubric.OrderFinding); got != "" {
			t.Errorf("in order: %q", got)
		}
		for _, b := range wrongs(s, "air.chock=said air.cut-out=said air.engine-off=said air.release=said air.leak=said air.warning=said air.pop-out=said") {
			t.Error(b)
		}
	}
	tr := talk(turn{text: "air brake check."}, turn{at: 5, text: "fan off the air, the low air warning buzzer comes on before fifty five psi."},
		turn{at: 30, text: "engine off, key on."}, turn{at: 40, text: "apply the foot brake, full pedal and hold it."},
		turn{at: 120, text: "leak test, no more than four psi is allowed."})
	if got := findings(m.Grade(tr, Options{}), rubric.OrderFinding); got != "air.leak>air.warning" {
		t.Errorf("the pressure was fanned down before the leak test: %q", got)
	}
}

func TestPace(t *testing.T) {
	m := launch(t)
	tr := talk(
		turn{at: 10, text: "in the wheelhouse. the steering wheel is sound and tight."},
		turn{at: 40, text: "now in the engine room. the cooling pump is dry and tight."},
		turn{at: 70, text: "the hose is dry and sound."},
		turn{at: 100, text: "now the fire line test. stop the engine, key out."},
		turn{at: 135, text: "now on the deck. the cleats are sound and tight."},
	)
	s := m.Grade(tr, Options{})
	p := s.Pace
	sane(t, m.rubric, tr, s)
	if p.Start != 10 || p.End != tr.Words[len(tr.Words)-1].End || p.Limit != 120 {
		t.Errorf("from %v to %v of %v", p.Start, p.End, p.Limit)
	}
	if want := float64(len(tr.Words)) / (p.End - p.Start) * 60; math.Abs(p.WordsPerMinute-want) > 1e-9 {
		t.Errorf("%v words a minute, by count and clock %v", p.WordsPerMinute, want)
	}
	var gaps []float64
	for _, g := range p.DeadAir {
		gaps = append(gaps, g.End-g.Start)
	}
	if len(gaps) != 4 || !slices.IsSortedFunc(gaps, func(a, b float64) int { return int(math.Copysign(1, b-a)) }) || p.DeadAir[0].End != 135 {
		t.Errorf("the gaps of ten seconds and more, longest first: %v", p.DeadAir)
	}
	if got, want := visits(p), "house 10, engine 40, line 100, deck 135"; got != want {
		t.Errorf("visits are %s, want %s", got, want)
	}
	for _, x := range p.Sections {
		want := map[string]float64{"house": 30, "engine": 60, "line": 35, "deck": p.End - 135}[x.Section]
		if math.Abs(x.Seconds-want) > 1 || x.Budget == 0 {
			t.Errorf("%v s in %s, want about %v, budget %v", x.Seconds, x.Section, want, x.Budget)
		}
	}
	// The limit runs from the student's first word: 10 + 120.
	if !slices.Equal(p.AfterLimit, []string{"deck.cleat"}) {
		t.Errorf("after the limit: %q", p.AfterLimit)
	}
	if s.Result.Pass || !strings.Contains(strings.Join(s.Result.Reasons, ";"), "took") {
		t.Errorf("over the limit: %+v", s.Result)
	}
}

// visits are the sections visited, each with the second where it begins.
func visits(p rubric.Pace) string {
	var out []string
	for _, v := range p.Visits {
		out = append(out, fmt.Sprintf("%s %.0f", v.Section, math.Floor(v.Start)))
	}
	return strings.Join(out, ", ")
}

// A section that is passed over has no time, and does not draw the parts of the
// section before it on.
func TestSkippedSection(t *testing.T) {
	s := launch(t).Grade(talk(
		turn{text: "now in the engine room. the cooling pump is dry and tight."},
		turn{at: 20, text: "the hose is dry and sound."},
		turn{at: 50, text: "now on the deck. the anchor is sound and tight."},
	), Options{})
	bad := wrongs(s, "engine.hose=said deck.hose=missed")
	if got, want := visits(s.Pace), "engine 0, deck 50"; got != want || len(bad) > 0 {
		t.Skipf("known fault, two moves to the next section through one where nothing is said cost less than a jump: %s, want %s; %q", got, want, bad)
	}
}

// The examiner's time is part of the test, but not of the student's words.
func TestPaceOfOthers(t *testing.T) {
	tr := talk(turn{0, "Examiner", "good morning. please begin."}, turn{20, "Student", "in the wheelhouse. the compass is sound and tight."}, turn{90, "Examiner", "thank you, that is all."})
	s := launch(t).Grade(tr, Options{})
	if s.Pace.Start != 20 || s.Pace.End > 25 || s.Words != 9 || s.Result.Pass && s.Pace.End-s.Pace.Start > s.Pace.Limit {
		t.Errorf("%+v, %d words", s.Pace, s.Words)
	}
}

// TestRushed lists parts named one on top of another with nothing said of them.
func TestRushed(t *testing.T) {
	m := launch(t)
	fast := m.Grade(talk(turn{text: "in the wheelhouse. steering wheel, throttle lever, compass."}), Options{})
	if !slices.Contains(fast.Pace.Rushed, "house.wheel") {
		t.Errorf("named in one breath: %q", fast.Pace.Rushed)
	}
	slow := m.Grade(talk(turn{text: "in the wheelhouse."}, turn{at: 10, text: "steering wheel."}, turn{at: 20, text: "throttle lever."}, turn{at: 30, text: "compass."}), Options{})
	if len(slow.Pace.Rushed) > 0 {
		t.Errorf("ten seconds each: %q", slow.Pace.Rushed)
	}
}

// TestEmpty marks all missed where nothing was said, and says so in times of zero.
func TestEmpty(t *testing.T) {
	for _, m := range []*Matcher{launch(t), matcher(t, "class-a")} {
		for _, tr := range []*speech.Transcript{{}, talk(turn{}), talk(turn{text: "- ... -"})} {
			s := m.Grade(tr, Options{Attempt: "e"})
			for _, it := range s.Items {
				if it.Mark != rubric.Missed || it.Start != -1 || it.Points != 0 {
					t.Fatalf("%s is %s of nothing", it.ID, it.Mark)
				}
			}
			if s.Points != 0 || s.Result.Pass || s.Attempt != "e" || len(s.Findings) > 0 {
				t.Errorf("%v points, %+v, %v", s.Points, s.Result, s.Findings)
			}
			sane(t, m.rubric, tr, s)
			if data := encode(t, s); bytes.Contains(data, []byte("null")) {
				t.Errorf("a list is null: %s", data[:min(len(data), 2000)])
			}
		}
	}
}

func TestNewOfNothing(t *testing.T) {
	for _, r := range []*rubric.Rubric{{ID: "r"}, {ID: "r", Sections: []rubric.Section{{ID: "s", Lines: []rubric.Line{{ID: "l", Items: []rubric.Item{{ID: "s.i"}}}}}}}} {
		if m, err := New(r); err == nil || m != nil || !strings.Contains(err.Error(), "rubric r has no items to listen for") {
			t.Errorf("a rubric with nothing to listen for: %v", err)
		}
	}
}

func encode(t testing.TB, s *rubric.Sheet) []byte {
	t.Helper()
	data, err := json.Marshal(s)
	if err != nil {
		t.Fatal(err)
	}
	return data
}

// TestDeterminism grades open attempts twice, with a fresh matcher, and with
// eight goroutines on one matcher: all give the same sheet, byte for byte, and
// the transcript is left as it was.
func TestDeterminism(t *testing.T) {
	m, fresh := matcher(t, "class-a"), matcher(t, "class-a")
	for _, name := range []string{"a1.srt", "b2.ctm", "d1.json", "c1-heard.ctm"} {
		tr, err := speech.ReadFile(filepath.Join("..", "testdata", "attempts", name), speech.Options{})
		if err != nil {
			t.Fatal(err)
		}
		before := fmt.Sprintf("%v", *tr)
		want := encode(t, m.Grade(tr, Options{}))
		if bytes.Contains(want, []byte("null")) {
			t.Errorf("%s: a list is null", name)
		}
		if !bytes.Equal(want, encode(t, m.Grade(tr, Options{}))) {
			t.Errorf("%s: a second time it is another sheet", name)
		}
		if !bytes.Equal(want, encode(t, fresh.Grade(tr, Options{}))) {
			t.Errorf("%s: another matcher gives another sheet", name)
		}
		got := make([][]byte, 8)
		var wg sync.WaitGroup
		for i := range got {
			wg.Go(func() { got[i] = encode(t, m.Grade(tr, Options{})) })
		}
		wg.Wait()
		for i := range got {
			if !bytes.Equal(want, got[i]) {
				t.Errorf("%s: goroutine %d has another sheet", name, i)
			}
		}
		if after := fmt.Sprintf("%v", *tr); after != before {
			t.Errorf("%s: the transcript was changed", name)
		}
		sane(t, m.rubric, tr, m.Grade(tr, Options{}))
	}
}

// TestFiguresOfTheirClause: of two figures in one breath each goes to what its own
// clause names, also where they would fit the other way round. 49 CFR 393.75(b)
// and (c) ask for 4/32 inch on the front wheels and 2/32 inch on all others.
func TestFiguresOfTheirClause(t *testing.T) {
	m := matcher(t, "class-a")
	for _, c := range []struct{ text, depth, other, why string }{
		{"tread. steers have to have at least 4/32, and everything else behind it got to have at least 2/32.", "said", "said", "as it should be"},
		{"tread. steers, they tell you at least 2/32, and everything else behind it got to have at least 4/32.", "wrong", "wrong", "the two exchanged"},
		{"tread. front is 4/32 minimum yes front 4 back 2", "said", "said", "each after what it is of, with the 32nds left out"},
		{"tread. the minimum in the front is four thirty seconds behind it can be two thirty seconds because in front you steer", "said", "said", "a reason names the front again"},
		{"tread. the rule for the front, it's 4/32 maximum, so we're good with 7.", "wrong", "missed", "the right figure pointing the wrong way"},
		{"tread depth minimum for front tire is 4/32 i measure with this small tool and it is 9/32", "said", "missed", "a limit and a reading"},
	} {
		marks := marks(m.Grade(talk(turn{text: "steering axle."}, turn{text: c.text}), Options{}))
		if got := marks["steer.tread/depth"]; got != c.depth {
			t.Errorf("%q: depth is %s, want %s: %s", c.text, got, c.depth, c.why)
		}
		if got := marks["steer.tread/other"]; got != c.other {
			t.Errorf("%q: other is %s, want %s: %s", c.text, got, c.other, c.why)
		}
	}
}
