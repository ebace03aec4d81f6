package store

import (
	"errors"
	"fmt"
	"strings"
	"testing"

	"markaround/rubric"
)

func order(id int64, item string, mark rubric.Mark) Order {
	return Order{id, rubric.Correction{Item: item, Mark: mark, Why: "heard it", Who: "I-03"}}
}

// A correction never touches what the program marked, and everything that is read
// of the attempt goes by it.
func TestCorrect(t *testing.T) {
	onEach(t, func(t *testing.T, where string) {
		s, ctx := open(t, where), t.Context()
		mustKeep(t, s, entry("a1", Details{Student: "S-1"}), entry("a2", Details{Student: "S-1"}))
		if err := s.Correct(ctx, order(1, "steer.tread", rubric.Said), order(1, "order:air.leak", rubric.None), order(1, "cab.belt", rubric.Said)); err != nil {
			t.Fatal(err)
		}
		m := must[Marks](t)(s.Marks(ctx, 1))
		tread, machine := m.Corrected.Items[2], m.Machine.Items[2]
		if tread.Mark != rubric.Said || tread.Corrected.From != rubric.Wrong || tread.Corrected.Who != "I-03" || tread.Corrected.Why != "heard it" || tread.Corrected.When == "" {
			t.Errorf("corrected %+v", tread)
		}
		if machine.Mark != rubric.Wrong || machine.Corrected != nil || len(m.Machine.Findings) != 1 || m.Machine.Points != 3 {
			t.Errorf("the program's sheet was changed: %+v", machine)
		}
		if len(m.Corrected.Findings) != 0 || len(m.Corrected.Rejected) != 1 || m.Corrected.Points != 4 || !m.Corrected.Result.Pass {
			t.Errorf("corrected: %v of %v, %+v", m.Corrected.Points, m.Corrected.Of, m.Corrected.Result)
		}
		a := must[[]Summary](t)(s.Summaries(ctx, Filter{}))[0]
		if a.Points != 4 || !a.Pass || a.Mark(2) != rubric.Said || !a.Corrected(2) || a.Corrected(1) || !a.Corrected(0) || a.Mark(1) != rubric.Missed {
			t.Errorf("summary %+v", a)
		}
		if more := must[More](t)(a.More()); len(more.Wrong) != 0 || len(more.Findings) != 0 {
			t.Errorf("the summary still has %+v", more)
		}
		if n := must[map[int64]int](t)(s.Corrected(ctx)); n[1] != 3 || n[2] != 0 {
			t.Errorf("corrected %v", n)
		}

		// The last one counts, and "" takes them back.
		if err := s.Correct(ctx, order(1, "steer.tread", rubric.Missed), order(1, "cab.belt", "")); err != nil {
			t.Fatal(err)
		}
		m = must[Marks](t)(s.Marks(ctx, 1))
		if m.Corrected.Items[2].Mark != rubric.Missed || m.Corrected.Items[0].Corrected != nil || len(m.Given) != 5 {
			t.Errorf("after the second: %+v, %d given", m.Corrected.Items[2], len(m.Given))
		}
		if n := must[map[int64]int](t)(s.Corrected(ctx)); n[1] != 2 {
			t.Errorf("corrected %v", n)
		}

		for i, c := range []struct {
			o      Order
			want   string
			reason string
		}{
			{order(1, "steer.no", rubric.Said), `attempt 1: no item "steer.no" on its sheet`, "no such item"},
			{order(1, "order:no", rubric.None), "attempt 1: no finding order:no on its sheet", "no such finding"},
			{order(1, "order:air.leak", rubric.Said), "a finding can only be set aside", "no mark of a finding"},
			{order(1, "steer.tread", "good"), `unknown mark "good"`, "no mark"},
			{order(1, "steer.tread/depth", rubric.Said), "correct the whole item, steer.tread", "a part"},
			{order(9, "steer.tread", rubric.Said), "attempt 9 is not in the store", "no attempt"},
			{Order{1, rubric.Correction{Item: "steer.tread", Mark: rubric.Said}}, "no id of the person who corrects", "nobody"},
		} {
			err := s.Correct(ctx, order(2, "cab.horn", rubric.Said), c.o)
			if err == nil || !strings.Contains(err.Error(), c.want) {
				t.Errorf("%s: %v, want %s", c.reason, err, c.want)
			}
			if bad, ok := errors.AsType[*OrderError](err); i != 5 && (!ok || bad.Index != 1) {
				t.Errorf("%s: which of them is not told: %v", c.reason, err)
			}
		}
		if m := must[Marks](t)(s.Marks(ctx, 2)); len(m.Given) != 0 {
			t.Errorf("%d corrections of a call that failed were kept", len(m.Given))
		}
	})
}

// A sheet marked anew keeps the corrections; those of what it does not have are
// told, and kept too.
func TestReplace(t *testing.T) {
	onEach(t, func(t *testing.T, where string) {
		s, ctx := open(t, where), t.Context()
		mustKeep(t, s, entry("a1", Details{Student: "S-1"}))
		if err := s.Correct(ctx, order(1, "cab.horn", rubric.Said), order(1, "steer.rim", rubric.Missed)); err != nil {
			t.Fatal(err)
		}
		next := invented("a1")
		next.Rubric.Version, next.Rubric.Hash = "2", "ffff"
		next.Items = next.Items[:4] // without the rim
		if err := s.Replace(ctx, 1, next, inventedRule, Marking{Rubric: "yard-2"}); err != nil {
			t.Fatal(err)
		}
		m := must[Marks](t)(s.Marks(ctx, 1))
		if len(m.Given) != 2 || len(m.Left) != 1 || m.Left[0].Item != "steer.rim" || m.Corrected.Items[1].Mark != rubric.Said {
			t.Errorf("given %v, left %v", m.Given, m.Left)
		}
		a := must[[]Summary](t)(s.Summaries(ctx, Filter{}))[0]
		if len(a.Layout.Items) != 4 || a.Rubric.Version != "2" || a.Rubric.Hash != "ffff" || a.Mark(1) != rubric.Said {
			t.Errorf("now %+v", a)
		}
		if a := must[Attempt](t)(s.Find(ctx, "1")); a.Marking.Rubric != "yard-2" {
			t.Errorf("marked by %+v", a.Marking)
		}
		if err := s.Replace(ctx, 7, next, inventedRule, Marking{}); !errors.Is(err, ErrNotFound) {
			t.Errorf("an attempt that is not there: %v", err)
		}
	})
}

// Summaries have what the sheet has, and share what attempts share.
func TestSummaries(t *testing.T) {
	onEach(t, func(t *testing.T, where string) {
		s, ctx := open(t, where), t.Context()
		mustKeep(t, s, entry("a1", Details{Student: "S-1"}), entry("a2", Details{Student: "S-2"}))
		list := must[[]Summary](t)(s.Summaries(ctx, Filter{}))
		if len(list) != 2 || list[0].Layout != list[1].Layout || len(list[0].Layout.Items) != 5 {
			t.Fatalf("%d summaries", len(list))
		}
		a := list[0]
		var marks []string
		for i, it := range a.Layout.Items {
			marks = append(marks, fmt.Sprintf("%s %s", it.ID, a.Mark(i)))
		}
		if got, want := strings.Join(marks, ", "), "cab.belt said, cab.horn missed, steer.tread wrong, steer.tire said, steer.rim said"; got != want {
			t.Errorf("marks %s, want %s", got, want)
		}
		if it := a.Layout.Items[2]; it.Title != "Title of steer.tread" || it.Section != "steer" || !it.Critical || it.Extra || it.Of != 1 {
			t.Errorf("item %+v", it)
		}
		if a.Points != 3 || a.Of != 5 || a.Pass || a.Seconds != 600 {
			t.Errorf("summary %+v", a)
		}
		more := must[More](t)(a.More())
		if got, want := fmt.Sprint(more), "{[{steer.tread/depth tread depth 2/32 inch at least 4/32 inch}] [order:air.leak] map[cab:200 steer:400] 15 120 0 0 w}"; got != want {
			t.Errorf("more is %s, want %s", got, want)
		}
	})
}

// A sheet in a form of another version is told, not misread.
func TestOtherSchema(t *testing.T) {
	s := open(t, t.TempDir()+"/a.db")
	e := entry("a1", Details{Student: "S-1"})
	e.Sheet.Schema = rubric.SheetSchema + 1
	mustKeep(t, s, e)
	if m, err := s.Marks(t.Context(), 1); !errors.Is(err, ErrForm) || !strings.Contains(err.Error(), "run markaround regrade") || m.Machine == nil || m.Corrected == nil {
		t.Errorf("%+v, %v", m, err)
	}
	if err := s.Replace(t.Context(), 1, invented("a1"), inventedRule, Marking{}); err != nil {
		t.Fatal(err)
	}
	if m, err := s.Marks(t.Context(), 1); err != nil || len(m.Machine.Items) != 5 {
		t.Errorf("after a new marking: %+v, %v", m, err)
	}
}
