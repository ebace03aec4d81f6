package main

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"strings"
	"sync"

	"github.com/spf13/cobra"

	"markaround/cmd/internal/store"
	"markaround/rubric"
)

type regradeFlags struct {
	store  storeFlag
	filter filterFlags
	rubric string
	with   []string
	all    bool
	dry    bool
	quiet  bool
}

func newRegradeCommand() *cobra.Command {
	var f regradeFlags
	cmd := &cobra.Command{
		Use:   "regrade [ATTEMPT ...]",
		Short: "Mark kept attempts anew, after a change of score sheet or program",
		Long: `Mark kept attempts anew from their transcripts, in the way that they were marked
before, and show what changed: marks, points, results. The instructor's
corrections stay and are put onto the new sheet; those of items that it does not
have are named. Attempts are named, or picked by a flag such as --cohort; --all
marks all that are kept.

--rubric takes another score sheet from now on, and --with other add-ons; a
school's own file is looked for where it lay. --dry-run only shows what would
change, of all attempts where none are named or picked.`,
		Example: `  markaround regrade --dry-run
  markaround regrade --all
  markaround regrade --cohort fall
  markaround regrade 12 --rubric our-school.yaml`,
		RunE: func(cmd *cobra.Command, args []string) error {
			return regrade(cmd.Context(), args, f, cmd.OutOrStdout(), cmd.ErrOrStderr(), cmd.Flags().Changed("with"))
		},
	}
	fl := cmd.Flags()
	fl.SortFlags = false
	f.filter.add(fl)
	fl.StringVar(&f.rubric, "rubric", "", "score sheet to mark by from now on (default: the one that each was marked by)")
	fl.StringArrayVar(&f.with, "with", nil, "overlay or add-on put onto it, in place of those before; may be repeated")
	fl.BoolVar(&f.all, "all", false, "all attempts that are kept")
	fl.BoolVar(&f.dry, "dry-run", false, "show what would change, and change nothing")
	fl.BoolVar(&f.quiet, "quiet", false, "no progress")
	f.store.add(fl)
	return cmd
}

// remark is an attempt marked anew.
type remark struct {
	attempt store.Attempt
	was     store.Marks
	now     *rubric.Sheet // as the program marks it
	fixed   *rubric.Sheet // with the corrections
	left    []rubric.Correction
	rule    rubric.Rule
	how     store.Marking
	same    bool
	err     error
}

func regrade(ctx context.Context, args []string, f regradeFlags, stdout, stderr io.Writer, otherWith bool) error {
	st, err := f.store.open(ctx, false)
	if err != nil {
		return err
	}
	defer st.Close()
	list, err := f.filter.pick(ctx, st, args)
	if err != nil {
		return err
	}
	none := len(args) == 0 && f.filter.Filter == store.Filter{}
	switch {
	case f.all && !none:
		return errors.New("--all is for all attempts; leave it out where some are named or picked")
	case none && !f.all && !f.dry:
		return fmt.Errorf("%s kept; add --all to mark all of them anew, name some, or pick them by a flag such as --cohort", areKept(len(list)))
	}
	var with []string
	for _, w := range f.with {
		with = append(with, wherever(w))
	}
	markers := &markerCache{}
	bar := newProgress(stderr, len(list), f.quiet)
	changed, failed := 0, false
	for r := range inOrder(ctx, len(list), func(i int) remark {
		how := list[i].Marking
		if f.rubric != "" {
			how.Rubric = wherever(f.rubric)
		}
		if otherWith {
			how.With = with
		}
		return markAnew(ctx, st, list[i], how, markers)
	}) {
		bar.clear()
		if r.err == nil && !r.same && !f.dry {
			r.err = st.Replace(ctx, r.attempt.ID, r.now, r.rule, r.how)
		}
		switch {
		case r.err != nil:
			complain(stderr, r.err)
			failed = true
		case !r.same:
			changed++
			if err := r.write(stdout); err != nil {
				return err
			}
		}
		bar.step(r.attempt.Name)
	}
	bar.clear()
	if ctx.Err() != nil {
		return errors.New("stopped; the attempts shown are marked anew, the others are as they were")
	}
	would := "changed"
	if f.dry {
		would = "would change"
	}
	fmt.Fprintf(stdout, "%d of %s %s\n", changed, rubric.Plural(len(list), "attempt"), would)
	if failed {
		return errSaid
	}
	return nil
}

func areKept(n int) string {
	if n == 1 {
		return "1 attempt is"
	}
	return fmt.Sprintf("%d attempts are", n)
}

// markerCache has a marker for each way to mark, and the error where there is
// none.
type markerCache struct {
	sync.Mutex
	made map[string]func() (*marker, error)
}

func (c *markerCache) get(how store.Marking) (*marker, error) {
	key, err := json.Marshal(how)
	if err != nil {
		return nil, err
	}
	c.Lock()
	if c.made == nil {
		c.made = map[string]func() (*marker, error){}
	}
	get, ok := c.made[string(key)]
	if !ok {
		get = sync.OnceValues(func() (*marker, error) {
			return newMarker(markFlags{rubric: how.Rubric, with: how.With, only: how.Only, format: how.Format, speaker: how.Labels}, nil)
		})
		c.made[string(key)] = get
	}
	c.Unlock()
	return get()
}

func markAnew(ctx context.Context, st *store.Store, a store.Attempt, how store.Marking, markers *markerCache) remark {
	r := remark{attempt: a, how: how}
	var m *marker
	if m, r.err = markers.get(how); r.err != nil {
		r.err = fmt.Errorf("attempt %d: %w; --rubric names another score sheet", a.ID, r.err)
		return r
	}
	// A sheet of another version's form counts as an empty one.
	if r.was, r.err = st.Marks(ctx, a.ID); r.err != nil && !errors.Is(r.err, store.ErrForm) {
		return r
	}
	r.err = nil
	h, err := keptWords(ctx, st, a, input{fmt.Sprintf("attempt %d", a.ID), a.Name})
	if err == nil {
		h.labels, err = labelsOf(h.words, h.in, how.Labels)
	}
	if err != nil {
		r.err = err
		return r
	}
	r.now, r.rule = m.grade(h), m.rule()
	for _, w := range r.was.Machine.Warnings {
		if strings.HasPrefix(w, noRecordingPrefix) { // it was looked for when the attempt was kept
			r.now.Warnings = append(r.now.Warnings, w)
		}
	}
	fixed := *r.now
	r.left = r.rule.Correct(&fixed, r.was.Given)
	r.fixed = &fixed
	r.same = sameSheet(r.was.Machine, r.now) && r.rule == r.was.Rule
	return r
}

// sameSheet tells whether two sheets are the same in all that is kept.
func sameSheet(a, b *rubric.Sheet) bool {
	x, err := json.Marshal(a)
	y, err2 := json.Marshal(b)
	return err == nil && err2 == nil && bytes.Equal(x, y)
}

// write says what changed.
func (r *remark) write(w io.Writer) error {
	var b bytes.Buffer
	from, to := r.was.Machine, r.now
	fmt.Fprintf(&b, "attempt %d, %s of student %s", r.attempt.ID, r.attempt.Name, r.attempt.Student)
	if from.Rubric.Hash != to.Rubric.Hash {
		fmt.Fprintf(&b, ": %s version %s, was %s version %s", to.Rubric.ID, to.Rubric.Version, from.Rubric.ID, from.Rubric.Version)
	}
	if from.Tool != to.Tool {
		fmt.Fprintf(&b, "; by %s, was %s", to.Tool, from.Tool)
	}
	b.WriteByte('\n')
	before, fixed := map[string]rubric.ItemMark{}, map[string]rubric.ItemMark{}
	for _, it := range from.Items {
		before[it.ID] = it
	}
	for _, it := range r.fixed.Items {
		fixed[it.ID] = it
	}
	line := func(id, text string) { fmt.Fprintf(&b, "  %-28s  %s\n", id, text) }
	lines := b.Len()
	for _, it := range to.Items {
		old, ok := before[it.ID]
		delete(before, it.ID)
		switch {
		case !ok:
			line(it.ID, string(it.Mark)+", a new item")
		case old.Mark != it.Mark:
			text := fmt.Sprintf("%s, was %s", it.Mark, old.Mark)
			if c := fixed[it.ID].Corrected; c != nil {
				text += fmt.Sprintf("; corrected to %s by %s, which stays", fixed[it.ID].Mark, c.Who)
			}
			line(it.ID, text)
		}
	}
	for _, it := range from.Items {
		if _, ok := before[it.ID]; ok {
			line(it.ID, "no longer on the sheet, was "+string(it.Mark))
		}
	}
	if b.Len() == lines {
		b.WriteString("  the same marks; what stands behind them changed\n")
	}
	for _, c := range r.left {
		line(c.Item, fmt.Sprintf("its correction by %s is kept, but the sheet does not have it", c.Who))
	}
	was, now := r.was.Corrected, r.fixed
	if was.Points != now.Points || was.Of != now.Of || was.Result.Pass != now.Result.Pass {
		fmt.Fprintf(&b, "  %s of %s, %s; was %s of %s, %s\n", rubric.Figure(now.Points), rubric.Points(now.Of), resultWord(now),
			rubric.Figure(was.Points), rubric.Points(was.Of), resultWord(was))
	}
	_, err := w.Write(b.Bytes())
	return err
}
