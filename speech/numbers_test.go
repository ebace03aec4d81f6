package speech

import (
	"bufio"
	"compress/gzip"
	"fmt"
	"math/big"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// numberRow is a number as the library num2words 0.5.10 spells it; see
// testdata/numbers/make_table.py.
type numberRow struct{ kind, value, words string }

func numberTable(t *testing.T) []numberRow {
	t.Helper()
	f, err := os.Open(filepath.Join("testdata", "numbers", "num2words.tsv.gz"))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	z, err := gzip.NewReader(f)
	if err != nil {
		t.Fatal(err)
	}
	var rows []numberRow
	for s := bufio.NewScanner(z); s.Scan(); {
		c := strings.Split(s.Text(), "\t")
		rows = append(rows, numberRow{c[0], c[1], c[2]})
	}
	if len(rows) < 11000 {
		t.Fatalf("only %d rows", len(rows))
	}
	return rows
}

// TestNumbersAsSpelled reads every number of the table in several spellings and
// expects one quantity with that value first.
func TestNumbersAsSpelled(t *testing.T) {
	bad := 0
	check := func(r numberRow, text string, unit Unit, anywhere bool) {
		t.Helper()
		if bad > 20 {
			return
		}
		want, ok := new(big.Rat).SetString(r.value)
		if !ok {
			t.Fatalf("bad value in %v", r)
		}
		qs := Quantities(TokensOf(text))
		if len(qs) != 1 {
			bad++
			t.Errorf("%s %s: %q gives %s", r.kind, r.value, text, best(qs))
			return
		}
		for i, rd := range qs[0].Readings {
			if rd.Unit == unit && rd.Low.Cmp(want) == 0 && rd.High.Cmp(want) == 0 && (i == 0 || anywhere) {
				return
			}
		}
		bad++
		t.Errorf("%s %s: %q gives %s", r.kind, r.value, text, best(qs))
	}
	noAnd := strings.NewReplacer(" and ", " ", ",", "")
	noHyphen := strings.NewReplacer("-", " ", ",", "")
	for _, r := range numberTable(t) {
		switch r.kind {
		case "cardinal":
			alone := r.value != "1" // "one" by itself is a pronoun
			for _, text := range []string{r.words, noAnd.Replace(r.words), noHyphen.Replace(r.words), noHyphen.Replace(noAnd.Replace(r.words))} {
				if alone {
					check(r, text, NoUnit, false)
				}
				check(r, text+" psi", PSI, false)
			}
			if rest, ok := strings.CutPrefix(r.words, "one "); ok && r.value != "1" {
				check(r, "a "+rest, NoUnit, false)
			}
			check(r, r.value+" psi", PSI, false)
			check(r, r.value+"psi", PSI, false)
			check(r, r.value, NoUnit, true) // 432 is first a tread depth
		case "year":
			check(r, r.words, NoUnit, false)
			check(r, noHyphen.Replace(r.words)+" rpm", RPM, false)
		case "decimal":
			check(r, r.words, NoUnit, false)
			check(r, noHyphen.Replace(r.words)+" inches", Inch, false)
			check(r, r.value+" inches", Inch, false)
			check(r, strings.TrimPrefix(r.words, "zero ")+" psi", PSI, false)
		case "fraction":
			for _, text := range []string{r.words, noHyphen.Replace(r.words), r.value} {
				check(r, text+" of an inch", Inch, false)
				check(r, text+" inch", Inch, false)
				if text != "one half" && text != "fifteen sixteenth" {
					check(r, text, Inch, true)
				}
			}
		}
	}
}

// TestOrdinals: an ordinal is the name of a place, but "thirty second", which
// is also a time.
func TestOrdinals(t *testing.T) {
	for _, r := range numberTable(t) {
		if r.kind != "ordinal" || strings.HasSuffix(r.words, "-second") {
			continue
		}
		for _, text := range []string{"the " + r.words + " wheel", "on the " + strings.ReplaceAll(r.words, "-", " ")} {
			if qs := Quantities(TokensOf(text)); len(qs) != 0 {
				t.Errorf("%q gives %s", text, best(qs))
			}
		}
	}
}

// TestThirtySeconds reads every numerator over 32 in every shape that
// recognizers give it. Shapes: common practice, no source.
func TestThirtySeconds(t *testing.T) {
	word := map[int]string{}
	for _, r := range numberTable(t) {
		var n int
		if _, err := fmt.Sscan(r.value, &n); err == nil && r.kind == "cardinal" && n < 32 {
			word[n] = strings.ReplaceAll(r.words, "-", " ")
		}
	}
	for n := 1; n <= 20; n++ {
		w := word[n]
		shapes := []string{
			fmt.Sprintf("%d/32", n), fmt.Sprintf("%d/32nds", n), fmt.Sprintf("%d 32nds", n),
			fmt.Sprintf("%d 30 seconds", n), fmt.Sprintf("%d 30 second", n), fmt.Sprintf("%d thirty seconds", n),
			fmt.Sprintf("%d 30-seconds", n), fmt.Sprintf("%d32nds", n), fmt.Sprintf("%d over 32", n),
			fmt.Sprintf("%d32 seconds", n), fmt.Sprintf("%d30 seconds", n), fmt.Sprintf("%d/30 seconds", n),
			fmt.Sprintf("%d:30 seconds", n), fmt.Sprintf("%d:32", n), fmt.Sprintf("%d 32s", n),
			w + " thirty seconds", w + " thirty-seconds", w + " thirty two seconds", w + " thirty second of an inch",
			w + " over thirty two", w + " 32nds", w + " 30 seconds", w + " 32nds of an inch",
		}
		if n <= 12 {
			shapes = append(shapes, fmt.Sprintf("%d-32", n), fmt.Sprintf("%d 32", n), fmt.Sprintf("%d 30 2", n), w+" thirty two", w+" 32")
		}
		for _, s := range shapes {
			for _, in := range []string{"%s", "my tread depth is %s or more", "tires at least %s on every major groove"} {
				text := fmt.Sprintf(in, s)
				qs := Quantities(TokensOf(text))
				if len(qs) != 1 {
					t.Errorf("%q gives %s", text, best(qs))
					continue
				}
				r := qs[0].Readings[0]
				if in == "%s" { // without context any reading will do
					for _, o := range qs[0].Readings {
						if o.Unit == Inch {
							r = o
						}
					}
				}
				if r.Unit != Inch || r.Low.Cmp(big.NewRat(int64(n), 32)) != 0 || r.High.Cmp(r.Low) != 0 {
					t.Errorf("%q gives %s", text, best(qs))
				}
				if in != "%s" && qs[0].Bound != AtLeast {
					t.Errorf("%q has bound %s", text, qs[0].Bound)
				}
			}
		}
	}
}

// checkQuantities is what must hold of any list of quantities.
func checkQuantities(toks []Token, qs []Quantity) error {
	last := 0
	for i, q := range qs {
		switch {
		case q.First < last || q.First > q.NumberFirst || q.NumberFirst >= q.Last || q.Last > len(toks):
			return fmt.Errorf("quantity %d: span %d-%d, number at %d, after %d of %d", i, q.First, q.Last, q.NumberFirst, last, len(toks))
		case len(q.Readings) == 0:
			return fmt.Errorf("quantity %d has no reading", i)
		case q.Text == "":
			return fmt.Errorf("quantity %d has no text", i)
		case q.Replaces >= i || q.Replaces < -1 || q.Replaces >= 0 && !qs[q.Replaces].Replaced:
			return fmt.Errorf("quantity %d replaces %d", i, q.Replaces)
		case q.Bound > Between:
			return fmt.Errorf("quantity %d has bound %d", i, q.Bound)
		}
		for _, r := range q.Readings {
			if r.Low == nil || r.High == nil || r.Low.Cmp(r.High) > 0 || r.Low.Sign() < 0 {
				return fmt.Errorf("quantity %d reads %v", i, r)
			}
			if FormatQuantity(r, q.Bound) == "" {
				return fmt.Errorf("quantity %d cannot be written", i)
			}
		}
		last = q.Last
	}
	return nil
}

func TestQuantitiesProperty(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		toks := TokensOf(soup().Draw(t, "words")...)
		qs := Quantities(toks)
		if err := checkQuantities(toks, qs); err != nil {
			t.Fatalf("%v in %q", err, show(toks))
		}
	})
}

// TestQuantitiesLocal: what is said in another sentence, without a figure or a
// cue in it, changes no quantity.
func TestQuantitiesLocal(t *testing.T) {
	sentences := []string{"At least 4/32.", "Before it drops below 55 psi.", "No more than 4 psi in one minute.", "Between 20 and 45.", "One twenty five psi."}
	rapid.Check(t, func(t *rapid.T) {
		var text, want []string
		for _, s := range rapid.SliceOfN(rapid.SampledFrom(sentences), 1, 8).Draw(t, "sentences") {
			text = append(text, s, "The mirror is clean.")
			want = append(want, best(Quantities(TokensOf(s))))
		}
		if got := best(Quantities(TokensOf(text...))); got != strings.Join(want, "; ") {
			t.Fatalf("%q gives\n%s\nwant\n%s", text, got, want)
		}
	})
}

func FuzzQuantities(f *testing.F) {
	for _, s := range []string{"", "at least four thirty seconds", "430 seconds 4:32 4-32 2 1/2 point five", "sixty, no, fifty-five",
		"between a hundred and one and a hundred and twenty", "over over 32", "1,200/3 0/0 9999999.9999 1/0 00", "a an half of to for - and"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		toks := TokensOf(s)
		if err := checkQuantities(toks, Quantities(toks)); err != nil {
			t.Fatal(err)
		}
	})
}

// inspectionText is an invented passage of an inspection, repeated to n words.
func inspectionText(n int) []Token {
	const passage = `this is my steer tire it is properly inflated to the manufacturers specification and I would check it with a gauge
		not by kicking it tread depth is no less than four thirty seconds of an inch in every major groove evenly worn no cuts bulges
		or abrasions to the tread or sidewall the rim is not bent broken or cracked no illegal welds all lug nuts are present none loose
		no rust trails the governor cuts out between one twenty and one forty psi now with the brake fully applied for one minute I should
		not lose more than four psi the low air warning comes on before it drops below fifty five psi and the valve pops out
		between twenty and forty five psi mirrors are clean and adjusted three reflective triangles spare fuses and a charged and rated
		fire extinguisher heater and defroster work wipers work the horn works there are no leaks under the engine belts have no more
		than a half to three quarters of an inch of play they are not cracked or frayed`
	words := strings.Fields(passage)
	var all []string
	for len(all) < n {
		all = append(all, words...)
	}
	return TokensOf(all[:n]...)
}

func BenchmarkQuantities(b *testing.B) {
	for _, times := range []int{1, 4, 16} {
		toks := inspectionText(3500 * times)
		b.Run(fmt.Sprintf("words=%d", 3500*times), func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				if len(Quantities(toks)) == 0 {
					b.Fatal("no quantities")
				}
			}
		})
	}
	// The worst case: nothing but figures and words that begin them.
	all := strings.Fields(strings.Repeat("four thirty seconds to a hundred and one before over half no 430 for 30 seconds or less ", 250))
	toks := TokensOf(all...)
	b.Run(fmt.Sprintf("dense=%d", len(toks)), func(b *testing.B) {
		b.ReportAllocs()
		for b.Loop() {
			Quantities(toks)
		}
	})
}

func BenchmarkTokens(b *testing.B) {
	toks := inspectionText(3500)
	t := &Transcript{Segments: []Segment{{Last: len(toks)}}}
	for _, k := range toks {
		t.Words = append(t.Words, Word{Text: k.Text})
	}
	b.ReportAllocs()
	for b.Loop() {
		Tokens(t)
	}
}
