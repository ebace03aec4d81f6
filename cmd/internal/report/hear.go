package report

import (
	"cmp"
	"fmt"
	"slices"

	"markaround/rubric"
)

// Why tells why a moment is worth hearing.
type Why string

// Reasons to hear a moment.
const (
	HearWrong Why = "wrong"  // said wrong
	HearNear  Why = "near"   // missed, and these words came near
	HearDoubt Why = "listen" // the mark is doubtful
)

// Moment is a place of the recording that is worth hearing.
type Moment struct {
	Item  rubric.ItemMark
	Part  string // id of the check or measure that is wrong, "" for the item as a whole
	Mark  rubric.Mark
	Why   Why
	Said  rubric.Evidence // the words and their times, Start -1 when there is no place to hear
	Place bool            // there are no words: the times are those of where they should have been
	about string
}

// Title says in a line what there is to hear.
func (m Moment) Title() string { return fmt.Sprintf("%s: %s, %s", m.Item.Title, m.Mark, m.about) }

// Moments lists what is worth hearing of an attempt by the time it was said: all
// that is wrong, the words that came near a missed item, and the other marks
// that are doubtful. Those without any place come last.
func Moments(s *rubric.Sheet) []Moment {
	list := []Moment{}
	for _, it := range s.Items {
		list = append(list, momentsOf(it, s)...)
	}
	slices.SortStableFunc(list, func(a, b Moment) int {
		return cmp.Or(cmp.Compare(toInt(a.Said.Start < 0), toInt(b.Said.Start < 0)), cmp.Compare(a.Said.Start, b.Said.Start))
	})
	return list
}

func toInt(b bool) int {
	if b {
		return 1
	}
	return 0
}

func momentsOf(it rubric.ItemMark, s *rubric.Sheet) (list []Moment) {
	wrong := func(part string, evidence []rubric.Evidence, about string) {
		if ev := lastEvidence(evidence); ev.Start >= 0 {
			list = append(list, Moment{Item: it, Part: part, Mark: rubric.Wrong, Why: HearWrong, Said: ev, about: about})
		}
	}
	for _, m := range it.Measures {
		if m.Mark == rubric.Wrong {
			wrong(m.ID, m.Evidence, "said "+m.Said+", accepted "+m.Accepted)
		}
	}
	for _, c := range it.Checks {
		if c.Mark == rubric.Wrong {
			wrong(c.ID, c.Evidence, "looked for: "+c.Title)
		}
	}
	switch {
	case len(list) > 0 || it.Extra && it.Mark == rubric.Missed:
	case it.Mark == rubric.Wrong && len(it.Named) > 0:
		wrong("", it.Named, it.Reason)
	case it.Mark == rubric.Missed && len(it.Near) > 0:
		ev := it.Near[0]
		list = append(list, Moment{Item: it, Mark: it.Mark, Why: HearNear, Said: ev, about: fmt.Sprintf("but %q came near", ev.Words)})
	case it.Listen:
		d := newDoubt(it, s)
		list = append(list, Moment{Item: it, Mark: it.Mark, Why: HearDoubt, Said: d.At, Place: it.Mark == rubric.Missed || d.At.Start < 0, about: "doubtful: " + d.Why})
	}
	return list
}
