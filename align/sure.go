package align

import (
	"math"
	"slices"
	"strings"

	"markaround/rubric"
)

// This file says how sure a mark is: the chance that a careful person gives the
// same one. The evidence of a mark knows only how well its own words were heard;
// what stands around it tells more. A part that is missed is doubtful where a
// condition was stated of nothing near its place, or where words stand that
// nothing was made of.

// clues are the inputs of the model, in the order of its tables.
type clues [numClues]float32

const (
	clueBias    = iota // 1
	clueHeard          // what the evidence says by itself, 0 to 1
	clueSure           // 1 where that is 0.95 or more
	clueDamage         // estimated word error rate times five
	clueSection        // share of the section's other parts that are not missed
	clueBetween        // the parts before and after on the sheet are not missed: 0, 0.5 or 1
	clueOrphans        // conditions of its checks stated of nothing near its place, 1 from three on
	clueUntold         // words near its place that nothing was made of, 1 from twelve on
	clueLate           // evidence that only came a little after
	clueList           // evidence said for a list
	clueAway           // named away from its place, or not at all
	clueBoth           // claimed and contradicted
	clueSound          // found by sound alone
	clueOmitted        // share of its main checks and numbers left out
	clueChecks         // main checks and numbers that it has, 1 from four on
	clueNumber         // a number is wrong
	clueNear           // something came near
	clueSpread         // seconds from its first to its last evidence, 1 from a minute on
	clueExtra          // not on the list
	numClues
)

// sureWeights are the tables of the logistic model, one for each mark, as
// TestSure prints them: fitted on the open attempts, as they are and damaged at
// 5 to 30% of their words.
var sureWeights = map[rubric.Mark]clues{
	rubric.Said: {clueBias: -0.85, clueHeard: 4.41, clueSure: 0.59, clueDamage: -0.07, clueSection: 0.90, clueBetween: -0.32, clueOrphans: 0.28, clueUntold: -0.97, clueLate: -0.41, clueList: -0.44, clueAway: -0.16, clueBoth: -1.96, clueSound: -0.31, clueChecks: -0.93, clueSpread: -0.34},

	rubric.Partly: {clueBias: 0.25, clueHeard: 2.64, clueDamage: -0.86, clueSection: -0.88, clueBetween: 0.71, clueOrphans: 0.06, clueUntold: -1.52, clueLate: -1.16, clueList: -0.48, clueAway: -0.76, clueBoth: 0.01, clueSound: -0.63, clueOmitted: -2.26, clueChecks: 1.03, clueSpread: -0.13},

	rubric.Missed: {clueBias: 1.61, clueHeard: 0.66, clueSure: 0.87, clueDamage: -0.82, clueSection: 0.07, clueBetween: 0.46, clueOrphans: -3.64, clueUntold: -1.27, clueChecks: -2.92, clueNear: 0.74},

	rubric.Wrong: {clueBias: 0.77, clueHeard: 1.54, clueSure: 1.00, clueDamage: -0.57, clueSection: -1.22, clueBetween: 0.08, clueUntold: -0.04, clueLate: 0.04, clueList: 0.08, clueAway: 0.21, clueBoth: -1.43, clueSound: -0.10, clueOmitted: -1.33, clueChecks: -0.09, clueNumber: 0.54, clueSpread: -0.31},
}

// unseen brings the model to speech that nobody worked on: base and slope of its
// sum, for each mark. The open attempts are what the phrases were made from, so
// marks of them are right more often than marks of others. Fitted (logistic, the
// slope drawn to 1) on 18 open attempts as they came out before anybody had read
// them or changed a thing for them: 1,674 marks, 87% right.
var unseen = map[rubric.Mark]struct{ base, slope float64 }{
	rubric.Said:   {-1.35, 1.30},
	rubric.Partly: {-0.26, 1.25},
	rubric.Missed: {-0.78, 0.97},
	rubric.Wrong:  {-0.57, 0.82},
}

// assure sets the confidence of every mark, and which marks to listen to.
func (l *listening) assure(items []rubric.ItemMark) {
	place, understood := l.places(items), l.understood()
	skipped := sectionsSkipped(items)
	for i, x := range l.clues(items, place, understood) {
		w := sureWeights[items[i].Mark]
		z := 0.0
		for k := range w {
			z += float64(w[k]) * float64(x[k])
		}
		u := unseen[items[i].Mark]
		z = u.base + u.slope*z
		// Nothing is known to the third digit; nor is anything certain.
		items[i].Confidence = math.Round(100*min(0.99, 1/(1+math.Exp(-z)))) / 100
		if skipped[items[i].Section] {
			items[i].Confidence = max(items[i].Confidence, sureSkipped)
		}
		if items[i].Mark == rubric.Missed && l.unheardAt(items, place, i) >= leastUnheard {
			items[i].Confidence = min(items[i].Confidence, mostMissed)
		}
	}
	l.benefit(items, place, understood)
	rubric.SetAside(items)
}

// What is missed in a section of leastSkipped parts or more of which none was spoken
// of was left out with its section: all such marks of the open attempts are right.
// There is no place to hear it at either.
const (
	leastSkipped = 5
	sureSkipped  = 0.97
)

// sectionsSkipped are the sections, by id, that were left out as a whole.
func sectionsSkipped(items []rubric.ItemMark) map[string]bool {
	parts, heard := map[string]int{}, map[string]bool{}
	for i := range items {
		if !items[i].Extra {
			parts[items[i].Section]++
		}
		heard[items[i].Section] = heard[items[i].Section] || items[i].Mark != rubric.Missed
	}
	out := map[string]bool{}
	for id, n := range parts {
		out[id] = n >= leastSkipped && !heard[id]
	}
	return out
}

// clues gathers the inputs for every mark.
func (l *listening) clues(items []rubric.ItemMark, place []tokenSpan, understood []bool) []clues {
	out := make([]clues, len(items))
	perSection, heardOf := map[string]int{}, map[string]int{}
	for i := range items {
		if !items[i].Extra {
			perSection[items[i].Section]++
			if items[i].Mark != rubric.Missed {
				heardOf[items[i].Section]++
			}
		}
	}
	for i := range items {
		m := &items[i]
		x := &out[i]
		x[clueBias], x[clueHeard], x[clueDamage] = 1, float32(m.Confidence), l.damage*5
		x[clueSure] = flag(m.Confidence >= 0.95)
		all, heard := perSection[m.Section], heardOf[m.Section]
		if !m.Extra {
			all--
			if m.Mark != rubric.Missed {
				heard--
			}
		}
		x[clueSection] = float32(heard) / float32(max(1, all))
		before, after := l.around(items, place, i)
		x[clueBetween] = (flag(before >= 0) + flag(after >= 0)) / 2
		if from, to := l.window(place, before, i, after); from < to {
			x[clueOrphans] = min(1, float32(l.orphans(m.ID, from, to))/3)
			untold := 0
			for t := from; t < to; t++ {
				if !understood[t] {
					untold++
				}
			}
			x[clueUntold] = min(1, float32(untold)/12)
		}
		x[clueAway] = flag(m.Mark != rubric.Missed && !slices.ContainsFunc(m.Named, func(e rubric.Evidence) bool { return e.Reason == "named" }))
		x[clueNear], x[clueExtra] = flag(len(m.Near) > 0), flag(m.Extra)
		first, last := math.Inf(1), math.Inf(-1)
		main := 0
		for _, c := range m.Checks {
			if !c.Minor {
				main++
			}
			said, against := false, false
			for _, e := range c.Evidence {
				said, against = said || !e.Contradicts, against || e.Contradicts
				first, last = min(first, e.Start), max(last, e.End)
				x[clueLate] = max(x[clueLate], flag(strings.Contains(e.Reason, "a little after")))
				x[clueList] = max(x[clueList], flag(strings.Contains(e.Reason, "list") || strings.Contains(e.Reason, "all of these")))
				x[clueSound] = max(x[clueSound], flag(strings.HasPrefix(e.Reason, "close to")))
			}
			x[clueBoth] = max(x[clueBoth], flag(said && against))
		}
		for _, q := range m.Measures {
			if !q.Optional {
				main++
			}
			if q.Mark == rubric.Wrong {
				x[clueNumber] = 1
			}
			for _, e := range q.Evidence {
				first, last = min(first, e.Start), max(last, e.End)
			}
		}
		for _, e := range m.Named {
			first, last = min(first, e.Start), max(last, e.End)
			x[clueSound] = max(x[clueSound], flag(strings.HasPrefix(e.Reason, "close to")))
		}
		x[clueOmitted] = float32(len(m.Omitted)) / float32(max(1, main))
		x[clueChecks] = min(1, float32(main)/4)
		if last > first {
			x[clueSpread] = float32(min(1, (last-first)/60))
		}
	}
	return out
}

func flag(b bool) float32 {
	if b {
		return 1
	}
	return 0
}

// tokenSpan is a run of tokens [first:last).
type tokenSpan struct{ first, last int }

// places are the tokens where each item is spoken of, {-1, -1} where it is not:
// from its first naming at its place to the end of what was said of it.
func (l *listening) places(items []rubric.ItemMark) []tokenSpan {
	out := make([]tokenSpan, len(items))
	for i := range items {
		out[i] = tokenSpan{-1, -1}
		item := l.m.byID[items[i].ID]
		if items[i].Mark == rubric.Missed {
			continue
		}
		for _, n := range l.got[item].named {
			if o := &l.mentions[n.mention]; o.place >= 0.9 {
				out[i] = tokenSpan{o.first, o.last}
				break
			}
		}
	}
	return out
}

// around are the nearest items before and after item i in its section that are
// spoken of, -1 where there is none.
func (l *listening) around(items []rubric.ItemMark, place []tokenSpan, i int) (before, after int) {
	before, after = -1, -1
	for k := i - 1; k >= 0 && items[k].Section == items[i].Section && k >= i-reachAround; k-- {
		if place[k].first >= 0 {
			before = k
			break
		}
	}
	for k := i + 1; k < len(items) && items[k].Section == items[i].Section && k <= i+reachAround; k++ {
		if place[k].first >= 0 {
			after = k
			break
		}
	}
	return before, after
}

const (
	reachAround = 3  // items on the sheet to either side
	reachWindow = 45 // tokens to either side where only one neighbor is known
)

// window is where an item is or would be spoken of, as tokens [from:to).
func (l *listening) window(place []tokenSpan, before, i, after int) (from, to int) {
	if at := place[i]; at.first >= 0 {
		from, to = at.first, min(len(l.toks), at.last+reachWindow)
		for k := range l.mentions {
			if o := &l.mentions[k]; o.item >= 0 && o.first > at.last && o.first < to {
				to = o.first
				break
			}
		}
		return from, to
	}
	switch {
	case before >= 0 && after >= 0:
		from, to = place[before].last, place[after].first
	case before >= 0:
		from, to = place[before].last, place[before].last+reachWindow
	case after >= 0:
		from, to = place[after].first-reachWindow, place[after].first
	}
	if from > to {
		from, to = to, from
	}
	return max(0, from), min(len(l.toks), to, from+4*reachWindow)
}

// unheardAt gives the seconds of speech without words where item i would have
// been said: between its neighbors, or in the stays at its place where they are
// not known either.
func (l *listening) unheardAt(items []rubric.ItemMark, place []tokenSpan, i int) float64 {
	if l.recording == nil || len(l.recording.Unheard) == 0 {
		return 0
	}
	before, after := l.around(items, place, i)
	if before < 0 && after < 0 {
		return l.unheardIn(items, place, items[i].Section)
	}
	from, to := l.window(place, before, i, after)
	// The gaps at both ends of the window are part of it.
	start, end := 0.0, l.recording.Seconds
	if from > 0 {
		start = l.toks[from-1].End
	}
	if to < len(l.toks) {
		end = l.toks[to].Start
	}
	return l.unheard(start, end)
}

// unheardIn gives the seconds of speech without words at a section: anywhere
// when it was never spoken of.
func (l *listening) unheardIn(items []rubric.ItemMark, place []tokenSpan, section string) float64 {
	start, end := math.Inf(1), math.Inf(-1)
	for i := range items {
		if at := place[i]; items[i].Section == section && at.first >= 0 {
			start = min(start, l.toks[at.first].Start-aroundStay)
			end = max(end, l.toks[at.last-1].End+aroundStay)
		}
	}
	if start > end {
		start, end = 0, l.recording.Seconds
	}
	return l.unheard(start, end)
}

// aroundStay is how far outside of what was heard of a section, in seconds,
// more of it may have been said.
const aroundStay = 20

// orphans counts the conditions of an item's checks among tokens [from:to) that
// were given to no part.
func (l *listening) orphans(id string, from, to int) int {
	n := 0
	at, _ := slices.BinarySearchFunc(l.conds, from, func(c condition, t int) int { return c.first - t })
	for k := at; k < len(l.conds) && l.conds[k].first < to; k++ {
		c := &l.conds[k]
		if c.used || c.inside >= 0 || c.cover >= 0 || !c.exact {
			continue
		}
		if slices.ContainsFunc(l.m.items[l.m.byID[id]].checks, func(ck checkInfo) bool { return c.meant(ck.set) != 0 }) {
			n++
		}
	}
	return n
}

// understood marks the tokens that something was made of, or that mean nothing
// by themselves.
func (l *listening) understood() []bool {
	out := make([]bool, len(l.toks))
	for i, t := range l.toks {
		w := t.Text
		out[i] = functionWord(w) || fillers[w] || everyday[w] || chat[w] || numberWord(w) || soft[w] || particles[w] || negators[w] || l.story[i] || l.asked[i] || l.reason[i]
	}
	mark := func(first, last int) {
		for t := first; t < last; t++ {
			out[t] = true
		}
	}
	for i := range l.mentions {
		if o := &l.mentions[i]; o.item >= 0 {
			mark(o.first, o.last)
		}
	}
	for i := range l.conds {
		if c := &l.conds[i]; c.used {
			mark(c.first, c.last)
		}
	}
	for i := range l.quantities {
		mark(l.quantities[i].First, l.quantities[i].Last)
	}
	return out
}
