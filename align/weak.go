package align

import (
	"cmp"
	"math/bits"
	"slices"
	"strings"
)

// This file listens again where the first hearing found nothing. What is expected
// at the place where the student stands is looked for by sound, over the words run
// together: what the recognizer garbled, and in a clean transcript a part named in
// other words than the score sheet's that has some of them ("the handle for
// opening").

// weakPhrase is a phrase as a run of sounds.
type weakPhrase struct {
	phrase *phrase
	sounds []byte
	stems  []string // of its meaning words
	weight int      // sum of its sounds' weights
}

// Damage is estimated from the words that fit the rubric's only roughly, or
// not at all. The line was fitted on the open attempts damaged at known rates.
const (
	damageClean = 0.012 // what a clean transcript shows
	damageSlope = 0.37
	damageAlone = 0.10  // from here on a single word may be rough and count alone
	damageLeast = 0.012 // below, the transcript is taken as clean
	damageMost  = 0.30
	// Above this, a defect that sounds stated is likelier a denial lost.
	damageDenials = 0.12
	damageWords   = 60 // fewer tell nothing
	damageNear    = 4  // tokens to each side that must hold
	damageTrade   = 3  // words of the trade
)

// estimateDamage estimates the word error rate of the student's words, 0 to
// damageMost: by the words, or by what the recognizer says of itself where that
// is worse. One that knows only words of the trade makes errors that look right.
func (l *listening) estimateDamage(r *reader) float32 {
	if len(l.toks) < damageWords {
		return 0
	}
	d := l.damageByWords(r)
	if l.punctuated() {
		d /= 2 // who hears where a sentence ends has heard its words
	}
	d = max(d, l.damageByConfidence())
	if d < damageLeast {
		return 0
	}
	return min(d, damageMost)
}

// punctuated reports a transcript with sentences: a comma or a stop in every
// twenty words or fewer.
func (l *listening) punctuated() bool {
	n := 0
	for i := range l.t.Words {
		if strings.ContainsAny(l.t.Words[i].Text, ",.?!;") {
			n++
		}
	}
	return n*20 >= len(l.t.Words)
}

// damageByConfidence is the share of words that the recognizer holds for wrong
// rather than right; 0 without confidences.
func (l *listening) damageByConfidence() float32 {
	doubted, n := 0, 0
	for _, t := range l.toks {
		if c := l.t.Words[t.Word].Confidence; c >= 0 {
			n++
			if c < 0.5 {
				doubted++
			}
		}
	}
	return float32(doubted) / float32(max(1, n))
}

// damageByWords looks at words among words of the trade only: a story told on
// the way has words of its own.
func (l *listening) damageByWords(r *reader) float32 {
	const (
		small = iota
		exact
		rough
		unknown
	)
	kinds := make([]uint8, len(l.toks))
	known := make([]int, len(l.toks)+1) // exact words before the token
	for i, t := range l.toks {
		w := t.Text
		known[i+1] = known[i]
		if functionWord(w) || fillers[w] || everyday[w] || chat[w] || numberWord(w) || soft[w] || particles[w] || negators[w] {
			continue
		}
		best := float32(0)
		for _, m := range r.single[i] {
			best = max(best, m.sim)
		}
		switch {
		case best >= 0.97:
			kinds[i] = exact
			known[i+1]++
		case best > 0:
			kinds[i] = rough
		default:
			kinds[i] = unknown
		}
	}
	var n [4]int
	for i, k := range kinds {
		if known[min(len(l.toks), i+damageNear+1)]-known[max(0, i-damageNear)] >= damageTrade {
			n[k]++
		}
	}
	if n[exact]+n[rough] == 0 {
		return 0
	}
	x := float32(n[rough])/float32(n[exact]+n[rough]) + float32(n[unknown])/float32(n[exact]+n[rough]+n[unknown])
	return (x - damageClean) / damageSlope
}

// weakOf is the phrase as sounds; ok is false when it has too few consonants and
// so sounds like too much else, or is only what recognizers write.
func (m *Matcher) weakOf(p *phrase) (w weakPhrase, ok bool) {
	w.phrase = p
	for _, id := range p.words {
		if x := &m.finder.lex.words[id]; x.weight == 1 || p.heavy == len(p.words) {
			w.sounds = append(w.sounds, soundOf(x.text, true)...)
			w.stems = append(w.stems, x.stem)
		}
	}
	consonants := 0
	for _, s := range w.sounds {
		w.weight += soundWeight(s)
		if s != 'a' {
			consonants++
		}
	}
	return w, consonants >= leastConsonants && w.weight <= mostWeak && !p.variant
}

// stretch is a run of tokens as sounds. Tokens that are accounted for stand as
// a barrier that no match steps over.
type stretch struct {
	sounds []byte
	token  []int // by sound
	first  []bool
	last   []bool
	skip   []int // cost of a sound that the phrase lacks
}

func (l *listening) stretch(from, to int) *stretch {
	s := &stretch{}
	for t := from; t < to; t++ {
		w := l.toks[t].Text
		if l.covered[t] {
			if n := len(s.sounds); n > 0 && s.sounds[n-1] != barrier {
				s.sounds = append(s.sounds, barrier)
				s.token = append(s.token, t)
				s.first = append(s.first, true)
				s.last = append(s.last, true)
				s.skip = append(s.skip, costBarrier)
			}
			continue
		}
		code := soundOf(w, true)
		small := functionWord(w) || fillers[w]
		for i, c := range code {
			s.sounds = append(s.sounds, c)
			s.token = append(s.token, t)
			s.first = append(s.first, i == 0)
			s.last = append(s.last, i == len(code)-1)
			cost := costConsonant
			switch {
			case small:
				cost = costSmallWord
			case c == 'a':
				cost = costVowel
			}
			s.skip = append(s.skip, cost)
		}
	}
	return s
}

// leastLike is how like a phrase words must sound to be looked at at all.
const (
	leastLike = 0.75
	clearLike = 0.8
	mostWeak  = 24 * weightConsonant // weight of the longest phrase looked for

	leastConsonants = 2
)

// cells are the rows of the table of a search, kept from one to the next. A
// cell holds the cost and, in its low bits, where the match began: the least
// cell is then the cheapest, and of equals the one that began first.
type cells struct{ prev, cur []int64 }

const beginBits = 32

// find looks for the phrase anywhere in the stretch (approximate string
// matching after Sellers, 1980: the first row is free, so that a match may
// begin at any sound). Found gets the tokens [first:last) of each place and how
// like it sounds, leastLike to 1; of the places that end with one token it gets
// the likest.
func (w *weakPhrase) find(s *stretch, buf *cells, found func(first, last int, like float32)) {
	n := len(s.sounds)
	if n == 0 {
		return
	}
	if len(buf.prev) <= n {
		buf.prev, buf.cur = make([]int64, 2*n+1), make([]int64, 2*n+1)
	}
	most := int64((1 - leastLike) * float32(w.weight))
	prev, cur := buf.prev[:n+1], buf.cur[:n+1]
	for j := range prev {
		if prev[j] = int64(j); j < n && !s.first[j] {
			prev[j] += costInside << beginBits
		}
	}
	for _, c := range w.sounds {
		del := int64(dropCost(c)) << beginBits
		row := &soundCost[c]
		cur[0] = prev[0] + del
		least := cur[0]
		for j, x := range s.sounds {
			v := min(prev[j]+int64(row[x])<<beginBits, prev[j+1]+del, cur[j]+int64(s.skip[j])<<beginBits)
			cur[j+1] = v
			least = min(least, v)
		}
		if least>>beginBits > most {
			return
		}
		prev, cur = cur, prev
	}
	for j := 0; j < n; {
		// Of the places in one token.
		best, at, begin := most+1, -1, 0
		for t := s.token[j]; j < n && s.token[j] == t; j++ {
			v, b := prev[j+1]>>beginBits, int(prev[j+1]&(1<<beginBits-1))
			if !s.last[j] {
				v += costInside
			}
			if v <= min(best, most) && b <= j {
				best, at, begin = v, j, b
			}
		}
		if at >= 0 {
			found(s.token[begin], s.token[at]+1, 1-float32(best)/float32(w.weight))
		}
	}
}

// listenAgain looks for parts that were not named, in the stretches between the
// parts that were, at the place where the student stood.
func (l *listening) listenAgain() {
	if l.senses == nil {
		return
	}
	l.cover()
	l.guessed = l.guessNames()
	var add []*guess
	for i := range l.guessed {
		g := &l.guessed[i]
		if g.chance >= leastName {
			add = append(add, g)
		}
	}
	// The likest first; no two over the same words, no part twice.
	slices.SortStableFunc(add, func(a, b *guess) int { return cmp.Compare(b.chance, a.chance) })
	taken := make([]bool, len(l.toks))
	named := map[int32]bool{}
	for _, g := range add {
		if named[g.item] || slices.Contains(taken[g.first:g.last], true) {
			continue
		}
		for t := g.first; t < g.last; t++ {
			taken[t] = true
		}
		named[g.item] = true
		l.mentions = append(l.mentions, mention{phrase: g.phrase, first: g.first, last: g.last, score: g.chance * 0.85, weight: g.like, names: []int32{g.item}, item: g.item, place: 0.9})
	}
	l.resight()
}

// guessNames lists what the words between the parts named sound like, of the
// parts expected there and not named.
func (l *listening) guessNames() (out []guess) {
	named := map[int32]bool{}
	inSection := make([][2]float32, len(l.m.sections)) // parts on the list, and those named
	for i := range l.mentions {
		if o := &l.mentions[i]; o.item >= 0 && o.place >= 0.85 {
			named[o.item] = true
		}
	}
	for i := range l.m.items {
		if it := &l.m.items[i]; !it.extra {
			n := &inSection[l.m.lines[it.line].section]
			n[0]++
			if named[int32(i)] {
				n[1]++
			}
		}
	}
	var buf cells
	from, line, before := 0, int32(-1), int32(-1)
	look := func(to int, next, after int32) {
		if to <= from || line < 0 && next < 0 {
			return
		}
		s := l.stretch(from, to)
		stems := l.stems(from, to)
		for _, item := range l.expected(line, next, named) {
			it := &l.m.items[item]
			n := inSection[l.m.lines[it.line].section]
			for k := range it.weak {
				w := &it.weak[k]
				if stems != nil && !slices.ContainsFunc(w.stems, func(s string) bool { return stems[s] }) {
					continue // nothing of it stands there
				}
				w.find(s, &buf, func(first, last int, like float32) {
					g := guess{phrase: w.phrase, item: item, check: -1, first: first, last: last, like: like}
					if !l.wordSigns(&g, w) {
						return
					}
					x := &g.signs
					x[signHabit] = (n[1] + 1) / (n[0] + 2)
					x[signFollows], x[signPrecedes] = l.m.nextTo(before, item), l.m.nextTo(item, after)
					x[signFits], x[signUnfit], x[signAgain] = l.fits(item, before, from, g.first, g.last, to)
					if g.chance = chanceOf(&nameWeights, x); g.chance >= leastKept {
						out = append(out, g)
					}
				})
			}
		}
	}
	for k := range l.sights {
		s := &l.sights[k]
		if s.mention < 0 || l.mentions[s.mention].item < 0 || l.mentions[s.mention].place < 0.85 {
			continue
		}
		o := &l.mentions[s.mention]
		look(o.first, s.line, o.item)
		from, line, before = o.last, s.line, o.item
	}
	look(len(l.toks), -1, -1)
	return out
}

// stems are the word stems among tokens [from:to) of a clean transcript: a part
// that it names in other words has one of the usual words in them. In a damaged
// one these may be garbled as well; there it gives nil.
func (l *listening) stems(from, to int) map[string]bool {
	if l.damage > 0 {
		return nil
	}
	out := make(map[string]bool, to-from)
	for _, s := range l.senses[from:to] {
		out[s.stem] = true
	}
	return out
}

// nextTo is 1 when part b comes next after part a on the list, 0.5 when one
// lies between, 0 otherwise.
func (m *Matcher) nextTo(a, b int32) float32 {
	if a < 0 || b <= a {
		return 0
	}
	between := 0
	for i := a + 1; i < b && between < 2; i++ {
		if !m.items[i].extra {
			between++
		}
	}
	return 1 - 0.5*float32(min(between, 2))
}

// fits looks at the conditions after the words [first:last), up to token end:
// what share of the checks of the part they speak of, what share of them the
// part before lacks, and what share was said of the part before, since token
// start, already.
func (l *listening) fits(item, before int32, start, first, last, end int) (fit, lacks, again float32) {
	it := &l.m.items[item]
	var met, said uint64 // checks of the part, by bit
	n := float32(0)
	at, _ := slices.BinarySearchFunc(l.hits, start, func(h hit, t int) int { return cmp.Compare(h.first, t) })
	for ; at < len(l.hits) && l.hits[at].first < min(end, last+reachScope/2); at++ {
		h := &l.hits[at]
		if !h.exact || len(h.phrase.good)+len(h.phrase.bad) == 0 || h.last > first && h.first < last {
			continue
		}
		var mine uint64
		for c := range min(64, len(it.checks)) {
			if h.phrase.speaksOf(it.checks[c].set) {
				mine |= 1 << c
			}
		}
		switch {
		case mine == 0:
		case h.first < first:
			said |= mine
		default:
			met |= mine
			n++
			if before >= 0 && !slices.ContainsFunc(l.m.items[before].checks, func(c checkInfo) bool { return h.phrase.speaksOf(c.set) }) {
				lacks++
			}
		}
	}
	all := float32(bits.OnesCount64(met))
	return all / float32(max(1, len(it.checks))), lacks / max(1, n), float32(bits.OnesCount64(met&said)) / max(1, all)
}

// speaksOf reports that the phrase states or contradicts a condition set.
func (p *phrase) speaksOf(set int32) bool {
	return slices.Contains(p.good, set) || slices.Contains(p.bad, set)
}

// checkAgain looks for the checks that a named part still lacks, in the words
// that follow its name. A defect heard so is taken as looked for: a
// contradiction must be plain.
func (l *listening) checkAgain() {
	if l.senses == nil {
		return
	}
	n := len(l.guessed)
	l.guessChecks()
	type key struct {
		item  int32
		check int
	}
	best := map[key]*guess{}
	for i := n; i < len(l.guessed); i++ {
		g := &l.guessed[i]
		if k := (key{g.item, g.check}); g.chance >= leastCheck && (best[k] == nil || g.chance > best[k].chance) {
			best[k] = g
		}
	}
	for k, g := range best {
		got := &l.got[k.item]
		got.checks[k.check] = append(got.checks[k.check], claim{cond: -1, confidence: g.chance * 0.8, reason: "close to \"" + g.phrase.text + "\"", first: g.first, last: g.last})
		for n := range got.named {
			if got.named[n].mention == g.mention {
				got.named[n].used = true
			}
		}
	}
}

// guessChecks lists what the words after each part named sound like, of the
// checks that it lacks.
func (l *listening) guessChecks() {
	bySet := make([][2]float32, len(l.m.weakSets)) // checks of parts named, and those found
	var all [2]float32
	seen := map[int32]bool{}
	for i := range l.mentions {
		o := &l.mentions[i]
		if o.item < 0 || seen[o.item] {
			continue
		}
		seen[o.item] = true
		for c, ck := range l.m.items[o.item].checks {
			if ck.check.Minor {
				continue
			}
			bySet[ck.set][0]++
			all[0]++
			if len(l.got[o.item].checks[c]) > 0 {
				bySet[ck.set][1]++
				all[1]++
			}
		}
	}
	habit := (all[1] + 2) / (all[0] + 3)
	var buf cells
	for k := range l.mentions {
		o := &l.mentions[k]
		if o.item < 0 {
			continue
		}
		it := &l.m.items[o.item]
		end := l.scopeEnd(k)
		var s *stretch
		var have, main float32
		for c := range it.checks {
			if !it.checks[c].check.Minor {
				main++
				if len(l.got[o.item].checks[c]) > 0 {
					have++
				}
			}
		}
		for c := range it.checks {
			ck := &it.checks[c]
			if ck.check.Minor || len(l.got[o.item].checks[c]) > 0 {
				continue
			}
			if s == nil {
				s = l.stretch(o.last, end)
			}
			for i := range l.m.weakSets[ck.set] {
				w := &l.m.weakSets[ck.set][i]
				w.find(s, &buf, func(first, last int, like float32) {
					g := guess{phrase: w.phrase, item: o.item, check: c, mention: k, first: first, last: last, like: like}
					if !l.wordSigns(&g, w) {
						return
					}
					x := &g.signs
					x[signHabit] = habit
					x[signFar] = float32(g.first-o.last) / 20
					if slices.Contains(w.phrase.bad, ck.set) {
						x[signPlainBad] = 1
						for t := max(0, g.first-4); t < g.first; t++ {
							if negators[l.toks[t].Text] {
								x[signDenied], x[signPlainBad] = 1, 0
							}
						}
					}
					x[signOthers] = have / max(1, main-1)
					x[signSet] = (bySet[ck.set][1] + 2*habit) / (bySet[ck.set][0] + 2)
					x[signAt] = o.score
					if g.chance = chanceOf(&checkWeights, x); g.chance >= leastKept {
						l.guessed = append(l.guessed, g)
					}
				})
			}
		}
	}
}

// cover notes the words that are accounted for: the parts named, the conditions
// found as they stand in the rubric, denials and figures.
func (l *listening) cover() {
	l.covered = make([]bool, len(l.toks))
	fill := func(first, last int) {
		for t := first; t < last; t++ {
			l.covered[t] = true
		}
	}
	for i := range l.mentions {
		if o := &l.mentions[i]; o.item >= 0 && o.score >= 0.93 && (o.exact || o.phrase.heavy > 1) {
			fill(o.first, o.last)
		}
	}
	k := 0
	for _, h := range l.hits {
		if !h.exact || len(h.phrase.good)+len(h.phrase.bad) == 0 {
			continue
		}
		for k < len(l.mentions) && l.mentions[k].first < h.first {
			k++
		}
		// A condition of no part around it may be a garbled name ("reflects").
		for j := max(0, k-3); j < min(k+2, len(l.mentions)); j++ {
			if n := l.mentions[j].item; n >= 0 && slices.ContainsFunc(l.m.items[n].checks, func(c checkInfo) bool { return h.phrase.speaksOf(c.set) }) {
				fill(h.first, h.last)
				break
			}
		}
	}
	for _, q := range l.quantities {
		fill(q.NumberFirst, q.Last)
	}
	for t := range l.toks {
		if negators[l.toks[t].Text] || l.asked[t] {
			l.covered[t] = true
		}
	}
}

// resight sorts the mentions and makes the sights point at them again.
func (l *listening) resight() {
	slices.SortStableFunc(l.mentions, func(a, b mention) int { return cmp.Compare(a.first, b.first) })
	out := l.sights[:0:0]
	for _, s := range l.sights {
		if s.mention < 0 {
			out = append(out, s)
		}
	}
	next, here := 0, int32(0) // where the student stood by the sights so far
	for k := range l.mentions {
		o := &l.mentions[k]
		for ; next < len(l.sights) && l.sights[next].token <= o.first; next++ {
			here = l.sights[next].line
		}
		line := here
		if o.item >= 0 && o.place >= 0.9 {
			line = l.m.items[o.item].line
		}
		out = append(out, sight{token: o.first, mention: int32(k), weight: o.weight, line: line})
	}
	slices.SortStableFunc(out, func(a, b sight) int { return cmp.Compare(a.token, b.token) })
	l.sights = out
}

// expected lists the parts that may be named between two lines of the sheet: of
// those lines, of what lies between them in a section, and of the next line.
func (l *listening) expected(a, b int32, named map[int32]bool) []int32 {
	if a < 0 {
		a = b
	}
	if b < 0 {
		b = a
	}
	lo, hi := min(a, b), max(a, b)
	if hi-lo > 6 {
		lo, hi = a, a
	}
	var out []int32
	add := func(line int32) {
		for _, item := range l.m.lines[line].items {
			if !named[item] && !slices.Contains(out, item) {
				out = append(out, item)
			}
		}
	}
	for line := max(0, lo-1); line <= min(hi+2, int32(len(l.m.lines))-1); line++ {
		add(line)
	}
	if hi-lo == 0 && b != a {
		add(b)
	}
	return out
}

// scopeEnd is the token up to which conditions may be said of mention k: the
// part after those that stand in one list with it.
func (l *listening) scopeEnd(k int) int {
	last := l.mentions[k].last
	for j := k + 1; j < len(l.mentions); j++ {
		o := &l.mentions[j]
		if o.item < 0 {
			continue
		}
		if o.first-last > 3 {
			return min(o.first, l.mentions[k].last+reachScope)
		}
		last = o.last
	}
	return min(len(l.toks), l.mentions[k].last+reachScope)
}
