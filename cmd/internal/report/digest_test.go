package report

import (
	"bytes"
	"fmt"
	"slices"
	"strings"
	"testing"

	"markaround/rubric"
	"markaround/speech"
)

func ev(first, last int, sure float64, against bool) rubric.Evidence {
	return rubric.Evidence{First: first, Last: last, Start: float64(first), End: float64(last), Confidence: sure, Contradicts: against, Words: fmt.Sprint(first, "-", last)}
}

// Of much evidence for one thing the surest and the deciding are shown, those
// of the same words once.
func TestTelling(t *testing.T) {
	for _, c := range []struct {
		reason string
		list   []rubric.Evidence
		want   []int // first words of those shown
		more   int
	}{
		{"none", nil, nil, 0},
		{"one", []rubric.Evidence{ev(1, 2, 0.5, false)}, []int{1}, 0},
		{"two", []rubric.Evidence{ev(1, 2, 0.5, false), ev(5, 6, 0.9, false)}, []int{1, 5}, 0},
		{"the last and the surest", []rubric.Evidence{ev(1, 2, 0.5, false), ev(3, 4, 0.9, false), ev(5, 6, 0.4, false), ev(8, 9, 0.6, false)}, []int{3, 8}, 2},
		{"a contradiction decides", []rubric.Evidence{ev(1, 2, 0.9, false), ev(3, 4, 0.3, true), ev(5, 6, 0.8, false)}, []int{1, 3}, 1},
		{"overlapping words are one", []rubric.Evidence{ev(1, 4, 0.9, false), ev(2, 5, 0.8, false), ev(2, 3, 0.7, false)}, []int{2}, 0},
		{"the same words said again are two", []rubric.Evidence{ev(1, 2, 0.9, false), ev(8, 9, 0.9, false)}, []int{1, 8}, 0},
	} {
		shown, more := telling(c.list)
		var got []int
		for _, e := range shown {
			got = append(got, e.First)
		}
		if !slices.Equal(got, c.want) || more != c.more {
			t.Errorf("%s: got %v and %d more, want %v and %d", c.reason, got, more, c.want, c.more)
		}
	}
}

// Evidence of a finding that stands in one sentence is quoted once.
func TestRunTogether(t *testing.T) {
	words := &speech.Transcript{Segments: []speech.Segment{{}}}
	for i, w := range strings.Fields("i had 110 and it's at 104 now so i lost about 3 and then much much later i say all of it again 7") {
		words.Words = append(words.Words, speech.Word{Text: w, Start: float64(i), End: float64(i) + 0.5})
	}
	at := func(first, last int) rubric.Evidence {
		e := ev(first, last, 0.9, false)
		e.Words = words.Text(first, last)
		return e
	}
	got := runTogether(words, []rubric.Evidence{at(2, 3), at(6, 7), at(10, 12), at(23, 24)})
	if len(got) != 2 || got[0].Words != "110 and it's at 104 now so i lost about" || got[0].Last != 12 || got[1].First != 23 {
		t.Errorf("got %+v", got)
	}
	if got := runTogether(nil, []rubric.Evidence{at(2, 3), at(6, 7)}); len(got) != 2 {
		t.Errorf("without a transcript: %+v", got)
	}
}

// A mark to listen to says why and where to jump to.
func TestDoubt(t *testing.T) {
	s := &rubric.Sheet{Pace: rubric.Pace{Visits: []rubric.Visit{{Section: "cab", Start: 5, End: 8}, {Section: "cab", Start: 60, End: 200}, {Section: "air", Start: 200, End: 900}}}}
	away := ev(30, 32, 0.5, false)
	away.Reason = "named away from its usual place"
	for _, c := range []struct {
		reason string
		item   rubric.ItemMark
		at     float64
		says   string
	}{
		{"a weak name", rubric.ItemMark{Mark: rubric.Said, Start: 30, Named: []rubric.Evidence{away}}, 30, "the name is unclear (named away from its usual place)"},
		{"a weak condition", rubric.ItemMark{Mark: rubric.Said, Start: 1, Named: []rubric.Evidence{ev(1, 2, 0.9, false)},
			Checks: []rubric.CheckMark{{Title: "clean", Mark: rubric.Said, Evidence: []rubric.Evidence{ev(4, 5, 0.3, false), ev(7, 8, 0.5, false)}}}}, 7, "unclear: clean"},
		{"a minor condition does not matter", rubric.ItemMark{Mark: rubric.Said, Start: 1, Named: []rubric.Evidence{ev(1, 2, 0.5, false)},
			Checks: []rubric.CheckMark{{Title: "clean", Minor: true, Mark: rubric.Said, Evidence: []rubric.Evidence{ev(4, 5, 0.3, false)}}}}, 1, "the name is unclear"},
		{"a weak contradiction", rubric.ItemMark{Mark: rubric.Wrong, Start: 1, Named: []rubric.Evidence{ev(1, 2, 0.9, false)},
			Checks: []rubric.CheckMark{{Title: "clean", Mark: rubric.Wrong, Evidence: []rubric.Evidence{ev(4, 5, 0.4, true), ev(7, 8, 0.8, false)}}}}, 4, "unclear whether it contradicts: clean"},
		{"a weak number", rubric.ItemMark{Mark: rubric.Wrong, Start: 1, Named: []rubric.Evidence{ev(1, 2, 0.9, false)},
			Measures: []rubric.MeasureMark{{Title: "leak", Mark: rubric.Wrong, Evidence: []rubric.Evidence{ev(9, 10, 0.4, true)}}}}, 9, "unclear whether it is: leak"},
		{"a missed item with something near", rubric.ItemMark{Mark: rubric.Missed, Start: -1, Reason: "only x came near", Near: []rubric.Evidence{ev(40, 41, 0.8, false)}}, 40, "only x came near"},
		{"a missed item", rubric.ItemMark{Mark: rubric.Missed, Section: "cab", Start: -1, Reason: "nothing heard"}, 60, "nothing heard; its place was at 1:00 to 3:20"},
		{"a missed item of a place not visited", rubric.ItemMark{Mark: rubric.Missed, Section: "rear", Start: -1, Reason: "nothing heard"}, -1, "nothing heard"},
	} {
		if d := newDoubt(c.item, s); d.At.Start != c.at || d.Why != c.says {
			t.Errorf("%s: got %v, %q", c.reason, d.At.Start, d.Why)
		}
	}
}

// Nothing is told twice: each critical item that was missed or partly said
// stands once in the text, and the result says how many there are.
func TestNothingTwice(t *testing.T) {
	s, _ := bigSheet()
	for i := range s.Items {
		if s.Items[i].Mark == rubric.Missed || s.Items[i].Mark == rubric.Partly {
			s.Items[i].Critical, s.Items[i].Title = true, fmt.Sprintf("Part number %03d", i)
			s.Items[i].Listen = false
		}
	}
	s.Pace.AfterLimit, s.Pace.Rushed = nil, nil // these name items as well
	s.Result.Reasons = []string{"critical: one", "60 of 79 points is 75.9%, below 80%", "critical: two"}
	var b bytes.Buffer
	if err := Text(&b, s, TextOptions{}); err != nil {
		t.Fatal(err)
	}
	for _, it := range s.Items {
		if n := strings.Count(b.String(), it.Title); strings.HasPrefix(it.Title, "Part number") && n != 1 {
			t.Errorf("%s stands %d times in the text", it.Title, n)
		}
	}
	if strings.Contains(b.String(), "\nMISSED") || !strings.Contains(b.String(), "-  2 critical failures, listed below\n") || strings.Contains(b.String(), "critical: ") {
		t.Errorf("the result or a list of nothing:\n%s", b.String())
	}
	if r := NewRow(s); r.Missed != 6 {
		t.Errorf("the summary counts %d missed, want all 6", r.Missed)
	}
	b.Reset()
	if err := HTML(&b, s, HTMLOptions{}); err != nil {
		t.Fatal(err)
	}
	if want := "<dt>Missed</dt><dd>6</dd>"; !strings.Contains(b.String(), want) {
		t.Errorf("the page does not say %s on top", want)
	}
}

// Only the sources that the numbers shown name are listed.
func TestSourcesListed(t *testing.T) {
	s, words := bigSheet()
	var text, page bytes.Buffer
	Text(&text, s, TextOptions{})
	HTML(&page, s, HTMLOptions{Transcript: words})
	for name, out := range map[string]string{"text": text.String(), "page": page.String()} {
		if !strings.Contains(out, "Invented manual, air brake check") {
			t.Errorf("%s: the source of the wrong numbers is not listed", name)
		}
		if strings.Contains(out, "that no number names") {
			t.Errorf("%s: a source is listed that no number names", name)
		}
	}
	for i := range s.Items { // the numbers are right now
		for j := range s.Items[i].Measures {
			s.Items[i].Measures[j].Mark = rubric.Said
		}
	}
	text.Reset()
	Text(&text, s, TextOptions{})
	if strings.Contains(text.String(), "SOURCES") {
		t.Error("sources without a number that shows them")
	}
}

func TestLimitTime(t *testing.T) {
	for _, c := range []struct {
		seconds      float64
		want, reason string
	}{{5400, "90 min", "whole minutes"}, {60, "1 min", "one"}, {90, "1:30", "and seconds"}, {60 * 1.1, "1:06", "of a part of a minute"}} {
		if got := limitTime(c.seconds); got != c.want {
			t.Errorf("%s: %s, want %s", c.reason, got, c.want)
		}
	}
}

// What is over the limit never reads as within it.
func TestOverTheLimit(t *testing.T) {
	for _, c := range []struct {
		end         float64
		used, spent string
	}{
		{5400, "1:30:00", "time 1:30:00 of 90 min"},
		{5400.2, "1:30:01", "time 1:30:01 of 90 min"},
		{5399.9, "1:29:59", "time 1:29:59 of 90 min"},
	} {
		p := rubric.Pace{End: c.end, Limit: 5400}
		if usedTime(p) != c.used || spent(p) != c.spent {
			t.Errorf("%v s: got %s and %q", c.end, usedTime(p), spent(p))
		}
	}
}
