package rubric

import (
	"fmt"
	"slices"
	"strings"
)

// Rule is what the result of a sheet is concluded by. Kept beside the sheet, it
// lets a corrected sheet be concluded again when the rubric has changed since.
type Rule struct {
	MinShare    float64 `json:"min_share"`    // least share of points, 0..1
	Critical    bool    `json:"critical"`     // every critical item must be said
	WithinLimit bool    `json:"within_limit"` // finished inside TimeLimit
	TimeLimit   float64 `json:"time_limit"`   // seconds, 0 when there is none
	Note        string  `json:"note"`         // who set the rule
}

// Rule is the rule of the rubric.
func (r *Rubric) Rule() Rule {
	return Rule{r.Pass.MinShare, r.Pass.Critical, r.Pass.WithinLimit, r.TimeLimit, r.Pass.Note}
}

// None is the mark that a correction gives a finding which does not stand.
const None Mark = "none"

// Correction is a person's mark in place of the program's.
type Correction struct {
	Item string // "section.part", or a finding: "order:ID", "hold:ID", "reading:ID"
	Mark Mark   // of an item said, partly, wrong or missed; of a finding None; "" leaves it as the program has it
	Why  string // in the person's words
	Who  string // id of the person
	When string // day and time, RFC 3339
}

// Corrected is kept on what a person has corrected.
type Corrected struct {
	From Mark   `json:"from"` // the program's mark; "found" of a finding
	Why  string `json:"why"`
	Who  string `json:"who"`
	When string `json:"when"`
}

// Check tells what is wrong with a correction by itself, nil when nothing is.
func (c Correction) Check() error {
	switch {
	case isFinding(c.Item):
		if c.Mark != None && c.Mark != "" {
			return fmt.Errorf("%s: a finding can only be set aside, with the mark none, got %q", c.Item, c.Mark)
		}
	case strings.Contains(c.Item, "/"):
		item, _, _ := strings.Cut(c.Item, "/")
		return fmt.Errorf("%s: correct the whole item, %s", c.Item, item)
	case !slices.Contains([]Mark{Said, Partly, Wrong, Missed, ""}, c.Mark):
		return fmt.Errorf("%s: unknown mark %q; use said, partly, wrong or missed", c.Item, c.Mark)
	}
	return nil
}

func isFinding(id string) bool {
	kind, _, ok := strings.Cut(id, ":")
	return ok && slices.Contains([]FindingKind{OrderFinding, HoldFinding, ReadingFinding}, FindingKind(kind))
}

// Key is the id of a finding in corrections, marks and tables: "order:ID".
func (f Finding) Key() string { return string(f.Kind) + ":" + f.ID }

// Correct puts corrections onto a sheet as the program made it, the last one of
// an item over those before it, and concludes it again: points, sums, result.
//
//   - An item gets the mark, with confidence 1 and no doubt; its Corrected says
//     what the program had.
//   - The parts of an item corrected to said count as said, but for minor ones
//     that were left out; of one corrected to missed all count as missed; of one
//     corrected to partly the wrong ones count as missed. Of one corrected to
//     wrong they stay. Evidence stays in any case.
//   - A finding set aside goes from Findings to Rejected.
//
// A correction of what the sheet does not have is left out and named in what is
// returned, as is one that Check finds fault with. The sheet is changed in place,
// but not the lists that it came with.
func (u Rule) Correct(s *Sheet, list []Correction) (left []Correction) {
	last := map[string]Correction{}
	var order []string
	for _, c := range list {
		if c.Check() != nil {
			left = append(left, c)
			continue
		}
		if _, ok := last[c.Item]; !ok {
			order = append(order, c.Item)
		}
		last[c.Item] = c
	}
	s.Items, s.Findings = slices.Clone(s.Items), slices.Clone(s.Findings)
	for _, id := range order {
		c := last[id]
		if c.Mark == "" {
			continue
		}
		if c.Mark == None {
			i := slices.IndexFunc(s.Findings, func(f Finding) bool { return f.Key() == id })
			if i < 0 {
				left = append(left, c)
			}
			// One rule may be broken more than once; the correction is of the rule.
			for ; i >= 0; i = slices.IndexFunc(s.Findings, func(f Finding) bool { return f.Key() == id }) {
				f := s.Findings[i]
				f.Corrected = &Corrected{From: "found", Why: c.Why, Who: c.Who, When: c.When}
				s.Rejected = append(s.Rejected, f)
				s.Findings = slices.Delete(s.Findings, i, i+1)
			}
			continue
		}
		i := slices.IndexFunc(s.Items, func(m ItemMark) bool { return m.ID == id })
		if i < 0 {
			left = append(left, c)
			continue
		}
		s.Items[i].correct(c)
	}
	u.conclude(s)
	return left
}

func (m *ItemMark) correct(c Correction) {
	m.Corrected = &Corrected{From: m.Mark, Why: c.Why, Who: c.Who, When: c.When}
	m.Mark, m.Confidence, m.Listen = c.Mark, 1, false
	m.Points = 0
	if c.Mark == Said {
		m.Points = m.Of
	}
	if c.Mark == m.Corrected.From {
		m.Reason += "; confirmed by " + c.Who
	} else {
		m.Reason = fmt.Sprintf("corrected from %s by %s", m.Corrected.From, c.Who)
	}
	if c.Why != "" {
		m.Reason += ": " + c.Why
	}
	m.Checks, m.Measures = slices.Clone(m.Checks), slices.Clone(m.Measures)
	if c.Mark == Said || c.Mark == Missed {
		m.Omitted = []string{}
	}
	for i := range m.Checks {
		k := &m.Checks[i]
		k.Mark = implied(c.Mark, k.Mark, k.Minor)
	}
	for i := range m.Measures {
		k := &m.Measures[i]
		if k.Mark = implied(c.Mark, k.Mark, k.Optional); k.Mark != Wrong {
			k.Problem = ""
		}
	}
}

// implied is the mark of a part of an item that was corrected.
func implied(item, part Mark, mayMiss bool) Mark {
	switch {
	case item == Said && (part == Wrong || part == Missed && !mayMiss):
		return Said
	case item == Missed, item == Partly && part == Wrong:
		return Missed
	}
	return part
}
