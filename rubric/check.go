package rubric

import (
	"fmt"
	"math/big"
	"slices"
	"strings"
)

// Units are the units of a measure.
func Units() []string {
	return []string{"psi", "inch", "foot", "degree", "second", "minute", "mph", "rpm", "percent", "volt", "count", "fraction"}
}

// Kinds of measure: the rule as stated, what the gauge shows, or either.
const (
	LimitKind   = "limit"
	ReadingKind = "reading"
	EitherKind  = "either"
)

// Kinds are the kinds of a measure.
func Kinds() []string { return []string{LimitKind, ReadingKind, EitherKind} }

// Range gives the figures accepted, both inclusive, in the measure's unit. An
// open end is nil.
func (m *Measure) Range() (low, high *big.Rat, err error) {
	if m.Min != "" {
		if low, err = ParseRational(m.Min); err != nil {
			return nil, nil, fmt.Errorf("min of measure %s: %w", m.ID, err)
		}
	}
	if m.Max != "" {
		if high, err = ParseRational(m.Max); err != nil {
			return nil, nil, fmt.Errorf("max of measure %s: %w", m.ID, err)
		}
	}
	return low, high, nil
}

// SourceKeys are the keys that a source text names: comma separated, up to a
// semicolon with a remark after it. A text that begins with "from memory" or
// "common practice" is all remark.
func SourceKeys(source string) []string {
	folded := strings.ToLower(source)
	if source == "" || strings.HasPrefix(folded, "from memory") || strings.HasPrefix(folded, "common practice") {
		return nil
	}
	named, _, _ := strings.Cut(source, ";")
	keys := strings.Split(named, ",")
	for i := range keys {
		keys[i] = strings.TrimSpace(keys[i])
	}
	return keys
}

// NamesSource tells whether a source text names a key, as SourceKeys reads it or in
// parentheses in its remark: "dr; California says 55 to 75 (ca-5)".
func NamesSource(source, key string) bool {
	return slices.Contains(SourceKeys(source), key) || strings.Contains(source, "("+key+")")
}

// fillIn supplies what a file may leave to the default.
func (r *Rubric) fillIn() {
	for e := range r.All() {
		for i := range e.Item.Checks {
			c := &e.Item.Checks[i]
			if shared := r.Shared(c); shared != nil && c.Title == "" {
				c.Title = shared.Title
			}
		}
		for i := range e.Item.Measures {
			if m := &e.Item.Measures[i]; m.Kind == "" {
				m.Kind = EitherKind
			}
		}
	}
}

// dropped says where overlays took items off.
type dropped map[string]Pos

// checker collects the faults of meaning of a whole rubric.
type checker struct {
	r          *Rubric
	gone       dropped
	unread     map[Pos]bool // values with a fault of form
	errs       Errors
	sources    map[string]bool
	conditions map[string]*Condition
	items      map[string]*Item
}

// check finds every fault of meaning: names given twice, references to nothing,
// impossible ranges and rules. Form are the faults already found: a value that
// could not be read is not reported again as absent.
func (r *Rubric) check(gone dropped, form Errors) Errors {
	c := newChecker(r, gone, form)
	c.head()
	c.parts()
	c.rules()
	return c.errs
}

func newChecker(r *Rubric, gone dropped, form Errors) *checker {
	c := &checker{r: r, gone: gone, unread: map[Pos]bool{}, errs: form, sources: map[string]bool{}, conditions: map[string]*Condition{}, items: map[string]*Item{}}
	for _, e := range form {
		c.unread[e.Pos] = true
	}
	return c
}

// rules checks what names items, once parts has found them.
func (c *checker) rules() {
	c.order()
	c.holds()
	c.agreements()
}

// fail reports a fault of a key's value in the object at pos: where the value
// stood, or else at pos.
func (c *checker) fail(pos Pos, key, advice, format string, args ...any) {
	at, stood := c.r.places[place{pos, key}]
	switch {
	case !stood:
		c.errs.add(pos, advice, format, args...)
	case !c.unread[at]:
		c.errs.add(at, advice, format, args...)
	}
}

// need reports a text that is absent.
func (c *checker) need(pos Pos, what, key, value string) {
	if value == "" {
		c.fail(pos, key, "add "+key+": …", "%s has no %s", what, key)
	}
}

// twice reports an id that is taken, with the other place. One that is absent
// was reported by the decoder.
func (c *checker) twice(pos Pos, what, id string, seen map[string]Pos) {
	if first, ok := seen[id]; ok && id != "" && !strings.HasSuffix(id, ".") {
		c.fail(pos, "id", "rename one", "%s %q is there twice, first at %s", what, id, first)
		return
	}
	seen[id] = pos
}

func (c *checker) head() {
	r := c.r
	c.need(r.pos, "the rubric", "rubric", r.ID)
	c.need(r.pos, "the rubric", "title", r.Title)
	c.need(r.pos, "the rubric", "version", r.Version)
	if r.ID != "" && !isName(r.ID, "-") {
		c.fail(r.pos, "rubric", "use lower-case letters, digits and hyphens", "id %q", clip(r.ID))
	}
	if r.Pass.WithinLimit && r.TimeLimit == 0 {
		c.fail(r.pos, "pass", "add time_limit: … or leave within_limit out", "pass asks for within_limit, but there is no time_limit")
	}
	for _, s := range r.Sources {
		c.sources[s.Key] = true
	}
	c.timeSource()
	seen := map[string]Pos{}
	for i := range r.Conditions {
		cond := &r.Conditions[i]
		c.twice(cond.Pos, "condition", cond.ID, seen)
		c.conditions[cond.ID] = cond
		what := fmt.Sprintf("condition %q", cond.ID)
		c.need(cond.Pos, what, "title", cond.Title)
		c.phrases(cond.Pos, what, cond.Good, cond.Bad)
	}
}

// timeSource may be a remark: only text that looks like keys must be keys.
func (c *checker) timeSource() {
	keys := SourceKeys(c.r.TimeSource)
	if !slices.ContainsFunc(keys, func(k string) bool { return strings.Contains(k, " ") }) {
		c.source(c.r.pos, "time_source", c.r.TimeSource)
	}
}

func (c *checker) source(pos Pos, key, source string) {
	for _, k := range SourceKeys(source) {
		if !c.sources[k] {
			c.fail(pos, key, "name a key of sources, with remarks after a semicolon, or begin with \"from memory\" or \"common practice\"",
				"%s names %q, which is no source key", key, clip(k))
		}
	}
}

// phrases sees that there are some and that none is both good and bad.
func (c *checker) phrases(pos Pos, what string, good, bad []string) {
	if len(good)+len(bad) == 0 {
		c.errs.add(pos, "add good: […] or bad: […]", "%s has no phrases", what)
	}
	seen := map[string]bool{}
	for _, p := range good {
		seen[strings.ToLower(p)] = true
	}
	for _, p := range bad {
		if seen[strings.ToLower(p)] {
			c.fail(pos, "bad", "keep it on one side", "%s has %q as good and as bad", what, clip(p))
		}
	}
}

func (c *checker) parts() {
	if len(c.r.Sections) == 0 {
		c.fail(c.r.pos, "sections", "add sections: …", "the rubric has no sections")
	}
	sections, items := map[string]Pos{}, map[string]Pos{}
	for i := range c.r.Sections {
		s := &c.r.Sections[i]
		c.twice(s.Pos, "section", s.ID, sections)
		what := fmt.Sprintf("section %q", s.ID)
		c.need(s.Pos, what, "title", s.Title)
		if len(s.Lines) == 0 {
			c.fail(s.Pos, "lines", "add lines: … or delete the section", "%s has no lines", what)
		}
		lines := map[string]Pos{}
		for j := range s.Lines {
			l := &s.Lines[j]
			c.twice(l.Pos, "line", l.ID, lines)
			what := fmt.Sprintf("line %q", l.ID)
			c.need(l.Pos, what, "title", l.Title)
			c.source(l.Pos, "source", l.Source)
			if len(l.Items) == 0 {
				c.fail(l.Pos, "items", "add items: … or delete the line", "%s has no items", what)
			}
			for k := range l.Items {
				it := &l.Items[k]
				c.twice(it.Pos, "item", it.ID, items)
				c.items[it.ID] = it
				c.item(it)
			}
		}
	}
	c.details()
}

// details sees that what items are details of is there. A whole that an overlay
// has dropped may leave its details behind.
func (c *checker) details() {
	if len(c.gone) > 0 {
		return
	}
	kinds := map[string]bool{"": true}
	for e := range c.r.All() {
		kinds[e.Item.Kind] = true
	}
	for e := range c.r.All() {
		if it := e.Item; !kinds[it.Of] {
			c.fail(it.Pos, "of", "give the part that it belongs to this kind", "item %q is a detail of the kind %q, which no item has", it.ID, clip(it.Of))
		}
	}
}

func (c *checker) item(it *Item) {
	what := fmt.Sprintf("item %q", it.ID)
	c.need(it.Pos, what, "title", it.Title)
	if len(it.Say) == 0 && !it.Extra {
		c.fail(it.Pos, "say", "add say: [ways to name it]", "%s has no say", what)
	}
	if it.Points < 0 {
		c.fail(it.Pos, "points", "write 0 or more", "%s has %v points", what, it.Points)
	}
	ids := map[string]Pos{}
	for i := range it.Checks {
		ch := &it.Checks[i]
		c.twice(ch.Pos, "in "+what+" check", ch.ID, ids)
		name := fmt.Sprintf("check %q of %s", ch.ID, it.ID)
		if ch.Condition != "" && c.conditions[ch.Condition] == nil {
			c.fail(ch.Pos, "condition", "name one of conditions, or write the check out with title, good and bad",
				"%s names the condition %q, which is not there", name, clip(ch.Condition))
			continue
		}
		c.need(ch.Pos, name, "title", ch.Title)
		good, bad := c.r.Phrases(ch)
		c.phrases(ch.Pos, name, good, bad)
	}
	for i := range it.Measures {
		m := &it.Measures[i]
		c.twice(m.Pos, "in "+what+" measure", m.ID, ids)
		c.measure(it, m)
	}
}

func (c *checker) measure(it *Item, m *Measure) {
	what := fmt.Sprintf("measure %q of %s", m.ID, it.ID)
	c.need(m.Pos, what, "title", m.Title)
	c.oneOf(m.Pos, what, "unit", m.Unit, Units())
	c.oneOf(m.Pos, what, "kind", m.Kind, Kinds())
	if m.Direction != AnyDirection {
		c.oneOf(m.Pos, what, "direction", string(m.Direction), []string{string(AtLeast), string(AtMost)})
	}
	c.source(m.Pos, "source", m.Source)
	low, high := c.span(what, m)
	if m.Min == "" && m.Max == "" {
		c.errs.add(m.Pos, "add min: … or max: …", "%s accepts any figure", what)
	}
	if m.Direction == AnyDirection {
		return
	}
	switch {
	case m.Kind == ReadingKind:
		c.fail(m.Pos, "direction", "leave it out", "%s is a reading and has a direction", what)
	case m.Kind == LimitKind && low != nil && high != nil && low.Cmp(high) != 0:
		c.fail(m.Pos, "direction", "leave direction out, or give the one figure of the limit", "%s is a limit with a range %s to %s and a direction", what, m.Min, m.Max)
	}
}

// span gives both ends of a measure, nil where one is open or no figure.
func (c *checker) span(what string, m *Measure) (low, high *big.Rat) {
	low, high = c.figure(m.Pos, what, "min", m.Min), c.figure(m.Pos, what, "max", m.Max)
	if low != nil && high != nil && low.Cmp(high) > 0 {
		c.fail(m.Pos, "min", "turn them round", "%s accepts nothing: min %s is above max %s", what, m.Min, m.Max)
	}
	return low, high
}

func (c *checker) oneOf(pos Pos, what, key, value string, all []string) {
	switch advice := "use one of " + strings.Join(all, ", "); {
	case slices.Contains(all, value):
	case value == "":
		c.fail(pos, key, advice, "%s has no %s", what, key)
	default:
		c.fail(pos, key, advice, "%s has the %s %q", what, key, clip(value))
	}
}

func (c *checker) figure(pos Pos, what, key, value string) *big.Rat {
	if value == "" {
		return nil
	}
	v, err := ParseRational(value)
	if err != nil {
		c.fail(pos, key, "write it as 3, 0.5, 4/32 or 3 1/2", "%s has the %s %q, which is no figure", what, key, clip(value))
		return nil
	}
	return v
}

// ref is false, and the fault noted with where the item was dropped, when an item
// reference leads nowhere.
func (c *checker) ref(pos Pos, key, id string) bool {
	switch drop, was := c.gone[id]; {
	case id == "":
		c.fail(pos, key, "name an item as section.part", "%s is not given", key)
	case c.items[id] != nil:
		return true
	case was:
		c.fail(pos, key, "leave one of them out", "%s names the item %q, which was dropped at %s", key, clip(id), drop)
	default:
		c.fail(pos, key, "name an item as section.part", "%s names the item %q, which is not there", key, clip(id))
	}
	return false
}

func (c *checker) order() {
	type pair struct{ before, after string }
	seen := map[pair]Pos{}
	next := map[string][]*OrderRule{}
	for i := range c.r.Order {
		o := &c.r.Order[i]
		c.source(o.Pos, "source", o.Source)
		before, after := c.ref(o.Pos, "before", o.Before), c.ref(o.Pos, "after", o.After)
		if first, ok := seen[pair{o.Before, o.After}]; ok {
			c.errs.add(o.Pos, "delete one", "the order rule %s before %s is there twice, first at %s", o.Before, o.After, first)
			continue
		}
		seen[pair{o.Before, o.After}] = o.Pos
		c.need(o.Pos, "the order rule", "reason", o.Reason)
		if before && after {
			next[o.Before] = append(next[o.Before], o)
		}
	}
	c.cycles(next)
}

// cycles reports each rule that closes a circle, naming the circle. The walk
// keeps its own stack: rubrics come from anywhere.
func (c *checker) cycles(next map[string][]*OrderRule) {
	type step struct {
		id   string
		done int // rules of next[id] followed
	}
	onPath, finished := map[string]bool{}, map[string]bool{}
	for e := range c.r.All() {
		if finished[e.Item.ID] {
			continue
		}
		path := []step{{id: e.Item.ID}}
		onPath[e.Item.ID] = true
		for len(path) > 0 {
			top := &path[len(path)-1]
			if top.done == len(next[top.id]) {
				onPath[top.id], finished[top.id] = false, true
				path = path[:len(path)-1]
				continue
			}
			rule := next[top.id][top.done]
			top.done++
			switch {
			case onPath[rule.After]:
				first := slices.IndexFunc(path, func(s step) bool { return s.id == rule.After })
				var names []string
				for _, s := range path[first:] {
					names = append(names, s.id)
				}
				c.errs.add(rule.Pos, "take one of these rules out", "the order goes in a circle: %s", circle(append(names, rule.After)))
			case !finished[rule.After]:
				path = append(path, step{id: rule.After})
				onPath[rule.After] = true
			}
		}
	}
}

// circle names the items of a circle, the middle of a long one left out.
func circle(names []string) string {
	const most = 12
	if len(names) > most {
		names = slices.Concat(names[:most/2], []string{fmt.Sprintf("(%d more)", len(names)-most)}, names[len(names)-most/2:])
	}
	return strings.Join(names, " → ")
}

func (c *checker) holds() {
	seen := map[string]Pos{}
	for i := range c.r.Holds {
		h := &c.r.Holds[i]
		what := fmt.Sprintf("hold %q", h.ID)
		c.twice(h.Pos, "hold", h.ID, seen)
		c.need(h.Pos, what, "title", h.Title)
		c.source(h.Pos, "source", h.Source)
		c.ref(h.Pos, "from", h.From)
		c.ref(h.Pos, "to", h.To)
		if h.From == h.To && h.From != "" {
			c.fail(h.Pos, "to", "name two items", "%s goes from %s to itself", what, h.From)
		}
		if h.Seconds <= 0 {
			c.fail(h.Pos, "seconds", "add seconds: 60", "%s has no time", what)
		}
	}
}

func (c *checker) agreements() {
	for i := range c.r.Agreements {
		a := &c.r.Agreements[i]
		start := c.reading(a, "start", a.Start)
		end := c.reading(a, "end", a.End)
		loss := c.reading(a, "loss", a.Loss)
		if start != nil && end != nil && loss != nil {
			if start == end || end == loss || start == loss {
				c.errs.add(a.Pos, "name three measures", "the agreement names one measure twice")
			}
			if start.Unit != end.Unit || start.Unit != loss.Unit {
				c.errs.add(a.Pos, "name measures of one unit", "the agreement compares %s, %s and %s", start.Unit, end.Unit, loss.Unit)
			}
		}
		c.need(a.Pos, "the agreement", "within", a.Within)
		if within := c.figure(a.Pos, "the agreement", "within", a.Within); within != nil && within.Sign() < 0 {
			c.fail(a.Pos, "within", "write 0 or more", "within is %s", a.Within)
		}
	}
}

// reading is the measure that an "item/measure" reference leads to, nil when
// it leads nowhere, which is then reported.
func (c *checker) reading(a *Agreement, key, ref string) *Measure {
	id, measure, slash := strings.Cut(ref, "/")
	if !slash {
		c.fail(a.Pos, key, "write it as section.part/measure", "%s must name a measure, not %q", key, clip(ref))
		return nil
	}
	if !c.ref(a.Pos, key, id) {
		return nil
	}
	m := c.items[id].Measure(measure)
	if m == nil {
		c.fail(a.Pos, key, "name a measure of that item", "%s names the measure %q, which %s does not have", key, clip(measure), id)
	}
	return m
}
