package align

import (
	"cmp"
	"slices"
	"strings"

	"markaround/rubric"
	"markaround/speech"
)

// A Trial counts what the phrases of a rubric do in attempts, and what students
// say that no phrase is there for.
type Trial struct {
	m        *Matcher
	uses     []Use
	byPhrase map[*phrase][]int // uses by what is matched for them
	attempts int
	gaps     map[string]*Gap
}

// Use is a phrase in one of its uses, in the order of the rubric. A phrase that
// several parts have is there for each.
type Use struct {
	Phrase   string `json:"phrase"`
	For      string `json:"for"`      // item, item/check or item/number; "condition ID" for a shared one; "section ID", "line SECTION/ID"
	As       string `json:"as"`       // "name", "sound", "defect", "number" (words near one) or "announcement"
	Found    int    `json:"found"`    // times its words were found, wherever
	Taken    int    `json:"taken"`    // times they were taken for it; not counted for announcements and words near a number
	Attempts int    `json:"attempts"` // attempts in which they were found
	last     int    // the attempt in which they were found last
}

// Gap is a run of words in which no phrase was found.
type Gap struct {
	Words    string    `json:"words"` // in normal form
	Count    int       `json:"count"`
	Attempts int       `json:"attempts"` // that have it
	After    string    `json:"after"`    // the item named before it most often, "" when none was
	Example  []Example `json:"examples"` // the first few
	afters   map[string]int
	last     int
}

// Example is a place where words were said.
type Example struct {
	Attempt string  `json:"attempt"`
	Start   float64 `json:"start"` // seconds
	Words   string  `json:"words"` // with those around
}

// Uses of phrases.
const (
	AsName         = "name"
	AsSound        = "sound"
	AsDefect       = "defect"
	AsNumber       = "number"
	AsAnnouncement = "announcement"
)

// NewTrial begins a trial of the matcher's rubric.
func (m *Matcher) NewTrial() *Trial {
	t := &Trial{m: m, byPhrase: map[*phrase][]int{}, gaps: map[string]*Gap{}}
	variants := hearings(m.rubric)
	byWords := map[string]*phrase{}
	for _, p := range m.finder.phrases {
		byWords[m.finder.keyOf(p)] = p
	}
	add := func(texts []string, of, as string, turned bool) {
		for _, text := range texts {
			i := len(t.uses)
			t.uses = append(t.uses, Use{Phrase: text, For: of, As: as})
			for _, v := range variants(text) {
				var words []string
				for _, tok := range speech.TokensOf(v) {
					words = append(words, tok.Text)
				}
				if p := byWords[strings.Join(words, " ")]; p != nil {
					t.byPhrase[p] = append(t.byPhrase[p], i)
				}
			}
			if turned {
				for _, p := range m.finder.inverted(text) {
					t.byPhrase[p] = append(t.byPhrase[p], i)
				}
			}
		}
	}
	r := m.rubric
	for s := range r.Sections {
		sec := &r.Sections[s]
		add(sec.Say, "section "+sec.ID, AsAnnouncement, false)
		for l := range sec.Lines {
			line := &sec.Lines[l]
			add(line.Say, "line "+sec.ID+"/"+line.ID, AsAnnouncement, false)
			for i := range line.Items {
				it := &line.Items[i]
				add(it.Say, it.ID, AsName, true)
				for c := range it.Checks {
					ck := &it.Checks[c]
					add(ck.Good, it.ID+"/"+ck.ID, AsSound, false)
					add(ck.Bad, it.ID+"/"+ck.ID, AsDefect, false)
				}
				for _, ms := range it.Measures {
					add(ms.Near, it.ID+"/"+ms.ID, AsNumber, false)
				}
			}
		}
	}
	for _, c := range r.Conditions {
		add(c.Good, "condition "+c.ID, AsSound, false)
		add(c.Bad, "condition "+c.ID, AsDefect, false)
	}
	return t
}

// keyOf is a phrase's words, with the place of a linking word.
func (f *finder) keyOf(p *phrase) string {
	words := make([]string, len(p.words))
	for i, w := range p.words {
		words[i] = f.lex.words[w].text
	}
	if p.linked > 0 {
		return strings.Join(words[:p.linked], " ") + "|" + strings.Join(words[p.linked:], " ")
	}
	return strings.Join(words, " ")
}

// Add counts an attempt.
func (t *Trial) Add(tr *speech.Transcript, opt Options) {
	t.attempts++
	_, l := t.m.hear(tr, opt)
	covered := make([]bool, len(l.toks))
	type place struct{ use, first int }
	found := map[place]bool{}
	for _, h := range l.hits {
		for i := h.first; i < h.last; i++ {
			covered[i] = true
		}
		for _, i := range t.byPhrase[h.phrase] {
			if found[place{i, h.first}] {
				continue
			}
			found[place{i, h.first}] = true
			u := &t.uses[i]
			u.Found++
			if u.last != t.attempts {
				u.last = t.attempts
				u.Attempts++
			}
		}
	}
	t.taken(l)
	for i := range l.mentions {
		for k := l.mentions[i].first; k < l.mentions[i].last; k++ {
			covered[k] = true
		}
	}
	for _, q := range l.quantities {
		for i := q.First; i < q.Last; i++ {
			covered[i] = true
		}
	}
	t.uncaught(l, covered, opt.Attempt)
}

// taken counts the phrases that an item or a check has taken.
func (t *Trial) taken(l *listening) {
	count := func(p *phrase, fits func(u *Use) bool) {
		for _, i := range t.byPhrase[p] {
			if u := &t.uses[i]; fits(u) {
				u.Taken++
			}
		}
	}
	for i := range l.mentions {
		if o := &l.mentions[i]; o.item >= 0 {
			id := l.m.items[o.item].item.ID
			count(o.phrase, func(u *Use) bool { return u.As == AsName && u.For == id })
		}
	}
	type one struct {
		cond int
		of   string
	}
	seen := map[one]bool{} // a shared condition said of a list is taken once
	for i, got := range l.got {
		it := &l.m.items[i]
		for k, claims := range got.checks {
			ck := it.checks[k].check
			for _, c := range claims {
				if c.cond < 0 {
					continue
				}
				own, shared := it.item.ID+"/"+ck.ID, "condition "+ck.Condition
				for _, of := range []string{own, shared} {
					if !seen[one{c.cond, of}] {
						seen[one{c.cond, of}] = true
						count(l.conds[c.cond].phrase, func(u *Use) bool { return u.For == of })
					}
				}
			}
		}
	}
}

// mostGap is the longest run of words that is counted, and mostExamples how many
// places of one are kept.
const (
	mostGap      = 4
	mostExamples = 3
)

// uncaught counts the runs of words that nothing covers. A run begins and ends
// with a word that is not everyday speech.
func (t *Trial) uncaught(l *listening, covered []bool, attempt string) {
	free := func(i int) bool {
		return !covered[i] && !(l.story != nil && l.story[i]) && !(l.asked != nil && l.asked[i]) && !(l.others != nil && l.others[l.toks[i].Segment])
	}
	meaning := func(i int) bool {
		w := l.toks[i].Text
		return !Everyday(w) && len(w) > 2
	}
	for i := range l.toks {
		if !free(i) || !meaning(i) {
			continue
		}
		for n := 1; n <= mostGap && i+n <= len(l.toks) && free(i+n-1); n++ {
			if n > 1 && l.toks[i+n-2].Break == speech.StopBreak {
				break
			}
			if meaning(i+n-1) && (n > 1 || t.news(l.toks[i].Text)) {
				t.gap(l, i, i+n, attempt)
			}
		}
	}
}

// news reports a word that would say something by itself: none that the rubric
// has in its phrases, nor one run together from two.
func (t *Trial) news(word string) bool {
	return !t.m.finder.lex.knows(word) && !strings.Contains(word, "'")
}

func (t *Trial) gap(l *listening, first, last int, attempt string) {
	words := make([]string, 0, last-first)
	for _, tok := range l.toks[first:last] {
		words = append(words, tok.Text)
	}
	key := strings.Join(words, " ")
	g := t.gaps[key]
	if g == nil {
		g = &Gap{Words: key, afters: map[string]int{}}
		t.gaps[key] = g
	}
	g.Count++
	if g.last != t.attempts {
		g.last = t.attempts
		g.Attempts++
	}
	after := ""
	for i := range l.mentions {
		if l.mentions[i].first >= first {
			break
		}
		if o := l.mentions[i].item; o >= 0 {
			after = l.m.items[o].item.ID
		}
	}
	if after != "" {
		g.afters[after]++
	}
	if len(g.Example) < mostExamples {
		const around = 5
		g.Example = append(g.Example, Example{attempt, l.toks[first].Start, l.text(max(0, first-around), min(len(l.toks), last+around))})
	}
}

// Attempts is how many were added.
func (t *Trial) Attempts() int { return t.attempts }

// Uses are all phrases in the order of the rubric, shared conditions last.
func (t *Trial) Uses() []Use { return slices.Clone(t.uses) }

// Gaps are the runs of words that no phrase catches: first those that most
// attempts have, then those said most often. A run is left out when it is part of
// a longer one that is said as often.
func (t *Trial) Gaps() []Gap {
	var out []Gap
	for _, g := range t.gaps {
		g.After = ""
		for id, n := range g.afters {
			if best := g.afters[g.After]; n > best || n == best && id < g.After {
				g.After = id
			}
		}
		out = append(out, *g)
	}
	whole := map[string]bool{} // what a longer run says as often
	for _, g := range out {
		words := strings.Fields(g.Words)
		for i := range words {
			for j := i + 1; j <= len(words); j++ {
				part := strings.Join(words[i:j], " ")
				if p := t.gaps[part]; part != g.Words && p != nil && p.Count == g.Count {
					whole[part] = true
				}
			}
		}
	}
	out = slices.DeleteFunc(out, func(g Gap) bool { return whole[g.Words] })
	slices.SortFunc(out, func(a, b Gap) int {
		return cmp.Or(cmp.Compare(b.Attempts, a.Attempts), cmp.Compare(b.Count, a.Count), cmp.Compare(a.Words, b.Words))
	})
	return out
}

// Rubric is the rubric that is tried.
func (t *Trial) Rubric() *rubric.Rubric { return t.m.rubric }
