package main

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"strings"

	"github.com/spf13/cobra"

	"markaround/cmd/internal/store"
	"markaround/rubric"
)

// undo in place of a mark takes the corrections of an item back.
const undo = "undo"

func newCorrectCommand() *cobra.Command {
	var where storeFlag
	var why, who, from string
	cmd := &cobra.Command{
		Use:   "correct ATTEMPT ITEM MARK --why TEXT --by WHO",
		Short: "Put your mark in place of the program's",
		Long: `Put your mark of an item of a kept attempt in place of the program's. The
program's mark is not changed: yours stands beside it with who and when, and
sheets, points, result and statistics go by yours. The last one of an item
counts; the mark undo takes them back. Giving the mark that the program gave
confirms it.

ITEM is section.part, with the mark said, partly, wrong or missed; or the item's
title, or the last part of its id, where no other item has the same; or a finding
such as order:ID or hold:ID, with the mark none when it does not stand. The
sheet's CSV form has the ids.

--from reads many from a CSV file with the columns attempt, item and mark, and
why (or note) and by as known; all of them are kept or none.`,
		Example: `  markaround correct 12 steer.tread said --why "said 4/32, hear 12:32" --by I-03
  markaround correct S-014 order:air.leak none --why "repeated it rightly" --by I-03
  markaround correct --from corrections.csv --by I-03`,
		RunE: func(cmd *cobra.Command, args []string) error {
			var rows []correctionRow
			switch {
			case from != "" && len(args) > 0:
				return errors.New("--from reads the corrections from a file; leave the attempt out")
			case from != "":
				var err error
				if rows, err = readCorrections(from, why, who); err != nil {
					return err
				}
			case len(args) != 3:
				return fmt.Errorf("correct takes an attempt, an item and a mark, %d given; see markaround correct --help", len(args))
			case strings.TrimSpace(why) == "" && args[2] != undo:
				return errors.New("why? add --why TEXT, so that the next one who reads it knows")
			case strings.TrimSpace(who) == "":
				return errors.New("who corrects? add --by and an id")
			default:
				rows = []correctionRow{{args[0], rubric.Correction{Item: args[1], Mark: markOf(args[2]), Why: why, Who: who}, 0}}
			}
			ctx := cmd.Context()
			st, err := where.open(ctx, false)
			if err != nil {
				return err
			}
			defer st.Close()
			return correct(ctx, st, rows, from, cmd.OutOrStdout())
		},
	}
	fl := cmd.Flags()
	fl.SortFlags = false
	fl.StringVar(&why, "why", "", "why the mark is another, in your words")
	fl.StringVar(&who, "by", "", "your id")
	fl.StringVar(&from, "from", "", "CSV file of many corrections")
	where.add(fl)
	return cmd
}

type correctionRow struct {
	attempt string
	rubric.Correction
	line int
}

func markOf(text string) rubric.Mark {
	text = strings.ToLower(strings.TrimSpace(text))
	if text == undo {
		return ""
	}
	if text == "" {
		return "nothing" // which no item takes
	}
	return rubric.Mark(text)
}

func readCorrections(path, why, who string) ([]correctionRow, error) {
	table, err := readTable(path, "attempt", "item", "mark")
	if err != nil {
		return nil, err
	}
	var faults rubric.Errors
	rows := make([]correctionRow, len(table))
	for i, r := range table {
		c := rubric.Correction{Item: r.Get("item"), Mark: markOf(r.Get("mark")), Why: cmp.Or(r.Get("why"), r.Get("note"), why), Who: cmp.Or(r.Get("by"), who)}
		if c.Who == "" {
			faults = append(faults, &rubric.Error{Pos: rubric.Pos{File: path, Line: r.Line}, Msg: "nobody to go by", Advice: "fill in the column by, or add --by"})
		}
		rows[i] = correctionRow{r.Get("attempt"), c, r.Line}
	}
	if len(faults) > 0 {
		return nil, faults
	}
	return rows, nil
}

func correct(ctx context.Context, st *store.Store, rows []correctionRow, file string, stdout io.Writer) error {
	at := func(i int, err error) error {
		if file == "" {
			return err
		}
		return fmt.Errorf("%s:%d: %w", file, rows[i].line, err)
	}
	orders := make([]store.Order, len(rows))
	found := map[string]store.Attempt{}
	names := map[int64][]itemName{}
	var ids []int64
	for i := range rows {
		r := &rows[i]
		a, ok := found[r.attempt]
		if !ok {
			var err error
			if a, err = st.Find(ctx, r.attempt); err != nil {
				return at(i, err)
			}
			found[r.attempt] = a
		}
		if names[a.ID] == nil { // a file may name one attempt in two ways
			ids = append(ids, a.ID)
			m, err := st.Marks(ctx, a.ID)
			if err != nil {
				return at(i, err)
			}
			names[a.ID] = namesOfSheet(m.Machine)
		}
		if !strings.Contains(r.Item, ":") { // which a finding has
			id, fault := whichItem(names[a.ID], r.Item, "markaround rubric show "+a.Rubric.ID)
			if id == "" {
				return at(i, fmt.Errorf("attempt %d: its sheet has %s", a.ID, fault))
			}
			r.Item = id
		}
		orders[i] = store.Order{Attempt: a.ID, Correction: r.Correction}
	}
	if err := st.Correct(ctx, orders...); err != nil {
		if bad, ok := errors.AsType[*store.OrderError](err); ok {
			return at(bad.Index, bad.Err)
		}
		return err
	}
	if file != "" {
		_, err := fmt.Fprintf(stdout, "%s of %s kept\n", rubric.Plural(len(rows), "correction"), rubric.Plural(len(ids), "attempt"))
		return err
	}
	m, err := st.Marks(ctx, ids[0])
	if err != nil {
		return err
	}
	_, err = fmt.Fprintf(stdout, "attempt %d: %s; %s of %s, %s\n", ids[0], nowMarked(m.Corrected, rows[0].Correction),
		rubric.Figure(m.Corrected.Points), rubric.Points(m.Corrected.Of), resultWord(m.Corrected))
	return err
}

// nowMarked says how a corrected item stands.
func nowMarked(s *rubric.Sheet, c rubric.Correction) string {
	for _, it := range s.Items {
		switch {
		case it.ID != c.Item:
		case it.Corrected == nil:
			return fmt.Sprintf("%s %s, as the program marked it", it.ID, it.Mark)
		case it.Corrected.From == it.Mark:
			return fmt.Sprintf("%s %s, confirmed", it.ID, it.Mark)
		default:
			return fmt.Sprintf("%s %s, was %s", it.ID, it.Mark, it.Corrected.From)
		}
	}
	if c.Mark == rubric.None {
		return c.Item + " set aside"
	}
	return c.Item + " stands"
}

func resultWord(s *rubric.Sheet) string {
	if s.Result.Pass {
		return "pass"
	}
	return "no pass"
}
