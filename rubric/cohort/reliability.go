package cohort

import (
	"encoding/json"
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// Reliability tells how far the items of a sheet measure one thing.
type Reliability struct {
	Students int
	Items    int
	Alpha    float64 // at most 1; below 0 when items contradict each other
	Interval Interval
	// Undefined says why there is no value, "" when there is one. Alpha and
	// Interval are then 0.
	Undefined string
}

// ItemRest tells how one item goes with the rest of the sheet.
type ItemRest struct {
	N         int     // students
	Mean      float64 // mean score, for scores of 0 and 1 the share who earned it
	R         float64 // correlation with the sum of the other items, in [-1,1]
	Interval  Interval
	Without   float64 // alpha of the sheet without the item; only with three items or more
	Undefined string  // why there is no R, Interval and Without, "" when there are
}

// MarshalJSON writes null for values that are not defined, and why.
func (r Reliability) MarshalJSON() ([]byte, error) {
	out := struct {
		Students  int       `json:"students"`
		Items     int       `json:"items"`
		Alpha     *float64  `json:"alpha"`
		Interval  *Interval `json:"interval"`
		Undefined string    `json:"undefined"`
	}{Students: r.Students, Items: r.Items, Undefined: r.Undefined}
	if r.Undefined == "" {
		out.Alpha, out.Interval = &r.Alpha, &r.Interval
	}
	return json.Marshal(out)
}

// MarshalJSON writes null for values that are not defined, and why.
func (r ItemRest) MarshalJSON() ([]byte, error) {
	out := struct {
		N         int       `json:"n"`
		R         *float64  `json:"r"`
		Interval  *Interval `json:"interval"`
		Undefined string    `json:"undefined"`
	}{N: r.N, Undefined: r.Undefined}
	if r.Undefined == "" {
		out.R, out.Interval = &r.R, &r.Interval
	}
	return json.Marshal(out)
}

// scores are the sums that reliability is made of, one row a student.
type scores struct {
	n                    int
	base                 []float64 // the first row: sums are of distances from it
	total                float64
	totalSquare          float64
	item, square, common []float64 // common: item times total
}

func newScores(items int) *scores {
	return &scores{item: make([]float64, items), square: make([]float64, items), common: make([]float64, items)}
}

// add takes in one student's scores.
func (s *scores) add(row []float64) {
	if s.base == nil {
		s.base = append([]float64{}, row...)
	}
	var total float64
	for i, v := range row {
		total += v - s.base[i]
	}
	for i, v := range row {
		v -= s.base[i]
		s.item[i] += v
		s.square[i] += v * v
		s.common[i] += v * total
	}
	s.total += total
	s.totalSquare += total * total
	s.n++
}

// variance and covariance divide by n; the divisor falls out of all results.
func (s *scores) variance(i int) float64 { return s.spread(s.square[i], s.item[i], s.item[i]) }
func (s *scores) withTotal(i int) float64 {
	return s.spread(s.common[i], s.item[i], s.total)
}
func (s *scores) ofTotal() float64 { return s.spread(s.totalSquare, s.total, s.total) }

func (s *scores) spread(products, a, b float64) float64 {
	n := float64(s.n)
	v := products/n - a/n*(b/n)
	if math.Abs(v) < 1e-12*(1+math.Abs(products)/n) {
		return 0
	}
	return v
}

// CronbachAlpha is Cronbach's alpha of one row of item scores a student, with
// Feldt's interval at Level. For scores of 0 and 1 it is KR-20. Item and total
// variances have the same divisor. It takes two students, two items, and totals
// that differ; rows of different lengths make no sense.
//
// Sources: Cronbach 1951, Psychometrika 16:297-334; Kuder and Richardson 1937,
// Psychometrika 2:151-160, formula 20; interval: Feldt 1965, Psychometrika
// 30:357-370.
func CronbachAlpha(rows [][]float64) Reliability {
	s, why := sumScores(rows)
	if why != "" {
		return Reliability{Students: len(rows), Undefined: why}
	}
	return s.reliability()
}

// ItemRests correlates every item with the sum of the other items (the
// corrected point-biserial where scores are 0 and 1), with the interval of
// Fisher's z at Level. Nil when rows have different lengths or there are none.
//
// Sources: Henrysson 1963, Psychometrika 28:211-218; interval: Fisher 1921,
// Metron 1:3-32.
func ItemRests(rows [][]float64) []ItemRest {
	s, why := sumScores(rows)
	if why != "" {
		return nil
	}
	return s.itemRests()
}

func sumScores(rows [][]float64) (*scores, string) {
	if len(rows) == 0 {
		return nil, "no students"
	}
	s := newScores(len(rows[0]))
	for _, row := range rows {
		if len(row) != len(rows[0]) {
			return nil, "students have different numbers of items"
		}
		s.add(row)
	}
	return s, ""
}

func (s *scores) reliability() Reliability {
	k := len(s.item)
	r := Reliability{Students: s.n, Items: k}
	total := s.ofTotal()
	switch {
	case s.n < 2:
		r.Undefined = "one student only, need 2 or more"
	case k < 2:
		r.Undefined = "need 2 items or more"
	case total == 0:
		r.Undefined = "all students have the same total"
	}
	if r.Undefined != "" {
		return r
	}
	var sum float64
	for i := range s.item {
		sum += s.variance(i)
	}
	r.Alpha = alpha(k, sum, total)
	r.Interval = feldt(r.Alpha, s.n, k)
	return r
}

// feldt is the interval of alpha over n students and k items, at Level.
func feldt(alpha float64, n, k int) Interval {
	f := distuv.F{D1: float64(n - 1), D2: float64(n-1) * float64(k-1)}
	return Interval{1 - (1-alpha)*f.Quantile((1+Level)/2), 1 - (1-alpha)*f.Quantile((1-Level)/2)}
}

func alpha(k int, items, total float64) float64 {
	return float64(k) / float64(k-1) * (1 - items/total)
}

func (s *scores) itemRests() []ItemRest {
	out := make([]ItemRest, len(s.item))
	total := s.ofTotal()
	var sum float64
	for i := range s.item {
		sum += s.variance(i)
	}
	for i := range out {
		r := &out[i]
		r.N = s.n
		r.Mean = s.base[i] + s.item[i]/float64(s.n)
		v, with := s.variance(i), s.withTotal(i)
		rest := total - 2*with + v // variance of the total without the item
		switch {
		case s.n < 4:
			r.Undefined = "fewer than 4 students"
		case len(out) < 2:
			r.Undefined = "no other item"
		case v == 0:
			r.Undefined = "all students have the same score"
		case rest <= 1e-12*(1+total):
			r.Undefined = "all students are the same in the other items"
		}
		if r.Undefined != "" {
			continue
		}
		r.R = min(1, max(-1, (with-v)/math.Sqrt(v*rest)))
		r.Interval = fisherZ(r.R, s.n)
		if len(out) > 2 {
			r.Without = alpha(len(out)-1, sum-v, rest)
		}
	}
	return out
}

// fisherZ is the interval of a correlation over n pairs, n at least 4.
func fisherZ(r float64, n int) Interval {
	if r <= -1 || r >= 1 {
		return Interval{r, r}
	}
	z, half := math.Atanh(r), quantile(Level)/math.Sqrt(float64(n-3))
	return Interval{math.Tanh(z - half), math.Tanh(z + half)}
}
