package damage

import (
	"bytes"
	"compress/gzip"
	"math"
	"math/rand/v2"
	"reflect"
	"slices"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"markaround/speech"
)

// walkaround is an invented attempt, one segment a line, the speaker before
// the bar.
const walkaround = `E|Okay, whenever you're ready. You have one hour.
S|My lug nuts, all present and not missing. No rust trails, no shiny threads, nothing loose.
S|Tires: tread depth at least four thirty seconds on the steer axle, no cuts, no bulges, and the valve stem isn't cracked.
S|I would check the inflation with a gauge, not by kicking it. The rim is not bent and has no illegal welds.
S|Slack adjuster and push rod: securely mounted, not broken, no more than one inch of play by hand with the brakes released.
S|Brake chamber, no leaks, not dented, the hose is securely mounted, not cut or chafed.
S|The leaf springs, no missing leaves, not shifted, none cracked. Spring mounts and U-bolts, nothing broken.
E|Which axle is this?
S|This is the second axle. On this one the tread is 2/32 or more in every major groove.
S|Glad hands are connected, seals not torn, no leaks that I can hear. Electric cord is seated and locked.
S|Fifth wheel skid plate, well greased, no gap to the trailer apron. Locking jaws closed around the kingpin.
S|Now the air brake check. The governor cuts out between one twenty and one forty, I am at 125 psi.
S|Applied leak: in one minute I should not lose more than four psi. I started at 118 and I'm at one sixteen, that's a loss of two psi.
S|The low air warning comes on before the pressure drops below fifty-five psi, and the valves pop out at about 40, it's at 20 to 45 psi.
S|Three red reflective triangles, a charged fire extinguisher, and spare fuses. The windshield is clean, no cracks, no illegal stickers.
S|Service brake: I roll at five miles an hour, pull forward gently, and it stops without pulling to the left or right.
S|Alternator, belt driven, not frayed, a half inch to three quarters of play. Water pump, gear driven, no leaks.
S|Coolant reservoir, fluid between the add and the full mark, the cap is tight, the hoses have no leaks.`

// transcript reads lines like those of walkaround at 150 words a minute.
func transcript(text string, times int) *speech.Transcript {
	t := &speech.Transcript{Name: "invented", Format: speech.WebVTT}
	var at float64
	for range times {
		for _, line := range strings.Split(text, "\n") {
			speaker, said, _ := strings.Cut(line, "|")
			s := speech.Segment{Start: at, Speaker: speaker, First: len(t.Words), Cue: len(t.Segments) + 1}
			for _, w := range strings.Fields(said) {
				t.Words = append(t.Words, speech.Word{
					Text: w, Start: at, End: at + 0.35, Confidence: 0.95, Segment: len(t.Segments)})
				at += 0.4
			}
			s.Last, s.End = len(t.Words), at-0.05
			t.Segments = append(t.Segments, s)
			at += 1.2
		}
	}
	return t
}

func texts(t *speech.Transcript) []string {
	var out []string
	for _, w := range t.Words {
		out = append(out, w.Text)
	}
	return out
}

func TestDamageReachesRate(t *testing.T) {
	clean := transcript(walkaround, 5)
	for _, rate := range []float64{0.01, 0.05, 0.1, 0.2, 0.3, 0.4} {
		for seed := range uint64(4) {
			bad, rep := Damage(clean, rate, seed)
			if math.Abs(rep.Rate-rate) > 0.005 {
				t.Errorf("rate %.2f seed %d: reached %.4f", rate, seed, rep.Rate)
			}
			again := WER(texts(clean), texts(bad))
			again.Kinds = rep.Kinds
			if !reflect.DeepEqual(again, rep) {
				t.Errorf("rate %.2f seed %d: report %+v, but the texts give %+v", rate, seed, rep, again)
			}
		}
	}
}

// All kinds must take part, or a bench measures less than it says.
func TestDamageMixesKinds(t *testing.T) {
	_, rep := Damage(transcript(walkaround, 5), 0.2, 3)
	for _, s := range shares {
		if rep.Kinds[s.kind] == 0 {
			t.Errorf("no damage of kind %s: %v", s.kind, rep.Kinds)
		}
	}
	if rep.Kinds[Denial] == 0 {
		t.Errorf("no word of denial touched: %v", rep.Kinds)
	}
	if rep.Sub < rep.Del || rep.Del < rep.Ins/2 {
		t.Errorf("substitutions should lead: %+v", rep)
	}
}

func TestDamageIsRepeatable(t *testing.T) {
	clean := transcript(walkaround, 1)
	before := transcript(walkaround, 1)
	first, _ := Damage(clean, 0.2, 7)
	second, _ := Damage(clean, 0.2, 7)
	other, _ := Damage(clean, 0.2, 8)
	if !reflect.DeepEqual(first, second) {
		t.Error("the same seed gave two results")
	}
	if reflect.DeepEqual(texts(first), texts(other)) {
		t.Error("another seed gave the same words")
	}
	if !reflect.DeepEqual(clean, before) {
		t.Error("the source transcript was changed")
	}
}

func TestDamageOfNothing(t *testing.T) {
	clean := transcript(walkaround, 1)
	for _, rate := range []float64{0, -1, math.NaN()} {
		got, rep := Damage(clean, rate, 1)
		if !reflect.DeepEqual(got, clean) || rep.Errors() != 0 || rep.Words == 0 {
			t.Errorf("rate %v: not a plain copy: %+v", rate, rep)
		}
		got.Words[0].Text = "changed"
		if clean.Words[0].Text == "changed" {
			t.Fatal("the copy shares its words with the source")
		}
	}
	if got, rep := Damage(&speech.Transcript{}, 0.2, 1); len(got.Words) != 0 || rep.Rate != 0 {
		t.Errorf("an empty transcript became %v, %+v", got, rep)
	}
	loose := &speech.Transcript{Words: transcript(walkaround, 1).Words}
	if got, rep := Damage(loose, 0.1, 1); len(got.Segments) == 0 || rep.Errors() == 0 {
		t.Errorf("words without segments were lost: %+v", rep)
	}
	if _, rep := Damage(transcript("S|one two three", 1), 0.9, 1); rep.Errors() != 0 {
		t.Errorf("numbers only: nothing may be damaged, got %+v", rep)
	}
}

// The promises of the package comment, looked at edit by edit.
func TestDamageKeepsTheMarksTrue(t *testing.T) {
	clean := transcript(walkaround, 2)
	var denials, touched int
	const rate, seeds = 0.2, 60
	for seed := range uint64(seeds) {
		c := newCase(clean, rate, seed)
		c.reach(rate)
		for _, e := range c.edits {
			was := c.ref[e.first:e.last]
			for _, w := range e.with {
				if e.kind != Respelled && (isNumber(w) || isNegation(w) || bounds[w]) {
					t.Errorf("%s: %v became %v: a number, denial or bound comes up anew", e.kind, was, e.with)
				}
			}
			switch {
			case e.kind == Denial:
				touched++
			case e.kind == Respelled:
				kept := digitsOf(was) == digitsOf(e.with)
				sameSound := len(was) == 1 && slices.Contains([]string{"two to", "two too", "two tu", "four for", "four fore", "eight ate", "one won"},
					was[0]+" "+strings.Join(e.with, " "))
				unit := was[0] == "psi"
				if !kept && !sameSound && !unit {
					t.Errorf("%v became %v", was, e.with)
				}
			case slices.ContainsFunc(was, isNumber):
				t.Errorf("%s: the number in %v became %v", e.kind, was, e.with)
			case slices.ContainsFunc(was, isNegation):
				t.Errorf("%s: the denial in %v became %v", e.kind, was, e.with)
			}
		}
		for _, w := range c.ref {
			if isNegation(w) {
				denials++
			}
		}
	}
	got := float64(touched) / float64(denials)
	// Four standard errors round the share promised.
	want := rate * NegationShare
	if slack := 4 * math.Sqrt(want*(1-want)/float64(denials)); math.Abs(got-want) > slack {
		t.Errorf("%.4f of %d words of denial touched, want %.4f within %.4f", got, denials, want, slack)
	}
}

// digitsOf writes a spelled number as the digits one sees or hears, so that all
// spellings of a number give the same: "one twenty five", "1 25", "125". It
// shares nothing with the code under test but the English words.
func digitsOf(words []string) string {
	s := " " + strings.Join(words, " ") + " "
	for _, r := range [][2]string{
		{" a hundred ", " one hundred "}, {" hundred and ", " hundred "}, {"/32 ", " 30 seconds "}, {" 32nds ", " 30 seconds "},
		{" thirty seconds ", " 30 seconds "}, {" seconds ", " "},
	} {
		s = strings.ReplaceAll(s, r[0], r[1])
	}
	values := map[string]int{"one": 1, "two": 2, "three": 3, "four": 4, "five": 5, "six": 6, "seven": 7, "eight": 8, "nine": 9,
		"ten": 10, "eleven": 11, "twelve": 12, "thirteen": 13, "fourteen": 14, "fifteen": 15, "sixteen": 16, "seventeen": 17,
		"eighteen": 18, "nineteen": 19, "twenty": 20, "thirty": 30, "forty": 40, "fifty": 50, "sixty": 60, "seventy": 70,
		"eighty": 80, "ninety": 90}
	out, tensBefore := "", false
	f := strings.Fields(s)
	for i, w := range f {
		n, ok := values[w]
		switch {
		case w == "oh":
			out += "0"
		case w == "thousand" || w == "hundred":
			zeros := map[string]string{"thousand": "000", "hundred": "00"}[w]
			if i+1 < len(f) { // "hundred five" is "05", "hundred twenty" is "20"
				zeros = "0"
				if values[f[i+1]] >= 10 {
					zeros = ""
				}
			}
			out += zeros
		case !ok:
			out += w
		case tensBefore && n < 10:
			out = out[:len(out)-1] + strconv.Itoa(n)
		default:
			out += strconv.Itoa(n)
		}
		tensBefore = ok && n >= 20
	}
	return out
}

// Every spelling of every number reads back as that number.
func TestSpellings(t *testing.T) {
	for n := 1; n < 10000; n++ {
		for _, s := range spellings(n) {
			if got := digitsOf(s); got != strconv.Itoa(n) {
				t.Errorf("%d spelled %v reads %s", n, s, got)
			}
			if slices.ContainsFunc(s[1:], func(w string) bool { return w[0] <= '9' }) {
				continue // "1 25" is no way to speak
			}
			if got, ok := value(s); !ok || got != n {
				t.Errorf("value(%v) = %d, %v; want %d", s, got, ok, n)
			}
		}
	}
}

func TestValueRefuses(t *testing.T) {
	for _, c := range []struct{ words, reason string }{
		{"fifty five and seventy", "two numbers joined by and"},
		{"one two five", "digits one by one, or three numbers"},
		{"twenty twenty five", "a year, or two numbers"},
		{"one one", "two ones"},
		{"sixty fifty", "two numbers"},
		{"a half", "a fraction"},
		{"point five", "a decimal"},
		{"007", "a code"},
		{"zero", "nothing to respell"},
		{"", "no words"},
	} {
		if n, ok := value(strings.Fields(c.words)); ok {
			t.Errorf("value(%q) = %d, but it is %s", c.words, n, c.reason)
		}
	}
}

func TestRespell(t *testing.T) {
	for _, c := range []struct {
		run, next string
		tread     bool
		want      string // one of the spellings
		not       string // never among them
		reason    string
	}{
		{"one twenty five", "psi", false, "125", "25", "pairs run together"},
		{"125", "psi", false, "1 25", "1 2 5", "a figure taken apart"},
		{"four thirty seconds", "", true, "4/32", "4 seconds", "a tread depth"},
		{"four thirty seconds", "", false, "430 seconds", "4/32", "nothing says that it is a tread depth"},
		{"2/32", "", false, "2 30 seconds", "2/30", "the fraction as spoken"},
		{"twelve thirty seconds", "", true, "12/32", "1230 seconds", "not written so"},
		{"sixty seconds", "", false, "60 seconds", "60", "the unit stays"},
		{"one", "psi", false, "1", "", "a figure by its unit"},
		{"fifteen hundred", "rpm", false, "1500", "15", "hundreds"},
	} {
		var got []string
		for _, s := range respell(strings.Fields(c.run), c.next, c.tread) {
			got = append(got, strings.Join(s, " "))
		}
		if !slices.Contains(got, c.want) || slices.Contains(got, c.not) || slices.Contains(got, c.run) {
			t.Errorf("%q (%s): %q, want %q among them, not %q", c.run, c.reason, got, c.want, c.not)
		}
	}
	if got := respell([]string{"one"}, "is", false); got != nil {
		t.Errorf("\"this one is\" is no figure, got %v", got)
	}
	if got := respell([]string{"three", "quarters"}, "of", false); got != nil {
		t.Errorf("a fraction in words has one spelling here, got %v", got)
	}
}

func TestAllowed(t *testing.T) {
	c := newCase(transcript("S|no legal welds, check for leaks at one twenty five psi", 1), 0.1, 1)
	at := func(w string) int { return slices.Index(c.ref, w) }
	for _, k := range []struct {
		word, with, reason string
		want               bool
	}{
		{"legal", "eagle", "an ordinary mistake", true},
		{"legal", "illegal", "turned round", false},
		{"for", "four", "a number comes up", false},
		{"check", "not", "a denial comes up", false},
		{"leaks", "less", "a bound comes up", false},
		{"psi", "a", "would join the number before it", false},
	} {
		i := at(k.word)
		if got := c.allowed(edit{first: i, last: i + 1, with: []string{k.with}, kind: SoundAlike}); got != k.want {
			t.Errorf("%s for %s (%s): allowed %v", k.with, k.word, k.reason, got)
		}
	}
}

// checkForm checks what the types in package speech promise.
func checkForm(t interface{ Errorf(string, ...any) }, tr *speech.Transcript) {
	next := 0
	for i, s := range tr.Segments {
		if s.First != next || s.Last <= s.First || s.Cue != i+1 {
			t.Errorf("segment %d covers [%d:%d), cue %d, want it to begin at %d", i, s.First, s.Last, s.Cue, next)
		}
		next = s.Last
		for _, w := range tr.Words[s.First:s.Last] {
			if w.Segment != i || w.Start < s.Start || w.End > s.End {
				t.Errorf("word %+v is not inside its segment %d %+v", w, i, s)
			}
		}
	}
	if next != len(tr.Words) {
		t.Errorf("segments cover %d of %d words", next, len(tr.Words))
	}
	last := 0.0
	for _, w := range tr.Words {
		if w.Start < last || w.End < w.Start || w.Text == "" || w.Text != strings.ToLower(w.Text) {
			t.Errorf("word out of order, without text or with capitals: %+v after %.2f", w, last)
		}
		if len(Normalize([]string{w.Text})) != 1 || Normalize([]string{w.Text})[0] != w.Text {
			t.Errorf("punctuation left at %q", w.Text)
		}
		last = w.Start
	}
}

func TestDamagedForm(t *testing.T) {
	clean := transcript(walkaround, 3)
	for seed := range uint64(10) {
		bad, _ := Damage(clean, 0.25, seed)
		checkForm(t, bad)
		// A speaker's words stay the speaker's: whole turns may be lost, not moved.
		var turns []string
		for _, s := range bad.Segments {
			if len(turns) == 0 || turns[len(turns)-1] != s.Speaker {
				turns = append(turns, s.Speaker)
			}
		}
		if got := strings.Join(turns, ""); got != "ESESESESESES" {
			t.Errorf("seed %d: turns %s", seed, got)
		}
	}
}

func TestJitter(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		var words []word
		at := 0.0
		for range rapid.IntRange(0, 60).Draw(rt, "n") {
			at += rapid.Float64Range(0, 2).Draw(rt, "gap")
			words = append(words, word{Word: speech.Word{Start: at, End: at + rapid.Float64Range(0, 1).Draw(rt, "length")}})
		}
		before := slices.Clone(words)
		jitter(words, rand.New(rand.NewPCG(rapid.Uint64().Draw(rt, "seed"), 0)))
		last := 0.0
		for i, w := range words {
			if w.Start < last || w.End < w.Start {
				rt.Fatalf("word %d at %v-%v after %v", i, w.Start, w.End, last)
			}
			if math.Abs(w.Start-before[i].Start) > TimeJitter+1e-9 {
				rt.Fatalf("word %d moved from %v to %v", i, before[i].Start, w.Start)
			}
			last = w.Start
		}
	})
}

func TestDamageOfAnything(t *testing.T) {
	vocabulary := append(strings.Fields(walkaround), "", " ", "...", "—", "½", "4/32", "p.s.i.", "a", "hundred", "\xff", "İstanbul", "no", "psi")
	rapid.Check(t, func(rt *rapid.T) {
		n := rapid.IntRange(0, 40).Draw(rt, "words")
		tr := &speech.Transcript{}
		for i := range n {
			if i == 0 || rapid.IntRange(0, 6).Draw(rt, "new segment") == 0 {
				tr.Segments = append(tr.Segments, speech.Segment{Start: float64(i), End: float64(i), First: i, Last: i,
					Speaker: rapid.SampledFrom([]string{"", "A", "B"}).Draw(rt, "speaker")})
			}
			s := &tr.Segments[len(tr.Segments)-1]
			s.Last, s.End = i+1, float64(i+1)
			tr.Words = append(tr.Words, speech.Word{Text: rapid.SampledFrom(vocabulary).Draw(rt, "word"), Start: float64(i),
				End: float64(i) + 0.5, Confidence: -1, Segment: len(tr.Segments) - 1})
		}
		rate := rapid.Float64Range(0.01, 1).Draw(rt, "rate")
		bad, rep := Damage(tr, rate, rapid.Uint64().Draw(rt, "seed"))
		checkForm(rt, bad)
		if most := math.Round(min(rate, MaxRate) * float64(rep.Words)); float64(rep.Errors()) > most {
			rt.Fatalf("%d errors in %d words at rate %.2f", rep.Errors(), rep.Words, rate)
		}
		for _, w := range bad.Words {
			if w.Confidence != -1 {
				rt.Fatalf("a confidence came up where there was none: %+v", w)
			}
		}
	})
}

func TestReadSoundsRefuses(t *testing.T) {
	for _, c := range []struct{ line, reason string }{
		{"x\ta\tb", "unknown kind of line"},
		{"s\tword\tten\t", "rarity is no number"},
		{"s\tword\t10\tother", "no weight"},
		{"p\tword", "too short"},
	} {
		var file bytes.Buffer
		z := gzip.NewWriter(&file)
		z.Write([]byte(c.line + "\n"))
		z.Close()
		if _, err := readSounds(file.Bytes()); err == nil {
			t.Errorf("%q read although %s", c.line, c.reason)
		}
	}
	if _, err := readSounds([]byte("plain")); err == nil {
		t.Error("a file that is not gzip was read")
	}
}

func BenchmarkDamage(b *testing.B) {
	for _, times := range []int{1, 4, 12} {
		clean := transcript(walkaround, times)
		b.Run(strconv.Itoa(len(clean.Words))+"-words", func(b *testing.B) {
			for b.Loop() {
				Damage(clean, 0.15, 1)
			}
		})
	}
}
