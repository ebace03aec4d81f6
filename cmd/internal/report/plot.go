package report

import (
	"math"
	"strconv"
)

// Plots are drawn here and not by a library: those that were looked at write SVG of
// one size, in which letters shrink on a phone, without titles for those who cannot
// see it, and with colors where these pages have shapes. Positions across are
// percentages, so that a plot fits any width with letters of one size; what is
// high is pixels.

// figure is a plot with what it shows in words.
type figure struct {
	ID    string
	Title string
	Desc  string // for those who cannot see it: what is drawn, not each point
	// One of these.
	Forest *forest
	Points *scatter
	Line   *timeline
}

// forest has a row for each value, with its interval.
type forest struct {
	Rows  []forestRow
	Axis  []tickMark
	Zero  float64 // where no difference is, in percent of the width; below 0 for nowhere
	Unit  string  // of the axis
	Names string  // of the rows: "group"
}

type forestRow struct {
	Name, Small string
	Words       string // "60%, 42% to 75%, n = 30"
	At          float64
	Low, High   float64 // percent; Low below 0 for no interval
	Bar         bool    // from the axis to the value
	Found       bool    // a difference that was found: drawn full
	Empty       bool    // nothing to draw
}

// Width of the bar or interval, in percent.
func (r forestRow) Width() float64 { return max(0, r.High-r.Low) }

// Until is how long a bar is, in percent.
func (r forestRow) Until() float64 { return max(0, r.At-margin) }

// tickMark is a place on an axis: in percent across, in pixels down.
type tickMark struct {
	At     float64
	Text   string
	Anchor string
}

// margin is left free on both sides, in percent, for marks at the ends.
const margin = 2

// axis maps values to places.
type axis struct{ low, high, from, to float64 }

func across(low, high float64) axis { return axis{low, high, margin, 100 - margin} }

func (a axis) at(x float64) float64 {
	if a.high <= a.low {
		return (a.from + a.to) / 2
	}
	return a.from + (min(max(x, a.low), a.high)-a.low)/(a.high-a.low)*(a.to-a.from)
}

// ticks are about n round values on the axis.
func (a axis) ticks(n int, text func(float64) string) (list []tickMark) {
	step := roundStep((a.high - a.low) / float64(n))
	if step <= 0 || math.IsInf(step, 0) {
		return nil
	}
	for k := math.Ceil(a.low/step - 1e-9); k*step <= a.high+1e-9*step; k++ {
		t := tickMark{a.at(k * step), text(k * step), "middle"}
		if t.At < 4 {
			t.Anchor = "start"
		} else if t.At > 96 {
			t.Anchor = "end"
		}
		list = append(list, t)
	}
	return list
}

// roundStep is 1, 2 or 5 times a power of ten, x or more.
func roundStep(x float64) float64 {
	if !(x > 0) {
		return 0
	}
	unit := math.Pow(10, math.Floor(math.Log10(x)))
	for _, m := range []float64{1, 2, 5} {
		if x <= m*unit*(1+1e-9) {
			return m * unit
		}
	}
	return 10 * unit
}

// outward are the round values around low and high.
func outward(low, high float64) (float64, float64) {
	step := roundStep((high - low) / 5)
	if step == 0 {
		step = 1
	}
	low, high = math.Floor(low/step+1e-9)*step, math.Ceil(high/step-1e-9)*step
	if low == high {
		high += step
	}
	return low, high
}

// plain writes a figure of an axis.
func plain(x float64) string {
	return strconv.FormatFloat(math.Round(x*1e6)/1e6+0, 'f', -1, 64) // + 0: no -0
}

func asPercent(x float64) string { return plain(100*x) + "%" }

// signed writes a difference with its sign.
func signed(text func(float64) string) func(float64) string {
	return func(x float64) string {
		if x > 0 {
			return "+" + text(x)
		}
		return text(x)
	}
}

// scatter is points over two axes.
type scatter struct {
	Height       int
	XAxis, YAxis []tickMark
	XUnit, YUnit string
	Zero         float64 // pixels; below 0 for none
	Points       []mapPoint
	Keys         []string // what the letters at points stand for
}

type mapPoint struct {
	X, Y   float64 // percent and pixels
	Kind   string  // "item" or "critical"
	Words  string
	Letter string // "" without one
	Right  bool   // the letter stands on the left, since there is no room
}

// timeline is one value at each of a few times, one after the other.
type timeline struct {
	Height int
	YAxis  []tickMark
	YUnit  string
	Steps  []timeStep
	Limits bool // there is one
}

type timeStep struct {
	X, Y      float64 // percent and pixels
	Left      float64 // of its column, percent
	Right     float64
	Limit     float64 // pixels; below 0 for none
	Empty     bool
	Pass      bool
	Text      string // beside the point
	Label     string // below
	Words     string
	PrevX     float64 // of the step before that has a value
	PrevY     float64
	Connected bool
}

// Base is where the axis lies.
func (l timeline) Base() int { return l.Height - timelineFoot }

// Labels is where the labels below are written.
func (l timeline) Labels() int { return l.Height - timelineFoot + 18 }

const (
	timelineHead = 36
	timelineFoot = 24
)

// moment of a timeline before it is drawn.
type timed struct {
	label string
	value float64
	known bool
	limit float64 // 0 for none
	pass  bool
	text  string
	words string
}

// newTimeline draws from 0 to high or what is higher.
func newTimeline(list []timed, high float64, unit string, text func(float64) string) *timeline {
	l := &timeline{Height: 230, YUnit: unit}
	for _, v := range list {
		high = max(high, v.limit)
		if v.known {
			high = max(high, v.value)
		}
	}
	_, high = outward(0, high)
	y := axis{0, high, float64(l.Height - timelineFoot), timelineHead}
	step := roundStep(high / 4)
	for k := 0.0; k*step <= high+1e-9; k++ {
		l.YAxis = append(l.YAxis, tickMark{y.at(k * step), text(k * step), "start"})
	}
	n := float64(len(list))
	last := -1
	for i, v := range list {
		const left = 6.0 // for the figures of the axis
		w := (100 - left) / n
		s := timeStep{X: left + (float64(i)+0.5)*w, Left: left + float64(i)*w, Right: left + float64(i+1)*w, Y: y.at(v.value), Limit: -1,
			Empty: !v.known, Pass: v.pass, Text: v.text, Label: v.label, Words: v.words}
		if v.limit > 0 {
			s.Limit, l.Limits = y.at(v.limit), true
		}
		if len(list) > 12 {
			s.Text = ""
			if len(list) > 24 && i%5 != 4 {
				s.Label = ""
			}
		}
		if v.known {
			if last >= 0 {
				s.Connected, s.PrevX, s.PrevY = true, l.Steps[last].X, l.Steps[last].Y
			}
			last = i
		}
		l.Steps = append(l.Steps, s)
	}
	return l
}

// newForest makes the rows of values of one unit. Zero, when it is on the axis, is
// the line of no difference.
func newForest(rows []valued, names, unit string, zero bool, low, high float64, text func(float64) string) *forest {
	for _, r := range rows {
		if r.empty {
			continue
		}
		low, high = min(low, r.value), max(high, r.value)
		if r.interval {
			low, high = min(low, r.low), max(high, r.high)
		}
	}
	low, high = outward(low, high)
	a := across(low, high)
	f := &forest{Zero: -1, Unit: unit, Names: names, Axis: a.ticks(5, text)}
	if zero && low <= 0 && high >= 0 {
		f.Zero = a.at(0)
	}
	for _, r := range rows {
		row := forestRow{Name: r.name, Small: r.small, Words: r.words, At: a.at(r.value), Low: -1, Bar: r.bar, Found: r.found, Empty: r.empty}
		if r.interval {
			row.Low, row.High = a.at(r.low), a.at(r.high)
		}
		f.Rows = append(f.Rows, row)
	}
	return f
}

// valued is a row of a forest before it is drawn.
type valued struct {
	name, small, words string
	value, low, high   float64
	interval           bool
	bar, found, empty  bool
}

const scatterFoot = 42

// Base is where the axis lies.
func (s scatter) Base() int { return s.Height - scatterFoot }

// Labels is where the figures below are written.
func (s scatter) Labels() int { return s.Base() + 16 }
