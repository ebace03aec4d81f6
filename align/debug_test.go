package align

import (
	"fmt"
	"os"
	"testing"

	"markaround/rubric"
)

// TestSay shows what the matcher makes of the words in MARKAROUND_SAY, for
// people who write rubrics or mend the matcher.
func TestSay(t *testing.T) {
	text := os.Getenv("MARKAROUND_SAY")
	if text == "" {
		t.Skip("set MARKAROUND_SAY, and MARKAROUND_AT to a section")
	}
	r, err := rubric.Load("class-a", "passenger")
	if err != nil {
		t.Fatal(err)
	}
	m, err := New(r)
	if err != nil {
		t.Fatal(err)
	}
	announce := ""
	for _, s := range r.Sections {
		if s.ID == os.Getenv("MARKAROUND_AT") {
			announce = s.Say[0] + "."
		}
	}
	tr := said(announce, text)
	_, l := m.Answers(tr, Options{})
	for _, o := range l.mentions {
		name := "-"
		if o.item >= 0 {
			name = m.items[o.item].item.ID
		}
		var all []string
		for _, n := range o.names {
			all = append(all, m.items[n].item.ID)
		}
		fmt.Printf("mention %-30q %s place %.2f score %.2f of %v\n", l.text(o.first, o.last), name, o.place, o.score, all)
	}
	for _, c := range l.conds {
		fmt.Printf("condition %-22q by %-18q good %d bad %d denied %v absent %v sought %v supposed %v dealt %v passed %v cover %d inside %d score %.2f exact %v\n", l.text(c.first, c.last), c.phrase.text, len(c.phrase.good), len(c.phrase.bad),
			c.denied, c.absent, c.sought, c.supposed, c.dealt, c.passed, c.cover, c.inside, c.score, c.exact)
	}
	s := m.Grade(tr, Options{})
	for _, it := range s.Items {
		if it.Mark == rubric.Missed {
			continue
		}
		fmt.Printf("%s %s %.2f %s\n", it.ID, it.Mark, it.Confidence, it.Reason)
		for _, c := range it.Checks {
			fmt.Printf("   %s %s", c.ID, c.Mark)
			for _, e := range c.Evidence {
				fmt.Printf(" [%q %.2f %s %v]", e.Words, e.Confidence, e.Reason, e.Contradicts)
			}
			fmt.Println()
		}
		for _, c := range it.Measures {
			fmt.Printf("   %s %s %q %v\n", c.ID, c.Mark, c.Said, c.Evidence)
		}
	}
}
