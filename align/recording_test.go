package align

import (
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"markaround/rubric"
	"markaround/speech"
)

// recordingOf is a recording in which somebody speaks where the transcript has words.
func recordingOf(t *speech.Transcript) *speech.Sound {
	s := &speech.Sound{Name: "folder/attempt.wav", Rate: 16000, Channels: 1, Bits: 16, Step: 0.01}
	for _, w := range t.Words {
		if n := len(s.Speech); n > 0 && w.Start-s.Speech[n-1].End < 0.2 {
			s.Speech[n-1].End = max(s.Speech[n-1].End, w.End)
		} else {
			s.Speech = append(s.Speech, speech.Span{Start: w.Start, End: w.End})
		}
		s.Seconds = max(s.Seconds, w.End+1)
	}
	return s
}

// without is the transcript without the words between two moments, as a
// recognizer leaves it that lost them.
func without(t *speech.Transcript, from, to float64) *speech.Transcript {
	out := &speech.Transcript{Name: t.Name, Format: t.Format}
	for _, g := range t.Segments {
		first := len(out.Words)
		for _, w := range t.Words[g.First:g.Last] {
			if w.Start < from || w.End > to {
				w.Segment = len(out.Segments)
				out.Words = append(out.Words, w)
			}
		}
		if g.First, g.Last = first, len(out.Words); g.First < g.Last {
			g.Start, g.End = out.Words[g.First].Start, out.Words[g.Last-1].End
			out.Segments = append(out.Segments, g)
		}
	}
	return out
}

func readAttempt(t *testing.T, name string) *speech.Transcript {
	t.Helper()
	tr, err := speech.ReadFile(filepath.Join("..", "testdata", "attempts", name), speech.Options{})
	if err != nil {
		t.Fatal(err)
	}
	return tr
}

func TestRecordingAddsNoMarks(t *testing.T) {
	m, tr := matcher(t, "class-a"), readAttempt(t, "a2.json")
	bare := m.Grade(tr, Options{})
	placed, timing := speech.Place(tr, recordingOf(tr))
	s := m.Grade(placed, Options{Sound: recordingOf(tr), Timing: timing})
	if bare.Recording != nil || s.Recording == nil || s.Recording.File != "attempt.wav" {
		t.Fatalf("recording %+v without one, %+v with it", bare.Recording, s.Recording)
	}
	if !timing.Known || timing.Moved || len(s.Recording.Unheard) > 0 || len(s.Recording.Unspoken) > 0 {
		t.Errorf("its own words are not where they are: %+v, %+v", timing, s.Recording)
	}
	for i := range s.Items {
		if s.Items[i].Mark != bare.Items[i].Mark || s.Items[i].Confidence != bare.Items[i].Confidence {
			t.Errorf("%s: %s %.2f with the recording, %s %.2f without", s.Items[i].ID, s.Items[i].Mark, s.Items[i].Confidence, bare.Items[i].Mark, bare.Items[i].Confidence)
		}
	}
}

// What the recognizer lost is not called missed for sure.
func TestUnheardMakesMissedDoubtful(t *testing.T) {
	m, tr := matcher(t, "class-a"), readAttempt(t, "a2.json")
	whole := m.Grade(tr, Options{})
	var at *rubric.ItemMark
	for i := range whole.Items {
		if it := &whole.Items[i]; it.ID == "steer.shock" {
			at = it
		}
	}
	if at == nil || at.Mark == rubric.Missed {
		t.Fatal("the shock absorber of this attempt is no longer heard; take another part")
	}
	from, to := at.Start-6, at.Start+12
	lost := without(tr, from, to)
	placed, timing := speech.Place(lost, recordingOf(tr))
	for _, c := range []struct {
		reason  string
		opt     Options
		unheard bool
	}{
		{"somebody speaks there", Options{Sound: recordingOf(tr), Timing: timing}, true},
		{"nobody speaks there", Options{Sound: recordingOf(lost), Timing: timing}, false},
		{"it is not known where the words lie", Options{Sound: recordingOf(tr), Timing: speech.Timing{Note: "not checked"}}, false},
		{"without a recording", Options{}, false},
	} {
		s := m.Grade(placed, c.opt)
		i := slices.IndexFunc(s.Items, func(it rubric.ItemMark) bool { return it.ID == at.ID })
		it := s.Items[i]
		if it.Mark != rubric.Missed {
			t.Fatalf("%s: %s is %s without its words", c.reason, it.ID, it.Mark)
		}
		if c.unheard {
			if it.Confidence > mostMissed {
				t.Errorf("%s: missed with a confidence of %.2f, want at most %.2f", c.reason, it.Confidence, mostMissed)
			}
			if r := s.Recording; len(r.Unheard) == 0 || r.Unheard[0].Start < from-1 || r.Unheard[0].End > to+1 {
				t.Errorf("%s: unheard %v, the words from %.1f to %.1f are lost", c.reason, r.Unheard, from, to)
			}
			if !strings.Contains(strings.Join(s.Warnings, "\n"), "speech without words") {
				t.Errorf("%s: no warning of it in %q", c.reason, s.Warnings)
			}
		} else if s.Recording != nil && len(s.Recording.Unheard) > 0 {
			t.Errorf("%s: unheard %v", c.reason, s.Recording.Unheard)
		}
	}
}

// Dead air is silence, not talk that the recognizer lost.
func TestDeadAirIsSilent(t *testing.T) {
	tr := readAttempt(t, "a2.json")
	lost := without(tr, 600, 640) // outside of the hold, where silence is asked for
	known := speech.Timing{Known: true}
	longest := func(opt Options) float64 {
		d := 0.0
		for _, g := range matcher(t, "class-a").Grade(lost, opt).Pace.DeadAir {
			if g.Start < 640 && g.End > 600 {
				d = max(d, g.End-g.Start)
			}
		}
		return d
	}
	if d := longest(Options{}); d < 30 {
		t.Errorf("without a recording the longest gap there is %.0f s", d)
	}
	if d := longest(Options{Sound: recordingOf(lost), Timing: known}); d < 30 {
		t.Errorf("in a silent recording the longest gap there is %.0f s", d)
	}
	if d := longest(Options{Sound: recordingOf(tr), Timing: known}); d >= 10 {
		t.Errorf("dead air of %.0f s where somebody speaks", d)
	}
}

// The minute of the leak test by the recording's own clock: a caption file has
// the pause inside of one caption, so that the words' times alone show no minute.
func TestHoldByTheRecordingsClock(t *testing.T) {
	text := strings.Fields("I push the pedal all the way down and hold it for one minute. That is the minute, I lost two psi.")
	tr := &speech.Transcript{Segments: []speech.Segment{{Start: 0, End: 80, Last: len(text)}}}
	for i, w := range text {
		d := 80 / float64(len(text))
		tr.Words = append(tr.Words, speech.Word{Text: w, Start: d * float64(i), End: d * float64(i+1), Estimated: true, Confidence: -1})
	}
	held := func(pause float64) []string {
		s := &speech.Sound{Seconds: 80, Speech: []speech.Span{{Start: 1, End: 7}, {Start: 7 + pause, End: 11 + pause}}}
		var out []string
		for _, f := range matcher(t, "class-a").Grade(tr.Settled(s), Options{Sound: s, Timing: speech.Timing{Known: true}}).Findings {
			if f.Kind == rubric.HoldFinding {
				out = append(out, f.Text)
			}
		}
		return out
	}
	if got := held(65); len(got) > 0 {
		t.Errorf("65 s held, found %q", got)
	}
	got := held(31)
	if len(got) != 1 || !strings.Contains(got[0], "of 60 s by the recording's clock") {
		t.Fatalf("31 s held, found %q", got)
	}
}
