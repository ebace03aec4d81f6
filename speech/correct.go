package speech

import (
	"math/big"
	"slices"
)

// correctionGap is how many items may lie between a figure and its correction.
const correctionGap = 10

// corrections finds the figures that were taken back: "sixty, no, fifty-five".
// spans holds the items of each quantity.
func (p *parser) corrections(qs []Quantity, spans []span) {
	for i := 1; i < len(qs); i++ {
		a, b := &qs[i-1], &qs[i]
		lo, hi := spans[i-1].end, spans[i].first
		if hi-lo > correctionGap || a.Weak || b.Weak {
			continue
		}
		switch p.gap(lo, hi) {
		case takesBack:
			if !compatible(a, b, false) {
				continue
			}
		case takesBackPlainly:
			if !compatible(a, b, true) {
				continue
			}
		case denies: // "fifty-five, not sixty"
			if compatible(a, b, false) && b.Bound == Exact {
				b.Replaced = true
			}
			continue
		default:
			// "not sixty, fifty-five"
			if lo == hi && a.Bound == Exact && b.Bound == Exact && spans[i-1].first > 0 && p.text(spans[i-1].first-1) == "not" && compatible(a, b, false) {
				break
			}
			continue
		}
		b.Replaces, a.Replaced = i-1, true
		inherit(a, b)
	}
}

// counted leaves of figures counted up one by one only the last: "1, 2, 3". A
// figure ruled out is none: "the front is not 2/32".
func (p *parser) counted(qs []Quantity, spans []span) {
	for i := range qs {
		if qs[i].Bound == Exact && spans[i].first > 0 && p.text(spans[i].first-1) == "not" && p.text(spans[i].first-2) != "if" {
			qs[i].Replaced = true
		}
	}
	for i := 0; i < len(qs); {
		k := i
		for k < len(qs) && whole(int64(k-i+1)).rat().Cmp(qs[k].Readings[0].Low) == 0 && qs[k].Bound == Exact && qs[k].Readings[0].Unit == NoUnit &&
			(k == i || spans[k].first == spans[k-1].end) {
			k++
		}
		for j := i; j < k-1; j++ {
			qs[j].Replaced = true
		}
		i = max(k, i+1)
	}
}

// alternatives lets two figures with nothing but "or" between them share what
// was said once: "3 or 4 psi", "no more than 10 degrees or 2 inches".
func (p *parser) alternatives(qs []Quantity, spans []span) {
	for i := 1; i < len(qs); i++ {
		a, b := &qs[i-1], &qs[i]
		lo := spans[i-1].end
		p.carryNegation(a, b, spans[i-1], spans[i])
		if spans[i].first != lo+1 || p.text(lo) != "or" && p.text(lo) != "nor" {
			continue
		}
		if b.Bound == Exact && a.Bound != Between {
			b.Bound = a.Bound
		}
		if a.Readings[0].Unit == NoUnit && b.Readings[0].Unit != NoUnit {
			shareUnit(a, b.Readings[0].Unit)
		}
	}
}

// carryOver32 lets a small bare figure behind one of 32nds be of 32nds as well:
// "four 32nds on the steers and it's two for all the other ones".
func (p *parser) carryOver32(qs []Quantity, spans []span) {
	const reach = 12 // items between
	over32 := -1
	for i := range qs {
		q := &qs[i]
		r := q.Readings[0]
		if r.Unit == Inch && r.Low.Denom().IsInt64() && r.Low.Denom().Int64() > 4 {
			over32 = i
			if i > 0 && spans[i].first-spans[i-1].end <= 1 && qs[i-1].Readings[0].Unit == NoUnit &&
				new(big.Rat).Mul(r.Low, big.NewRat(32, 1)).Cmp(qs[i-1].Readings[0].Low) == 0 {
				qs[i-1].Replaced = true // "four, 4/32": begun anew
			}
			continue
		}
		if over32 != i-1 || i == 0 || len(q.Readings) > 1 || r.Unit != NoUnit || spans[i].first-spans[i-1].end > reach || q.Last-q.NumberFirst > 3 {
			continue
		}
		if n := r.Low.Num().Int64(); !r.Low.IsInt() || n < 1 || n > 12 {
			continue
		}
		if e := spans[i].end; e < len(p.w) && p.near(e) && !before32[p.text(e)] {
			continue // "two lug nuts"
		}
		with := Reading{Low: new(big.Rat).Quo(r.Low, big.NewRat(32, 1)), Unit: Inch}
		with.High = new(big.Rat).Quo(r.High, big.NewRat(32, 1))
		q.Readings = append([]Reading{with}, q.Readings...)
		over32 = i
	}
}

// before32 are words that may follow a depth whose 32nds were left out.
var before32 = map[string]bool{"for": true, "is": true, "up": true, "on": true, "everywhere": true, "all": true, "back": true, "in": true, "at": true, "and": true, "or": true, "minimum": true, "any": true}

// carryNegation turns the bound of b where the negation of a covers both: "not
// less than 100 or more than 120", "can't be less than 4/32 on the front or less
// than 2/32 on the back".
func (p *parser) carryNegation(a, b *Quantity, sa, sb span) {
	negated := p.is(sa.first, fNegation) || p.text(sa.first) == "no"
	if !negated || a.Bound != AtLeast && a.Bound != AtMost || b.Bound != Above && b.Bound != Below {
		return
	}
	if sb.first <= sa.end || sb.first-sa.end > 6 || !compatible(a, b, false) {
		return
	}
	for k := sa.end; k < sb.first; k++ {
		if p.w[k-1].brk == StopBreak {
			return
		}
	}
	switch p.text(sb.first - 1) {
	case "or", "nor":
	case "and":
		if opposite(b.Bound) != a.Bound {
			return
		}
	default:
		return
	}
	b.Bound = opposite(b.Bound)
}

// shareUnit puts a reading of q's figure in unit u before the others.
func shareUnit(q *Quantity, u Unit) {
	if q.has(u) {
		return
	}
	with := q.Readings[0]
	with.Unit = u
	q.Readings = append([]Reading{with}, q.Readings...)
}

// has tells whether one of q's readings is in unit u.
func (q *Quantity) has(u Unit) bool {
	return slices.ContainsFunc(q.Readings, func(r Reading) bool { return r.Unit == u })
}

// span is the items [first:end) of a quantity.
type span struct{ first, end int }

type gapKind uint8

const (
	nothing          gapKind = iota
	takesBack                // a weak cue with only fillers round it
	takesBackPlainly         // a strong cue
	denies                   // not
)

// takingBack lists the cues of two words that are as plain as "sorry".
var takingBack = map[[2]string]bool{
	{"i", "mean"}: true, {"i", "meant"}: true, {"make", "that"}: true, {"scratch", "that"}: true, {"scratch", "it"}: true,
	{"strike", "that"}: true, {"excuse", "me"}: true, {"correct", "that"}: true, {"correct", "myself"}: true,
	{"my", "bad"}: true, {"my", "mistake"}: true,
}

// holdingOn are words that, after a "no", take back a figure whatever follows.
var holdingOn = map[[2]string]bool{{"hold", "on"}: true, {"hang", "on"}: true, {"hold", "up"}: true, {"let", "me"}: true, {"i", "lied"}: true, {"i'm", "lying"}: true,
	{"looking", "at"}: true, {"lookin", "at"}: true, {"i", "was"}: true, {"i", "looked"}: true, {"i", "misread"}: true, {"i", "read"}: true,
	{"wrong", "needle"}: true, {"wrong", "gauge"}: true, {"that", "was"}: true, {"that's", "the"}: true}

// gap says what the items [lo:hi) between two figures do to the first.
func (p *parser) gap(lo, hi int) gapKind {
	if hi-lo == 1 && p.text(lo) == "not" {
		return denies
	}
	weak, strong, filler := false, false, true
	explicit := false // "scratch that": whatever comes between
	words := 0        // others than fillers since the cue
	for k := lo; k < hi; k++ {
		it := p.at(k)
		pair := p.text(k + 1)
		switch {
		case it.flags&fStrongCue != 0, k+1 < hi && takingBack[[2]string{it.text, pair}],
			it.text == "take" && pair == "that" && p.text(k+2) == "back":
			strong, words = true, 0
			explicit = explicit || it.text != "sorry" && it.text != "i" && it.text != "excuse" && it.text != "oops"
		case weak && k+1 < hi && holdingOn[[2]string{it.text, pair}]:
			strong, explicit, words = true, true, 0 // "no, hold on, let me look straight at it"
		case it.flags&fCue != 0:
			weak = true
		}
		if it.flags&fGap == 0 && !(weak && (it.text == "like" || it.text == "more" && pair == "like" || it.text == "really" || it.text == "supposed" || it.text == "gotta" || it.class == cPart)) {
			filler = false
			words++
		}
	}
	switch {
	case strong && (explicit || words <= 1):
		return takesBackPlainly
	case weak && filler && p.text(hi-1) != "than" && p.text(hi-1) != "and":
		return takesBack
	}
	return nothing
}

// compatible reports whether b can correct a: they share a unit, or one has
// none. Without a plain cue, a time does not correct a bare figure.
func compatible(a, b *Quantity, plainly bool) bool {
	switch {
	case b.has(NoUnit), slices.ContainsFunc(a.Readings, func(r Reading) bool { return b.has(r.Unit) }):
		return true
	case !a.has(NoUnit):
		return false
	}
	u := b.Readings[0].Unit
	return plainly || u != Second && u != Minute
}

// inherit gives a correction the unit and the bound of the figure it replaces
// where it has none of its own.
func inherit(a, b *Quantity) {
	if b.Bound == Exact && a.Bound != Between {
		b.Bound = a.Bound
	}
	if b.Readings[0].Unit == NoUnit && a.Readings[0].Unit != NoUnit {
		shareUnit(b, a.Readings[0].Unit)
	}
}
