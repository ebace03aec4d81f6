package align

import (
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"markaround/align/damage"
	"markaround/rubric/cohort"
	"markaround/speech"
)

// A heardAttempt is an open attempt that a synthetic voice spoke and a real
// recognizer heard. Its marks are those of what was said.
type heardAttempt struct {
	name, attempt       string  // "c1-heard-us-175-20", "c1"
	voice, speed, noise string  // speed in words a minute, noise in dB below the voice
	rate                float64 // word error rate, counted by sclite
	text                *speech.Transcript
}

// heardAttempts reads all that testdata/attempts/recognizer/hear-design.sh made.
func heardAttempts(tb testing.TB) []heardAttempt {
	tb.Helper()
	dir := filepath.Join("..", "testdata", "attempts", "heard")
	file, err := os.ReadFile(filepath.Join(dir, "sclite.tsv"))
	if err != nil {
		tb.Fatal(err)
	}
	var out []heardAttempt
	for _, line := range strings.Split(strings.TrimSpace(string(file)), "\n")[1:] {
		f := strings.Split(line, "\t")
		h := heardAttempt{name: f[0], attempt: f[1], voice: f[2], speed: f[3], noise: f[4]}
		if h.text, err = speech.ReadFile(filepath.Join(dir, h.name+".ctm"), speech.Options{}); err != nil {
			tb.Fatal(err)
		}
		var n [5]float64 // words, correct, substituted, deleted, inserted
		for i := range n {
			if _, err := fmt.Sscan(f[5+i], &n[i]); err != nil {
				tb.Fatalf("%s: %v", line, err)
			}
		}
		h.rate = (n[2] + n[3] + n[4]) / n[0]
		out = append(out, h)
	}
	return out
}

// TestHeard prints agreement with the gold marks on what a real recognizer
// heard, by recording, word error rate, noise, voice and speed, counted as
// TestNoise counts. Beside the bands of word error rate stand the same attempts
// damaged to the same rates by align/damage, which tells how true that damage is.
// It runs only when asked, with MARKAROUND_HEARD=1; MARKAROUND_TABLE prints the
// marks by marks as well.
func TestHeard(t *testing.T) {
	if os.Getenv("MARKAROUND_HEARD") == "" {
		t.Skip("set MARKAROUND_HEARD=1")
	}
	if os.Getenv("MARKAROUND_ASIDE") != "" {
		t.Skip("only open attempts were spoken")
	}
	const draws = 3 // of damage for each recording
	drawName := func(recording string, draw int) string { return fmt.Sprintf("%s~%d", recording, draw) }
	clean, marks := corpus(t)
	all := heardAttempts(t)
	gold := cohort.NewMarks("gold") // of the recordings and, by their ids, of the attempts
	for _, j := range marks.All() {
		gold.Add(j)
		for _, h := range all {
			if h.attempt == j.Attempt {
				k := j
				k.Attempt = h.name
				gold.Add(k)
				for draw := range draws {
					k.Attempt = drawName(h.name, draw)
					gold.Add(k)
				}
			}
		}
	}
	with := matchers(t, gold)

	t.Log("recordings                        n  WER     n  same  kappa | missed prec    recall        | number prec    recall        | condition prec recall        | finding prec   recall        | >=0.9 right  ECE | aside after")
	show := func(name string, n int, rate float64, c measured) {
		line := fmt.Sprintf("%-31s %3d %.3f %5d %s %.3f", name, n, rate, c.Kappa.N, percent(c.Alike), c.Kappa.Value)
		for _, d := range c.Detections() {
			p, r := d.Precision(), d.Recall()
			line += fmt.Sprintf(" | %s %3d/%-3d %s %3d/%-3d", percent(p), p.Hits, p.Of, percent(r), r.Hits, r.Of)
		}
		if c.Calibration != nil {
			line += fmt.Sprintf(" |  %s %.3f", percent(c.Calibration.Sure), c.Calibration.Error)
		}
		t.Log(line + fmt.Sprintf(" |  %4.1f %.3f", c.aside, c.after))
		if os.Getenv("MARKAROUND_TABLE") != "" {
			t.Logf("        theirs (rows) by ours, %v: %v", cohort.Classes, c.Table)
		}
	}
	group := func(name string, of []heardAttempt) {
		texts, rate := map[string]*speech.Transcript{}, 0.0
		for _, h := range of {
			texts[h.name] = h.text
			rate += h.rate / float64(len(of))
		}
		show(name, len(of), rate, measure(t, with, texts, gold, 0, 1))
	}

	for _, h := range all {
		group(h.name, []heardAttempt{h})
	}
	for _, by := range []struct {
		name string
		of   func(heardAttempt) string
	}{
		{"noise, dB", func(h heardAttempt) string { return h.noise }},
		{"voice", func(h heardAttempt) string { return h.voice }},
		{"speed", func(h heardAttempt) string { return h.speed }},
		{"attempt", func(h heardAttempt) string { return h.attempt }},
		{"", func(heardAttempt) string { return "all" }},
	} {
		groups := map[string][]heardAttempt{}
		var names []string
		for _, h := range all {
			name := by.of(h)
			if groups[name] == nil {
				names = append(names, name)
			}
			groups[name] = append(groups[name], h)
		}
		slices.Sort(names)
		for _, name := range names {
			group(strings.TrimSpace(by.name+" "+name), groups[name])
		}
	}

	// The bands were set before any recording was marked.
	low := 0.0
	for _, high := range []float64{0.15, 0.30, 0.45, 0.60, 9} {
		var in []heardAttempt
		texts, rate := map[string]*speech.Transcript{}, 0.0
		for _, h := range all {
			if h.rate < low || h.rate >= high {
				continue
			}
			in = append(in, h)
			for draw := range draws {
				damaged, rep := damage.Damage(clean[h.attempt], h.rate, uint64(draw)+1)
				texts[drawName(h.name, draw)] = damaged
				rate += rep.Rate
			}
		}
		name := fmt.Sprintf("WER from %.2f", low)
		low = high
		if len(in) == 0 {
			t.Logf("%-31s   0", name)
			continue
		}
		group(name, in)
		show("  as damaged by align/damage", len(texts), rate/float64(len(texts)), measure(t, with, texts, gold, 0, 1))
	}

	texts := map[string]*speech.Transcript{}
	for _, h := range all {
		texts[h.attempt] = clean[h.attempt]
	}
	show("the same attempts, clean", len(texts), 0, measure(t, with, texts, gold, 0, 1))
}
