package rubric

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"math/big"
	"regexp"
	"strconv"
	"strings"

	"github.com/goccy/go-yaml/ast"
)

// Read reads a rubric file. Name stands in messages and positions. The form is
// strict: a key that is not known, a reference to nothing and every other
// fault is reported, all at once, as Errors. Files over MaxBytes are refused.
//
// A file with the key base is made from another rubric by the same changes
// that an overlay makes. Read finds only embedded ones by name; ReadFile and
// Load also take paths, from the folder of the file that names them.
func Read(name string, data []byte) (*Rubric, error) {
	return read(name, data, embedded, nil)
}

func read(name string, data []byte, find finder, chain []string) (*Rubric, error) {
	d, root, err := begin(name, "rubric", data)
	if err != nil {
		return nil, err
	}
	if hasKey(root, "base") {
		return d.derived(root, data, find, chain)
	}
	r := &Rubric{data: data, places: d.places}
	fields := append([]field{
		{"rubric", d.setText(&r.ID)},
		{"title", d.setText(&r.Title)},
		{"edition", d.setText(&r.Edition)},
		{"version", d.setText(&r.Version)},
		{"time_limit", d.setSeconds(&r.TimeLimit)},
		{"time_source", d.setText(&r.TimeSource)},
		{"pass", func(n ast.Node) { r.Pass = d.pass(n) }},
		{"cautions", d.setTexts(&r.Cautions)},
		{"sources", listOf(d, d.source, &r.Sources)},
		{"conditions", listOf(d, d.condition, &r.Conditions)},
		{"heard_as", listOf(d, d.heardAs, &r.HeardAs)},
		{"alike", listOf(d, d.alike, &r.Alike)},
		{"sections", listOf(d, d.section, &r.Sections)},
	}, d.rules(&r.Order, &r.Holds, &r.Agreements)...)
	r.pos, _ = d.object(root, "a rubric", fields...)
	r.Hash = hash(data)
	r.fillIn()
	if err := r.check(nil, d.errs).err(); err != nil {
		return nil, err
	}
	return r, nil
}

// begin parses the YAML and sees that the file is of the kind wanted, told by
// its first key.
func begin(name, kind string, data []byte) (*decoder, ast.Node, error) {
	root, errs := parseYAML(name, data)
	if len(errs) > 0 {
		return nil, nil, errs.err()
	}
	found := ""
	if m, ok := root.(*ast.MappingNode); ok && len(m.Values) > 0 {
		found = m.Values[0].Key.GetToken().Value
	}
	if found != kind {
		advice := "it must begin with " + kind + ": and its id"
		switch found {
		case "overlay":
			errs.add(posOf(name, root), "name a rubric, and add this to it", "this is an overlay, not a rubric")
		case "rubric":
			errs.add(posOf(name, root), advice, "this is a rubric, not an overlay")
		default:
			errs.add(posOf(name, root), advice, "this is no %s", kind)
		}
		return nil, nil, errs.err()
	}
	return newDecoder(name), root, nil
}

func hash(data []byte) string {
	sum := sha256.Sum256(data)
	return hex.EncodeToString(sum[:])
}

// listOf reads a list of objects.
func listOf[T any](d *decoder, read func(ast.Node) T, to *[]T) func(ast.Node) {
	return func(n ast.Node) {
		d.list(n, func(e ast.Node) { *to = append(*to, read(e)) })
	}
}

// rules are the fields that rubrics and overlays have alike at their end.
func (d *decoder) rules(order *[]OrderRule, holds *[]Hold, agreements *[]Agreement) []field {
	return []field{
		{"order", listOf(d, d.orderRule, order)},
		{"holds", listOf(d, d.hold, holds)},
		{"agreements", listOf(d, d.agreement, agreements)},
	}
}

func (d *decoder) pass(n ast.Node) (p PassRule) {
	d.object(n, "pass",
		field{"min_share", d.setNumber(&p.MinShare)},
		field{"critical", d.setBool(&p.Critical)},
		field{"within_limit", d.setBool(&p.WithinLimit)},
		field{"note", d.setText(&p.Note)},
	)
	if p.MinShare < 0 || p.MinShare > 1 {
		d.fail(n, "write 0.8 for four fifths", "min_share must lie between 0 and 1, not %v", p.MinShare)
	}
	return p
}

func (d *decoder) source(n ast.Node) (s Source) {
	pos, _ := d.object(n, "a source",
		field{"key", d.setText(&s.Key)},
		field{"title", d.setText(&s.Title)},
		field{"where", d.setText(&s.Where)},
	)
	if s.Key != "" && !isName(s.Key, "-._") {
		d.errs.add(d.places[place{pos, "key"}], "use lower-case letters, digits, hyphens and dots", "source key %q", clip(s.Key))
	}
	d.once("source", s.Key, pos)
	d.need(pos, "a source", "key", s.Key)
	d.need(pos, "a source", "title", s.Title)
	return s
}

func (d *decoder) condition(n ast.Node) (c Condition) {
	c.Pos, _ = d.object(n, "a condition",
		field{"id", d.setText(&c.ID)},
		field{"title", d.setText(&c.Title)},
		field{"good", d.setPhrases(&c.Good)},
		field{"bad", d.setPhrases(&c.Bad)},
	)
	d.needID(c.Pos, "a condition", c.ID)
	return c
}

func (d *decoder) heardAs(n ast.Node) (h HeardAs) {
	pos, _ := d.object(n, "heard_as",
		field{"means", d.setText(&h.Means)},
		field{"heard", d.setPhrases(&h.Heard)},
	)
	d.once("heard_as", strings.ToLower(h.Means), pos)
	d.need(pos, "heard_as", "means", h.Means)
	if len(h.Heard) == 0 {
		d.errs.add(pos, "list what the recognizer writes", "heard_as %q hears nothing", clip(h.Means))
	}
	return h
}

// alike is a group of words, written as a list of at least two.
func (d *decoder) alike(n ast.Node) (words []string) {
	d.texts(n, &words, true)
	if len(words) < 2 {
		d.fail(n, "list two words or more that mean the same", "alike has %d", len(words))
	}
	for _, w := range words {
		if strings.ContainsAny(w, " -") {
			d.fail(n, "use single words; longer ways to say it go under say, good or bad", "alike %q is more than one word", clip(w))
		}
	}
	return words
}

func (d *decoder) sectionFields(s *Section) []field {
	return []field{
		{"id", d.setText(&s.ID)},
		{"title", d.setText(&s.Title)},
		{"place", d.setText(&s.Place)},
		{"budget", d.setSeconds(&s.Budget)},
		{"say", d.setPhrases(&s.Say)},
		{"lines", listOf(d, d.line, &s.Lines)},
	}
}

func (d *decoder) section(n ast.Node) (s Section) {
	s.Pos, _ = d.object(n, "a section", d.sectionFields(&s)...)
	d.needID(s.Pos, "a section", s.ID)
	for i := range s.Lines {
		setItemIDs(s.ID, &s.Lines[i])
	}
	return s
}

// setItemIDs turns the part names of a line's items into full ids.
func setItemIDs(section string, l *Line) {
	for i := range l.Items {
		l.Items[i].ID = section + "." + l.Items[i].ID
	}
}

func (d *decoder) lineFields(l *Line) []field {
	return []field{
		{"id", d.setText(&l.ID)},
		{"title", d.setText(&l.Title)},
		{"source", d.setText(&l.Source)},
		{"say", d.setPhrases(&l.Say)},
		{"items", listOf(d, d.item, &l.Items)},
	}
}

func (d *decoder) line(n ast.Node) (l Line) {
	l.Pos, _ = d.object(n, "a line", d.lineFields(&l)...)
	d.needID(l.Pos, "a line", l.ID)
	return l
}

func (d *decoder) itemFields(it *Item) []field {
	return []field{
		{"id", d.setText(&it.ID)},
		{"title", d.setText(&it.Title)},
		{"say", d.setPhrases(&it.Say)},
		{"kind", d.setText(&it.Kind)},
		{"of", d.setText(&it.Of)},
		{"points", d.setNumber(&it.Points)},
		{"critical", d.setBool(&it.Critical)},
		{"extra", d.setBool(&it.Extra)},
	}
}

// item reads an item whose id is still that of the part alone.
func (d *decoder) item(n ast.Node) (it Item) {
	it.Points = 1
	it.Pos, _ = d.object(n, "an item", append(d.itemFields(&it),
		field{"checks", listOf(d, func(n ast.Node) Check { return d.checkChange(n).Check }, &it.Checks)},
		field{"measures", listOf(d, func(n ast.Node) Measure { return d.measure(n).Measure }, &it.Measures)})...)
	d.needID(it.Pos, "an item", it.ID)
	return it
}

// checkChange reads a check, with the keys that it names: the id of a shared
// condition, with "?" or " (minor)" after it when it may be left out, or a
// mapping.
func (d *decoder) checkChange(n ast.Node) (c CheckChange) {
	switch v := d.resolve(n).(type) {
	case nil:
		c.Pos = posOf(d.file, n)
		return c
	case *ast.MappingNode, *ast.MappingValueNode:
		c.Pos, c.Keys = d.object(v, "a check",
			field{"id", d.setText(&c.ID)},
			field{"condition", d.setText(&c.Condition)},
			field{"title", d.setText(&c.Title)},
			field{"good", d.setPhrases(&c.Good)},
			field{"bad", d.setPhrases(&c.Bad)},
			field{"minor", d.setBool(&c.Minor)},
		)
		if c.ID == "" {
			c.ID = c.Condition
		}
	default:
		d.key = "a check"
		s, ok := d.text(v)
		c.Pos = posOf(d.file, v)
		if !ok {
			return c
		}
		c.ID, c.Minor = strings.CutSuffix(s, "?")
		if !c.Minor {
			c.ID, c.Minor = strings.CutSuffix(s, " (minor)")
		}
		c.Condition = c.ID
		c.Keys = []string{"condition", "minor"}
	}
	d.needID(c.Pos, "a check", c.ID)
	return c
}

// measure reads a measure with the keys that it names, for overlays change no
// others.
func (d *decoder) measure(n ast.Node) (m MeasureChange) {
	direction := ""
	m.Pos, m.Keys = d.object(n, "a measure",
		field{"id", d.setText(&m.ID)},
		field{"title", d.setText(&m.Title)},
		field{"unit", d.setText(&m.Unit)},
		field{"kind", d.setText(&m.Kind)},
		field{"min", d.setEnd(&m.Min)},
		field{"max", d.setEnd(&m.Max)},
		field{"direction", d.setText(&direction)},
		field{"near", d.setPhrases(&m.Near)},
		field{"optional", d.setBool(&m.Optional)},
		field{"source", d.setText(&m.Source)},
		field{"unconfirmed", d.setBool(&m.Unconfirmed)},
		field{"note", d.setText(&m.Note)},
	)
	d.needID(m.Pos, "a measure", m.ID)
	m.Direction = Direction(direction)
	if direction == "absent" {
		m.Direction = AnyDirection
	}
	return m
}

// setEnd reads one end of a range; null opens it.
func (d *decoder) setEnd(to *string) func(ast.Node) {
	return func(n ast.Node) {
		if v, ok := d.resolve(n).(*ast.NullNode); ok && v.Token.Value == "null" {
			*to = ""
			return
		}
		d.setText(to)(n)
	}
}

func (d *decoder) orderRule(n ast.Node) (o OrderRule) {
	o.Pos, _ = d.object(n, "an order rule",
		field{"before", d.setText(&o.Before)},
		field{"after", d.setText(&o.After)},
		field{"reason", d.setText(&o.Reason)},
		field{"source", d.setText(&o.Source)},
	)
	return o
}

func (d *decoder) hold(n ast.Node) (h Hold) {
	h.Pos, _ = d.object(n, "a hold",
		field{"id", d.setText(&h.ID)},
		field{"title", d.setText(&h.Title)},
		field{"from", d.setText(&h.From)},
		field{"to", d.setText(&h.To)},
		field{"seconds", d.setSeconds(&h.Seconds)},
		field{"reason", d.setText(&h.Reason)},
		field{"source", d.setText(&h.Source)},
	)
	d.needID(h.Pos, "a hold", h.ID)
	return h
}

func (d *decoder) agreement(n ast.Node) (a Agreement) {
	a.Pos, _ = d.object(n, "an agreement",
		field{"start", d.setText(&a.Start)},
		field{"end", d.setText(&a.End)},
		field{"loss", d.setText(&a.Loss)},
		field{"within", d.setText(&a.Within)},
		field{"reason", d.setText(&a.Reason)},
	)
	return a
}

// need reports a text that is absent, unless its key stood there and was
// reported already.
func (d *decoder) need(pos Pos, what, key, value string) {
	if _, stood := d.places[place{pos, key}]; value == "" && !stood {
		d.errs.add(pos, "add "+key+": …", "%s has no %s", what, key)
	}
}

func (d *decoder) needID(pos Pos, what, id string) {
	d.need(pos, what, "id", id)
	if id != "" && !isName(id, "-") {
		d.errs.add(d.places.at(pos, "id"), "use lower-case letters, digits and hyphens", "id %q", clip(id))
	}
}

// named is the place of something known by a name and without a Pos.
func named(what, name string) place { return place{Key: what + " " + name} }

// once reports a source or heard_as that the file has already.
func (d *decoder) once(what, name string, pos Pos) {
	key := named(what, name)
	if first, ok := d.places[key]; ok && name != "" {
		d.errs.add(pos, "put both into one", "%s %q is there twice, first at %s", what, clip(name), first)
		return
	}
	d.places[key] = pos
}

// isName reports whether s is lower-case letters and digits, with single
// joints of the given kinds inside.
func isName(s, joints string) bool {
	joint := true
	for _, r := range s {
		switch {
		case 'a' <= r && r <= 'z', '0' <= r && r <= '9':
			joint = false
		case strings.ContainsRune(joints, r) && !joint:
			joint = true
		default:
			return false
		}
	}
	return !joint
}

var rational = regexp.MustCompile(`^(-?)(?:(\d{1,9}(?:\.\d{1,9})?)|(?:(\d{1,9}) )?(\d{1,9})/(\d{1,9}))$`)

// ParseRational reads an exact figure: "3", "0.5", "4/32" or "3 1/2", with a
// minus sign in front of any. Exponents and more than nine digits in a row are
// refused.
func ParseRational(s string) (*big.Rat, error) {
	m := rational.FindStringSubmatch(s)
	if m == nil {
		return nil, fmt.Errorf("%q is no figure like 3, 0.5, 4/32 or 3 1/2", clip(s))
	}
	v := new(big.Rat)
	if m[2] != "" {
		v.SetString(m[2]) // the pattern admits decimal figures only
	} else {
		// Not SetString: it takes 010/32 for octal.
		num, den := decimal(m[4]), decimal(m[5])
		if den == 0 {
			return nil, fmt.Errorf("%q has a denominator of zero", s)
		}
		v.SetFrac64(num, den)
		v.Add(v, new(big.Rat).SetInt64(decimal(m[3])))
	}
	if m[1] != "" {
		v.Neg(v)
	}
	return v, nil
}

// decimal is the value of at most nine digits, 0 for none.
func decimal(digits string) int64 {
	v, _ := strconv.ParseInt(digits, 10, 64)
	return v
}

const plainNumber = `(\d{1,5}(?:\.\d{1,3})?)`

var (
	bareSeconds = regexp.MustCompile(`^` + plainNumber + `$`)
	duration    = regexp.MustCompile(`^(?:` + plainNumber + ` ?h)?(?: ?` + plainNumber + ` ?min)?(?: ?` + plainNumber + ` ?s)?$`)
)

// parseSeconds reads "45 s", "90 min", "1 h 30 min" or bare seconds: above
// zero and at most a day.
func parseSeconds(s string) (float64, bool) {
	if bareSeconds.MatchString(s) {
		s += "s"
	}
	m := duration.FindStringSubmatch(s)
	if m == nil {
		return 0, false
	}
	var sum float64
	for i, unit := range []float64{3600, 60, 1} {
		if m[i+1] != "" {
			v, _ := strconv.ParseFloat(m[i+1], 64) // the pattern admits figures only
			sum += v * unit
		}
	}
	return sum, sum > 0 && sum <= 24*3600
}
