package store

import (
	"context"
	"fmt"

	"markaround/rubric"
)

// Seen is what somebody had before him who corrects an attempt.
type Seen struct {
	Corrections int    // of the attempt, len(Marks.Given)
	Marked      string // Attempt.Marked
}

// ChangedError tells that somebody else has corrected the same thing, or the
// attempt was marked anew, since it was seen.
type ChangedError struct {
	Attempt int64
	Last    rubric.Correction // of the same thing; zero when the attempt was marked anew
}

func (e *ChangedError) Error() string {
	if e.Last.Item == "" {
		return fmt.Sprintf("attempt %d was marked anew meanwhile; look at it again", e.Attempt)
	}
	return fmt.Sprintf("attempt %d: %s was corrected by %s meanwhile; look at it again", e.Attempt, e.Last.Item, e.Last.Who)
}

// CorrectSeen is Correct for corrections of one attempt by somebody who may not
// have seen its last ones. Where one of them is of the same thing it keeps nothing
// and gives a *ChangedError, so that no correction is lost in silence. The very
// correction that is asked for, made once already, is no such case: a message may
// get lost on its way back.
func (s *Store) CorrectSeen(ctx context.Context, seen Seen, list ...Order) error {
	err := s.write(ctx, func(q queryer) error {
		var left []Order
		for _, o := range list {
			var marked string
			if err := q.row(ctx, `SELECT COALESCE(MAX(marked), '') FROM attempts WHERE id = ?`, o.Attempt).Scan(&marked); err != nil {
				return err
			}
			given, err := corrections(ctx, q, o.Attempt)
			if err != nil {
				return err
			}
			var last *rubric.Correction
			news := given[min(max(seen.Corrections, 0), len(given)):]
			for i := range news {
				if news[i].Item == o.Item {
					last = &news[i]
				}
			}
			switch {
			case last != nil && last.Mark == o.Mark && last.Who == o.Who && last.Why == valid(o.Why):
				continue
			case last != nil:
				return told{&ChangedError{o.Attempt, *last}}
			case marked != "" && marked != seen.Marked:
				return told{&ChangedError{Attempt: o.Attempt}}
			}
			left = append(left, o)
		}
		return correct(ctx, q, left)
	})
	return s.fail("keep the correction", err)
}
