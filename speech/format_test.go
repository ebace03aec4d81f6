package speech

import (
	"math/big"
	"testing"

	"pgregory.net/rapid"
)

func TestFormatQuantity(t *testing.T) {
	for _, c := range []struct {
		low, high string
		unit      Unit
		bound     Bound
		want      string
	}{
		{"4", "4", PSI, AtMost, "at most 4 psi"},
		{"1/8", "1/8", Inch, AtLeast, "at least 4/32 inch"},
		{"1/16", "1/16", Inch, Exact, "2/32 inch"},
		{"1/2", "1/2", Inch, Exact, "1/2 inch"},
		{"1/2", "3/4", Inch, Between, "1/2 to 3/4 inch"},
		{"5/2", "5/2", Inch, About, "about 2 1/2 inches"},
		{"1", "1", Inch, AtMost, "at most 1 inch"},
		{"1/3", "1/3", Inch, Exact, "1/3 inch"},
		{"20", "45", PSI, Between, "20 to 45 psi"},
		{"55", "55", PSI, Before, "before 55 psi"},
		{"5/2", "5/2", PSI, Below, "less than 2.5 psi"},
		{"7/3", "7/3", Minute, Above, "more than 2 1/3 minutes"},
		{"1", "1", Minute, Exact, "1 minute"},
		{"10", "10", Degree, AtMost, "at most 10 degrees"},
		{"1", "1", Foot, Exact, "1 foot"},
		{"10", "10", Foot, Exact, "10 feet"},
		{"3", "3", NoUnit, Exact, "3"},
		{"1/8", "1/8", NoUnit, AtMost, "at most 1/8"}, // of a tank
		{"0.15", "0.15", NoUnit, Exact, "3/20"},
		{"0.015", "0.015", NoUnit, Exact, "0.015"},
		{"3/2", "3/2", NoUnit, Exact, "1.5"},
		{"1/6", "1/6", Minute, AtLeast, "at least 10 seconds"},
		{"1/60", "1/60", Minute, Exact, "1 second"},
		{"1/2", "1", Minute, Between, "0.5 to 1 minute"},
	} {
		low, _ := new(big.Rat).SetString(c.low)
		high, _ := new(big.Rat).SetString(c.high)
		if got := FormatQuantity(Reading{low, high, c.unit}, c.bound); got != c.want {
			t.Errorf("%s to %s %s %s: got %q, want %q", c.low, c.high, c.unit, c.bound, got, c.want)
		}
	}
	if got := FormatQuantity(Reading{}, Bound(99)); got != "?" {
		t.Errorf("an empty reading prints as %q", got)
	}
}

// TestFormatRoundTrip: what FormatQuantity writes of a single value is read back
// from speech as the same value and bound.
func TestFormatRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		unit := rapid.SampledFrom([]Unit{PSI, Inch, Degree, Second, Minute, MPH, RPM, Volt}).Draw(t, "unit")
		den := int64(1)
		if unit == Inch {
			den = rapid.SampledFrom([]int64{1, 2, 4, 8, 16, 32}).Draw(t, "den")
		}
		v := big.NewRat(rapid.Int64Range(1, 40*den).Draw(t, "num"), den)
		b := rapid.SampledFrom([]Bound{Exact, About, AtLeast, Above, AtMost, Below, Before}).Draw(t, "bound")
		text := FormatQuantity(Reading{v, v, unit}, b)
		qs := Quantities(TokensOf(text))
		if len(qs) != 1 || qs[0].Bound != b || qs[0].Readings[0].Unit != unit || qs[0].Readings[0].Low.Cmp(v) != 0 {
			t.Fatalf("%q is read back as %s", text, best(qs))
		}
	})
}
