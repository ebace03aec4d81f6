package school

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"markaround/rubric"
)

// The model of the students: an item goes wrong with a probability whose logit
// is its difficulty, less the student's ability, less what was learned in the
// attempts before, and more where a gap was planted. Hundredths of a logit;
// chosen to look like a school, no source.
const (
	ease          = -215 // of an item of middling difficulty at the first attempt
	growth        = 55   // from attempt to attempt
	critical      = -70  // more care is taken of what fails the test
	spreadAbility = 60   // standard deviation over the students
	spreadItem    = 60   // over the items
	gapMissed     = 280  // planted: an item left out
	gapWrong      = 330  // planted: a number said wrong
)

// What comes of an item that goes wrong, in percent.
const (
	shareWrong  = 50 // where it has a number
	shareMissed = 58 // of the rest
	shareBare   = 30 // of the rest, where one thing is to be said of it: it is named and no more
	usualWrong  = 80 // of wrong numbers that are the usual one
)

// Findings, in percent of the attempts where they can come up.
const (
	hastyHold  = 10
	readsGauge = 50
	badReading = 6
)

// number is a number of an item that must be said.
type number struct {
	measure *rubric.Measure
	wrong   figure // the usual wrong one
}

// model knows how the items go wrong.
type model struct {
	s          *School
	difficulty []int
	numbers    [][]number // by item: those that must be said and can be said wrong
	partly     []int      // by item: how many conditions and numbers can be left out of it
	gaps       []gap
}

// gap is a planted difference, ready for use.
type gap struct {
	Planted
	item int
}

func newModel(s *School, null bool) *model {
	m := &model{s: s}
	rng := random(s.Seed, useSchool, 0, 0)
	of := map[string]bool{}
	for _, it := range s.Items {
		of[it.Of] = true
	}
	for _, it := range s.Items {
		d := ease + rng.normal(spreadItem)
		if it.Critical {
			d += critical
		}
		m.difficulty = append(m.difficulty, d)
		var list []number
		parts := 0
		for _, c := range it.Checks {
			if !c.Minor {
				parts++
			}
		}
		for k := range it.Measures {
			if ms := &it.Measures[k]; !ms.Optional {
				parts++
				if wrong, ok := wrongFigure(ms); ok {
					list = append(list, number{ms, wrong})
				}
			}
		}
		m.numbers = append(m.numbers, list)
		// What is said of a detail counts for its part, which would fill the gap.
		if it.Kind != "" && of[it.Kind] {
			parts = 0
		}
		m.partly = append(m.partly, parts)
	}
	if !null {
		m.plant(rng)
	}
	return m
}

// plant picks the gaps: of the second cohort three items and one number, of the
// second instructor two items. The other groups stay as they are; the first and
// the last cohort are alike.
func (m *model) plant(rng source) {
	bound := map[string]bool{}
	for _, o := range m.s.Rubric.Order {
		bound[o.Before], bound[o.After] = true, true
	}
	for _, h := range m.s.Rubric.Holds {
		bound[h.From], bound[h.To] = true, true
	}
	var free, numbered []int
	for i, it := range m.s.Items {
		if !bound[it.ID] && !it.Critical && len(m.numbers[i]) == 0 {
			free = append(free, i)
		}
		for _, n := range m.numbers[i] {
			if n.measure.Unit != "count" {
				numbered = append(numbered, i)
			}
		}
	}
	cohort, instructor := talk().Cohorts[1], talk().Instructors[1]
	rng.Shuffle(len(free), func(a, b int) { free[a], free[b] = free[b], free[a] })
	for k, i := range free[:min(5, len(free))] {
		p := Planted{Kind: "cohort", Group: cohort, Item: m.s.Items[i].ID, Mark: rubric.Missed}
		if k >= 3 {
			p.Kind, p.Group = "instructor", instructor
		}
		m.gaps = append(m.gaps, gap{p, i})
	}
	if len(numbered) > 0 {
		i := pick(rng, numbered)
		n := m.numbers[i][slices.IndexFunc(m.numbers[i], func(n number) bool { return n.measure.Unit != "count" })]
		m.gaps = append(m.gaps, gap{Planted{"cohort", cohort, m.s.Items[i].ID, rubric.Wrong, n.measure.ID, n.wrong.String()}, i})
	}
	slices.SortStableFunc(m.gaps, func(a, b gap) int { return cmp.Compare(a.Kind, b.Kind) })
	for _, g := range m.gaps {
		m.s.Planted = append(m.s.Planted, g.Planted)
	}
}

// concerns reports whether the gap is one of the student's groups.
func (g *gap) concerns(st *Student) bool {
	return g.Kind == "cohort" && g.Group == st.Cohort || g.Kind == "instructor" && g.Group == st.Instructor
}

// attempts makes the attempts of a student, with their marks.
func (m *model) attempts(student int) {
	st := &m.s.Students[student]
	n := 3
	if student%5 == 0 {
		n = 2
	}
	rng := random(m.s.Seed, useStudent, student, 1)
	day := 70*slices.Index(talk().Cohorts, st.Cohort) + rng.IntN(12)
	for k := range n {
		a := Attempt{ID: fmt.Sprintf("%s-%d", st.ID, k+1), Student: student, Number: k + 1, Date: date(day), Vehicle: pick(rng, talk().Vehicles)}
		day += 9 + rng.IntN(12)
		rng := random(m.s.Seed, useMarks, student, k)
		said := 0
		for i := range m.s.Items {
			mark := m.mark(rng, st, i, k)
			a.Marks = append(a.Marks, mark)
			if mark != rubric.Missed {
				said++
			}
		}
		a.Findings = m.findings(rng, &a)
		a.Seconds = float64(said*(wordsAnItem*60_000/st.pace+breathMS)/1000 + walkSeconds*len(m.s.Rubric.Sections))
		for _, h := range m.s.Rubric.Holds {
			if m.heard(&a, h.From) && m.heard(&a, h.To) {
				a.Seconds += h.Seconds
			}
		}
		m.s.Attempts = append(m.s.Attempts, a)
	}
}

// For the estimate of an attempt's seconds without its transcript; measured on
// the transcripts made.
const (
	wordsAnItem = 11
	breathMS    = 1200
	walkSeconds = 5 // to a section
)

// mark draws the mark of an item. It draws the same numbers whatever comes out,
// so that a gap changes its own item and no other.
func (m *model) mark(rng source, st *Student, i, attempt int) rubric.Mark {
	d := m.difficulty[i] - st.ability - growth*attempt
	kind, wrong, bare := rng.IntN(100), rng.IntN(100), rng.IntN(100)
	lapse, gap := rng.IntN(1_000_000), rng.IntN(1_000_000)
	for _, g := range m.gaps {
		more := gapMissed
		if g.Mark == rubric.Wrong {
			more = gapWrong
		}
		if g.item == i && g.concerns(st) && gap < logistic(d+more) {
			return g.Mark
		}
	}
	switch {
	case lapse >= logistic(d):
		return rubric.Said
	case len(m.numbers[i]) > 0 && wrong < shareWrong:
		return rubric.Wrong
	case kind < shareMissed:
		return rubric.Missed
	case m.partly[i] > 1 || m.partly[i] == 1 && bare < shareBare:
		return rubric.Partly
	case len(m.numbers[i]) > 0:
		return rubric.Wrong
	}
	return rubric.Missed
}

// findings draws what goes wrong beside the items: a hold that is cut short, and
// readings that do not fit.
func (m *model) findings(rng source, a *Attempt) (out []string) {
	for _, h := range m.s.Rubric.Holds {
		hasty := rng.chance(hastyHold)
		if hasty && m.heard(a, h.From) && m.heard(a, h.To) {
			out = append(out, "hold:"+h.ID)
		}
	}
	for _, g := range m.s.Rubric.Agreements {
		reads, bad := rng.chance(readsGauge), rng.chance(badReading)
		if reads && bad && m.readings(a, g) != nil {
			out = append(out, "reading:"+itemOf(g.Loss))
		}
	}
	return out
}

// heard reports that an item that counts was not missed.
func (m *model) heard(a *Attempt, id string) bool {
	i := m.index(id)
	return i >= 0 && a.Marks[i] != rubric.Missed
}

func (m *model) index(id string) int {
	return slices.IndexFunc(m.s.Items, func(it *rubric.Item) bool { return it.ID == id })
}

// readings are the three numbers of an agreement, nil where they are not all of
// one item that is said as it should be.
func (m *model) readings(a *Attempt, g rubric.Agreement) []*rubric.Measure {
	i := m.index(itemOf(g.Loss))
	if i < 0 || a.Marks[i] != rubric.Said {
		return nil
	}
	var out []*rubric.Measure
	for _, ref := range []string{g.Start, g.End, g.Loss} {
		item, id, _ := strings.Cut(ref, "/")
		ms := m.s.Items[i].Measure(id)
		if item != m.s.Items[i].ID || ms == nil {
			return nil
		}
		out = append(out, ms)
	}
	return out
}

func itemOf(ref string) string {
	item, _, _ := strings.Cut(ref, "/")
	return item
}
