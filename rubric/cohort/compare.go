package cohort

import (
	"encoding/json"
	"fmt"
	"maps"
	"slices"
	"strings"

	"markaround/rubric"
)

// Basis says which marks are compared.
type Basis string

// The marks of items, or those of their checks and measures.
const (
	ByItem  Basis = "item"
	ByCheck Basis = "check"
)

// Classes are the marks in the order of a confusion table.
var Classes = [4]rubric.Mark{rubric.Said, rubric.Partly, rubric.Missed, rubric.Wrong}

// Pair is two markers' judgments of one thing.
type Pair struct {
	Attempt    string      `json:"attempt"`
	Item       string      `json:"item"`
	Kind       Kind        `json:"kind"`
	Theirs     rubric.Mark `json:"theirs"` // "" for a finding they did not note
	Ours       rubric.Mark `json:"ours"`   // "" for a finding we did not note
	Confidence float64     `json:"confidence"`
	Words      string      `json:"words"`
	Start      float64     `json:"start"` // seconds; -1 if unknown
	Note       string      `json:"note"`
}

// Agrees reports whether both gave the same mark.
func (p Pair) Agrees() bool { return p.Theirs == p.Ours }

// Detection tells how well ours finds what theirs finds.
type Detection struct {
	Name string // what is looked for
	N    int    // places where either could have found it
	// Both found it; only ours did; only theirs did.
	Both, Ours, Theirs int
}

// Precision is the share of our findings that are theirs too.
func (d Detection) Precision() Share { return Share{d.Both, d.Both + d.Ours} }

// Recall is the share of their findings that are ours too.
func (d Detection) Recall() Share { return Share{d.Both, d.Both + d.Theirs} }

func (d *Detection) add(theirs, ours bool) {
	d.N++
	switch {
	case theirs && ours:
		d.Both++
	case ours:
		d.Ours++
	case theirs:
		d.Theirs++
	}
}

// Comparison is the agreement of two markers over the attempts both marked.
type Comparison struct {
	Theirs, Ours string // names
	Basis        Basis
	Attempts     int // marked by both

	Pairs []Pair    // of the basis, in the order of ours; then findings
	Table [4][4]int // rows theirs, columns ours, in the order of Classes
	Alike Share     // pairs of the basis with the same mark
	Kappa KappaResult

	// Missed and Wrong look at the marks of the basis. Numbers and Conditions
	// look at wrong measures and contradicted checks and are nil where ours does
	// not tell the two apart; Findings is nil where theirs has none at all.
	Missed, Wrong                 Detection
	Numbers, Conditions, Findings *Detection

	Calibration  *Calibration // of our confidences; nil where ours gives none
	NoConfidence int          // pairs left out of it

	NotMarked     int        // ours, not in theirs, of attempts that theirs has
	ExtraLeftOut  int        // the same, of items not on the edition's list
	Unmatched     []Judgment // theirs, not in ours, of attempts that ours has
	TheirAttempts []string   // attempts that ours lacks
	OurAttempts   []string   // attempts that theirs lacks
}

// Compare lines up two markers' judgments by attempt and item. What one of
// them did not mark is not compared, but counted.
//
// A number or condition is looked for among the parts of an item where theirs
// has marks of parts for it. Where theirs has the item's mark only, wrong
// stands for its number if it has one, unless ours finds a contradicted
// condition there and no wrong number; else for its conditions.
func Compare(theirs, ours *Marks, basis Basis) *Comparison {
	c := &Comparison{Theirs: theirs.Name, Ours: ours.Name, Basis: basis}
	c.Missed.Name, c.Wrong.Name = "missed", "wrong"
	their, our := theirs.Attempts(), ours.Attempts()
	both := map[string]bool{}
	for _, a := range their {
		if _, ok := slices.BinarySearch(our, a); ok {
			both[a] = true
		} else {
			c.TheirAttempts = append(c.TheirAttempts, a)
		}
	}
	for _, a := range our {
		if !both[a] {
			c.OurAttempts = append(c.OurAttempts, a)
		}
	}
	c.Attempts = len(both)
	c.compareMarks(theirs, ours, both)
	c.lookForFaults(theirs, ours, both)
	c.compareFindings(theirs, ours, both)
	for _, j := range theirs.list {
		if _, ok := ours.get(j.Attempt, j.Item); !ok && both[j.Attempt] && j.Kind != FindingKind {
			c.Unmatched = append(c.Unmatched, j)
		}
	}
	return c
}

// compareMarks pairs the marks of the basis and counts over them.
func (c *Comparison) compareMarks(theirs, ours *Marks, both map[string]bool) {
	var samples []Sample
	for _, o := range ours.list {
		if !both[o.Attempt] || o.Kind == FindingKind || (o.Kind == ItemKind) != (c.Basis == ByItem) {
			continue
		}
		t, ok := theirs.get(o.Attempt, o.Item)
		if !ok {
			if o.Extra {
				c.ExtraLeftOut++
			} else {
				c.NotMarked++
			}
			continue
		}
		c.Pairs = append(c.Pairs, pair(t, o))
		c.Table[slices.Index(Classes[:], t.Mark)][slices.Index(Classes[:], o.Mark)]++
		c.Missed.add(t.Mark == rubric.Missed, o.Mark == rubric.Missed)
		c.Wrong.add(t.Mark == rubric.Wrong, o.Mark == rubric.Wrong)
		c.Alike.Of++
		if t.Mark == o.Mark {
			c.Alike.Hits++
		}
		if o.Confidence < 0 {
			c.NoConfidence++
			continue
		}
		samples = append(samples, Sample{o.Confidence, t.Mark == o.Mark})
	}
	rows := make([][]int, len(c.Table))
	for i := range c.Table {
		rows[i] = c.Table[i][:]
	}
	c.Kappa = Kappa(rows)
	if len(samples) > 0 {
		cal := Calibrate(samples)
		c.Calibration = &cal
	}
}

func pair(t, o Judgment) Pair {
	p := Pair{o.Attempt, o.Item, o.Kind, t.Mark, o.Mark, o.Confidence, o.Words, o.Start, t.Note}
	if p.Note == "" {
		p.Note = o.Note
	}
	return p
}

// lookForFaults counts wrong numbers and contradicted conditions, where ours
// tells checks from measures.
func (c *Comparison) lookForFaults(theirs, ours *Marks, both map[string]bool) {
	if !slices.ContainsFunc(ours.list, func(j Judgment) bool { return j.Kind == CheckKind || j.Kind == MeasureKind }) {
		return
	}
	c.Numbers, c.Conditions = &Detection{Name: "wrong numbers"}, &Detection{Name: "contradicted conditions"}
	parts := map[key][]Judgment{} // of ours, by item
	byPart := map[key]bool{}      // items of which theirs has marks of parts
	for _, j := range ours.list {
		if item, _, ok := strings.Cut(j.Item, "/"); ok && j.Kind != FindingKind {
			parts[key{j.Attempt, item}] = append(parts[key{j.Attempt, item}], j)
		}
	}
	for _, j := range theirs.list {
		if item, _, ok := strings.Cut(j.Item, "/"); ok && j.Kind != FindingKind {
			byPart[key{j.Attempt, item}] = true
		}
	}
	for _, o := range ours.list {
		k := key{o.Attempt, o.Item}
		if o.Kind != ItemKind || !both[o.Attempt] {
			continue
		}
		if byPart[k] {
			for _, p := range parts[k] {
				if t, ok := theirs.get(p.Attempt, p.Item); ok {
					c.detection(p.Kind).add(t.Mark == rubric.Wrong, p.Mark == rubric.Wrong)
				}
			}
			continue
		}
		t, ok := theirs.get(o.Attempt, o.Item)
		if !ok {
			continue
		}
		var has, wrong [2]bool // number, condition
		for _, p := range parts[k] {
			i := 1
			if p.Kind == MeasureKind {
				i = 0
			}
			has[i] = true
			wrong[i] = wrong[i] || p.Mark == rubric.Wrong
		}
		switch {
		case has[0] && (wrong[0] || !wrong[1]):
			c.Numbers.add(t.Mark == rubric.Wrong, wrong[0])
		case has[1]:
			c.Conditions.add(t.Mark == rubric.Wrong, wrong[1])
		}
	}
}

func (c *Comparison) detection(k Kind) *Detection {
	if k == MeasureKind {
		return c.Numbers
	}
	return c.Conditions
}

// compareFindings counts findings of the attempts that both marked. A marker
// without a single finding is taken not to have looked for any.
func (c *Comparison) compareFindings(theirs, ours *Marks, both map[string]bool) {
	isFinding := func(j Judgment) bool { return j.Kind == FindingKind }
	if !slices.ContainsFunc(theirs.list, isFinding) {
		return
	}
	c.Findings = &Detection{Name: "findings"}
	for _, o := range ours.list {
		if !isFinding(o) || !both[o.Attempt] {
			continue
		}
		t, ok := theirs.get(o.Attempt, o.Item)
		c.Findings.add(ok, true)
		c.Pairs = append(c.Pairs, pair(t, o))
	}
	for _, t := range theirs.list {
		if !isFinding(t) || !both[t.Attempt] {
			continue
		}
		if _, ok := ours.get(t.Attempt, t.Item); !ok {
			c.Findings.add(true, false)
			c.Pairs = append(c.Pairs, Pair{t.Attempt, t.Item, FindingKind, t.Mark, "", -1, "", -1, t.Note})
		}
	}
}

// Detections lists those that were counted, in the order to show them.
func (c *Comparison) Detections() []Detection {
	out := []Detection{c.Missed}
	if c.Numbers != nil {
		out = append(out, *c.Numbers, *c.Conditions)
	} else {
		out = append(out, c.Wrong)
	}
	if c.Findings != nil {
		out = append(out, *c.Findings)
	}
	return out
}

// Disagreements are the pairs with different marks, by attempt.
func (c *Comparison) Disagreements() []Pair {
	out := slices.DeleteFunc(slices.Clone(c.Pairs), Pair.Agrees)
	slices.SortStableFunc(out, func(a, b Pair) int { return strings.Compare(a.Attempt, b.Attempt) })
	return out
}

// Left says in short sentences what was not compared, nothing left unsaid.
func (c *Comparison) Left() []string {
	var out []string
	say := func(n int, noun, rest string) {
		if n > 0 {
			out = append(out, rubric.Plural(n, noun)+" "+rest)
		}
	}
	thing := map[Basis]string{ByItem: "item", ByCheck: "part"}[c.Basis]
	say(c.NotMarked, thing, "of these attempts that "+c.Theirs+" does not mark")
	say(c.ExtraLeftOut, "extra "+thing, "(not on this edition's list) that "+c.Theirs+" does not mark")
	unknown := map[string]bool{}
	for _, j := range c.Unmatched {
		unknown[j.Item] = true
	}
	say(len(c.Unmatched), "row", "of "+c.Theirs+" without a match in "+c.Ours+": "+some(slices.Sorted(maps.Keys(unknown))))
	say(len(c.TheirAttempts), "attempt", "that only "+c.Theirs+" has: "+some(c.TheirAttempts))
	say(len(c.OurAttempts), "attempt", "that only "+c.Ours+" has: "+some(c.OurAttempts))
	return out
}

// some joins the first few names.
func some(names []string) string {
	const few = 5
	if len(names) > few {
		return strings.Join(names[:few], ", ") + fmt.Sprintf(" and %d more", len(names)-few)
	}
	return strings.Join(names, ", ")
}

// MarshalJSON writes the counts, and null for a value that is not defined.
func (s Share) MarshalJSON() ([]byte, error) {
	out := struct {
		Hits     int       `json:"hits"`
		Of       int       `json:"of"`
		Value    *float64  `json:"value"`
		Interval *Interval `json:"interval"`
	}{Hits: s.Hits, Of: s.Of}
	if v, ok := s.Value(); ok {
		in, _ := s.Interval()
		out.Value, out.Interval = &v, &in
	}
	return json.Marshal(out)
}

// MarshalJSON writes null for values that are not defined, and why.
func (r KappaResult) MarshalJSON() ([]byte, error) {
	out := struct {
		N         int       `json:"n"`
		Observed  *float64  `json:"observed"`
		Expected  *float64  `json:"expected"`
		Value     *float64  `json:"value"`
		SE        *float64  `json:"standard_error"`
		Interval  *Interval `json:"interval"`
		Undefined string    `json:"undefined"`
	}{N: r.N, Undefined: r.Undefined}
	if r.N > 0 {
		out.Observed, out.Expected = &r.Observed, &r.Expected
	}
	if r.Undefined == "" {
		out.Value, out.SE, out.Interval = &r.Value, &r.SE, &r.Interval
	}
	return json.Marshal(out)
}

// MarshalJSON writes null for the mean of an empty bin.
func (b Bin) MarshalJSON() ([]byte, error) {
	out := struct {
		Low   float64  `json:"low"`
		High  float64  `json:"high"`
		Right Share    `json:"right"`
		Mean  *float64 `json:"mean_confidence"`
	}{Low: b.Low, High: b.High, Right: b.Right}
	if b.Right.Of > 0 {
		out.Mean = &b.Mean
	}
	return json.Marshal(out)
}

// MarshalJSON writes the detection with its precision and recall.
func (d Detection) MarshalJSON() ([]byte, error) {
	return json.Marshal(struct {
		Name      string `json:"name"`
		N         int    `json:"n"`
		Both      int    `json:"both"`
		Ours      int    `json:"ours_only"`
		Theirs    int    `json:"theirs_only"`
		Precision Share  `json:"precision"`
		Recall    Share  `json:"recall"`
	}{d.Name, d.N, d.Both, d.Ours, d.Theirs, d.Precision(), d.Recall()})
}

// MarshalJSON writes the statistics and what was left out, without the pairs.
func (c *Comparison) MarshalJSON() ([]byte, error) {
	out := struct {
		Theirs       string         `json:"theirs"`
		Ours         string         `json:"ours"`
		Basis        Basis          `json:"level"`
		Attempts     int            `json:"attempts"`
		Confidence   float64        `json:"interval_level"`
		Alike        Share          `json:"alike"`
		Kappa        KappaResult    `json:"kappa"`
		Classes      [4]rubric.Mark `json:"classes"`
		Table        [4][4]int      `json:"table"` // rows theirs, columns ours
		Detections   []Detection    `json:"detections"`
		Calibration  *Calibration   `json:"calibration"`
		NoConfidence int            `json:"without_confidence"`
		NotMarked    int            `json:"not_marked"`
		ExtraLeftOut int            `json:"extra_left_out"`
		Unmatched    int            `json:"unmatched"`
		Left         []string       `json:"not_compared"`
	}{c.Theirs, c.Ours, c.Basis, c.Attempts, Level, c.Alike, c.Kappa, Classes, c.Table, c.Detections(), c.Calibration,
		c.NoConfidence, c.NotMarked, c.ExtraLeftOut, len(c.Unmatched), c.Left()}
	if out.Left == nil {
		out.Left = []string{}
	}
	return json.Marshal(out)
}
