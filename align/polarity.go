package align

import (
	"cmp"
	"slices"
	"strings"

	"markaround/speech"
)

// A condition is a sound state or a defect spoken of, and how.
type condition struct {
	hit
	good, bad []int32 // condition sets that the words state and contradict
	denied    bool    // "not secure": a sound state right after a negation
	absent    bool    // "no cracks", "nothing bent", also further on in the list
	sought    bool    // "checking for cracks": looked for
	supposed  bool    // "if it leaks the brakes lock": no statement
	acted     bool    // "if i turn them on they work": supposed, but of what the speaker does
	dealt     bool    // "cracked, I'd write that up": a defect seen and reported
	passed    bool    // "it's cracked but that is fine"
	stated    bool    // "it is cracked", "there's a crack", not "a cracked lens can cut you"
	cover     int     // index of a longer condition over the same words, -1 if none
	used      bool    // a claim was made of it
	inside    int     // index of the mention that holds it, -1 if none
	begins    int     // index of the mention that it begins in and runs out of, -1 if none
	lead      int     // token where the negation or the search began, else first
}

// claim is one condition said of one check of one item.
type claim struct {
	cond        int // index into listening.conds, -1 when carried over
	contradicts bool
	passed      bool // a defect let pass
	confidence  float32
	reason      string
	first, last int // tokens
}

// How far a negation, a search or a supposition carries, in tokens since its
// last defect.
const (
	reachNegation   = 9
	reachSearch     = 14
	reachSupposing  = 10
	reachExplaining = 13
	reachDealt      = 20
	reachDealtNear  = 11
	reachPass       = 10
	reachBut        = 7  // from a defect to the "but" that excuses it
	reachExcuse     = 24 // after a "but"
)

// conditions finds the conditions among the hits and how each is meant, in one
// pass over the tokens.
func (l *listening) conditions() {
	for _, h := range l.hits {
		if len(h.phrase.good)+len(h.phrase.bad) > 0 {
			l.conds = append(l.conds, condition{hit: h, good: slices.Clone(h.phrase.good), bad: slices.Clone(h.phrase.bad), cover: -1, inside: -1, begins: -1, lead: h.first})
		}
	}
	slices.SortStableFunc(l.conds, func(a, b condition) int {
		if c := cmp.Compare(a.first, b.first); c != 0 {
			return c
		}
		if c := cmp.Compare(b.last-b.first, a.last-a.first); c != 0 {
			return c
		}
		return cmp.Compare(b.score, a.score)
	})
	l.conds = merge(l.conds)
	for i := range l.conds {
		c := &l.conds[i]
		// Longer ones begin earlier or at the same token.
		for j := i - 1; j >= 0 && j > i-12; j-- {
			o := &l.conds[j]
			if o.first <= c.first && o.last >= c.last && o.last-o.first > c.last-c.first && (o.exact || !c.exact) {
				c.cover = j
				break
			}
		}
	}
	k := 0
	for i := range l.conds {
		c := &l.conds[i]
		for k < len(l.mentions) && l.mentions[k].last <= c.first {
			k++
		}
		for j := k; j < len(l.mentions) && l.mentions[j].first < c.last; j++ {
			if o := &l.mentions[j]; o.first <= c.first && o.item >= 0 {
				if o.last >= c.last {
					c.inside = j
				} else {
					c.begins = j
				}
			}
		}
	}
	l.polarity()
}

// merge makes one of the conditions found over the very same words, the best
// score first: "leaks" is heard as "leaks" and as "leaking" at once.
func merge(conds []condition) []condition {
	out := conds[:0]
	for _, c := range conds {
		if n := len(out); n > 0 && out[n-1].first == c.first && out[n-1].last == c.last {
			o := &out[n-1]
			o.good, o.bad = addSets(o.good, c.good, o.bad), addSets(o.bad, c.bad, o.good)
			continue
		}
		out = append(out, c)
	}
	return out
}

// addSets adds the sets of more to list, but for those in but.
func addSets(list, more, but []int32) []int32 {
	for _, s := range more {
		if !slices.Contains(but, s) {
			list = once(list, s)
		}
	}
	return list
}

// frame is what governs the words at hand.
type frame struct {
	neg       int  // token of the negation in force, -1 if none
	negReach  int  // tokens it still carries
	negNoun   bool // "no", "nothing": denies what follows, not a state further on
	consumed  bool // it has denied a defect
	until     int  // end of that defect: "not one is dead" has its own "is"
	used      bool // or what may be an inflection of one
	subject   int  // end of what stands right after the negation: "no water is leaking"
	lead      int  // where the negation or search began
	search    int  // tokens that a search still carries
	supposing int
	acted     bool // the supposition is of what the speaker does
}

func (l *listening) polarity() {
	l.reason = make([]bool, len(l.toks))
	f := frame{neg: -1}
	ci := 0 // next condition
	mi := 0 // next mention
	skip := 0
	for i, t := range l.toks {
		if i > 0 && l.toks[i-1].Break == speech.StopBreak {
			f = frame{neg: -1}
		}
		for mi < len(l.mentions) && l.mentions[mi].first < i {
			mi++
		}
		if mi < len(l.mentions) && l.mentions[mi].first == i && l.mentions[mi].item >= 0 {
			if f.consumed {
				// The list of denied defects ends when the next part is named.
				f.negReach = min(f.negReach, 3)
			} else if f.neg >= 0 && f.negNoun && i-f.neg > 2 && l.toks[f.neg+1].Text != "of" {
				f.neg = -1 // "none scooted over | shock's bolted": the denied was no word of ours
			} else if f.neg >= 0 && (l.toks[f.neg].Text == "not" || strings.HasSuffix(l.toks[f.neg].Text, "n't")) && i-f.neg > 1 && l.headsClause(&l.mentions[mi]) {
				f.neg = -1 // "it doesn't roll | steering has too much play"
			}
			if f.supposing < reachSupposing-2 {
				f.supposing = 0
			}
		}
		if i >= skip {
			if n := lookFor.at(l.toks, i); n > 0 {
				f.search, f.supposing, f.lead = reachSearch, 0, i
				skip = i + n
			} else if n := supposing.at(l.toks, i); n > 0 {
				f.supposing = reachSupposing
				f.acted = t.Text == "if" && i+1 < len(l.toks) && (l.toks[i+1].Text == "i" || l.toks[i+1].Text == "you" || l.toks[i+1].Text == "we")
			} else if n := explaining.at(l.toks, i); n > 0 {
				f.supposing, f.acted = reachExplaining, false
				for t := i; t < min(len(l.toks), i+reachExplaining); t++ {
					if l.reason[t] = true; l.toks[t].Break == speech.StopBreak {
						break
					}
				}
			}
		}
		word := strings.TrimSuffix(t.Text, "'s") // "nothing's broken"
		switch {
		case negators[word] && !(word == "no" && (t.Break >= speech.CommaBreak || i+1 < len(l.toks) && takesNo[l.toks[i+1].Text])):
			// "not any", "no not": one negation.
			if f.neg < 0 || i > f.neg+2 {
				f.lead = i
			}
			f.neg, f.negReach, f.negNoun, f.consumed, f.used = i, reachNegation, negDeterminers[word], false, false
			f.supposing = 0
		case t.Text == "for" && l.checking(i):
			f.search, f.supposing, f.lead = reachSearch, 0, i
		case t.Text == "but" || t.Text == "however" || t.Text == "except":
			f = frame{neg: -1}
		case copulas[t.Text] && f.neg >= 0 && f.subject == i && f.negNoun:
			// The verb of what is denied.
		case f.consumed && i >= f.until && (copulas[t.Text] || t.Text == "there's" || t.Text == "some" || t.Text == "see" && i > 0 && l.toks[i-1].Text == "i" && i > f.neg+1):
			// "none's loose, I see some rust": a clause of its own.
			f.neg, f.negReach = -1, 0
			f.search = min(f.search, 3)
		}
		stepped := false
		for ci < len(l.conds) && l.conds[ci].first == i {
			l.frameCondition(&l.conds[ci], &f)
			ci++
			stepped = true
		}
		if !stepped {
			f.negReach--
			f.search--
			f.supposing--
			if f.negReach <= 0 {
				f.neg = -1
				f.consumed = false
			}
		}
	}
	l.dealtWith()
}

// headsClause reports that a part is what its own clause is about: a verb of being
// or having follows.
func (l *listening) headsClause(o *mention) bool {
	if o.last >= len(l.toks) || l.toks[o.last-1].Break == speech.StopBreak {
		return false
	}
	switch l.toks[o.last].Text {
	case "is", "are", "has", "have", "was", "were", "isn't", "aren't":
		return true
	}
	return strings.HasSuffix(l.toks[o.last-1].Text, "'s")
}

// frameCondition says how one condition is meant under the frame in force.
func (l *listening) frameCondition(c *condition, f *frame) {
	if c.negates() {
		return // "not dragging" is a sound state as it is
	}
	c.supposed = f.supposing > 0
	if l.asked[c.first] || l.story[c.first] {
		c.supposed = true
		return
	}
	c.acted = c.supposed && f.acted
	c.sought = f.search > 0
	if c.sought {
		c.lead = f.lead
	}
	if f.neg >= 0 {
		gap := c.first - f.neg - 1
		for t := f.neg + 1; t < c.first; t++ {
			if fillers[l.toks[t].Text] {
				gap--
			}
		}
		// A sound state is denied only right after the negation and before any
		// defect has used it up; "no" must stand next to it.
		near := f.negNoun && gap == 0 || !f.negNoun && (gap == 0 || gap == 1 && c.exact && coloring(l.toks[c.first-1].Text))
		if !f.used && near && l.toks[c.first-1].Break == speech.NoBreak && (c.exact || !f.negNoun && c.score > simStem-0.01) {
			c.denied = true
		}
		c.absent = true
		c.lead = f.lead
	}
	if c.inside >= 0 || !l.hereabouts(c) {
		return // part of a name, or a state that nothing here has
	}
	if c.cover >= 0 && !l.conds[c.cover].negates() && l.hereabouts(&l.conds[c.cover]) {
		return // what it does to the frame, the longer one has done
	}
	if c.denied && len(c.bad) == 0 {
		f.consumed, f.used = true, true // "not tight, it is loose": the next verb of being ends it
		return
	}
	f.used = f.used || f.neg >= 0 && len(c.bad) > 0
	if len(c.bad) > 0 {
		// An inflection may be another word: "none of them cross pieces is bent".
		if f.neg >= 0 && c.exact {
			if c.first == f.neg+1 && c.last-c.first == 1 && len(c.good) == 0 {
				f.subject = c.last
			}
			f.consumed, f.until = true, max(f.until, c.last)
			f.negReach = reachNegation
		}
		if f.search > 0 {
			f.search = reachSearch
		}
	} else if f.consumed {
		// "no cracks, secure": a sound state ends the list.
		f.neg, f.consumed = -1, false
		f.negReach = 0
	}
}

// coloring reports a word that may stand between a denial and the state it
// denies: "not fully seated", but not "not moving, gear driven".
func coloring(w string) bool {
	return soft[w] || functionWord(w) || fillers[w] || w == "quite" || w == "too" || w == "very" || w == "real" || w == "entirely" || w == "totally" || w == "properly"
}

// hereabouts reports a condition that some part has in the section where the
// student stands, or where he goes next.
func (l *listening) hereabouts(c *condition) bool {
	k := l.sightAt(c.first)
	if k < 0 {
		return true
	}
	for ; k < len(l.sights) && l.sights[k].token <= c.first+reachBefore; k++ {
		sets := l.m.sections[l.m.lines[l.sights[k].line].section].sets
		for _, list := range [][]int32{c.good, c.bad} {
			for _, set := range list {
				if sets[set] {
					return true
				}
			}
		}
	}
	return false
}

// negates reports a phrase of the rubric that has its negation in it.
func (c *condition) negates() bool {
	for _, w := range splitWords(c.phrase.text) {
		if negators[w] {
			return true
		}
	}
	return false
}

// checking reports a verb of looking shortly before token i: "check every hose
// for leaks".
func (l *listening) checking(i int) bool {
	for k := i - 1; k >= max(0, i-8) && l.toks[k].Break < speech.StopBreak; k-- {
		if looking[l.toks[k].Text] {
			return true
		}
	}
	return false
}

// doing reports a defect that is what the speaker does: "I try and wiggle it".
func (l *listening) doing(c *condition) bool {
	if c.first == 0 || l.toks[c.first-1].Break != speech.NoBreak {
		return false
	}
	switch l.toks[c.first-1].Text {
	case "i", "i'll", "you", "we", "to", "gonna", "gone", "let's":
		return true
	case "and":
		if c.first > 1 {
			w := l.toks[c.first-2].Text
			return w == "try" || w == "tried" || w == "go"
		}
	}
	return false
}

// predicated reports that the defect is said to be there: a verb of being,
// having or seeing stands before it. Without one it is only spoken of.
func (l *listening) predicated(c *condition) bool {
	if t := c.last; t < len(l.toks) && modals[l.toks[t].Text] || t+1 < len(l.toks) && modals[l.toks[t+1].Text] && l.toks[t-1].Break == speech.NoBreak {
		return false
	}
	for _, w := range splitWords(c.phrase.text) {
		if particles[w] {
			return true // "key off" is a statement of its own
		}
	}
	for k := c.first - 1; k >= max(0, c.first-8) && l.toks[k].Break < speech.StopBreak; k-- {
		w := l.toks[k].Text
		if l.states[k] && l.toks[k+1].Text != "and" && l.toks[k+1].Text != "or" && l.toks[k+1].Text != "but" {
			return false // the verb before belongs to that ("it's secured leaks")
		}
		if predicates[w] || strings.HasSuffix(w, "'s") || strings.HasSuffix(w, "'re") {
			return true
		}
		if w == "was" || w == "were" || w == "had" {
			return false
		}
	}
	return false
}

// saidOfName reports a defect right after a part's name, with a "but" to
// follow: "the door drags, but I just kick it" says it without a verb of being.
func (l *listening) saidOfName(c *condition) bool {
	if !c.exact || c.inside >= 0 || c.begins >= 0 {
		return false
	}
	named := false
	for k := l.mentionFrom(c.first - 4); k < len(l.mentions) && l.mentions[k].first < c.first; k++ {
		if o := &l.mentions[k]; o.item >= 0 && o.last <= c.first && c.first-o.last <= 1 && l.toks[o.last-1].Break == speech.NoBreak {
			named = true
		}
	}
	if !named {
		return false
	}
	for t := c.last; t < min(len(l.toks), c.last+reachBut) && l.toks[t-1].Break < speech.StopBreak; t++ {
		if l.toks[t].Text == "but" {
			return true
		}
	}
	return false
}

// dealtWith looks at what is said after a defect: reported, or let pass.
func (l *listening) dealtWith() {
	l.states = make([]bool, len(l.toks))
	for i := range l.conds {
		if c := &l.conds[i]; c.exact && len(c.good) > 0 && len(c.bad) == 0 && c.inside < 0 && !functionWord(l.toks[c.first].Text) {
			for t := c.first; t < c.last; t++ {
				l.states[t] = true
			}
		}
	}
	for i := range l.conds {
		c := &l.conds[i]
		if c.sought || c.supposed || !c.denied && (len(c.bad) == 0 || c.absent) {
			continue
		}
		// Up to the next part, or a few words past it.
		end := c.last + reachDealt
		for k := l.mentionFrom(c.last); k < len(l.mentions) && l.mentions[k].first < end; k++ {
			if o := &l.mentions[k]; o.item >= 0 {
				end = max(o.first, c.last+reachDealtNear)
				break
			}
		}
		c.dealt = reported.within(l.toks, c.last, end) || reported.within(l.toks, c.first-5, c.first)
		c.stated = l.predicated(c)
		pass := min(end, c.last+reachPass, len(l.toks))
		for t := c.last; t < pass; t++ {
			if w := l.toks[t].Text; w == "but" || w == "though" || w == "although" {
				pass = min(len(l.toks), t+reachExcuse) // "a crack, but it is low and has been there since spring, so that's fine"
				break
			}
		}
		c.passed = letPass.within(l.toks, c.last, pass)
		c.stated = c.stated || l.saidOfName(c)
		if len(c.good) == 0 && c.first > 0 && l.toks[c.first-1].Text == "i" && !c.passed && (c.last >= len(l.toks) || !objects[l.toks[c.last].Text]) {
			c.supposed = true // "I bend down"
		}
		if len(c.good) == 0 && l.doing(c) {
			for k := i + 1; k < len(l.conds) && l.conds[k].first <= c.last+reachNegation; k++ {
				if o := &l.conds[k]; o.absent && o.last-o.first == 1 && stem(l.toks[o.first].Text) == stem(l.toks[c.first].Text) {
					c.supposed = true // "I wiggle it and it don't wiggle"
				}
			}
		}
	}
}

// meant says what the condition claims of a condition set: +1 the claim, -1 its
// opposite, 0 nothing.
func (c *condition) meant(set int32) int {
	good, bad := slices.Contains(c.good, set), slices.Contains(c.bad, set)
	switch {
	case !good && !bad, c.supposed && !c.sought && !(c.acted && good):
		return 0
	case good && c.denied && !c.sought && !c.dealt:
		return -1
	case good:
		return 1
	case c.absent || c.sought || c.dealt:
		return 1
	case c.stated || c.passed:
		return -1
	}
	return 0
}
