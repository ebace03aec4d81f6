package cohort

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"markaround/rubric"
)

// Column is an item of a score sheet, as far as statistics need it.
type Column struct {
	ID       string  `json:"id"` // "section.part"
	Title    string  `json:"title"`
	Section  string  `json:"section"` // section id
	Critical bool    `json:"critical"`
	Extra    bool    `json:"extra"` // not on the edition's list: left out of statistics
	Of       float64 `json:"of"`    // points possible
}

// Form is the items of a score sheet in its order. The records of one score
// sheet share one.
type Form struct {
	ID    string // the same for the same items; "" when only the pointer tells
	Items []Column
}

// Record is one marked attempt, as far as statistics need it: texts and numbers
// of a database row, no map and no pointer of its own. "" is not known.
type Record struct {
	Name       string // of the attempt, for messages
	Student    string // id
	Number     int    // of the student's attempts, from 1; 0 is not known
	Day        string // 2006-01-02
	Cohort     string
	Site       string
	Instructor string
	Vehicle    string
	Points, Of float64 // earned and possible; Of 0 is not known
	Pass       bool
	Seconds    float64 // from the first word to the last; 0 is not known
	Limit      float64 // seconds allowed; 0 is none, or not known
	Form       *Form   // nil when items are not known
	// Marks has one byte an item of Form: s said, p partly, w wrong, m missed, a
	// capital one when a person corrected it; anything else is not marked.
	Marks   string
	Details *Details // nil when not known
}

// Details is what a record has besides marks. Analyze and ProgressOf use it.
type Details struct {
	Wrong    []WrongNumber
	LeftOut  []Check // checks and numbers not said that the item asks for
	Sections []SectionTime
}

// WrongNumber is a number that was said wrong.
type WrongNumber struct {
	Item     string `json:"item"` // "section.part/number"
	Title    string `json:"title"`
	Said     string `json:"said"`
	Accepted string `json:"accepted"`
}

// Check is one thing to say of an item.
type Check struct {
	ID    string `json:"id"` // "section.part/check"
	Title string `json:"title"`
}

// SectionTime is the time spent in a section.
type SectionTime struct {
	Section string  `json:"section"` // id
	Seconds float64 `json:"seconds"`
}

// mark is the mark of the i-th item, 0 when it is not marked.
func (r *Record) mark(i int) byte {
	switch c := r.Marks[i] | 0x20; c {
	case 's', 'p', 'w', 'm':
		return c
	}
	return 0
}

// Letter is the byte of a mark in Record.Marks; a space for an unknown one.
func Letter(m rubric.Mark) byte {
	if slices.Contains(Classes[:], m) {
		return m[0]
	}
	return ' '
}

// Forms makes records of sheets and lets those with the same items share a form.
// The zero value is ready.
type Forms struct {
	known map[string]*Form
}

// Record is the record of a sheet. What a sheet does not tell (student, number,
// day, groups) is left for the caller to fill in.
func (f *Forms) Record(s *rubric.Sheet) Record {
	items := make([]Column, len(s.Items))
	marks := make([]byte, len(s.Items))
	d := &Details{}
	var id strings.Builder
	for i, m := range s.Items {
		items[i] = Column{m.ID, m.Title, m.Section, m.Critical, m.Extra, m.Of}
		if marks[i] = Letter(m.Mark); m.Corrected != nil {
			marks[i] &^= 0x20
		}
		fmt.Fprintf(&id, "%q %q %t %t %v\n", m.ID, m.Title, m.Critical, m.Extra, m.Of)
		for _, c := range m.Checks {
			if c.Mark == rubric.Missed && !c.Minor {
				d.LeftOut = append(d.LeftOut, Check{m.ID + "/" + c.ID, c.Title})
			}
		}
		for _, q := range m.Measures {
			switch {
			case q.Mark == rubric.Missed && !q.Optional:
				d.LeftOut = append(d.LeftOut, Check{m.ID + "/" + q.ID, q.Title})
			case q.Mark == rubric.Wrong:
				d.Wrong = append(d.Wrong, WrongNumber{m.ID + "/" + q.ID, q.Title, q.Said, q.Accepted})
			}
		}
	}
	for _, p := range s.Pace.Sections {
		if p.Seconds > 0 {
			d.Sections = append(d.Sections, SectionTime{p.Section, p.Seconds})
		}
	}
	if f.known == nil {
		f.known = map[string]*Form{}
	}
	form := f.known[id.String()]
	if form == nil {
		form = &Form{ID: id.String(), Items: items}
		f.known[form.ID] = form
	}
	return Record{Name: s.Attempt, Points: s.Points, Of: s.Of, Pass: s.Result.Pass, Seconds: max(0, s.Pace.End-s.Pace.Start),
		Limit: s.Pace.Limit, Form: form, Marks: string(marks), Details: d}
}

// checkRecords finds records whose marks do not fit their form.
func checkRecords(records []Record) error {
	for i := range records {
		r := &records[i]
		if r.Form != nil && len(r.Marks) != len(r.Form.Items) {
			return fmt.Errorf("attempt %s: has %d marks for %d items; mark it again", r.Name, len(r.Marks), len(r.Form.Items))
		}
	}
	return nil
}

// Count says which attempts of a student count.
type Count string

// Ways to count. Attempts of one student are alike, so that only with one a
// student are intervals and tests those of the books; with all of them, they
// draw and part students, not attempts.
const (
	FirstAttempt Count = "first" // the one with the lowest number
	LastAttempt  Count = "last"
	AllAttempts  Count = "all"
)

func (c Count) valid() error {
	switch c {
	case FirstAttempt, LastAttempt, AllAttempts:
		return nil
	}
	return fmt.Errorf("count %q: use first, last or all", string(c))
}

// earlier orders attempts of one student: by number, then by day; those without
// come first.
func earlier(a, b *Record) int {
	return cmp.Or(cmp.Compare(a.Number, b.Number), strings.Compare(a.Day, b.Day))
}
