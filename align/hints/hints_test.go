package hints

import (
	"bufio"
	"bytes"
	"math"
	"slices"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"markaround/align"
	"markaround/rubric"
)

func load(t testing.TB, name string) *rubric.Rubric {
	t.Helper()
	r, err := rubric.Load(name)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func weightOf(list []Hint, text string) int {
	for _, h := range list {
		if h.Text == text {
			return h.Weight
		}
	}
	return 0
}

func TestWords(t *testing.T) {
	words := Words(load(t, "class-a"))
	for _, c := range []struct {
		reason, word string
		want         int
	}{
		{"recognizers write something else for it", "pitman", 3},
		{"it is part of a name", "reflector", 2},
		{"it is only said of parts", "corroded", 1},
		{"it is said in any conversation", "the", 0},
		{"so is a number", "four", 0},
		{"it is of another vehicle", "elliptical", 0},
	} {
		if got := weightOf(words, c.word); got != c.want {
			t.Errorf("%q weighs %d, want %d: %s", c.word, got, c.want, c.reason)
		}
	}
	if bus := Words(load(t, "school-bus")); weightOf(bus, "gladhand") != 0 || weightOf(words, "gladhand") == 0 || weightOf(bus, "elliptical") == 0 {
		t.Error("a word of the sheet that this one is made from, and no part of it, is a hint")
	}
}

// What every list promises, for every embedded sheet.
func TestLists(t *testing.T) {
	names, _ := rubric.Names()
	for _, name := range names {
		r := load(t, name)
		for _, list := range [][]Hint{Words(r), Phrases(r)} {
			seen := map[string]bool{}
			for i, h := range list {
				switch {
				case seen[h.Text]:
					t.Errorf("%s: %q is there twice", name, h.Text)
				case h.Text != strings.ToLower(h.Text) || h.Text != strings.Join(strings.Fields(h.Text), " ") || h.Text == "":
					t.Errorf("%s: %q is not in plain form", name, h.Text)
				case h.Weight < 1 || h.Weight > 3 || i > 0 && list[i-1].Weight < h.Weight:
					t.Errorf("%s: %q weighs %d, out of order", name, h.Text, h.Weight)
				case !slices.ContainsFunc(strings.Fields(h.Text), func(w string) bool { return !align.Everyday(w) }):
					t.Errorf("%s: %q is everyday speech", name, h.Text)
				}
				seen[h.Text] = true
			}
			if len(list) < 50 {
				t.Errorf("%s: only %d", name, len(list))
			}
		}
	}
}

// A short list still has a way to say every part.
func TestPhrasesCoverParts(t *testing.T) {
	r := load(t, "class-a")
	list := Phrases(r)
	first := map[string]int{}
	for i, h := range list {
		first[h.Text] = i
	}
	for e := range r.All() {
		at := len(list)
		for _, s := range e.Item.Say[:min(3, len(e.Item.Say))] {
			if i, ok := first[spoken(s)]; ok {
				at = min(at, i)
			}
		}
		if at > len(list)*2/3 {
			t.Errorf("%s comes at %d of %d", e.Item.ID, at, len(list))
		}
	}
}

func TestPrompt(t *testing.T) {
	r := load(t, "class-a")
	for _, most := range []int{0, 1, 20, 850, 100000} {
		p := Prompt(r, most)
		if len(p) > most || strings.ContainsAny(p, "\n\t") || p != "" && !strings.HasSuffix(p, ".") {
			t.Errorf("at most %d: %q", most, p)
		}
	}
	p := Prompt(r, 850)
	if !strings.HasPrefix(p, "Warning triangles, fire extinguisher, ") || len(p) < 800 {
		t.Errorf("prompt is %q", p)
	}
	for _, part := range strings.Split(strings.TrimSuffix(Prompt(r, 100000), "."), ", ") {
		if part == "" {
			t.Error("an empty part")
		}
	}
}

// parsed is an ARPA file as a recognizer reads it.
type parsed struct {
	prob, back map[string]float64
	words      []string
}

func parse(t testing.TB, text string) parsed {
	t.Helper()
	p := parsed{prob: map[string]float64{}, back: map[string]float64{}}
	declared, counted := map[int]int{}, map[int]int{}
	n := 0
	s := bufio.NewScanner(strings.NewReader(text))
	ended := false
	for s.Scan() {
		line := s.Text()
		switch {
		case line == "" || line == `\data\`:
		case line == `\end\`:
			ended = true
		case strings.HasPrefix(line, "ngram "):
			order, count, _ := strings.Cut(line[6:], "=")
			o, _ := strconv.Atoi(order)
			declared[o], _ = strconv.Atoi(count)
		case strings.HasPrefix(line, `\`):
			n, _ = strconv.Atoi(line[1:2])
		default:
			fields := strings.Split(line, "\t")
			v, err := strconv.ParseFloat(fields[0], 64)
			if err != nil || v > 0 || len(strings.Fields(fields[1])) != n {
				t.Fatalf("bad line %q", line)
			}
			p.prob[fields[1]] = v
			if len(fields) > 2 {
				if p.back[fields[1]], err = strconv.ParseFloat(fields[2], 64); err != nil {
					t.Fatalf("bad line %q", line)
				}
			}
			counted[n]++
			if n == 1 && fields[1] != begin {
				p.words = append(p.words, fields[1])
			}
		}
	}
	if !ended || len(declared) != gramsOrder {
		t.Fatal("not a whole ARPA file")
	}
	for o := range declared {
		if declared[o] != counted[o] {
			t.Errorf("%d %d-grams declared, %d are there", declared[o], o, counted[o])
		}
	}
	return p
}

// score is the base 10 logarithm of a word after a history, by the rule of the
// ARPA form: the longest sequence that is listed, with the backoff weights of
// the histories given up.
func (p parsed) score(history []string, word string) float64 {
	g := strings.Join(append(slices.Clone(history), word), " ")
	if v, ok := p.prob[g]; ok || len(history) == 0 {
		return v
	}
	return p.back[strings.Join(history, " ")] + p.score(history[1:], word)
}

// After every history what may follow sums to one, read by the rules of the
// form, whatever the sentences.
func TestARPASumsToOne(t *testing.T) {
	type failer interface{ Errorf(string, ...any) }
	check := func(t failer, p parsed, histories [][]string) {
		for _, h := range histories {
			sum := 0.0
			for _, w := range p.words {
				sum += math.Pow(10, p.score(h, w))
			}
			if math.Abs(sum-1) > 1e-4 {
				t.Errorf("%q leads to %v", h, sum)
			}
		}
	}
	rapid.Check(t, func(rt *rapid.T) {
		sentences := rapid.SliceOfN(rapid.StringMatching(`[a-d]( [a-d]){0,4}`), 1, 8).Draw(rt, "sentences")
		weights := make([]float64, len(sentences))
		for i := range weights {
			weights[i] = float64(rapid.IntRange(1, 3).Draw(rt, "weight"))
		}
		var b bytes.Buffer
		if err := train(sentences, weights).write(&b); err != nil {
			rt.Fatal(err)
		}
		check(rt, parse(t, b.String()), [][]string{nil, {"a"}, {"b"}, {begin}, {"a", "b"}, {begin, "a"}, {"c", "c"}, {"e"}, {"e", "a"}})
	})
	var b bytes.Buffer
	if err := ARPA(&b, load(t, "forklift")); err != nil {
		t.Fatal(err)
	}
	check(t, parse(t, b.String()), [][]string{nil, {"fork"}, {begin}, {begin, "fork"}, {"lift", "chains"}, {"chains", "lift"}})
}

// Worked by hand: sentences "a b" and "a c". Followers of "a" are b and c, once
// each; of nothing a twice, b, c once and </s> twice, four kinds of six; the
// vocabulary is a, b, c, </s>, <unk>.
func TestARPAWorked(t *testing.T) {
	m := train([]string{"a b", "a c"}, []float64{1, 1})
	b1 := (1 + 4.0/5) / (6 + 4)
	for _, c := range []struct {
		history []string
		word    string
		want    float64
	}{
		{nil, "b", b1},
		{nil, unknown, (4.0 / 5) / 10},
		{[]string{"a"}, "b", (1 + 2*b1) / (2 + 2)},
		{[]string{"a"}, "a", 2 * ((2 + 4.0/5) / 10) / 4},
		{[]string{begin, "a"}, "b", (1 + 2*(1+2*b1)/4) / 4},
		{[]string{"x", "y"}, "b", b1},
	} {
		if got := m.share(c.history, c.word); math.Abs(got-c.want) > 1e-12 {
			t.Errorf("%s after %q is %v, want %v", c.word, c.history, got, c.want)
		}
	}
}

// The sheet's own way to speak is far likelier than the same words shuffled.
func TestARPAPrefersPhrases(t *testing.T) {
	var b bytes.Buffer
	if err := ARPA(&b, load(t, "school-bus")); err != nil {
		t.Fatal(err)
	}
	p := parse(t, b.String())
	whole := func(s string) (sum float64) {
		words := append(append([]string{begin}, strings.Fields(s)...), finish)
		for i := 1; i < len(words); i++ {
			sum += p.score(words[max(0, i-2):i], words[i])
		}
		return sum
	}
	if a, b := whole("body fluid clean up kit"), whole("kit up fluid body clean"); a < b+3 {
		t.Errorf("said 10^%.1f, shuffled 10^%.1f", a, b)
	}
}
