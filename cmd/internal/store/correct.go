package store

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"unicode/utf8"

	"markaround/rubric"
)

// Order is a correction to be made.
type Order struct {
	Attempt int64
	rubric.Correction
}

// OrderError tells which of several orders does not fit.
type OrderError struct {
	Index int
	Err   error
}

func (e *OrderError) Error() string { return e.Err.Error() }
func (e *OrderError) Unwrap() error { return e.Err }

// Correct keeps corrections, all of them or none. The program's marks stay as
// they are; the mark "" takes back those made of the item before. When a
// correction has no time it is made now. One that does not fit is an *OrderError.
func (s *Store) Correct(ctx context.Context, list ...Order) error {
	err := s.write(ctx, func(q queryer) error { return correct(ctx, q, list) })
	return s.fail("keep the correction", err)
}

func correct(ctx context.Context, q queryer, list []Order) error {
	sheets := map[int64]Marks{}
	var order []int64
	for i, o := range list {
		m, ok := sheets[o.Attempt]
		if !ok {
			var err error
			if m, err = marks(ctx, q, o.Attempt); err != nil {
				return err
			}
			sheets[o.Attempt] = m
			order = append(order, o.Attempt)
		}
		if err := fits(m.Machine, o); err != nil {
			return told{&OrderError{i, err}}
		}
		if o.When == "" {
			o.When = now()
		}
		if _, err := q.exec(ctx, `INSERT INTO corrections (attempt, item, mark, why, who, made) VALUES (?, ?, ?, ?, ?, ?)`,
			o.Attempt, o.Item, string(o.Mark), valid(o.Why), valid(o.Who), o.When); err != nil {
			return err
		}
	}
	for _, id := range order {
		if err := refresh(ctx, q, id); err != nil {
			return err
		}
	}
	return nil
}

// maxRemark is how many characters a remark may have: a note, no transcript, and
// short enough to be searched for (see overlap).
const maxRemark = 200

// fits tells what is wrong with a correction of a sheet.
func fits(s *rubric.Sheet, o Order) error {
	if err := o.Check(); err != nil {
		return fmt.Errorf("attempt %d: %w", o.Attempt, err)
	}
	if strings.TrimSpace(o.Who) == "" {
		return fmt.Errorf("attempt %d: %s: no id of the person who corrects", o.Attempt, o.Item)
	}
	for _, text := range []string{o.Why, o.Who} {
		if n := utf8.RuneCountInString(text); n > maxRemark {
			return fmt.Errorf("attempt %d: %s: a remark of %d characters; shorten it to %d", o.Attempt, o.Item, n, maxRemark)
		}
	}
	if strings.Contains(o.Item, ":") {
		if !slices.ContainsFunc(s.Findings, func(f rubric.Finding) bool { return f.Key() == o.Item }) {
			return fmt.Errorf("attempt %d: no finding %s on its sheet; those that are stand in the CSV form of the sheet", o.Attempt, o.Item)
		}
		return nil
	}
	if !slices.ContainsFunc(s.Items, func(m rubric.ItemMark) bool { return m.ID == o.Item }) {
		return fmt.Errorf("attempt %d: no item %q on its sheet; markaround rubric show %s lists them", o.Attempt, o.Item, s.Rubric.ID)
	}
	return nil
}

func corrections(ctx context.Context, q queryer, id int64) ([]rubric.Correction, error) {
	rows, err := q.query(ctx, `SELECT item, mark, why, who, made FROM corrections WHERE attempt = ? ORDER BY id`, id)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var list []rubric.Correction
	for rows.Next() {
		var c rubric.Correction
		if err := rows.Scan(&c.Item, &c.Mark, &c.Why, &c.Who, &c.When); err != nil {
			return nil, err
		}
		list = append(list, c)
	}
	return list, rows.Err()
}

// Corrected counts the items and findings of each attempt that a person's mark
// stands for now.
func (s *Store) Corrected(ctx context.Context) (map[int64]int, error) {
	orders, err := s.Corrections(ctx)
	last := map[Order]bool{} // by attempt and item
	count := map[int64]int{}
	for _, o := range orders {
		key := Order{o.Attempt, rubric.Correction{Item: o.Item}}
		if stands := o.Mark != ""; stands != last[key] {
			last[key] = stands
			if stands {
				count[o.Attempt]++
			} else {
				count[o.Attempt]--
			}
		}
	}
	return count, err
}

// Corrections gives all corrections, by attempt and in the order made.
func (s *Store) Corrections(ctx context.Context) ([]Order, error) {
	list, err := s.allCorrections(ctx)
	return list, s.fail("read the corrections", err)
}

func (s *Store) allCorrections(ctx context.Context) ([]Order, error) {
	rows, err := s.read().query(ctx, `SELECT attempt, item, mark, why, who, made FROM corrections ORDER BY attempt, id`)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var list []Order
	for rows.Next() {
		var o Order
		if err := rows.Scan(&o.Attempt, &o.Item, &o.Mark, &o.Why, &o.Who, &o.When); err != nil {
			return nil, err
		}
		list = append(list, o)
	}
	return list, rows.Err()
}
