// Package damage makes clean transcripts as bad as recognizers make them, to
// measure what marking loses by it.
//
// Damage takes a transcript whose marks are known and returns it with a given
// share of word errors. The same transcript, rate and seed give the same
// result. The errors are of the kinds that recognizers make (see Kind), gather
// in bad stretches, and fall on rare words more than on common ones.
//
// What a transcript says must stay true to the marks given to it, so:
//
//   - No number changes its value. Number words are neither lost nor mistaken
//     for one another; they change their spelling only ("one twenty five",
//     "125", "1 25"), or one that stands alone before its unit becomes the
//     word that sounds the same ("four psi", "for psi"). No word that was not
//     a number becomes one, and words beside a number are not lost.
//   - A word of denial (no, not, don't, none, without ...) is lost or changed
//     at NegationShare of the rate and no more. None comes up anew, nor does a
//     word that says which way a figure points.
//   - Words do not pass from one speaker to another.
//   - Times stray by up to TimeJitter; a stretch that must last a given time
//     can therefore come out up to twice that shorter or longer.
//
// The shares of the kinds are chosen to look like the output of general
// recognizers on untrained speech; no source is claimed for them. Sounds come
// from an open pronouncing dictionary: see testdata/sounds.py.
//
// Caveats: no acoustic model stands behind this, words that are in neither the
// 4,000 most common nor the trade's list are never mistaken, and the sense of a
// sentence plays no part in the choice.
package damage

import (
	"cmp"
	"math"
	"math/rand/v2"
	"slices"
	"strings"

	"markaround/speech"
)

// Kind is a kind of damage.
type Kind string

// Kinds of damage that count as word errors.
const (
	SoundAlike Kind = "sound-alike" // a word taken for one that sounds like it
	Function   Kind = "function"    // a short unstressed word lost
	Quiet      Kind = "quiet"       // the last words of an utterance lost
	Split      Kind = "split"       // one word heard as two
	Join       Kind = "join"        // two words heard as one
	Respelled  Kind = "respelled"   // a number or unit written another way
	Inserted   Kind = "inserted"    // a short word that nobody said
	Denial     Kind = "denial"      // a word of denial lost or changed
)

// shares says what part of the word errors each kind makes up, as far as the
// transcript has places for it. Denial is not drawn by share.
var shares = []struct {
	kind  Kind
	share float64
}{
	{SoundAlike, 0.54},
	{Function, 0.14},
	{Quiet, 0.06},
	{Split, 0.08},
	{Join, 0.06},
	{Respelled, 0.07},
	{Inserted, 0.05},
}

const (
	// NegationShare is the chance that a word of denial is lost or changed, as a
	// part of the word error rate. Such words bear the stress in spoken
	// inspections. Chosen, no source.
	NegationShare = 0.25

	// TimeJitter is the most by which a word's times move, in seconds.
	TimeJitter = 1.5

	// MaxRate is the highest word error rate that Damage aims at.
	MaxRate = 0.6

	pause = 1.0 // seconds of silence that end an utterance
)

// Damage returns a damaged copy of t and the word errors done to it, counted
// by WER. Rate is the word error rate to reach, from 0 to MaxRate; outside, the
// nearest of the two is used. A rate of 0 returns a plain copy. The rate
// reached may stay below where t is short or made up of numbers; see the
// report. Damaged transcripts have no punctuation and no capitals, segments
// broken at wrong words, and no source lines. T is not changed; without segments
// its words count as one.
func Damage(t *speech.Transcript, rate float64, seed uint64) (*speech.Transcript, Report) {
	c := newCase(t, rate, seed)
	if !(rate > 0) {
		out := *t
		out.Words = slices.Clone(t.Words)
		out.Segments = slices.Clone(t.Segments)
		out.Warnings = slices.Clone(t.Warnings)
		return &out, WER(c.ref, c.ref)
	}
	rep := c.reach(min(rate, MaxRate))
	words := c.apply()
	jitter(words, c.rnd)
	return assemble(t, words, c.rnd), rep
}

// word is a normalized word on its way through the damage.
type word struct {
	speech.Word
	speaker string
	ends    bool // punctuation, a pause or the end of a segment follows
}

// edit puts other words in place of words [first,last).
type edit struct {
	first, last int
	with        []string
	kind        Kind
	errors      int // word errors it makes
}

// damaging is the state of one call of Damage.
type damaging struct {
	rnd         *rand.Rand
	words       []word
	ref         []string
	runs        [][2]int  // the numbers: words [first,last)
	fixed       []bool    // words that only a respelling may touch
	beside      []bool    // words beside a number
	badness     []float64 // how bad the stretch is, 1 on average
	used        []bool    // words an edit covers, or puts a word before
	places      map[Kind][]float64
	edits       []edit
	respellings []respelling
}

func newCase(t *speech.Transcript, rate float64, seed uint64) *damaging {
	c := &damaging{rnd: rand.New(rand.NewPCG(seed, math.Float64bits(rate)))}
	segments := t.Segments
	if len(segments) == 0 {
		segments = []speech.Segment{{Last: len(t.Words)}}
	}
	for _, s := range segments {
		for k := s.First; k < s.Last; k++ {
			c.addWord(t.Words[k], s.Speaker, k+1 == s.Last || t.Words[k+1].Start-t.Words[k].End >= pause)
		}
	}
	c.ref = make([]string, len(c.words))
	for i, w := range c.words {
		c.ref[i] = w.Text
	}
	c.used = make([]bool, len(c.words))
	c.places = map[Kind][]float64{}
	c.findNumbers()
	c.badness = make([]float64, len(c.words))
	for i := 0; i < len(c.badness); {
		bad := 0.2 + 0.8*c.rnd.ExpFloat64()
		for n := 6 + c.rnd.IntN(18); n > 0 && i < len(c.badness); n-- {
			c.badness[i] = bad
			i++
		}
	}
	return c
}

// addWord adds a source word, parted as Normalize parts it, its time spread
// over the parts.
func (c *damaging) addWord(w speech.Word, speaker string, ends bool) {
	parts := Normalize([]string{w.Text})
	ends = ends || w.Text != "" && strings.IndexByte(".,;:?!", w.Text[len(w.Text)-1]) >= 0
	for i, p := range spread(w, parts) {
		c.words = append(c.words, word{p, speaker, ends && i == len(parts)-1})
	}
	if len(parts) == 0 && len(c.words) > 0 {
		c.words[len(c.words)-1].ends = true
	}
}

// spread shares the time of a word among texts by their length.
func spread(w speech.Word, texts []string) []speech.Word {
	total := 0
	for _, s := range texts {
		total += len(s)
	}
	out := make([]speech.Word, 0, len(texts))
	at, done := w.Start, 0
	for _, s := range texts {
		p := w
		p.Text, p.Start = s, at
		done += len(s)
		at = w.Start + (w.End-w.Start)*float64(done)/float64(total)
		p.End = at
		p.Estimated = w.Estimated || len(texts) > 1
		out = append(out, p)
	}
	return out
}

// findNumbers marks the numbers and the words beside them. "A" and "and"
// belong to a number where they lead or join its words.
func (c *damaging) findNumbers() {
	n := len(c.ref)
	c.fixed, c.beside = make([]bool, n), make([]bool, n)
	for i := 0; i < n; {
		first := i
		if c.ref[i] == "a" && i+1 < n && (c.ref[i+1] == "hundred" || c.ref[i+1] == "thousand") {
			i++
		}
		if !isNumber(c.ref[i]) {
			i++
			continue
		}
		for i++; i < n && !c.words[i-1].ends && c.words[i].speaker == c.words[first].speaker; i++ {
			if c.ref[i] == "and" && c.ref[i-1] == "hundred" && i+1 < n && isNumber(c.ref[i+1]) {
				continue
			}
			if !isNumber(c.ref[i]) {
				break
			}
		}
		c.runs = append(c.runs, [2]int{first, i})
		for k := first; k < i; k++ {
			c.fixed[k] = true
		}
		if first > 0 {
			c.beside[first-1] = true
		}
		if i < n {
			c.beside[i] = true
		}
	}
	for i, w := range c.ref {
		// "Twenty to forty five" is a range by its middle word.
		between := functionWords[w] && i > 0 && i+1 < n && isNumber(c.ref[i-1]) && isNumber(c.ref[i+1])
		c.fixed[i] = c.fixed[i] || isNegation(w) || between
	}
}

// reach adds edits until the word error rate is met, and reports it.
func (c *damaging) reach(rate float64) Report {
	target := int(math.Round(rate * float64(len(c.ref))))
	left := target - c.deny(rate*NegationShare, target)
	open := slices.Clone(shares)
	c.findRespellings()
	for {
		for left > 0 && len(open) > 0 {
			k := c.pick(len(open), func(i int) float64 { return open[i].share })
			e, ok := c.draw(open[k].kind, left)
			if !ok {
				open = slices.Delete(open, k, k+1)
				continue
			}
			left -= c.add(e)
		}
		// Neighboring edits can cost less together than one by one.
		rep := WER(c.ref, c.texts())
		if left = target - rep.Errors(); left <= 0 || len(open) == 0 {
			rep.Kinds = map[Kind]int{}
			for _, e := range c.edits {
				rep.Kinds[e.kind]++
			}
			return rep
		}
	}
}

// add takes an edit in and returns the word errors it makes.
func (c *damaging) add(e edit) int {
	for i := e.first; i < max(e.last, e.first+1); i++ {
		c.used[i] = true
	}
	c.edits = append(c.edits, e)
	return e.errors
}

// pick draws an index below n by weight; -1 when all weights are 0.
func (c *damaging) pick(n int, weight func(int) float64) int {
	var total float64
	for i := range n {
		total += weight(i)
	}
	at := c.rnd.Float64() * total
	last := -1
	for i := range n {
		w := weight(i)
		if w <= 0 {
			continue
		}
		if last = i; at < w {
			return i
		}
		at -= w
	}
	return last
}

// deny loses or changes each word of denial with chance p, at most most word
// errors in all, and returns the word errors made.
func (c *damaging) deny(p float64, most int) int {
	errors := 0
	for i, w := range c.ref {
		if !isNegation(w) || c.rnd.Float64() >= p || errors >= most {
			continue
		}
		e := edit{first: i, last: i + 1, kind: Denial, errors: 1}
		if same := table().alike[w]; len(same) > 0 && c.rnd.IntN(2) == 0 {
			e.with = []string{same[0].word}
		}
		errors += c.add(e)
	}
	return errors
}

// draw makes an edit of a kind at a place that is still free, with at most most
// word errors; false when there is none.
func (c *damaging) draw(kind Kind, most int) (edit, bool) {
	if kind == Respelled {
		return c.drawRespelled(most)
	}
	weights := c.placeWeights(kind)
	for {
		at := c.pick(len(weights), func(i int) float64 {
			if c.used[i] {
				return 0
			}
			return weights[i]
		})
		if at < 0 {
			return edit{}, false
		}
		if e, ok := c.choose(kind, at, most); ok {
			return e, true
		}
		weights[at] = 0
	}
}

// placeWeights says how readily each word suffers a kind of damage.
func (c *damaging) placeWeights(kind Kind) []float64 {
	if w, ok := c.places[kind]; ok {
		return w
	}
	w := make([]float64, len(c.ref))
	for i := range w {
		if !c.fixed[i] {
			w[i] = c.badness[i] * c.weight(kind, i)
		}
	}
	c.places[kind] = w
	return w
}

// choose draws one of the edits of a kind at word i. Of words that sound alike,
// the more alike is the more likely.
func (c *damaging) choose(kind Kind, i, most int) (edit, bool) {
	opts := c.options(kind, i, most)
	k := c.pick(len(opts), func(k int) float64 {
		if kind == SoundAlike {
			for _, a := range table().alike[c.ref[i]] {
				if a.word == opts[k].with[0] {
					return a.weight
				}
			}
		}
		return 1
	})
	if k < 0 {
		return edit{}, false
	}
	return opts[k], true
}

// weight says how readily a word suffers a kind of damage. Words that are rare
// in the language are mistaken more often than common ones.
func (c *damaging) weight(kind Kind, i int) float64 {
	switch kind {
	case SoundAlike, Split, Join:
		rarity, ok := table().rarity[c.ref[i]]
		if !ok {
			rarity = 60
		}
		return max(0.2, (rarity-15)/25)
	}
	return 1
}

// options lists the edits of a kind that begin at word i, which is free.
func (c *damaging) options(kind Kind, i, most int) []edit {
	var out []edit
	offer := func(first, last int, with ...string) {
		e := edit{first, last, with, kind, max(last-first, len(with))}
		if e.errors <= most && c.allowed(e) {
			out = append(out, e)
		}
	}
	w := c.ref[i]
	next := i+1 < len(c.ref) && !c.used[i+1] && !c.fixed[i+1] && !c.words[i].ends &&
		c.words[i+1].speaker == c.words[i].speaker
	switch kind {
	case SoundAlike:
		for _, a := range table().alike[w] {
			offer(i, i+1, a.word)
		}
	case Function:
		if functionWords[w] && !c.beside[i] {
			offer(i, i+1)
		}
	case Quiet:
		switch {
		case c.beside[i] || units[w]:
		case c.words[i].ends:
			offer(i, i+1)
		case next && c.words[i+1].ends && !c.beside[i+1] && !units[c.ref[i+1]]:
			offer(i, i+2)
		}
	case Split:
		for _, p := range table().parts[w] {
			offer(i, i+1, p[0], p[1])
		}
	case Join:
		if !next {
			break
		}
		if one, ok := table().joined[[2]string{w, c.ref[i+1]}]; ok {
			offer(i, i+2, one)
		}
		// Writers of parts of words run two content words into one.
		if c.content(i) && c.content(i+1) {
			offer(i, i+2, w+c.ref[i+1])
		}
	case Inserted:
		if !c.beside[i] {
			for _, f := range []string{"the", "a", "and", "uh", "it", "of", "i"} {
				offer(i, i, f)
			}
		}
	}
	return out
}

func (c *damaging) content(i int) bool {
	w := c.ref[i]
	return !functionWords[w] && !bounds[w] && !units[w] && len(w) >= 3 && len(w) <= 7 && table().rarity[w] >= 38
}

// allowed keeps new numbers, denials and bounds out, and keeps a new word from
// becoming part of the number beside it.
func (c *damaging) allowed(e edit) bool {
	for _, w := range e.with {
		if isNumber(w) || isNegation(w) || bounds[w] {
			return false
		}
		if e.last == e.first+1 && opposites(c.ref[e.first], w) {
			return false
		}
		if (w == "a" || w == "and" || w == "an") && (c.beside[e.first] || c.beside[max(e.first, e.last-1)]) {
			return false
		}
	}
	return true
}

// opposites reports whether two words differ by a prefix of denial only
// ("legal", "illegal").
func opposites(a, b string) bool {
	if len(a) > len(b) {
		a, b = b, a
	}
	prefix, ok := strings.CutSuffix(b, a)
	return ok && slices.Contains([]string{"un", "in", "im", "il", "ir", "dis", "non", "mis"}, prefix)
}

// drawRespelled writes a number or a unit in another way.
func (c *damaging) drawRespelled(most int) (edit, bool) {
	k := c.pick(len(c.respellings), func(i int) float64 {
		if r := &c.respellings[i]; !c.used[r.first] && r.errors <= most {
			return r.weight
		}
		return 0
	})
	if k < 0 {
		return edit{}, false
	}
	return c.respellings[k].edit, true
}

// respelling is another way to write a number or a unit.
type respelling struct {
	edit
	weight float64
}

// findRespellings lists the other ways to write the numbers and units.
func (c *damaging) findRespellings() {
	add := func(first, last int, weight float64, with ...string) {
		e := edit{first, last, with, Respelled, WER(c.ref[first:last], with).Errors()}
		if e.errors > 0 {
			c.respellings = append(c.respellings, respelling{e, weight * c.badness[first]})
		}
	}
	for _, r := range c.runs {
		first, last := r[0], r[1]
		next := ""
		if last < len(c.ref) && !c.words[last-1].ends {
			next = c.ref[last]
		}
		run := c.ref[first:last]
		for _, with := range respell(run, next, c.aboutTread(first, last)) {
			add(first, last, 1, with...)
		}
		if lone := last-first == 1 && units[next] || last-first == 3 && run[1] == "thirty" && run[2] == "seconds"; lone {
			for _, a := range table().alike[run[0]] {
				add(first, first+1, 0.1*a.weight, a.word)
			}
		}
	}
	for i, w := range c.ref {
		if w == "psi" && i > 0 && isNumber(c.ref[i-1]) {
			add(i, i+1, 0.5, "p", "s", "i")
			add(i, i+1, 0.5, "pounds")
		}
	}
}

// aboutTread reports whether words near [first,last) speak of tread depth.
func (c *damaging) aboutTread(first, last int) bool {
	const near = 10
	return slices.ContainsFunc(c.ref[max(0, first-near):min(len(c.ref), last+near)],
		func(w string) bool { return treadWords[w] })
}

func (c *damaging) sortEdits() {
	slices.SortFunc(c.edits, func(a, b edit) int {
		return cmp.Or(cmp.Compare(a.first, b.first), cmp.Compare(a.last, b.last))
	})
}

// texts are the damaged words without their times.
func (c *damaging) texts() []string {
	c.sortEdits()
	var out []string
	i := 0
	for _, e := range c.edits {
		out = append(append(out, c.ref[i:e.first]...), e.with...)
		i = e.last
	}
	return append(out, c.ref[i:]...)
}

// apply carries the edits out. New words share the time of those they replace;
// a word put in takes the moment before its neighbor. A recognizer that gives
// confidences gives low ones where it errs.
func (c *damaging) apply() []word {
	c.sortEdits()
	var out []word
	i := 0
	for _, e := range c.edits {
		out = append(out, c.words[i:e.first]...)
		i = e.last
		if len(e.with) == 0 {
			continue
		}
		w := c.words[min(e.first, len(c.words)-1)]
		if e.last > e.first {
			w.End = max(w.End, c.words[e.last-1].End)
		} else {
			w.End = w.Start
		}
		if w.Confidence >= 0 {
			w.Confidence *= 0.4 + 0.5*c.rnd.Float64()
		}
		for _, p := range spread(w.Word, e.with) {
			out = append(out, word{Word: p, speaker: w.speaker})
		}
	}
	return append(out, c.words[i:]...)
}

// jitter moves the words' times by up to TimeJitter either way, a stretch at a
// time, and keeps their order.
func jitter(words []word, rnd *rand.Rand) {
	var shift, earliest float64
	for i, stretch := 0, 0; i < len(words); i, stretch = i+1, stretch-1 {
		if stretch == 0 {
			stretch = 5 + rnd.IntN(20)
			shift = TimeJitter * (2*rnd.Float64() - 1)
		}
		w := &words[i]
		end := w.End + shift
		w.Start = max(w.Start+shift, earliest)
		w.End = max(end, w.Start)
		earliest = w.Start
	}
}

// assemble breaks the words into segments, mostly where they were broken, some
// words off, and some anew. A new speaker always begins a segment.
func assemble(t *speech.Transcript, words []word, rnd *rand.Rand) *speech.Transcript {
	const kept, moved, extra, farthest = 0.4, 0.35, 1.0 / 40, 3
	breaks := make([]bool, len(words)+1)
	for i := 1; i < len(words); i++ {
		if words[i].Segment != words[i-1].Segment {
			switch p := rnd.Float64(); {
			case p < kept:
				breaks[i] = true
			case p < kept+moved:
				breaks[min(max(1, i+rnd.IntN(2*farthest+1)-farthest), len(words))] = true
			}
		} else if rnd.Float64() < extra {
			breaks[i] = true
		}
	}
	out := &speech.Transcript{Name: t.Name, Format: t.Format}
	for i, w := range words {
		if i == 0 || breaks[i] || w.speaker != words[i-1].speaker {
			out.Segments = append(out.Segments, speech.Segment{
				Start: w.Start, Speaker: w.speaker, First: i, Cue: len(out.Segments) + 1,
			})
		}
		s := &out.Segments[len(out.Segments)-1]
		s.Last = i + 1
		s.End = max(s.End, w.End)
		w.Segment = len(out.Segments) - 1
		out.Words = append(out.Words, w.Word)
	}
	return out
}
