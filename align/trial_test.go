package align

import (
	"testing"
)

// What a small sheet's phrases do in two invented talks.
func TestTrial(t *testing.T) {
	m := matcher(t, forklift)
	trial := m.NewTrial()
	trial.Add(talk(turn{text: "at the mast. the tines are not cracked. the carriage stops wobble on the rollers. the blades for the forks are whole."}), Options{Attempt: "one"})
	trial.Add(talk(turn{text: "at the mast. these fork blades are not bent. the carriage stops wobble. my cousin drives one."}), Options{Attempt: "two"})
	if trial.Attempts() != 2 {
		t.Fatalf("%d attempts", trial.Attempts())
	}
	uses := trial.Uses()
	find := func(phrase, of, as string) Use {
		t.Helper()
		for _, u := range uses {
			if u.Phrase == phrase && u.For == of && u.As == as {
				return u
			}
		}
		t.Fatalf("no use of %q for %s as %s", phrase, of, as)
		return Use{}
	}
	for _, c := range []struct {
		reason, phrase, of, as string
		found, taken, attempts int
	}{
		{"a name said once", "tines", "mast.blades", AsName, 1, 1, 1},
		{"said plainly, and turned round", "fork blades", "mast.blades", AsName, 2, 2, 2},
		{"a shared condition, denied", "cracked", "condition whole", AsDefect, 1, 1, 1},
		{"and stated", "whole", "condition whole", AsSound, 1, 1, 1},
		{"the condition's words belong to no check", "worn heels", "mast.blades/heels", AsDefect, 0, 0, 0},
		{"an announcement is found, not taken", "at the mast", "section mast", AsAnnouncement, 2, 0, 2},
		{"never said", "horn", "seat.horn", AsName, 0, 0, 0},
	} {
		u := find(c.phrase, c.of, c.as)
		if u.Found != c.found || u.Taken != c.taken || u.Attempts != c.attempts {
			t.Errorf("%s: %q found %d, taken %d in %d attempts, want %d, %d in %d", c.reason, c.phrase, u.Found, u.Taken, u.Attempts, c.found, c.taken, c.attempts)
		}
	}
	// Every phrase of the sheet is there, in its order.
	r := trial.Rubric()
	want := 0
	for _, s := range r.Sections {
		want += len(s.Say)
		for _, l := range s.Lines {
			want += len(l.Say)
			for _, it := range l.Items {
				want += len(it.Say)
				for _, c := range it.Checks {
					want += len(c.Good) + len(c.Bad)
				}
				for _, ms := range it.Measures {
					want += len(ms.Near)
				}
			}
		}
	}
	for _, c := range r.Conditions {
		want += len(c.Good) + len(c.Bad)
	}
	if len(uses) != want {
		t.Errorf("%d uses for %d phrases", len(uses), want)
	}

	gaps := trial.Gaps()
	if len(gaps) == 0 || gaps[0].Words != "carriage stops wobble" {
		t.Fatalf("gaps are %+v, want the run that both have first", gaps)
	}
	g := gaps[0]
	if g.Count != 2 || g.Attempts != 2 || g.After != "mast.blades" || len(g.Example) != 2 || g.Example[0].Attempt != "one" || g.Example[0].Start <= 0 {
		t.Errorf("the gap is %+v", g)
	}
	for _, g := range gaps {
		switch g.Words {
		case "carriage", "stops", "carriage stops":
			t.Errorf("%q is part of a longer run that is said as often", g.Words)
		case "tines", "cracked", "my", "one":
			t.Errorf("%q is caught, or everyday speech", g.Words)
		}
	}
}

// What others say is no gap of the student's, and an attempt without words is
// an attempt.
func TestTrialOthers(t *testing.T) {
	trial := matcher(t, forklift).NewTrial()
	trial.Add(talk(turn{0, "Trainer", "show me the hydraulic gizmo please"}, turn{5, "Student", "at the mast. the tines are whole"}), Options{})
	trial.Add(talk(), Options{})
	for _, g := range trial.Gaps() {
		t.Errorf("%q is a gap", g.Words)
	}
	if trial.Attempts() != 2 {
		t.Errorf("%d attempts", trial.Attempts())
	}
}
