package store

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"strings"

	"github.com/jackc/pgx/v5/pgconn"
	"modernc.org/sqlite"
	sqlite3 "modernc.org/sqlite/lib"
)

// ErrNotFound is wrapped in the error for an attempt or student that the store
// does not have.
var ErrNotFound = errors.New("not in the store")

// told is an error that is ready for the user.
type told struct{ error }

func (t told) Unwrap() error { return t.error }

func tell(format string, args ...any) error { return told{fmt.Errorf(format, args...)} }

// fail says what could not be done and why, in one line. Errors that have been
// worded already pass through.
func (s *Store) fail(what string, err error) error {
	if err == nil {
		return nil
	}
	if _, ok := errors.AsType[told](err); ok {
		return err
	}
	if errors.Is(err, context.Canceled) {
		return fmt.Errorf("%s: stopped before it could %s: %w", s.where, what, err)
	}
	advice := s.advice(err)
	if advice != "" {
		advice = "; " + advice
	}
	return fmt.Errorf("%s: cannot %s: %w%s", s.where, what, oneLine{err}, advice)
}

// advice is what to do about an error of a database, "" when there is nothing
// to say.
func (s *Store) advice(err error) string {
	if e, ok := errors.AsType[*sqlite.Error](err); ok {
		switch e.Code() & 0xff {
		case sqlite3.SQLITE_FULL:
			return "the disk is full, nothing of it was kept; make room and run the command again"
		case sqlite3.SQLITE_IOERR:
			return "the disk does not take it, nothing of it was kept; look whether it is full or has gone, and run the command again"
		case sqlite3.SQLITE_NOTADB:
			return "the file is no store; give --store another name"
		case sqlite3.SQLITE_CORRUPT:
			return "the store is damaged; go back to the last backup"
		case sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED:
			return "another program holds the store; run the command again when it is done"
		case sqlite3.SQLITE_READONLY, sqlite3.SQLITE_CANTOPEN, sqlite3.SQLITE_PERM:
			return "the file or its folder may not be written to"
		}
	}
	if e, ok := errors.AsType[*pgconn.PgError](err); ok {
		switch {
		case e.Code == "53100":
			return "the server's disk is full, nothing of it was kept"
		case e.Code == "42501":
			return "the user of the connection string needs the right to make and write tables"
		}
	}
	if _, ok := errors.AsType[*pgconn.ConnectError](err); ok {
		return "is the server running, and is the connection string right?"
	}
	return ""
}

// oneLine is an error whose message is one line.
type oneLine struct{ error }

func (e oneLine) Unwrap() error { return e.error }

func (e oneLine) Error() string {
	var parts []string
	for line := range strings.Lines(e.error.Error()) {
		if line = strings.TrimSpace(line); line != "" {
			parts = append(parts, line)
		}
	}
	return strings.Join(parts, " ")
}

// pathCause takes the operation and the path off an error of the file system.
func pathCause(err error) error {
	if pe, ok := errors.AsType[*fs.PathError](err); ok {
		return pe.Err
	}
	return err
}
