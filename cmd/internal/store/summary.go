package store

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"strings"

	"markaround/rubric"
	"markaround/rubric/cohort"
)

// Item is an item of a score sheet, as far as statistics need it.
type Item struct {
	ID       string  `json:"id"`
	Title    string  `json:"title"`
	Section  string  `json:"section"`
	Critical bool    `json:"critical"`
	Extra    bool    `json:"extra"`
	Of       float64 `json:"of"`              // points possible
	Place    string  `json:"place,omitempty"` // title of the section
	Parts    []Part  `json:"parts,omitempty"` // what it asks for
}

// Layout is the items of a score sheet in its order.
type Layout struct {
	ID    string // hash of the items
	Items []Item
}

// Summary is an attempt with what statistics need of its corrected sheet. Source,
// hashes of files, Marking, Kept and Marked are not read: there may be a hundred
// thousand.
type Summary struct {
	Attempt
	Layout  *Layout // shared by the attempts of one score sheet
	marks   string
	details string
}

// Mark is the mark of the i-th item of the layout, with its correction.
func (s *Summary) Mark(i int) rubric.Mark {
	switch s.marks[i] | 0x20 {
	case 's':
		return rubric.Said
	case 'p':
		return rubric.Partly
	case 'w':
		return rubric.Wrong
	}
	return rubric.Missed
}

// Corrected tells whether a person corrected the i-th item.
func (s *Summary) Corrected(i int) bool { return s.marks[i]&0x20 == 0 }

// More is what a summary has besides marks.
type More struct {
	Wrong    []WrongNumber      `json:"wrong,omitempty"`    // numbers
	Findings []string           `json:"findings,omitempty"` // "order:ID", "hold:ID", "reading:ID"
	Sections map[string]float64 `json:"sections,omitempty"` // seconds by section id
	DeadAir  float64            `json:"dead_air,omitempty"` // seconds
	Rate     float64            `json:"rate,omitempty"`     // words a minute
	Listen   int                `json:"listen,omitempty"`   // doubtful marks left
	Limit    float64            `json:"limit,omitempty"`    // seconds allowed
	Parts    string             `json:"parts,omitempty"`    // a letter for each part of the layout's items, as in Summary.Marks
}

// WrongNumber is a number that was said wrong, as the statistics take it.
type WrongNumber = cohort.WrongNumber

// More reads what is kept besides the marks.
func (s *Summary) More() (m More, err error) {
	if err := fromJSON(s.details, &m); err != nil {
		return m, fmt.Errorf("attempt %d: %w", s.ID, err)
	}
	return m, nil
}

// letter is how a mark is kept: its first letter, a capital one when a person
// corrected it.
func letter(m rubric.ItemMark) byte {
	c := byte('m')
	if m.Mark != "" {
		c = m.Mark[0]
	}
	if m.Corrected != nil {
		c &^= 0x20
	}
	return c
}

// summary is the columns of a sheet.
type summary struct {
	points, of, seconds float64
	pass                int
	layout              string
	items               string // JSON
	marks               string
	more                string // JSON
	listen              int
}

func summarize(s *rubric.Sheet) (out summary, err error) {
	out.points, out.of, out.seconds = s.Points, s.Of, max(0, s.Pace.End-s.Pace.Start)
	if s.Result.Pass {
		out.pass = 1
	}
	items := make([]Item, len(s.Items))
	more := More{DeadAir: 0, Rate: s.Pace.WordsPerMinute, Limit: s.Pace.Limit}
	places := sectionTitles(s)
	var marks, ofParts strings.Builder
	for i, m := range s.Items {
		asks, got := parts(m)
		items[i] = Item{m.ID, m.Title, m.Section, m.Critical, m.Extra, m.Of, places[m.Section], asks}
		ofParts.WriteString(got)
		marks.WriteByte(letter(m))
		if m.Listen {
			more.Listen++
		}
		for _, q := range m.Measures {
			if q.Mark == rubric.Wrong {
				more.Wrong = append(more.Wrong, WrongNumber{Item: m.ID + "/" + q.ID, Title: q.Title, Said: q.Said, Accepted: q.Accepted})
			}
		}
	}
	for _, f := range s.Findings {
		if f.Kind != rubric.PaceFinding {
			more.Findings = append(more.Findings, f.Key())
		}
	}
	for _, g := range s.Pace.DeadAir {
		more.DeadAir += g.End - g.Start
	}
	for _, p := range s.Pace.Sections {
		if p.Seconds > 0 {
			if more.Sections == nil {
				more.Sections = map[string]float64{}
			}
			more.Sections[p.Section] = p.Seconds
		}
	}
	more.Parts = ofParts.String()
	list, err := json.Marshal(items)
	if err != nil {
		return out, err
	}
	rest, err := json.Marshal(more)
	if err != nil {
		return out, err
	}
	out.items, out.layout, out.marks, out.more, out.listen = string(list), Hash(list), marks.String(), string(rest), more.Listen
	return out, nil
}

func putLayout(ctx context.Context, q queryer, s summary) error {
	_, err := q.exec(ctx, `INSERT INTO layouts (id, items) VALUES (?, ?) ON CONFLICT (id) DO NOTHING`, s.layout, s.items)
	return err
}

func putSummary(ctx context.Context, q queryer, id int64, s summary) error {
	_, err := q.exec(ctx, `UPDATE attempts SET points = ?, points_of = ?, pass = ?, seconds = ?, layout = ?, marks = ?, details = ?, listen = ? WHERE id = ?`,
		s.points, s.of, s.pass, s.seconds, s.layout, s.marks, s.more, s.listen, id)
	return err
}

// refresh makes the summary of an attempt anew from its sheet and corrections.
func refresh(ctx context.Context, q queryer, id int64) error {
	m, err := marks(ctx, q, id)
	if err != nil {
		return err
	}
	sum, err := summarize(m.Corrected)
	if err != nil {
		return err
	}
	if err := putLayout(ctx, q, sum); err != nil {
		return err
	}
	return putSummary(ctx, q, id, sum)
}

// Summaries gives the summaries of attempts, in the order in which these were
// kept.
func (s *Store) Summaries(ctx context.Context, f Filter) ([]Summary, error) {
	list, err := s.summaries(ctx, f)
	return list, s.fail("read the attempts", err)
}

func (s *Store) summaries(ctx context.Context, f Filter) ([]Summary, error) {
	layouts, err := s.layouts(ctx)
	if err != nil {
		return nil, err
	}
	condition, args := f.where()
	rows, err := s.read().query(ctx, `SELECT a.id, a.name, a.student, a.number, a.day, COALESCE(NULLIF(a.cohort, ''), s.cohort), COALESCE(NULLIF(a.site, ''), s.site),
		COALESCE(NULLIF(a.instructor, ''), s.instructor), a.vehicle, a.rubric, a.rubric_version, a.rubric_hash, a.rubric_with, a.tool,
		a.points, a.points_of, a.pass, a.seconds, a.layout, a.marks, a.details`+fromAttempts+`WHERE `+condition+` ORDER BY a.id`, args...)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var list []Summary
	var in scanner
	var layout, marks, details string
	t := &in.a
	in.to = []any{&t.ID, &t.Name, &t.Student, &t.Number, &t.Day, &t.Cohort, &t.Site, &t.Instructor, &t.Vehicle,
		&t.Rubric.ID, &t.Rubric.Version, &t.Rubric.Hash, &in.with, &t.Tool, &t.Points, &t.Of, &t.Pass, &t.Seconds, &layout, &marks, &details}
	for rows.Next() {
		var a Summary
		if err := in.read(&a.Attempt, rows); err != nil {
			return nil, err
		}
		a.marks, a.details = marks, details
		if a.Layout = layouts[layout]; a.Layout == nil { // kept since the layouts were read
			if layouts, err = s.layouts(ctx); err != nil {
				return nil, err
			}
			a.Layout = layouts[layout]
		}
		if a.Layout == nil || len(a.marks) != len(a.Layout.Items) {
			return nil, errors.New("attempt " + a.Name + " has no list of items; run markaround regrade")
		}
		list = append(list, a)
	}
	return list, rows.Err()
}

func (s *Store) layouts(ctx context.Context) (map[string]*Layout, error) {
	rows, err := s.read().query(ctx, `SELECT id, items FROM layouts`)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	out := map[string]*Layout{}
	for rows.Next() {
		var l Layout
		var items string
		if err := rows.Scan(&l.ID, &items); err != nil {
			return nil, err
		}
		if err := json.Unmarshal([]byte(items), &l.Items); err != nil {
			return nil, err
		}
		out[l.ID] = &l
	}
	return out, rows.Err()
}
