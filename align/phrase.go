package align

import (
	"cmp"
	"slices"
	"strings"
	"sync"

	"markaround/speech"
)

// phrase is one way to say something, shared by all that may be meant by it.
type phrase struct {
	text    string
	words   []int32   // lexicon ids
	weights []float32 // of the words
	weight  float32   // their sum
	heavy   int       // words that carry meaning
	names   []int32   // items it names
	lines   []int32   // checklist lines it announces
	places  []int32   // sections it announces
	good    []int32   // conditions that it states
	bad     []int32   // conditions that it contradicts
	near    bool      // ties a number to a measure
	variant bool      // only what recognizers write, not what is said
	strong  bool      // distinctive enough to count away from its place
	linked  int       // a linking word must stand before the word at this index; 0: none needed
}

// hit is a phrase found in the transcript.
type hit struct {
	phrase      *phrase
	first, last int // tokens [first:last)
	score       float32
	exact       bool // every word as in the rubric, not only its stem
}

// sieve is a set of words by their ids modulo its size: what it lacks is not
// there, what it has may be.
type sieve [sieveBits / 64]uint64

const (
	sieveBits = 1024
	reachPair = 6  // tokens within which both words of a phrase of two stand
	reachMid  = 10 // and the three of a phrase of three
	reachFour = 15 // the four of one of four
	reachWide = 24 // and all of a phrase of up to wideWords
	wideWords = 6
	noBit     = 0xffff

	numReaches = 4
	mostNeeded = 3
)

var reaches = [numReaches]int{reachPair, reachMid, reachFour, reachWide}

func (s *sieve) add(word int32) { s[word&(sieveBits-1)>>6] |= 1 << (word & 63) }
func (s *sieve) join(o *sieve) {
	for i := range s {
		s[i] |= o[i]
	}
}
func (s *sieve) has(bit uint16) bool { return s[bit>>6]&(1<<(bit&63)) != 0 }

// anchor says that a phrase may stand where its word at index occurs.
type anchor struct {
	phrase int32
	index  int8
	single bool               // of one word only
	reach  uint8              // which of the reader's sieves shows what stands close by
	either bool               // one of the needed words may be lacking
	need   [mostNeeded]uint16 // bits of other words that must stand close by, noBit for none
}

// finder finds a rubric's phrases in a run of tokens.
type finder struct {
	lex     *lexicon
	phrases []*phrase
	byText  map[string]*phrase
	anchors [][]anchor // by lexicon id
}

// Least scores of a phrase found: a single word must be near certain, a longer
// phrase may have a damaged word.
const (
	leastSingle = 0.82
	leastMulti  = 0.74
	leastPair   = 0.86 // each of two words, on a clean transcript
	// In a damaged transcript a single word may be rougher: as a condition, and
	// as a name where the student stands.
	leastDamaged = 0.76
)

// Cost of a word that stands inside a phrase and is no filler, and more for a
// word of the trade, in weights of one word.
const (
	gapCost  = 0.25
	gapTrade = 0.65
	gapTie   = 0.12 // a preposition, which may begin something else ("it holds; for the brake ...")
	gapSoft  = 0.08 // a word that only colors the sentence ("still", "supposed")
)

func newFinder() *finder {
	return &finder{lex: newLexicon(), byText: map[string]*phrase{}}
}

// phrase returns the phrase with the given words, made when it is new; nil
// when the text has no word.
func (f *finder) phrase(text string) *phrase {
	toks := speech.TokensOf(text)
	words := make([]string, len(toks))
	for i, t := range toks {
		words[i] = t.Text
	}
	return f.ofWords(text, words, 0)
}

func (f *finder) ofWords(text string, words []string, linked int) *phrase {
	if len(words) == 0 {
		return nil
	}
	key := strings.Join(words, " ")
	if linked > 0 {
		key = strings.Join(words[:linked], " ") + "|" + strings.Join(words[linked:], " ")
	}
	if p := f.byText[key]; p != nil {
		return p
	}
	p := &phrase{text: text, linked: linked}
	for _, w := range words {
		p.words = append(p.words, f.lex.add(w))
	}
	f.byText[key] = p
	f.phrases = append(f.phrases, p)
	return p
}

// mostInverted is the longest name, in words, that is turned round.
const mostInverted = 4

// inverted are the phrases of a compound name turned round, as people say it
// who learned another language first, and others at times: "brake hose" is "the
// hose of the brake" or "the hose for the brakes".
func (f *finder) inverted(text string) (out []*phrase) {
	var words []string
	for _, t := range speech.TokensOf(text) {
		if functionWord(t.Text) || particles[t.Text] || numberWord(t.Text) {
			return nil
		}
		words = append(words, t.Text)
	}
	n := len(words)
	if n < 2 || n > mostInverted || verbal[words[n-1]] || everyday[words[n-1]] || soft[words[n-1]] {
		return nil
	}
	for at := 1; at < n; at++ {
		// The head is the last word or, of three, the last two.
		if n-at <= 2 {
			turned := append(slices.Clone(words[at:]), words[:at]...)
			out = append(out, f.ofWords(text, turned, n-at))
		}
	}
	return out
}

// seal builds the indexes once all phrases are in.
func (f *finder) seal() {
	uses := make([]int, len(f.lex.words))
	for _, p := range f.phrases {
		// A phrase of function words only ("up there") must be matched whole.
		light := true
		for _, w := range p.words {
			light = light && f.lex.words[w].weight < 1
		}
		for i, w := range p.words {
			wt := f.lex.words[w].weight
			if light {
				wt = 1
			}
			p.weights = append(p.weights, wt)
			p.weight += wt
			if wt == 1 {
				p.heavy++
			}
			uses[w]++
			if i > 0 {
				f.lex.addJoin(p.words[i-1], w)
			}
		}
	}
	f.anchors = make([][]anchor, len(f.lex.words))
	for k, p := range f.phrases {
		// The two rarest words start a match, so that one may be damaged.
		idx := make([]int, 0, len(p.words))
		for i, w := range p.words {
			if text := f.lex.words[w].text; len(p.words) > 1 && (text == "is" || text == "are") {
				continue // may be heard as the end of the word before
			}
			if f.lex.words[w].weight == 1 || p.heavy == 0 || p.heavy == len(p.words) {
				idx = append(idx, i)
			}
		}
		slices.SortStableFunc(idx, func(a, b int) int { return cmp.Compare(uses[p.words[a]], uses[p.words[b]]) })
		n := 1
		if p.heavy > 2 {
			n = 2
		}
		for _, i := range idx[:min(n, len(idx))] {
			f.anchors[p.words[i]] = append(f.anchors[p.words[i]], f.anchorAt(k, i))
		}
	}
}

// anchorAt makes the anchor of a phrase at one of its words, with others that
// must stand close by. Up to three meaning words none may be lost, since what is
// left would score too little; of more, one may. A verb of being may be heard as
// the end of the word before and is not asked for.
func (f *finder) anchorAt(k, i int) anchor {
	p := f.phrases[k]
	a := anchor{phrase: int32(k), index: int8(i), single: len(p.words) == 1, either: p.heavy > 3, need: [mostNeeded]uint16{noBit, noBit, noBit}}
	a.reach = uint8(min(max(len(p.words)-2, 0), numReaches-1))
	if len(p.words) > wideWords {
		return a
	}
	n := 0
	for j, w := range p.words {
		if x := &f.lex.words[w]; j != i && x.ending == "" && (x.weight == 1 || p.heavy == 0) && n < mostNeeded {
			a.need[n] = uint16(w & (sieveBits - 1))
			n++
		}
	}
	return a
}

// stands reports whether the words that the anchor asks for may stand near.
func (a *anchor) stands(near *sieve) bool {
	lacking := 0
	for _, bit := range a.need {
		if bit == noBit {
			break
		}
		if !near.has(bit) {
			lacking++
		}
	}
	return lacking == 0 || a.either && lacking == 1
}

// users counts, for every word, by how many items, conditions, lines and
// sections it is used.
func (f *finder) users() []int32 {
	out := make([]int32, len(f.lex.words))
	last := make([]map[[2]int32]bool, len(f.lex.words))
	for _, p := range f.phrases {
		for kind, list := range [][]int32{p.names, p.good, p.bad, p.lines, p.places} {
			for _, owner := range list {
				for _, w := range p.words {
					if last[w] == nil {
						last[w] = map[[2]int32]bool{}
					}
					if k := [2]int32{int32(kind), owner}; !last[w][k] {
						last[w][k] = true
						out[w]++
					}
				}
			}
		}
	}
	return out
}

// reader is the transcript seen through the lexicon.
type reader struct {
	f       *finder
	toks    []speech.Token
	single  [][]match // by token
	joined  [][]match // by token: it and the next read as one word
	splits  [][]join  // by token: two words of a phrase written as one
	damaged bool
	gap     []float32           // by token: what it costs to step over it inside a phrase
	starts  []bool              // by token: a clause of its own begins
	near    [numReaches][]sieve // by token: the words within each of reaches
}

func (f *finder) read(toks []speech.Token) *reader {
	r := &reader{f: f, toks: toks, single: make([][]match, len(toks)), joined: make([][]match, len(toks)), splits: make([][]join, len(toks)), gap: make([]float32, len(toks)), starts: make([]bool, len(toks))}
	cache := make(map[string][]match, 1024)
	type pair struct{ a, b string }
	pairs := make(map[pair][]match, 2048)
	for i, t := range toks {
		m, ok := cache[t.Text]
		if !ok {
			m = f.lex.match(t.Text)
			cache[t.Text] = m
		}
		r.single[i] = m
		r.splits[i] = f.lex.joins[t.Text]
		if i+1 < len(toks) && t.Break < speech.StopBreak {
			k := pair{t.Text, toks[i+1].Text}
			j, ok := pairs[k]
			if !ok {
				j = f.lex.matchJoined(k.a, k.b)
				pairs[k] = j
			}
			r.joined[i] = j
		}
		r.gap[i] = r.stepOver(i)
		r.starts[i] = starting[toks[i].Text]
	}
	return r
}

// roughen adds words that sound only roughly alike, for a damaged transcript.
func (r *reader) roughen(senses []sense) {
	lex := r.f.lex
	words := make(map[string][]match, 1024)
	type pair struct{ a, b string }
	pairs := make(map[pair][]match, 2048)
	for i, t := range r.toks {
		w, x := t.Text, &senses[i]
		if !x.fixed && !functionWord(w) && len(w) >= 3 && w[0] > '9' && (len(r.single[i]) == 0 || r.single[i][0].sim < 1) {
			m, ok := words[w]
			if !ok {
				m = slices.Clone(r.single[i])
			rough:
				for _, n := range lex.rough(w, x.known) {
					for k := range m {
						if m[k].word == n.word {
							m[k].sim = max(m[k].sim, n.sim)
							continue rough
						}
					}
					m = append(m, n)
				}
				words[w] = m
			}
			r.single[i] = m
		}
		if i+1 < len(r.toks) && t.Break < speech.StopBreak && r.joined[i] == nil {
			k := pair{w, r.toks[i+1].Text}
			j, ok := pairs[k]
			if !ok {
				j = lex.matchSplit(k.a, k.b, senses[i], senses[i+1])
				pairs[k] = j
			}
			r.joined[i] = j
		}
	}
}

// stepOver is what it costs to step over token i inside a phrase.
func (r *reader) stepOver(i int) float32 {
	w := r.toks[i].Text
	switch {
	case soft[w], w == "right": // a filler, but "left, right signal" is no left signal
		return gapSoft
	case w == "for" || w == "from" || w == "with":
		return gapTie
	case fillers[w] || functionWord(w):
		return 0
	case r.trade(i):
		return gapCost + gapTrade
	}
	return gapCost
}

// find lists every phrase found, by place, the best score for each phrase and
// place. Linear in the tokens: each starts a bounded number of phrases.
func (r *reader) find() []hit {
	hits := make([]hit, 0, 4*len(r.toks))
	scratch := r.sift()
	defer func() {
		r.near = [numReaches][]sieve{}
		sievePool.Put(scratch)
	}()
	for i := range r.toks {
		for _, m := range r.single[i] {
			hits = r.try(hits, i, 1, m)
		}
		for _, m := range r.joined[i] {
			hits = r.try(hits, i, 2, m)
		}
		for _, j := range r.splits[i] {
			hits = r.try(hits, i, 1, match{j.first, 0.97})
			hits = r.try(hits, i, 1, match{j.second, 0.97})
		}
	}
	slices.SortStableFunc(hits, func(a, b hit) int {
		if c := cmp.Compare(a.first, b.first); c != 0 {
			return c
		}
		if c := cmp.Compare(b.last, a.last); c != 0 {
			return c
		}
		if c := cmp.Compare(b.score, a.score); c != 0 {
			return c
		}
		return cmp.Compare(a.phrase.text, b.phrase.text)
	})
	return slices.CompactFunc(hits, func(a, b hit) bool { return a.phrase == b.phrase && a.first == b.first })
}

// sieves is the room that sift needs, a good part of all that an attempt takes.
type sieves struct {
	here, ahead, behind []sieve
	near                [numReaches][]sieve
}

var sievePool = sync.Pool{New: func() any { return new(sieves) }}

// sift notes which words stand close to each token, in room to be given back once
// the phrases are found.
func (r *reader) sift() *sieves {
	n := len(r.toks)
	s := sievePool.Get().(*sieves)
	room := func(x []sieve) []sieve { return slices.Grow(x[:0], n)[:n] }
	s.here, s.ahead, s.behind = room(s.here), room(s.ahead), room(s.behind)
	for k := range s.near {
		s.near[k] = room(s.near[k])
	}
	here := s.here
	clear(here)
	for i := range r.toks {
		for _, list := range [2][]match{r.single[i], r.joined[i]} {
			for _, m := range list {
				here[i].add(m.word)
			}
		}
		for _, j := range r.splits[i] {
			here[i].add(j.first)
			here[i].add(j.second)
		}
	}
	for k, reach := range reaches {
		around(s.near[k], here, reach, s.ahead, s.behind)
	}
	r.near = s.near
	return s
}

// around joins into out, for each token, the sieves of all tokens within reach, and at the
// ends of the transcript of some more: those of blocks from either side (van
// Herk), so that the cost does not grow with the reach. The scratch is for those
// from a block's start to each token and from the token to its end.
func around(out, here []sieve, reach int, ahead, behind []sieve) {
	n := len(here)
	size := 2*reach + 1
	for i := range here {
		ahead[i] = here[i]
		if i%size > 0 {
			ahead[i].join(&ahead[i-1])
		}
	}
	for i := n - 1; i >= 0; i-- {
		behind[i] = here[i]
		if i+1 < n && (i+1)%size > 0 {
			behind[i].join(&behind[i+1])
		}
	}
	for i := range out {
		lo, hi := max(0, i-reach), min(n-1, i+reach)
		out[i] = behind[lo]
		if hi/size != lo/size {
			out[i].join(&ahead[hi])
		}
	}
}

func (r *reader) try(hits []hit, i, span int, m match) []hit {
	var near [numReaches]*sieve
	for k := range near {
		near[k] = &r.near[k][i]
	}
	anchors := r.f.anchors[m.word]
	for k := range anchors {
		a := &anchors[k]
		if !a.stands(near[a.reach]) {
			continue
		}
		p := r.f.phrases[a.phrase]
		if a.single {
			if m.sim >= leastSingle || r.damaged && m.sim >= leastDamaged {
				hits = append(hits, hit{p, i, i + span, m.sim, m.sim >= 0.99})
			}
			continue
		}
		if h, ok := r.extend(p, int(a.index), i, span, m.sim); ok {
			hits = append(hits, h)
		}
	}
	return hits
}

// extend grows a match of the word at index of a phrase of several, found at
// token i, to both sides.
func (r *reader) extend(p *phrase, index, i, span int, sim float32) (hit, bool) {
	lex := r.f.lex
	got := p.weights[index] * sim
	left := p.weight - p.weights[index] // weight not yet looked at
	lost := 0
	exact := sim >= 0.99
	least := float32(leastMulti) * p.weight
	first, last := i, i+span
	gaps := float32(0)
	worst := sim // of its meaning words

	step := func(k, dir int) bool {
		w := p.words[k]
		wt := p.weights[k]
		left -= wt
		at, n, s := -1, 1, float32(0)
		pos := last
		if dir < 0 {
			pos = first - 1
		}
		cost := float32(0)
		reach := 4
		if p.variant {
			reach = 1 // what a recognizer writes stands together
		}
		for range reach {
			if pos < 0 || pos >= len(r.toks) || dir > 0 && r.toks[pos-1].Break == speech.StopBreak || dir < 0 && r.toks[pos].Break == speech.StopBreak {
				break
			}
			if v, width := r.here(pos, w, dir); v > 0 {
				at, n, s = pos, width, v
				break
			}
			// An article or a filler may stand between; another word costs.
			cost += r.gap[pos]
			if r.starts[pos] && len(p.names) > 0 {
				break // "the windshield, I washed it" names no windshield washers
			}
			pos += dir
		}
		if at < 0 || wt < 1 && cost > 0 {
			if wt == 1 {
				lost++
			}
			// A particle turns the meaning: without it the phrase is another one.
			if lex.words[w].particle || p.heavy < 2 {
				return false
			}
			exact = false
			return got+left-gaps >= least && lost <= max(0, p.heavy-2)
		}
		if dir > 0 {
			if p.linked == k && p.linked > 0 && !r.link(last, at) {
				return false
			}
			last = at + n
		} else {
			if p.linked == k+1 && !r.link(at+n, first) {
				return false
			}
			first = at
		}
		exact = exact && s >= 0.99
		if wt == 1 {
			worst = min(worst, s)
		}
		gaps += cost
		got += wt * s
		return got+left-gaps >= least
	}
	// The token at i may hold the next or the previous word of the phrase too.
	lo, hi := index-1, index+1
	for _, j := range r.splits[i] {
		if span == 1 && hi < len(p.words) && j.first == p.words[index] && j.second == p.words[hi] {
			got += p.weights[hi] * 0.97
			left -= p.weights[hi]
			hi++
			break
		}
		if span == 1 && lo >= 0 && j.second == p.words[index] && j.first == p.words[lo] {
			got += p.weights[lo] * 0.97
			left -= p.weights[lo]
			lo--
			break
		}
	}
	for k := hi; k < len(p.words); k++ {
		if !step(k, 1) {
			return hit{}, false
		}
	}
	for k := lo; k >= 0; k-- {
		if !step(k, -1) {
			return hit{}, false
		}
	}
	score := (got - gaps) / p.weight
	if score < leastMulti || p.heavy <= 2 && gaps > gapTie && worst < simHeard && worst != simAlike {
		return hit{}, false // of two words, one misheard and others between: "good for a while" is no "still whole"
	}
	if !r.damaged && p.heavy <= 2 && worst < leastPair && worst != simAlike {
		return hit{}, false // where the recognizer did well, "next to" is no "snug to"
	}
	return hit{p, first, last, score, exact}, true
}

// link reports that one of tokens [from:to) ties a part to what it belongs to.
func (r *reader) link(from, to int) bool {
	link := false
	for t := from; t < to; t++ {
		switch w := r.toks[t].Text; {
		case linking[w]:
			link = true
		case !determiners[w] && !fillers[w] || w == "and" || w == "you":
			return false // something else begins: "parking brake, I release the trailer"
		}
	}
	return link
}

// trade reports that the token is a word of the rubric itself: it belongs to
// another phrase, a match may not step over it lightly.
func (r *reader) trade(pos int) bool {
	for _, m := range r.single[pos] {
		if m.sim >= simStem && r.f.lex.words[m.word].weight == 1 {
			return true
		}
	}
	return false
}

// here is the similarity of the rubric word w at token pos, and how many
// tokens it takes up.
func (r *reader) here(pos int, w int32, dir int) (float32, int) {
	for _, m := range r.single[pos] {
		if m.word == w {
			return m.sim, 1
		}
	}
	// "the light's out" says "is out".
	if end := r.f.lex.words[w].ending; end != "" && strings.HasSuffix(r.toks[pos].Text, end) {
		return simStem, 1
	}
	if dir > 0 {
		for _, m := range r.joined[pos] {
			if m.word == w {
				return m.sim, 2
			}
		}
	}
	return 0, 0
}

// at is the length in tokens of the longest of the phrases that begins at token i,
// 0 if none does.
func (ph phrases) at(toks []speech.Token, i int) int {
	best := 0
next:
	for _, words := range ph[toks[i].Text] {
		if i+len(words) > len(toks) || len(words) <= best {
			continue
		}
		for k := 1; k < len(words); k++ {
			if toks[i+k].Text != words[k] || toks[i+k-1].Break == speech.StopBreak {
				continue next
			}
		}
		best = len(words)
	}
	return best
}

// within reports whether one of the phrases begins among tokens [from:to).
func (ph phrases) within(toks []speech.Token, from, to int) bool {
	for i := max(0, from); i < min(to, len(toks)); i++ {
		if ph.at(toks, i) > 0 {
			return true
		}
	}
	return false
}
