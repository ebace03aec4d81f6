package align

import (
	"cmp"
	"slices"

	"markaround/rubric"
)

// Dead air shorter than this is a pause for breath, in seconds.
const deadAir = 10

// pace says where the time went, by the words' times.
func (l *listening) pace(items []rubric.ItemMark, holds []hold) rubric.Pace {
	p := rubric.Pace{Limit: l.m.rubric.TimeLimit, DeadAir: []rubric.Gap{}, Sections: []rubric.SectionPace{}, Visits: []rubric.Visit{},
		AfterLimit: []string{}, Rushed: []string{}}
	last := -1 // the student's last token
	for i, t := range l.toks {
		if l.others != nil && l.others[t.Segment] {
			continue
		}
		if last < 0 {
			p.Start = t.Start
		} else if end := l.toks[last].End; t.Start-end >= deadAir && !holding(holds, end, t.Start) {
			for _, g := range l.silent(rubric.Gap{Start: end, End: t.Start}) {
				if g.End-g.Start >= deadAir {
					p.DeadAir = append(p.DeadAir, g)
				}
			}
		}
		p.End = max(p.End, t.End)
		last = i
	}
	if last < 0 {
		return p
	}
	slices.SortStableFunc(p.DeadAir, func(a, b rubric.Gap) int { return cmp.Compare(b.End-b.Start, a.End-a.Start) })
	if d := p.End - p.Start; d > 0 {
		p.WordsPerMinute = float64(l.words) / d * 60
	}
	l.visits(&p)
	l.rushed(&p, items)
	return p
}

// holding reports that a gap lies in a hold, where silence is asked for.
func holding(holds []hold, start, end float64) bool {
	return slices.ContainsFunc(holds, func(h hold) bool { return h.from.Start <= start && end <= h.to.End })
}

// visits joins the path into stays in sections. A stray word does not make a
// stay: only mentions that fit their place count.
func (l *listening) visits(p *rubric.Pace) {
	at := p.Start
	for _, s := range l.sights {
		if s.mention >= 0 && (l.mentions[s.mention].item < 0 || l.mentions[s.mention].place < 0.9) {
			continue
		}
		id := l.m.sections[l.m.lines[s.line].section].id
		// An examiner may name it before or after; words may overlap.
		t := max(at, min(max(l.toks[s.token].Start, p.Start), p.End))
		if n := len(p.Visits); n > 0 && p.Visits[n-1].Section == id {
			continue
		} else if n > 0 {
			p.Visits[n-1].End = t
			at = t
		}
		p.Visits = append(p.Visits, rubric.Visit{Section: id, Start: at, End: p.End})
	}
	spent := map[string]float64{}
	for _, v := range p.Visits {
		spent[v.Section] += v.End - v.Start
	}
	for _, sec := range l.m.rubric.Sections {
		p.Sections = append(p.Sections, rubric.SectionPace{Section: sec.ID, Seconds: spent[sec.ID], Budget: sec.Budget})
	}
}

// rushed lists what came after the limit, and parts that had to share less time
// than it takes to say their name and a condition.
func (l *listening) rushed(p *rubric.Pace, items []rubric.ItemMark) {
	const least = 1.2 // seconds from one part to the next; below, nothing can be said of the first
	var named []rubric.ItemMark
	for _, m := range items {
		if m.Start < 0 || m.Extra {
			continue
		}
		if p.Limit > 0 && m.Start-p.Start > p.Limit {
			p.AfterLimit = append(p.AfterLimit, m.ID)
		}
		named = append(named, m)
	}
	slices.SortStableFunc(named, func(a, b rubric.ItemMark) int { return cmp.Compare(a.Start, b.Start) })
	for i := 0; i+1 < len(named); i++ {
		if named[i].Mark == rubric.Partly && named[i+1].Start-named[i].Start < least {
			p.Rushed = append(p.Rushed, named[i].ID)
		}
	}
}
