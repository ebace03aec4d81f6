package store

import (
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"strconv"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"markaround/rubric"
)

// Details are what a person says of an attempt. "" and 0 are not known.
type Details struct {
	Student    string // id
	Number     int    // of the student's attempts, from 1
	Day        string // 2006-01-02
	Cohort     string
	Site       string
	Instructor string // id
	Vehicle    string
}

// Marking is how a transcript was marked: what it takes to mark it again.
type Marking struct {
	Rubric string   `json:"rubric"` // name or file
	With   []string `json:"with"`   // names or files
	Only   []string `json:"only"`   // section ids
	Format string   `json:"format"` // of the transcript, "" when told from the content
	Labels []string `json:"labels"` // of the student
}

// Attempt is a kept attempt without its transcript and sheet.
type Attempt struct {
	ID   int64
	Name string // as on the sheet
	Details
	TranscriptHash string // hex SHA-256
	TranscriptPath string // where it lay, "" for standard input
	RecordingPath  string // "" without one
	RecordingHash  string // hex SHA-256
	Marking        Marking
	Rubric         rubric.RubricID // without title and edition
	Tool           string
	Kept, Marked   string // RFC 3339
	Points, Of     float64
	Pass           bool
	Seconds        float64 // from the first word to the last
}

// Entry is an attempt to be kept.
type Entry struct {
	Name           string
	Details        Details
	Transcript     []byte // the file as it is
	TranscriptPath string
	RecordingPath  string
	RecordingHash  string
	Marking        Marking
	Sheet          *rubric.Sheet
	Rule           rubric.Rule
}

// Kept is what Keep did.
type Kept struct {
	Attempt
	New    bool     // false when the same transcript had been kept before
	Differ []string // details that were given and are not those kept before: "cohort is spring, not fall"
}

// Hash is the hash that tells whether two files are the same.
func Hash(data []byte) string {
	sum := sha256.Sum256(data)
	return hex.EncodeToString(sum[:])
}

// tidy trims the details and finds what is wrong with them.
func (d *Details) tidy() error {
	for _, f := range d.texts() {
		*f.value = strings.TrimSpace(*f.value)
		switch {
		case !utf8.ValidString(*f.value) || strings.ContainsFunc(*f.value, unicode.IsControl):
			return tell("%s %q: has characters that cannot be printed", f.name, *f.value)
		case utf8.RuneCountInString(*f.value) > 100:
			return tell("%s %q...: has more than 100 characters", f.name, string([]rune(*f.value)[:20]))
		}
	}
	if d.Day != "" {
		if _, err := time.Parse(time.DateOnly, d.Day); err != nil {
			return tell("date %q: write it as 2026-11-25", d.Day)
		}
	}
	if d.Number < 0 {
		return tell("number %d: attempts are counted from 1", d.Number)
	}
	return nil
}

type field struct {
	name  string
	value *string
}

// texts are the details that are texts, by the name that users know.
func (d *Details) texts() []field {
	return []field{{"student id", &d.Student}, {"date", &d.Day}, {"cohort", &d.Cohort}, {"site", &d.Site}, {"instructor", &d.Instructor}, {"vehicle", &d.Vehicle}}
}

// differ says which details given are not those kept.
func (d Details) differ(kept Details) (list []string) {
	have := kept.texts()
	for i, f := range d.texts() {
		if *f.value != "" && *f.value != *have[i].value {
			was := *have[i].value
			if was == "" {
				was = "not known"
			}
			list = append(list, fmt.Sprintf("%s is %s, not %s", f.name, was, *f.value))
		}
	}
	if d.Number != 0 && d.Number != kept.Number {
		list = append(list, fmt.Sprintf("number is %d, not %d", kept.Number, d.Number))
	}
	return list
}

// Keep keeps an attempt. The same transcript twice is one attempt: the second
// time nothing is changed, and what is kept comes back with New false. Without a
// number the attempt is the student's next.
func (s *Store) Keep(ctx context.Context, e Entry) (Kept, error) {
	var kept Kept
	doing := fmt.Sprintf("keep attempt %s", e.Name)
	given := e.Details
	err := given.tidy()
	if err == nil && given.Student == "" {
		err = tell("attempt %s: no student id", e.Name)
	}
	if err != nil {
		return kept, err
	}
	hash := Hash(e.Transcript)
	err = s.write(ctx, func(q queryer) error {
		old, err := attemptWhere(ctx, q, "transcript_hash = ?", hash)
		if err != nil || len(old) > 0 {
			if len(old) > 0 {
				kept = Kept{Attempt: old[0], Differ: given.differ(old[0].Details)}
			}
			return err
		}
		d := given
		// It also holds the student's row, so that numbers are given one after
		// the other.
		if _, err := q.exec(ctx, `INSERT INTO students (id, cohort, site) VALUES (?, '', '') ON CONFLICT (id) DO UPDATE SET cohort = students.cohort`, d.Student); err != nil {
			return err
		}
		if d.Number == 0 {
			if err := q.row(ctx, `SELECT COALESCE(MAX(number), 0) + 1 FROM attempts WHERE student = ?`, d.Student).Scan(&d.Number); err != nil {
				return err
			}
		}
		text, err := pack(e.Transcript)
		if err != nil {
			return err
		}
		marking, err := json.Marshal(e.Marking)
		if err != nil {
			return err
		}
		sum, err := summarize(e.Sheet)
		if err != nil {
			return err
		}
		if err := putLayout(ctx, q, sum); err != nil {
			return err
		}
		at := now()
		var id int64
		err = q.row(ctx, `INSERT INTO attempts (name, student, number, day, cohort, site, instructor, vehicle,
			transcript_hash, transcript_path, recording_path, recording_hash, marking,
			rubric, rubric_version, rubric_hash, rubric_with, tool, kept, marked,
			points, points_of, pass, seconds, layout, marks, details)
			VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, '', '', '', '', '', ?, '', 0, 0, 0, 0, ?, '', '')
			ON CONFLICT (transcript_hash) DO NOTHING RETURNING id`,
			valid(e.Name), d.Student, d.Number, d.Day, d.Cohort, d.Site, d.Instructor, d.Vehicle,
			hash, valid(e.TranscriptPath), valid(e.RecordingPath), e.RecordingHash, string(marking), at, sum.layout).Scan(&id)
		if errors.Is(err, sql.ErrNoRows) {
			// Another process has kept it since we looked (PostgreSQL only).
			old, err := attemptWhere(ctx, q, "transcript_hash = ?", hash)
			if err == nil && len(old) > 0 {
				kept = Kept{Attempt: old[0], Differ: given.differ(old[0].Details)}
			}
			return err
		}
		if err != nil {
			return err
		}
		if _, err := q.exec(ctx, `INSERT INTO transcripts (attempt, text) VALUES (?, ?)`, id, text); err != nil {
			return err
		}
		if err := putSheet(ctx, q, id, e.Sheet, e.Rule); err != nil {
			return err
		}
		if err := putSummary(ctx, q, id, sum); err != nil {
			return err
		}
		made, err := attemptWhere(ctx, q, "a.id = ?", id)
		if err != nil {
			return err
		}
		kept = Kept{Attempt: made[0], New: true}
		return nil
	})
	if err != nil {
		return Kept{}, s.fail(doing, err)
	}
	return kept, nil
}

// valid is text that every database takes.
func valid(text string) string {
	return strings.ReplaceAll(strings.ToValidUTF8(text, "\ufffd"), "\x00", "")
}

const attemptColumns = `a.id, a.name, a.student, a.number, a.day, COALESCE(NULLIF(a.cohort, ''), s.cohort), COALESCE(NULLIF(a.site, ''), s.site),
	a.instructor, a.vehicle, a.transcript_hash, a.transcript_path, a.recording_path, a.recording_hash, a.marking,
	a.rubric, a.rubric_version, a.rubric_hash, a.rubric_with, a.tool, a.kept, a.marked, a.points, a.points_of, a.pass, a.seconds`

const fromAttempts = ` FROM attempts a JOIN students s ON s.id = a.student `

// attemptWhere reads the attempts for which the condition holds, by number.
func attemptWhere(ctx context.Context, q queryer, condition string, args ...any) ([]Attempt, error) {
	rows, err := q.query(ctx, `SELECT `+attemptColumns+fromAttempts+`WHERE `+condition+` ORDER BY a.id`, args...)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var list []Attempt
	for rows.Next() {
		var a Attempt
		if err := a.scan(rows); err != nil {
			return nil, err
		}
		list = append(list, a)
	}
	return list, rows.Err()
}

// scan reads the columns of attemptColumns and then those of more.
func (a *Attempt) scan(rows *sql.Rows, more ...any) error {
	var marking, with string
	to := []any{&a.ID, &a.Name, &a.Student, &a.Number, &a.Day, &a.Cohort, &a.Site,
		&a.Instructor, &a.Vehicle, &a.TranscriptHash, &a.TranscriptPath, &a.RecordingPath, &a.RecordingHash, &marking,
		&a.Rubric.ID, &a.Rubric.Version, &a.Rubric.Hash, &with, &a.Tool, &a.Kept, &a.Marked, &a.Points, &a.Of, &a.Pass, &a.Seconds}
	if err := rows.Scan(append(to, more...)...); err != nil {
		return err
	}
	if err := fromJSON(marking, &a.Marking); err != nil {
		return fmt.Errorf("attempt %d: marking: %w", a.ID, err)
	}
	if err := fromJSON(with, &a.Rubric.With); err != nil {
		return fmt.Errorf("attempt %d: overlays: %w", a.ID, err)
	}
	return nil
}

func fromJSON(text string, v any) error {
	if text == "" || text == "[]" {
		return nil
	}
	return json.Unmarshal([]byte(text), v)
}

// Filter picks attempts; its zero value picks all.
type Filter struct {
	Student string
	Cohort  string
	Site    string
}

func (f Filter) where() (condition string, args []any) {
	condition = "1 = 1"
	for _, c := range []struct{ text, value string }{
		{"a.student = ?", f.Student},
		{"COALESCE(NULLIF(a.cohort, ''), s.cohort) = ?", f.Cohort},
		{"COALESCE(NULLIF(a.site, ''), s.site) = ?", f.Site},
	} {
		if c.value != "" {
			condition += " AND " + c.text
			args = append(args, c.value)
		}
	}
	return condition, args
}

// Attempts lists the attempts in the order in which they were kept.
func (s *Store) Attempts(ctx context.Context, f Filter) ([]Attempt, error) {
	condition, args := f.where()
	list, err := attemptWhere(ctx, s.read(), condition, args...)
	return list, s.fail("list the attempts", err)
}

// Find gives the attempt of a reference: its number in the store, or its name
// where no other attempt has it. Figures alone are always a number.
func (s *Store) Find(ctx context.Context, ref string) (Attempt, error) {
	a, err := find(ctx, s.read(), ref)
	return a, s.fail("look for attempt "+ref, err)
}

func find(ctx context.Context, q queryer, ref string) (Attempt, error) {
	ref = strings.TrimSpace(ref)
	if id, err := strconv.ParseInt(ref, 10, 64); err == nil {
		list, err := attemptWhere(ctx, q, "a.id = ?", id)
		if err == nil && len(list) == 0 {
			err = tell("attempt %s is %w; markaround attempts lists those that are", ref, ErrNotFound)
		}
		if err != nil {
			return Attempt{}, err
		}
		return list[0], nil
	}
	list, err := attemptWhere(ctx, q, "a.name = ?", valid(ref))
	switch {
	case err != nil:
		return Attempt{}, err
	case len(list) == 0:
		return Attempt{}, tell("attempt %s is %w; markaround attempts lists those that are", ref, ErrNotFound)
	case len(list) > 1:
		var ids []string
		for _, a := range list {
			ids = append(ids, strconv.FormatInt(a.ID, 10))
		}
		return Attempt{}, tell("attempts %s are all called %s; give the number", strings.Join(ids, ", "), ref)
	}
	return list[0], nil
}

// Amend changes the details that are given, and gives the attempt as it is then.
func (s *Store) Amend(ctx context.Context, id int64, d Details) (Attempt, error) {
	if err := d.tidy(); err != nil {
		return Attempt{}, err
	}
	var out Attempt
	err := s.write(ctx, func(q queryer) error {
		if d.Student != "" {
			if _, err := q.exec(ctx, `INSERT INTO students (id, cohort, site) VALUES (?, '', '') ON CONFLICT (id) DO NOTHING`, d.Student); err != nil {
				return err
			}
		}
		if _, err := q.exec(ctx, `UPDATE attempts SET student = COALESCE(NULLIF(?, ''), student), day = COALESCE(NULLIF(?, ''), day),
			cohort = COALESCE(NULLIF(?, ''), cohort), site = COALESCE(NULLIF(?, ''), site), instructor = COALESCE(NULLIF(?, ''), instructor),
			vehicle = COALESCE(NULLIF(?, ''), vehicle), number = COALESCE(NULLIF(?, 0), number) WHERE id = ?`,
			d.Student, d.Day, d.Cohort, d.Site, d.Instructor, d.Vehicle, d.Number, id); err != nil {
			return err
		}
		var err error
		out, err = find(ctx, q, strconv.FormatInt(id, 10))
		return err
	})
	return out, s.fail(fmt.Sprintf("amend attempt %d", id), err)
}
