package store

import (
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"regexp"
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
	Source         string // the transcript's file name, no folder
	TranscriptHash string // hex SHA-256
	RecordingHash  string // hex SHA-256 of the copy that is kept, "" without one
	Marking        Marking
	Rubric         rubric.RubricID // without title and edition
	Tool           string
	Kept, Marked   string // RFC 3339
	Points, Of     float64
	Pass           bool
	Seconds        float64 // from the first word to the last
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
		if fault := DayFault(d.Day); fault != "" {
			return tell("date %q: %s", d.Day, fault)
		}
	}
	if d.Number < 0 {
		return tell("number %d: attempts are counted from 1", d.Number)
	}
	return nil
}

var dayForm = regexp.MustCompile(`^[0-9]{4}-[0-9]{2}-[0-9]{2}$`)

// DayFault says what is wrong with a day, "" when nothing is.
func DayFault(day string) string {
	switch _, err := time.Parse(time.DateOnly, day); {
	case err == nil:
		return ""
	case dayForm.MatchString(day):
		return "there is no such day"
	}
	return "write it as 2026-11-25"
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

// valid is text that every database takes.
func valid(text string) string {
	return strings.ReplaceAll(strings.ToValidUTF8(text, "\ufffd"), "\x00", "")
}

const attemptColumns = `a.id, a.name, a.student, a.number, a.day, COALESCE(NULLIF(a.cohort, ''), s.cohort), COALESCE(NULLIF(a.site, ''), s.site),
	COALESCE(NULLIF(a.instructor, ''), s.instructor), a.vehicle, a.source, a.transcript_hash, a.recording_hash, a.marking,
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
	var in scanner
	for rows.Next() {
		var a Attempt
		if err := in.scan(&a, rows); err != nil {
			return nil, err
		}
		list = append(list, a)
	}
	return list, rows.Err()
}

// scanner reads rows of attempts. Most are marked in the same way, so what is JSON
// is read once, and texts that many share are kept once; lists are shared.
type scanner struct {
	markings map[string]Marking
	withs    map[string][]string
	texts    map[string]string

	a             Attempt // read into, so that the places are listed once
	marking, with string
	to            []any
}

// scan reads a row of attemptColumns.
func (in *scanner) scan(a *Attempt, rows *sql.Rows) error {
	if in.to == nil {
		in.places()
	}
	return in.read(a, rows)
}

// places lists where the columns of attemptColumns and then more go.
func (in *scanner) places(more ...any) {
	t := &in.a
	in.to = append([]any{&t.ID, &t.Name, &t.Student, &t.Number, &t.Day, &t.Cohort, &t.Site,
		&t.Instructor, &t.Vehicle, &t.Source, &t.TranscriptHash, &t.RecordingHash, &in.marking,
		&t.Rubric.ID, &t.Rubric.Version, &t.Rubric.Hash, &in.with, &t.Tool, &t.Kept, &t.Marked, &t.Points, &t.Of, &t.Pass, &t.Seconds}, more...)
	in.markings = map[string]Marking{}
}

func (in *scanner) read(a *Attempt, rows *sql.Rows) error {
	if err := rows.Scan(in.to...); err != nil {
		return err
	}
	if in.texts == nil {
		in.withs, in.texts = map[string][]string{}, map[string]string{}
	}
	*a = in.a
	for _, p := range []*string{&a.Student, &a.Day, &a.Cohort, &a.Site, &a.Instructor, &a.Vehicle, &a.Rubric.ID, &a.Rubric.Version, &a.Rubric.Hash, &a.Tool} {
		if t, ok := in.texts[*p]; ok {
			*p = t
		} else {
			in.texts[*p] = *p
		}
	}
	var ok bool
	if a.Marking, ok = in.markings[in.marking]; !ok && in.markings != nil {
		if err := fromJSON(in.marking, &a.Marking); err != nil {
			return fmt.Errorf("attempt %d: marking: %w", a.ID, err)
		}
		in.markings[in.marking] = a.Marking
	}
	if a.Rubric.With, ok = in.withs[in.with]; !ok {
		if err := fromJSON(in.with, &a.Rubric.With); err != nil {
			return fmt.Errorf("attempt %d: overlays: %w", a.ID, err)
		}
		in.withs[in.with] = a.Rubric.With
	}
	return nil
}

func fromJSON(text string, v any) error {
	if text == "" || text == "[]" {
		return nil
	}
	return json.Unmarshal([]byte(text), v)
}

// Filter picks attempts; its zero value picks all. What an attempt does not say
// of cohort, site and instructor is the student's.
type Filter struct {
	Student    string
	Cohort     string
	Site       string
	Instructor string
	Vehicle    string
	Rubric     string // id of the score sheet
	From, To   string // days, 2006-01-02, both included; attempts without a day are in neither
}

func (f Filter) where() (condition string, args []any) {
	condition = "1 = 1"
	if f.Cohort != "" { // in a form that indexes serve
		condition += " AND (a.cohort = ? OR a.cohort = '' AND a.student IN (SELECT id FROM students WHERE cohort = ?))"
		args = append(args, f.Cohort, f.Cohort)
	}
	for _, c := range []struct{ text, value string }{
		{"a.student = ?", f.Student},
		{"COALESCE(NULLIF(a.site, ''), s.site) = ?", f.Site},
		{"COALESCE(NULLIF(a.instructor, ''), s.instructor) = ?", f.Instructor},
		{"a.vehicle = ?", f.Vehicle},
		{"a.rubric = ?", f.Rubric},
		{"a.day >= ?", f.From},
		{"a.day <> '' AND a.day <= ?", f.To},
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
			if err := known(ctx, q, d.Student); err != nil {
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
