package align

import (
	"cmp"
	"slices"
	"strings"

	"markaround/speech"
)

// A mention is a place in the transcript that names one of several items.
type mention struct {
	phrase      *phrase
	first, last int     // tokens [first:last)
	score       float32 // of the phrase found
	strong      bool
	exact       bool
	bound       bool      // said of how a number points: names only what is at hand
	weight      float32   // for the path
	names       []int32   // items it may be
	inner       []mention // shorter phrases inside this one, which may fit the place better
	item        int32     // the one chosen, -1 if none
	place       float32   // how well it fits the path, 0..1
}

// A sight is anything that tells where the student stands: a mention, or the
// announcement of a line or a section.
type sight struct {
	token    int
	mention  int32   // index into mentions, -1 for an announcement
	lines    []int32 // lines it speaks for
	again    []bool  // by line: its part was done with a while ago; nil on the first way
	inner    []int32 // lines that words inside it speak for
	weight   float32
	announce bool    // the student says that he goes to another section
	pause    float32 // what a break before it takes off the cost of moving
	line     int32   // where the student stands, by the path
}

// Costs of moving between the lines of the sheet, in units of one clear
// mention. Staying is free and the usual way through a section nearly so; a
// jump to a far section has to be paid for by more than one stray mention.
const (
	costNextLine    = 0.02
	costSameSection = 0.15
	costSamePlace   = 0.26
	costNextSection = 0.45
	costLastSection = 0.60
	costJump        = 1.30
	discountPause   = 0.06 // off a move right after a break: it decides between equal ways
)

// A condition owned by at most fewLines lines counts a little for them.
const (
	fewLines        = 3
	weightCondition = 0.2
)

// innerShare is what the shorter phrases inside a mention count for the path.
const innerShare = 0.6

// shareAgain is what a mention counts for a line whose part was named a while
// ago already, when it may name a new part elsewhere.
const shareAgain = 0.45

// mentions turns the phrases found into mentions: the longest phrase over a
// stretch of words wins, phrases over the same words share it.
func (m *Matcher) mentions(hits []hit, numbers []speech.Quantity, toks []speech.Token) []mention {
	var cand []hit
	bound := map[int]bool{} // tokens that say how a number points
	states := map[int]int{} // token → length of the longest condition whose very word it is
	for _, h := range hits {
		if h.exact && len(h.phrase.good)+len(h.phrase.bad) > 0 {
			for t := h.first; t < h.last; t++ {
				states[t] = max(states[t], h.last-h.first)
			}
		}
	}
	for _, q := range numbers {
		// "before it drops below 55" speaks of a bound, not of a drop.
		for t := q.First; t < q.NumberFirst; t++ {
			bound[t] = true
		}
	}
	for k, h := range hits {
		// "mounted" is a condition, though "mounts" is a part.
		if len(h.phrase.names) == 0 || !h.exact && h.phrase.heavy == 1 && states[h.first] > 0 {
			continue
		}
		// "line" is no "lining", though of one stem: a single word names a part as
		// it is or in the plural.
		if len(h.phrase.words) == 1 && !h.exact && h.score >= simStem && !samePlural(toks[h.first].Text, m.finder.lex.words[h.phrase.words[0]].text) {
			continue
		}
		// "bolted to the frame" is a condition, not the frame; "oil on the
		// ground" is one of the ground itself.
		if n := h.last - h.first; states[h.first] > n && states[h.last-1] > n && !m.ownCondition(&h, hits, k) {
			continue
		}
		cand = append(cand, h)
	}
	chosen := schedule(cand)
	var out []mention
	for _, group := range chosen {
		n := newMention(group[0])
		for _, h := range group[1:] {
			for _, x := range h.phrase.names {
				n.names = once(n.names, x)
			}
			n.strong = n.strong || h.phrase.strong && h.exact
		}
		if a := begins(cand, &n, toks); a != nil {
			// "the headlights and the high beams" are two parts.
			out = append(out, newMention(*a))
			n.first = a.last + 1
		}
		if n.phrase.heavy == 1 && states[n.first] > 0 {
			n.weight *= 0.5
		}
		if n.phrase.heavy < 2 && bound[n.first] {
			n.bound = true
			n.weight *= 0.3
		}
		if len(n.phrase.words) == 1 && n.score < leastSingle {
			n.weight *= 0.6
			n.strong = false
		}
		out = append(out, n)
	}
	// What lies inside a longer phrase may fit the place better than the whole.
	k := 0
	for _, h := range cand {
		for k < len(out) && out[k].last <= h.first {
			k++
		}
		if k < len(out) && h.score > 0.95 && out[k].first <= h.first && h.last <= out[k].last && h.last-h.first < out[k].last-out[k].first {
			out[k].inner = addInner(out[k].inner, newMention(h))
		}
	}
	return out
}

// begins gives the name of another part that a mention begins with, before "and the".
func begins(cand []hit, n *mention, toks []speech.Token) *hit {
	at, _ := slices.BinarySearchFunc(cand, n.first, func(h hit, t int) int { return cmp.Compare(h.first, t) })
	var best *hit
	for ; at < len(cand) && cand[at].first == n.first; at++ {
		h := &cand[at]
		if h.exact && h.last < n.last-1 && toks[h.last].Text == "and" && articles[toks[h.last+1].Text] && len(h.phrase.names) == 1 &&
			!slices.Contains(n.names, h.phrase.names[0]) && (best == nil || h.last > best.last) {
			best = h
		}
	}
	return best
}

// samePlural reports two words that differ by an ending of number alone.
func samePlural(a, b string) bool {
	if len(a) > len(b) {
		a, b = b, a
	}
	switch rest, ok := strings.CutPrefix(b, a); {
	case ok:
		return rest == "" || rest == "s" || rest == "es" || rest == "'s"
	case strings.HasSuffix(a, "y"):
		return b == a[:len(a)-1]+"ies"
	}
	return false
}

// ownCondition reports that hit k, the name h, lies inside a condition that the
// item itself has.
func (m *Matcher) ownCondition(h *hit, hits []hit, k int) bool {
	for j := k; j >= 0 && hits[j].first > h.first-8; j-- {
		o := &hits[j]
		if o.first > h.first || o.last < h.last || len(o.phrase.good)+len(o.phrase.bad) == 0 {
			continue
		}
		for _, n := range h.phrase.names {
			for _, c := range m.items[n].checks {
				if slices.Contains(o.phrase.good, c.set) || slices.Contains(o.phrase.bad, c.set) {
					return true
				}
			}
		}
	}
	return false
}

// schedule picks the phrases that cover the words best without overlap
// (weighted interval scheduling): the most matched weight in the fewest
// phrases. Phrases over the very same words come as one group, best first.
func schedule(cand []hit) [][]hit {
	slices.SortStableFunc(cand, func(a, b hit) int {
		if c := cmp.Compare(a.first, b.first); c != 0 {
			return c
		}
		if c := cmp.Compare(a.last, b.last); c != 0 {
			return c
		}
		if a.exact != b.exact {
			if a.exact {
				return -1
			}
			return 1
		}
		return cmp.Compare(b.value(), a.value())
	})
	var groups [][]hit
	for _, h := range cand {
		if n := len(groups); n > 0 && groups[n-1][0].first == h.first && groups[n-1][0].last == h.last {
			// An inflection does not share the words with what was said exactly.
			if g := groups[n-1]; (h.exact || !g[0].exact) && h.score >= g[0].score-0.12 {
				groups[n-1] = append(g, h)
			}
			continue
		}
		groups = append(groups, []hit{h})
	}
	slices.SortStableFunc(groups, func(a, b []hit) int { return cmp.Compare(a[0].last, b[0].last) })
	best := make([]float32, len(groups)+1)
	take := make([]bool, len(groups)+1)
	before := make([]int, len(groups)+1)
	for i, g := range groups {
		// The groups that end before this one begins.
		n, _ := slices.BinarySearchFunc(groups[:i], g[0].first+1, func(o []hit, t int) int { return cmp.Compare(o[0].last, t) })
		before[i+1] = n
		best[i+1] = best[i]
		if v := best[n] + g[0].value(); v > best[i] {
			best[i+1], take[i+1] = v, true
		}
	}
	var out [][]hit
	for i := len(groups); i > 0; {
		if take[i] {
			out = append(out, groups[i-1])
			i = before[i]
		} else {
			i--
		}
	}
	slices.Reverse(out)
	return out
}

// value of a phrase found, for the schedule: what it matched, less a little for
// each phrase so that one long phrase wins over its parts.
func (h hit) value() float32 { return float32(h.phrase.heavy)*h.score*h.score - 0.2 }

// walked reports that the place is announced rather than spoken of: alone
// between breaks, or after a word of going there.
func walked(toks []speech.Token, first, last int) bool {
	if toks[last-1].Break == speech.StopBreak && (first == 0 || toks[first-1].Break == speech.StopBreak) {
		return true
	}
	for k := first - 1; k >= max(0, first-4) && toks[k].Break < speech.StopBreak; k-- {
		switch w := toks[k].Text; {
		case going[w]:
			return true
		case !prepositions[w] && !determiners[w] && !fillers[w]:
			return false
		}
	}
	return false
}

// nested reports that hit i lies inside a longer one that names or announces:
// "trailer" in "back of the trailer" is no announcement of its own.
func nested(hits []hit, i int) bool {
	h := &hits[i]
	for j := max(0, i-40); j < len(hits) && hits[j].first <= h.first; j++ {
		o := &hits[j]
		if o.last >= h.last && o.last-o.first > h.last-h.first && len(o.phrase.places)+len(o.phrase.lines)+len(o.phrase.names)+len(o.phrase.good)+len(o.phrase.bad) > 0 {
			return true
		}
	}
	return false
}

func newMention(h hit) mention {
	w := float32(1)
	if h.phrase.heavy == 1 {
		w = 0.62
	}
	return mention{phrase: h.phrase, first: h.first, last: h.last, score: h.score, strong: h.phrase.strong && h.exact, exact: h.exact, weight: w * h.score,
		names: slices.Clone(h.phrase.names), item: -1}
}

// addInner keeps inner mentions apart by place; one over the same words as
// another shares its names.
func addInner(inner []mention, n mention) []mention {
	for i := range inner {
		o := &inner[i]
		if o.first == n.first && o.last == n.last {
			for _, x := range n.names {
				o.names = once(o.names, x)
			}
			return inner
		}
		if o.first < n.last && n.first < o.last {
			return inner
		}
	}
	return append(inner, n)
}

// sights puts the mentions and the announcements in order.
func (m *Matcher) sights(hits []hit, ms []mention, toks []speech.Token) []sight {
	var out []sight
	for i := range ms {
		var lines []int32
		for _, n := range ms[i].names {
			lines = once(lines, m.items[n].line)
		}
		var inner []int32
		for _, in := range ms[i].inner {
			for _, n := range in.names {
				if l := m.items[n].line; !slices.Contains(lines, l) {
					inner = once(inner, l)
				}
			}
		}
		out = append(out, sight{token: ms[i].first, mention: int32(i), lines: lines, inner: inner, weight: ms[i].weight})
	}
	for _, h := range hits {
		// A condition that few parts have tells the place too ("a gentle tug").
		if len(h.phrase.good)+len(h.phrase.bad) == 0 || len(h.phrase.names) > 0 || !h.exact {
			continue
		}
		var lines []int32
		for _, list := range [][]int32{h.phrase.good, h.phrase.bad} {
			for _, set := range list {
				for _, l := range m.owners[set] {
					lines = once(lines, l)
				}
			}
		}
		if len(lines) <= fewLines {
			out = append(out, sight{token: h.first, mention: -1, lines: lines, weight: weightCondition})
		}
	}
	for i, h := range hits {
		if len(h.phrase.lines)+len(h.phrase.places) == 0 || h.phrase.heavy < 2 && !h.exact || nested(hits, i) {
			continue
		}
		var lines []int32
		w := float32(0)
		for _, l := range h.phrase.lines {
			lines = append(lines, l)
			w = 0.5 * h.score
		}
		for _, p := range h.phrase.places {
			for l := range m.lines {
				if m.lines[l].section == p && !slices.Contains(lines, int32(l)) {
					lines = append(lines, int32(l))
				}
			}
			w = 0.3 * h.score
			if h.phrase.heavy > 1 || walked(toks, h.first, h.last) {
				w = 1.1 * h.score
			}
		}
		if lines != nil {
			out = append(out, sight{token: h.first, mention: -1, lines: lines, weight: w, announce: len(h.phrase.places) > 0 && w > 0.5})
		}
	}
	slices.SortStableFunc(out, func(a, b sight) int { return cmp.Compare(a.token, b.token) })
	for i := range out {
		for t := max(0, out[i].token-3); t < out[i].token; t++ {
			if toks[t].Break == speech.StopBreak {
				out[i].pause = discountPause
			}
		}
	}
	return out
}

// path finds where the student stood: for each sight the line of the sheet, by
// the cheapest way through all sights (Viterbi over the lines). Linear in the
// sights.
func (m *Matcher) path(sights []sight) []int32 {
	n := len(m.lines)
	if len(sights) == 0 || n == 0 {
		return nil
	}
	const none = -1e9
	prev, cur := make([]float32, n), make([]float32, n)
	back := make([][]int32, len(sights))
	for l := range prev {
		// An attempt may begin anywhere, most begin at the top.
		prev[l] = -0.3
		if m.lines[l].section == 0 {
			prev[l] = 0
		}
	}
	nsec := len(m.sections)
	secBest, secAt := make([]float32, nsec), make([]int32, nsec)
	for k, s := range sights {
		best, bestAt := float32(none), int32(-1)
		for i := range secBest {
			secBest[i] = none
		}
		for l := range prev {
			v := prev[l]
			sec := m.lines[l].section
			if v > secBest[sec] {
				secBest[sec], secAt[sec] = v, int32(l)
			}
			if v > best {
				best, bestAt = v, int32(l)
			}
		}
		b := make([]int32, n)
		for l := range cur {
			sec := m.lines[l].section
			v, from := prev[l], int32(l)
			// On a tie the later move wins: a student is where he was last.
			move := func(x float32, at int32) {
				if m.lines[at].section != sec {
					x += s.pause
				}
				if x >= v && at != int32(l) {
					v, from = x, at
				}
			}
			if l > 0 && m.lines[l-1].section == sec {
				move(prev[l-1]-costNextLine, int32(l-1))
			}
			move(secBest[sec]-costSameSection, secAt[sec])
			for _, p := range m.sections[sec].samePlace {
				move(secBest[p]-costSamePlace, secAt[p])
			}
			if sec > 0 {
				move(secBest[sec-1]-costNextSection, secAt[sec-1])
			}
			if int(sec)+1 < nsec {
				move(secBest[sec+1]-costLastSection, secAt[sec+1])
			}
			move(best-costJump, bestAt)
			cur[l], b[l] = v, from
		}
		for i, l := range s.lines {
			w := s.weight * m.lines[l].share
			if s.again != nil && s.again[i] {
				w *= shareAgain
			}
			cur[l] += w
		}
		for _, l := range s.inner {
			cur[l] += s.weight * innerShare * m.lines[l].share
		}
		back[k] = b
		prev, cur = cur, prev
	}
	out := make([]int32, len(sights))
	at := int32(0)
	for l := range prev {
		if prev[l] > prev[at] {
			at = int32(l)
		}
	}
	for k := len(sights) - 1; k >= 0; k-- {
		out[k] = at
		at = back[k][at]
	}
	return out
}

// again notes, after a first way, which mentions would name a part for the
// second time: a student rarely goes back to say a part again, but parts of one
// name come at every station. It reports whether there are any.
func (m *Matcher) again(ms []mention, sights []sight, path []int32) bool {
	first := map[int32]int{}
	any := false
	for k := range sights {
		s := &sights[k]
		if s.mention < 0 {
			continue
		}
		o := ms[s.mention]
		if m.choose(&o, path[k]); len(o.names) > 1 {
			for i, l := range s.lines {
				for _, n := range o.names {
					if at, ok := first[n]; ok && m.items[n].line == l && o.first-at > reachAgain {
						if s.again == nil {
							s.again = make([]bool, len(s.lines))
						}
						s.again[i], any = true, true
					}
				}
			}
		}
		if o.item >= 0 && o.place >= 0.9 {
			if _, ok := first[o.item]; !ok {
				first[o.item] = o.first
			}
		}
	}
	return any
}

// place chooses, for every mention, the item it names: the one in the line
// where the student stands, else in the section, else the only one that a
// distinctive phrase can mean. A weak word far from its place names nothing.
// Where the words inside a longer phrase fit the place and the whole does not,
// they are taken instead: "lenses and reflectors" at the rear names two parts.
func (m *Matcher) place(ms []mention, sights []sight, path []int32) ([]mention, []sight) {
	outM := make([]mention, 0, len(ms))
	outS := make([]sight, 0, len(sights))
	first := map[int32]int{} // item → token where it was first named
	for k, s := range sights {
		s.line = path[k]
		if s.mention < 0 {
			outS = append(outS, s)
			continue
		}
		o := ms[s.mention]
		m.choose(&o, s.line)
		if o.place < 0.9 {
			m.chooseNear(&o, sights, path, k)
		}
		put := []mention{o}
		if o.place < 0.9 && len(o.inner) > 0 && !(o.exact && o.phrase.heavy >= 3) {
			var inner []mention
			for _, in := range o.inner {
				if m.choose(&in, s.line); in.place >= 0.9 {
					inner = append(inner, in)
				}
			}
			if inner != nil && !m.ownPlace(&o, inner) && !m.another(&o, inner, first) {
				slices.SortStableFunc(inner, func(a, b mention) int { return cmp.Compare(a.first, b.first) })
				put = inner
			}
		}
		for _, o := range put {
			if o.item >= 0 && o.place >= 0.85 {
				s.line = m.items[o.item].line
				if _, ok := first[o.item]; !ok {
					first[o.item] = o.first
				}
			}
			s.token, s.mention = o.first, int32(len(outM))
			outM = append(outM, o)
			outS = append(outS, s)
			for _, n := range m.together(&o) {
				o.item = n
				outM = append(outM, o)
			}
		}
	}
	return outM, outS
}

// together lists the other items of the same line that the words name at once:
// "both horns", "turn signals" where left and right are two items.
func (m *Matcher) together(o *mention) []int32 {
	if o.item < 0 || o.place < 0.85 || len(o.names) < 2 {
		return nil
	}
	words := o.phrase.words
	plural := strings.HasSuffix(m.finder.lex.words[words[len(words)-1]].text, "s")
	for _, w := range words {
		switch m.finder.lex.words[w].text {
		case "both", "and", "all":
			plural = true
		}
	}
	if !plural {
		return nil
	}
	var out []int32
	for _, n := range o.names {
		if n != o.item && m.items[n].line == m.items[o.item].line {
			out = append(out, n)
		}
	}
	return out
}

// ownPlace reports a phrase with a word of its own item's place in it, such as
// "rear reflectors": it is meant there, wherever the student stands. A word that
// names the parts inside as well tells nothing.
func (m *Matcher) ownPlace(o *mention, inner []mention) bool {
	if o.item < 0 {
		return false
	}
	words := m.sections[m.lines[m.items[o.item].line].section].words
	for _, w := range o.phrase.words {
		if !words[w] {
			continue
		}
		if !slices.ContainsFunc(inner, func(in mention) bool { return m.items[in.item].words[w] }) {
			return true
		}
	}
	return false
}

// another reports a phrase that says more than the parts inside it, which were
// all named a while ago: "drive tires" is then no second steer tire.
func (m *Matcher) another(o *mention, inner []mention, first map[int32]int) bool {
	if o.item < 0 {
		return false
	}
	for _, in := range inner {
		if at, ok := first[in.item]; !ok || o.first-at <= reachAgain {
			return false
		}
	}
	return slices.ContainsFunc(o.phrase.words, func(w int32) bool {
		return m.finder.lex.words[w].weight == 1 && !slices.ContainsFunc(inner, func(in mention) bool { return m.items[in.item].words[w] })
	})
}

// How far along the path a part may be named early or late.
const (
	reachAhead = 55 // tokens
	reachBack  = 25
	reachAgain = 18 // from where it was first named
)

// chooseNear takes the item of the place where the student goes next, or just
// was, for words that name nothing where he stands.
func (m *Matcher) chooseNear(o *mention, sights []sight, path []int32, k int) {
	here := m.lines[path[k]].section
	try := func(j int, fit float32) bool {
		sec := m.lines[path[j]].section
		if sec == here {
			return false
		}
		for _, n := range o.names {
			if m.lines[m.items[n].line].section == sec && fit > o.place {
				o.item, o.place = n, fit
				return true
			}
		}
		return false
	}
	for j := k + 1; j < len(path) && sights[j].token <= o.first+reachAhead; j++ {
		if try(j, 0.86) {
			return
		}
	}
	for j := k - 1; j >= 0 && sights[j].token >= o.first-reachBack; j-- {
		if try(j, 0.82) {
			return
		}
	}
}

// condHere reports words that are a condition of some part in the section: the
// "parking brake" of the leak test is not the parking brake check.
func (m *Matcher) condHere(o *mention, sec int32) bool {
	for _, list := range [][]int32{o.phrase.good, o.phrase.bad} {
		for _, set := range list {
			if m.sections[sec].sets[set] {
				return true
			}
		}
	}
	return false
}

// choose sets the item of one mention by the line where the student stands.
func (m *Matcher) choose(o *mention, line int32) {
	sec := m.lines[line].section
	o.item, o.place = -1, 0
	for _, n := range o.names {
		it := &m.items[n]
		fit := float32(0)
		switch {
		case it.line == line:
			fit = 1
		case m.lines[it.line].section == sec:
			fit = 0.92 - 0.005*min(4, abs32(it.line-line))
		case slices.Contains(m.sections[sec].samePlace, m.lines[it.line].section) && !m.condHere(o, sec):
			fit = 0.88
		case o.strong && len(o.names) == 1:
			fit = 0.8
		case o.strong:
			fit = 0.6 - 0.01*abs32(m.lines[it.line].section-sec)
		}
		if o.bound && it.line != line {
			continue
		}
		if it.extra {
			// Between two readings the one on the list is likelier.
			fit -= 0.01
		}
		if fit > o.place {
			o.item, o.place = n, fit
		}
	}
}

func abs32(v int32) float32 {
	if v < 0 {
		v = -v
	}
	return float32(v)
}
