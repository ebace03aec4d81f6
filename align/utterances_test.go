package align

import (
	"bufio"
	"os"
	"strings"
	"testing"

	"markaround/rubric"
	"markaround/speech"
)

// said makes a transcript of one utterance, spoken at 150 words a minute after
// the section was announced.
func said(announce, text string) *speech.Transcript {
	t := &speech.Transcript{Name: "utterance", Format: speech.Text}
	at := 0.0
	for seg, s := range []string{announce, text} {
		first := len(t.Words)
		for _, w := range strings.Fields(s) {
			t.Words = append(t.Words, speech.Word{Text: w, Start: at, End: at + 0.35, Confidence: -1, Segment: seg})
			at += 0.4
		}
		if first < len(t.Words) {
			t.Segments = append(t.Segments, speech.Segment{Start: t.Words[first].Start, End: at, First: first, Last: len(t.Words), Cue: seg + 1})
		}
	}
	return t
}

// utteranceFloor is the share of the development set's expectations that must
// hold. It may rise, never fall.
const utteranceFloor = 0.90

// TestUtterances holds the matcher against short utterances with the marks that
// they should earn: a development set, invented before the phrases were.
func TestUtterances(t *testing.T) {
	f, err := os.Open("../testdata/utterances.tsv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	r, err := rubric.Load("class-a", "passenger")
	if err != nil {
		t.Fatal(err)
	}
	m, err := New(r)
	if err != nil {
		t.Fatal(err)
	}
	places := map[string]string{}
	for _, s := range r.Sections {
		places[s.ID] = s.Say[0]
	}
	right, all := 0, 0
	sc := bufio.NewScanner(f)
	for n := 1; sc.Scan(); n++ {
		cols := strings.Split(sc.Text(), "\t")
		if len(cols) != 3 || cols[0] == "section" || strings.HasPrefix(cols[0], "#") {
			continue
		}
		place, ok := places[cols[0]]
		if !ok {
			t.Fatalf("line %d: no section %q", n, cols[0])
		}
		sheet := m.Grade(said(place+".", cols[1]), Options{})
		marks := map[string]rubric.Mark{}
		for _, it := range sheet.Items {
			marks[it.ID] = it.Mark
			for _, c := range it.Checks {
				marks[it.ID+"/"+c.ID] = c.Mark
			}
			for _, c := range it.Measures {
				marks[it.ID+"/"+c.ID] = c.Mark
			}
		}
		for _, e := range strings.Fields(cols[2]) {
			id, want, _ := strings.Cut(e, "=")
			got, ok := marks[id]
			if !ok {
				t.Errorf("line %d: no %q on the sheet", n, id)
			}
			all++
			if string(got) == want {
				right++
			} else {
				t.Logf("line %d: %s is %s, want %s: %s: %s", n, id, got, want, cols[0], cols[1])
			}
		}
	}
	if all < 300 {
		t.Fatalf("only %d expectations", all)
	}
	if share := float64(right) / float64(all); share < utteranceFloor {
		t.Errorf("%d of %d expectations hold, %.3f; want at least %.2f", right, all, share, utteranceFloor)
	} else {
		t.Logf("%d of %d expectations hold, %.3f", right, all, share)
	}
}
