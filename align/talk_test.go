package align

import (
	"fmt"
	"path/filepath"
	"strings"
	"testing"

	"markaround/rubric"
	"markaround/speech"
)

// A turn is what one speaker says from a second on.
type turn struct {
	at   float64
	who  string // label, "" for a recording without labels
	text string
}

// talk makes a transcript of turns with measured times, 150 words a minute. A
// turn begins at its second, or when the one before has ended.
func talk(turns ...turn) *speech.Transcript {
	t := &speech.Transcript{Name: "talk", Format: speech.Text}
	at := 0.0
	for i, s := range turns {
		at = max(at, s.at)
		first := len(t.Words)
		for _, w := range strings.Fields(s.text) {
			t.Words = append(t.Words, speech.Word{Text: w, Start: at, End: at + 0.35, Confidence: -1, Segment: i})
			at += 0.4
		}
		seg := speech.Segment{Start: at, End: at, Speaker: s.who, First: first, Last: len(t.Words), Cue: i + 1}
		if first < len(t.Words) {
			seg.Start = t.Words[first].Start
		}
		t.Segments = append(t.Segments, seg)
	}
	return t
}

// matcher makes the matcher of an embedded rubric or of a file, with overlays.
func matcher(t testing.TB, name string, with ...string) *Matcher {
	t.Helper()
	r, err := rubric.Load(name, with...)
	if err != nil {
		t.Fatal(err)
	}
	m, err := New(r)
	if err != nil {
		t.Fatal(err)
	}
	return m
}

// launch is the matcher of an invented sheet of another trade.
func launch(t testing.TB) *Matcher { return matcher(t, filepath.Join("testdata", "launch.yaml")) }

// marks are the marks of a sheet by item, item/check and item/measure.
func marks(s *rubric.Sheet) map[string]string {
	out := map[string]string{}
	for _, it := range s.Items {
		out[it.ID] = string(it.Mark)
		for _, c := range it.Checks {
			out[it.ID+"/"+c.ID] = string(c.Mark)
		}
		for _, c := range it.Measures {
			out[it.ID+"/"+c.ID] = string(c.Mark)
		}
	}
	return out
}

// heard is the normal form of the last number taken for item/measure, "" if none.
func heard(s *rubric.Sheet, ref string) string {
	for _, it := range s.Items {
		for _, c := range it.Measures {
			if it.ID+"/"+c.ID == ref {
				return c.Said
			}
		}
	}
	return "no such measure"
}

// findings are the findings of a kind, each as its rule's id.
func findings(s *rubric.Sheet, kind rubric.FindingKind) string {
	var out []string
	for _, f := range s.Findings {
		if f.Kind == kind {
			out = append(out, f.ID)
		}
	}
	return strings.Join(out, " ")
}

// wrongs lists which of the marks wanted ("item=said item/check=missed ...") a
// sheet does not have. "=heard" wants any mark but missed, "item/measure:what"
// a number in its normal form, underscores for spaces.
func wrongs(s *rubric.Sheet, want string) []string {
	var out []string
	got := marks(s)
	for _, w := range strings.Fields(want) {
		if ref, said, ok := strings.Cut(w, ":"); ok {
			if is := strings.ReplaceAll(heard(s, ref), " ", "_"); is != said {
				out = append(out, fmt.Sprintf("%s is %q, want %q", ref, is, said))
			}
			continue
		}
		ref, mark, _ := strings.Cut(w, "=")
		is, ok := got[ref]
		switch {
		case !ok:
			out = append(out, "no "+ref+" on the sheet")
		case mark == "heard" && is != "missed" || is == mark:
		default:
			out = append(out, fmt.Sprintf("%s is %s, want %s", ref, is, mark))
		}
	}
	return out
}

// A scene is what a student says in one place, and the marks it should earn.
type scene struct {
	reason  string
	section string // announced first, "" for none
	text    string
	want    string // see wrongs
	bug     string // known fault: the scene is skipped while it fails
}

func play(t *testing.T, m *Matcher, scenes []scene) {
	places := map[string]string{"": ""}
	for _, s := range m.rubric.Sections {
		places[s.ID] = s.Say[0] + "."
	}
	for _, c := range scenes {
		t.Run(c.reason, func(t *testing.T) {
			place, ok := places[c.section]
			if !ok {
				t.Fatalf("no section %q", c.section)
			}
			tr := talk(turn{text: place}, turn{text: c.text})
			s := m.Grade(tr, Options{})
			bad := wrongs(s, c.want)
			if len(bad) == 0 && c.bug != "" {
				t.Errorf("the fault is mended, take its note off: %s", c.bug)
			}
			if len(bad) > 0 && c.bug != "" {
				t.Skipf("known fault, %s: %q: %s", c.bug, c.text, strings.Join(bad, "; "))
			}
			for _, b := range bad {
				t.Errorf("%q: %s", c.text, b)
			}
			for _, it := range s.Items {
				if len(bad) > 0 && strings.Contains(c.want, it.ID+"=") {
					t.Logf("%s: %s", it.ID, it.Reason)
				}
			}
			sane(t, m.rubric, tr, s)
		})
	}
}
