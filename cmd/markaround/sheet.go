package main

import (
	"bytes"
	"context"
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"markaround/cmd/internal/store"
	"markaround/rubric"
	"markaround/speech"
)

func newSheetCommand() *cobra.Command {
	var where storeFlag
	var filter filterFlags
	var out, as string
	var machine, all, force, quiet bool
	cmd := &cobra.Command{
		Use:   "sheet [ATTEMPT ...]",
		Short: "Show the sheet of a kept attempt, with its corrections",
		Long: `Show the sheet of an attempt that is kept, with the instructor's corrections put
on; points and result go by them. ATTEMPT is its number or name as "markaround
attempts" lists it. Several, or flags such as --cohort, give a sheet each.

The forms and -o are those of grade. --machine gives the sheet as the program
marked it. "markaround agree" takes both: the JSON form as sheets, and the CSV
form as a person's marks.`,
		Example: `  markaround sheet 12
  markaround sheet S-014 -o S-014.html
  markaround sheet --cohort fall -o sheets/ --as json
  markaround sheet 12 --machine`,
		RunE: func(cmd *cobra.Command, args []string) error {
			if len(args) == 0 && filter.Filter == (store.Filter{}) {
				return fmt.Errorf("which attempt? give its number or name, or flags such as --cohort; markaround attempts lists them")
			}
			ctx := cmd.Context()
			st, err := where.open(ctx, false)
			if err != nil {
				return err
			}
			defer st.Close()
			list, err := filter.pick(ctx, st, args)
			if err != nil {
				return err
			}
			several := len(list) > 1 || len(args) == 0
			dest, err := newDestination(out, as, several)
			if err != nil {
				return err
			}
			inputs := make([]input, len(list))
			for i, a := range list {
				inputs[i] = input{fmt.Sprintf("attempt %d", a.ID), a.Name}
			}
			if err := prepare(dest, inputs, force, cmd.InOrStdin(), cmd.ErrOrStderr()); err != nil {
				return err
			}
			w := &writer{dest: dest, stdout: cmd.OutOrStdout(), stderr: cmd.ErrOrStderr(), all: all, quiet: quiet, several: several}
			for m := range inOrder(ctx, len(list), func(i int) marked { return keptSheet(ctx, st, list[i], machine) }) {
				if m.err != nil {
					return m.err
				}
				if err := w.add(m); err != nil {
					return err
				}
			}
			if err := ctx.Err(); err != nil {
				return fmt.Errorf("stopped; the files written so far are whole")
			}
			return w.finish()
		},
	}
	fl := cmd.Flags()
	fl.SortFlags = false
	filter.add(fl)
	fl.BoolVar(&machine, "machine", false, "the marks of the program, without corrections")
	fl.StringVarP(&out, "out", "o", "", "file or folder to write to (default: standard output)")
	fl.StringVar(&as, "as", "", "form of the sheet: text, json, csv or html (default: from -o, else text)")
	fl.BoolVar(&all, "all", false, "in text, list the items that were said as well")
	fl.BoolVar(&force, "force", false, "overwrite files that exist")
	fl.BoolVar(&quiet, "quiet", false, "no notes or summary")
	where.add(fl)
	return cmd
}

// keptSheet is a kept attempt as grade has it after marking.
func keptSheet(ctx context.Context, st *store.Store, a store.Attempt, machine bool) marked {
	in := input{fmt.Sprintf("attempt %d", a.ID), a.Name}
	m, err := st.Marks(ctx, a.ID)
	if err != nil {
		return marked{in: in, err: err}
	}
	h, err := keptWords(ctx, st, a, in)
	if err != nil {
		return marked{in: in, err: err}
	}
	sheet := m.Corrected
	if machine {
		sheet = m.Machine
	} else if note := leftNote(m.Left); note != "" {
		sheet.Warnings = append(append([]string{}, sheet.Warnings...), note)
	}
	return marked{heard: h, in: in, sheet: sheet}
}

// keptWords reads the transcript of a kept attempt, and puts it where its
// recording had the speech.
func keptWords(ctx context.Context, st *store.Store, a store.Attempt, in input) (*heard, error) {
	text, sound, err := st.Transcript(ctx, a.ID)
	if err != nil {
		return nil, err
	}
	format, err := speech.ParseFormat(a.Marking.Format)
	if err != nil {
		return nil, err
	}
	h := &heard{in: in, raw: text, sound: sound}
	if h.words, err = speech.Read(bytes.NewReader(text), speech.Options{Name: a.Source, Format: format}); err != nil {
		return nil, fmt.Errorf("attempt %d: %w", a.ID, err)
	}
	if sound != nil {
		h.path = sound.Name
		h.words, h.timing = speech.Place(h.words, sound)
	}
	return h, nil
}

// leftNote says which corrections are of nothing on the sheet, "" when none is.
func leftNote(left []rubric.Correction) string {
	if len(left) == 0 {
		return ""
	}
	var items []string
	for _, c := range left {
		items = append(items, c.Item)
	}
	return fmt.Sprintf("%s of what this sheet does not have: %s", rubric.Plural(len(left), "correction"), strings.Join(items, ", "))
}
