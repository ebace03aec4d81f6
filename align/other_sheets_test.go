package align

import (
	"encoding/csv"
	"os"
	"path/filepath"
	"testing"

	"markaround/speech"
)

// TestOtherSheets marks invented attempts on the sheets of other vehicles than
// the Class A one, against marks given from the text alone; TestForklift does so
// for another trade. testdata/vehicles/README.md says how they came about.
func TestOtherSheets(t *testing.T) {
	for _, c := range []struct {
		sheet, attempt, gold, student string
		differs                       map[string]string // item to why; the list may only shrink
		said                          map[string]string // numbers heard
	}{
		{"school-bus", "school-bus-1", "gold-school-bus", "",
			map[string]string{
				"cab.ind-abs":      "letters said one by one",
				"steer.pitman-arm": "the third condition after a list",
				"steer.drag-link":  "likewise",
				"steer.tire":       "goes on about the tire without its name",
				"rear.reflectors":  "\"all there\" after \"red\"",
			},
			map[string]string{"air.cut-out/pressure": "125 psi", "air.leak/loss": "at most 3 psi", "air.pop-out/pressure": "35 psi", "steer.tread/depth": "at least 4/32 inch"},
		},
		{"straight-hydraulic", "hydraulic-1", "gold-hydraulic", "STUDENT",
			map[string]string{"steer.ps-hoses": "\"the hoses too\" after the gear box"},
			map[string]string{"hydraulic.pump/pumps": "3", "hydraulic.hold/time": "5 seconds", "steer.tread/depth": "2/32 inch"},
		},
	} {
		t.Run(c.sheet, func(t *testing.T) {
			folder := filepath.Join("..", "testdata", "vehicles")
			tr, err := speech.ReadFile(filepath.Join(folder, c.attempt+".txt"), speech.Options{})
			if err != nil {
				t.Fatal(err)
			}
			opt := Options{Attempt: c.attempt}
			if c.student != "" {
				opt.Student = []string{c.student}
			}
			m := matcher(t, c.sheet)
			s := m.Grade(tr, opt)
			got := marks(s)
			f, err := os.Open(filepath.Join(folder, c.gold+".csv"))
			if err != nil {
				t.Fatal(err)
			}
			defer f.Close()
			rows, err := csv.NewReader(f).ReadAll()
			if err != nil {
				t.Fatal(err)
			}
			gold := map[string]bool{}
			for _, row := range rows[1:] {
				item, want := row[1], row[2]
				gold[item] = true
				same := got[item] == want
				switch _, known := c.differs[item]; {
				case same && known:
					t.Logf("%s agrees now: take it off the list", item)
				case !same && !known:
					t.Errorf("%s is %q, want %q (%s)", item, got[item], want, row[3])
				}
			}
			for e := range m.rubric.All() {
				if !e.Item.Extra && !gold[e.Item.ID] {
					t.Errorf("no mark for %s", e.Item.ID)
				}
			}
			for ref, want := range c.said {
				if said := heard(s, ref); said != want {
					t.Errorf("%s is %q, want %q", ref, said, want)
				}
			}
			sane(t, m.rubric, tr, s)
		})
	}
}
