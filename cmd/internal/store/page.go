package store

import (
	"context"
	"fmt"
	"strconv"
	"strings"
)

// Listed is an attempt as a list shows it.
type Listed struct {
	Attempt
	Listen int // doubtful marks left
}

// Page gives a part of the list of attempts: those with doubtful marks come first,
// of each kind the ones kept last. It begins behind the place that next of the part
// before names, "" for the beginning; next is "" at the end. Places stay right when
// attempts are kept or reviewed in between.
func (s *Store) Page(ctx context.Context, f Filter, after string, limit int) (list []Listed, next string, err error) {
	list, next, err = s.page(ctx, f, after, limit)
	return list, next, s.fail("list the attempts", err)
}

func (s *Store) page(ctx context.Context, f Filter, after string, limit int) (list []Listed, next string, err error) {
	kind, below, ok := strings.Cut(after, "-")
	id := int64(0)
	if after == "" {
		kind = "w"
	} else if id, err = strconv.ParseInt(below, 10, 64); err != nil || !ok || kind != "w" && kind != "d" {
		return nil, "", tell("%q as a place in the list is %w", after, ErrNotFound)
	}
	for _, k := range []string{"w", "d"} {
		if kind == "d" && k == "w" {
			continue
		}
		condition, args := f.where()
		if k == "w" {
			condition += " AND a.listen > 0"
		} else {
			condition += " AND a.listen = 0"
		}
		if k == kind && after != "" {
			condition += " AND a.id < ?"
			args = append(args, id)
		}
		more, err := s.listed(ctx, condition+" ORDER BY a.id DESC LIMIT ?", append(args, limit+1-len(list)))
		if err != nil {
			return nil, "", err
		}
		if list = append(list, more...); len(list) > limit {
			list = list[:limit]
			if last := list[limit-1]; last.Listen > 0 {
				return list, fmt.Sprintf("w-%d", last.ID), nil
			} else {
				return list, fmt.Sprintf("d-%d", last.ID), nil
			}
		}
	}
	return list, "", nil
}

func (s *Store) listed(ctx context.Context, condition string, args []any) (list []Listed, err error) {
	rows, err := s.read().query(ctx, `SELECT `+attemptColumns+`, a.listen`+fromAttempts+`WHERE `+condition, args...)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var in scanner
	var listen int
	in.places(&listen)
	for rows.Next() {
		a := Listed{}
		if err := in.scan(&a.Attempt, rows); err != nil {
			return nil, err
		}
		a.Listen = listen
		list = append(list, a)
	}
	return list, rows.Err()
}

// Counts counts the attempts that the filter picks, and those of them with
// doubtful marks.
func (s *Store) Counts(ctx context.Context, f Filter) (all, waiting int, err error) {
	condition, args := f.where()
	from := fromAttempts
	if f.Site == "" && f.Instructor == "" {
		from = ` FROM attempts a `
	}
	count := func(more string, n *int) {
		if err == nil {
			err = s.read().row(ctx, `SELECT count(*)`+from+`WHERE `+condition+more, args...).Scan(n)
		}
	}
	count("", &all)
	count(" AND a.listen > 0", &waiting)
	return all, waiting, s.fail("count the attempts", err)
}

// Cohorts lists the cohorts of attempts and students by name.
func (s *Store) Cohorts(ctx context.Context) (list []string, err error) {
	// Each step finds the next name in the index, so that it takes a step a cohort
	// and not one an attempt.
	each := func(table string) string {
		return `SELECT c FROM (WITH RECURSIVE each(c) AS (SELECT MIN(cohort) FROM ` + table + ` UNION ALL
			SELECT (SELECT MIN(cohort) FROM ` + table + ` WHERE cohort > each.c) FROM each WHERE each.c IS NOT NULL) SELECT c FROM each) AS ` + table + `_each`
	}
	rows, err := s.read().query(ctx, each("attempts")+` WHERE c <> '' UNION `+each("students")+` WHERE c <> '' ORDER BY 1`)
	if err == nil {
		defer rows.Close()
		for rows.Next() && err == nil {
			var c string
			if err = rows.Scan(&c); err == nil {
				list = append(list, c)
			}
		}
		if err == nil {
			err = rows.Err()
		}
	}
	return list, s.fail("list the cohorts", err)
}
