package store

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"slices"
)

// Forgotten is what Forget did, and its proof.
type Forgotten struct {
	Student     string
	Attempts    []Attempt // that were there
	Corrections int
	Backups     []string // made before, which still hold the student
	Mentions    []string // where others' rows name the student: "why of a correction of attempt 7"

	// What was looked for, the student's id and the kept bytes of transcripts
	// and sheets, and in how many places it was found in the store's files. Of a
	// PostgreSQL store only its tables are searched, for the id.
	Searched      []string // files, or tables
	Bytes         int64    // in them, afterwards
	Before, After int
}

// ErrLeft is wrapped in the error of Forget when a search found something left.
var ErrLeft = errors.New("are left")

// Forget removes a student with all attempts and corrections. What was deleted
// is overwritten, the file is written anew without it, and the store's files are
// then searched for what they held before. An error that says so comes with the
// result when anything is left.
func (s *Store) Forget(ctx context.Context, student string) (Forgotten, error) {
	f := Forgotten{Student: student}
	doing := "forget student " + student
	known, err := s.students(ctx)
	if err != nil {
		return f, s.fail(doing, err)
	}
	if !slices.ContainsFunc(known, func(st Student) bool { return st.ID == student }) {
		return f, fmt.Errorf("%s: student %s is %w", s.where, student, ErrNotFound)
	}
	if f.Attempts, err = attemptWhere(ctx, s.read(), "a.student = ?", student); err != nil {
		return f, s.fail(doing, err)
	}
	var look *search
	if !s.postgres {
		// Into the file, so that the search has to find it there.
		if err := s.checkpoint(ctx); err != nil {
			return f, s.fail(doing, err)
		}
		if look, err = s.traces(ctx, student, f.Attempts); err != nil {
			return f, s.fail(doing, err)
		}
		if f.Before, _, _, err = s.scanFiles(look); err != nil {
			return f, s.fail(doing, err)
		}
	}
	err = s.write(ctx, func(q queryer) error {
		const theirs = ` WHERE attempt IN (SELECT id FROM attempts WHERE student = ?)`
		done, err := q.exec(ctx, `DELETE FROM corrections`+theirs, student)
		if err != nil {
			return err
		}
		n, err := done.RowsAffected()
		if err != nil {
			return err
		}
		f.Corrections = int(n)
		for _, text := range []string{`DELETE FROM sheets` + theirs, `DELETE FROM transcripts` + theirs, `DELETE FROM recordings` + theirs,
			`DELETE FROM attempts WHERE student = ?`, `DELETE FROM students WHERE id = ?`} {
			if _, err := q.exec(ctx, text, student); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		return f, s.fail(doing, err)
	}
	if err := s.sweep(ctx); err != nil {
		return f, fmt.Errorf("%w; the rows are deleted, run forget again to clear the file", s.fail("clear the file of "+student, err))
	}
	if f.Backups, err = s.backups(ctx); err != nil {
		return f, s.fail(doing, err)
	}
	if f.Mentions, err = s.mentions(ctx, student); err != nil {
		return f, s.fail(doing, err)
	}
	if s.postgres {
		f.Searched = []string{"tables students and attempts"}
		err = s.read().row(ctx, `SELECT (SELECT count(*) FROM students WHERE id = ?) + (SELECT count(*) FROM attempts WHERE student = ?)`, student, student).Scan(&f.After)
	} else {
		f.After, f.Searched, f.Bytes, err = s.scanFiles(look)
		if err == nil && f.After > 0 && len(look.pieces) > 0 {
			if err = s.forgiveOthers(ctx, look); err == nil {
				f.After, f.Searched, f.Bytes, err = s.scanFiles(look)
			}
		}
	}
	if err != nil {
		return f, s.fail(doing, err)
	}
	if f.After > 0 {
		return f, fmt.Errorf("%s: %d traces of %s %w in the store's files; close other programs that use it and run forget again", s.where, f.After, student, ErrLeft)
	}
	return f, nil
}

// sweep writes the tables anew without what was deleted.
func (s *Store) sweep(ctx context.Context) error {
	if s.postgres {
		for _, table := range []string{"corrections", "sheets", "transcripts", "recordings", "attempts", "students"} {
			if _, err := s.read().exec(ctx, `VACUUM FULL `+table); err != nil {
				return err
			}
		}
		return nil
	}
	if err := s.checkpoint(ctx); err != nil {
		return err
	}
	if _, err := s.read().exec(ctx, `VACUUM`); err != nil {
		return err
	}
	return s.checkpoint(ctx)
}

// checkpoint moves the write-ahead log into the file and empties it.
func (s *Store) checkpoint(ctx context.Context) error {
	var busy, log, moved int
	if err := s.read().row(ctx, `PRAGMA wal_checkpoint(TRUNCATE)`).Scan(&busy, &log, &moved); err != nil {
		return err
	}
	if busy != 0 {
		return tell("%s: another program holds the store; run the command again when it is done", s.where)
	}
	return nil
}

// files are those that SQLite keeps for the store.
func (s *Store) files() (list []string) {
	for _, end := range []string{"", "-wal", "-shm", "-journal"} {
		if _, err := os.Stat(s.path + end); err == nil {
			list = append(list, s.path+end)
		}
	}
	return list
}

// scanFiles counts what is left of a student in the store's files.
func (s *Store) scanFiles(look *search) (found int, files []string, size int64, err error) {
	for _, path := range s.files() {
		f, err := os.Open(path)
		if errors.Is(err, fs.ErrNotExist) {
			continue
		}
		if err != nil {
			return found, files, size, err
		}
		n, bytes, err := look.count(f)
		f.Close()
		if err != nil {
			return found, files, size, err
		}
		found, size, files = found+n, size+bytes, append(files, path)
	}
	return found, files, size, nil
}
