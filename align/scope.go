package align

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"markaround/speech"
)

// How far things reach, in tokens.
const (
	reachCleft      = 5   // from "those are" to the part
	reachLeads      = 8   // from a part to the place that it leads to
	reachFittings   = 6   // from a part to the nuts and bolts that hold it
	reachScope      = 45  // from the last part or condition to the next condition
	reachList       = 12  // between parts of one list
	reachLate       = 70  // back to a part named before the last one
	reachAll        = 160 // back over the parts that "all of these" means
	reachBefore     = 5   // from a condition to the part named after it
	reachSame       = 14  // from a part to "same as the other side"
	reachContradict = 45  // and one further from where its part was named
	reachSuppress   = 22  // a contradiction further from its part is too doubtful
)

// lateSeconds is how long after a part was named something may still be said of
// it, once another has been named.
const lateSeconds = 12

// sureName is the least score of a name whose own words may be a defect ("gap").
const sureName = 0.9

// member is a part in the list at hand.
type member struct {
	item    int32
	mention int
	token   int
	told    bool // named in a story or by who asks
}

// scoper walks over parts and conditions in the order they were said and
// decides which condition counts for which part.
type scoper struct {
	*listening
	group     []member // the list at hand
	closed    bool     // a condition has been said of it
	last      int      // token after the last part or condition
	run       []int    // conditions since the last part
	tied      []int    // conditions said before the list at hand
	recent    []member // parts named lately, for "all of these"
	ends      []bool   // by token: a part's name ends right before it
	previous  []member // the list before this one
	lastNamed int      // token where the sentence after the last part begins
	clefts    int      // sentences that say of what the one before was
	sames     []same
}

// same is a "same as": the checks of other parts carry over to these.
type same struct {
	token     int
	targets   []member
	sources   []member // the list said before, when nothing points elsewhere
	elsewhere bool
}

// scope attaches the conditions to the parts.
func (l *listening) scope() {
	s := scoper{listening: l, ends: make([]bool, len(l.toks)+1), clefts: l.countClefts()}
	for i := range l.mentions {
		if o := &l.mentions[i]; o.item >= 0 {
			s.ends[o.last] = true
		}
	}
	mi, ci, si := 0, 0, 0
	pending := -1 // a "same" waiting for the part after it
	skipSame := 0
	assent := 0 // end of the sentence at hand when it only agrees with a question
	for i := range l.toks {
		for si < len(l.sights) && l.sights[si].token <= i {
			s.arrive(si)
			si++
		}
		if i >= skipSame {
			if n := sameAs.at(l.toks, i); n > 0 {
				pending = s.same(i)
				skipSame = i + n
			}
		}
		for mi < len(l.mentions) && l.mentions[mi].first == i {
			if l.mentions[mi].item >= 0 {
				s.name(mi, &pending)
			}
			mi++
		}
		for ci < len(l.conds) && l.conds[ci].first == i {
			if assent == 0 || i >= assent {
				s.condition(ci)
			}
			ci++
		}
		if l.toks[i].Break == speech.StopBreak {
			// Who only agrees to a question has said nothing of its part.
			if assent > 0 && i+1 == assent {
				s.group, s.recent, s.closed, s.run, assent = nil, nil, true, nil, 0
			} else if end := l.sentence(i + 1); l.assent(i+1, end) {
				assent = end
			}
		}
	}
	l.sames = s.sames
}

// arrive closes the list when the student walks to another place.
func (s *scoper) arrive(k int) {
	sight := &s.sights[k]
	if !sight.announce || len(s.group) == 0 || s.leads(sight.token) {
		return
	}
	here := s.m.lines[sight.line].section
	section := s.m.lines[s.m.items[s.group[len(s.group)-1].item].line].section
	if section != here && s.nextSection(sight.token) != section {
		s.group, s.closed, s.run = nil, true, nil
		s.recent = nil
	}
}

// nextSection is the section of the next part named where it belongs, from token t
// on; -1 if there is none.
func (s *scoper) nextSection(t int) int32 {
	at, _ := slices.BinarySearchFunc(s.mentions, t, func(o mention, t int) int { return cmp.Compare(o.first, t) })
	for ; at < len(s.mentions); at++ {
		if o := &s.mentions[at]; o.item >= 0 && o.place >= 0.9 {
			return s.m.lines[s.m.items[o.item].line].section
		}
	}
	return -1
}

// leads reports that it is the part, not the student, that goes to the place
// named at token t: "the air lines, which go to the trailer".
func (s *scoper) leads(t int) bool {
	if t-s.last > reachLeads || s.closed {
		return false
	}
	for k := s.last; k < t; k++ {
		if s.toks[k].Break == speech.StopBreak {
			return false
		}
		switch s.toks[k].Text {
		case "i", "i'm", "i'll", "we", "we're", "we'll", "now", "next", "then", "okay", "let's", "moving", "so":
			return false
		}
	}
	return s.last > 0 && s.toks[s.last-1].Break < speech.StopBreak
}

// name takes a part that is named.
func (s *scoper) name(k int, pending *int) {
	o := &s.mentions[k]
	if s.subpart(k) || s.fittings(o) {
		return
	}
	before := s.tiedBefore(o)
	if before == nil {
		before = s.namedAfter(o)
	}
	passing := before == nil && s.passing(o) && !s.takenUp(o)
	s.got[o.item].named = append(s.got[o.item].named, naming{mention: k, passing: passing, aside: s.aside(o) || s.asked[o.first] || s.story[o.first]})
	if passing {
		return
	}
	me := member{o.item, k, o.first, s.asked[o.first] || s.story[o.first]}
	s.recent = append(s.recent, me)
	joins := len(s.group) > 0 && !s.pointedOut(o) && s.group[len(s.group)-1].told == me.told && o.first-s.last <= reachList && s.near(s.group[len(s.group)-1].item, o.item)
	switch {
	case joins && !s.closed && s.group[len(s.group)-1].item == me.item:
		s.group[len(s.group)-1] = me
	case joins && !s.closed:
		s.group = append(s.group, me)
	case joins && s.closed && before == nil && s.linked(o) && len(s.run) == 0:
		// "no leaks on the hoses or the pump": the list goes on after its condition.
		s.group = append(s.group, me)
		for _, c := range s.tied {
			s.attach(c, me, 0.85, "said before the list")
		}
	case len(s.group) == 1 && s.group[0].item == me.item:
		s.group[0] = me
	default:
		s.previous = s.group
		s.group = []member{me}
		s.closed = false
		s.tied = nil
	}
	for _, c := range before {
		s.attach(c, me, 0.92, "said before the part")
	}
	for _, c := range s.run {
		// "oil on the ground" holds the name of the ground.
		switch cd := &s.conds[c]; {
		case slices.Contains(before, c):
		case cd.last > o.first:
			s.attach(c, me, 0.95, "said with the part")
		case s.awaits(cd, o):
			s.attach(c, me, 0.85, "said right before it")
		}
	}
	if before != nil {
		s.closed = true
		s.tied = before
	}
	s.run = nil
	s.last = max(s.last, o.last)
	s.lastNamed = s.sentence(o.last - 1)
	if *pending >= 0 {
		p := &s.sames[*pending]
		if o.first-p.token <= reachSame {
			p.targets = append(p.targets, me)
		} else {
			*pending = -1
		}
	}
}

// pointedOut reports that the part at hand was only pointed out, in a sentence of
// its own, and that this one is said something of in the next: "over here is the
// drag link. the pitman arm isn't bent."
func (s *scoper) pointedOut(o *mention) bool {
	last := s.group[len(s.group)-1]
	end := s.sentence(last.token)
	if end > o.first {
		return false
	}
	points := false
	for t := last.token - 1; t >= 0 && s.toks[t].Break < speech.StopBreak && !points; t-- {
		switch s.toks[t].Text {
		case "is", "are", "here's", "there's", "that's", "this":
			points = true
		}
	}
	if !points {
		return false
	}
	until := s.sentence(o.first)
	for t := o.first; t < until; t++ {
		switch s.toks[t].Text {
		case "they", "they're", "both", "all", "them", "too", "also", "these", "those", "nothing", "none":
			return false // of more than this one
		}
	}
	at, _ := slices.BinarySearchFunc(s.conds, o.last, func(c condition, t int) int { return cmp.Compare(c.first, t) })
	for ; at < len(s.conds) && s.conds[at].first < until; at++ {
		for _, ck := range s.m.items[o.item].checks {
			if s.conds[at].meant(ck.set) != 0 {
				return true
			}
		}
	}
	return false
}

// subpart reports that the words are a check of the part at hand rather than a
// part of their own: the cap of a valve stem.
func (s *scoper) subpart(k int) bool {
	if len(s.group) == 0 {
		return false
	}
	o := &s.mentions[k]
	last := s.group[len(s.group)-1]
	if o.first-max(last.token, s.last) > reachList || last.item == o.item ||
		o.phrase.heavy > 1 && s.m.items[o.item].line != s.m.items[last.item].line {
		return false
	}
	at, _ := slices.BinarySearchFunc(s.conds, o.first-2, func(c condition, t int) int { return cmp.Compare(c.first, t) })
	for c := at; c < len(s.conds) && s.conds[c].first < o.last; c++ {
		cd := &s.conds[c]
		if cd.last <= o.first || !cd.exact || !s.holds(cd.phrase, o.phrase) {
			continue
		}
		for _, ck := range s.m.items[last.item].checks {
			if slices.Contains(cd.good, ck.set) && len(ck.check.Good) > 0 {
				for j := at; j < len(s.conds) && s.conds[j].first < o.last; j++ {
					if s.conds[j].inside == k {
						s.conds[j].inside = -1
					}
				}
				return true
			}
		}
	}
	return false
}

// fittings reports that the words name what holds the part at hand rather than
// a part of its own elsewhere: "the U-bolts, not broken, and all the nuts are
// tight" speaks of no nuts of the steering.
func (s *scoper) fittings(o *mention) bool {
	it := &s.m.items[o.item]
	if it.item.Of == "" || len(s.group) == 0 {
		return false
	}
	last := &s.m.items[s.group[len(s.group)-1].item]
	if last.item.Kind == it.item.Of || last.line == it.line || s.m.lines[last.line].section != s.m.lines[it.line].section ||
		o.first-s.last > reachFittings || s.stopBetween(s.last-1, o.first) {
		return false
	}
	for k, ck := range last.checks {
		for _, own := range it.checks {
			if own.check.ID == ck.check.ID && len(s.got[s.group[len(s.group)-1].item].checks[k]) == 0 {
				return true
			}
		}
	}
	return false
}

// holds reports that a condition has all the meaning words of a name.
func (s *scoper) holds(cond, name *phrase) bool {
	for _, w := range name.words {
		if s.m.finder.lex.words[w].weight == 1 && !slices.Contains(cond.words, w) {
			return false
		}
	}
	return true
}

// near reports parts that a list may hold together: of one section.
func (s *scoper) near(a, b int32) bool {
	return s.m.lines[s.m.items[a].line].section == s.m.lines[s.m.items[b].line].section
}

// linked reports that only "and", "or" and small words stand between the last
// part and this one.
func (s *scoper) linked(o *mention) bool {
	and := false
	for t := s.last; t < o.first; t++ {
		switch w := s.toks[t].Text; {
		case w == "and" || w == "or" || w == "nor" || w == "also":
			and = true
		case !determiners[w] && !fillers[w]:
			return false
		}
	}
	return and && o.first-s.last <= 4
}

// tiedBefore lists the conditions just before a part that are said of it: "no
// leaks around the pump", "charged extinguisher".
func (s *scoper) tiedBefore(o *mention) []int {
	// What runs into the name ("on the sidewall", for what is written there) is
	// not said before it.
	run := slices.DeleteFunc(slices.Clone(s.run), func(c int) bool { return s.conds[c].last > o.first })
	if len(run) == 0 {
		run = s.run
	}
	if len(run) == 0 {
		return nil
	}
	last := &s.conds[run[len(run)-1]]
	end := last.last
	for _, c := range run {
		end = max(end, s.conds[c].last)
	}
	gap := o.first - end
	if gap < 0 {
		end, gap = o.first, 0
	}
	if gap > reachBefore {
		return nil
	}
	for t := end - 1; t < o.first; t++ {
		if t >= 0 && s.toks[t].Break == speech.StopBreak {
			return nil
		}
	}
	prep, cleft := prepositions[s.toks[o.first].Text], false // "nothing leaking under the truck"
	for t := end; t < o.first; t++ {
		switch w := s.toks[t].Text; {
		case w == "that's" || w == "those" && t+1 < o.first && s.toks[t+1].Text == "are":
			prep, cleft = true, true // "clean, that's the windshield"
		case w == "to" && !last.absent && !last.sought && len(last.bad) == 0:
			return nil // "they connect to the pitman arm"
		case prepositions[w]:
			prep = true
		case w == "one" && (s.toks[t-1].Text == "that" || s.toks[t-1].Text == "this"):
			// "Both ends are tight on that one, the shock."
			cleft = cleft || s.toks[t].Break == speech.CommaBreak && s.toks[o.last-1].Break == speech.StopBreak
		case !determiners[w]:
			return nil
		}
	}
	if !prep {
		// An adjective: right before the part, and not the end of a sentence
		// about the part before ("it is secure mounting bolts are tight").
		if gap > 0 || s.toks[end-1].Break != speech.NoBreak {
			return nil
		}
		if !s.noneOf(last) {
			if last.absent || last.sought || !s.attributive(last.first) {
				return nil
			}
			return []int{run[len(run)-1]}
		}
	} else if !cleft && !last.absent && !last.sought && s.predicate(last.first) {
		return nil
	}
	// All that the same negation or search governs comes along.
	var out []int
	for _, c := range run {
		if s.conds[c].lead >= last.lead && s.conds[c].last+10 >= last.first {
			out = append(out, c)
		}
	}
	// They are not said of the part before when a new sentence began with them.
	from := s.conds[out[0]].lead
	if len(s.group) > 0 && s.freshStart(from) {
		for _, c := range out {
			s.detach(c)
		}
	}
	return out
}

// noneOf reports a defect that is denied of the part right behind it: "no missing or
// loose lug nuts", but not "no leaks | hoses are fine".
func (s *scoper) noneOf(c *condition) bool {
	if !c.absent || c.lead < 0 || c.lead >= len(s.toks) {
		return false
	}
	switch s.toks[c.lead].Text {
	case "no", "any", "without", "zero":
	default:
		return false
	}
	w := s.toks[c.last-1].Text
	return len(w) > 4 && (strings.HasSuffix(w, "ed") || strings.HasSuffix(w, "en") || strings.HasSuffix(w, "ing")) || w == "loose" || w == "bent" || w == "worn" || w == "torn" || w == "broke"
}

// namedAfter lists the conditions of the sentences before, when this one only
// says of what: "Dry at both ends. Those are the hoses." They are taken back from
// the part before, unless they speak of "it" or that part would be left without
// any. Who talks so all along leaves out "those are" as well.
func (s *scoper) namedAfter(o *mention) []int {
	from, only := s.onlyNames(o)
	if !only || from == o.first && s.clefts < leastClefts || len(s.run) == 0 {
		return nil
	}
	var out []int
	for _, c := range s.run {
		if cd := &s.conds[c]; cd.last <= from && cd.first >= s.lastNamed {
			out = append(out, c)
		}
	}
	for t := s.lastNamed; t < from; t = s.sentence(t) {
		switch s.toks[t].Text {
		case "it", "it's", "they", "they're", "them", "he", "he's", "she", "she's", "and", "these", "this", "both":
			return nil // said of what was named before
		}
	}
	for _, m := range s.group {
		own, takes := 0, false
		for k, ck := range s.m.items[m.item].checks {
			for _, x := range s.got[m.item].checks[k] {
				if !slices.Contains(out, x.cond) {
					own++
				}
			}
			takes = takes || slices.ContainsFunc(out, func(c int) bool { return s.conds[c].meant(ck.set) != 0 })
		}
		if own == 0 && takes {
			return nil
		}
	}
	for _, c := range out {
		s.detach(c)
	}
	return out
}

// onlyNames reports a sentence that only names the part, with "that's" or "those
// are" before it or without, and where its name begins to be introduced.
func (l *listening) onlyNames(o *mention) (from int, ok bool) {
	end := o.last
	for ; l.toks[end-1].Break < speech.StopBreak; end++ {
		if end >= len(l.toks) || end-o.last > reachCleft {
			return 0, false
		}
	}
	from = o.first
	for from > 0 && l.toks[from-1].Break < speech.StopBreak {
		if from--; o.first-from > reachCleft {
			return 0, false
		}
	}
	for t := from; t < o.first; t++ {
		switch w := l.toks[t].Text; w {
		case "that's", "those", "that", "i", "mean", "was", "is", "are", "were", "two", "three":
		default:
			if !determiners[w] || t == from && w != "the" && w != "my" && w != "your" && w != "all" && w != "both" {
				return 0, false
			}
		}
	}
	if w := l.toks[from].Text; w != "that's" && w != "those" && w != "that" && w != "i" {
		from = o.first // named without a word
	}
	if end > o.last {
		// "That's the drag link I've got my hand on."
		at, _ := slices.BinarySearchFunc(l.conds, o.last, func(c condition, t int) int { return cmp.Compare(c.first, t) })
		if from == o.first || l.toks[o.last-1].Break != speech.NoBreak || at < len(l.conds) && l.conds[at].first < end || l.mentionFrom(o.last) < l.mentionFrom(end) {
			return 0, false
		}
	}
	return from, from > 0
}

// countClefts counts the sentences that only say of what the one before was.
func (l *listening) countClefts() (n int) {
	for i := range l.mentions {
		if o := &l.mentions[i]; o.item >= 0 {
			if from, ok := l.onlyNames(o); ok && from < o.first {
				n++
			}
		}
	}
	return n
}

// leastClefts is the number of "those are the hoses" from which a name alone will
// do.
const leastClefts = 8

// awaits reports a sound state said right before a part, which nothing named so
// far has and only this part can have: "key on, engine off".
func (s *scoper) awaits(cd *condition, o *mention) bool {
	if !cd.exact || cd.inside >= 0 || cd.cover >= 0 || cd.used || cd.absent || len(cd.good) != 1 || len(cd.bad) > 0 || o.first-cd.last > reachBefore {
		return false
	}
	owners := s.m.owners[cd.good[0]]
	return len(owners) == 1 && owners[0] == s.m.items[o.item].line
}

// attributive reports that the word at token t stands before a noun: after an
// article, a figure or a word of having ("a charged extinguisher").
func (s *scoper) attributive(t int) bool {
	if t == 0 || s.toks[t-1].Break == speech.StopBreak {
		return false
	}
	switch w := s.toks[t-1].Text; w {
	case "have", "has", "with", "got", "properly", "fully":
		return true
	case "and", "of", "uh", "um":
		return false
	default:
		return determiners[w] || numberWord(w)
	}
}

// freshStart reports that a statement of its own begins near token t.
func (s *scoper) freshStart(t int) bool {
	for k := max(0, t-7); k < t; k++ {
		if s.toks[k].Break == speech.StopBreak && t-k <= 6 {
			return true
		}
		switch s.toks[k].Text {
		case "check", "checking", "make", "making", "sure", "inspect", "inspecting", "look", "looking", "next", "then", "also", "see", "have", "now", "there's", "there", "i":
			return true
		}
	}
	switch s.toks[t].Text {
	case "check", "checking", "inspect", "inspecting", "look", "looking", "listen", "listening":
		return true
	}
	return false
}

// predicate reports that a verb of being stands shortly before token t, so that
// the word there is said of something named earlier.
func (s *scoper) predicate(t int) bool {
	for k := t - 1; k >= max(0, t-4) && s.toks[k].Break < speech.StopBreak; k-- {
		switch w := s.toks[k].Text; {
		case copulas[w], w == "be", w == "look", w == "and" && k == t-1:
			return true
		case prepositions[w]:
			return false
		}
	}
	return false
}

// passing reports a part that is only spoken of on the way: "the hose from the
// compressor", "connects to the tie rod".
func (s *scoper) passing(o *mention) bool {
	if len(s.group) == 0 {
		return false
	}
	k := o.first - 1
	for k >= 0 && determiners[s.toks[k].Text] && s.toks[k].Text != "and" && s.toks[k].Text != "of" && s.toks[k].Break == speech.NoBreak {
		k--
	}
	if k < 1 || s.toks[k].Break >= speech.CommaBreak {
		return false
	}
	prev := s.toks[k-1].Text
	switch s.toks[k].Text {
	case "to":
		return connecting[prev] || s.ends[k]
	case "off":
		return prev == "comes" || prev == "come" || prev == "coming" || prev == "down"
	case "no":
		// "the old one had no defroster"
		return prev == "had" || prev == "has" || prev == "have" || prev == "got" || prev == "with"
	case "on":
		// "the belt on the pump", but "backup lights on, plate light on".
		return s.ends[k] && k < o.first-1
	case "of", "behind", "beside", "against", "at", "in", "under", "by", "near", "around":
		// "the belt of the alternator", "the hoses at the box", not "the pins of
		// the sliding fifth wheel".
		return s.ends[k]
	case "for":
		// "the cord for the lights of the trailer", but "the tire for inflation".
		return s.ends[k] && s.m.items[s.group[len(s.group)-1].item].line != s.m.items[o.item].line
	case "from", "into":
		return prev != "front" && prev != "side" && prev != "rear" && prev != "all" && prev != "both" && prev != "each" && prev != "condition" && prev != "back" && prev != "inside"
	}
	return false
}

// takenUp reports that the next sentence goes on about a part that this one only
// comes to at its end: "then that goes to the drag link. and it isn't bent."
func (s *scoper) takenUp(o *mention) bool {
	if s.toks[o.last-1].Break < speech.StopBreak {
		return false
	}
	t := o.last
	for t < len(s.toks) && (s.toks[t].Text == "and" || fillers[s.toks[t].Text]) {
		t++
	}
	if t >= len(s.toks) {
		return false
	}
	switch s.toks[t].Text {
	case "it", "it's", "that", "that's", "this":
		return true
	}
	return false
}

// aside reports a part that hangs on a preposition. When nothing is said of it
// there, it was part of a story: "people put diesel in the def tank".
func (s *scoper) aside(o *mention) bool {
	k := o.first - 1
	for k >= 0 && determiners[s.toks[k].Text] && s.toks[k].Text != "of" && s.toks[k].Text != "and" && s.toks[k].Break == speech.NoBreak {
		k--
	}
	if k < 1 || s.toks[k].Break >= speech.CommaBreak || going[s.toks[k-1].Text] {
		return false
	}
	switch s.toks[k].Text {
	case "in", "on", "with", "under", "by", "near", "inside", "without", "like", "than", "through":
		return s.toks[k-1].Break == speech.NoBreak
	}
	return false
}

// condition gives a condition to the list at hand.
func (s *scoper) condition(c int) {
	cd := &s.conds[c]
	if cd.inside >= 0 {
		// Words that name a part are no condition, but for its own checks: an
		// action names the step and its check at once.
		if o := &s.mentions[cd.inside]; cd.exact {
			s.attach(c, member{o.item, cd.inside, o.first, false}, 0.95, "named with it")
		}
		return
	}
	s.run = append(s.run, c)
	if len(s.group) == 0 {
		return
	}
	dist := cd.first - s.last
	if dist > reachScope {
		return
	}
	conf := 1 - 0.004*float32(max(0, dist-6))
	reason := "said of it"
	if len(s.group) > 1 {
		reason = fmt.Sprintf("said for a list of %d parts", len(s.group))
	}
	hit := false
	if s.all(cd) {
		for _, o := range s.recent {
			if cd.first-o.token <= reachAll && s.near(o.item, s.group[len(s.group)-1].item) {
				hit = s.attach(c, o, 0.85*conf, "said for all of these") || hit
			}
		}
	}
	for _, o := range s.group {
		hit = s.attach(c, o, conf, reason) || hit
	}
	hit = s.whole(c, conf) || hit
	if !hit && cd.cover < 0 {
		hit = s.late(c)
	}
	if hit {
		s.closed = true
	}
	if s.closed {
		s.last = max(s.last, cd.last)
	}
}

// whole gives a condition said of a detail to the part that it belongs to as
// well: the cotter pin of the link named just before.
func (s *scoper) whole(c int, conf float32) bool {
	if len(s.group) != 1 || len(s.previous) == 0 {
		return false
	}
	of := s.m.items[s.group[0].item].item.Of
	o := s.previous[len(s.previous)-1]
	if of == "" || s.m.items[o.item].item.Kind != of || s.group[0].token-o.token > reachScope {
		return false
	}
	return s.attach(c, o, 0.8*conf, "said of its "+lowerFirst(s.m.items[s.group[0].item].item.Title))
}

// all reports that the condition is said of everything named lately: "all of
// these" after a single part, or "everything" at any time. After a list, "none
// of those" means the list.
func (s *scoper) all(cd *condition) bool {
	from := min(s.last, max(cd.lead-6, 0))
	if everything.within(s.toks, from, cd.first) {
		return true
	}
	return len(s.group) < 2 && allOfThem.within(s.toks, from, cd.first)
}

// late gives a condition that fits nothing in the list at hand to a part named
// shortly before that still lacks it.
func (s *scoper) late(c int) bool {
	cd := &s.conds[c]
	for i := len(s.recent) - 1; i >= 0; i-- {
		o := s.recent[i]
		if cd.first-o.token > reachLate || s.toks[cd.first].Start-s.toks[o.token].Start > lateSeconds {
			return false
		}
		for k, ck := range s.m.items[o.item].checks {
			if !o.told && len(s.got[o.item].checks[k]) == 0 && cd.meant(ck.set) > 0 {
				return s.attach(c, o, 0.62, "said a little after it")
			}
		}
	}
	return false
}

// attach makes the condition a claim of every check of the part that it fits.
func (s *scoper) attach(c int, o member, conf float32, reason string) bool {
	cd := &s.conds[c]
	hit := false
	place := s.mentions[o.mention].place
	for k, ck := range s.m.items[o.item].checks {
		meant := cd.meant(ck.set)
		if meant < 0 && cd.cover >= 0 && s.stateHere(cd.cover, o.item) {
			continue // "worn even" is not worn
		}
		if cd.cover >= 0 && s.spent(cd.cover, ck.set, o.item) {
			continue // "see clear down the side" says nothing of clean
		}
		if meant == 0 || meant < 0 && cd.inside >= 0 && s.mentions[cd.inside].score < sureName || cd.cover >= 0 && s.conds[cd.cover].meant(ck.set) != 0 {
			continue
		}
		if cd.inside >= 0 && s.mentions[cd.inside].item != o.item || cd.begins >= 0 && !cd.exact && s.mentions[cd.begins].item != o.item {
			continue // "mounting bolts, they're tight" is no "screwed tight" of the plate before
		}
		conf := conf * cd.score
		if meant < 0 {
			far := cd.first-s.last > reachSuppress || cd.first-o.token > reachContradict || place < 0.85
			if far && !cd.passed || cd.score < 0.92 {
				continue
			}
			if s.damage > damageDenials && !cd.passed {
				// The recognizer loses denials: what sounds like the opposite is
				// likelier the claim with its "not" gone.
				s.claim(o, k, claim{cond: c, confidence: 0.5, reason: "a denial may be lost here", first: min(cd.lead, cd.first), last: cd.last})
				hit = true
				continue
			}
			if !cd.passed {
				conf *= 0.88
			}
		}
		why := reason
		switch {
		case meant < 0 && cd.denied:
			why = "a sound state denied"
		case meant < 0 && cd.passed:
			why = "a defect let pass"
		case meant < 0:
			why = "a defect stated"
		case cd.dealt && slices.Contains(cd.bad, ck.set):
			why = "a defect seen and reported"
		}
		s.claim(o, k, claim{cond: c, contradicts: meant < 0, passed: meant < 0 && cd.passed, confidence: conf, reason: why, first: min(cd.lead, cd.first), last: cd.last})
		hit = true
	}
	if hit {
		cd.used = true
		for k := range s.got[o.item].named {
			if n := &s.got[o.item].named[k]; n.mention == o.mention {
				n.used, n.passing = true, false
			}
		}
	}
	return hit
}

// spent reports words that state another check of the same part: what is inside
// them has no meaning of its own.
func (s *scoper) spent(cover int, set, item int32) bool {
	o := &s.conds[cover]
	if !o.exact || len(o.good) == 0 {
		return false
	}
	for _, ck := range s.m.items[item].checks {
		if ck.set != set && slices.Contains(o.good, ck.set) {
			return true
		}
	}
	return false
}

// stateHere reports that the words are a state that some part in the item's
// section has.
func (s *scoper) stateHere(c int, item int32) bool {
	sets := s.m.sections[s.m.lines[s.m.items[item].line].section].sets
	return s.conds[c].score > sureName && slices.ContainsFunc(s.conds[c].good, func(set int32) bool { return sets[set] })
}

// claim adds a claim of check k of a part.
func (s *scoper) claim(o member, k int, c claim) {
	s.got[o.item].checks[k] = append(s.got[o.item].checks[k], c)
}

// detach takes a condition back from the list at hand.
func (s *scoper) detach(c int) {
	for _, o := range s.group {
		for k := range s.got[o.item].checks {
			s.got[o.item].checks[k] = slices.DeleteFunc(s.got[o.item].checks[k], func(x claim) bool { return x.cond == c })
		}
	}
}

// same notes a "same as". It counts for the list at hand when that was named
// just before, else for the part named after.
func (s *scoper) same(i int) int {
	// "as", "the other side" and the like within a few words point elsewhere.
	far := elsewhere.within(s.toks, i, i+10)
	for k := range s.sights {
		if a := &s.sights[k]; a.announce && a.token > i && a.token <= i+8 {
			far = true
		}
	}
	x := same{token: i, elsewhere: far}
	if len(s.group) > 0 && i-s.last <= reachSame && !s.closed {
		x.targets = slices.Clone(s.group)
		x.sources = slices.Clone(s.previous)
		s.sames = append(s.sames, x)
		s.closed = true
		return -1
	}
	x.sources = slices.Clone(s.group)
	s.sames = append(s.sames, x)
	return len(s.sames) - 1
}

// carry fills the checks that a "same as" brings along.
func (l *listening) carry() {
	for _, x := range l.sames {
		for _, target := range x.targets {
			for k, ck := range l.m.items[target.item].checks {
				if len(l.got[target.item].checks[k]) > 0 {
					continue
				}
				if c, from := l.source(x, target, ck); c != nil {
					n := *c
					n.confidence *= 0.85
					n.reason = "same as " + l.m.items[from].item.Title
					l.got[target.item].checks[k] = append(l.got[target.item].checks[k], n)
					for j := range l.got[target.item].named {
						l.got[target.item].named[j].used = true
					}
				}
			}
		}
	}
}

// source finds the claim that carries over to a check: of a part of the same
// kind somewhere else, or of the list said before.
func (l *listening) source(x same, target member, ck checkInfo) (*claim, int32) {
	find := func(item int32) *claim {
		if item == target.item {
			return nil
		}
		for k, other := range l.m.items[item].checks {
			if other.set != ck.set && other.check.ID != ck.check.ID {
				continue
			}
			for j := len(l.got[item].checks[k]) - 1; j >= 0; j-- {
				if c := &l.got[item].checks[k][j]; !c.contradicts && c.first < x.token {
					return c
				}
			}
		}
		return nil
	}
	if !x.elsewhere {
		for _, s := range x.sources {
			if c := find(s.item); c != nil {
				return c, s.item
			}
		}
	}
	if kind := l.m.items[target.item].item.Kind; kind != "" {
		for i := range l.m.items {
			if l.m.items[i].item.Kind == kind {
				if c := find(int32(i)); c != nil {
					return c, int32(i)
				}
			}
		}
	}
	for _, s := range x.sources {
		if c := find(s.item); c != nil {
			return c, s.item
		}
	}
	return nil, 0
}
