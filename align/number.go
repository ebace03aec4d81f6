package align

import (
	"cmp"
	"math/big"
	"slices"
	"strings"

	"markaround/rubric"
	"markaround/speech"
)

// stated is a number taken for a measure.
type stated struct {
	reading    speech.Reading
	bound      speech.Bound
	first      int
	last       int
	confidence float32
	reason     string
}

// candidate pairs a quantity with a measure it may be stated for.
type candidate struct {
	quantity      int
	item, measure int32
	reading       int
	score         float32
	tied          float32 // by a word nearby
	reason        string
}

// How far a number reaches for the part it belongs to, in tokens.
const (
	reachNumberBack  = 60
	reachNumberAhead = 14
	reachNear        = 9
	reachNearAfter   = 7
	reachNegated     = 14 // back to a negation that turns a bound round
	reachRecount     = 16 // back to the word that takes a count up again
	longestNear      = 8  // words of a phrase that ties a number
	reachIf          = 5  // from what a figure is for back to its "if"
	reachOwner       = 3  // from a figure to "for a single vehicle"
	reachRequired    = 9  // back to a word that makes a figure a demand
)

// Scores of a number and a measure. A number is taken at leastNumber; the unit
// counts most, then how close the part was named.
const (
	leastNumber     = 0.95
	scoreUnit       = 0.50
	scoreCount      = 0.40
	scoreBare       = 0.12
	scoreNear       = 0.30
	scoreNearAfter  = 0.06 // "three for a single vehicle"
	closeTie        = 0.22 // of a bare figure to what need not be stated
	scoreKind       = 0.15
	scorePlausible  = 0.12
	costImplausible = 0.30
	costOtherPart   = 0.22
	costBoundless   = 0.20
	costUnlike      = 0.20 // a gauge that would show what it never shows there
	costRepeat      = 0.15
	costOtherTied   = 0.15 // a word nearby ties it to another measure of the part
	costWeak        = 0.30 // may be no figure at all ("the red one")
	costSentence    = 0.40 // in another sentence than the part, for a count
	costReason      = 0.60 // said in a reason ("a slow leak won't show in 10 seconds")
	costAgainst     = 0.12 // the bound points the other way
	scoreAlong      = 0.06
	scoreLone       = 0.12 // a bare figure that only this number of the part can be
)

// numbers finds, for every quantity, the measure that it is stated for: all
// pairs are scored and taken best first, so that of two numbers and two parts
// in one breath each finds its own.
func (l *listening) numbers() {
	qs := l.quantities
	var cands []candidate
	near := l.nearWords()
	owners := l.owners(qs, near)
	for i := range qs {
		if undone.within(l.toks, qs[i].Last, qs[i].Last+2) {
			continue // "you lose five, you're done"
		}
		if !qs[i].Replaced && !l.asked[qs[i].NumberFirst] && !l.story[qs[i].NumberFirst] {
			cands = l.candidates(cands, qs, i, near, owners)
		}
	}
	taken := make([]bool, len(qs))
	type slot struct{ item, measure int32 }
	filled := map[slot]bool{}
	for {
		// A measure may be stated again, at a cost.
		at, best := -1, float32(leastNumber)
		for i := range cands {
			c := &cands[i]
			if taken[c.quantity] {
				continue
			}
			score := c.score
			if filled[slot{c.item, c.measure}] {
				score -= costRepeat
			}
			if score > best {
				at, best = i, score
			}
		}
		if at < 0 {
			break
		}
		c := &cands[at]
		q := &qs[c.quantity]
		bound := l.turned(q, l.m.items[c.item].measures[c.measure].measure)
		taken[c.quantity] = true
		filled[slot{c.item, c.measure}] = true
		l.got[c.item].measures[c.measure] = append(l.got[c.item].measures[c.measure], stated{
			reading: q.Readings[c.reading], bound: bound, first: q.First, last: q.Last,
			confidence: min(1, 0.25+0.62*c.score), reason: c.reason,
		})
	}
	l.inTurn()
	for i := range l.got {
		for k := range l.got[i].measures {
			st := l.got[i].measures[k]
			slices.SortStableFunc(st, func(a, b stated) int { return cmp.Compare(a.first, b.first) })
			// The last statement counts, but not one that is much more doubtful.
			best := float32(0)
			for _, x := range st {
				best = max(best, x.confidence)
			}
			st = slices.DeleteFunc(st, func(x stated) bool { return x.confidence < best-0.25 })
			l.got[i].measures[k] = spoken(st)
		}
	}
}

// turned is the quantity's bound, turned round when a strict bound that points
// the wrong way stands under a negation further back, or says when something
// fails: "not supposed to lose more than three, no, four, more than four", "they're
// done if they stretch more than three percent".
func (l *listening) turned(q *speech.Quantity, m *rubric.Measure) speech.Bound {
	if !against(m.Direction, pointing(q.Bound)) || q.Bound != speech.Above && q.Bound != speech.Below {
		return q.Bound
	}
	for t := q.First - 1; t >= max(0, q.First-reachNegated) && l.toks[t].Break < speech.StopBreak; t-- {
		if w := l.toks[t].Text; negators[w] && w != "no" || failsIf.at(l.toks, t) > 0 {
			if q.Bound == speech.Above {
				return speech.AtMost
			}
			return speech.AtLeast
		}
	}
	return q.Bound
}

// spoken leaves out a bare figure that repeats the one before, which said how it
// points: "no more than 1/8 ... i remember the 1/8" stays at most 1/8.
func spoken(st []stated) []stated {
	out := st[:0:0]
	for _, x := range st {
		if n := len(out); n > 0 && pointing(x.bound) == rubric.Flat && x.reading.Low.Cmp(out[n-1].reading.Low) == 0 && x.reading.Unit == out[n-1].reading.Unit {
			continue
		}
		out = append(out, x)
	}
	return out
}

// inTurn puts readings that belong together in the order of time: what was read
// last is the end, what was read before it the start.
func (l *listening) inTurn() {
	for _, g := range l.m.rubric.Agreements {
		a, b := l.measure(g.Start), l.measure(g.End)
		if a == nil || b == nil || len(*a)+len(*b) < 2 {
			continue
		}
		all := append(slices.Clone(*a), *b...)
		slices.SortStableFunc(all, func(x, y stated) int { return cmp.Compare(x.first, y.first) })
		*a, *b = all[:len(all)-1], all[len(all)-1:]
	}
}

// measure is where the statements of an "item/measure" reference are kept, nil
// if there is no such measure.
func (l *listening) measure(ref string) *[]stated {
	item, id, _ := strings.Cut(ref, "/")
	i, ok := l.m.byID[item]
	if !ok {
		return nil
	}
	for k := range l.m.items[i].measures {
		if l.m.items[i].measures[k].measure.ID == id {
			return &l.got[i].measures[k]
		}
	}
	return nil
}

// nearWords lists where phrases that tie numbers to measures were heard.
func (l *listening) nearWords() []hit {
	var out []hit
	for _, h := range l.hits {
		// "not the front" ties to what is not at the front.
		// A word that only sounds like the one that ties is another one: fuses are
		// no fusees.
		if len(h.phrase.words) == 1 && !h.exact && !samePlural(l.toks[h.first].Text, l.m.finder.lex.words[h.phrase.words[0]].text) && h.score < simStem {
			continue
		}
		if h.phrase.near && (h.first == 0 || l.toks[h.first-1].Text != "not" || !determiners[l.toks[h.first].Text]) {
			out = append(out, h)
		}
	}
	return out
}

// within reports that a tying phrase is part of a longer one of the same part:
// "i'm at" ties by itself, not by its "at".
func (it *itemInfo) within(near []hit, k int, q *speech.Quantity) bool {
	h := &near[k]
	for j := k - 1; j >= 0 && near[j].first >= h.first-longestNear; j-- {
		if it.longer(h, &near[j], q) {
			return true
		}
	}
	for j := k + 1; j < len(near) && near[j].first == h.first; j++ {
		if it.longer(h, &near[j], q) {
			return true
		}
	}
	return false
}

func (it *itemInfo) longer(h, o *hit, q *speech.Quantity) bool {
	return o.exact && (o.first >= q.Last || o.last <= q.NumberFirst) && o.last >= h.last && o.last-o.first > h.last-h.first &&
		slices.ContainsFunc(it.measures, func(m measureInfo) bool { return slices.Contains(m.near, o.phrase) })
}

// owner is what a tying phrase is tied to.
type owner struct {
	figure int  // the figure that it is tied to alone, -1 for none, or ofReason
	linked bool // by a word such as "for"
}

// owners gives what each tying phrase is tied to: "three for a single vehicle and four for a combination",
// "steers at least 2/32, and everything else has to have 4/32".
func (l *listening) owners(qs []speech.Quantity, near []hit) []owner {
	out := make([]owner, len(near))
	var reasons []int // tokens at which a reason begins
	for t := range l.toks {
		if explaining.at(l.toks, t) > 0 {
			reasons = append(reasons, t)
		}
	}
	for i, h := range near {
		out[i] = owner{figure: -1}
		if t := l.linkBefore(h); t >= 0 {
			out[i].linked = true
			for k := range qs {
				if qs[k].Last <= t && t-qs[k].Last <= reachOwner && !l.stopBetween(qs[k].Last-1, t) {
					out[i].figure = k
				}
			}
		}
		if out[i].figure >= 0 {
			continue
		}
		// Between two figures, the one in its own clause.
		b, _ := slices.BinarySearchFunc(qs, h.last, func(q speech.Quantity, t int) int { return cmp.Compare(q.First, t) })
		a := b - 1
		for a >= 0 && qs[a].Replaced {
			a--
		}
		for b < len(qs) && qs[b].Replaced {
			b++
		}
		if a >= 0 {
			if k, _ := slices.BinarySearch(reasons, qs[a].Last); k < len(reasons) && reasons[k] < h.first {
				out[i].figure = ofReason // "two, because in front you steer with it"
				continue
			}
		}
		if a < 0 || b == len(qs) || qs[a].Last > h.first || h.first-qs[a].Last > reachNearAfter || qs[b].NumberFirst-h.last > reachNear {
			continue
		}
		switch before, after := l.clauseEnds(qs[a].Last-1, h.first), l.clauseEnds(h.last-1, qs[b].First-1); {
		case before && !after:
			out[i].figure = b
		case !before && after:
			out[i].figure = a
		case !before && h.last == qs[b].First && slices.ContainsFunc(near, func(o hit) bool { return o.last == qs[a].First }):
			out[i].figure = b // "front four, back two"
		case !before && !after && verbs[l.toks[h.last].Text]:
			out[i].figure = b // "the front is four behind it can be two"
		}
	}
	return out
}

// linkBefore is the token of the "for", "on", "if", "when" or "with" that a tying
// phrase hangs on, -1 if there is none: "three for a single vehicle", "three if it
// was just a single vehicle".
func (l *listening) linkBefore(h hit) int {
	t := h.first - 1
	for t >= 0 && determiners[l.toks[t].Text] && l.toks[t].Text != "of" {
		t--
	}
	for k := t; k >= max(0, t-reachIf); k-- {
		switch w := l.toks[k].Text; {
		case w == "if" || w == "when" || w == "with" || k == t && (w == "for" || w == "on"):
			return k
		case !supposes[w] && !determiners[w]:
			return -1
		}
	}
	return -1
}

// ofReason is the owner of a tying phrase in a reason given for the figure before.
const ofReason = -2

// twice reports that the part has more than one number in a unit.
func (it *itemInfo) twice(unit string) bool {
	n := 0
	for _, m := range it.measures {
		if m.measure.Unit == unit {
			n++
		}
	}
	return n > 1
}

// clauseEnds reports that a clause ends behind token a or between it and token b.
func (l *listening) clauseEnds(a, b int) bool {
	for t := a; t <= b; t++ {
		if t < b && l.toks[t].Break >= speech.CommaBreak || t > a && (clauseStarts[l.toks[t].Text]) {
			return true
		}
	}
	return false
}

func (l *listening) candidates(out []candidate, qs []speech.Quantity, qi int, near []hit, owners []owner) []candidate {
	q := &qs[qi]
	if q.Replaces >= 0 {
		// A correction stands where the figure stood that it corrects.
		x := *q
		for k := q.Replaces; k >= 0; k = qs[k].Replaces {
			x.First, x.NumberFirst = qs[k].First, qs[k].NumberFirst
		}
		q = &x
	}
	seen := map[[2]int32]int{}
	mustTie := false
	consider := func(item int32, base float32, reason string) {
		it := &l.m.items[item]
		for k := range it.measures {
			c, ok := l.score(q, it, k, near, owners, qi)
			if !ok || mustTie && c.tied < scoreNear-0.06 && !(c.tied > 0 && thirtySeconds(q.Readings[c.reading])) {
				continue
			}
			c.quantity, c.item, c.measure, c.reason = qi, item, int32(k), reason
			c.score += base
			key := [2]int32{item, int32(k)}
			if at, ok := seen[key]; ok {
				if c.score > out[at].score {
					out[at] = c
				}
				continue
			}
			seen[key] = len(out)
			out = append(out, c)
		}
	}
	// Parts named before and after, the nearest ones first.
	from, end := l.mentionFrom(q.First-reachNumberBack), l.mentionFrom(q.Last+reachNumberAhead)
	others := 0
	var lastItem, nearest int32 = -1, -1
	for k := end - 1; k >= from; k-- {
		o := &l.mentions[k]
		if o.item < 0 {
			continue
		}
		switch {
		case o.first >= q.Last:
			gap := o.first - q.Last
			if l.stopBetween(q.Last-1, o.first) {
				gap += 8
			}
			consider(o.item, 0.72-0.035*float32(gap), "stated right before it")
		case o.last <= q.First:
			if o.item != lastItem && lastItem >= 0 {
				others++
			} else if lastItem < 0 {
				nearest = o.item
			}
			lastItem = o.item
			gap := q.First - o.last
			base := 0.85 - 0.009*float32(gap) - costOtherPart*float32(min(others, 3))
			if counts(&l.m.items[o.item]) && (l.stopBetween(o.last-1, q.First) && !l.recounts(o.last, q.First) || l.countsNext(q, o.item)) {
				base -= costSentence
			} else if others > 0 && counts(&l.m.items[o.item]) && !l.recounts(o.last, q.First) {
				continue // "spare fuses, like five of them" counts no triangles
			}
			consider(o.item, base, "stated of it")
		default:
			consider(o.item, 0.9, "stated with it")
		}
	}
	// The line where the student stands.
	if s := l.sightAt(q.First); s >= 0 {
		for _, item := range l.m.lines[l.sights[s].line].items {
			// A part not named is plainly meant when a word ties the number to it.
			mustTie = len(l.got[item].named) == 0
			if counts(&l.m.items[item]) && (l.countsNext(q, item) || nearest >= 0 && nearest != item) {
				continue
			}
			consider(item, 0.44, "stated where it is checked")
		}
	}
	return out
}

// thirtySeconds reports a figure in 1/32 inch, which nothing but tread is
// measured in.
func thirtySeconds(r speech.Reading) bool {
	return r.Unit == speech.Inch && r.Low.Denom().Cmp(big.NewInt(8)) > 0 && r.Low.Cmp(big.NewRat(1, 1)) < 0
}

// counts reports an item whose number is a plain count.
func counts(it *itemInfo) bool {
	for _, m := range it.measures {
		if m.measure.Unit == "count" {
			return true
		}
	}
	return false
}

// recounts reports that the count before token to is taken up again: "Two. No,
// wait, there's one more. Three."
func (l *listening) recounts(from, to int) bool {
	for t := max(from, to-reachRecount); t < to; t++ {
		if w := l.toks[t].Text; w == "wait" || w == "actually" || w == "sorry" {
			return true
		}
	}
	return false
}

// countsNext reports a figure that stands right before another part: "three
// triangles and one extinguisher".
func (l *listening) countsNext(q *speech.Quantity, item int32) bool {
	for k := l.mentionFrom(q.Last); k < len(l.mentions) && l.mentions[k].first <= q.Last+1; k++ {
		if o := &l.mentions[k]; o.item >= 0 && o.item != item {
			return true
		}
	}
	return false
}

func (l *listening) stopBetween(a, b int) bool {
	for t := max(0, a); t < b; t++ {
		if l.toks[t].Break == speech.StopBreak {
			return true
		}
	}
	return false
}

// mentionFrom is the first mention that begins at or after token t.
func (l *listening) mentionFrom(t int) int {
	i, _ := slices.BinarySearchFunc(l.mentions, t, func(o mention, t int) int { return cmp.Compare(o.first, t) })
	return i
}

// sightAt is the last sight at or before token t, -1 if there is none.
func (l *listening) sightAt(t int) int {
	i, found := slices.BinarySearchFunc(l.sights, t, func(s sight, t int) int { return cmp.Compare(s.token, t) })
	if found {
		return i
	}
	return i - 1
}

// score says how well a quantity fits a measure, before the place counts.
func (l *listening) score(q *speech.Quantity, it *itemInfo, k int, near []hit, owners []owner, qi int) (candidate, bool) {
	ms := it.measures[k]
	m := ms.measure
	c := candidate{reading: -1}
	isNear := len(ms.near) == 0
	tied, other := float32(0), float32(0)
	others := false // a word of its own clause ties it to another measure of the part
	lo, _ := slices.BinarySearchFunc(near, q.First-reachNear, func(h hit, t int) int { return cmp.Compare(h.first, t) })
	for j, h := range near[lo:] {
		if h.first > q.Last+reachNearAfter {
			break
		}
		if h.first < q.Last && h.last > q.NumberFirst {
			continue // the figure itself
		}
		own := owners[lo+j]
		if own.figure >= 0 && own.figure != qi || own.figure == ofReason && it.twice(m.Unit) {
			continue // said of another figure, or of none
		}
		if it.within(near, lo+j, q) {
			continue
		}
		// The closer the word, the surer.
		tie := scoreNear - 0.025*float32(max(0, q.NumberFirst-h.last))
		switch {
		case h.first >= q.Last:
			tie = scoreNear + scoreNearAfter - 0.03*float32(h.first-q.Last)
		case h.first >= q.First && h.last <= q.NumberFirst:
			tie = scoreNear / 2 // "at least" ties little
		}
		if slices.Contains(ms.near, h.phrase) {
			tied = max(tied, tie)
			continue
		}
		for j := range it.measures {
			if o := &it.measures[j]; o.measure.Unit == m.Unit && slices.Contains(o.near, h.phrase) {
				if other = max(other, tie); own.figure == qi {
					if h.first >= q.Last && own.linked {
						return c, false // it says itself what it is of
					}
					others = true
				}
			}
		}
	}
	if others && tied == 0 {
		return c, false
	}
	low, high, err := m.Range()
	if err != nil {
		return c, false
	}
	unit := float32(-1)
	for i, r := range q.Readings {
		fit := unitFit(r, m.Unit)
		if fit < 0 {
			continue
		}
		if c.reading < 0 || fit > unit || fit == unit && i < 3 && !accepted(m, q, q.Readings[c.reading]) && accepted(m, q, r) {
			unit, c.reading = fit, i
		}
	}
	if c.reading < 0 {
		return c, false
	}
	c.score = unit
	r := q.Readings[c.reading]
	bounded := q.Bound != speech.Exact && q.Bound != speech.About
	if m.Kind == rubric.LimitKind && !bounded && beyond(convert(r, m.Unit), m.Direction, low, high) && !l.required(q) {
		return c, false // "the gauge says 9/32" is what the part has, not what it needs
	}
	if unit == scoreBare && tied == 0 && !isNear && !(bounded && m.Kind == rubric.LimitKind) {
		if !l.lone(q, it, k, low, high) {
			return c, false
		}
		c.score += scoreLone
	}
	if m.Optional && !isNear && (tied == 0 || unit == scoreBare && tied < closeTie) {
		return c, false
	}
	if other > tied+0.05 {
		c.score -= costOtherTied
	}
	if q.Weak {
		c.score -= costWeak
	}
	if l.reason[q.NumberFirst] && !(bounded && m.Kind == rubric.LimitKind && l.required(q)) {
		c.score -= costReason
	}
	if c.tied = tied; tied > 0 {
		c.score += tied
	} else if !isNear {
		c.score -= 0.1
	}
	switch {
	case m.Kind == rubric.ReadingKind && bounded:
		return c, false // a gauge shows a figure, not a bound
	case m.Kind == rubric.LimitKind && bounded && q.Bound != speech.Between:
		c.score += scoreKind
	case m.Kind == rubric.LimitKind && siblingReading(it, k):
		// "i lost 2" is the gauge, "no more than 4" the limit.
		c.score -= scoreKind
	}
	if bounded && m.Direction == rubric.AnyDirection && q.Bound != speech.Between {
		c.score -= costBoundless // "before it drops under 55" is of no range
	}
	if bounded && m.Direction != rubric.AnyDirection {
		if against(m.Direction, pointing(q.Bound)) {
			c.score -= costAgainst
		} else {
			c.score += scoreAlong
		}
	}
	if m.Kind == rubric.ReadingKind && m.Optional && !accepted(m, q, r) {
		c.score -= costUnlike
	}
	if plausible(r, m.Unit, low, high) {
		c.score += scorePlausible
	} else {
		c.score -= costImplausible
	}
	return c, true
}

// lone reports a bare figure of two digits or more that the clause ends with, and
// that fits this measure of a part alone: "it cut itself, at 130".
func (l *listening) lone(q *speech.Quantity, it *itemInfo, k int, low, high *big.Rat) bool {
	r := q.Readings[0]
	if r.Unit != speech.NoUnit || r.Low.Cmp(big.NewRat(10, 1)) < 0 || it.measures[k].measure.Optional ||
		q.Last < len(l.toks) && l.toks[q.Last-1].Break == speech.NoBreak && !clauseStarts[l.toks[q.Last].Text] {
		return false
	}
	for j, o := range it.measures {
		if lo, hi, err := o.measure.Range(); j != k && err == nil && o.measure.Unit != "count" && plausible(r, o.measure.Unit, lo, hi) && !o.measure.Optional {
			return false
		}
	}
	return plausible(r, it.measures[k].measure.Unit, low, high)
}

// beyond reports a figure on the safe side of a limit.
func beyond(r speech.Reading, d rubric.Direction, low, high *big.Rat) bool {
	switch d {
	case rubric.AtLeast:
		return low != nil && r.Low.Cmp(low) > 0
	case rubric.AtMost:
		return high != nil && r.High.Cmp(high) < 0
	}
	return false
}

// required reports that the clause of a number says what must be, not what is.
func (l *listening) required(q *speech.Quantity) bool {
	for t := q.NumberFirst - 1; t >= max(0, q.NumberFirst-reachRequired) && l.toks[t].Break < speech.StopBreak; t-- {
		if requiring[l.toks[t].Text] {
			return true
		}
	}
	for t := q.Last; t < min(len(l.toks), q.Last+3) && l.toks[t-1].Break < speech.StopBreak && !clauseStarts[l.toks[t].Text]; t++ {
		switch l.toks[t].Text {
		case "minimum", "maximum", "min", "max", "limit", "allowed", "legal", "least", "most", "required":
			return true
		}
	}
	return false
}

// siblingReading reports that the item also has a reading in the same unit.
func siblingReading(it *itemInfo, k int) bool {
	for j := range it.measures {
		o := it.measures[j].measure
		if j != k && o.Kind == rubric.ReadingKind && o.Unit == it.measures[k].measure.Unit {
			return true
		}
	}
	return false
}

// against reports a bound that points the other way than the limit.
func against(d rubric.Direction, p rubric.Pointing) bool {
	return d == rubric.AtLeast && p == rubric.Downward || d == rubric.AtMost && p == rubric.Upward
}

// accepted reports whether a reading of the quantity would be right.
func accepted(m *rubric.Measure, q *speech.Quantity, r speech.Reading) bool {
	r = convert(r, m.Unit)
	return m.Judge(rubric.Statement{Low: r.Low, High: r.High, Pointing: pointing(q.Bound)}) == ""
}

// unitFit says how well a reading's unit fits a measure's: a score, -1 for not
// at all.
func unitFit(r speech.Reading, unit string) float32 {
	switch {
	case unit == "count":
		if r.Unit == speech.NoUnit && r.Low.IsInt() && r.Low.Cmp(big.NewRat(20, 1)) <= 0 {
			return scoreCount
		}
	case unit == "fraction":
		if r.Unit == speech.NoUnit && r.High.Cmp(big.NewRat(1, 1)) <= 0 && r.Low.Sign() > 0 {
			return scoreCount
		}
	case string(r.Unit) == unit:
		return scoreUnit
	case r.Unit == speech.NoUnit:
		return scoreBare
	default:
		if c := convert(r, unit); string(c.Unit) == unit {
			return scoreUnit
		}
	}
	return -1
}

// convert turns seconds and minutes into each other, and gives a bare number
// the measure's unit. Other readings come back as they are.
func convert(r speech.Reading, unit string) speech.Reading {
	scale := func(a, b int64) speech.Reading {
		f := big.NewRat(a, b)
		return speech.Reading{Low: new(big.Rat).Mul(r.Low, f), High: new(big.Rat).Mul(r.High, f), Unit: speech.Unit(unit)}
	}
	switch {
	case r.Unit == speech.Second && unit == "minute":
		return scale(1, 60)
	case r.Unit == speech.Minute && unit == "second":
		return scale(60, 1)
	case r.Unit == speech.Foot && unit == "inch":
		return scale(12, 1)
	case r.Unit == speech.NoUnit && unit != "count" && unit != "fraction":
		return speech.Reading{Low: r.Low, High: r.High, Unit: speech.Unit(unit)}
	}
	return r
}

// plausible reports a figure of the size that is spoken of: not under a quarter
// or over four times the accepted range.
func plausible(r speech.Reading, unit string, low, high *big.Rat) bool {
	r = convert(r, unit)
	four := big.NewRat(4, 1)
	if high == nil {
		high = low
	}
	if low == nil {
		low = new(big.Rat)
	}
	return r.High.Cmp(new(big.Rat).Quo(low, four)) >= 0 && r.Low.Cmp(new(big.Rat).Mul(high, four)) <= 0
}

func pointing(b speech.Bound) rubric.Pointing {
	switch b {
	case speech.AtLeast, speech.Above, speech.Before:
		return rubric.Upward
	case speech.AtMost, speech.Below:
		return rubric.Downward
	case speech.Between:
		return rubric.Range
	}
	return rubric.Flat
}
