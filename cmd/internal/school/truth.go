package school

import (
	"encoding/csv"
	"strings"

	"markaround/rubric"
	"markaround/rubric/cohort"
)

// Gold gives the truth as the marks of a marker: of all items that count, of the
// numbers that must be said, and the findings.
func (s *School) Gold() *cohort.Marks {
	m := cohort.NewMarks("gold")
	for i := range s.Attempts {
		s.gold(&s.Attempts[i], func(j cohort.Judgment) { m.Add(j) })
	}
	return m
}

func (s *School) gold(a *Attempt, add func(cohort.Judgment)) {
	next := 0
	for k, it := range s.Items {
		add(cohort.Judgment{Attempt: a.ID, Item: it.ID, Kind: cohort.ItemKind, Mark: a.Marks[k], Confidence: -1, Start: -1})
		for ; next < len(a.Parts) && a.Parts[next].Item == k; next++ {
			p := a.Parts[next]
			if ms := it.Measure(p.ID); p.Measure && ms != nil && !ms.Optional {
				add(cohort.Judgment{Attempt: a.ID, Item: it.ID + "/" + p.ID, Kind: cohort.MeasureKind, Mark: p.Mark, Confidence: -1, Start: -1, Note: p.Said})
			}
		}
	}
	for _, f := range a.Findings {
		add(cohort.Judgment{Attempt: a.ID, Item: f, Kind: cohort.FindingKind, Mark: cohort.Found, Confidence: -1, Start: -1})
	}
}

// goldHeader and writeGold make the truth in the form that cohort.ReadMarks
// reads.
var goldHeader = []string{"attempt", "item", "mark", "kind", "note"}

func (s *School) writeGold(c *csv.Writer, a *Attempt) {
	s.gold(a, func(j cohort.Judgment) {
		kind := ""
		if j.Kind == cohort.MeasureKind {
			kind = string(j.Kind)
		}
		c.Write([]string{j.Attempt, j.Item, string(j.Mark), kind, j.Note}) // the writer keeps its error
	})
}

// Sheets gives the truth as sheets, without evidence. Findings are on them, and
// the result is concluded by the score sheet's own rule.
func (s *School) Sheets() []*rubric.Sheet {
	out := make([]*rubric.Sheet, len(s.Attempts))
	for i := range s.Attempts {
		out[i] = s.Sheet(&s.Attempts[i])
	}
	return out
}

// Sheet is the truth of one attempt as a sheet, without evidence.
func (s *School) Sheet(a *Attempt) *rubric.Sheet {
	sh := &rubric.Sheet{Attempt: a.ID, Source: "invented", Warnings: []string{}, Findings: []rubric.Finding{}}
	sh.Pace.End = a.Seconds
	sh.Pace.Limit = s.Rubric.TimeLimit
	sh.Items = s.Rubric.Mark(rubric.Answers{}, rubric.Marking{})
	k, next := 0, 0
	for i := range sh.Items {
		it := &sh.Items[i]
		if it.Extra {
			continue
		}
		it.Mark, it.Confidence, it.Points, it.Reason, it.Near = a.Marks[k], 1, 0, "planted", []rubric.Evidence{}
		if it.Mark == rubric.Said {
			it.Points = it.Of
		}
		for ; next < len(a.Parts) && a.Parts[next].Item == k; next++ {
			p := a.Parts[next]
			for c := range it.Checks {
				if !p.Measure && it.Checks[c].ID == p.ID {
					it.Checks[c].Mark = p.Mark
				}
			}
			for c := range it.Measures {
				if p.Measure && it.Measures[c].ID == p.ID {
					it.Measures[c].Mark, it.Measures[c].Said = p.Mark, p.Said
				}
			}
		}
		k++
	}
	for _, f := range a.Findings {
		kind, id, _ := strings.Cut(f, ":")
		sh.Findings = append(sh.Findings, rubric.Finding{Kind: rubric.FindingKind(kind), ID: id, Text: f, Reason: "planted", Evidence: []rubric.Evidence{}})
	}
	s.Rubric.Conclude(sh)
	return sh
}
