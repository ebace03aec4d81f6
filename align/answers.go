package align

import (
	"cmp"
	"slices"

	"markaround/rubric"
	"markaround/speech"
)

// answers turns what was found into evidence.
func (l *listening) answers() rubric.Answers {
	out := rubric.Answers{}
	for i := range l.m.items {
		g := &l.got[i]
		it := &l.m.items[i]
		a := &rubric.Answer{Checks: map[string][]rubric.Evidence{}, Measures: map[string][]rubric.Statement{}}
		for k := range g.checks {
			slices.SortStableFunc(g.checks[k], func(x, y claim) int { return cmp.Compare(x.first, y.first) })
			for _, c := range l.lastWord(g.checks[k]) {
				ev := l.evidence(c.first, c.last, c.confidence, c.reason)
				ev.Contradicts = c.contradicts
				a.Checks[it.checks[k].check.ID] = append(a.Checks[it.checks[k].check.ID], ev)
			}
		}
		for k := range g.measures {
			m := it.measures[k].measure
			for _, s := range g.measures[k] {
				r := convert(s.reading, m.Unit)
				a.Measures[m.ID] = append(a.Measures[m.ID], rubric.Statement{
					Evidence: l.evidence(s.first, s.last, s.confidence, s.reason),
					Low:      r.Low, High: r.High, Pointing: pointing(s.bound),
					Said: speech.FormatQuantity(r, s.bound),
				})
			}
		}
		l.name(a, int32(i))
		if len(a.Named) > 0 || len(a.Checks) > 0 || len(a.Measures) > 0 || a.Near != nil {
			out[it.item.ID] = a
		}
	}
	return out
}

// doubtful is the confidence below which words take nothing back that was heard
// more clearly.
const doubtful = 0.8

// lastWord leaves out contradictions that come long after the claim: a later
// correction is made soon, words said elsewhere are of something else ("engine
// off, key out" on the way out of the cab). Nor does what was hardly heard take
// back what was clear. A defect let pass stays one when the rest is said to be
// sound ("one is loose, but the other nine are tight, so it's good").
func (l *listening) lastWord(claims []claim) []claim {
	claimed := -1
	out := claims[:0:0]
	for _, c := range claims {
		if n := len(out); n > 0 && out[n-1].contradicts != c.contradicts && c.confidence < doubtful && c.confidence < out[n-1].confidence {
			continue
		}
		if n := len(out); n > 0 && out[n-1].contradicts && !c.contradicts && c.first-out[n-1].last <= reachRest && l.excused(out[n-1].last, c.last) {
			continue
		}
		if n := len(out); n > 0 && out[n-1].passed && !c.contradicts && c.first-out[n-1].last <= reachRest && l.ofTheRest(out[n-1].last, c.first) {
			continue
		}
		if c.contradicts && claimed >= 0 && c.first-claimed > reachCorrect {
			continue
		}
		if n := len(out); c.contradicts && !c.passed && claimed >= 0 && !out[n-1].contradicts && c.first-out[n-1].last >= reachAfterword && !l.takesBack(out[n-1].last, c.first) {
			continue
		}
		if !c.contradicts {
			claimed = c.first
		}
		out = append(out, c)
	}
	return out
}

// reachAfterword is how long after a claim, in tokens, a defect is no longer of
// the same breath: then it must be said to be there, or the claim be taken back.
const reachAfterword = 3

// takesBack reports that what is said in tokens [from:to), between a claim and a
// defect, takes the claim back ("no, wait, it's cracked") or says that the defect
// is there to see ("and there's a bulge"). A defect that is only spoken of does
// not: "the dirt swirls around back there".
func (l *listening) takesBack(from, to int) bool {
	for t := from; t < to; t++ {
		switch w := l.toks[t].Text; w {
		case "no", "wait", "oh", "actually", "sorry", "but", "except", "although", "though", "however", "look", "here", "hm", "hmm", "mean", "hold":
			return true
		case "there's", "there", "has", "got", "see", "it's", "is", "have":
			if t >= to-reachSeen {
				for k := t + 1; k <= to && k < len(l.toks); k++ {
					switch l.toks[k].Text {
					case "a", "an", "some", "one", "little", "two", "this", "bad":
						return true
					}
				}
			}
		}
	}
	return false
}

// reachSeen is how far before a defect its "there's a" stands, in tokens.
const reachSeen = 4

// reachRest is how long after a defect let pass the rest may be called sound, in
// tokens.
const reachRest = 16

// excused reports that a defect at the end of which token from stands is let pass
// right after the words that end at token to, and was not taken back between:
// "a gash there, but I don't see no cord, so I'd run it".
func (l *listening) excused(from, to int) bool {
	for t := from; t < to; t++ {
		switch l.toks[t].Text {
		case "wait", "sorry", "actually", "mean", "oh", "now", "report", "fix", "fixed":
			return false
		}
	}
	return letPass.within(l.toks, to, to+reachExcused) && !letPass.within(l.toks, from, to)
}

// reachExcused is how soon after what is sound of a part its defect is let pass.
const reachExcused = 6

// ofTheRest reports that what follows tokens [from:to) is said of the rest of
// them, or in excuse.
func (l *listening) ofTheRest(from, to int) bool {
	for t := from; t < to; t++ {
		switch l.toks[t].Text {
		case "but", "other", "others", "rest":
			return true
		}
	}
	return false
}

// reachCorrect is how long after a claim it may be taken back, in tokens.
const reachCorrect = 120

// numbered reports that a number was stated for the item.
func (l *listening) numbered(item int32) bool {
	for _, st := range l.got[item].measures {
		if len(st) > 0 {
			return true
		}
	}
	return false
}

// name fills in the words that name the item. A part named only on the way,
// in a sentence about another one, does not count unless something was said of
// it.
func (l *listening) name(a *rubric.Answer, item int32) {
	g := &l.got[item]
	for _, n := range g.named {
		o := &l.mentions[n.mention]
		reason := "named"
		if o.place < 0.9 {
			reason = "named away from its usual place"
		}
		ev := l.evidence(o.first, o.last, o.score*(0.4+0.6*o.place), reason)
		if (n.passing || n.aside && !l.numbered(item)) && !n.used {
			ev.Reason = "named only in passing"
			if a.Near == nil || ev.Confidence > a.Near.Confidence {
				a.Near = &ev
			}
			continue
		}
		a.Named = append(a.Named, ev)
	}
	if len(a.Named) > 0 {
		a.Near = nil
	}
}
