package speech

import (
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// show writes tokens with their breaks: "," after a CommaBreak, "." after a StopBreak.
func show(toks []Token) string {
	var b strings.Builder
	for i, t := range toks {
		if i > 0 {
			b.WriteByte(' ')
		}
		b.WriteString(t.Text)
		switch t.Break {
		case CommaBreak:
			b.WriteByte(',')
		case StopBreak:
			b.WriteByte('.')
		}
	}
	return b.String()
}

func TestTokensOf(t *testing.T) {
	for _, c := range []struct{ in, want, why string }{
		{"Check the Mirrors", "check the mirrors", "lower case"},
		{"leaks, cracks; bends. Next", "leaks, cracks. bends. next", "comma and stop"},
		{"don’t DON'T 'quoted' drivers'", "don't don't quoted drivers", "curly quotes; only inner apostrophes stay"},
		{"twenty-five U-bolts S-cam", "twenty five u bolts s cam", "hyphens part words"},
		{"20-45 20–45 20 - 45", "20 - 45 20 - 45 20 - 45", "a range of figures"},
		{"the lines - and hoses", "the lines, and hoses", "a dash between words is a comma"},
		{"three—actually four -- no", "three, actually four, no", "em dash and double hyphen"},
		{"4/32 4/32nds 32nds 1/8th 1⁄8", "4/32 4/32 32nds 1/8 1/8", "fractions stay whole"},
		{"½ ¼ 2½ ¾\"", "1/2 1/4 2 1/2 3/4 inches", "fraction signs"},
		{"5psi 5mph 100% 10° 12V 5B:C", "5 psi 5 mph 100 percent 10 degrees 12 v 5 bc", "units leave their figures"},
		{"2\" 10'", "2 inches 10 feet", "inch and foot marks"},
		{"he said \"at 120\" ok", "he said at 120 ok", "a closing quote is not inches"},
		{"1,200 3.5 .5 120. 4,32", "1200 3.5 0.5 120. 4, 32", "thousands, decimals, stops"},
		{"4:32 Note: this", "4:32 note. this", "clock"},
		{"p s i P.S.I. p.s.i p-s-i PSI PSIs", "psi psi psi psi psi psi", "letters join"},
		{"P. S. I. is", "psi. is", "known letters join across points"},
		{"a b s A.B.S. d e f c d l", "abs abs def cdl", "runs of letters"},
		{"a u bolt and i c a crack", "a u bolt and i c a crack", "article and pronoun"},
		{"the a b s i check", "the abs i check", "known abbreviation before a pronoun"},
		{"is a p s i gauge", "is a psi gauge", "article before a known abbreviation"},
		{"120 P.S.I. The low air", "120 psi. the low air", "the last point can end a sentence"},
		{"120 p.s.i. or more", "120 psi or more", "the last point need not end one"},
		{"belts/hoses and/or nuts&bolts", "belts hoses and or nuts and bolts", "slash and ampersand"},
		{"#3 axle", "number 3 axle", "number sign"},
		{"uh... well", "uh, well", "dots are a hesitation"},
		{"— ... ?!", "", "marks alone give nothing"},
		{"leaks.Then leaks,no", "leaks. then leaks, no", "missing space"},
		{"≥55 ≤ 4 ~60 >4", "at least 55 at most 4 about 60 above 4", "signs read as words"},
	} {
		if got := show(TokensOf(c.in)); got != c.want {
			t.Errorf("%s: %q\n got %q\nwant %q", c.why, c.in, got, c.want)
		}
	}
}

func TestTokensBreaks(t *testing.T) {
	tr := &Transcript{
		Words: []Word{
			{Text: "leaks", Start: 0, End: 1},
			{Text: "cracks", Start: 1.5, End: 2},
			{Text: "bends", Start: 2.6, End: 3},
			{Text: "p", Start: 4.5, End: 4.6},
			{Text: "s", Start: 4.6, End: 4.7},
			{Text: "i", Start: 4.7, End: 4.8},
			{Text: "yes", Start: 4.8, End: 5, Segment: 1},
			{Text: "far", Start: 5, End: 6, Segment: 1, Estimated: true},
			{Text: "off", Start: 9, End: 10, Segment: 1, Estimated: true},
		},
		Segments: []Segment{{Speaker: "A", First: 0, Last: 6}, {Speaker: "B", First: 6, Last: 9}},
	}
	toks := Tokens(tr)
	if got, want := show(toks), "leaks cracks, bends. psi. yes far off"; got != want {
		t.Fatalf("got %q, want %q", got, want)
	}
	psi := toks[3]
	if psi.Word != 3 || psi.Start != 4.5 || psi.End != 4.8 || psi.Segment != 0 {
		t.Errorf("joined letters span %+v", psi)
	}
}

// soup draws words as recognizers and people write them, and worse.
func soup() *rapid.Generator[[]string] {
	word := rapid.OneOf(
		rapid.SampledFrom(strings.Fields(`a i an the one two four thirty seconds second 32nds 4/32 430 4:32 4-32 120 psi p s i PSI.
			pounds hundred and a half quarter inch no not more than less at least or minimum before drops below to for between
			twenty twenty-five oh point five sorry I mean uh minute 1,200 3.5 ½ 2" 10° 5mph # & — - ... max tread brake of thousand sixteenths over`)),
		rapid.StringMatching(`[ -~]{1,8}`),
		rapid.String(),
	)
	return rapid.SliceOfN(word, 0, 60)
}

func TestTokensProperty(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		words := soup().Draw(t, "words")
		tr := &Transcript{Segments: []Segment{{Last: len(words)}}}
		for i, w := range words {
			tr.Words = append(tr.Words, Word{Text: w, Start: float64(i), End: float64(i) + 0.9})
		}
		last := -1
		for _, k := range Tokens(tr) {
			if k.Word < last || k.Word >= len(words) {
				t.Fatalf("token %q at word %d after %d", k.Text, k.Word, last)
			}
			last = k.Word
			if k.Text == "" || strings.ContainsAny(k.Text, " \t\n,\"") {
				t.Fatalf("token %q of %q is not a normal form", k.Text, words[k.Word])
			}
			if k.Start != float64(k.Word) || k.End < k.Start {
				t.Fatalf("token %q has times %v-%v", k.Text, k.Start, k.End)
			}
		}
	})
}

// A pause parts phrases, unless it comes where nobody ends one.
func TestPauses(t *testing.T) {
	for _, c := range []struct {
		before string
		pause  float64
		want   Break
		why    string
	}{
		{"clean", 0.3, NoBreak, "no pause"},
		{"clean", 0.8, CommaBreak, "a breath"},
		{"clean", 2, StopBreak, "a stop"},
		{"The", 2, NoBreak, "thinking of the name"},
		{"not", 2, NoBreak, "what is denied is still to come"},
		{"in", 2, StopBreak, "locked in: a particle may end a phrase"},
	} {
		tr := &Transcript{Segments: []Segment{{End: 10, Last: 2}}, Words: []Word{
			{Text: c.before, Start: 0, End: 1}, {Text: "bent", Start: 1 + c.pause, End: 2 + c.pause}}}
		if got := Tokens(tr)[0].Break; got != c.want {
			t.Errorf("%q and %.1f s: break %d, want %d: %s", c.before, c.pause, got, c.want, c.why)
		}
	}
}
