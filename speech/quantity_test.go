package speech

import (
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

// TestShapes: each way to say a number, a unit, a bound or a correction, and
// what only looks like one. Where a reason names no source, it is how people and
// recognizers of the trade say it: common practice, no source.
func TestShapes(t *testing.T) {
	for _, c := range []struct{ in, want, why string }{
		// numbers
		{"a hundred and five", "exact 105", "article for one"},
		{"about 1/2 an inch of give", "about 1/2 inch", "a half written as a figure before its article"},
		{"four 32nds on the steers and it's two for all the other ones", "exact 4/32 inch; exact 2/32 inch", "32nds said once"},
		{"four 32nds on the steers and two lug nuts", "exact 4/32 inch; exact 2", "what is counted has no 32nds"},
		{"lost 3 in a minute, the most it can be is 4", "exact 3; ?exact 1 minute; at-most 4", "the bound opens the next clause"},
		{"4 psi is the most you can lose", "at-most 4 psi", "the bound ends its own clause"},
		{"120, no, looking at the wrong needle, 125", "~exact 120; exact 125", "a slip of the eye taken back"},
		{"one hundred five", "exact 105", "no and"},
		{"hundred and twenty psi", "exact 120 psi", "the article lost"},
		{"a buck twenty", "exact 120", "slang for a hundred"},
		{"1 hundred and 20", "exact 120", "figures and words mixed"},
		{"a 100 psi", "exact 100 psi", "article before a figure"},
		{"one hundred, twenty psi", "exact 120 psi", "a pause after hundred"},
		{"one hundred one twenty", "exact 100; exact 120", "two numbers: the second begins anew"},
		{"one two five psi", "exact 125 psi", "digits one by one"},
		{"1 2 5 psi", "exact 125 psi", "digits one by one in figures"},
		{"one twenty", "exact 120", "pair"},
		{"one twenty five", "exact 125", "pair with a unit digit"},
		{"1 25 psi", "exact 125 psi", "pair in figures"},
		{"one oh five", "exact 105", "oh"},
		{"one zero five", "exact 105", "zero for oh"},
		{"one twenty one eighteen", "exact 120; exact 118", "two pairs in a row"},
		{"one twenty one twenty five", "exact 120; exact 125", "two pairs in a row"},
		{"twenty twenty five", "exact 2025", "year pair"},
		{"twenty forty five psi", "exact 20..45 psi", "no gauge reads 2045: the to was lost"},
		{"sixty fifty five", "exact 60; exact 55", "two numbers, not 6055"},
		{"twenty-five hundred rpm", "exact 2500 rpm", "hundreds above ten"},
		{"two point five", "exact 2.5", "decimal"},
		{"point five", "exact 1/2", "decimal without a whole"},
		{"at this point five bolts", "exact 5", "point as a noun"},
		{"2.5 1,200 .5", "exact 2.5; exact 1200; exact 1/2", "figures"},
		{"zero psi", "exact 0 psi", "zero"},
		{"no pressure loss", "-", "no figure was said"},
		{"uh four um thirty seconds of tread", "exact 4/32 inch", "fillers inside a number"},
		{"fifteen fifty", "exact 1550", "never one for the other"},
		{"a couple of inches", "?exact 2 inch", "couple is two, loosely"},
		{"pump it twice", "?exact 2", "twice"},
		{"pump it three times", "exact 3", "times"},
		{"12345678", "-", "too long for a measure"},

		// fractions
		{"three sixteenths of an inch", "exact 6/32 inch", "ordinal as denominator"},
		{"one eighth of an inch", "exact 4/32 inch", "singular"},
		{"1/8th inch", "exact 4/32 inch", "ordinal ending"},
		{"3 16ths", "exact 6/32 inch", "figures"},
		{"316ths", "exact 6/32 inch", "run together"},
		{"three quarters of an inch", "exact 3/4 inch", "quarters"},
		{"three quarter inch", "exact 3/4 inch", "quarter as an adjective"},
		{"a quarter inch", "exact 1/4 inch", "article"},
		{"half an inch", "exact 1/2 inch", "half an"},
		{"half inch", "exact 1/2 inch", "half alone before its unit"},
		{"½ inch and ¾ inch", "exact 1/2 inch; exact 3/4 inch", "signs"},
		{"an inch and a half", "exact 1 1/2 inch", "unit inside"},
		{"two and a half inches", "exact 2 1/2 inch", "mixed"},
		{"two and half inches", "exact 2 1/2 inch", "the article lost"},
		{"one and three quarter inches", "exact 1 3/4 inch", "mixed with quarters"},
		{"2 1/2 inches and 2-1/4 inches", "exact 2 1/2 inch; exact 2 1/4 inch", "mixed in figures"},
		{"an eighth of a tank", "exact 1/8", "a level is no length"},
		{"fuel is at half a tank", "exact 1/2", "a level"},
		{"the bottom half is clean", "-", "half as a noun"},
		{"belt play a half to three quarters", "between 1/2..3/4 inch", "length by the words around"},
		{"a fifth wheel", "-", "a part, not 1/5"},
		{"the third axle and the second one", "-", "ordinals"},
		{"twenty first", "-", "ordinal of two words"},

		// 32nds
		{"2/32", "exact 2/32 inch", "figures"},
		{"4 32nds", "exact 4/32 inch", "ordinal"},
		{"2 30 seconds", "exact 2/32 inch", "as recognizers write it"},
		{"2 30 second", "exact 2/32 inch", "singular"},
		{"4 30-seconds", "exact 4/32 inch", "hyphen"},
		{"430 seconds", "exact 4/32 inch", "run together"},
		{"432nds", "exact 4/32 inch", "run together"},
		{"4:32", "exact 4/32 inch", "as a clock"},
		{"tread is 4.32", "exact 4/32 inch", "as a decimal"},
		{"tread 4,32", "exact 4/32 inch", "with a comma"},
		{"4 30 2", "exact 4/32 inch", "three figures"},
		{"4-32", "exact 4/32 inch", "with a dash"},
		{"four over thirty two", "exact 4/32 inch", "read aloud"},
		{"two 32s", "exact 2/32 inch", "plural"},
		{"four thirty-second of an inch", "exact 4/32 inch", "singular"},
		{"for 32nds", "exact 4/32 inch", "for sounds like four"},
		{"to 32nds", "exact 2/32 inch", "to sounds like two"},
		{"tread depth for 30 seconds", "exact 4/32 inch", "for, near tread"},
		{"tread to thirty seconds", "exact 2/32 inch", "to, near tread"},
		{"hold it for 30 seconds", "exact 30 second", "for, near hold"},
		{"hold it four 30 seconds", "exact 30 second", "four for for, near hold"},
		{"hold for 130 seconds", "exact 130 second", "a time, near hold"},
		{"a thirty second hold", "exact 30 second", "no numerator"},
		{"my gauge says 132 psi", "exact 132 psi", "a pressure with 32 in it"},
		{"air pressure is one thirty two", "exact 132", "a pressure, near air"},
		{"one hundred thirty seconds", "exact 130 second", "a cardinal is no numerator"},
		{"two to four thirty seconds", "between 2/32..4/32 inch", "the first numerator has no denominator"},
		{"axle 2 4/32", "exact 4/32 inch", "the axle's number is not part of it"},
		{"axle one four thirty seconds", "exact 4/32 inch", "nor in words"},

		// units
		{"4 pounds", "exact 4 psi", "pounds are psi first"},
		{"120 lbs", "exact 120 psi", "abbreviated"},
		{"90 pounds of air", "exact 90 psi", "of air"},
		{"120 pounds per square inch", "exact 120 psi", "in full"},
		{"120 P.S.I. or more", "at-least 120 psi", "points"},
		{"a gross weight of 26,001 pounds", "exact 26001 pound", "weight by the words around"},
		{"a 5 pound fire extinguisher", "exact 5 pound", "weight"},
		{"90 foot pounds of torque", "exact 90", "torque is neither"},
		{"one minute", "exact 1 minute", "one with a unit is a figure"},
		{"a full minute", "exact 1 minute", "adjective between"},
		{"two more minutes", "exact 2 minute", "adjective between"},
		{"two minutes and thirty seconds", "exact 150 second", "joined"},
		{"60 seconds", "exact 60 second", "plural"},
		{"half an hour", "exact 30 minute", "hours are minutes"},
		{"5 miles an hour", "exact 5 mph", "in words"},
		{"5mph", "exact 5 mph", "no space"},
		{"10° of play", "exact 10 degree", "sign"},
		{"2\" gap", "exact 2 inch", "sign"},
		{"a thousand rpms", "exact 1000 rpm", "plural"},
		{"14 volts", "exact 14 volt", "volts"},
		{"100%", "exact 100 percent", "sign"},
		{"20 in the tank", "exact 20", "in is no inch there"},
		{"120 foot brake", "exact 120", "foot is no unit there"},
		{"more than for psi", "above 4 psi", "for after a bound"},
		{"tires checked for psi and filled to pounds", "-", "for and to without a bound"},

		// counts and what is no figure
		{"three reflective triangles", "exact 3", "a count"},
		{"3 red triangles", "exact 3", "a count"},
		{"two wheels", "exact 2", "a count without a unit"},
		{"one of the tires", "-", "pronoun"},
		{"this one that one no one each one", "-", "pronouns"},
		{"number one brake number 3 hose #2", "-", "names"},
		{"step two axle 3", "-", "names"},
		{"four-way flashers and four ways", "-", "a name"},
		{"ten four", "-", "understood"},
		{"at 3 o'clock", "-", "clock position"},
		{"give me one second and wait a second", "-", "idiom"},
		{"for the front to the rear", "-", "for and to as themselves"},
		{"once I am done", "-", "conjunction"},

		// ranges
		{"120 PSI to 140 PSI", "between 120..140 psi", "both units"},
		{"between twenty and forty-five", "between 20..45", "between"},
		{"between a hundred and fifteen and a hundred and twenty", "between 115..120", "and inside the numbers"},
		{"between one hundred and one twenty", "between 100..120", "and between them"},
		{"between about 20 and 45", "between 20..45", "about"},
		{"between 45 and 20", "between 20..45", "the wrong way round"},
		{"20 to 45", "between 20..45", "to"},
		{"20-45", "between 20..45", "dash"},
		{"from 120 to 140", "between 120..140", "from"},
		{"one twenty to one forty", "between 120..140", "pairs"},
		{"20 or 45", "exact 20; exact 45", "or is no range"},
		{"3 or 4 psi", "exact 3 psi; exact 4 psi", "or shares the unit"},
		{"drops from 120 to 116", "exact 120; exact 116", "falling is no range"},
		{"4 psi to 1 minute", "exact 4 psi; exact 1 minute", "units differ"},

		// bounds
		{"at least 4", "at-least 4", ""}, {"no less than 4", "at-least 4", ""}, {"not less than 4", "at-least 4", ""},
		{"should not be less than 4", "at-least 4", ""}, {"not below 4", "at-least 4", ""}, {"minimum 4", "at-least 4", ""},
		{"4 psi minimum", "at-least 4 psi", ""}, {"a minimum of 4/32", "at-least 4/32 inch", ""}, {"4 or more", "at-least 4", ""},
		{"4 or better", "at-least 4", ""}, {"4 or greater", "at-least 4", ""}, {"4 or higher", "at-least 4", ""}, {"4 and up", "at-least 4", ""},
		{"above 4", "above 4", ""}, {"over 4", "above 4", ""}, {"more than 4", "above 4", ""}, {"greater than 4", "above 4", ""},
		{"at most 4", "at-most 4", ""}, {"no more than 4", "at-most 4", ""}, {"not more than 4", "at-most 4", ""}, {"within 4", "at-most 4", ""},
		{"not exceed 4", "at-most 4", ""}, {"not exceeding 4", "at-most 4", ""}, {"doesn't exceed 4", "at-most 4", ""}, {"not to exceed 4", "at-most 4", ""},
		{"maximum 4", "at-most 4", ""}, {"4 max", "at-most 4", ""}, {"a maximum of 4", "at-most 4", ""}, {"4 or less", "at-most 4", ""},
		{"4 or under", "at-most 4", ""}, {"lose up to 4", "at-most 4", ""}, {"builds up to 120", "exact 120", "a reading"},
		{"under 4", "below 4", ""}, {"below 4", "below 4", ""}, {"less than 4", "below 4", ""},
		{"before it drops below 55", "before 55", ""}, {"before it gets to 55", "before 55", ""}, {"before the pressure drops below 55", "before 55", ""},
		{"at or before 55", "before 55", ""}, {"by 55", "before 55", ""}, {"no later than 55", "before 55", ""}, {"drops by 4 psi", "exact 4 psi", "an amount"},
		{"at or above 55", "at-least 55", ""}, {"at or below 55", "at-most 55", ""}, {"exactly 5", "exact 5", ""},
		{"about 4", "about 4", ""}, {"around 4", "about 4", ""}, {"approximately 4", "about 4", ""}, {"roughly 4", "about 4", ""}, {"somewhere around 4", "about 4", ""},
		{"at least about 4", "at-least 4", "the stronger word counts"},
		{"should not lose more than 4", "at-most 4", "negation at a distance"},
		{"cannot drop more than 4", "at-most 4", "negation at a distance"},
		{"shouldn't be any less than 4", "at-least 4", "negation at a distance"},
		{"never goes below 4", "at-least 4", "never"},
		{"can't be under 4", "at-least 4", "contraction"},
		{"cant be under 4", "at-least 4", "contraction without its apostrophe"},
		{"must not be lower than 4", "at-least 4", ""}, {"no lower than 4", "at-least 4", ""}, {"isn't under 4", "at-least 4", ""},
		{"not any more than 4", "at-most 4", "two words"},
		{"should not be no less than 4", "at-least 4", "double negation of the spoken kind"},
		{"drops 4 psi", "exact 4 psi", "a verb turns nothing"},
		{"not lose 4 or more", "below 4", "negation of a bound behind"},
		{"no less then 4", "at-least 4", "then for than"},
		{"no less 4/32", "at-least 4/32 inch", "than lost"},
		{"at lease 4", "at-least 4", "lease for least"},
		{"no greater pressure loss than 4", "at-most 4", "words inside"},
		{"maximum air loss 4", "at-most 4", "no link"},
		{"the minimum on the steers is 4/32", "at-least 4/32 inch", "further back"},
		{"4/32 is the minimum", "at-least 4/32 inch", "behind, with a verb"},
		{"minimum 4/32 minimum 2/32", "at-least 4/32 inch; at-least 2/32 inch", "each its own"},
		{"4/32 minimum 2/32 minimum", "at-least 4/32 inch; at-least 2/32 inch", "each its own"},
		{"not less than 100 or more than 120", "at-least 100; at-most 120", "one negation for both"},
		{"anything below 4/32 is out of service", "at-least 4/32 inch", "the values refused"},
		{"when it drops below 60 the light comes on", "below 60", "not refused"},
		{"no leaks tread depth more than 4/32", "above 4/32 inch", "no belongs to the leaks"},
		{"it is not leaking it has more than 4/32", "above 4/32 inch", "another clause"},
		{"not cracked. more than 4/32", "above 4/32 inch", "another sentence"},
		{"it is not bent and over 4/32 of tread", "above 4/32 inch", "another clause"},
		{"no drop of more than 4", "at-most 4", "a loss denied"},
		{"at least. 4", "exact 4", "another sentence"},
		{"check under the hood 3 belts", "exact 3", "under is not next to the figure"},

		// corrections
		{"sixty, no, fifty-five", "~exact 60; exact 55", "no"},
		{"sixty no fifty five", "~exact 60; exact 55", "no punctuation"},
		{"four thirty, I mean two thirty seconds", "~exact 430; exact 2/32 inch", "I mean"},
		{"120 sorry 125", "~exact 120; exact 125", "sorry"},
		{"three—actually four psi", "~exact 3; exact 4 psi", "actually"},
		{"60 no wait 55", "~exact 60; exact 55", "wait"},
		{"at least 60 psi scratch that 55", "~at-least 60 psi; at-least 55 psi", "unit and bound are inherited"},
		{"60 correction 55", "~exact 60; exact 55", "correction"},
		{"60 let me correct that 55", "~exact 60; exact 55", "in full"},
		{"60 excuse me 55", "~exact 60; exact 55", "excuse me"},
		{"60 or rather 55", "~exact 60; exact 55", "rather"},
		{"60 make that 55", "~exact 60; exact 55", "make that"},
		{"3 psi uh no it's 4", "~exact 3 psi; exact 4 psi", "it's"},
		{"60 no 50 no 55", "~exact 60; ~exact 50; exact 55", "twice"},
		{"55 not 60", "exact 55; ~exact 60", "denied"},
		{"not 60, 55", "~exact 60; exact 55", "denied first"},
		{"I lost 2 no more than 4", "exact 2; at-most 4", "no begins a bound"},
		{"4 psi no leaks 3 bolts", "exact 4 psi; exact 3", "no belongs to the leaks"},
		{"4 psi, no cracks, no bends, 2 inches", "exact 4 psi; exact 2 inch", "a list of defects"},
		{"4 psi no 2 inches", "exact 4 psi; exact 2 inch", "units that cannot stand for each other"},
		{"one minute hold on 60 psi", "exact 1 minute; exact 60 psi", "units differ"},
		{"60 wait 30 seconds", "exact 60; exact 30 second", "a time does not correct a bare figure"},
		{"the steer is 4/32 actually the drive is 2/32", "exact 4/32 inch; exact 2/32 inch", "said of another part"},
		{"lost 2 psi sorry I forgot the mirrors the buzzer is on at 55", "exact 2 psi; exact 55", "an apology for something else"},
		{"120 rather than 125", "exact 120; exact 125", "rather than takes nothing back"},
	} {
		toks := TokensOf(c.in)
		qs := Quantities(toks)
		if got := best(qs); got != c.want {
			t.Errorf("%q (%s)\n got %s\nwant %s", c.in, c.why, got, c.want)
		}
		if err := checkQuantities(toks, qs); err != nil {
			t.Errorf("%q: %v", c.in, err)
		}
	}
}

// TestReadings: what a number may also be.
func TestReadings(t *testing.T) {
	for _, c := range []struct {
		in, want, why string
	}{
		{"430 seconds", "4/32 inch|430 second", "the fraction first without context"},
		{"I waited 430 seconds", "430 second|4/32 inch", "a time near waiting"},
		{"2 30 seconds", "2/32 inch|230 second|150 second|30 second", "minutes and seconds too"},
		{"4:32", "4/32 inch|272 second", "a clock"},
		{"hold for thirty seconds", "30 second|0.5 minute|4/32 inch", "for may be four"},
		{"tread for thirty seconds", "4/32 inch|30 second", "for is four near tread"},
		{"four thirty two", "4/32 inch|432", "a bare number"},
		{"one thirty two", "132|1/32 inch", "a pressure first"},
		{"4-32", "4/32 inch|4..32", "a range"},
		{"4 pounds", "4 psi|4 pound", "weight"},
		{"one minute", "1 minute|60 second", "in seconds"},
		{"60 seconds", "60 second|1 minute", "in minutes"},
		{"three quarters", "3/4|3/4 inch", "a level first"},
		{"belt play three quarters", "3/4 inch|3/4", "a length first"},
		{"twenty forty five psi", "20..45 psi|2045 psi", "a lost to"},
		{"four four psi", "44 psi|4 psi", "a stutter"},
		{"one two three", "123|3", "counting"},
	} {
		qs := Quantities(TokensOf(c.in))
		if len(qs) != 1 {
			t.Errorf("%q gives %s", c.in, best(qs))
			continue
		}
		var got []string
		for _, r := range qs[0].Readings {
			got = append(got, plain(r, Exact)[len("exact "):])
		}
		want := strings.Split(c.want, "|")
		if got[0] != want[0] {
			t.Errorf("%q (%s): first is %q, want %q", c.in, c.why, got[0], want[0])
		}
		for _, w := range want {
			if !strings.Contains("|"+strings.Join(got, "|")+"|", "|"+w+"|") {
				t.Errorf("%q (%s): no %q among %q", c.in, c.why, w, got)
			}
		}
	}
}

func TestSpans(t *testing.T) {
	for _, c := range []struct {
		in, covers, number, why string
	}{
		{"it has at least 4 psi or so", "at least 4 psi or so", "4", "bound words on both sides"},
		{"tread not less than four thirty-seconds of an inch deep", "not less than four thirty seconds of an inch", "four", "negation and unit"},
		{"the loss is 4 psi or less today", "4 psi or less", "4", "a bound behind"},
		{"on before it drops below 55 psi yes", "before it drops below 55 psi", "55", "before"},
		{"between 20 and 45 pounds", "between 20 and 45 pounds", "20", "a range"},
		{"hold for thirty seconds", "thirty seconds", "thirty", "for is itself there"},
		{"tread is for thirty seconds", "for thirty seconds", "for", "for is the number"},
		{"about uh four psi", "about uh four psi", "four", "a filler inside"},
	} {
		toks := TokensOf(c.in)
		qs := Quantities(toks)
		if len(qs) != 1 {
			t.Errorf("%q gives %s", c.in, best(qs))
			continue
		}
		if q := qs[0]; q.Text != c.covers || toks[q.NumberFirst].Text != c.number {
			t.Errorf("%q (%s): covers %q, number at %q", c.in, c.why, q.Text, toks[q.NumberFirst].Text)
		}
	}
}

func TestReplaces(t *testing.T) {
	qs := Quantities(TokensOf("at least 2 inches. before 60 psi, no, 50, sorry, 55"))
	if len(qs) != 4 {
		t.Fatalf("got %s", best(qs))
	}
	for i, want := range []int{-1, -1, 1, 2} {
		if qs[i].Replaces != want {
			t.Errorf("quantity %d replaces %d, want %d", i, qs[i].Replaces, want)
		}
	}
	if got := FormatQuantity(qs[3].Readings[0], qs[3].Bound); got != "before 55 psi" {
		t.Errorf("the last inherits %q", got)
	}
}
