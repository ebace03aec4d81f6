// Package align finds which words of a transcript answer which check of a
// rubric, and how sure that is.
//
// It goes in one direction over the words, each step in a file of its own:
//
//	lexicon, sound   which rubric words a transcript word may stand for
//	phrase           which phrases of the rubric occur, where, how well
//	path             where the student stood, so that a part that comes back
//	                 at every station is taken for the one at hand
//	weak, guess      parts and checks that the recognizer garbled
//	polarity         whether a condition is claimed, denied or only supposed
//	scope            which parts a condition counts for
//	number           which number is stated for which measure
//	rules            order of steps, holds, readings that must fit
//	pace             where the time went
//
// What the answers are worth is not decided here but by rubric.Mark.
//
// The matcher trades completeness for speed in two places: a phrase is tried
// only where one of its two rarest words is heard, and a word is compared by
// edit distance only with words that share letter pairs with it.
package align

import (
	"fmt"
	"slices"
	"strings"

	"markaround/rubric"
	"markaround/speech"
)

// Matcher finds answers for one rubric. It is safe for concurrent use.
type Matcher struct {
	rubric   *rubric.Rubric
	finder   *finder
	sections []sectionInfo
	lines    []lineInfo
	items    []itemInfo
	byID     map[string]int32
	owners   [][]int32      // condition set → lines
	weakSets [][]weakPhrase // condition set → its phrases by sound
}

type sectionInfo struct {
	id        string
	samePlace []int32        // other sections of the same place
	words     map[int32]bool // meaning words of its announcements
	sets      map[int32]bool // condition sets that its items have
}

type lineInfo struct {
	id      string
	section int32
	items   []int32
	share   float32 // what its parts count for the path: less when none is on the list
}

type itemInfo struct {
	item     *rubric.Item
	line     int32
	extra    bool
	checks   []checkInfo
	measures []measureInfo
	weak     []weakPhrase
	words    map[int32]bool // meaning words of its names
}

type checkInfo struct {
	check *rubric.Check
	set   int32 // the condition set, equal for checks with the same phrases
}

type measureInfo struct {
	measure *rubric.Measure
	near    []*phrase
}

// Options of one attempt.
type Options struct {
	Attempt string   // id, written on the sheet
	Student []string // speaker labels that are the student; empty: guess
	// Sound is the recording, nil without one, and Timing how the transcript was
	// put onto its clock: see speech.Place.
	Sound  *speech.Sound
	Timing speech.Timing
}

// shareExtra is what lines with nothing on the list count for the path.
const shareExtra = 0.65

// New prepares a matcher for a rubric. It fails when the rubric has nothing to
// listen for.
func New(r *rubric.Rubric) (*Matcher, error) {
	m := &Matcher{rubric: r, finder: newFinder(), byID: map[string]int32{}}
	b := builder{Matcher: m, variants: hearings(r), sets: map[string]int32{}}
	for s := range r.Sections {
		b.section(&r.Sections[s])
	}
	if len(m.items) == 0 || len(m.finder.phrases) == 0 {
		return nil, fmt.Errorf("rubric %s has no items to listen for", r.ID)
	}
	b.heardAs()
	for _, group := range r.Alike {
		m.finder.lex.addAlike(group)
	}
	m.finder.seal()
	b.bySound()
	users := m.finder.users()
	for _, p := range m.finder.phrases {
		p.strong = m.distinctive(p, users)
	}
	return m, nil
}

// builder fills a matcher from a rubric, outside in; each part goes to the end
// of its list.
type builder struct {
	*Matcher
	variants func(string) []string
	sets     map[string]int32 // condition sets by their phrases
}

// add makes phrases of the texts and of what recognizers write for them, and
// puts each to its use.
func (b *builder) add(texts []string, put func(*phrase)) {
	for _, text := range texts {
		for i, v := range b.variants(text) {
			n := len(b.finder.phrases)
			p := b.finder.phrase(v)
			if p == nil {
				continue
			}
			if i == 0 {
				p.variant = false
			} else if len(b.finder.phrases) > n {
				p.variant = true
			}
			put(p)
		}
	}
}

func (b *builder) section(sec *rubric.Section) {
	s := int32(len(b.sections))
	info := sectionInfo{id: sec.ID, words: map[int32]bool{}, sets: map[int32]bool{}}
	for o := range b.rubric.Sections {
		if int32(o) != s && sec.Place != "" && b.rubric.Sections[o].Place == sec.Place {
			info.samePlace = append(info.samePlace, int32(o))
		}
	}
	b.sections = append(b.sections, info)
	b.add(sec.Say, func(p *phrase) {
		p.places = once(p.places, s)
		for _, w := range p.words {
			if b.finder.lex.words[w].weight == 1 {
				info.words[w] = true
			}
		}
	})
	for l := range sec.Lines {
		b.line(s, &sec.Lines[l])
	}
}

func (b *builder) line(s int32, line *rubric.Line) {
	l := int32(len(b.lines))
	info := lineInfo{id: line.ID, section: s, share: shareExtra}
	b.add(line.Say, func(p *phrase) { p.lines = once(p.lines, l) })
	for i := range line.Items {
		it := &line.Items[i]
		if !it.Extra {
			info.share = 1
		}
		info.items = append(info.items, b.item(s, l, it))
	}
	b.lines = append(b.lines, info)
}

func (b *builder) item(s, l int32, it *rubric.Item) int32 {
	i := int32(len(b.items))
	b.byID[it.ID] = i
	info := itemInfo{item: it, line: l, extra: it.Extra, words: map[int32]bool{}}
	name := func(p *phrase) {
		p.names = once(p.names, i)
		for _, w := range p.words {
			info.words[w] = true
		}
	}
	b.add(it.Say, name)
	for _, text := range it.Say {
		for _, p := range b.finder.inverted(text) {
			name(p)
		}
	}
	for c := range it.Checks {
		set := b.set(&it.Checks[c])
		b.owners[set] = once(b.owners[set], l)
		b.sections[s].sets[set] = true
		info.checks = append(info.checks, checkInfo{&it.Checks[c], set})
	}
	for k := range it.Measures {
		mi := measureInfo{measure: &it.Measures[k]}
		b.add(it.Measures[k].Near, func(p *phrase) { p.near = true; mi.near = append(mi.near, p) })
		info.measures = append(info.measures, mi)
	}
	b.items = append(b.items, info)
	return i
}

// set is the condition set of a check, made when no check had its phrases yet.
func (b *builder) set(ck *rubric.Check) int32 {
	key := ck.Condition
	if len(ck.Good)+len(ck.Bad) > 0 {
		key += "\x00" + strings.Join(ck.Good, "\x01") + "\x00" + strings.Join(ck.Bad, "\x01")
	}
	set, ok := b.sets[key]
	if !ok {
		set = int32(len(b.sets))
		b.sets[key] = set
		b.owners = append(b.owners, nil)
		good, bad := b.rubric.Phrases(ck)
		b.add(good, func(p *phrase) { p.good = once(p.good, set) })
		b.add(bad, func(p *phrase) { p.bad = once(p.bad, set) })
	}
	return set
}

// heardAs gives the lexicon the words that recognizers write for one other word.
func (b *builder) heardAs() {
	lex := b.finder.lex
	for _, h := range b.rubric.HeardAs {
		means := speech.TokensOf(h.Means)
		if len(means) != 1 {
			continue
		}
		if id, ok := lex.ids[means[0].Text]; ok {
			for _, heard := range h.Heard {
				if t := speech.TokensOf(heard); len(t) == 1 {
					lex.heard[t[0].Text] = append(lex.heard[t[0].Text], id)
				}
			}
		}
	}
}

// bySound sorts the phrases that have sound enough by the items and condition
// sets that they belong to.
func (b *builder) bySound() {
	b.weakSets = make([][]weakPhrase, len(b.owners))
	for _, p := range b.finder.phrases {
		w, ok := b.weakOf(p)
		if !ok {
			continue
		}
		for _, n := range p.names {
			b.items[n].weak = append(b.items[n].weak, w)
		}
		for _, list := range [][]int32{p.good, p.bad} {
			for _, set := range list {
				b.weakSets[set] = append(b.weakSets[set], w)
			}
		}
	}
}

func once(list []int32, v int32) []int32 {
	if slices.Contains(list, v) {
		return list
	}
	return append(list, v)
}

// hearings returns a function that lists a phrase and what recognizers write
// for it, by the rubric's table; words heard as one other word are left to the
// lexicon.
func hearings(r *rubric.Rubric) func(string) []string {
	type swap struct{ means, heard string }
	swaps := map[string][]swap{} // by the first word of what is meant
	for _, h := range r.HeardAs {
		for _, heard := range h.Heard {
			if strings.Contains(heard, " ") || strings.Contains(h.Means, " ") {
				means := strings.ToLower(h.Means)
				first, _, _ := strings.Cut(means, " ")
				swaps[first] = append(swaps[first], swap{" " + means + " ", " " + strings.ToLower(heard) + " "})
			}
		}
	}
	return func(text string) []string {
		out := []string{text}
		padded := " " + strings.ToLower(text) + " "
		for _, w := range splitWords(padded) {
			for _, s := range swaps[w] {
				if strings.Contains(padded, s.means) {
					out = append(out, strings.TrimSpace(strings.Replace(padded, s.means, s.heard, 1)))
				}
			}
		}
		return out
	}
}

// distinctive reports phrases that name something wherever they are said: of
// two meaning words or more, or one long word used for nothing else.
func (m *Matcher) distinctive(p *phrase, uses []int32) bool {
	if len(p.names) == 0 || len(p.good)+len(p.bad)+len(p.places)+len(p.lines) > 0 {
		return false
	}
	if p.heavy >= 2 {
		return true
	}
	for _, w := range p.words {
		if m.finder.lex.words[w].weight == 1 {
			return len(m.finder.lex.words[w].text) >= 6 && uses[w] == 1
		}
	}
	return false
}

// hear finds what the student said. The transcript may have other speakers; they
// are left out.
func (m *Matcher) hear(t *speech.Transcript, opt Options) (rubric.Answers, *listening) {
	l := m.listen(t, opt)
	l.scope()
	l.checkAgain()
	l.numbers()
	l.carry()
	l.sound(opt.Sound, opt.Timing)
	return l.answers(), l
}

// Grade marks a transcript: it finds the answers, marks them by the rubric's
// rule and adds order, holds, readings and pace.
func (m *Matcher) Grade(t *speech.Transcript, opt Options) *rubric.Sheet {
	answers, l := m.hear(t, opt)
	s := &rubric.Sheet{Attempt: opt.Attempt, Source: t.Name, Format: string(t.Format), Words: l.words, Warnings: []string{}}
	for _, w := range t.Warnings {
		s.Warnings = append(s.Warnings, w.String())
	}
	s.Warnings = append(s.Warnings, l.warnings...)
	s.Items = m.rubric.Mark(answers, rubric.Marking{})
	l.assure(s.Items)
	marks := map[string]*rubric.ItemMark{}
	for i := range s.Items {
		marks[s.Items[i].ID] = &s.Items[i]
	}
	holds := l.holds(marks)
	s.Pace = l.pace(s.Items, holds)
	s.Findings = l.findings(marks, holds)
	s.Recording = l.recording
	m.rubric.Conclude(s)
	return s
}

// listening is one attempt while it is being matched.
type listening struct {
	m          *Matcher
	t          *speech.Transcript
	toks       []speech.Token
	words      int // the student's words
	warnings   []string
	hits       []hit
	mentions   []mention
	sights     []sight
	conds      []condition
	quantities []speech.Quantity
	got        []itemGot // by item
	sames      []same
	states     []bool            // by token: part of a sound state
	reason     []bool            // by token: within a reason given ("because ...")
	story      []bool            // by token: within a story told on the way
	others     []bool            // by segment: spoken by somebody else; nil without labels
	asked      []bool            // by token: within a question put to the student
	covered    []bool            // by token: accounted for; nil in a transcript of a few words
	senses     []sense           // by token, likewise
	guessed    []guess           // what words may have been, likewise
	damage     float32           // estimated word error rate, 0 for a clean transcript
	audio      *speech.Sound     // nil without a recording
	recording  *rubric.Recording // what it shows
}

// itemGot gathers what was found for one item.
type itemGot struct {
	named    []naming
	checks   [][]claim // by check
	measures [][]stated
}

type naming struct {
	mention int
	passing bool // named on the way, inside a sentence about another part
	used    bool // something was said of it there
	aside   bool // hangs on a preposition: counts only when something is said of it
}

func (m *Matcher) listen(t *speech.Transcript, opt Options) *listening {
	l := &listening{m: m, t: t}
	l.pickStudent(opt.Student)
	l.unjoin()
	l.questions()
	l.stories()
	r := m.finder.read(l.toks)
	l.damage = l.estimateDamage(r)
	if len(l.toks) >= damageWords {
		l.makeSense()
	}
	if l.damage > 0 {
		r.roughen(l.senses)
		r.damaged = l.damage >= damageAlone
	}
	l.hits = r.find()
	l.quantities = speech.Quantities(l.toks)
	l.mentions = m.mentions(l.hits, l.quantities, l.toks)
	l.sights = m.sights(l.hits, l.mentions, l.toks)
	l.denials()
	way := m.path(l.sights)
	if m.again(l.mentions, l.sights, way) {
		way = m.path(l.sights)
	}
	l.mentions, l.sights = m.place(l.mentions, l.sights, way)
	l.listenAgain()
	l.conditions()
	l.got = make([]itemGot, len(m.items))
	for i := range l.got {
		l.got[i].checks = make([][]claim, len(m.items[i].checks))
		l.got[i].measures = make([][]stated, len(m.items[i].measures))
	}
	return l
}

// denials mends words that sound like a denial where only one makes sense: in a
// damaged transcript, right before a defect ("know leaks", "knot bent").
func (l *listening) denials() {
	if l.damage == 0 {
		return
	}
	bad := map[int]bool{}
	for _, h := range l.hits {
		if len(h.phrase.bad) > 0 && h.score > 0.9 {
			bad[h.first] = true
		}
	}
	for i := 0; i+1 < len(l.toks); i++ {
		if d := soundsLikeDenial[l.toks[i].Text]; d != "" && bad[i+1] {
			l.toks[i].Text = d
		}
	}
}

// unjoin parts words that were run together; both parts keep the word's times.
func (l *listening) unjoin() {
	var out []speech.Token
	for i, t := range l.toks {
		if i > 0 && l.toks[i-1].Break == speech.NoBreak && negators[l.toks[i-1].Text+t.Text] && !negators[t.Text] {
			// "not hing", "with out": a denial in two pieces.
			if out == nil {
				out = append(make([]speech.Token, 0, len(l.toks)+16), l.toks[:i]...)
			}
			last := &out[len(out)-1]
			last.Text, last.End, last.Break = last.Text+t.Text, t.End, t.Break
			continue
		}
		a, b, ok := l.m.finder.lex.unjoin(t.Text)
		if !ok {
			if out != nil {
				out = append(out, t)
			}
			continue
		}
		if out == nil {
			out = append(make([]speech.Token, 0, len(l.toks)+16), l.toks[:i]...)
		}
		first, second := t, t
		first.Text, first.Break = a, speech.NoBreak
		second.Text = b
		out = append(out, first, second)
	}
	if out != nil {
		l.toks = out
	}
}

// pickStudent keeps the student's tokens. Without labels all words are the
// student's; with labels and no choice, a label that says so, else the speaker
// with the most words.
func (l *listening) pickStudent(labels []string) {
	all := speech.Tokens(l.t)
	speakers := l.t.Speakers()
	if len(labels) == 0 && len(speakers) > 1 {
		labels = []string{guessStudent(l.t, speakers)}
		l.warnings = append(l.warnings, fmt.Sprintf("%d speakers; taken as the student: %s", len(speakers), labels[0]))
	}
	if len(labels) == 0 {
		l.toks = all
		l.words = len(l.t.Words)
		return
	}
	keep := make([]bool, len(l.t.Segments))
	for i, s := range l.t.Segments {
		keep[i] = s.Speaker == "" && len(speakers) < 2 || slices.ContainsFunc(labels, func(x string) bool { return strings.EqualFold(x, s.Speaker) })
		if keep[i] {
			l.words += s.Last - s.First
		}
	}
	// What others say stays, as a question: it may name the part that the student
	// then speaks of, and claims nothing.
	for len(all) > 0 && !keep[all[len(all)-1].Segment] {
		all = all[:len(all)-1]
	}
	l.toks = all
	l.others = make([]bool, len(keep))
	for i := range keep {
		l.others[i] = !keep[i]
	}
	for i := 1; i < len(all); i++ {
		if keep[all[i].Segment] != keep[all[i-1].Segment] {
			all[i-1].Break = speech.StopBreak
		}
	}
	if l.words == 0 {
		l.warnings = append(l.warnings, fmt.Sprintf("no words by %s; speakers are %s", strings.Join(labels, ", "), strings.Join(speakers, ", ")))
	}
}

// guessStudent picks the label that names a learner, else the one with the
// most words.
func guessStudent(t *speech.Transcript, speakers []string) string {
	words := map[string]int{}
	for _, s := range t.Segments {
		words[s.Speaker] += s.Last - s.First
	}
	best := ""
	for _, s := range speakers {
		low := strings.ToLower(s)
		for _, role := range []string{"student", "applicant", "candidate", "learner", "trainee"} {
			if strings.HasPrefix(low, role) {
				return s
			}
		}
		if best == "" || words[s] > words[best] {
			best = s
		}
	}
	return best
}

// text is what was transcribed for tokens [first:last).
func (l *listening) text(first, last int) string {
	if first >= last || last > len(l.toks) {
		return ""
	}
	return l.t.Text(l.toks[first].Word, l.toks[last-1].Word+1)
}

// evidence makes the evidence for tokens [first:last).
func (l *listening) evidence(first, last int, confidence float32, reason string) rubric.Evidence {
	a, b := l.toks[first], l.toks[last-1]
	// A token may be several words ("p s i"): its last one begins before it ends.
	end := b.Word + 1
	for end < len(l.t.Words) && l.t.Words[end].Segment == b.Segment && l.t.Words[end].Start < b.End-0.001 {
		end++
	}
	return rubric.Evidence{Words: l.t.Text(a.Word, end), First: a.Word, Last: end, Start: a.Start, End: b.End,
		Confidence: round2(float64(confidence)), Reason: reason}
}

func round2(v float64) float64 {
	v = max(0, min(1, v))
	return float64(int(v*100+0.5)) / 100
}
