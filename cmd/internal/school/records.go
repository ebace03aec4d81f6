package school

import (
	"markaround/rubric"
	"markaround/rubric/cohort"
)

// Records gives the truth as records for the statistics of package cohort. They
// hold no more than marks where the school has no transcripts.
func (s *School) Records() []cohort.Record {
	form := &cohort.Form{ID: s.Rubric.ID}
	for e := range s.Rubric.All() {
		if it := e.Item; !it.Extra {
			form.Items = append(form.Items, cohort.Column{ID: it.ID, Title: it.Title, Section: e.Section.ID, Critical: it.Critical, Of: it.Points})
		}
	}
	out := make([]cohort.Record, len(s.Attempts))
	letters := make([]byte, len(s.Items))
	for i := range s.Attempts {
		a := &s.Attempts[i]
		st := s.Of(a)
		for k, m := range a.Marks {
			letters[k] = cohort.Letter(m)
		}
		points, of := s.Points(a)
		out[i] = cohort.Record{Name: a.ID, Student: st.ID, Number: a.Number, Day: a.Date, Cohort: st.Cohort, Site: st.Site, Instructor: st.Instructor,
			Vehicle: a.Vehicle, Points: points, Of: of, Pass: s.Pass(a), Seconds: a.Seconds, Limit: s.Rubric.TimeLimit, Form: form, Marks: string(letters),
			Details: s.details(a)}
	}
	return out
}

// details are what an attempt's record has besides marks, nil without a
// transcript.
func (s *School) details(a *Attempt) *cohort.Details {
	if a.Transcript == nil {
		return nil
	}
	d := &cohort.Details{}
	for _, p := range a.Parts {
		it := s.Items[p.Item]
		id := it.ID + "/" + p.ID
		if ms := it.Measure(p.ID); p.Measure {
			switch {
			case p.Mark == rubric.Wrong:
				d.Wrong = append(d.Wrong, cohort.WrongNumber{Item: id, Title: ms.Title, Said: p.Said, Accepted: ms.Accepted()})
			case p.Mark == rubric.Missed && !ms.Optional:
				d.LeftOut = append(d.LeftOut, cohort.Check{ID: id, Title: ms.Title})
			}
			continue
		}
		for k := range it.Checks {
			if c := &it.Checks[k]; c.ID == p.ID && p.Mark == rubric.Missed && !c.Minor {
				title := c.Title
				if shared := s.Rubric.Shared(c); title == "" && shared != nil {
					title = shared.Title
				}
				d.LeftOut = append(d.LeftOut, cohort.Check{ID: id, Title: title})
			}
		}
	}
	return d
}
