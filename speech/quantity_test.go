package speech

import (
	"fmt"
	"os"
	"strings"
	"testing"
)

// plain writes a reading with its bound as the tables of this package do:
// "at-least 4/32 inch", "between 20..45 psi", "exact 3".
func plain(r Reading, b Bound) string {
	s := b.String() + " " + formatValue(r.Low, r.Unit)
	if r.Low.Cmp(r.High) != 0 {
		s += ".." + formatValue(r.High, r.Unit)
	}
	if r.Unit != NoUnit {
		s += " " + string(r.Unit)
	}
	return s
}

// best writes the best reading of each quantity, "~" before one taken back, "?"
// before a weak one; "-" where there are none.
func best(qs []Quantity) string {
	var out []string
	for _, q := range qs {
		s := plain(q.Readings[0], q.Bound)
		if q.Weak {
			s = "?" + s
		}
		if q.Replaced {
			s = "~" + s
		}
		out = append(out, s)
	}
	if out == nil {
		return "-"
	}
	return strings.Join(out, "; ")
}

func TestShow(t *testing.T) {
	f := os.Getenv("SHOW")
	if f == "" {
		t.Skip()
	}
	b, _ := os.ReadFile(f)
	for l := range strings.Lines(string(b)) {
		l = strings.TrimSpace(l)
		toks := TokensOf(l)
		qs := Quantities(toks)
		fmt.Printf("%-60s => %s\n", l, best(qs))
		for _, q := range qs {
			fmt.Printf("      %q", q.Text)
			for _, r := range q.Readings {
				fmt.Printf(" [%s]", plain(r, Exact)[6:])
			}
			fmt.Println()
		}
	}
}

// TestSentences: how people of the trade say it; sentences invented for this
// test (testdata/numbers/sentences.tsv).
func TestSentences(t *testing.T) {
	data, err := os.ReadFile("testdata/numbers/sentences.tsv")
	if err != nil {
		t.Fatal(err)
	}
	n := 0
	for line := range strings.Lines(string(data)) {
		line = strings.TrimSpace(line)
		if line == "" || line[0] == '#' {
			continue
		}
		text, want, ok := strings.Cut(line, "\t")
		if !ok {
			t.Fatalf("no tab in %q", line)
		}
		n++
		toks := TokensOf(text)
		qs := Quantities(toks)
		if got := best(qs); got != want {
			t.Errorf("%q\n got %s\nwant %s", text, got, want)
		}
		if err := checkQuantities(toks, qs); err != nil {
			t.Errorf("%q: %v", text, err)
		}
	}
	if n < 120 {
		t.Errorf("%d sentences, want at least 120", n)
	}
}
