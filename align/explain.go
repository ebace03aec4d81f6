package align

import (
	"cmp"
	"fmt"
	"slices"

	"markaround/rubric"
	"markaround/speech"
)

// Explanation says why an item got its mark: for the instructor who disagrees.
type Explanation struct {
	Mark       rubric.ItemMark `json:"mark"`
	Candidates []Candidate     `json:"candidates"` // words that may name the item or state something of it, in time order
	Path       []Stop          `json:"path"`       // where the student stood around the item
	Earns      []string        `json:"earns"`      // what would have earned the mark, a line for each check or number that lacks
	Damage     float64         `json:"damage"`     // estimated word error rate of the transcript, 0 when it looks clean
}

// Candidate is words that were considered for the item.
type Candidate struct {
	Words    string  `json:"words"`
	Start    float64 `json:"start"` // seconds
	End      float64 `json:"end"`
	Likeness float64 `json:"likeness"` // 0..1, to the rubric's phrase
	Phrase   string  `json:"phrase"`   // of the rubric
	Taken    bool    `json:"taken"`
	Why      string  `json:"why"` // why it was taken, or why not
}

// Stop is a place on the student's way.
type Stop struct {
	Section string  `json:"section"` // id
	Line    string  `json:"line"`    // id
	Start   float64 `json:"start"`   // seconds
	Words   string  `json:"words"`
}

// reachPath is how far around the item its way is shown, in seconds.
const reachPath = 45

// Explain marks a transcript and explains one item. It fails when the rubric
// has no such item.
func (m *Matcher) Explain(t *speech.Transcript, opt Options, item string) (*Explanation, error) {
	i, ok := m.byID[item]
	if !ok {
		return nil, fmt.Errorf("no item %q in rubric %s", item, m.rubric.ID)
	}
	answers, l := m.hear(t, opt)
	e := &Explanation{Damage: round2(float64(l.damage)), Candidates: []Candidate{}, Path: []Stop{}, Earns: []string{}}
	marks := m.rubric.Mark(answers, rubric.Marking{})
	l.assure(marks)
	for _, mark := range marks {
		if mark.ID == item {
			e.Mark = mark
		}
	}
	e.Candidates = append(l.explainNames(i), l.explainStatements(i)...)
	slices.SortStableFunc(e.Candidates, func(a, b Candidate) int { return cmp.Compare(a.Start, b.Start) })
	e.Candidates = slices.CompactFunc(e.Candidates, func(a, b Candidate) bool { return a.Start == b.Start && a.Words == b.Words && a.Why == b.Why })
	e.Path = l.explainPath(e)
	e.Earns = m.earns(i, &e.Mark)
	return e, nil
}

// explainNames lists the words that may name the item.
func (l *listening) explainNames(item int32) []Candidate {
	var out []Candidate
	for _, h := range l.hits {
		if !slices.Contains(h.phrase.names, item) {
			continue
		}
		ev := l.evidence(h.first, h.last, h.score, "")
		c := Candidate{Words: ev.Words, Start: ev.Start, End: ev.End, Likeness: ev.Confidence, Phrase: h.phrase.text}
		c.Taken, c.Why = l.nameTaken(h, item)
		if n := len(out); n > 0 && out[n-1].Start == c.Start && out[n-1].Why == c.Why {
			continue // the same words by another phrase
		}
		out = append(out, c)
	}
	// Parts found by sound alone are in no hit.
	for i := range l.mentions {
		o := &l.mentions[i]
		if o.item == item && !slices.ContainsFunc(l.hits, func(h hit) bool { return h.first == o.first && slices.Contains(h.phrase.names, item) }) {
			ev := l.evidence(o.first, o.last, o.score, "")
			out = append(out, Candidate{Words: ev.Words, Start: ev.Start, End: ev.End, Likeness: ev.Confidence, Phrase: o.phrase.text, Taken: true,
				Why: "close to it, where it is expected"})
		}
	}
	return out
}

func (l *listening) nameTaken(h hit, item int32) (bool, string) {
	for i := range l.mentions {
		o := &l.mentions[i]
		if o.last <= h.first || o.first >= h.last {
			continue
		}
		switch {
		case o.item == item:
			k := slices.IndexFunc(l.got[item].named, func(n naming) bool { return n.mention == i })
			if k < 0 {
				return false, "taken as a detail of the part named before it"
			}
			if n := l.got[item].named[k]; (n.passing || n.aside) && !n.used {
				return false, "named in passing, inside a sentence about something else"
			}
			if o.place < 0.9 {
				return true, "named away from its usual place"
			}
			return true, "named where the student stood"
		case o.item >= 0 && (o.first < h.first || o.last > h.last):
			return false, fmt.Sprintf("part of %q, taken for %s", l.text(o.first, o.last), l.m.items[o.item].item.Title)
		case o.item >= 0:
			return false, fmt.Sprintf("taken for %s, where the student stood", l.m.items[o.item].item.Title)
		default:
			return false, "too little to go by, away from its place"
		}
	}
	return false, "the words state a condition here"
}

// explainStatements lists the evidence for checks and numbers.
func (l *listening) explainStatements(item int32) []Candidate {
	var out []Candidate
	it := &l.m.items[item]
	for k, claims := range l.got[item].checks {
		for _, c := range claims {
			ev := l.evidence(c.first, c.last, c.confidence, "")
			what := it.checks[k].check.Title
			if c.contradicts {
				what = "the opposite of " + what
			}
			out = append(out, Candidate{Words: ev.Words, Start: ev.Start, End: ev.End, Likeness: ev.Confidence, Phrase: it.checks[k].check.ID, Taken: true,
				Why: what + ": " + c.reason})
		}
	}
	for k, stated := range l.got[item].measures {
		for _, s := range stated {
			ev := l.evidence(s.first, s.last, s.confidence, "")
			out = append(out, Candidate{Words: ev.Words, Start: ev.Start, End: ev.End, Likeness: ev.Confidence, Phrase: it.measures[k].measure.ID, Taken: true,
				Why: it.measures[k].measure.Title + ": " + s.reason})
		}
	}
	return out
}

// explainPath lists the stops around the item's evidence, or where the other
// parts of its line were named when it has none.
func (l *listening) explainPath(e *Explanation) []Stop {
	at := e.Mark.Start
	if at < 0 {
		line := l.m.items[l.m.byID[e.Mark.ID]].line
		for _, s := range l.sights {
			if s.line == line {
				at = l.toks[s.token].Start
				break
			}
		}
	}
	out := []Stop{}
	if at < 0 {
		return out
	}
	last := int32(-1)
	for i := range l.sights {
		s := &l.sights[i]
		if t := l.toks[s.token].Start; t < at-reachPath || t > at+reachPath || s.line == last {
			continue
		}
		end := l.stopsHere(s)
		if end == 0 {
			continue
		}
		last = s.line
		line := l.m.lines[s.line]
		out = append(out, Stop{Section: l.m.sections[line.section].id, Line: line.id, Start: l.toks[s.token].Start, Words: l.text(s.token, end)})
	}
	return out
}

// stopsHere gives the end of the words that name a part where the student
// stands, or announce a section, and 0 for words that only hint at the place.
func (l *listening) stopsHere(s *sight) int {
	if s.mention >= 0 {
		o := &l.mentions[s.mention]
		if o.item < 0 || o.place < 0.9 {
			return 0
		}
		k := slices.IndexFunc(l.got[o.item].named, func(n naming) bool { return n.mention == int(s.mention) })
		if k < 0 {
			return 0
		}
		if n := l.got[o.item].named[k]; (n.passing || n.aside) && !n.used {
			return 0
		}
		return o.last
	}
	if !s.announce {
		return 0
	}
	end := 0
	for _, h := range l.hits {
		if h.first == s.token && len(h.phrase.places) > 0 {
			end = max(end, h.last)
		}
	}
	return end
}

// earns lists what the item lacks, each with ways to say it.
func (m *Matcher) earns(item int32, mark *rubric.ItemMark) []string {
	it := &m.items[item]
	out := []string{}
	if mark.Mark == rubric.Missed {
		out = append(out, "name it: "+some(it.item.Say, 4))
	}
	for k, c := range mark.Checks {
		if c.Mark == rubric.Said || c.Minor && c.Mark == rubric.Missed {
			continue
		}
		good, bad := m.rubric.Phrases(it.checks[k].check)
		ways := some(good, 3)
		if len(bad) > 0 {
			if ways != "" {
				ways += "; or deny "
			} else {
				ways = "deny "
			}
			ways += some(bad, 3)
		}
		out = append(out, c.Title+": "+ways)
	}
	for _, c := range mark.Measures {
		if c.Mark == rubric.Wrong || c.Mark == rubric.Missed && !c.Optional {
			out = append(out, c.Title+": "+c.Accepted)
		}
	}
	return out
}

func some(list []string, n int) string {
	out := ""
	for i, s := range list[:min(n, len(list))] {
		if i > 0 {
			out += ", "
		}
		out += fmt.Sprintf("%q", s)
	}
	return out
}
