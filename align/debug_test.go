package align

import (
	"fmt"
	"os"
	"testing"

	"markaround/align/damage"
	"markaround/rubric"
	"markaround/speech"
)

// TestSay shows what the matcher makes of the words in MARKAROUND_SAY, for
// people who write rubrics or mend the matcher.
func TestSay(t *testing.T) {
	text := os.Getenv("MARKAROUND_SAY")
	if text == "" {
		t.Skip("set MARKAROUND_SAY, and MARKAROUND_AT to a section")
	}
	m := matcher(t, "class-a", "passenger")
	announce := ""
	for _, s := range m.rubric.Sections {
		if s.ID == os.Getenv("MARKAROUND_AT") {
			announce = s.Say[0] + "."
		}
	}
	tr := talk(turn{text: announce}, turn{text: text})
	_, l := m.hear(tr, Options{})
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

// TestShow prints a whole attempt (MARKAROUND_FILE, damaged at MARKAROUND_DAMAGE) with what was made of it:
// [item] after a mention, {+} {-} {?} after a condition that claims,
// contradicts or says nothing, <section> where the path moves.
func TestShow(t *testing.T) {
	file := os.Getenv("MARKAROUND_FILE")
	if file == "" {
		t.Skip("set MARKAROUND_FILE to a transcript")
	}
	m := matcher(t, "class-a")
	tr, err := speech.ReadFile(file, speech.Options{})
	if err != nil {
		t.Fatal(err)
	}
	rate := 0.0
	if fmt.Sscan(os.Getenv("MARKAROUND_DAMAGE"), &rate); rate > 0 {
		tr, _ = damage.Damage(tr, rate, 1)
	}
	_, l := m.hear(tr, Options{})
	fmt.Printf("estimated damage %.2f\n", l.damage)
	notes := map[int]string{}
	for _, o := range l.mentions {
		name := "[-]"
		if o.item >= 0 {
			name = "[" + m.items[o.item].item.ID + "]"
		}
		notes[o.last-1] += name
	}
	for i := range l.conds {
		c := &l.conds[i]
		sign := "{g+}"
		switch {
		case c.supposed && !c.sought:
			sign = "{?}"
		case len(c.bad) > 0 && (c.absent || c.sought || c.dealt):
			sign = "{b+}"
		case len(c.bad) > 0 && len(c.good) > 0:
			sign = "{m}"
		case len(c.bad) > 0, c.denied:
			sign = "{-}"
		}
		notes[c.last-1] += sign
	}
	line := int32(-1)
	seg := 0
	k := 0
	for i, tok := range l.toks {
		for k < len(l.sights) && l.sights[k].token <= i {
			if s := l.sights[k]; s.line != line {
				line = s.line
				fmt.Printf("<%s.%s>", m.sections[m.lines[line].section].id, m.lines[line].id)
			}
			k++
		}
		if tok.Segment != seg {
			seg = tok.Segment
			fmt.Println()
		}
		fmt.Printf("%s%s ", tok.Text, notes[i])
		if tok.Break == speech.StopBreak {
			fmt.Print("| ")
		}
	}
	fmt.Println()
}
