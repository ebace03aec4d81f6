package rubric

import (
	"fmt"
	"slices"
	"strings"
)

// Only is a copy of the rubric that has these sections alone, in the rubric's
// own order: for a student who practices one part. Order rules, holds and
// agreements that name an item outside of them are left out, and so is the
// time limit, which is for the whole. With says so ("only air"). A section that
// is not there is an error that lists those that are.
func (r *Rubric) Only(sections ...string) (*Rubric, error) {
	if len(sections) == 0 {
		return nil, fmt.Errorf("no section of %s is given; name one of %s", r.ID, strings.Join(r.sectionIDs(), ", "))
	}
	there := r.sectionIDs()
	for _, id := range sections {
		if !slices.Contains(there, id) {
			return nil, fmt.Errorf("rubric %s has no section %q; it has %s", r.ID, clip(id), strings.Join(there, ", "))
		}
	}
	n := r.clone()
	n.Sections = slices.DeleteFunc(n.Sections, func(s Section) bool { return !slices.Contains(sections, s.ID) })
	kept := map[string]bool{}
	for e := range n.All() {
		kept[e.Item.ID] = true
	}
	n.dropRules(func(id string) bool { return !kept[id] })
	n.TimeLimit, n.TimeSource, n.Pass.WithinLimit = 0, "", false
	n.With = append(n.With, "only "+strings.Join(n.sectionIDs(), ", "))
	return n, nil
}

// Part turns the sheet of an attempt, marked by a whole rubric, into that of the
// sections that r has; r is what Only gave of that rubric. Marks and evidence
// stay as they are, for what was said at other places has been heard as such.
// The pace is that of the stays in the sections, from the first to the last.
func (r *Rubric) Part(s *Sheet) {
	kept := map[string]bool{}
	for e := range r.All() {
		kept[e.Item.ID], kept[e.Section.ID] = true, true
	}
	for _, o := range r.Order {
		kept[o.Before+">"+o.After] = true // how findings of order are called
	}
	for _, h := range r.Holds {
		kept[h.ID] = true
	}
	out := func(id string) bool { return !kept[id] }
	s.Items = slices.DeleteFunc(slices.Clone(s.Items), func(m ItemMark) bool { return out(m.ID) })
	s.Findings = slices.DeleteFunc(slices.Clone(s.Findings), func(f Finding) bool { return f.Kind != PaceFinding && out(f.ID) })

	p := &s.Pace
	p.Limit, p.AfterLimit = r.TimeLimit, []string{}
	p.Rushed = slices.DeleteFunc(slices.Clone(p.Rushed), out)
	p.Sections = slices.DeleteFunc(slices.Clone(p.Sections), func(sec SectionPace) bool { return out(sec.Section) })
	p.Visits = slices.DeleteFunc(slices.Clone(p.Visits), func(v Visit) bool { return out(v.Section) })
	p.DeadAir = slices.DeleteFunc(slices.Clone(p.DeadAir), func(g Gap) bool {
		return !slices.ContainsFunc(p.Visits, func(v Visit) bool { return g.Start < v.End && v.Start < g.End })
	})
	if n := len(p.Visits); n > 0 {
		p.Start, p.End = p.Visits[0].Start, p.Visits[n-1].End
	}
	r.Conclude(s)
}

func (r *Rubric) sectionIDs() []string {
	ids := make([]string, len(r.Sections))
	for i := range r.Sections {
		ids[i] = r.Sections[i].ID
	}
	return ids
}
