package align

import (
	"cmp"
	"slices"

	"markaround/speech"
)

// This file listens again where the first hearing found nothing, when the
// transcript shows that the recognizer did badly. What is expected at the place
// where the student stands is then looked for by sound alone, over the words run
// together. On a clean transcript it does nothing.

// weakPhrase is a phrase as a run of sounds.
type weakPhrase struct {
	phrase *phrase
	sounds []byte
	weight float32
}

// Costs of unlike sounds, in units of one consonant.
const (
	costVowel     = 0.2  // a vowel more or less
	costKin       = 0.35 // close consonants: b for p, m for n
	costConsonant = 0.8  // a consonant more or less
	costOther     = 1.0  // another consonant
	costInside    = 0.3  // begins or ends inside a word
	costSmallWord = 0.06 // a sound of a small word, which may stand between
	costBarrier   = 50
)

// barrier stands for words that are accounted for.
const barrier = '|'

// Damage is estimated from the words that fit the rubric's only roughly, or
// not at all. The line was fitted on the open attempts damaged at known rates.
const (
	damageClean = 0.025 // what a clean transcript shows
	damageSlope = 0.45
	damageLeast = 0.04 // below, the transcript is taken as clean
	damageMost  = 0.30
	// Above this, a defect that sounds stated is likelier a denial lost.
	damageDenials = 0.12
	damageNear    = 4 // tokens to each side that must hold
	damageTrade   = 3 // words of the trade
)

// estimateDamage estimates the word error rate of the student's words, 0 to
// damageMost. Only words among words of the trade are looked at: a story told on
// the way has words of its own.
func (l *Listening) estimateDamage(r *reader) float32 {
	if len(l.toks) < 60 {
		return 0
	}
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
		if functionWord(w) || fillers[w] || everyday[w] || numberWord(w) || soft[w] || particles[w] || negators[w] {
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
	if d := (x - damageClean) / damageSlope; d >= damageLeast {
		return min(d, damageMost)
	}
	return 0
}

// How like it must sound to be taken, a part and a check of a part named. Both
// are high: in bad transcripts much sounds a little like what one expects.
const (
	leastWeakName  = 0.90
	leastWeakCheck = 0.82
	slotBefore     = 0.08 // the words stand where a part is named
	slotAfter      = 0.08
)

// weakOf is the phrase as sounds; ok is false when it has fewer consonants than
// least and so sounds like too much else, or is only what recognizers write.
func (m *Matcher) weakOf(p *phrase, least int) (w weakPhrase, ok bool) {
	w.phrase = p
	for _, id := range p.words {
		if x := &m.finder.lex.words[id]; x.weight == 1 || p.heavy == len(p.words) {
			w.sounds = append(w.sounds, soundOf(x.text, true)...)
		}
	}
	consonants := 0
	for _, s := range w.sounds {
		w.weight += soundWeight(s)
		if s != 'a' {
			consonants++
		}
	}
	return w, consonants >= least && !p.variant
}

func soundWeight(s byte) float32 {
	if s == 'a' {
		return costVowel
	}
	return 1
}

func kin(a, b byte) bool {
	x, y := blur(string(a)), blur(string(b))
	if x == y {
		return true
	}
	pair := func(s string) bool {
		for i := range len(s) {
			if s[i] == a {
				for j := range len(s) {
					if s[j] == b {
						return true
					}
				}
			}
		}
		return false
	}
	return pair("TK") || pair("FP") || pair("LR") || pair("S0F") || pair("WR")
}

var kinTable = func() (t [128][128]bool) {
	for a := byte('0'); a <= 'Z'; a++ {
		for b := byte('0'); b <= 'Z'; b++ {
			t[a][b] = kin(a, b)
		}
	}
	return t
}()

func soundCost(a, b byte) float32 {
	switch {
	case a == barrier || b == barrier:
		return costBarrier
	case a == b:
		return 0
	case a == 'a' || b == 'a':
		return costOther
	case kinTable[a&127][b&127]:
		return costKin
	}
	return costOther
}

// alike compares two words sound by sound, 0 to 1: 1 less the cost of the
// cheapest edits over the weight of the longer one.
func alike(a, b []byte) float32 {
	if len(a) > 24 || len(b) > 24 {
		return 0
	}
	var buf [2][25]float32
	prev, cur := buf[0][:len(b)+1], buf[1][:len(b)+1]
	var wa, wb float32
	for j, c := range b {
		wb += soundWeight(c)
		prev[j+1] = prev[j] + soundWeight(c)*costConsonant
	}
	for _, x := range a {
		wa += soundWeight(x)
		cur[0] = prev[0] + soundWeight(x)*costConsonant
		for j, y := range b {
			cur[j+1] = min(prev[j]+soundCost(x, y), prev[j+1]+soundWeight(x)*costConsonant, cur[j]+soundWeight(y)*costConsonant)
		}
		prev, cur = cur, prev
	}
	if m := max(wa, wb); m > 0 {
		return 1 - prev[len(b)]/m
	}
	return 0
}

// stretch is a run of tokens as sounds. Tokens that are accounted for stand as
// a barrier that no match steps over.
type stretch struct {
	sounds []byte
	token  []int // by sound
	first  []bool
	last   []bool
	skip   []float32 // cost of a sound that the phrase lacks
}

func (l *Listening) stretch(from, to int) *stretch {
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
			cost := float32(costConsonant)
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

// find looks for the phrase anywhere in the stretch (approximate string
// matching after Sellers, 1980: the first row is free, so that a match may
// begin at any sound). It gives the tokens of the best place and how like it
// sounds, 0 to 1.
func (w *weakPhrase) find(s *stretch) (first, last int, like float32) {
	n := len(s.sounds)
	if n == 0 {
		return 0, 0, 0
	}
	prev, cur := make([]float32, n+1), make([]float32, n+1)
	begin, next := make([]int, n+1), make([]int, n+1)
	for j := 0; j <= n; j++ {
		begin[j] = j
		if j < n && !s.first[j] {
			prev[j] = costInside
		}
	}
	for _, c := range w.sounds {
		del := soundWeight(c) * costConsonant
		cur[0], next[0] = prev[0]+del, begin[0]
		for j := 1; j <= n; j++ {
			v, b := prev[j-1]+soundCost(c, s.sounds[j-1]), begin[j-1]
			if x := prev[j] + del; x < v {
				v, b = x, begin[j]
			}
			if x := cur[j-1] + s.skip[j-1]; x < v {
				v, b = x, next[j-1]
			}
			cur[j], next[j] = v, b
		}
		prev, cur = cur, prev
		begin, next = next, begin
	}
	best, at := float32(1e9), 0
	for j := 1; j <= n; j++ {
		v := prev[j]
		if !s.last[j-1] {
			v += costInside
		}
		if v < best {
			best, at = v, j
		}
	}
	if at == 0 || begin[at] >= at {
		return 0, 0, 0
	}
	return s.token[begin[at]], s.token[at-1] + 1, 1 - best/w.weight
}

// cover notes the words that are accounted for: the parts named, the conditions
// found as they stand in the rubric, denials and figures.
func (l *Listening) cover() {
	l.covered = make([]bool, len(l.toks))
	fill := func(first, last int) {
		for t := first; t < last; t++ {
			l.covered[t] = true
		}
	}
	for i := range l.mentions {
		if o := &l.mentions[i]; o.item >= 0 && o.score >= 0.93 {
			fill(o.first, o.last)
		}
	}
	for _, h := range l.hits {
		if h.exact && len(h.phrase.good)+len(h.phrase.bad) > 0 {
			fill(h.first, h.last)
		}
	}
	for _, q := range l.quantities {
		fill(q.NumberFirst, q.Last)
	}
	for t := range l.toks {
		if negators[l.toks[t].Text] {
			l.covered[t] = true
		}
	}
}

// listenAgain looks for parts that were not named, in the stretches between the
// parts that were, at the place where the student stood.
func (l *Listening) listenAgain() {
	if l.damage == 0 {
		return
	}
	l.cover()
	named := map[int32]bool{}
	for i := range l.mentions {
		if o := &l.mentions[i]; o.item >= 0 && o.place >= 0.85 {
			named[o.item] = true
		}
	}
	type found struct {
		mention
		line int32
	}
	var add []found
	from, line := 0, int32(-1)
	look := func(to int, next int32) {
		if to-from >= 1 && (line >= 0 || next >= 0) {
			s := l.stretch(from, to)
			for _, item := range l.expected(line, next, named) {
				best := found{mention: mention{score: leastWeakName}}
				for k := range l.m.items[item].weak {
					w := &l.m.items[item].weak[k]
					first, last, like := w.find(s)
					if first >= last || !l.unexplained(w.phrase, first, last) {
						continue
					}
					if like += l.slot(first, last); like > best.score {
						best = found{mention: mention{phrase: w.phrase, first: first, last: last, score: like, weight: like, names: []int32{item}, item: item, place: 0.9}, line: l.m.items[item].line}
					}
				}
				if best.phrase != nil {
					add = append(add, best)
				}
			}
		}
	}
	for k := range l.sights {
		s := &l.sights[k]
		if s.mention < 0 || l.mentions[s.mention].item < 0 || l.mentions[s.mention].place < 0.85 {
			continue
		}
		o := &l.mentions[s.mention]
		look(o.first, s.line)
		from, line = o.last, s.line
	}
	look(len(l.toks), -1)
	// The likest first; no two over the same words, no part twice.
	slices.SortStableFunc(add, func(a, b found) int { return cmp.Compare(b.score, a.score) })
	taken := map[int]bool{}
	for _, f := range add {
		clash := named[f.item]
		for t := f.first; t < f.last; t++ {
			clash = clash || taken[t]
		}
		if clash {
			continue
		}
		for t := f.first; t < f.last; t++ {
			taken[t] = true
		}
		named[f.item] = true
		f.score *= 0.85
		l.mentions = append(l.mentions, f.mention)
	}
	l.resight()
}

// unexplained reports that the words [first:last) make no sense as they stand:
// one of them at least is none that people say here, and none is a word of the
// trade that the phrase lacks.
func (l *Listening) unexplained(p *phrase, first, last int) bool {
	odd := false
	lex := l.m.finder.lex
	for t := first; t < last; t++ {
		w := l.toks[t].Text
		switch {
		case lex.knows(w):
			own := false
			for _, id := range p.words {
				own = own || lex.words[id].stem == stem(w)
			}
			if !own && !functionWord(w) && !everyday[w] {
				return false
			}
		case !functionWord(w) && !fillers[w] && !everyday[w] && !numberWord(w) && !soft[w]:
			odd = true
		}
	}
	return odd
}

// slot says how much the words [first:last) stand where a part is named: after
// an article or a break, and before what is said of it.
func (l *Listening) slot(first, last int) float32 {
	if first >= last {
		return 0
	}
	bonus := float32(0)
	if first == 0 || determiners[l.toks[first-1].Text] || l.covered[first-1] && !negators[l.toks[first-1].Text] || l.toks[first-1].Break > speech.NoBreak {
		bonus += slotBefore
	}
	for t := last; t < min(last+2, len(l.toks)); t++ {
		if w := l.toks[t].Text; l.covered[t] || copulas[w] || negators[w] || w == "has" || w == "have" {
			bonus += slotAfter
			break
		}
	}
	return bonus
}

// resight sorts the mentions and makes the sights point at them again.
func (l *Listening) resight() {
	slices.SortStableFunc(l.mentions, func(a, b mention) int { return cmp.Compare(a.first, b.first) })
	out := l.sights[:0:0]
	k := 0
	lineAt := func(token int) int32 {
		best := int32(0)
		for _, s := range l.sights {
			if s.token > token {
				break
			}
			best = s.line
		}
		return best
	}
	for _, s := range l.sights {
		if s.mention < 0 {
			out = append(out, s)
		}
	}
	for ; k < len(l.mentions); k++ {
		o := &l.mentions[k]
		line := lineAt(o.first)
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
func (l *Listening) expected(a, b int32, named map[int32]bool) []int32 {
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
	for line := max(0, lo-1); line <= min(hi+1, int32(len(l.m.lines))-1); line++ {
		add(line)
	}
	if hi-lo == 0 && b != a {
		add(b)
	}
	return out
}

// checkAgain looks for the checks that a named part still lacks, in the words
// that follow its name. A defect heard so is taken as looked for: a
// contradiction must be plain.
func (l *Listening) checkAgain() {
	if l.damage == 0 {
		return
	}
	for k := range l.mentions {
		o := &l.mentions[k]
		if o.item < 0 {
			continue
		}
		it := &l.m.items[o.item]
		end := l.scopeEnd(k)
		var s *stretch
		for c := range it.checks {
			ck := &it.checks[c]
			if ck.check.Minor || len(l.got[o.item].checks[c]) > 0 {
				continue
			}
			if s == nil {
				s = l.stretch(o.last, end)
			}
			best := claim{cond: -1, confidence: leastWeakCheck}
			ok := false
			for i := range l.m.weakSets[ck.set] {
				w := &l.m.weakSets[ck.set][i]
				if first, last, like := w.find(s); like > best.confidence {
					best, ok = claim{cond: -1, confidence: like, reason: "sounds like \"" + w.phrase.text + "\"", first: first, last: last}, true
				}
			}
			if ok {
				best.confidence *= 0.8
				l.got[o.item].checks[c] = append(l.got[o.item].checks[c], best)
				for n := range l.got[o.item].named {
					if l.got[o.item].named[n].mention == k {
						l.got[o.item].named[n].used = true
					}
				}
			}
		}
	}
}

// scopeEnd is the token up to which conditions may be said of mention k: the
// part after those that stand in one list with it.
func (l *Listening) scopeEnd(k int) int {
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
