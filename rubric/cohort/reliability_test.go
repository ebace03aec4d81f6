package cohort

import (
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

func TestAlphaPublished(t *testing.T) {
	var kr20 [][]float64
	for row := range strings.FieldsSeq("1111110110 1011011101 1111011001 0010001000 0000010010 1110111111 1101110111 1111111101 0101111101 1101101110") {
		var x []float64
		for _, c := range row {
			x = append(x, float64(c-'0'))
		}
		kr20 = append(kr20, x)
	}
	for _, c := range []struct {
		source string
		rows   [][]float64
		alpha  float64
	}{
		{"Wuensch, StatHelp KR20: 10 students, 10 items (value computed from its variances 2.18 and 5.84)", kr20, 0.6963},
		{"calkulon.com, worked page on Cronbach's alpha (value computed)", [][]float64{{4, 5, 4}, {3, 4, 3}, {5, 5, 5}, {2, 3, 2}}, 0.9796},
	} {
		if got := CronbachAlpha(c.rows); got.Undefined != "" || !near(got.Alpha, c.alpha, 0.00005) {
			t.Errorf("%s: %+v", c.source, got)
		}
	}
	// SciPy help pointbiserialr: r 0.8660254. The rest here is one item.
	var rows [][]float64
	for i, a := range []float64{0, 0, 0, 1, 1, 1, 1} {
		rows = append(rows, []float64{a, float64(i)})
	}
	if got := ItemRests(rows); !near(got[0].R, 0.8660254037844386, 1e-12) || !near(got[1].R, got[0].R, 1e-12) {
		t.Errorf("point-biserial: %+v", got)
	}
}

func TestFeldtPublished(t *testing.T) {
	for _, c := range []struct {
		source    string
		alpha     float64
		n, k      int
		low, high float64
	}{
		{"MRC Cognition and Brain Sciences Unit, statistics wiki, confidence intervals for alpha", 0.913, 873, 20, 0.9044024, 0.9211588},
	} {
		if got := feldt(c.alpha, c.n, c.k); !near(got.Low, c.low, 5e-8) || !near(got.High, c.high, 5e-8) {
			t.Errorf("%s: %v, want %v to %v", c.source, got, c.low, c.high)
		}
	}
}

// Reference: R, psych::alpha and alpha.ci; cor.test for the intervals.
func TestReliabilityAgainstReference(t *testing.T) {
	for _, c := range atLeast(t, "reliability", load[fromR](t, "school.R.json").Reliability, 16) {
		got := CronbachAlpha(c.X)
		if got.Undefined != "" || !close9(got.Alpha, c.Alpha) || !close9(got.Interval.Low, c.Low) || !close9(got.Interval.High, c.High) {
			t.Errorf("%d by %d: %+v, reference %v, %v to %v", len(c.X), len(c.X[0]), got, c.Alpha, c.Low, c.High)
		}
		for i, r := range ItemRests(c.X) {
			if r.Undefined != "" || !close9(r.R, c.Rest[i]) || !close9(r.Interval.Low, c.RestLow[i]) || !close9(r.Interval.High, c.RestHigh[i]) ||
				!close9(r.Without, c.Without[i]) {
				t.Errorf("%d by %d, item %d: %+v, reference %v, %v to %v, without %v", len(c.X), len(c.X[0]), i, r, c.Rest[i], c.RestLow[i], c.RestHigh[i], c.Without[i])
			}
		}
	}
}

func TestReliabilityUndefined(t *testing.T) {
	for _, c := range []struct {
		rows         [][]float64
		says, reason string
	}{
		{nil, "no students", "nothing"},
		{[][]float64{{1, 0}}, "one student", "no variance of one"},
		{[][]float64{{1}, {0}}, "2 items", "one item"},
		{[][]float64{{1, 0}, {0, 1}}, "same total", "no variance of totals"},
		{[][]float64{{1, 0}, {0}}, "different numbers", "a short row"},
	} {
		if got := CronbachAlpha(c.rows); !strings.Contains(got.Undefined, c.says) || got.Alpha != 0 {
			t.Errorf("%s: %+v", c.reason, got)
		}
	}
	all := ItemRests([][]float64{{1, 0, 1}, {1, 1, 0}, {1, 0, 0}, {1, 1, 1}})
	if all[0].Undefined == "" || all[0].R != 0 || all[0].Mean != 1 || all[1].Undefined != "" {
		t.Errorf("an item that all earned has no discrimination: %+v", all)
	}
}

func TestReliabilityProperties(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		k := rapid.IntRange(2, 8).Draw(rt, "items")
		rows := rapid.SliceOfN(rapid.SliceOfN(rapid.Map(rapid.IntRange(0, 1), func(i int) float64 { return float64(i) }), k, k), 4, 30).Draw(rt, "rows")
		got := CronbachAlpha(rows)
		if math.IsNaN(got.Alpha) || got.Alpha > 1+1e-9 || got.Undefined == "" && !(got.Interval.Low <= got.Alpha+1e-9 && got.Alpha <= got.Interval.High+1e-9) {
			rt.Fatalf("%+v", got)
		}
		for _, r := range ItemRests(rows) {
			if math.IsNaN(r.R) || math.Abs(r.R) > 1 || r.Interval.Low > r.R+1e-9 || r.Interval.High < r.R-1e-9 {
				rt.Fatalf("%+v", r)
			}
		}
		// Another unit of the scores changes nothing.
		scaled := make([][]float64, len(rows))
		for i, row := range rows {
			for _, v := range row {
				scaled[i] = append(scaled[i], 10*v-3)
			}
		}
		if s := CronbachAlpha(scaled); s.Undefined != got.Undefined || !near(s.Alpha, got.Alpha, 1e-9) {
			rt.Fatalf("scaled: %+v, was %+v", s, got)
		}
	})
}
