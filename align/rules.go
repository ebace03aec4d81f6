package align

import (
	"fmt"
	"math/big"
	"slices"
	"strings"

	"markaround/rubric"
	"markaround/speech"
)

// findings holds the attempt, with its marks by item id, against the rubric's
// rules about order, holds and readings.
func (l *listening) findings(marks map[string]*rubric.ItemMark, holds []hold) []rubric.Finding {
	out := []rubric.Finding{}
	for _, r := range l.m.rubric.Order {
		a, b := marks[r.Before], marks[r.After]
		// An action is done when it is said. A step with a number may be spoken of
		// before it is done ("it must not lose more than 4"): there the last time
		// counts.
		at, bt := l.done(a, false), l.done(b, len(b.Measures) > 0)
		if at == nil || bt == nil || at.Start <= bt.Start {
			continue
		}
		out = append(out, rubric.Finding{
			Kind: rubric.OrderFinding, ID: r.Before + ">" + r.After,
			Text:   fmt.Sprintf("%s came before %s", b.Title, lowerFirst(a.Title)),
			Reason: r.Reason, Start: bt.Start, End: at.End, Critical: a.Critical || b.Critical,
			Evidence: []rubric.Evidence{*bt, *at},
		})
	}
	for _, h := range holds {
		if held := h.to.Start - h.from.End; held < h.rule.Seconds {
			out = append(out, rubric.Finding{
				Kind: rubric.HoldFinding, ID: h.rule.ID,
				Text:   fmt.Sprintf("%s: %.0f s of %.0f s by the %s", h.rule.Title, max(0, held), h.rule.Seconds, l.clock()),
				Reason: h.rule.Reason, Start: h.from.Start, End: h.to.End,
				Evidence: []rubric.Evidence{*h.from, *h.to},
			})
		}
	}
	for _, g := range l.m.rubric.Agreements {
		if f, ok := l.agreement(g); ok {
			out = append(out, f)
		}
	}
	return out
}

// done is the evidence of the moment when a step was done: the first words that
// name it, or the last, where it belongs. Words with something said of them
// count before bare ones.
func (l *listening) done(m *rubric.ItemMark, last bool) *rubric.Evidence {
	if m == nil || m.Mark == rubric.Missed {
		return nil
	}
	item, ok := l.m.byID[m.ID]
	if !ok {
		return nil
	}
	var pick *rubric.Evidence
	consider := func(e rubric.Evidence) {
		if pick == nil || last && e.Start > pick.Start || !last && e.Start < pick.Start {
			pick = &e
		}
	}
	from, to := l.stay(l.m.lines[l.m.items[item].line].section)
	for _, bare := range []bool{false, true} {
		for _, n := range l.got[item].named {
			if o := &l.mentions[n.mention]; o.place >= 0.9 && o.first >= from && o.first < to && (n.used || bare && !n.passing) {
				consider(l.evidence(o.first, o.last, o.score, "named"))
			}
		}
		if pick != nil && last {
			break
		}
	}
	for k, st := range l.got[item].measures {
		if len(st) > 0 && !l.m.items[item].measures[k].measure.Optional {
			x := st[0]
			if last {
				x = st[len(st)-1]
			}
			consider(l.evidence(x.first, x.last, x.confidence, x.reason))
		}
	}
	if pick == nil {
		for _, e := range m.Named {
			consider(e)
		}
	}
	return pick
}

// stay is the main stay in a section, as tokens [from:to): of the runs of parts
// of the section that lie close together, the one with the most parts. A step
// named elsewhere ("i push the yellow in" for another test) was not done there.
func (l *listening) stay(section int32) (from, to int) {
	best := 0
	parts := map[int32]bool{}
	first, last, foreign := -1, -1, 0
	for i := range l.mentions {
		o := &l.mentions[i]
		if o.item < 0 || o.place < 0.9 {
			continue
		}
		if l.m.lines[l.m.items[o.item].line].section != section {
			foreign++
			continue
		}
		if first < 0 || foreign > strayParts || o.first-last > reachStay {
			first, parts = o.first, map[int32]bool{}
		}
		last, foreign = o.last, 0
		parts[o.item] = true
		if len(parts) >= best {
			best, from, to = len(parts), first, last
		}
	}
	return from, to
}

// How far apart two parts of one stay may be named, in tokens, and how many
// parts of other sections may be named between them.
const (
	reachStay  = 90
	strayParts = 2
)

// hold is a test that must last, with the words that began and ended it.
type hold struct {
	rule     rubric.Hold
	from, to *rubric.Evidence
}

// holds are the holds of which both ends were said.
func (l *listening) holds(marks map[string]*rubric.ItemMark) (out []hold) {
	for _, h := range l.m.rubric.Holds {
		if from := l.done(marks[h.From], false); from != nil {
			if to := ending(from, marks[h.To]); to != nil {
				out = append(out, hold{h, from, to})
			}
		}
	}
	return out
}

// ending is the evidence that ends a hold begun with from: the last of the item,
// nil if none comes after.
func ending(from *rubric.Evidence, to *rubric.ItemMark) *rubric.Evidence {
	if to == nil || to.Mark == rubric.Missed {
		return nil
	}
	var best *rubric.Evidence
	consider := func(list []rubric.Evidence) {
		for _, e := range list {
			// Words in the same breath announce the test, they do not end it.
			if e.Start > from.End+4 && (best == nil || e.Start > best.Start) {
				x := e
				best = &x
			}
		}
	}
	consider(to.Named)
	for _, m := range to.Measures {
		consider(m.Evidence)
	}
	return best
}

// agreement holds stated readings against each other.
func (l *listening) agreement(g rubric.Agreement) (rubric.Finding, bool) {
	a, as := l.lastStated(g.Start)
	b, bs := l.lastStated(g.End)
	c, cs := l.lastStated(g.Loss)
	if c == nil {
		if cs = l.lossRead(g); cs == nil {
			return rubric.Finding{}, false
		}
		c = cs.reading.Low
	}
	if a == nil || b == nil {
		if as, bs = l.gauge(g, cs); as == nil {
			return rubric.Finding{}, false
		}
		a, b = as.reading.Low, bs.reading.Low
	}
	within, err := rubric.ParseRational(g.Within)
	if err != nil {
		within = new(big.Rat)
	}
	loss := new(big.Rat).Sub(a, b)
	diff := new(big.Rat).Sub(loss, c)
	if diff.Abs(diff).Cmp(within) <= 0 {
		return rubric.Finding{}, false
	}
	ev := []rubric.Evidence{l.evidence(as.first, as.last, as.confidence, "first reading"), l.evidence(bs.first, bs.last, bs.confidence, "second reading"),
		l.evidence(cs.first, cs.last, cs.confidence, "loss stated")}
	item, _, _ := strings.Cut(g.Loss, "/")
	return rubric.Finding{Kind: rubric.ReadingFinding, ID: item,
		Text:   fmt.Sprintf("from %s to %s is a loss of %s, stated was %s", a.RatString(), l.amount(g.End, b), l.amount(g.Loss, loss), l.amount(g.Loss, c)),
		Reason: g.Reason, Start: ev[0].Start, End: ev[2].End, Evidence: ev}, true
}

// How far a loss may stand behind the reading that it comes from, and the words
// that make it one from the figure, in tokens.
const (
	reachLossRead = 16
	reachLossWord = 5
)

// lossRead finds a loss that was taken for the limit or for nothing: the first
// figure behind two gauge readings that a word of losing stands by ("says 120, so
// I lost 2, and the most is 4").
func (l *listening) lossRead(g rubric.Agreement) *stated {
	item, id, _ := strings.Cut(g.Loss, "/")
	i, ok := l.m.byID[item]
	if !ok {
		return nil
	}
	k := slices.IndexFunc(l.m.items[i].measures, func(m measureInfo) bool { return m.measure.ID == id })
	if k < 0 {
		return nil
	}
	m := &l.m.items[i].measures[k]
	for n := range l.quantities {
		q := &l.quantities[n]
		r := q.Readings[0]
		if q.Bound != speech.Exact || q.Replaced || r.Low.Cmp(r.High) != 0 || r.Unit != speech.NoUnit && string(r.Unit) != m.measure.Unit {
			continue
		}
		tied := slices.ContainsFunc(l.hits, func(h hit) bool {
			return slices.Contains(m.near, h.phrase) && (h.last <= q.First && q.First-h.last < reachLossWord || h.first >= q.Last && h.first-q.Last < reachLossWord)
		})
		if !tied {
			continue
		}
		x := &stated{reading: speech.Reading{Low: r.Low, High: r.High, Unit: speech.Unit(m.measure.Unit)}, bound: q.Bound, first: q.First, last: q.Last, confidence: 0.8}
		if _, end := l.gauge(g, x); end != nil && q.First-end.last <= reachLossRead {
			return x
		}
	}
	return nil
}

// reachGauge is how far before the loss, in tokens, the gauge is read first.
const reachGauge = 80

// gauge finds the two readings that a stated loss is the difference of, where
// nothing else says which they are: "I'm at 120 ... that's a minute, says 114, so
// I lost 3". Of the figures before the loss that the gauge may show and that are
// no other part's, they are the first and the last.
func (l *listening) gauge(g rubric.Agreement, loss *stated) (start, end *stated) {
	item, _, _ := strings.Cut(g.Loss, "/")
	from, to := l.measureOf(g.Start), l.measureOf(g.End)
	if from == nil || to == nil {
		return nil, nil
	}
	shows := func(m *rubric.Measure, v *big.Rat) bool {
		return m.Judge(rubric.Statement{Low: v, High: v}) == ""
	}
	others := map[int]bool{}
	for i := range l.got {
		if l.m.items[i].item.ID == item {
			continue
		}
		for k, list := range l.got[i].measures {
			for _, x := range list {
				if !l.m.items[i].measures[k].measure.Optional {
					others[x.first] = true
				}
			}
		}
	}
	unit := from.Unit
	for i := range l.quantities {
		q := &l.quantities[i]
		if q.First >= loss.first {
			break
		}
		if q.First < loss.first-reachGauge || q.Replaced || q.Weak || others[q.First] || q.Bound != speech.Exact && q.Bound != speech.About && q.Bound != speech.Before {
			continue // "before 108, now 104" is no bound
		}
		for _, r := range q.Readings {
			if r.Low.Cmp(r.High) != 0 || r.Unit != speech.NoUnit && string(r.Unit) != unit {
				continue
			}
			x := &stated{reading: r, bound: q.Bound, first: q.First, last: q.Last, confidence: 0.8}
			switch {
			case start == nil && shows(from, r.Low):
				start = x
			case start != nil && shows(to, r.Low):
				end = x
			default:
				continue
			}
			break
		}
	}
	if end == nil {
		return nil, nil
	}
	return start, end
}

// measureOf is the measure that an "item/measure" reference names, nil if none.
func (l *listening) measureOf(ref string) *rubric.Measure {
	item, id, _ := strings.Cut(ref, "/")
	if it := l.m.rubric.Item(item); it != nil {
		return it.Measure(id)
	}
	return nil
}

// amount writes a figure with the unit of a measure.
func (l *listening) amount(ref string, v *big.Rat) string {
	if m := l.measureOf(ref); m != nil {
		return speech.FormatQuantity(speech.Reading{Low: v, High: v, Unit: speech.Unit(m.Unit)}, speech.Exact)
	}
	return v.RatString()
}

// lastStated is the last single figure stated for an "item/measure" reference.
func (l *listening) lastStated(ref string) (*big.Rat, *stated) {
	st := l.measure(ref)
	if st == nil {
		return nil, nil
	}
	for j := len(*st) - 1; j >= 0; j-- {
		if x := &(*st)[j]; x.bound == speech.Exact || x.bound == speech.About {
			return x.reading.Low, x
		}
	}
	return nil, nil
}

func lowerFirst(s string) string {
	if len(s) > 1 && s[1] >= 'a' && s[1] <= 'z' {
		return string(s[0]|0x20) + s[1:]
	}
	return s
}
