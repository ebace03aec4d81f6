package rubric

import (
	"bytes"
	"fmt"
	"maps"
	"slices"
	"strconv"
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
	NoLimit    bool     // takes the time limit off
	TimeSource string
	Pass       *PassRule // replaced as a whole
	Cautions   []string  // appended, as are all that follow but Items, which change items, and Drop
	Sources    []Source
	Conditions []Condition // one without a title adds phrases to one that is there
	HeardAs    []HeardAs
	Alike      [][]string
	Sections   []NewSection // new ones, and changes of those that are there
	Lines      []NewLine    // likewise
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
// the end when both are empty. One without lines that has the id of a section
// that is there changes it: title, place and budget replace, say is appended,
// and after or before move it.
type NewSection struct {
	Section
	Keys          []string // the keys it names
	After, Before string   // section ids
}

// NewLine is a line and where it goes in a section that is there. With the id
// of a line that is there, one without items changes it as NewSection does, and
// one without a title adds its items to it.
type NewLine struct {
	Line
	Keys          []string // the keys it names
	Section       string   // section id
	After, Before string   // line ids of that section
}

// ItemChange changes an item. Keys are the keys it names: title, kind, of,
// points, critical and extra replace, say is appended, checks and measures are
// appended or change those of the same id.
type ItemChange struct {
	Item
	Keys     []string
	Checks   []CheckChange
	Measures []MeasureChange
}

// CheckChange is a whole new check or changes the named keys of one: condition,
// title and minor replace, good and bad are appended.
type CheckChange struct {
	Check
	Keys []string
}

// MeasureChange changes the named keys of a measure, or is a whole new one.
type MeasureChange struct {
	Measure
	Keys []string
}

// Drop takes something off the sheet: a section ("coupling"), an item
// ("cab.horn"), a check or measure of an item ("cab.horn/works"), or an order
// rule ("air.leak>air.warning").
type Drop struct {
	ID  string
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
	}, d.changes(o)...)
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

// changes are the fields of an overlay that change a rubric; a rubric that is
// made from another has them too.
func (d *decoder) changes(o *Overlay) []field {
	return append([]field{
		{"edition", d.setText(&o.Edition)},
		{"version", d.setText(&o.Version)},
		{"time_limit", func(n ast.Node) {
			if v, ok := d.resolve(n).(*ast.StringNode); ok && v.Value == "none" {
				o.NoLimit = true
				return
			}
			d.setSeconds(&o.TimeLimit)(n)
		}},
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
	s.Pos, s.Keys = d.object(n, "a section", append(d.sectionFields(&s.Section),
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
	l.Pos, l.Keys = d.object(n, "a line", append(d.lineFields(&l.Line),
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
		field{"checks", listOf(d, d.checkChange, &it.Checks)},
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
// Of one overlay, what it drops goes first, then sections, lines and changes
// are put in, so that a new item may take a dropped one's id; sections and
// lines left empty go, and so do the order rules, holds and agreements that
// were there before and name something dropped. Two overlays that set one value
// of what the rubric has to different things do not go together: that, names
// taken twice and references to nothing are reported as Errors with both
// places. An overlay may change a section that another has added.
//
// The composed version is the versions joined by "+"; Hash is over the files
// one after the other.
func Compose(base *Rubric, overlays ...*Overlay) (*Rubric, error) {
	r := base.clone()
	c := &composer{r: r, gone: dropped{}, added: map[string]Pos{}}
	for _, o := range overlays {
		if c.add(o); len(c.errs) > 0 {
			// What follows would build on what is not there.
			return nil, c.faults(o).err()
		}
	}
	return c.finish()
}

type composer struct {
	r     *Rubric
	o     *Overlay // being put on
	own   bool     // o is the rubric's own file, which may set what overlays have set
	gone  dropped
	added map[string]Pos // overlays by id
	errs  Errors
	stray []ItemChange // of items that are not there
	less  bool         // something of the overlay could not be put in
}

// setting is a value that an overlay has set.
type setting struct {
	value, overlay string
	pos            Pos
}

// faults are all those of an overlay with parts that could not be put on: what
// is wrong with the rest of it is not held back until these are right.
func (c *composer) faults(o *Overlay) Errors {
	if c.o != o {
		return c.errs // none of it was put on
	}
	c.r.fillIn()
	check := newChecker(c.r, c.gone, nil)
	check.head()
	check.parts()
	if !c.less { // else rules may name what would be there
		check.rules()
	}
	for _, it := range c.stray {
		for i := range it.Measures {
			m := &it.Measures[i].Measure
			check.span(fmt.Sprintf("measure %q of %s", m.ID, it.ID), m)
		}
	}
	return append(c.errs, check.errs...)
}

func (c *composer) finish() (*Rubric, error) {
	c.r.fillIn()
	if err := c.r.check(c.gone, nil).err(); err != nil {
		return nil, err
	}
	return c.r, nil
}

// add puts an overlay on, if it fits.
func (c *composer) add(o *Overlay) {
	r := c.r
	if first, ok := c.added[o.ID]; ok {
		c.errs.add(o.pos, "name it once", "overlay %q is added twice, first from %s", o.ID, first)
		return
	}
	if slices.Contains(r.With, o.ID) || slices.Contains(r.within, o.ID) {
		c.errs.add(o.pos, "name it once", "overlay %q is part of the rubric already", o.ID)
		return
	}
	c.added[o.ID] = o.pos
	if !o.Fits(r) {
		c.errs.add(o.places.at(o.pos, "for"), "use it with "+strings.Join(o.For, " or "), "overlay %q does not fit the rubric %q (%s)", o.ID, r.ID, r.pos)
		return
	}
	c.apply(o)
	if o.Version != "" {
		r.Version += "+" + o.ID + "." + o.Version
	}
	r.With = append(r.With, o.ID)
}

// Fits reports whether the overlay is meant for the rubric, or for the one that
// it is made from: the nearest that is embedded, or one on the way there. An
// embedded rubric is meant only when it is named itself.
func (o *Overlay) Fits(r *Rubric) bool {
	if len(o.For) == 0 {
		return true
	}
	for _, id := range append([]string{r.ID}, r.Bases...) {
		if slices.Contains(o.For, id) {
			return true
		}
		if slices.Contains(files().rubrics, id) {
			return false
		}
	}
	return false
}

// apply makes all the changes of an overlay.
func (c *composer) apply(o *Overlay) {
	r := c.r
	c.o = o
	if r.places == nil {
		r.places = places{}
	}
	for k, pos := range o.places {
		if _, there := r.places[k]; !there { // what has a name of its own came first
			r.places[k] = pos
		}
	}
	replace := func(key, value string) {
		c.claim("the rubric", key, value, o.pos)
		r.places[place{r.pos, key}] = o.places.at(o.pos, key)
	}
	if o.Edition != "" {
		r.Edition = o.Edition
		replace("edition", o.Edition)
	}
	if o.TimeLimit > 0 || o.NoLimit {
		r.TimeLimit = o.TimeLimit
		r.TimeSource = o.TimeSource // that of the old limit is no longer true
		replace("time_limit", limit(o.TimeLimit))
	} else if o.TimeSource != "" {
		r.TimeSource = o.TimeSource
	}
	if o.TimeSource != "" {
		replace("time_source", o.TimeSource)
	}
	if o.Pass != nil {
		r.Pass = *o.Pass
		replace("pass", fmt.Sprintf("min_share %v, critical %t, within_limit %t", o.Pass.MinShare, o.Pass.Critical, o.Pass.WithinLimit))
	}
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
	for _, rule := range o.Order {
		c.order(rule)
	}
	r.Holds = append(r.Holds, o.Holds...)
	r.Agreements = append(r.Agreements, o.Agreements...)
	r.data = append(r.data, o.data...)
	r.Hash = hash(r.data)
}

// claim notes that the overlay sets a key of something, and reports it when an
// overlay before set it to another value.
func (c *composer) claim(what, key, value string, pos Pos) {
	if c.own {
		return
	}
	at := c.o.places.at(pos, key)
	name := what + " " + key
	was, there := c.r.set[name]
	switch {
	case there && was.overlay != c.o.ID && was.value != value:
		c.errs.add(at, "leave one of the overlays out, or make a rubric with base: and with: that sets its own",
			"%s of %s is set to %s here and to %s by overlay %q at %s", key, what, spelled(value), spelled(was.value), was.overlay, was.pos)
	case !there:
		if c.r.set == nil {
			c.r.set = map[string]setting{}
		}
		c.r.set[name] = setting{value, c.o.ID, at}
	}
}

// spelled is a value as messages show it.
func spelled(value string) string {
	if value == "" {
		return "nothing"
	}
	return strconv.Quote(clip(value))
}

// order adds a rule, or puts it in the place of the one between the same items.
func (c *composer) order(n OrderRule) {
	i := slices.IndexFunc(c.r.Order, func(old OrderRule) bool { return old.Before == n.Before && old.After == n.After })
	if i >= 0 && c.r.Order[i].Pos.File == n.Pos.File {
		i = -1 // given twice in one file: check reports it
	}
	if n.Before != "" && n.After != "" {
		c.claim("the order rule "+n.Before+" before "+n.After, "reason", n.Reason, n.Pos)
	}
	if i < 0 {
		c.r.Order = append(c.r.Order, n)
		return
	}
	c.r.Order[i] = n
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
		n.Title = n.ID // for the checks that name it
		c.r.Conditions = append(c.r.Conditions, cloneCondition(n))
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

// drop takes a part off but leaves an item's line, which may be an anchor.
func (c *composer) drop(d Drop) {
	item, part, slash := strings.Cut(d.ID, "/")
	before, after, rule := strings.Cut(d.ID, ">")
	switch {
	case rule:
		c.dropRule(d, strings.TrimSpace(before), strings.TrimSpace(after))
		return
	case slash:
		c.dropPart(d, item, part)
		return
	case !strings.Contains(d.ID, "."):
		c.dropSection(d)
		return
	}
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

// dropSection empties a section; prune takes it off, so that it may be an anchor.
func (c *composer) dropSection(d Drop) {
	for s := range c.r.Sections {
		section := &c.r.Sections[s]
		if section.ID != d.ID {
			continue
		}
		gone := map[string]bool{}
		for l := range section.Lines {
			for _, it := range section.Lines[l].Items {
				gone[it.ID] = true
				c.gone[it.ID] = d.Pos
			}
			section.Lines[l].Items = nil
		}
		c.gone[d.ID] = d.Pos
		c.r.dropRules(func(id string) bool { return gone[id] })
		return
	}
	if first, ok := c.gone[d.ID]; ok {
		c.errs.add(d.Pos, "leave one of them out", "drop names the section %q, which was dropped at %s", clip(d.ID), first)
		return
	}
	c.errs.add(d.Pos, "name a section, an item as section.part, a check or measure of it as section.part/id, or an order rule as before>after",
		"drop names the section %q, which the rubric %q (%s) does not have", clip(d.ID), c.r.ID, c.r.pos)
}

// dropPart takes a check or measure off an item.
func (c *composer) dropPart(d Drop, item, part string) {
	it := c.r.Item(item)
	if it == nil {
		c.noItem(d.Pos, "drop", item)
		return
	}
	checks, measures := len(it.Checks), len(it.Measures)
	it.Checks = slices.DeleteFunc(it.Checks, func(ch Check) bool { return ch.ID == part })
	it.Measures = slices.DeleteFunc(it.Measures, func(m Measure) bool { return m.ID == part })
	if len(it.Checks) == checks && len(it.Measures) == measures {
		c.noPart(d.Pos, "drop", it, part)
		return
	}
	c.gone[d.ID] = d.Pos
	c.r.Agreements = slices.DeleteFunc(c.r.Agreements, func(a Agreement) bool {
		return slices.Contains([]string{a.Start, a.End, a.Loss}, d.ID)
	})
}

// dropRule takes an order rule off.
func (c *composer) dropRule(d Drop, before, after string) {
	i := slices.IndexFunc(c.r.Order, func(o OrderRule) bool { return o.Before == before && o.After == after })
	if i < 0 {
		c.errs.add(d.Pos, "name a rule as before>after, by its items", "drop names the order rule %q, which the rubric %q (%s) does not have", clip(d.ID), c.r.ID, c.r.pos)
		return
	}
	c.r.Order = slices.Delete(c.r.Order, i, i+1)
}

// noPart reports a check or measure that an item does not have.
func (c *composer) noPart(pos Pos, what string, it *Item, part string) {
	if drop, ok := c.gone[it.ID+"/"+part]; ok {
		c.errs.add(pos, "leave one of them out", "%s names %s/%s, which was dropped at %s", what, it.ID, clip(part), drop)
		return
	}
	advice := "name one that it has"
	if what != "drop" {
		advice += ", or add title: … for a new one"
	}
	c.errs.add(pos, advice, "%s names %s/%s, but the item has no such check or measure; %s", what, it.ID, clip(part), it.has())
}

// has says which checks and measures an item has, by id.
func (it *Item) has() string {
	var checks, measures, both []string
	for _, c := range it.Checks {
		checks = append(checks, c.ID)
	}
	for _, m := range it.Measures {
		measures = append(measures, m.ID)
	}
	if len(checks) > 0 {
		both = append(both, "its checks are "+strings.Join(checks, ", "))
	}
	if len(measures) > 0 {
		both = append(both, "its measures are "+strings.Join(measures, ", "))
	}
	if len(both) == 0 {
		return "it has none"
	}
	return strings.Join(both, " and ")
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
		if slices.Contains(n.Keys, "lines") {
			c.errs.add(o.places.at(n.Pos, "id"), "use another id, or lines: to add to it", "section %q is there already at %s", n.ID, c.r.Sections[i].Pos)
			c.less = true
			return
		}
		c.changeSection(o, i, n, index)
		return
	}
	i, ok := c.anchor(o, n.Pos, n.After, n.Before, len(c.r.Sections), "section", index)
	if !ok {
		i = len(c.r.Sections) // for the rules that name what is in it
	}
	c.r.Sections = slices.Insert(c.r.Sections, i, cloneSection(n.Section))
}

// changeSection changes the section at index i of the sheet, and moves it.
func (c *composer) changeSection(o *Overlay, i int, n NewSection, index func(string) int) {
	s := &c.r.Sections[i]
	what := fmt.Sprintf("section %q", n.ID)
	for _, key := range n.Keys {
		switch key {
		case "title":
			s.Title = n.Title
			c.claim(what, key, n.Title, n.Pos)
		case "place":
			s.Place = n.Place
			c.claim(what, key, n.Place, n.Pos)
		case "budget":
			s.Budget = n.Budget
			c.claim(what, key, spelledSeconds(n.Budget), n.Pos)
		case "say":
			s.Say = union(s.Say, n.Say)
		}
	}
	if n.After == "" && n.Before == "" {
		return
	}
	c.claim(what, "place in order", "after "+n.After+" before "+n.Before, n.Pos)
	to, ok := c.anchor(o, n.Pos, n.After, n.Before, len(c.r.Sections), "section", index)
	if !ok {
		return
	}
	moved := *s
	c.r.Sections = slices.Delete(c.r.Sections, i, i+1)
	if i < to {
		to--
	}
	c.r.Sections = slices.Insert(c.r.Sections, to, moved)
}

// changeLine retitles a line or adds items to it.
func (c *composer) changeLine(l *Line, n NewLine) {
	what := fmt.Sprintf("line %q of section %q", n.ID, n.Section)
	for _, key := range n.Keys {
		switch key {
		case "title":
			l.Title = n.Title
			c.claim(what, key, n.Title, n.Pos)
		case "source":
			l.Source = n.Source
			c.claim(what, key, n.Source, n.Pos)
			c.move(l.Pos, n.Pos, key)
		case "say":
			l.Say = union(l.Say, n.Say)
		case "items":
			l.Items = append(l.Items, cloneLine(n.Line).Items...)
		}
	}
}

// line puts in a line, in the place of one that was emptied if that has its id.
func (c *composer) line(o *Overlay, n NewLine) {
	s := slices.IndexFunc(c.r.Sections, func(s Section) bool { return s.ID == n.Section })
	if s < 0 {
		c.errs.add(o.places.at(n.Pos, "section"), "name a section of the rubric", "section %q is not there in %s", clip(n.Section), c.r.pos)
		c.less = true
		return
	}
	section := &c.r.Sections[s]
	index := func(id string) int {
		return slices.IndexFunc(section.Lines, func(l Line) bool { return l.ID == id })
	}
	old := index(n.ID)
	if old >= 0 && len(section.Lines[old].Items) > 0 {
		switch titled, filled := slices.Contains(n.Keys, "title"), slices.Contains(n.Keys, "items"); {
		case titled && filled:
			c.errs.add(o.places.at(n.Pos, "id"), "use another id, or leave its title out to add items to it", "line %q of section %q is there already at %s", n.ID, n.Section, section.Lines[old].Pos)
			c.less = true
		case n.After != "" || n.Before != "":
			c.errs.add(n.Pos, "leave after and before out", "line %q of section %q is there already at %s and stays where it is", n.ID, n.Section, section.Lines[old].Pos)
			c.less = true
		default:
			c.changeLine(&section.Lines[old], n)
		}
		return
	}
	if old >= 0 && n.After == "" && n.Before == "" {
		section.Lines[old] = cloneLine(n.Line)
		return
	}
	i, ok := c.anchor(o, n.Pos, n.After, n.Before, len(section.Lines), "line", index)
	if !ok {
		c.less = true
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
		c.stray = append(c.stray, n)
		return
	}
	for _, key := range n.Keys {
		if key != "id" {
			c.move(it.Pos, n.Pos, key)
		}
		claim := func(value any) { c.claim("item "+it.ID, key, fmt.Sprint(value), n.Pos) }
		switch key {
		case "title":
			it.Title = n.Title
			claim(n.Title)
		case "kind":
			it.Kind = n.Kind
			claim(n.Kind)
		case "of":
			it.Of = n.Of
			claim(n.Of)
		case "points":
			it.Points = n.Points
			claim(n.Points)
		case "critical":
			it.Critical = n.Critical
			claim(n.Critical)
		case "extra":
			it.Extra = n.Extra
			claim(n.Extra)
		case "say":
			it.Say = union(it.Say, n.Say)
		case "checks":
			for _, ch := range n.Checks {
				c.changeCheck(it, ch)
			}
		case "measures":
			for _, m := range n.Measures {
				c.changeMeasure(it, m)
			}
		}
	}
}

func (c *composer) changeCheck(it *Item, n CheckChange) {
	i := slices.IndexFunc(it.Checks, func(old Check) bool { return old.ID == n.ID })
	ref := it.ID + "/" + n.ID
	if i < 0 {
		if !slices.Contains(n.Keys, "title") && !slices.Contains(n.Keys, "condition") {
			c.noPart(n.Pos, "the change", it, n.ID)
			return
		}
		it.Checks = append(it.Checks, cloneCheck(n.Check))
		i = len(it.Checks) - 1
	}
	ch := &it.Checks[i]
	for _, key := range n.Keys {
		c.move(ch.Pos, n.Pos, key)
		switch key {
		case "condition":
			ch.Condition = n.Condition
			c.claim("check "+ref, key, n.Condition, n.Pos)
		case "title":
			ch.Title = n.Title
			c.claim("check "+ref, key, n.Title, n.Pos)
		case "minor":
			ch.Minor = n.Minor
			c.claim("check "+ref, key, fmt.Sprint(n.Minor), n.Pos)
		case "good":
			ch.Good = union(ch.Good, n.Good)
		case "bad":
			ch.Bad = union(ch.Bad, n.Bad)
		}
	}
}

func (c *composer) changeMeasure(it *Item, n MeasureChange) {
	m := it.Measure(n.ID)
	ref := it.ID + "/" + n.ID
	if m == nil {
		if !slices.Contains(n.Keys, "title") {
			c.noPart(n.Pos, "the change", it, n.ID)
			c.stray = append(c.stray, ItemChange{Item: Item{ID: it.ID}, Measures: []MeasureChange{n}})
			return
		}
		it.Measures = append(it.Measures, cloneMeasure(n.Measure))
		m = &it.Measures[len(it.Measures)-1]
	}
	for _, key := range n.Keys {
		c.move(m.Pos, n.Pos, key)
		claim := func(value any) { c.claim("measure "+ref, key, fmt.Sprint(value), n.Pos) }
		switch key {
		case "title":
			m.Title = n.Title
			claim(n.Title)
		case "unit":
			m.Unit = n.Unit
			claim(n.Unit)
		case "kind":
			m.Kind = n.Kind
			claim(n.Kind)
		case "min":
			m.Min = n.Min
			claim(n.Min)
		case "max":
			m.Max = n.Max
			claim(n.Max)
		case "direction":
			m.Direction = n.Direction
			claim(n.Direction)
		case "near":
			m.Near = slices.Clone(n.Near)
			claim(strings.Join(n.Near, ", "))
		case "optional":
			m.Optional = n.Optional
			claim(n.Optional)
		case "source":
			m.Source = n.Source
			claim(n.Source)
		case "unconfirmed":
			m.Unconfirmed = n.Unconfirmed
			claim(n.Unconfirmed)
		case "note":
			m.Note = n.Note
			claim(n.Note)
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
	n.Bases = slices.Clone(r.Bases)
	n.within = slices.Clone(r.within)
	n.set = maps.Clone(r.set)
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
