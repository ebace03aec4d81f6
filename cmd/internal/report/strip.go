package report

import (
	"fmt"
	"math"
	"slices"
	"strconv"

	"markaround/rubric"
	"markaround/speech"
)

// strip is the attempt along a time axis. Places are percent of the width.
type strip struct {
	Seconds  float64
	Lanes    []lane
	Findings []tick
	Dead     []span
	Limit    float64 // place of the limit line, -1 when it was not reached
	Hours    []label

	Play bool // ticks can be heard, and a line shows where the player is
	Near bool // missed items that something came near to are shown as well

	Trace   string // SVG path of the loudness in a box TraceWidth wide and 100 high; "" without a recording
	Speech  []span
	Unheard []tick
	Spoken  float64 // seconds of speech
}

type lane struct {
	rubric.SectionMark
	Visits []span
	Ticks  []tick
}

type span struct{ From, Width float64 }

type tick struct {
	At     float64
	Time   float64 // seconds
	Timed  bool    // the page's script needs them
	Mark   string
	Listen bool
	Stop   bool // worth hearing: the keys for the next and the previous mark halt here
	Title  string
	Href   string // "" for none
	Span   span   // of a tick that stands for a stretch
}

type label struct {
	At     float64
	Text   string
	Anchor string // SVG text-anchor, so that the first and last stay inside
}

// stripOptions says what a page shows on its strip beside the marks.
type stripOptions struct {
	Link  func(item string, ev rubric.Evidence) string // where a tick leads; item is "" for a finding
	Play  bool                                         // there is a recording to hear
	Hear  []Moment                                     // shown as ticks that one can halt at, in place of the items' own; nil for none to halt at
	Sound *speech.Sound                                // nil without a recording
}

func newStrip(s *rubric.Sheet, opt stripOptions) strip {
	end := s.Pace.End
	for _, v := range s.Pace.Visits {
		end = max(end, v.End)
	}
	for _, it := range s.Items {
		end = max(end, it.Start)
	}
	if opt.Sound != nil {
		end = max(end, opt.Sound.Seconds)
	}
	st := strip{Seconds: end, Limit: -1, Play: opt.Play}
	if end <= 0 {
		return st
	}
	place := func(t float64) float64 { return min(max(t/end*100, 0), 100) }
	spanOf := func(a, b float64) span { return span{place(a), max(place(b)-place(a), 0.1)} }

	at := map[string]int{}
	for _, sec := range s.Sections {
		at[sec.ID] = len(st.Lanes)
		st.Lanes = append(st.Lanes, lane{SectionMark: sec})
	}
	for _, v := range s.Pace.Visits {
		if i, ok := at[v.Section]; ok {
			st.Lanes[i].Visits = append(st.Lanes[i].Visits, spanOf(v.Start, v.End))
		}
	}
	timed := opt.Hear != nil
	hear := map[string][]Moment{}
	for _, m := range opt.Hear {
		if !m.Place {
			hear[m.Item.ID] = append(hear[m.Item.ID], m)
		}
	}
	for _, it := range s.Items {
		i, ok := at[it.Section]
		if !ok {
			continue
		}
		if list := hear[it.ID]; len(list) > 0 {
			for _, m := range list {
				ev := m.Said
				st.Near = st.Near || m.Why == HearNear
				st.Lanes[i].Ticks = append(st.Lanes[i].Ticks, tick{
					At: place(ev.Start), Time: ev.Start, Timed: timed, Mark: string(m.Mark), Listen: it.Listen, Stop: true,
					Title: Clock(ev.Start) + " " + m.Title(), Href: opt.Link(it.ID, ev),
				})
			}
			continue
		}
		ev := deciding(it)
		if ev.Start < 0 || it.Mark == rubric.Missed {
			continue
		}
		st.Lanes[i].Ticks = append(st.Lanes[i].Ticks, tick{
			At: place(ev.Start), Time: ev.Start, Timed: timed, Mark: string(it.Mark), Listen: it.Listen,
			Title: Clock(ev.Start) + " " + it.Title + ": " + string(it.Mark), Href: opt.Link(it.ID, ev),
		})
	}
	for i := range st.Lanes { // what is worth hearing lies on top
		slices.SortStableFunc(st.Lanes[i].Ticks, func(a, b tick) int { return toInt(a.Stop) - toInt(b.Stop) })
	}
	for _, f := range s.Findings {
		if f.Start >= 0 && f.Kind != rubric.PaceFinding {
			st.Findings = append(st.Findings, tick{
				At: place(f.Start), Time: f.Start, Timed: timed, Mark: "finding", Stop: timed,
				Title: Clock(f.Start) + " " + f.Text, Href: opt.Link("", rubric.Evidence{Start: f.Start}),
			})
		}
	}
	for _, g := range s.Pace.DeadAir {
		st.Dead = append(st.Dead, spanOf(g.Start, g.End))
	}
	if limit := s.Pace.Start + s.Pace.Limit; s.Pace.Limit > 0 && limit <= end {
		st.Limit = place(limit)
	}
	for t, step := 0.0, axisStep(end); t <= end; t += step {
		l := label{place(t), Clock(t), "middle"}
		switch {
		case l.At < 3:
			l.Anchor = "start"
		case l.At > 97:
			l.Anchor = "end"
		}
		st.Hours = append(st.Hours, l)
	}
	if opt.Sound != nil {
		st.Trace = levelPath(opt.Sound, end)
		for _, p := range opt.Sound.Speech {
			st.Speech = append(st.Speech, spanOf(p.Start, p.End))
			st.Spoken += p.End - p.Start
		}
	}
	if s.Recording != nil {
		for _, p := range s.Recording.Unheard {
			st.Unheard = append(st.Unheard, tick{
				At: place((p.Start + p.End) / 2), Time: p.Start, Timed: timed, Mark: "unheard", Span: spanOf(p.Start, p.End),
				Title: fmt.Sprintf("%s to %s: speech, and no words for it in the transcript", Clock(p.Start), Clock(p.End)),
			})
		}
	}
	return st
}

// axisStep gives at most eight labels.
func axisStep(end float64) float64 {
	for _, step := range []float64{5, 10, 30, 60, 120, 300, 600, 900, 1800} {
		if end/step <= 7 {
			return step
		}
	}
	return max(3600, end/7)
}

// traceWidth is how many points the trace of a recording has at most: more than
// a screen shows beside the names of the lanes.
const traceWidth = 1200

// TraceWidth is the width of the box that Trace is drawn in.
func (strip) TraceWidth() int { return traceWidth }

// levelPath draws the level of a recording over the given seconds: the mean of
// the decibels that fall on one point, from a little under the noise floor to
// the peak, at least 20 dB.
func levelPath(s *speech.Sound, seconds float64) string {
	n := min(len(s.Level), traceWidth)
	if n == 0 || s.Step <= 0 || seconds <= 0 {
		return ""
	}
	top := math.Inf(-1)
	for _, v := range s.Level {
		if v := float64(v); v > top && !math.IsInf(v, 1) { // never true of NaN
			top = v
		}
	}
	if math.IsInf(top, -1) {
		return "" // not a sound in it
	}
	bottom := top - 20
	if s.Floor-3 < bottom { // never true of NaN
		bottom = max(s.Floor-3, top-90)
	}
	b := []byte("M0 100")
	for i := range n {
		from, to := i*len(s.Level)/n, (i+1)*len(s.Level)/n
		sum := 0.0
		for _, v := range s.Level[from:to] {
			level := bottom
			if v := float64(v); v > bottom {
				level = min(v, top)
			}
			sum += level
		}
		x := float64(from+to) / 2 * s.Step / seconds * traceWidth
		b = append(b, 'L')
		b = strconv.AppendFloat(b, min(x, traceWidth), 'f', 1, 64)
		b = append(b, ' ')
		b = strconv.AppendFloat(b, math.Round(100-100*(sum/float64(to-from)-bottom)/(top-bottom)), 'f', -1, 64)
	}
	end := min(float64(len(s.Level))*s.Step/seconds, 1) * traceWidth
	return string(b) + fmt.Sprintf("L%.1f 100Z", end)
}
