package store

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
)

// Backup copies the whole store, as it is at one moment, into a new SQLite file,
// checks the copy, and tells its attempts. It never writes over a file. A
// PostgreSQL store is backed up with the server's own pg_dump.
func (s *Store) Backup(ctx context.Context, path string) (attempts int, err error) {
	if s.postgres {
		return 0, fmt.Errorf("%s: backup copies a SQLite store; use pg_dump --schema=%s for one of PostgreSQL", s.where, schemaName)
	}
	doing := "write the backup " + path
	abs, err := filepath.Abs(path)
	if err != nil {
		return 0, err
	}
	// The place is taken first, so that nobody else's file can be written over.
	// VACUUM INTO writes into an empty file.
	f, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	switch {
	case errors.Is(err, fs.ErrExist):
		return 0, fmt.Errorf("%s: exists already; give the backup another name", path)
	case err != nil:
		return 0, fmt.Errorf("%s: cannot be written: %w", path, pathCause(err))
	}
	f.Close()
	defer func() {
		if err != nil {
			os.Remove(path)
		}
	}()
	// Before the copy: it is to know of itself that it holds everybody.
	if _, err := s.read().exec(ctx, `INSERT INTO backups (path, made) VALUES (?, ?)`, valid(abs), now()); err != nil {
		return 0, s.fail(doing, err)
	}
	if _, err := s.read().exec(ctx, `VACUUM INTO ?`, path); err != nil {
		return 0, s.fail(doing, err)
	}
	attempts, err = s.checkCopy(ctx, path)
	if err == nil {
		err = sync(path)
	}
	return attempts, s.fail(doing, err)
}

// checkCopy reads a copy from end to end.
func (s *Store) checkCopy(ctx context.Context, path string) (attempts int, err error) {
	c, err := Open(ctx, path, Options{})
	if err != nil {
		return 0, err
	}
	defer c.Close()
	if err := c.Check(ctx); err != nil {
		return 0, err
	}
	err = c.read().row(ctx, `SELECT count(*) FROM attempts`).Scan(&attempts)
	return attempts, err
}

// Check reads the whole store and tells whether it is sound. Of a PostgreSQL
// store it checks no more than that its tables can be read.
func (s *Store) Check(ctx context.Context) error {
	if s.postgres {
		_, err := s.Attempts(ctx, Filter{})
		return err
	}
	var say string
	err := s.read().row(ctx, `PRAGMA integrity_check(1)`).Scan(&say)
	if err == nil && say != "ok" {
		err = tell("%s: the store is damaged (%w); go back to the last backup", s.where, oneLine{errors.New(say)})
	}
	if err == nil {
		rows, e := s.read().query(ctx, `PRAGMA foreign_key_check`)
		if err = e; err == nil {
			defer rows.Close()
			if rows.Next() {
				err = tell("%s: the store is damaged (a row without the one it belongs to); go back to the last backup", s.where)
			} else {
				err = rows.Err()
			}
		}
	}
	return s.fail("check the store", err)
}

func (s *Store) backups(ctx context.Context) ([]string, error) {
	rows, err := s.read().query(ctx, `SELECT path FROM backups ORDER BY id`)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var list []string
	for rows.Next() {
		var path string
		if err := rows.Scan(&path); err != nil {
			return nil, err
		}
		if _, err := os.Stat(path); err == nil { // those that are there still
			list = append(list, path)
		}
	}
	return list, rows.Err()
}

// sync brings a file that another handle wrote onto the disk.
func sync(path string) error {
	f, err := os.OpenFile(path, os.O_RDWR, 0)
	if err != nil {
		return err
	}
	return errors.Join(f.Sync(), f.Close())
}
