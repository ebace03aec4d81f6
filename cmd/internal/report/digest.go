package report

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"markaround/rubric"
	"markaround/speech"
)

// digest is a sheet in the order a reader asks for it: what failed the test,
// what was said wrong, what was left out, what to hear again.
//
// Nothing is listed twice: a critical item that was missed or partly said is
// under Critical only, with its reason; one that was wrong is named there and
// told in full under Numbers or Contradictions, a finding under Findings.
type digest struct {
	Reasons        []string // of the result, the critical ones as one
	Critical       []critical
	Numbers        []number // critical items first, extra ones last
	Contradictions []contradiction
	Missed         []group
	Partly         []group
	Said           []group
	Findings       []rubric.Finding // order, holds and readings
	PaceFindings   []rubric.Finding
	Listen         []doubt
	Corrected      []correction
	Sources        []rubric.Source // that Numbers name

	AllMissed, AllPartly int // with those under Critical
}

// correction is what a person marked otherwise than the program, or confirmed.
type correction struct {
	Title   string
	Item    string // item id, "" for a finding
	Mark    string
	Was     string
	Who     string
	When    string // day
	Why     string
	Changed bool
}

// corrections lists what a person corrected: items in their order, findings that
// were set aside.
func corrections(s *rubric.Sheet) (list []correction) {
	put := func(title, item string, mark rubric.Mark, c *rubric.Corrected) {
		if c == nil {
			return
		}
		day, _, _ := strings.Cut(c.When, "T")
		list = append(list, correction{title, item, string(mark), string(c.From), c.Who, day, c.Why, c.From != mark})
	}
	for _, it := range s.Items {
		put(it.Title, it.ID, it.Mark, it.Corrected)
	}
	for _, f := range s.Rejected {
		put(f.Text, "", "set aside", f.Corrected)
	}
	return list
}

// critical is one thing that fails the test where critical items decide.
type critical struct {
	Title   string
	Section string  // its title, "" for a finding
	What    string  // the mark of an item, the kind of a finding
	Start   float64 // seconds, -1 when nothing was said
	Reason  string  // "" where it is told in full further down
	Item    string  // item id, "" for a finding
	Listen  bool
}

// number is one measure stated wrong.
type number struct {
	Item    rubric.ItemMark
	Measure rubric.MeasureMark
	Said    rubric.Evidence // Start is -1 when there is none
}

// contradiction is one check said to be the opposite. Check is the zero value
// where the item as a whole is wrong.
type contradiction struct {
	Item  rubric.ItemMark
	Check rubric.CheckMark
	Said  rubric.Evidence // Start is -1 when there is none
}

// group is the items of one section with the same mark.
type group struct {
	Section rubric.SectionMark
	Items   []rubric.ItemMark
}

func newDigest(s *rubric.Sheet) digest {
	var d digest
	names := titles(s)
	missed := func(it rubric.ItemMark) bool { return it.Mark == rubric.Missed && !it.Extra }
	partly := func(it rubric.ItemMark) bool { return it.Mark == rubric.Partly }
	for _, it := range s.Items {
		switch {
		case missed(it):
			d.AllMissed++
		case partly(it):
			d.AllPartly++
		}
		if fails(it) {
			c := critical{it.Title, title(names, it.Section), string(it.Mark), it.Start, it.Reason, it.ID, it.Listen}
			if it.Mark == rubric.Wrong {
				c.Reason, c.Start = "", deciding(it).Start
			}
			d.Critical = append(d.Critical, c)
		}
		explained := false
		for _, m := range it.Measures {
			if m.Mark == rubric.Wrong {
				d.Numbers = append(d.Numbers, number{it, m, lastEvidence(m.Evidence)})
				explained = true
			}
		}
		for _, c := range it.Checks {
			if c.Mark == rubric.Wrong {
				d.Contradictions = append(d.Contradictions, contradiction{it, c, lastEvidence(c.Evidence)})
				explained = true
			}
		}
		if it.Mark == rubric.Wrong && !explained {
			d.Contradictions = append(d.Contradictions, contradiction{Item: it, Said: lastEvidence(it.Named)})
		}
		if it.Listen && !(it.Extra && it.Mark == rubric.Missed) {
			d.Listen = append(d.Listen, newDoubt(it, s))
		}
	}
	for _, f := range s.Findings {
		if f.Kind == rubric.PaceFinding {
			d.PaceFindings = append(d.PaceFindings, f)
		} else {
			d.Findings = append(d.Findings, f)
		}
		if f.Critical {
			c := critical{Title: f.Text, What: string(f.Kind), Start: f.Start}
			if f.Kind == rubric.PaceFinding {
				c.Reason = f.Reason
			}
			d.Critical = append(d.Critical, c)
		}
	}
	d.Missed = groups(s, func(it rubric.ItemMark) bool { return missed(it) && !fails(it) })
	d.Partly = groups(s, func(it rubric.ItemMark) bool { return partly(it) && !fails(it) })
	d.Said = groups(s, func(it rubric.ItemMark) bool { return it.Mark == rubric.Said })
	rank := func(n number) int {
		switch {
		case n.Item.Extra:
			return 2
		case n.Item.Critical:
			return 0
		}
		return 1
	}
	slices.SortStableFunc(d.Numbers, func(a, b number) int { return cmp.Compare(rank(a), rank(b)) })
	d.Sources = sources(s, func(source string) bool {
		return slices.ContainsFunc(d.Numbers, func(n number) bool { return n.Measure.Source == source })
	})
	d.Reasons = reasons(s.Result.Reasons)
	d.Corrected = corrections(s)
	return d
}

// fails tells whether the item fails the test by itself, where critical items
// decide.
func fails(it rubric.ItemMark) bool {
	return it.Critical && !it.Extra && (it.Mark == rubric.Missed || it.Mark == rubric.Wrong || it.Mark == rubric.Partly)
}

// reasons puts the critical failures into one line: they are listed below.
func reasons(list []string) []string {
	var out []string
	n := 0
	for _, r := range list {
		if strings.HasPrefix(r, rubric.CriticalReason) {
			n++
		} else {
			out = append(out, r)
		}
	}
	if n > 0 {
		out = append(out, rubric.Plural(n, "critical failure")+", listed below")
	}
	return out
}

// sources are the sheet's sources that a measure's source text names, of those
// measures whose text shown admits.
func sources(s *rubric.Sheet, shown func(source string) bool) []rubric.Source {
	var out []rubric.Source
	for _, src := range s.Sources {
		if slices.ContainsFunc(s.Items, func(it rubric.ItemMark) bool {
			return slices.ContainsFunc(it.Measures, func(m rubric.MeasureMark) bool {
				return rubric.NamesSource(m.Source, src.Key) && shown(m.Source)
			})
		}) {
			out = append(out, src)
		}
	}
	return out
}

// doubt is an item to hear again: where, and why.
type doubt struct {
	Item rubric.ItemMark
	At   rubric.Evidence // the weakest words that the mark rests on; none without words
	Why  string
}

// newDoubt finds the weakest of what the mark rests on. For a missed item these
// are the words that came near, or else the place where it should have been
// said.
func newDoubt(it rubric.ItemMark, s *rubric.Sheet) doubt {
	if it.Mark == rubric.Missed {
		return missedDoubt(it, s)
	}
	d := doubt{Item: it, At: rubric.Evidence{Start: it.Start, End: it.Start, Confidence: 2}}
	weigh := func(ev rubric.Evidence, why string) {
		if ev.Confidence < d.At.Confidence && ev.Start >= 0 {
			d.At, d.Why = ev, why
			if ev.Reason != "" && ev.Reason != "named" && ev.Reason != "said of it" {
				d.Why += " (" + ev.Reason + ")"
			}
		}
	}
	if len(it.Named) > 0 {
		weigh(surest(it.Named), "the name is unclear")
	}
	for _, c := range it.Checks {
		switch {
		case c.Mark == rubric.Wrong:
			weigh(lastEvidence(c.Evidence), "unclear whether it contradicts: "+c.Title)
		case c.Mark == rubric.Said && !c.Minor && it.Mark == rubric.Said:
			weigh(surest(c.Evidence), "unclear: "+c.Title)
		}
	}
	for _, m := range it.Measures {
		switch {
		case m.Mark == rubric.Wrong:
			weigh(lastEvidence(m.Evidence), "unclear whether it is: "+m.Title)
		case m.Mark == rubric.Said && !m.Optional && it.Mark == rubric.Said:
			weigh(surest(m.Evidence), "unclear: "+m.Title)
		}
	}
	switch {
	case d.Why == "":
		d.Why = it.Reason
	case d.At.Confidence < heardWell:
	case it.Mark == rubric.Partly && len(it.Omitted) > 0:
		d.Why = "left out, or said in other words: " + strings.Join(it.Omitted, "; ")
	case strings.HasPrefix(d.Why, "the name"):
		d.Why = "heard well; what stands around it leaves a doubt"
	}
	return d
}

// heardWell is the confidence from which the words themselves are not in doubt.
const heardWell = 0.95

func missedDoubt(it rubric.ItemMark, s *rubric.Sheet) doubt {
	d := doubt{Item: it, At: rubric.Evidence{Start: -1, End: -1}, Why: it.Reason}
	if len(it.Near) > 0 {
		d.At = it.Near[0]
		return d
	}
	stay := rubric.Visit{}
	for _, v := range s.Pace.Visits {
		if v.Section == it.Section && v.End-v.Start > stay.End-stay.Start {
			stay = v
		}
	}
	if stay.End > 0 {
		d.At.Start, d.At.End = stay.Start, stay.End
		d.Why += fmt.Sprintf("; its place was at %s to %s", Clock(stay.Start), Clock(stay.End))
	}
	return d
}

// surest is the evidence of the greatest confidence.
func surest(list []rubric.Evidence) rubric.Evidence {
	if len(list) == 0 {
		return rubric.Evidence{Start: -1, End: -1}
	}
	return slices.MaxFunc(list, func(a, b rubric.Evidence) int { return cmp.Compare(a.Confidence, b.Confidence) })
}

// mostEvidence is how many distinct pieces of evidence are shown for one thing.
const mostEvidence = 2

// telling picks from the evidence of one thing what is shown: the surest and
// the one that decided, of words that overlap only one. More is how many
// others there are.
func telling(list []rubric.Evidence) (shown []rubric.Evidence, more int) {
	if len(list) == 0 {
		return nil, 0
	}
	overlap := func(a, b rubric.Evidence) bool { return a.First < b.Last && b.First < a.Last || a == b }
	shown = []rubric.Evidence{lastEvidence(list)}
	rest := slices.SortedStableFunc(slices.Values(list), func(a, b rubric.Evidence) int { return cmp.Compare(b.Confidence, a.Confidence) })
	distinct := slices.Clone(shown)
	for _, ev := range rest {
		if slices.ContainsFunc(distinct, func(d rubric.Evidence) bool { return overlap(d, ev) }) {
			continue
		}
		distinct = append(distinct, ev)
	}
	shown = distinct[:min(len(distinct), mostEvidence)]
	slices.SortStableFunc(shown, func(a, b rubric.Evidence) int { return cmp.Compare(a.Start, b.Start) })
	return shown, len(distinct) - len(shown)
}

// runTogether joins evidence of a finding that lies within a few words of each
// other, so that a sentence is quoted once.
func runTogether(t *speech.Transcript, list []rubric.Evidence) []rubric.Evidence {
	var out []rubric.Evidence
	for _, ev := range list {
		if n := len(out); n > 0 && t != nil {
			last := &out[n-1]
			if inTranscript(t, *last) && inTranscript(t, ev) && ev.First >= last.First && ev.First-last.Last <= contextWords {
				last.Last, last.End = max(last.Last, ev.Last), max(last.End, ev.End)
				last.Words = t.Text(last.First, last.Last)
				continue
			}
		}
		out = append(out, ev)
	}
	return out
}

// lastEvidence is the evidence that decided: the last contradiction, else the
// last of all.
func lastEvidence(list []rubric.Evidence) rubric.Evidence {
	for _, ev := range slices.Backward(list) {
		if ev.Contradicts {
			return ev
		}
	}
	if len(list) > 0 {
		return list[len(list)-1]
	}
	return rubric.Evidence{Start: -1, End: -1}
}

// groups splits the items that keep wants by section, in the sheet's order.
// An item of a section that the sheet does not list gets a group of its own.
func groups(s *rubric.Sheet, keep func(rubric.ItemMark) bool) []group {
	at := map[string]int{}
	all := make([]group, 0, len(s.Sections))
	for _, sec := range s.Sections {
		at[sec.ID] = len(all)
		all = append(all, group{Section: sec})
	}
	for _, it := range s.Items {
		if !keep(it) {
			continue
		}
		i, ok := at[it.Section]
		if !ok {
			i = len(all)
			at[it.Section] = i
			all = append(all, group{Section: rubric.SectionMark{ID: it.Section, Title: it.Section}})
		}
		all[i].Items = append(all[i].Items, it)
	}
	return slices.DeleteFunc(all, func(g group) bool { return len(g.Items) == 0 })
}

func count(gs []group) int {
	n := 0
	for _, g := range gs {
		n += len(g.Items)
	}
	return n
}

// total sums the sections.
func total(s *rubric.Sheet) (sum rubric.SectionMark) {
	for _, sec := range s.Sections {
		sum.Points += sec.Points
		sum.Of += sec.Of
		sum.Said += sec.Said
		sum.Partly += sec.Partly
		sum.Wrong += sec.Wrong
		sum.Missed += sec.Missed
	}
	return sum
}

// deadAir is the dead air in all, in seconds.
func deadAir(p rubric.Pace) (sum float64) {
	for _, g := range p.DeadAir {
		sum += g.End - g.Start
	}
	return sum
}

// titles maps the ids of sections and items to their titles.
func titles(s *rubric.Sheet) map[string]string {
	t := make(map[string]string, len(s.Sections)+len(s.Items))
	for _, sec := range s.Sections {
		t[sec.ID] = sec.Title
	}
	for _, it := range s.Items {
		t[it.ID] = it.Title
	}
	return t
}

// title looks id up and falls back on the id itself.
func title(t map[string]string, id string) string {
	if name := t[id]; name != "" {
		return name
	}
	return id
}

// deciding is the evidence that best shows why an item has its mark. Its Start
// is -1 when there is none.
func deciding(it rubric.ItemMark) rubric.Evidence {
	for _, m := range it.Measures {
		if m.Mark == rubric.Wrong && len(m.Evidence) > 0 {
			return lastEvidence(m.Evidence)
		}
	}
	for _, c := range it.Checks {
		if c.Mark == rubric.Wrong && len(c.Evidence) > 0 {
			return lastEvidence(c.Evidence)
		}
	}
	if len(it.Named) > 0 {
		return it.Named[0]
	}
	return rubric.Evidence{Start: it.Start, End: it.Start}
}
