package align

import (
	"testing"

	"pgregory.net/rapid"
)

// The words and codes are those that Apache Commons Codec holds its Metaphone
// to (MetaphoneTest.java); it cuts codes at four sounds, these are whole. Left out
// are those on which implementations differ: "testing" (ours keeps the K of the
// last g), CHARACTER (ours hears every ch before a vowel as in "chain") and WHY.
func TestSoundAgainstCommonsCodec(t *testing.T) {
	for word, want := range map[string]string{
		"howl": "HL", "The": "0", "quick": "KK", "brown": "BRN", "fox": "FKS", "jumped": "JMPT",
		"over": "OFR", "lazy": "LS", "dogs": "TKS",
		"COMB": "KM", "TOMB": "TM", "WOMB": "WM", // silent b
		"SCIENCE": "SNS", "SCENE": "SN", "SCY": "S",
		"CIAPO": "XP", "SCHEDULE": "SKTL", "TEACH": "TX",
		"DODGY": "TJ", "DODGE": "TJ", "ADGIEMTI": "AJMT",
		"GHENT": "KNT", "BAUGH": "B", "GNU": "N", "SIGNED": "SNT",
		"PHISH": "FX", "SHOT": "XT", "ODSIAN": "OTXN", "PULSION": "PLXN", "OTIA": "OX", "PORTION": "PRXN",
		"RETCH": "RX", "WATCH": "WX", "AXEAXE": "AKSKS", "AXEAXEAXE": "AKSKSKS",
	} {
		if got := Sound(word); got != want {
			t.Errorf("%s sounds %q, want %q", word, got, want)
		}
	}
}

func TestSoundOfHomophones(t *testing.T) {
	for _, pair := range [][2]string{{"brake", "break"}, {"tire", "tyre"}, {"four", "for"}, {"their", "there"}, {"leak", "leek"},
		{"new", "knew"}, {"rap", "wrap"}, {"steel", "steal"}, {"gauge", "gage"}, {"seal", "ceil"}, {"Hose", "hoes"}} {
		if a, b := Sound(pair[0]), Sound(pair[1]); a != b || a == "" {
			t.Errorf("%s sounds %q, %s %q", pair[0], a, pair[1], b)
		}
	}
	for _, empty := range []string{"", "4", "…", "--"} {
		if Sound(empty) != "" {
			t.Errorf("%q has a sound", empty)
		}
	}
}

func TestAlikeOrder(t *testing.T) {
	like := func(a, b string) float32 { return alike(soundOf(a, true), soundOf(b, true)) }
	for _, c := range []struct{ word, nearer, farther, reason string }{
		{"brake", "break", "blake", "a homophone before another consonant"},
		{"kingpin", "keeping", "windshield", "most sounds before few"},
		{"apron", "april", "wiper", "two sounds at the end before most"},
		{"abs", "adds", "ans", "stops are like each other, a nasal is not"},
		{"lining", "learning", "landing", "a glide more before a stop more in a longer word"},
		{"hose", "hoses", "horses", "one consonant more before two"},
	} {
		if n, f := like(c.word, c.nearer), like(c.word, c.farther); n < f {
			t.Errorf("%s: %s %.2f, %s %.2f; want %s", c.word, c.nearer, n, c.farther, f, c.reason)
		}
	}
}

// code draws the code of a word that need not exist.
var code = rapid.SliceOfN(rapid.SampledFrom([]byte("aBFHJKLMNPRSTWXY0")), 1, 8)

// soundDistance is the cost that alike is made of.
func soundDistance(a, b []byte) float64 {
	sum := func(code []byte) (n int) {
		for _, c := range code {
			n += soundWeight(c)
		}
		return n
	}
	return float64(1-alike(a, b)) * float64(max(sum(a), sum(b)))
}

func TestAlikeIsADistance(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a, b, c := code.Draw(t, "a"), code.Draw(t, "b"), code.Draw(t, "c")
		const close = 0.01 // hundredths of a consonant
		if got := alike(a, a); got != 1 {
			t.Errorf("%s is %.3f like itself", a, got)
		}
		if string(a) != string(b) && alike(a, b) >= 1 {
			t.Errorf("%s and %s are taken for one", a, b)
		}
		if x, y := alike(a, b), alike(b, a); x != y {
			t.Errorf("%s and %s: %.3f one way, %.3f the other", a, b, x, y)
		}
		if direct, around := soundDistance(a, c), soundDistance(a, b)+soundDistance(b, c); direct > around+close {
			t.Errorf("%s to %s costs %.2f, by way of %s %.2f", a, c, direct, b, around)
		}
		// A sound more on one side costs no more than that sound.
		if more, d := soundDistance(append(append([]byte{}, a...), 'T'), b), soundDistance(a, b); more > d+costConsonant+close {
			t.Errorf("%s to %s costs %.2f, with a t more %.2f", a, b, d, more)
		}
		// The same beginning on both sides changes nothing for the worse.
		if with := soundDistance(append([]byte("K"), a...), append([]byte("K"), b...)); with > soundDistance(a, b)+close {
			t.Errorf("%s and %s are further apart with a k before both", a, b)
		}
	})
}
