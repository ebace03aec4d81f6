package cohort

import (
	"encoding/json"
	"math"
	"os"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

func near(a, b, tolerance float64) bool { return math.Abs(a-b) <= tolerance }

// reference is what testdata/reference.py recorded of other libraries.
type reference struct {
	Kappa []struct {
		Table                [][]int
		Kappa, SE, Low, High float64
	}
	Wilson []struct {
		K, N             int
		Level, Low, High float64
	}
	Calibration []struct {
		Confidence  []float64
		Right       []int
		Counts      []int
		Share, Mean []float64
		Error       float64
	}
	Detection []struct {
		Theirs, Ours      []string
		Precision, Recall float64
	}
}

func loadReference(t *testing.T) reference {
	t.Helper()
	file, err := os.ReadFile("testdata/reference.json")
	if err != nil {
		t.Fatal(err)
	}
	var r reference
	if err := json.Unmarshal(file, &r); err != nil {
		t.Fatal(err)
	}
	if len(r.Kappa) < 50 || len(r.Wilson) < 50 || len(r.Calibration) < 4 || len(r.Detection) < 10 {
		t.Fatalf("too few reference values: %d %d %d %d", len(r.Kappa), len(r.Wilson), len(r.Calibration), len(r.Detection))
	}
	return r
}

func TestKappaPublished(t *testing.T) {
	for _, c := range []struct {
		source          string
		table           [][]int
		po, pe, kappa   float64
		se, low, high   float64
		tolerance, seOK float64 // half the last digit printed; pe or seOK 0: not published
	}{
		{"Wikipedia, Cohen's kappa, first example", [][]int{{20, 5}, {10, 15}}, 0.7, 0.5, 0.4, 0, 0, 0, 0.00005, 0},
		{"easycalculation.com, Cohen's kappa (rounded there to 0.21)", [][]int{{12, 2}, {4, 2}}, 0.7, 0.62, 0.2105, 0, 0, 0, 0.00005, 0},
		// Data: SAS/STAT manual, FREQ procedure, "Agreement Study"; its results from memory.
		{"SAS/STAT manual, skin condition data", [][]int{{10, 4, 1, 0}, {5, 10, 12, 2}, {2, 4, 12, 5}, {0, 2, 6, 13}},
			45.0 / 88, 0, 0.3449, 0.0724, 0.2030, 0.4868, 0.00005, 0.00005},
	} {
		got := Kappa(c.table)
		if got.Undefined != "" || !near(got.Observed, c.po, c.tolerance) || c.pe > 0 && !near(got.Expected, c.pe, 1e-12) || !near(got.Value, c.kappa, c.tolerance) {
			t.Errorf("%s: %+v, want po %v pe %v kappa %v", c.source, got, c.po, c.pe, c.kappa)
		}
		if c.seOK > 0 && (!near(got.SE, c.se, c.seOK) || !near(got.Interval.Low, c.low, c.seOK) || !near(got.Interval.High, c.high, c.seOK)) {
			t.Errorf("%s: standard error %v, interval %v", c.source, got.SE, got.Interval)
		}
	}
}

// Reference: statsmodels, cohens_kappa.
func TestKappaAgainstReference(t *testing.T) {
	for _, c := range loadReference(t).Kappa {
		got := Kappa(c.Table)
		if !near(got.Value, c.Kappa, 1e-9) || !near(got.SE, c.SE, 1e-7) ||
			!near(got.Interval.Low, max(-1, c.Low), 1e-6) || !near(got.Interval.High, min(1, c.High), 1e-6) {
			t.Errorf("%v: %+v, reference %v, %v, %v to %v", c.Table, got, c.Kappa, c.SE, c.Low, c.High)
		}
	}
}

func TestKappaUndefined(t *testing.T) {
	for _, c := range []struct {
		table        [][]int
		says, reason string
	}{
		{[][]int{{9, 0}, {0, 0}}, "same value", "expected agreement is 1"},
		{[][]int{{0, 0, 0}, {0, 7, 0}, {0, 0, 0}}, "same value", "expected agreement is 1 in a middle class"},
		{[][]int{{0, 0}, {0, 0}}, "no marks", "nothing counted"},
		{nil, "no marks", "no classes"},
		{[][]int{{1, 2}, {3}}, "not square", "a short row"},
		{[][]int{{1, -2}, {3, 4}}, "negative", "a negative count"},
	} {
		got := Kappa(c.table)
		if !strings.Contains(got.Undefined, c.says) || got.Value != 0 || got.SE != 0 {
			t.Errorf("%s: %+v", c.reason, got)
		}
		if out, err := json.Marshal(got); err != nil || !strings.Contains(string(out), `"value":null`) {
			t.Errorf("%s: JSON %s, %v", c.reason, out, err)
		}
	}
}

func TestKappaProperties(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		k := rapid.IntRange(1, 5).Draw(rt, "classes")
		table := make([][]int, k)
		turned := make([][]int, k)
		for i := range table {
			table[i] = rapid.SliceOfN(rapid.IntRange(0, 30), k, k).Draw(rt, "row")
			turned[i] = make([]int, k)
		}
		for i := range table {
			for j := range table {
				turned[j][i] = table[i][j]
			}
		}
		a, b := Kappa(table), Kappa(turned)
		if a.Undefined != b.Undefined || !near(a.Value, b.Value, 1e-9) || !near(a.SE, b.SE, 1e-9) {
			rt.Fatalf("the markers changed places: %+v and %+v", a, b)
		}
		if math.IsNaN(a.Value) || math.IsNaN(a.SE) || a.Value > 1+1e-9 || a.Value < -1-1e-9 ||
			a.Undefined == "" && (a.Interval.Low > a.Value+1e-9 || a.Interval.High < a.Value-1e-9) {
			rt.Fatalf("%v: %+v", table, a)
		}
	})
}

func TestWilsonPublished(t *testing.T) {
	const z90 = 0.9000302 // share of a normal within 1.645
	for _, c := range []struct {
		source           string
		k, n             int
		level, low, high float64
	}{
		{"Newcombe 1998, Stat. Med. 17:857 (values from memory)", 81, 263, 0.95, 0.2553, 0.3662},
		{"Newcombe 1998 (from memory)", 15, 148, 0.95, 0.0624, 0.1605},
		{"Newcombe 1998 (from memory)", 0, 20, 0.95, 0, 0.1611},
		{"Newcombe 1998 (from memory)", 1, 29, 0.95, 0.0061, 0.1718},
		{"the formula of NIST/SEMATECH e-Handbook 7.2.4.1 at z = 1.645, computed apart", 4, 20, z90, 0.0931, 0.3784},
	} {
		got, ok := Wilson(c.k, c.n, c.level)
		if !ok || !near(got.Low, c.low, 0.00005) || !near(got.High, c.high, 0.00005) {
			t.Errorf("%s: %d of %d: %v, want %v to %v", c.source, c.k, c.n, got, c.low, c.high)
		}
	}
}

// Reference: statsmodels, proportion_confint with method wilson.
func TestWilsonAgainstReference(t *testing.T) {
	for _, c := range loadReference(t).Wilson {
		got, ok := Wilson(c.K, c.N, c.Level)
		if !ok || !near(got.Low, c.Low, 1e-9) || !near(got.High, c.High, 1e-9) {
			t.Errorf("%d of %d at %v: %v, reference %v to %v", c.K, c.N, c.Level, got, c.Low, c.High)
		}
	}
}

// At none and at all the end of the interval is exact, not nearly so.
func TestWilsonEnds(t *testing.T) {
	for n := 1; n <= 2000; n++ {
		none, _ := Wilson(0, n, Level)
		all, _ := Wilson(n, n, Level)
		if none.Low != 0 || all.High != 1 {
			t.Fatalf("n %d: %v, %v", n, none, all)
		}
	}
}

func TestWilsonUndefined(t *testing.T) {
	for _, c := range []struct {
		k, n   int
		level  float64
		reason string
	}{
		{0, 0, 0.95, "no cases"}, {-1, 5, 0.95, "negative"}, {6, 5, 0.95, "more than all"},
		{1, 5, 0, "level 0"}, {1, 5, 1, "level 1"}, {1, 5, math.NaN(), "level not a number"},
	} {
		if got, ok := Wilson(c.k, c.n, c.level); ok {
			t.Errorf("%s: got %v", c.reason, got)
		}
	}
	if out, err := json.Marshal(Share{}); err != nil || string(out) != `{"hits":0,"of":0,"value":null,"interval":null}` {
		t.Errorf("an empty share is %s, %v", out, err)
	}
}

// Reference: scikit-learn, calibration_curve with ten uniform bins.
func TestCalibrateAgainstReference(t *testing.T) {
	for _, c := range loadReference(t).Calibration {
		var samples []Sample
		for i, conf := range c.Confidence {
			samples = append(samples, Sample{conf, c.Right[i] == 1})
		}
		got := Calibrate(samples)
		i := 0
		for _, b := range got.Bins {
			share, ok := b.Right.Value()
			if !ok {
				continue
			}
			if b.Right.Of != c.Counts[i] || !near(share, c.Share[i], 1e-12) || !near(b.Mean, c.Mean[i], 1e-12) {
				t.Errorf("n %d: bin %+v, reference %d %v %v", got.N, b, c.Counts[i], c.Share[i], c.Mean[i])
			}
			i++
		}
		if i != len(c.Counts) || !near(got.Error, c.Error, 1e-12) {
			t.Errorf("n %d: %d bins, error %v; reference %d, %v", got.N, i, got.Error, len(c.Counts), c.Error)
		}
	}
}

func TestCalibrateEdges(t *testing.T) {
	got := Calibrate([]Sample{{0.9, true}, {0.9, false}, {1, true}, {0.8999, false}, {0, false}, {-3, false}, {7, true}, {math.NaN(), true}})
	if got.N != 8 || got.Sure != (Share{3, 4}) || got.Bins[9].Right != (Share{3, 4}) || got.Bins[8].Right.Of != 1 || got.Bins[0].Right != (Share{1, 3}) {
		t.Errorf("%+v", got)
	}
	// Worked by hand: bins hold 0.9, 0.9, 1, 1 (mean 0.95, 3/4 right), 0.8999 (0 right), 0, 0, 0 (1/3 right).
	if want := (4*0.2 + 0.8999 + 3*(1.0/3)) / 8; !near(got.Error, want, 1e-12) {
		t.Errorf("error %v, want %v", got.Error, want)
	}
	if got := Calibrate(nil); got.N != 0 || got.Error != 0 {
		t.Errorf("of nothing: %+v", got)
	}
}
