package store

import (
	"bytes"
	"compress/gzip"
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"io"

	"markaround/rubric"
	"markaround/speech"
)

// pack makes what is kept of a file or sheet smaller.
func pack(data []byte) ([]byte, error) {
	var b bytes.Buffer
	z, err := gzip.NewWriterLevel(&b, gzip.BestSpeed)
	if err != nil {
		return nil, err
	}
	if _, err := z.Write(data); err != nil {
		return nil, err
	}
	if err := z.Close(); err != nil {
		return nil, err
	}
	return b.Bytes(), nil
}

func unpack(data []byte) ([]byte, error) {
	z, err := gzip.NewReader(bytes.NewReader(data))
	if err != nil {
		return nil, err
	}
	return io.ReadAll(z)
}

func packJSON(v any) ([]byte, error) {
	data, err := json.Marshal(v)
	if err != nil {
		return nil, err
	}
	return pack(data)
}

// packedSheet is a sheet as the database takes it.
type packedSheet struct {
	rubric rubric.RubricID
	with   string // JSON
	tool   string
	rule   string // JSON
	sheet  []byte
}

func newPackedSheet(sheet *rubric.Sheet, rule rubric.Rule) (p packedSheet, err error) {
	p.rubric, p.tool = sheet.Rubric, sheet.Tool
	if p.sheet, err = packJSON(sheet); err != nil {
		return p, err
	}
	how, err := json.Marshal(rule)
	if err != nil {
		return p, err
	}
	with, err := json.Marshal(append([]string{}, sheet.Rubric.With...))
	p.rule, p.with = string(how), string(with)
	return p, err
}

// put keeps the sheet that the program made, in place of the one before.
func (p packedSheet) put(ctx context.Context, q queryer, id int64) error {
	_, err := q.exec(ctx, `INSERT INTO sheets (attempt, rule, sheet) VALUES (?, ?, ?)
		ON CONFLICT (attempt) DO UPDATE SET rule = excluded.rule, sheet = excluded.sheet`, id, p.rule, p.sheet)
	return err
}

// Marks is the sheet of an attempt in both forms.
type Marks struct {
	Machine   *rubric.Sheet       // as the program made it
	Corrected *rubric.Sheet       // with the corrections put on
	Given     []rubric.Correction // all of them, in the order made
	Left      []rubric.Correction // those of things that the sheet does not have
	Rule      rubric.Rule         // what the result is concluded by
}

// ErrForm is wrapped in the error of Marks for a sheet in the form of another
// version. Its corrections come with it, and two empty sheets.
var ErrForm = errors.New("its sheet has form")

// Marks gives the sheet of an attempt.
func (s *Store) Marks(ctx context.Context, id int64) (Marks, error) {
	m, err := marks(ctx, s.read(), id)
	return m, s.fail(fmt.Sprintf("read the sheet of attempt %d", id), err)
}

// Sheet gives the sheet of an attempt with its corrections.
func (s *Store) Sheet(ctx context.Context, id int64) (*rubric.Sheet, error) {
	m, err := s.Marks(ctx, id)
	return m.Corrected, err
}

func marks(ctx context.Context, q queryer, id int64) (m Marks, err error) {
	var how, name string
	var data []byte
	err = q.row(ctx, `SELECT s.rule, s.sheet, a.name FROM sheets s JOIN attempts a ON a.id = s.attempt WHERE s.attempt = ?`, id).Scan(&how, &data, &name)
	if errors.Is(err, sql.ErrNoRows) {
		return m, tell("attempt %d is %w; markaround attempts lists those that are", id, ErrNotFound)
	}
	if err != nil {
		return m, err
	}
	var rule rubric.Rule
	if err := json.Unmarshal([]byte(how), &rule); err != nil {
		return m, err
	}
	if data, err = unpack(data); err != nil {
		return m, err
	}
	if m.Given, err = corrections(ctx, q, id); err != nil {
		return m, err
	}
	m.Machine, m.Corrected = &rubric.Sheet{}, &rubric.Sheet{}
	var form struct {
		Schema int `json:"schema"`
	}
	if err := json.Unmarshal(data, &form); err != nil {
		return m, err
	}
	if form.Schema != rubric.SheetSchema {
		return m, tell("attempt %d: %w %d, this version reads %d; run markaround regrade", id, ErrForm, form.Schema, rubric.SheetSchema)
	}
	if err := json.Unmarshal(data, m.Machine); err != nil {
		return m, err
	}
	m.Machine.Attempt = name // which may have got a figure
	m.Rule, *m.Corrected = rule, *m.Machine
	if len(m.Given) > 0 {
		m.Left = rule.Correct(m.Corrected, m.Given)
	}
	return m, nil
}

// Transcript gives the transcript of an attempt, as the file was, and what is
// kept of its recording, nil without one: where somebody speaks, no levels.
func (s *Store) Transcript(ctx context.Context, id int64) (text []byte, sound *speech.Sound, err error) {
	text, sound, err = s.transcript(ctx, id)
	return text, sound, s.fail(fmt.Sprintf("read the transcript of attempt %d", id), err)
}

func (s *Store) transcript(ctx context.Context, id int64) ([]byte, *speech.Sound, error) {
	var text, sound []byte
	err := s.read().row(ctx, `SELECT text, sound FROM transcripts WHERE attempt = ?`, id).Scan(&text, &sound)
	if errors.Is(err, sql.ErrNoRows) {
		return nil, nil, tell("attempt %d is %w; markaround attempts lists those that are", id, ErrNotFound)
	}
	if err != nil {
		return nil, nil, err
	}
	if text, err = unpack(text); err != nil || len(sound) == 0 {
		return text, nil, err
	}
	if sound, err = unpack(sound); err != nil {
		return nil, nil, err
	}
	var out speech.Sound
	return text, &out, json.Unmarshal(sound, &out)
}

// Replace puts a sheet marked anew in place of the one before; corrections stay
// and are put onto it.
func (s *Store) Replace(ctx context.Context, id int64, sheet *rubric.Sheet, rule rubric.Rule, how Marking) error {
	p, err := newPackedSheet(sheet, rule)
	if err != nil {
		return err
	}
	err = s.write(ctx, func(q queryer) error {
		marking, err := json.Marshal(how)
		if err != nil {
			return err
		}
		done, err := q.exec(ctx, `UPDATE attempts SET marking = ? WHERE id = ?`, string(marking), id)
		if err != nil {
			return err
		}
		if n, err := done.RowsAffected(); err != nil || n == 0 { // forgotten meanwhile
			return errors.Join(err, tell("attempt %d is %w", id, ErrNotFound))
		}
		if err := p.put(ctx, q, id); err != nil {
			return err
		}
		if _, err = q.exec(ctx, `UPDATE attempts SET rubric = ?, rubric_version = ?, rubric_hash = ?, rubric_with = ?, tool = ?, marked = ? WHERE id = ?`,
			p.rubric.ID, p.rubric.Version, p.rubric.Hash, p.with, p.tool, now(), id); err != nil {
			return err
		}
		return refresh(ctx, q, id)
	})
	return s.fail(fmt.Sprintf("keep the new sheet of attempt %d", id), err)
}
