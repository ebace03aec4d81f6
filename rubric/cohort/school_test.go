package cohort

import (
	"encoding/json"
	"math"
	"os"
	"testing"
)

type counts [2]int // hits, of

func (c counts) share() Share { return Share{c[0], c[1]} }

// fromSciPy is what testdata/school.py recorded of SciPy and statsmodels.
type fromSciPy struct {
	Newcombe []struct {
		A, B      counts
		Low, High float64
	}
	Fisher, Pearson []struct {
		A, B counts
		P    float64
	}
	Mcnemar []struct {
		Table [4]int
		P     float64
	}
	Adjust      []struct{ P, Adjusted []float64 }
	Permutation []struct {
		A, B  []float64
		P     float64
		Tried int
	}
	Signs []struct {
		Differences []float64
		P           float64
		Tried       int
	}
	Percentile []struct {
		Values        []float64
		Low, High, SE float64
	}
	ExactSE []struct {
		Sums, N       []int
		SE, Low, High float64
	} `json:"exact_se"`
}

// fromR is what testdata/school.R recorded of R and its package psych.
type fromR struct {
	Paired []struct {
		Table     [4]int
		Low, High float64
	}
	Fisher []struct {
		A, B counts
		P    float64
	}
	Adjust []struct{ P, Adjusted []float64 }
	Welch  []struct {
		A, B         []float64
		Low, High, P float64
	}
	Mean []struct {
		A                  []float64
		Mean, Low, High, P float64
	}
	Reliability []struct {
		X                []([]float64)
		Alpha, Low, High float64
		Rest, Without    []float64
		RestLow          []float64 `json:"rest_low"`
		RestHigh         []float64 `json:"rest_high"`
	}
	Power []struct{ P1, P2, Alpha, Power, N float64 }
}

func load[T any](t *testing.T, file string) T {
	t.Helper()
	var v T
	text, err := os.ReadFile("testdata/" + file)
	if err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(text, &v); err != nil {
		t.Fatal(file, err)
	}
	return v
}

// atLeast fails the test when a reference file lost its values.
func atLeast[T any](t *testing.T, name string, list []T, least int) []T {
	t.Helper()
	if len(list) < least {
		t.Fatalf("%s: %d reference values, want %d or more", name, len(list), least)
	}
	return list
}

// close9 is near to 1e-9, of the larger of 1 and the value.
func close9(a, b float64) bool { return near(a, b, 1e-9*max(1, math.Abs(b))) }
