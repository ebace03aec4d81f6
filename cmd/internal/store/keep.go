package store

import (
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"

	"markaround/rubric"
	"markaround/speech"
)

// Entry is an attempt to be kept.
type Entry struct {
	Name       string // the attempt's on its sheet
	Details    Details
	Transcript []byte        // the file as it is
	Sound      *speech.Sound // of its recording, nil without one; only where somebody speaks is kept of it
	Recording  string        // path of a recording to be copied into the store, "" for none
	Marking    Marking
	Sheet      *rubric.Sheet
	Rule       rubric.Rule

	packed *packed
}

// packed is an entry as the database takes it.
type packed struct {
	source  string
	hash    string
	text    []byte
	sound   []byte
	marking string
	sheet   packedSheet
	sum     summary
}

// Pack does the part of keeping an entry that needs no store. Keep does it where
// it has not been done; calling it first, on many goroutines, takes the work off
// the one that keeps. Transcript and Sheet are given up.
func (e *Entry) Pack() error {
	if e.packed != nil {
		return nil
	}
	err := e.Details.tidy()
	if err == nil && e.Details.Student == "" {
		err = tell("attempt %s: no student id", e.Name)
	}
	if err != nil {
		return err
	}
	p := &packed{source: e.Sheet.Source, hash: Hash(e.Transcript), sound: []byte{}}
	if p.text, err = pack(e.Transcript); err != nil {
		return err
	}
	if e.Sound != nil {
		quiet := *e.Sound
		quiet.Level = nil // as long as the recording, and for show only
		if p.sound, err = packJSON(quiet); err != nil {
			return err
		}
	}
	marking, err := json.Marshal(e.Marking)
	if err != nil {
		return err
	}
	p.marking = string(marking)
	if p.sheet, err = newPackedSheet(e.Sheet, e.Rule); err != nil {
		return err
	}
	if p.sum, err = summarize(e.Sheet); err != nil {
		return err
	}
	e.packed, e.Transcript, e.Sheet = p, nil, nil
	return nil
}

// Kept is what Keep did.
type Kept struct {
	Attempt
	New    bool     // false when the same transcript had been kept before
	Differ []string // details that were given and are not those kept before: "cohort is spring, not fall"
	Other  string   // score sheet that was given and is not the one kept before, "" when it is
}

// Keep keeps attempts, all of them or none; when it returns without an error they
// are on the disk. The same transcript twice is one attempt: the second time
// nothing is changed but that a recording that was lacking is added, and what is
// kept comes back with New false. Without a number the attempt is the student's
// next. A name that another attempt has gets a figure behind it.
func (s *Store) Keep(ctx context.Context, entries ...Entry) ([]Kept, error) {
	doing := "keep the attempts"
	if len(entries) == 1 {
		doing = "keep attempt " + entries[0].Name
	}
	for i := range entries {
		if err := entries[i].Pack(); err != nil {
			return nil, s.fail(doing, err)
		}
	}
	var list []Kept
	err := s.write(ctx, func(q queryer) error {
		for i := range entries {
			k, err := keep(ctx, q, &entries[i])
			if err != nil {
				return err
			}
			list = append(list, k)
		}
		return nil
	})
	if err != nil {
		return nil, s.fail(doing, err)
	}
	return list, nil
}

func keep(ctx context.Context, q queryer, e *Entry) (Kept, error) {
	p := e.packed
	old, err := attemptWhere(ctx, q, "transcript_hash = ?", p.hash)
	if err != nil {
		return Kept{}, err
	}
	if len(old) > 0 {
		return again(ctx, q, old[0], e)
	}
	d := e.Details
	if err := known(ctx, q, d.Student); err != nil {
		return Kept{}, err
	}
	if d.Number == 0 {
		if err := q.row(ctx, `SELECT COALESCE(MAX(number), 0) + 1 FROM attempts WHERE student = ?`, d.Student).Scan(&d.Number); err != nil {
			return Kept{}, err
		}
	}
	name, err := freeName(ctx, q, valid(e.Name))
	if err != nil {
		return Kept{}, err
	}
	if err := putLayout(ctx, q, p.sum); err != nil {
		return Kept{}, err
	}
	at := now()
	var id int64
	err = q.row(ctx, `INSERT INTO attempts (name, student, number, day, cohort, site, instructor, vehicle,
		source, transcript_hash, recording_hash, marking, rubric, rubric_version, rubric_hash, rubric_with, tool, kept, marked,
		points, points_of, pass, seconds, layout, marks, details, listen)
		VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, '', ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)
		RETURNING id`,
		name, d.Student, d.Number, d.Day, d.Cohort, d.Site, d.Instructor, d.Vehicle,
		valid(p.source), p.hash, p.marking, p.sheet.rubric.ID, p.sheet.rubric.Version, p.sheet.rubric.Hash, p.sheet.with, p.sheet.tool, at, at,
		p.sum.points, p.sum.of, p.sum.pass, p.sum.seconds, p.sum.layout, p.sum.marks, p.sum.more, p.sum.listen).Scan(&id)
	if err != nil {
		return Kept{}, err
	}
	if _, err := q.exec(ctx, `INSERT INTO transcripts (attempt, text, sound) VALUES (?, ?, ?)`, id, p.text, p.sound); err != nil {
		return Kept{}, err
	}
	if err := p.sheet.put(ctx, q, id); err != nil {
		return Kept{}, err
	}
	if e.Recording != "" {
		if err := putRecording(ctx, q, id, e.Recording); err != nil {
			return Kept{}, err
		}
	}
	made, err := attemptWhere(ctx, q, "a.id = ?", id)
	if err != nil {
		return Kept{}, err
	}
	return Kept{Attempt: made[0], New: true}, nil
}

// again is what is done about a transcript that is in the store.
func again(ctx context.Context, q queryer, old Attempt, e *Entry) (Kept, error) {
	k := Kept{Attempt: old, Differ: e.Details.differ(old.Details)}
	if r := e.packed.sheet.rubric; r.ID != old.Rubric.ID || r.Hash != old.Rubric.Hash {
		k.Other = r.ID
	}
	if e.Recording == "" || old.RecordingHash != "" {
		return k, nil
	}
	if err := putRecording(ctx, q, old.ID, e.Recording); err != nil {
		return k, err
	}
	list, err := attemptWhere(ctx, q, "a.id = ?", old.ID)
	if err == nil {
		k.Attempt = list[0]
	}
	return k, err
}

// freeName is the name with a figure behind it where another attempt has it.
func freeName(ctx context.Context, q queryer, name string) (string, error) {
	for n := 1; ; n++ {
		free := name
		if n > 1 {
			free = fmt.Sprintf("%s-%d", name, n)
		}
		var there int
		if err := q.row(ctx, `SELECT count(*) FROM attempts WHERE name = ?`, free).Scan(&there); err != nil || there == 0 {
			return free, err
		}
	}
}

// recordingPart is the size of a part of a recording, in bytes.
const recordingPart = 1 << 20

func putRecording(ctx context.Context, q queryer, id int64, path string) error {
	f, err := os.Open(path)
	if err != nil {
		return tell("%s: the recording cannot be copied: %w", path, pathCause(err))
	}
	defer f.Close()
	hash := sha256.New()
	buf := make([]byte, recordingPart)
	for part := 0; ; part++ {
		n, err := io.ReadFull(f, buf)
		if err != nil && err != io.EOF && err != io.ErrUnexpectedEOF {
			return tell("%s: the recording cannot be copied: %w", path, pathCause(err))
		}
		if n > 0 {
			hash.Write(buf[:n])
			if _, err := q.exec(ctx, `INSERT INTO recordings (attempt, part, data) VALUES (?, ?, ?)`, id, part, buf[:n]); err != nil {
				return err
			}
		}
		if err != nil {
			break
		}
	}
	_, err = q.exec(ctx, `UPDATE attempts SET recording_hash = ? WHERE id = ?`, hex.EncodeToString(hash.Sum(nil)), id)
	return err
}

// Recording writes the copy of an attempt's recording. It is an error when none
// is kept.
func (s *Store) Recording(ctx context.Context, id int64, w io.Writer) error {
	doing := fmt.Sprintf("read the recording of attempt %d", id)
	part := 0
	for ; ; part++ {
		var data []byte
		err := s.read().row(ctx, `SELECT data FROM recordings WHERE attempt = ? AND part = ?`, id, part).Scan(&data)
		if errors.Is(err, sql.ErrNoRows) {
			break
		}
		if err != nil {
			return s.fail(doing, err)
		}
		if _, err := w.Write(data); err != nil {
			return err
		}
	}
	if part == 0 {
		return fmt.Errorf("%s: no recording of attempt %d is kept; grade --keep --keep-audio keeps one", s.where, id)
	}
	return nil
}
