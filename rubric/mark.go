package rubric

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
)

// Answer is all that was found for one item. Package align makes it.
type Answer struct {
	Named    []Evidence             // the words that name the item, in time order
	Checks   map[string][]Evidence  // by check id, in time order
	Measures map[string][]Statement // by measure id, in time order
	Near     *Evidence              // the best that was heard and not counted, nil if none
}

// Answers are the answers of one attempt by item id; an item without one was
// not heard of.
type Answers map[string]*Answer

// Marking sets how evidence is turned into marks.
type Marking struct {
	// Silence is how much the transcript may have dropped, 0 to 1: it lowers
	// the confidence of missed items.
	Silence float64
}

// lossy is the silence from which the reason of a missed item speaks of it.
const lossy = 0.1

// Mark turns answers into the marks of every item, in rubric order.
//
// The rule, all of it:
//
//   - A check is judged by the last thing said of it: said, or wrong when that
//     contradicts it; missed when nothing was said.
//   - A measure is judged by the last number stated for it (Judge).
//   - An item is missed without evidence; wrong when a check or a stated number
//     is wrong; partly when a main check or a required number is missed; said
//     otherwise. Minor checks and optional numbers may be left out.
//   - An extra item never counts as missed and earns no points.
func (r *Rubric) Mark(answers Answers, how Marking) []ItemMark {
	var out []ItemMark
	for e := range r.All() {
		a := answers[e.Item.ID]
		if a == nil {
			a = &Answer{}
		}
		m := r.markItem(e.Item, a, how)
		m.Section, m.Line = e.Section.ID, e.Line.ID
		out = append(out, m)
	}
	return out
}

func (r *Rubric) markItem(it *Item, a *Answer, how Marking) ItemMark {
	m := ItemMark{ID: it.ID, Title: it.Title, Critical: it.Critical, Extra: it.Extra, Of: it.Points,
		Start: -1, Named: a.Named, Near: []Evidence{}, Checks: []CheckMark{}, Measures: []MeasureMark{}, Omitted: []string{}}
	if m.Named == nil {
		m.Named = []Evidence{}
	}
	if it.Extra {
		m.Of = 0
	}
	heard := len(a.Named) > 0
	var wrong, right []string
	sure := 1.0 // confidence of the weakest part that the mark rests on
	doubt := 1.0
	for i := range it.Checks {
		c := r.markCheck(&it.Checks[i], a.Checks[it.Checks[i].ID])
		m.Checks = append(m.Checks, c)
		switch c.Mark {
		case Missed:
			if !c.Minor {
				m.Omitted = append(m.Omitted, c.Title)
			}
		case Wrong:
			last := c.Evidence[len(c.Evidence)-1]
			wrong = append(wrong, fmt.Sprintf("%q contradicts %q", last.Words, c.Title))
			doubt = min(doubt, last.Confidence)
		case Said:
			right = append(right, c.Title)
			if !c.Minor {
				sure = min(sure, best(c.Evidence))
			}
		}
		heard = heard || c.Mark != Missed
	}
	for i := range it.Measures {
		ms := &it.Measures[i]
		c := markMeasure(ms, a.Measures[ms.ID])
		m.Measures = append(m.Measures, c)
		switch c.Mark {
		case Missed:
			if !ms.Optional {
				m.Omitted = append(m.Omitted, ms.Title+" ("+c.Accepted+")")
			}
		case Wrong:
			wrong = append(wrong, fmt.Sprintf("%s: said %s, accepted %s", ms.Title, c.Said, c.Accepted))
			doubt = min(doubt, c.Evidence[len(c.Evidence)-1].Confidence)
		case Said:
			right = append(right, c.Said)
			if !ms.Optional {
				sure = min(sure, best(c.Evidence))
			}
		}
		heard = heard || c.Mark != Missed
	}
	name := best(a.Named)
	if len(a.Named) == 0 && heard {
		name = 0.7
	}
	switch {
	case !heard:
		m.Mark = Missed
		m.Confidence = 0.97
		m.Reason = "nothing heard that names it"
		if how.Silence >= lossy {
			m.Reason += "; the transcript may have lost it"
		}
		if a.Near != nil {
			m.Near = append(m.Near, *a.Near)
			m.Confidence -= 0.55 * a.Near.Confidence
			m.Reason = fmt.Sprintf("only %q came near: %s", a.Near.Words, a.Near.Reason)
		}
		m.Confidence *= 1 - how.Silence
		m.Omitted = []string{}
	case len(wrong) > 0:
		m.Mark = Wrong
		m.Confidence = doubt * (0.5 + 0.5*name)
		m.Reason = strings.Join(wrong, "; ")
	case len(m.Omitted) > 0:
		m.Mark = Partly
		m.Confidence = 0.85 * name * (1 - how.Silence)
		m.Reason = "left out: " + strings.Join(m.Omitted, "; ")
	default:
		m.Mark = Said
		m.Confidence = min(name, sure)
		m.Points = m.Of
		if m.Reason = "said: " + strings.Join(right, "; "); len(right) == 0 {
			m.Reason = "named"
		}
	}
	if m.Mark != Missed {
		m.Start = start(&m)
	}
	return m
}

// Remaining is the share of marks that may still be wrong once those set aside
// have been heard and put right.
const Remaining = 0.02

// SetAside picks the marks for the instructor to hear: the least sure ones, as
// few as will do for no more than Remaining of all marks to be wrong once these
// are put right, by the confidences of the others. Extra items that were not
// heard of are left out, since nothing is lost by them.
func SetAside(items []ItemMark) {
	var order []int
	wrong := 0.0 // marks that are likely wrong
	for i := range items {
		items[i].Listen = false
		if !(items[i].Extra && items[i].Mark == Missed) {
			order = append(order, i)
			wrong += 1 - items[i].Confidence
		}
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(items[a].Confidence, items[b].Confidence) })
	allowed := Remaining * float64(len(order))
	for _, i := range order {
		if wrong <= allowed {
			break
		}
		items[i].Listen = true
		wrong -= 1 - items[i].Confidence
	}
}

func (r *Rubric) markCheck(c *Check, ev []Evidence) CheckMark {
	m := CheckMark{ID: c.ID, Title: c.Title, Minor: c.Minor, Mark: Missed, Evidence: ev}
	if shared := r.Shared(c); m.Title == "" && shared != nil {
		m.Title = shared.Title
	}
	if len(ev) == 0 {
		m.Evidence = []Evidence{}
		return m
	}
	m.Mark = Said
	if ev[len(ev)-1].Contradicts {
		m.Mark = Wrong
	}
	return m
}

func markMeasure(ms *Measure, said []Statement) MeasureMark {
	m := MeasureMark{ID: ms.ID, Title: ms.Title, Optional: ms.Optional, Mark: Missed, Accepted: ms.Accepted(),
		Source: ms.Source, Unconfirmed: ms.Unconfirmed, Note: ms.Remark(), Evidence: []Evidence{}}
	for _, s := range said {
		m.Evidence = append(m.Evidence, s.Evidence)
	}
	if len(said) == 0 {
		return m
	}
	last := said[len(said)-1]
	m.Mark, m.Said = Said, last.Said
	if m.Problem = ms.Judge(last); m.Problem != "" {
		m.Mark = Wrong
		m.Evidence[len(m.Evidence)-1].Contradicts = true
	}
	return m
}

func best(ev []Evidence) float64 {
	b := 0.0
	for _, e := range ev {
		b = max(b, e.Confidence)
	}
	return b
}

// Evidence is all that is behind the mark: of the name, the checks, the
// measures.
func (m *ItemMark) Evidence() []Evidence {
	all := slices.Clone(m.Named)
	for _, c := range m.Checks {
		all = append(all, c.Evidence...)
	}
	for _, q := range m.Measures {
		all = append(all, q.Evidence...)
	}
	return all
}

// start is the time of the first words behind a mark, -1 if there are none.
func start(m *ItemMark) float64 {
	at := -1.0
	for _, e := range m.Evidence() {
		if at < 0 || e.Start < at {
			at = e.Start
		}
	}
	return at
}

// Conclude sums the sections and gives the result by the rubric's own rule.
// The sheet must hold its items, findings and pace.
func (r *Rubric) Conclude(s *Sheet) {
	s.Schema = SheetSchema
	s.Rubric = RubricID{ID: r.ID, Title: r.Title, Edition: r.Edition, Version: r.Version, Hash: r.Hash, With: append([]string{}, r.With...)}
	s.Cautions = append([]string{}, r.Cautions...)
	s.Sources = r.named(s.Items)
	s.Sections = []SectionMark{}
	for _, sec := range r.Sections {
		s.Sections = append(s.Sections, SectionMark{ID: sec.ID, Title: sec.Title})
	}
	r.Rule().conclude(s)
}

// conclude sums the sheet's sections anew and gives the result.
func (u Rule) conclude(s *Sheet) {
	at := map[string]int{}
	s.Sections = slices.Clone(s.Sections)
	for i, sec := range s.Sections {
		at[sec.ID] = i
		s.Sections[i] = SectionMark{ID: sec.ID, Title: sec.Title}
	}
	s.Points, s.Of = 0, 0
	var critical []string
	for _, m := range s.Items {
		if m.Extra {
			continue
		}
		s.Points += m.Points
		s.Of += m.Of
		if m.Critical && m.Mark != Said {
			critical = append(critical, m.Title+" ("+string(m.Mark)+")")
		}
		i, ok := at[m.Section]
		if !ok {
			continue
		}
		sec := &s.Sections[i]
		sec.Points += m.Points
		sec.Of += m.Of
		switch m.Mark {
		case Said:
			sec.Said++
		case Partly:
			sec.Partly++
		case Wrong:
			sec.Wrong++
		case Missed:
			sec.Missed++
		}
	}
	for _, f := range s.Findings {
		if f.Critical {
			critical = append(critical, f.Text)
		}
	}
	s.Result = u.result(s, critical)
}

// named are the sources that the items' measures name, also those that a remark
// names in parentheses.
func (r *Rubric) named(items []ItemMark) []Source {
	out := []Source{}
	for _, src := range r.Sources {
		if slices.ContainsFunc(items, func(it ItemMark) bool {
			return slices.ContainsFunc(it.Measures, func(m MeasureMark) bool { return NamesSource(m.Source, src.Key) })
		}) {
			out = append(out, src)
		}
	}
	return out
}

func (u Rule) result(s *Sheet, critical []string) Result {
	var rule []string
	out := Result{Reasons: []string{}}
	if u.MinShare > 0 {
		rule = append(rule, "at least "+Percent(u.MinShare, 1)+" of the points")
		if s.Of > 0 && s.Points/s.Of < u.MinShare-tiny {
			share, least := Percent(s.Points, s.Of), Percent(u.MinShare, 1)
			if share == least { // as of 82.46% where 82.5% are asked for
				share = Figure(100*s.Points/s.Of) + "%"
			}
			out.Reasons = append(out.Reasons, fmt.Sprintf("%s of %s is %s, below %s", Figure(s.Points), Points(s.Of), share, least))
		}
	}
	if u.Critical {
		rule = append(rule, "every critical item said, in order")
		for _, c := range critical {
			out.Reasons = append(out.Reasons, CriticalReason+c)
		}
	}
	if u.WithinLimit && u.TimeLimit > 0 {
		rule = append(rule, "finished within "+minutes(u.TimeLimit))
		if used := s.Pace.End - s.Pace.Start; used > u.TimeLimit {
			// Up to the next second, so that what is over never reads as within.
			out.Reasons = append(out.Reasons, fmt.Sprintf("took %s of %s", minutes(math.Ceil(used)), minutes(u.TimeLimit)))
		}
	}
	out.Rule = strings.Join(rule, ", ")
	if u.Note != "" {
		out.Rule += " (" + u.Note + ")"
	}
	out.Pass = len(out.Reasons) == 0
	return out
}

// CriticalReason begins the reasons of a result that name a critical failure.
const CriticalReason = "critical: "

// tiny is more than sums and quotients of points are off by.
const tiny = 1e-9

// Percent writes a share as a person would, by Tenths: 79.96 of 100 is "79.9%",
// never "80%". Without a whole it is "-".
func Percent(part, of float64) string {
	if of <= 0 {
		return "-"
	}
	return Figure(Tenths(part, of)) + "%"
}

// Tenths is a share in percent, rounded half up to a tenth, but never up to a whole
// percent: what is below a pass mark, or below all, must not read as if it were not.
// A pass mark that is no whole percent is for the caller to watch.
func Tenths(part, of float64) float64 {
	x := part / of * 1000
	t := math.Floor(x + 0.5 + 1000*tiny)
	if t > x+1000*tiny && math.Mod(t, 10) == 0 {
		t--
	}
	return t / 10
}

// Figure writes a number without needless zeros, to two decimals.
func Figure(v float64) string {
	return strconv.FormatFloat(math.Round(v*100)/100, 'f', -1, 64)
}

// Points writes a number of points in words: "1 point", "2.5 points".
func Points(v float64) string {
	if v == 1 {
		return "1 point"
	}
	return Figure(v) + " points"
}

// minutes writes a time in words, cut down to the second: "90 minutes", "12
// minutes 30 seconds".
func minutes(seconds float64) string {
	n := int(seconds)
	var parts []string
	if n >= 60 {
		parts = append(parts, Plural(n/60, "minute"))
	}
	if n%60 > 0 || n < 60 {
		parts = append(parts, Plural(n%60, "second"))
	}
	return strings.Join(parts, " ")
}

// Plural is "1 item", "2 items".
func Plural(n int, noun string) string {
	if n != 1 {
		noun += "s"
	}
	return fmt.Sprintf("%d %s", n, noun)
}
