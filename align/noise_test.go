package align

import (
	"fmt"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"markaround/align/damage"
	"markaround/rubric"
	"markaround/rubric/cohort"
	"markaround/speech"
)

// attemptsDir is where the attempts with gold marks lie: the open ones, or with
// MARKAROUND_ASIDE set the ones set aside for the final measurement.
func attemptsDir() string {
	dir := filepath.Join("..", "testdata", "attempts")
	if os.Getenv("MARKAROUND_ASIDE") != "" {
		dir = filepath.Join(dir, "aside")
	}
	return dir
}

// goldMarks are the people's marks of the attempts.
func goldMarks(tb testing.TB) *cohort.Marks {
	tb.Helper()
	marks := cohort.NewMarks("gold")
	files, err := filepath.Glob(filepath.Join(attemptsDir(), "gold-*.csv"))
	if err != nil || len(files) == 0 {
		tb.Fatalf("no gold marks: %v", err)
	}
	for _, name := range files {
		f, err := os.Open(name)
		if err != nil {
			tb.Fatal(err)
		}
		m, err := cohort.ReadMarks(f, name)
		f.Close()
		if err != nil {
			tb.Fatal(err)
		}
		for _, j := range m.All() {
			marks.Add(j)
		}
	}
	return marks
}

// transcript reads an attempt, nil when it has not one file.
func transcript(tb testing.TB, id string) *speech.Transcript {
	tb.Helper()
	found, _ := filepath.Glob(filepath.Join(attemptsDir(), id+".*"))
	if len(found) != 1 {
		tb.Logf("%s: no transcript yet", id)
		return nil
	}
	t, err := speech.ReadFile(found[0], speech.Options{})
	if err != nil {
		tb.Fatal(err)
	}
	return t
}

// matchers gives the matcher for an attempt: with the passenger items for a
// vehicle that carries passengers, which its gold marks tell.
func matchers(tb testing.TB, gold *cohort.Marks) func(attempt string) *Matcher {
	tb.Helper()
	plain, carries := matcher(tb, "class-a"), matcher(tb, "class-a", "passenger")
	passengers := map[string]bool{}
	for _, j := range gold.All() {
		if strings.HasPrefix(j.Item, "passenger.") {
			passengers[j.Attempt] = true
		}
	}
	return func(attempt string) *Matcher {
		if passengers[attempt] {
			return carries
		}
		return plain
	}
}

// corpus is the transcripts of a folder with their gold marks of the scored
// items. A transcript that a real recognizer made is damaged as it is and left
// out.
func corpus(tb testing.TB) (map[string]*speech.Transcript, *cohort.Marks) {
	tb.Helper()
	marks := cohort.NewMarks("gold")
	scored, err := rubric.Load("class-a", "passenger")
	if err != nil {
		tb.Fatal(err)
	}
	for _, j := range goldMarks(tb).All() {
		item, _, _ := strings.Cut(j.Item, "/")
		if it := scored.Item(item); it != nil && it.Extra {
			continue
		}
		if !strings.HasSuffix(j.Attempt, "-heard") {
			marks.Add(j)
		}
	}
	out := map[string]*speech.Transcript{}
	for _, id := range marks.Attempts() {
		if t := transcript(tb, id); t != nil {
			out[id] = t
		}
	}
	return out, marks
}

// measured is what marking was worth at one word error rate.
type measured struct {
	*cohort.Comparison
	rate  float64 // word error rate reached
	aside float64 // marks set aside to be heard, for each attempt
	after float64 // share of marks that agree once these are put right
}

// measure marks every transcript, damaged at a word error rate, and compares
// with the gold marks.
func measure(tb testing.TB, with func(string) *Matcher, texts map[string]*speech.Transcript, gold *cohort.Marks, rate float64, seeds int) measured {
	tb.Helper()
	ours, theirs := cohort.NewMarks("sheets"), cohort.NewMarks("gold")
	reached, n := 0.0, 0
	type key struct{ attempt, item string }
	marks := map[key]rubric.Mark{}
	for _, j := range gold.All() {
		marks[key{j.Attempt, j.Item}] = j.Mark
	}
	sheets, aside, compared, wrong := 0, 0, 0, 0
	for _, id := range slices.Sorted(maps.Keys(texts)) {
		for seed := range seeds {
			t, name := texts[id], fmt.Sprintf("%s#%d", id, seed)
			if rate > 0 {
				var rep damage.Report
				t, rep = damage.Damage(t, rate, uint64(seed)+1)
				reached += rep.Rate
				n++
			}
			sheet := with(id).Grade(t, Options{Attempt: name})
			if err := ours.AddSheet(sheet); err != nil {
				tb.Fatal(err)
			}
			sheets++
			for _, it := range sheet.Items {
				if it.Listen {
					aside++
				}
				if want, ok := marks[key{id, it.ID}]; ok {
					if compared++; want != it.Mark && !it.Listen {
						wrong++
					}
				}
			}
			for _, j := range gold.All() {
				if j.Attempt == id {
					j.Attempt = name
					theirs.Add(j)
				}
			}
		}
	}
	if n > 0 {
		reached /= float64(n)
	}
	return measured{cohort.Compare(theirs, ours, cohort.ByItem), reached, float64(aside) / float64(sheets), 1 - float64(wrong)/float64(compared)}
}

// TestNoise prints agreement with the gold marks by word error rate. It runs
// only when asked, with MARKAROUND_NOISE set to the number of seeds a rate.
func TestNoise(t *testing.T) {
	seeds := 0
	fmt.Sscan(os.Getenv("MARKAROUND_NOISE"), &seeds)
	if seeds == 0 {
		t.Skip("set MARKAROUND_NOISE to the number of seeds")
	}
	texts, gold := corpus(t)
	with := matchers(t, gold)
	t.Logf("%d attempts in %s", len(texts), attemptsDir())
	t.Log("  rate reached     n  same  kappa | missed prec recall | number prec recall | condition prec recall | finding prec recall | >=0.9 right  ECE | aside after")
	for _, rate := range []float64{0, 0.05, 0.10, 0.20, 0.30} {
		n := seeds
		if rate == 0 {
			n = 1
		}
		c := measure(t, with, texts, gold, rate, n)
		line := fmt.Sprintf("  %.2f  %.3f %6d %s %s", rate, c.rate, c.Kappa.N, percent(c.Alike), fmt.Sprintf("%.3f", c.Kappa.Value))
		for _, d := range c.Detections() {
			line += fmt.Sprintf(" |  %s  %s", percent(d.Precision()), percent(d.Recall()))
		}
		if c.Calibration != nil {
			line += fmt.Sprintf(" |  %s %.3f", percent(c.Calibration.Sure), c.Calibration.Error)
		}
		line += fmt.Sprintf(" |  %4.1f %.3f", c.aside, c.after)
		t.Log(line)
		if testing.Verbose() && os.Getenv("MARKAROUND_TABLE") != "" {
			t.Logf("        theirs (rows) by ours, %v: %v", cohort.Classes, c.Table)
		}
	}
}

func percent(s cohort.Share) string {
	v, ok := s.Value()
	if !ok {
		return "   - "
	}
	return fmt.Sprintf("%.3f", v)
}
