package report

import (
	"slices"

	"markaround/rubric"
)

// digest is a sheet in the order a reader asks for it: what failed the test,
// what was said wrong, what was left out, what to hear again.
type digest struct {
	Critical       []critical
	Numbers        []number
	Contradictions []contradiction
	Missed         []group
	Partly         []group
	Said           []group
	Findings       []rubric.Finding // order, holds and readings
	PaceFindings   []rubric.Finding
	Listen         []rubric.ItemMark
}

// critical is one thing that fails the test where critical items decide.
type critical struct {
	Title  string
	What   string  // the mark of an item, the kind of a finding
	Start  float64 // seconds, -1 when nothing was said
	Reason string
	Item   string // item id, "" for a finding
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
	for _, it := range s.Items {
		if it.Critical && !it.Extra && (it.Mark == rubric.Missed || it.Mark == rubric.Wrong || it.Mark == rubric.Partly) {
			d.Critical = append(d.Critical, critical{it.Title, string(it.Mark), it.Start, it.Reason, it.ID})
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
			d.Listen = append(d.Listen, it)
		}
	}
	for _, f := range s.Findings {
		if f.Kind == rubric.PaceFinding {
			d.PaceFindings = append(d.PaceFindings, f)
		} else {
			d.Findings = append(d.Findings, f)
		}
		if f.Critical {
			d.Critical = append(d.Critical, critical{f.Text, string(f.Kind), f.Start, f.Reason, ""})
		}
	}
	d.Missed = groups(s, func(it rubric.ItemMark) bool { return it.Mark == rubric.Missed && !it.Extra })
	d.Partly = groups(s, func(it rubric.ItemMark) bool { return it.Mark == rubric.Partly })
	d.Said = groups(s, func(it rubric.ItemMark) bool { return it.Mark == rubric.Said })
	return d
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
