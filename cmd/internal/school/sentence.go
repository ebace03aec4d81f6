package school

import (
	"cmp"
	"slices"
	"strings"

	"markaround/align/damage"
	"markaround/rubric"
)

// How often things are done in talk, in percent; chosen, no source.
const (
	minorSaid    = 25 // conditions that may be left out
	grouped      = 65 // parts in a row of which the same is said, named in one breath
	pointed      = 30 // a part is pointed out first
	verbless     = 35 // said without verbs
	returned     = 3  // a part is forgotten and come back to
	selfRepaired = 5  // a number is said wrong and put right at once
	lookedAt     = 22 // a longer pause before a sentence, with the hand on the part
	twoWays      = 35 // a condition is said in two ways
	filled       = 9  // a filler before a sentence, or in it
	alone        = 25 // "there are no cracks" instead of "has no cracks"
	soundFirst   = 85 // what is so is said before what is not
	inWordsShare = 45 // figures said in words
	dropped      = 15 // main conditions left out of a part said in part, beyond the first
)

// sentence is what is said in one breath.
type sentence struct {
	text  string
	pause int // milliseconds before it
}

// condition is a check of an item, ready to be said.
type condition struct {
	check *rubric.Check
	good  []string // all its phrases
	bad   []string
	ways  []way
	group []way // those of the shared condition alone
}

// stems are the stems of all its phrases.
func (c *condition) stems() map[string]bool {
	out := map[string]bool{}
	for _, p := range slices.Concat(c.good, c.bad) {
		out[stems.of(p)] = true
	}
	return out
}

// part is an item, ready to be said.
type part struct {
	index   int // into School.Items
	item    *rubric.Item
	section *rubric.Section
	line    *rubric.Line
	names   []name
	conds   []condition
}

// voice says attempts.
type voice struct {
	s      *School
	m      *model
	parts  []part
	places map[*rubric.Section][]string // ways to announce a section
	order  map[string]bool              // items that a rule of order or a hold binds to their place
}

func newVoice(s *School, m *model) *voice {
	v := &voice{s: s, m: m, places: map[*rubric.Section][]string{}, order: map[string]bool{}}
	for _, o := range s.Rubric.Order {
		v.order[o.Before], v.order[o.After] = true, true
	}
	for _, h := range s.Rubric.Holds {
		v.order[h.From], v.order[h.To] = true, true
	}
	names := map[*rubric.Section]owners{}
	for k := range s.Rubric.Sections {
		sec := &s.Rubric.Sections[k]
		names[sec] = ownersIn(sec)
		v.places[sec] = placesOf(sec)
	}
	for e := range s.Rubric.All() {
		if e.Item.Extra {
			continue
		}
		p := part{index: len(v.parts), item: e.Item, section: e.Section, line: e.Line, names: namesOf(s.Rubric, names[e.Section], e.Item)}
		for i := range e.Item.Checks {
			p.conds = append(p.conds, v.condition(names[e.Section], e.Item, &e.Item.Checks[i]))
		}
		v.parts = append(v.parts, p)
	}
	return v
}

func (v *voice) condition(o owners, it *rubric.Item, c *rubric.Check) condition {
	out := condition{check: c}
	out.good, out.bad = v.s.Rubric.Phrases(c)
	// A name of another part is a poor way to say a condition of this one.
	good := slices.DeleteFunc(slices.Clone(out.good), func(p string) bool { return o.another(it, p) })
	if len(good) == 0 {
		good = out.good
	}
	// What is the check's own says more than what it shares with others.
	if len(c.Good) > 0 && c.Condition == "" {
		good = slices.DeleteFunc(slices.Clone(c.Good), func(p string) bool { return o.another(it, p) })
		if len(good) == 0 {
			good = c.Good
		}
	}
	out.ways = waysOf(good, out.bad)
	if shared := v.s.Rubric.Shared(c); shared != nil {
		out.group = waysOf(shared.Good, shared.Bad)
	}
	return out
}

// saying is an attempt while it is being said.
type saying struct {
	*voice
	rng       source
	a         *Attempt
	st        *Student
	sentences []sentence
	done      map[int]bool
}

// speak makes the transcript of an attempt and the true marks of its parts.
func (v *voice) speak(a *Attempt) {
	st := v.s.Of(a)
	y := &saying{voice: v, rng: random(v.s.Seed, useWords, a.Student, a.Number), a: a, st: st, done: map[int]bool{}}
	a.texts = map[string]string{}
	y.say(pick(y.rng, talk().Hello), 0)
	var forgotten []int
	last := (*rubric.Section)(nil)
	for i := 0; i < len(v.parts); i++ {
		p := &v.parts[i]
		if p.section != last {
			y.comeBack(forgotten)
			forgotten = nil
			y.arrive(p.section)
			last = p.section
		}
		switch {
		case a.Marks[i] == rubric.Missed:
			y.silent(p)
		case a.Marks[i] == rubric.Said && !v.order[p.item.ID] && y.rng.chance(returned):
			forgotten = append(forgotten, i)
		default:
			i += y.tell(i)
		}
	}
	y.comeBack(forgotten)
	y.say(pick(y.rng, talk().Goodbye), 900)
	slices.SortFunc(a.Parts, func(x, z Part) int { return v.place(x) - v.place(z) })
	t := y.timed()
	if v.s.Errors > 0 {
		t, _ = damage.Damage(t, v.s.Errors, random(v.s.Seed, useDamage, a.Student, a.Number).Uint64())
	}
	a.Transcript = t
	if n := len(t.Words); n > 0 {
		a.Seconds = t.Words[n-1].End - t.Words[0].Start
	}
}

// place orders parts as the score sheet has them.
func (v *voice) place(p Part) int {
	it := v.s.Items[p.Item]
	at := p.Item * 1000
	if p.Measure {
		return at + 500 + slices.IndexFunc(it.Measures, func(m rubric.Measure) bool { return m.ID == p.ID })
	}
	return at + slices.IndexFunc(it.Checks, func(c rubric.Check) bool { return c.ID == p.ID })
}

func (y *saying) say(text string, pause int) {
	words := strings.Fields(text)
	for i, w := range words {
		if w == "i" || w == "i," {
			words[i] = "I" + w[1:]
		}
	}
	if text = strings.Join(words, " "); text == "" {
		return
	}
	y.sentences = append(y.sentences, sentence{strings.ToUpper(text[:1]) + text[1:] + ".", pause})
}

// breath is a pause between sentences in milliseconds.
func (y *saying) breath() int {
	p := 350 + y.rng.IntN(1000)
	if y.rng.chance(lookedAt) {
		p += 2000 + y.rng.IntN(5000)
	}
	return p
}

func (y *saying) arrive(s *rubric.Section) {
	walk := 2500 + y.rng.IntN(6000)
	places := y.places[s]
	if len(places) == 0 {
		if len(y.sentences) > 0 {
			y.say(pick(y.rng, talk().Openers), walk)
		}
		return
	}
	place := places[early(y.rng, min(4, len(places)))]
	y.say(strings.ReplaceAll(pick(y.rng, talk().Arrivals), "{place}", place), walk)
}

// comeBack says what was forgotten in a section before the next is gone to.
func (y *saying) comeBack(forgotten []int) {
	for _, i := range forgotten {
		y.say(pick(y.rng, talk().Returns), 1200)
		y.tell(i)
	}
}

// silent notes that nothing is said of a part.
func (y *saying) silent(p *part) {
	for k := range p.item.Checks {
		y.mark(p, p.item.Checks[k].ID, false, rubric.Missed, "")
	}
	for k := range p.item.Measures {
		y.mark(p, p.item.Measures[k].ID, true, rubric.Missed, "")
	}
}

func (y *saying) mark(p *part, id string, measure bool, mark rubric.Mark, said string) {
	y.a.Parts = append(y.a.Parts, Part{p.index, id, measure, mark, said})
}

// tell says the part at index i, and those after it that are named in the same
// breath; it gives how many those are.
func (y *saying) tell(i int) (more int) {
	p := &y.parts[i]
	from := len(y.sentences)
	defer func() {
		var text []string
		for _, s := range y.sentences[from:] {
			text = append(text, s.text)
		}
		for k := i; k <= i+more; k++ {
			y.a.texts[y.parts[k].item.ID] = strings.Join(text, " ")
		}
	}()
	if group := y.alike(i); len(group) > 1 && y.rng.chance(grouped) {
		y.together(group)
		return len(group) - 1
	}
	y.wait(p)
	y.single(p)
	return 0
}

// alike are the parts from i on, on one line of the sheet, of which all is said
// and all that is said is shared.
func (y *saying) alike(i int) (out []*part) {
	first := &y.parts[i]
	if len(first.conds) == 0 || y.order[first.item.ID] {
		return nil
	}
	for k := i; k < len(y.parts) && len(out) < 4; k++ {
		p := &y.parts[k]
		if p.line != first.line || y.a.Marks[k] != rubric.Said || y.order[p.item.ID] || len(p.item.Measures) > 0 || p.names[0].action || p.names[0].clause || !sameConditions(first, p) {
			break
		}
		out = append(out, p)
	}
	return out
}

// sameConditions reports that the main conditions of two parts are the same
// shared ones.
func sameConditions(a, b *part) bool {
	list := func(p *part) (out []string, ok bool) {
		for _, c := range p.conds {
			if c.check.Minor {
				continue
			}
			if c.check.Condition == "" || len(c.group) == 0 {
				return nil, false
			}
			out = append(out, c.check.Condition)
		}
		return out, len(out) > 0
	}
	x, ok := list(a)
	z, ok2 := list(b)
	return ok && ok2 && slices.Equal(x, z)
}

// together says the same of several parts.
func (y *saying) together(group []*part) {
	names := make([]string, len(group))
	for k, p := range group {
		names[k] = y.called(y.noun(p))
	}
	var claims []way
	first := group[0]
	for k := range first.conds {
		if c := &first.conds[k]; !c.check.Minor {
			claims = append(claims, y.pickWays(c, c.group, nil)...)
		}
	}
	for _, p := range group {
		y.claimed(p, claims)
	}
	y.predicate(join(names), true, claims, nil)
}

// single says one part, as much of it as its mark asks for.
func (y *saying) single(p *part) {
	mark := y.a.Marks[p.index]
	leftChecks, leftMeasures := y.leaveOut(p, mark)
	var avoid []map[string]bool
	for k := range p.conds {
		if leftChecks[k] {
			avoid = append(avoid, p.conds[k].stems())
		}
	}
	var claims []way
	for k := range p.conds {
		if !leftChecks[k] {
			claims = append(claims, y.pickWays(&p.conds[k], p.conds[k].ways, avoid)...)
		}
	}
	y.claimed(p, claims)
	// "Not loose and secure" is said less often than "secure and not loose".
	if y.rng.chance(soundFirst) {
		slices.SortStableFunc(claims, func(a, b way) int { return cmp.Compare(a.form, b.form) })
	}
	amounts := y.amounts(p, mark, leftMeasures)
	n := y.name(p)
	switch {
	case n.action || n.clause:
		text := y.opener() + n.text
		if n.action {
			text = y.opener() + "i " + n.text
		}
		for _, c := range claims {
			text += ", " + terse(c, false)
		}
		y.say(text+commas(amounts), y.breath())
	case len(claims) == 0 && len(amounts) == 0:
		y.say(pointing(pick(y.rng, talk().Bare), y.called(n), n.plural), y.breath())
	default:
		y.predicate(y.called(n), n.plural, claims, amounts)
	}
}

// leaveOut draws what is left out of a part.
func (y *saying) leaveOut(p *part, mark rubric.Mark) (checks, measures []bool) {
	checks, measures = make([]bool, len(p.conds)), make([]bool, len(p.item.Measures))
	var main []*bool
	for k := range p.conds {
		switch {
		case !p.conds[k].check.Minor:
			main = append(main, &checks[k])
		case !y.rng.chance(minorSaid) || mark != rubric.Said:
			checks[k] = true
		}
	}
	for k := range p.item.Measures {
		if p.item.Measures[k].Optional {
			measures[k] = true
		} else {
			main = append(main, &measures[k])
		}
	}
	if mark == rubric.Partly && len(main) > 0 {
		y.rng.Shuffle(len(main), func(a, b int) { main[a], main[b] = main[b], main[a] })
		*main[0] = true
		for k, m := range main {
			if k > 0 && y.rng.chance(dropped) {
				*m = true
			}
		}
	}
	return checks, measures
}

// pickWays picks one way to claim a condition, or two, none of which says what
// is to be avoided.
func (y *saying) pickWays(c *condition, ways []way, avoid []map[string]bool) []way {
	free := slices.DeleteFunc(slices.Clone(ways), func(w way) bool {
		return slices.ContainsFunc(avoid, func(a map[string]bool) bool { return a[w.stem] })
	})
	if len(free) == 0 {
		return nil
	}
	out := []way{free[early(y.rng, len(free))]}
	if y.rng.chance(twoWays) {
		if w := free[early(y.rng, len(free))]; !strings.Contains(w.stem, out[0].stem) && !strings.Contains(out[0].stem, w.stem) && out[0].form != aside && w.form != aside {
			out = append(out, w)
		}
	}
	return out
}

// claimed notes the marks of a part's conditions: each is said whose phrases
// have one of the claims.
func (y *saying) claimed(p *part, claims []way) {
	for k := range p.conds {
		c := &p.conds[k]
		mark := rubric.Missed
		for _, w := range claims {
			list := c.good
			if w.form == denied || w.form == without {
				list = c.bad
			}
			if slices.Contains(list, w.text) {
				mark = rubric.Said
			}
		}
		y.mark(p, c.check.ID, false, mark, "")
	}
}

// amounts are the numbers of a part as they are said, with the words that tie
// them to it.
func (y *saying) amounts(p *part, mark rubric.Mark, left []bool) (out []string) {
	readings := y.readings(p)
	wrongAt := -1
	if mark == rubric.Wrong {
		wrongAt = y.rng.IntN(len(y.m.numbers[p.index]))
		for k, n := range y.m.numbers[p.index] {
			for _, g := range y.s.Planted {
				if g.Item == p.item.ID && g.Measure == n.measure.ID {
					wrongAt = k
				}
			}
		}
	}
	for k := range p.item.Measures {
		ms := &p.item.Measures[k]
		if text, ok := readings[ms.ID]; ok {
			out = append(out, text)
			y.mark(p, ms.ID, true, rubric.Said, text)
			continue
		}
		if left[k] {
			y.mark(p, ms.ID, true, rubric.Missed, "")
			continue
		}
		if wrongAt >= 0 && y.m.numbers[p.index][wrongAt].measure == ms {
			text := y.tied(p, ms, y.wrongAmount(ms, y.m.numbers[p.index][wrongAt].wrong))
			out = append(out, text)
			y.mark(p, ms.ID, true, rubric.Wrong, text)
			continue
		}
		f, ok := rightFigure(y.rng, ms)
		if !ok {
			y.mark(p, ms.ID, true, rubric.Missed, "")
			continue
		}
		text := y.tied(p, ms, y.rightAmount(p, ms, f))
		out = append(out, text)
		y.mark(p, ms.ID, true, rubric.Said, text)
	}
	return out
}

// rightAmount is a figure that is accepted, as it is said.
func (y *saying) rightAmount(p *part, ms *rubric.Measure, f figure) string {
	words := y.rng.chance(inWordsShare)
	low, high, hasLow, hasHigh := limits(ms)
	if hasLow && hasHigh && low != high && low.den == 1 && ms.Direction == rubric.AnyDirection && ms.Kind != rubric.ReadingKind && y.rng.chance(60) {
		text := pick(y.rng, talk().Between)
		lowText := low.String()
		if words {
			lowText = inWords(y.rng, low)
		}
		return strings.NewReplacer("{low}", lowText, "{f}", spoken(y.rng, high, ms.Unit, words)).Replace(text)
	}
	for _, n := range y.m.numbers[p.index] {
		if n.measure == ms && n.wrong.den == f.den && y.rng.chance(selfRepaired) {
			first := n.wrong.String()
			if words {
				first = inWords(y.rng, n.wrong)
			}
			both := strings.NewReplacer("{wrong}", first, "{right}", spoken(y.rng, f, ms.Unit, words)).Replace(pick(y.rng, talk().Corrected))
			return y.bound(ms, both)
		}
	}
	return y.bound(ms, spoken(y.rng, f, ms.Unit, words))
}

// wrongAmount is a figure that is not accepted, as it is said.
func (y *saying) wrongAmount(ms *rubric.Measure, f figure) string {
	if !y.rng.chance(usualWrong) {
		other := f
		other.num++
		if ms.Judge(plain(other)) != "" {
			f = other
		}
	}
	return y.bound(ms, spoken(y.rng, f, ms.Unit, y.rng.chance(inWordsShare)))
}

// bound puts before a figure which way it points.
func (y *saying) bound(ms *rubric.Measure, text string) string {
	list := talk().Exactly
	switch {
	case ms.Kind == rubric.ReadingKind || ms.Unit == "count":
		list = list[:1]
	case ms.Direction == rubric.AtLeast:
		list = talk().AtLeast
	case ms.Direction == rubric.AtMost:
		list = talk().AtMost
	}
	return strings.ReplaceAll(pick(y.rng, list), "{f}", text)
}

// tied puts words beside an amount that say what it is of.
func (y *saying) tied(p *part, ms *rubric.Measure, amount string) string {
	tie := y.tie(ms)
	switch {
	case tie == "" && len(p.item.Measures) == 1 || tie != "" && y.required(p) == 1 && ms.Unit != "count" && y.rng.chance(25):
		if ms.Kind != rubric.ReadingKind {
			return amount
		}
	case tie != "" && ms.Unit == "count":
		return amount + " " + tie
	}
	return strings.TrimSpace(tie + " " + amount)
}

func (y *saying) required(p *part) (n int) {
	for k := range p.item.Measures {
		if !p.item.Measures[k].Optional {
			n++
		}
	}
	return n
}

// tie is one of the first words that tie a figure to a measure and are neither a
// figure nor a preposition.
func (y *saying) tie(ms *rubric.Measure) string {
	t := talk()
	var fit []string
	for _, n := range ms.Near {
		w := strings.Fields(n)
		if slices.Contains(t.Prepositions, w[0]) || slices.Contains(t.Prepositions, w[len(w)-1]) || strings.ContainsAny(n, "0123456789") ||
			slices.ContainsFunc(w, func(s string) bool { return slices.Contains(t.Ones, s) || s != "" && slices.Contains(t.Tens, s) }) {
			continue
		}
		if fit = append(fit, n); len(fit) == 3 {
			break
		}
	}
	if len(fit) == 0 {
		return ""
	}
	return pick(y.rng, fit)
}

// readings are the numbers of the part that are read from a gauge and must fit
// one another, by measure, as they are said; nil for most.
func (y *saying) readings(p *part) map[string]string {
	for _, g := range y.s.Rubric.Agreements {
		if itemOf(g.Loss) != p.item.ID || !y.rng.chance(readsGauge) && !slices.Contains(y.a.Findings, "reading:"+p.item.ID) {
			continue
		}
		list := y.m.readings(y.a, g)
		if list == nil {
			return nil
		}
		_, most, _, hasMost := limits(list[2])
		within, _ := parseFigure(g.Within)
		start, ok := rightFigure(y.rng, list[0])
		if !hasMost || !ok || most.den != 1 || start.den != 1 || within.den != 1 {
			return nil
		}
		loss := y.rng.IntN(most.num + 1)
		said := loss
		if slices.Contains(y.a.Findings, "reading:"+p.item.ID) {
			loss = most.num + 1 + y.rng.IntN(2)
			said = max(0, loss-within.num-1-y.rng.IntN(2))
		}
		end := figure{start.num - loss, 1}
		if _, _, hasLow, _ := limits(list[1]); hasLow && list[1].Judge(plain(end)) != "" {
			up := 10
			start.num, end.num = start.num+up, end.num+up
		}
		words := y.rng.chance(inWordsShare)
		out := map[string]string{}
		for k, f := range []figure{start, end, {said, 1}} {
			out[list[k].ID] = strings.TrimSpace(y.tie(list[k]) + " " + spoken(y.rng, f, list[k].Unit, words))
		}
		return out
	}
	return nil
}

// wait lets the time of a hold pass before the step that ends it.
func (y *saying) wait(p *part) {
	for _, h := range y.s.Rubric.Holds {
		if h.To != p.item.ID || !y.m.heard(y.a, h.From) {
			continue
		}
		ms := int(h.Seconds * 1000)
		if slices.Contains(y.a.Findings, "hold:"+h.ID) {
			ms = ms * (25 + y.rng.IntN(20)) / 100
		} else {
			ms += 3000 + y.rng.IntN(9000)
		}
		y.say(pick(y.rng, talk().Waiting), 600)
		// The pause comes before what is said next.
		y.say(pick(y.rng, talk().Openers[6:9]), ms)
	}
}

// name picks a name of the part.
func (y *saying) name(p *part) name { return p.names[early(y.rng, len(p.names))] }

// noun is a name of the part that goes into a list.
func (y *saying) noun(p *part) name {
	n := y.name(p)
	if n.action || n.clause {
		return p.names[0]
	}
	return n
}

// called is a name with its article.
func (y *saying) called(n name) string {
	if n.fixed || n.action {
		return n.text
	}
	article := pick(y.rng, talk().Articles)
	if n.plural && article == "this" {
		article = "these"
	}
	return article + " " + n.text
}

// opener begins a sentence.
func (y *saying) opener() string {
	o := pick(y.rng, talk().Openers)
	if y.rng.chance(filled) {
		if o != "" {
			o += ", "
		}
		o += pick(y.rng, talk().Fillers)
	}
	switch {
	case o == "":
		return ""
	case len(o) > 4 || strings.Contains(o, ","):
		return o + ", "
	}
	return o + " "
}

// predicate says claims and numbers of a subject, in one sentence or two.
func (y *saying) predicate(subject string, plural bool, claims []way, amounts []string) {
	switch {
	case y.rng.chance(verbless) || len(claims) == 0:
		var list []string
		for _, c := range claims {
			list = append(list, terse(c, plural))
		}
		y.say(y.opener()+subject+commas(list)+commas(amounts), y.breath())
	case y.rng.chance(pointed):
		y.say(pointing(pick(y.rng, talk().Points), subject, plural), y.breath())
		pronoun := "it"
		if plural {
			pronoun = "they"
		}
		y.say(y.full(pronoun, plural, claims)+commas(amounts), 250)
	default:
		y.say(y.opener()+y.full(subject, plural, claims)+commas(amounts), y.breath())
	}
}

// pointing fills a sentence that points a part out.
func pointing(form, subject string, plural bool) string {
	be := "is"
	if plural {
		be = "are"
	}
	return strings.NewReplacer("{part}", subject, "{be}", be).Replace(form)
}

// full is a sentence with verbs: "the arm is tight, not bent, and has no cracks".
func (y *saying) full(subject string, plural bool, claims []way) string {
	be, have := "is", "has"
	if plural {
		be, have = "are", "have"
	}
	var clauses, asides []string
	copula := false // what came before ends on one
	for _, c := range claims {
		form := ""
		switch c.form {
		case aside:
			asides = append(asides, c.text)
			continue
		case doing:
			clauses = append(clauses, agree(c.text, plural))
			copula = false
			continue
		case without:
			if y.rng.chance(alone) {
				asides = append(asides, strings.ReplaceAll(pick(y.rng, talk().WithoutAlone), "{phrase}", c.text))
				continue
			}
			form, copula = talk().Forms.Without, false
		case state, denied:
			form = talk().Forms.State
			if c.form == denied {
				form = talk().Forms.Denied
			}
			if copula {
				form = strings.TrimPrefix(form, "{be} ")
			}
			copula = true
		}
		clauses = append(clauses, strings.NewReplacer("{be}", be, "{have}", have, "{phrase}", c.text).Replace(form))
	}
	if len(clauses) == 0 {
		return subject + commas(asides)
	}
	return subject + " " + join(clauses) + commas(asides)
}

// terse is a claim that hangs on its subject by a comma.
func terse(c way, plural bool) string {
	switch c.form {
	case denied:
		return "not " + c.text
	case without:
		return "no " + c.text
	case doing:
		return agree(c.text, plural)
	}
	return c.text
}

// join makes "a, b, and c".
func join(list []string) string {
	switch len(list) {
	case 1:
		return list[0]
	case 2:
		return list[0] + " and " + list[1]
	}
	return strings.Join(list[:len(list)-1], ", ") + ", and " + list[len(list)-1]
}

// commas puts each of a list behind a comma.
func commas(list []string) string {
	if len(list) == 0 {
		return ""
	}
	return ", " + strings.Join(list, ", ")
}
