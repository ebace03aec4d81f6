package align

import (
	"encoding/csv"
	"os"
	"path/filepath"
	"testing"

	"markaround/speech"
)

// TestForklift marks an invented daily check of a forklift with the embedded
// sheet of that trade, against marks given from the text alone. Sheet, talk and
// marks were written before the matcher was run on them.
func TestForklift(t *testing.T) {
	// What is known to differ, and why. The list may only shrink.
	differs := map[string]string{
		"mast.cylinders": "named only, but the leak of the hoses named next is taken for both",
	}
	folder := filepath.Join("..", "testdata", "vehicles")
	tr, err := speech.ReadFile(filepath.Join(folder, "forklift-1.txt"), speech.Options{})
	if err != nil {
		t.Fatal(err)
	}
	m := matcher(t, "forklift")
	s := m.Grade(tr, Options{Student: []string{"OPERATOR"}})
	got := marks(s)
	f, err := os.Open(filepath.Join(folder, "gold-forklift.csv"))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	items := 0
	for range m.rubric.All() {
		items++
	}
	if len(rows)-1 != items {
		t.Errorf("%d marks for %d items", len(rows)-1, items)
	}
	for _, row := range rows[1:] {
		item, want := row[1], row[2]
		same := got[item] == want
		switch _, known := differs[item]; {
		case same && known:
			t.Errorf("%s agrees now: take it off the list", item)
		case !same && !known:
			t.Errorf("%s is %q, want %q (%s)", item, got[item], want, row[3])
		}
	}
	for ref, want := range map[string]string{"mast.forks/wear": "at most 10 percent", "mast.chains/stretch": "at most 5 percent", "seat.charge/level": "85 percent"} {
		if said := heard(s, ref); said != want {
			t.Errorf("%s is %q, want %q", ref, said, want)
		}
	}
	sane(t, m.rubric, tr, s)
}
