package align

import (
	"bufio"
	"os"
	"strings"
	"testing"
)

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
	m := matcher(t, "class-a", "passenger")
	places := map[string]string{}
	for _, s := range m.rubric.Sections {
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
		marks := marks(m.Grade(talk(turn{text: place + "."}, turn{text: cols[1]}), Options{}))
		for _, e := range strings.Fields(cols[2]) {
			id, want, _ := strings.Cut(e, "=")
			got, ok := marks[id]
			if !ok {
				t.Errorf("line %d: no %q on the sheet", n, id)
			}
			all++
			if got == want {
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
