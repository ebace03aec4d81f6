package store

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"testing"
	"testing/iotest"

	"markaround/rubric"
)

// A list in parts has every attempt once, the ones with doubtful marks first.
func TestPage(t *testing.T) {
	onEach(t, func(t *testing.T, where string) {
		s, ctx := open(t, where), t.Context()
		must[int](t)(s.PutStudents(ctx, []Student{{ID: "S-0", Cohort: "spring"}}))
		for i := range 9 {
			e := entry(fmt.Sprint("a", i), Details{Student: fmt.Sprint("S-", i%3)})
			e.Sheet.Items[1].Listen = true
			if i%3 == 1 {
				e.Details.Cohort = "fall"
			}
			mustKeep(t, s, e)
		}
		list := must[[]Attempt](t)(s.Attempts(ctx, Filter{}))
		for _, a := range list[:4] { // no doubt left in these
			for _, it := range must[Marks](t)(s.Marks(ctx, a.ID)).Machine.Items {
				if err := s.Correct(ctx, Order{a.ID, rubric.Correction{Item: it.ID, Mark: it.Mark, Who: "I-1"}}); err != nil {
					t.Fatal(err)
				}
			}
		}
		var ids []int64
		after := ""
		for parts := 0; ; parts++ {
			part, next, err := s.Page(ctx, Filter{}, after, 2)
			if err != nil || parts > 9 || len(part) > 2 {
				t.Fatal(part, parts, err)
			}
			for _, a := range part {
				ids = append(ids, a.ID)
				if waits := a.ID > list[3].ID; waits != (a.Listen > 0) {
					t.Errorf("attempt %d: %d doubtful marks", a.ID, a.Listen)
				}
			}
			if after = next; after == "" {
				break
			}
		}
		var want []int64
		for _, part := range [][]Attempt{list[4:], list[:4]} {
			for i := range part {
				want = append(want, part[len(part)-1-i].ID)
			}
		}
		if !slices.Equal(ids, want) {
			t.Errorf("attempts %v, want %v", ids, want)
		}
		for _, c := range []struct {
			f            Filter
			all, waiting int
			reason       string
		}{
			{Filter{}, 9, 5, "no filter"},
			{Filter{Cohort: "spring"}, 3, 1, "the student's cohort: S-0 has attempts 0, 3 and 6"},
			{Filter{Cohort: "fall"}, 3, 2, "the attempts' own: 1, 4 and 7"},
			{Filter{Cohort: "summer"}, 0, 0, "nobody"},
			{Filter{Student: "S-2"}, 3, 2, "a student: 2, 5 and 8"},
		} {
			all, waiting, err := s.Counts(ctx, c.f)
			if err != nil || all != c.all || waiting != c.waiting {
				t.Errorf("%s: %d and %d, %v", c.reason, all, waiting, err)
			}
			if part, _, err := s.Page(ctx, c.f, "", 99); err != nil || len(part) != c.all {
				t.Errorf("%s: %d listed, %v", c.reason, len(part), err)
			}
		}
		if got := must[[]string](t)(s.Cohorts(ctx)); !slices.Equal(got, []string{"fall", "spring"}) {
			t.Errorf("cohorts %q", got)
		}
		for _, bad := range []string{"w", "x-1", "w-", "d-1x"} {
			if _, _, err := s.Page(ctx, Filter{}, bad, 2); err == nil {
				t.Errorf("%q is a place in the list", bad)
			}
		}
	})
}

// Who decides by what is no longer so is told, and nothing is lost.
func TestCorrectSeen(t *testing.T) {
	onEach(t, func(t *testing.T, where string) {
		s, ctx := open(t, where), t.Context()
		a := mustKeep(t, s, entry("a1", Details{Student: "S-1"}))[0]
		m := must[Marks](t)(s.Marks(ctx, a.ID))
		x, y := m.Machine.Items[0].ID, m.Machine.Items[1].ID
		order := func(item string, mark rubric.Mark, who string) Order {
			return Order{a.ID, rubric.Correction{Item: item, Mark: mark, Why: "heard it", Who: who}}
		}
		none := Seen{0, a.Marked}
		for _, c := range []struct {
			seen   Seen
			order  Order
			kept   int // corrections afterwards
			reason string
		}{
			{none, order(x, rubric.Said, "I-1"), 1, "the first one"},
			{none, order(y, rubric.Said, "I-2"), 2, "of another item"},
			{none, order(x, rubric.Said, "I-1"), 2, "the same once more"},
			{none, order(x, rubric.Missed, "I-2"), -2, "somebody else's of the same item"},
			{none, order(x, rubric.Said, "I-2"), -2, "the same mark by somebody else"},
			{Seen{2, a.Marked}, order(x, rubric.Missed, "I-2"), 3, "who has seen it"},
			{Seen{2, a.Marked}, order(x, "", "I-1"), -3, "who has not seen the last one"},
			{Seen{3, "2000-01-01T00:00:00Z"}, order(x, "", "I-1"), -3, "marked anew meanwhile"},
			{Seen{99, a.Marked}, order(x, "", "I-1"), 4, "more than there are"},
			{Seen{-1, a.Marked}, order(y, rubric.Wrong, "I-1"), -4, "less than there are"},
		} {
			err := s.CorrectSeen(ctx, c.seen, c.order)
			_, changed := errors.AsType[*ChangedError](err)
			if changed != (c.kept < 0) || !changed && err != nil {
				t.Errorf("%s: %v", c.reason, err)
			}
			if n := len(must[Marks](t)(s.Marks(ctx, a.ID)).Given); n != max(c.kept, -c.kept) {
				t.Errorf("%s: %d corrections", c.reason, n)
			}
		}
	})
}

// A copy of a recording reads as the file did, from any place.
func TestOpenRecording(t *testing.T) {
	onEach(t, func(t *testing.T, where string) {
		s, ctx := open(t, where), t.Context()
		data := bytes.Repeat([]byte("0123456789abcdef-"), 3<<20/17)
		path := filepath.Join(t.TempDir(), "a.wav")
		if err := os.WriteFile(path, data, 0o600); err != nil {
			t.Fatal(err)
		}
		e := entry("a1", Details{Student: "S-1"})
		e.Recording = path
		a := mustKeep(t, s, e)[0]
		h, err := s.OpenRecording(ctx, a.ID)
		if err != nil {
			t.Fatal(err)
		}
		if size, err := h.Seek(0, io.SeekEnd); err != nil || size != int64(len(data)) {
			t.Errorf("%d bytes, %v", size, err)
		}
		if _, err := h.Seek(0, io.SeekStart); err != nil {
			t.Fatal(err)
		}
		if err := iotest.TestReader(h, data); err != nil {
			t.Error(err)
		}
		b := mustKeep(t, s, entry("a2", Details{Student: "S-1"}))[0]
		if _, err := s.OpenRecording(ctx, b.ID); !errors.Is(err, ErrNotFound) {
			t.Errorf("without one: %v", err)
		}
	})
}
