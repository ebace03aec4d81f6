package rubric

import (
	"bytes"
	"fmt"
	"maps"
	"slices"
	"strings"

	"github.com/goccy/go-yaml/ast"
)

// Overlay changes a rubric or adds to it: another state's figures, another
// kind of vehicle. See Compose.
type Overlay struct {
	ID         string
	Title      string
	For        []string // rubric ids it fits, empty for any
	Edition    string   // replaces when given, as do TimeLimit, TimeSource and Pass
	Version    string   // of this file; composed onto the rubric's
	TimeLimit  float64  // seconds
	TimeSource string
	Pass       *PassRule // replaced as a whole
	Cautions   []string  // appended, as are all that follow but Items, which change items, and Drop
	Sources    []Source
	Conditions []Condition // one without a title adds phrases to one that is there
	HeardAs    []HeardAs
	Alike      [][]string
	Sections   []NewSection
	Lines      []NewLine
	Items      []ItemChange
	Drop       []Drop
	Order      []OrderRule
	Holds      []Hold
	Agreements []Agreement

	data   []byte
	pos    Pos
	places places
}

// NewSection is a section and where it goes: after or before another, or at
// the end when both are empty.
type NewSection struct {
	Section
	After, Before string // section ids
}

// NewLine is a line and where it goes in a section that is there.
type NewLine struct {
	Line
	Section       string // section id
	After, Before string // line ids of that section
}

// ItemChange changes an item. Keys are the keys it names: title, kind, of,
// points, critical and extra replace, say is appended, checks are appended or
// replace one of the same id.
type ItemChange struct {
	Item
	Keys     []string
	Measures []MeasureChange
}

// MeasureChange changes the named keys of a measure, or is a whole new one.
type MeasureChange struct {
	Measure
	Keys []string
}

// Drop takes an item off the sheet.
type Drop struct {
	ID  string // full item id
	Pos Pos
}

// ReadOverlay reads an overlay file as strictly as Read does a rubric.
// References into the rubric are seen to by Compose.
func ReadOverlay(name string, data []byte) (*Overlay, error) {
	d, root, err := begin(name, "overlay", data)
	if err != nil {
		return nil, err
	}
	o := &Overlay{data: data, places: d.places}
	fields := append([]field{
		{"overlay", d.setText(&o.ID)},
		{"title", d.setText(&o.Title)},
		{"for", d.setTexts(&o.For)},
		{"edition", d.setText(&o.Edition)},
		{"version", d.setText(&o.Version)},
		{"time_limit", d.setSeconds(&o.TimeLimit)},
		{"time_source", d.setText(&o.TimeSource)},
		{"pass", func(n ast.Node) { p := d.pass(n); o.Pass = &p }},
		{"cautions", d.setTexts(&o.Cautions)},
		{"sources", listOf(d, d.source, &o.Sources)},
		{"conditions", listOf(d, d.condition, &o.Conditions)},
		{"heard_as", listOf(d, d.heardAs, &o.HeardAs)},
		{"alike", listOf(d, d.alike, &o.Alike)},
		{"sections", listOf(d, d.newSection, &o.Sections)},
		{"lines", listOf(d, d.newLine, &o.Lines)},
		{"items", listOf(d, d.itemChange, &o.Items)},
		{"drop", listOf(d, d.drop, &o.Drop)},
	}, d.rules(&o.Order, &o.Holds, &o.Agreements)...)
	o.pos, _ = d.object(root, "an overlay", fields...)
	d.need(o.pos, "an overlay", "overlay", o.ID)
	d.need(o.pos, "an overlay", "title", o.Title)
	if o.ID != "" && !isName(o.ID, "-") {
		d.errs.add(d.places[place{o.pos, "overlay"}], "use lower-case letters, digits and hyphens", "id %q", clip(o.ID))
	}
	d.changesOnce(o)
	if len(d.errs) > 0 {
		return nil, d.errs.err()
	}
	return o, nil
}

// changesOnce sees that the overlay says one thing of each item.
func (d *decoder) changesOnce(o *Overlay) {
	seen := map[string]Pos{}
	once := func(pos Pos, id, advice string) {
		if first, ok := seen[id]; ok {
			d.errs.add(pos, advice, "item %q is changed or dropped twice, first at %s", clip(id), first)
			return
		}
		seen[id] = pos
	}
	for _, it := range o.Items {
		once(it.Pos, it.ID, "put the changes into one entry")
		measures := map[string]bool{}
		for _, m := range it.Measures {
			if measures[m.ID] {
				d.errs.add(m.Pos, "put the changes into one entry", "measure %q of %s is changed twice", clip(m.ID), clip(it.ID))
			}
			measures[m.ID] = true
		}
		checks := map[string]bool{}
		for _, c := range it.Checks {
			if checks[c.ID] {
				d.errs.add(c.Pos, "keep one", "check %q of %s is there twice", clip(c.ID), clip(it.ID))
			}
			checks[c.ID] = true
		}
	}
	conditions := map[string]Pos{}
	for _, c := range o.Conditions {
		if first, ok := conditions[c.ID]; ok {
			d.errs.add(c.Pos, "put both into one", "condition %q is there twice, first at %s", clip(c.ID), first)
		}
		conditions[c.ID] = c.Pos
	}
	for _, drop := range o.Drop {
		once(drop.Pos, drop.ID, "keep one")
	}
}

func (d *decoder) newSection(n ast.Node) (s NewSection) {
	s.Pos, _ = d.object(n, "a section", append(d.sectionFields(&s.Section),
		field{"after", d.setText(&s.After)},
		field{"before", d.setText(&s.Before)},
	)...)
	d.needID(s.Pos, "a section", s.ID)
	d.oneAnchor(s.Pos, s.After, s.Before)
	for i := range s.Lines {
		setItemIDs(s.ID, &s.Lines[i])
	}
	return s
}

func (d *decoder) newLine(n ast.Node) (l NewLine) {
	l.Pos, _ = d.object(n, "a line", append(d.lineFields(&l.Line),
		field{"section", d.setText(&l.Section)},
		field{"after", d.setText(&l.After)},
		field{"before", d.setText(&l.Before)},
	)...)
	d.needID(l.Pos, "a line", l.ID)
	d.need(l.Pos, "a new line", "section", l.Section)
	d.oneAnchor(l.Pos, l.After, l.Before)
	setItemIDs(l.Section, &l.Line)
	return l
}

func (d *decoder) oneAnchor(pos Pos, after, before string) {
	if after != "" && before != "" {
		d.errs.add(pos, "keep one", "both after and before are given")
	}
}

func (d *decoder) itemChange(n ast.Node) (it ItemChange) {
	it.Pos, it.Keys = d.object(n, "an item change", append(d.itemFields(&it.Item),
		field{"measures", listOf(d, d.measure, &it.Measures)})...)
	d.need(it.Pos, "an item change", "id", it.ID)
	return it
}

func (d *decoder) drop(n ast.Node) Drop {
	id, _ := d.text(n)
	return Drop{ID: id, Pos: posOf(d.file, n)}
}

// Compose puts overlays onto a rubric, in the order given, and checks the
// whole. The base and the overlays are left as they are.
//
// Of one overlay, items are dropped first, then sections, lines and changes
// are put in, so that a new item may take a dropped one's id; sections and
// lines left empty go, and so do the order rules, holds and agreements that
// were there before and name a dropped item. Of two overlays that change one
// figure the later wins. Names taken twice and references to nothing are
// reported as Errors with both places.
//
// The composed version is the versions joined by "+"; Hash is over the files
// one after the other.
func Compose(base *Rubric, overlays ...*Overlay) (*Rubric, error) {
	r := base.clone()
	c := &composer{r: r, gone: dropped{}, added: map[string]Pos{}}
	for _, o := range overlays {
		if c.add(o); len(c.errs) > 0 {
			// What follows would build on what is not there.
			return nil, c.errs.err()
		}
	}
	r.fillIn()
	if err := r.check(c.gone, nil).err(); err != nil {
		return nil, err
	}
	return r, nil
}

type composer struct {
	r     *Rubric
	gone  dropped
	added map[string]Pos // overlays by id
	errs  Errors
}

func (c *composer) add(o *Overlay) {
	r := c.r
	if first, ok := c.added[o.ID]; ok {
		c.errs.add(o.pos, "name it once", "overlay %q is added twice, first from %s", o.ID, first)
		return
	}
	if slices.Contains(r.With, o.ID) {
		c.errs.add(o.pos, "name it once", "overlay %q is part of the rubric already", o.ID)
		return
	}
	c.added[o.ID] = o.pos
	if len(o.For) > 0 && !slices.Contains(o.For, r.ID) {
		c.errs.add(o.places.at(o.pos, "for"), "use it with "+strings.Join(o.For, " or "), "overlay %q does not fit the rubric %q (%s)", o.ID, r.ID, r.pos)
		return
	}
	if r.places == nil {
		r.places = places{}
	}
	for k, pos := range o.places {
		if _, there := r.places[k]; !there { // what has a name of its own came first
			r.places[k] = pos
		}
	}
	replace := func(key string, given bool) {
		if given {
			r.places[place{r.pos, key}] = o.places.at(o.pos, key)
		}
	}
	if o.Edition != "" {
		r.Edition = o.Edition
	}
	if o.Version != "" {
		r.Version += "+" + o.ID + "." + o.Version
	}
	if o.TimeLimit > 0 {
		r.TimeLimit = o.TimeLimit
		r.TimeSource = o.TimeSource // that of the old limit is no longer true
	} else if o.TimeSource != "" {
		r.TimeSource = o.TimeSource
	}
	replace("time_source", o.TimeSource != "")
	if o.Pass != nil {
		r.Pass = *o.Pass
	}
	replace("pass", o.Pass != nil)
	r.Cautions = union(r.Cautions, o.Cautions)
	for _, s := range o.Sources {
		c.source(o, s)
	}
	for _, cond := range o.Conditions {
		c.condition(cond)
	}
	for _, h := range o.HeardAs {
		c.heardAs(h)
	}
	for _, words := range o.Alike {
		r.Alike = append(r.Alike, slices.Clone(words))
	}
	for _, d := range o.Drop {
		c.drop(d)
	}
	for _, s := range o.Sections {
		c.section(o, s)
	}
	for _, l := range o.Lines {
		c.line(o, l)
	}
	for _, it := range o.Items {
		c.change(o, it)
	}
	c.prune()
	r.Order = append(r.Order, o.Order...)
	r.Holds = append(r.Holds, o.Holds...)
	r.Agreements = append(r.Agreements, o.Agreements...)
	r.With = append(r.With, o.ID)
	r.data = append(r.data, o.data...)
	r.Hash = hash(r.data)
}

// source adds one; the same one twice is one.
func (c *composer) source(o *Overlay, s Source) {
	i := slices.IndexFunc(c.r.Sources, func(old Source) bool { return old.Key == s.Key })
	switch {
	case i < 0:
		c.r.Sources = append(c.r.Sources, s)
	case c.r.Sources[i] != s:
		c.errs.add(o.places[named("source", s.Key)], "use another key, or the same title and where",
			"source %q is there with another title or where at %s", s.Key, c.r.places[named("source", s.Key)])
	}
}

// condition adds one, or its phrases to the one that is there.
func (c *composer) condition(n Condition) {
	i := slices.IndexFunc(c.r.Conditions, func(old Condition) bool { return old.ID == n.ID })
	switch {
	case i < 0 && n.Title == "":
		c.errs.add(n.Pos, "add title: …, or name a condition of the rubric", "condition %q has no title and is not there to add to", n.ID)
	case i < 0:
		c.r.Conditions = append(c.r.Conditions, cloneCondition(n))
	case n.Title != "" && n.Title != c.r.Conditions[i].Title:
		c.errs.add(n.Pos, "leave the title out to add phrases, or use another id", "condition %q is there with another title at %s", n.ID, c.r.Conditions[i].Pos)
	default:
		old := &c.r.Conditions[i]
		old.Good, old.Bad = union(old.Good, n.Good), union(old.Bad, n.Bad)
	}
}

func (c *composer) heardAs(n HeardAs) {
	for i := range c.r.HeardAs {
		if old := &c.r.HeardAs[i]; strings.EqualFold(old.Means, n.Means) {
			old.Heard = union(old.Heard, n.Heard)
			return
		}
	}
	c.r.HeardAs = append(c.r.HeardAs, HeardAs{n.Means, slices.Clone(n.Heard)})
}

// drop takes an item off but leaves its line, which may be an anchor.
func (c *composer) drop(d Drop) {
	for s := range c.r.Sections {
		for l := range c.r.Sections[s].Lines {
			line := &c.r.Sections[s].Lines[l]
			if i := slices.IndexFunc(line.Items, func(it Item) bool { return it.ID == d.ID }); i >= 0 {
				line.Items = slices.Delete(line.Items, i, i+1)
				c.gone[d.ID] = d.Pos
				c.r.dropRules(func(id string) bool { return id == d.ID })
				return
			}
		}
	}
	c.noItem(d.Pos, "drop", d.ID)
}

// dropRules takes off the order rules, holds and agreements that name an item
// that is gone.
func (r *Rubric) dropRules(gone func(item string) bool) {
	r.Order = slices.DeleteFunc(r.Order, func(o OrderRule) bool { return gone(o.Before) || gone(o.After) })
	r.Holds = slices.DeleteFunc(r.Holds, func(h Hold) bool { return gone(h.From) || gone(h.To) })
	r.Agreements = slices.DeleteFunc(r.Agreements, func(a Agreement) bool {
		return slices.ContainsFunc([]string{a.Start, a.End, a.Loss}, func(ref string) bool {
			item, _, slash := strings.Cut(ref, "/")
			return slash && gone(item)
		})
	})
}

func (c *composer) noItem(pos Pos, what, id string) {
	if drop, ok := c.gone[id]; ok {
		c.errs.add(pos, "leave one of them out", "%s names the item %q, which was dropped at %s", what, clip(id), drop)
		return
	}
	c.errs.add(pos, "name an item as section.part", "%s names the item %q, which the rubric %q (%s) does not have", what, clip(id), c.r.ID, c.r.pos)
}

func (c *composer) section(o *Overlay, n NewSection) {
	index := func(id string) int {
		return slices.IndexFunc(c.r.Sections, func(s Section) bool { return s.ID == id })
	}
	if i := index(n.ID); i >= 0 {
		c.errs.add(o.places.at(n.Pos, "id"), "use another id, or lines: to add to it", "section %q is there already at %s", n.ID, c.r.Sections[i].Pos)
		return
	}
	if i, ok := c.anchor(o, n.Pos, n.After, n.Before, len(c.r.Sections), "section", index); ok {
		c.r.Sections = slices.Insert(c.r.Sections, i, cloneSection(n.Section))
	}
}

// line puts in a line, in the place of one that was emptied if that has its id.
func (c *composer) line(o *Overlay, n NewLine) {
	s := slices.IndexFunc(c.r.Sections, func(s Section) bool { return s.ID == n.Section })
	if s < 0 {
		c.errs.add(o.places.at(n.Pos, "section"), "name a section of the rubric", "section %q is not there in %s", clip(n.Section), c.r.pos)
		return
	}
	section := &c.r.Sections[s]
	index := func(id string) int {
		return slices.IndexFunc(section.Lines, func(l Line) bool { return l.ID == id })
	}
	old := index(n.ID)
	if old >= 0 && len(section.Lines[old].Items) > 0 {
		c.errs.add(o.places.at(n.Pos, "id"), "use another id", "line %q of section %q is there already at %s", n.ID, n.Section, section.Lines[old].Pos)
		return
	}
	if old >= 0 && n.After == "" && n.Before == "" {
		section.Lines[old] = cloneLine(n.Line)
		return
	}
	i, ok := c.anchor(o, n.Pos, n.After, n.Before, len(section.Lines), "line", index)
	if !ok {
		return
	}
	if old >= 0 {
		section.Lines = slices.Delete(section.Lines, old, old+1)
		if old < i {
			i--
		}
	}
	section.Lines = slices.Insert(section.Lines, i, cloneLine(n.Line))
}

// anchor is where a new part goes.
func (c *composer) anchor(o *Overlay, pos Pos, after, before string, end int, what string, index func(string) int) (int, bool) {
	id, key, step := after, "after", 1
	if before != "" {
		id, key, step = before, "before", 0
	}
	if id == "" {
		return end, true
	}
	i := index(id)
	if i < 0 {
		c.errs.add(o.places.at(pos, key), fmt.Sprintf("name a %s that is there", what), "%s names the %s %q, which is not there in %s", key, what, clip(id), c.r.pos)
		return 0, false
	}
	return i + step, true
}

func (c *composer) change(o *Overlay, n ItemChange) {
	it := c.r.Item(n.ID)
	if it == nil {
		c.noItem(o.places.at(n.Pos, "id"), "the change", n.ID)
		return
	}
	for _, key := range n.Keys {
		if key != "id" {
			c.move(it.Pos, n.Pos, key)
		}
		switch key {
		case "title":
			it.Title = n.Title
		case "kind":
			it.Kind = n.Kind
		case "of":
			it.Of = n.Of
		case "points":
			it.Points = n.Points
		case "critical":
			it.Critical = n.Critical
		case "extra":
			it.Extra = n.Extra
		case "say":
			it.Say = union(it.Say, n.Say)
		case "checks":
			for _, ch := range n.Checks {
				if i := slices.IndexFunc(it.Checks, func(old Check) bool { return old.ID == ch.ID }); i >= 0 {
					it.Checks[i] = cloneCheck(ch)
				} else {
					it.Checks = append(it.Checks, cloneCheck(ch))
				}
			}
		case "measures":
			for _, m := range n.Measures {
				c.changeMeasure(it, m)
			}
		}
	}
}

func (c *composer) changeMeasure(it *Item, n MeasureChange) {
	m := it.Measure(n.ID)
	if m == nil {
		it.Measures = append(it.Measures, cloneMeasure(n.Measure))
		return
	}
	for _, key := range n.Keys {
		c.move(m.Pos, n.Pos, key)
		switch key {
		case "title":
			m.Title = n.Title
		case "unit":
			m.Unit = n.Unit
		case "kind":
			m.Kind = n.Kind
		case "min":
			m.Min = n.Min
		case "max":
			m.Max = n.Max
		case "direction":
			m.Direction = n.Direction
		case "near":
			m.Near = slices.Clone(n.Near)
		case "optional":
			m.Optional = n.Optional
		case "source":
			m.Source = n.Source
		case "unconfirmed":
			m.Unconfirmed = n.Unconfirmed
		case "note":
			m.Note = n.Note
		}
	}
}

// move makes messages about a key of an object point to where it was changed.
func (c *composer) move(old, changed Pos, key string) {
	if p, ok := c.r.places[place{changed, key}]; ok {
		c.r.places[place{old, key}] = p
	}
}

// prune takes off the lines and sections that drops have left empty.
func (c *composer) prune() {
	for i := range c.r.Sections {
		s := &c.r.Sections[i]
		s.Lines = slices.DeleteFunc(s.Lines, func(l Line) bool { return len(l.Items) == 0 })
	}
	c.r.Sections = slices.DeleteFunc(c.r.Sections, func(s Section) bool { return len(s.Lines) == 0 })
}

// union is a with those of b that it has not, whatever their case.
func union(a, b []string) []string {
	if len(b) == 0 {
		return a
	}
	seen := make(map[string]bool, len(a)+len(b))
	for _, s := range a {
		seen[strings.ToLower(s)] = true
	}
	for _, s := range b {
		if folded := strings.ToLower(s); !seen[folded] {
			seen[folded] = true
			a = append(a, s)
		}
	}
	return a
}

func (r *Rubric) clone() *Rubric {
	n := *r
	n.Sources = slices.Clone(r.Sources)
	n.Cautions = slices.Clone(r.Cautions)
	n.Conditions = cloneAll(r.Conditions, cloneCondition)
	n.HeardAs = cloneAll(r.HeardAs, func(h HeardAs) HeardAs { return HeardAs{h.Means, slices.Clone(h.Heard)} })
	n.Alike = cloneAll(r.Alike, func(words []string) []string { return slices.Clone(words) })
	n.Sections = cloneAll(r.Sections, cloneSection)
	n.Order = slices.Clone(r.Order)
	n.Holds = slices.Clone(r.Holds)
	n.Agreements = slices.Clone(r.Agreements)
	n.With = slices.Clone(r.With)
	n.data = bytes.Clone(r.data)
	n.places = maps.Clone(r.places)
	return &n
}

func cloneAll[T any](list []T, clone func(T) T) []T {
	if list == nil {
		return nil
	}
	out := make([]T, len(list))
	for i, v := range list {
		out[i] = clone(v)
	}
	return out
}

func cloneCondition(c Condition) Condition {
	c.Good, c.Bad = slices.Clone(c.Good), slices.Clone(c.Bad)
	return c
}

func cloneSection(s Section) Section {
	s.Say = slices.Clone(s.Say)
	s.Lines = cloneAll(s.Lines, cloneLine)
	return s
}

func cloneLine(l Line) Line {
	l.Say = slices.Clone(l.Say)
	l.Items = cloneAll(l.Items, func(it Item) Item {
		it.Say = slices.Clone(it.Say)
		it.Checks = cloneAll(it.Checks, cloneCheck)
		it.Measures = cloneAll(it.Measures, cloneMeasure)
		return it
	})
	return l
}

func cloneCheck(c Check) Check {
	c.Good, c.Bad = slices.Clone(c.Good), slices.Clone(c.Bad)
	return c
}

func cloneMeasure(m Measure) Measure {
	m.Near = slices.Clone(m.Near)
	return m
}
