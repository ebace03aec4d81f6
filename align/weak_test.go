package align

import (
	"fmt"
	"maps"
	"slices"
	"strings"
	"testing"

	"markaround/align/damage"
	"markaround/rubric"
	"markaround/speech"
)

func TestUnjoin(t *testing.T) {
	m := matcher(t, "class-a")
	for _, c := range []struct{ word, want, reason string }{
		{"apronworks", "apron works", "a part and its state"},
		{"bolttight", "bolt tight", "t and t meet"},
		{"drumcracked", "drum cracked", "a part and an inflected defect"},
		{"windshield", "", "a word of the rubric"},
		{"windshields", "", "an inflection of one"},
		{"crossmember", "", "written as one in some phrases"},
		{"hose", "", "too short"},
		{"something", "", "an everyday word"},
		{"xylophones", "", "no part is known"},
		{strings.Repeat("drum", 9), "", "too long for two words"},
	} {
		a, b, ok := m.finder.lex.unjoin(c.word)
		got := ""
		if ok {
			got = a + " " + b
		}
		if got != c.want {
			t.Errorf("unjoin(%s) = %q, want %q: %s", c.word, got, c.want, c.reason)
		}
		if ok && a+b != c.word {
			t.Errorf("unjoin(%s) loses letters: %s %s", c.word, a, b)
		}
	}
}

// A split word is heard as one where it makes no sense as two, and only in a
// damaged transcript.
func TestMatchSplit(t *testing.T) {
	lex := matcher(t, "class-a").finder.lex
	for _, c := range []struct {
		a, b    string
		damaged bool
		want    string
		reason  string
	}{
		{"wind", "shield", false, "windshield", "the very letters"},
		{"reflek", "ters", false, "reflectors", "the same code"},
		{"mud", "flabs", true, "mudflaps", "nearly the sounds"},
		{"mud", "flabs", false, "", "clean transcripts are read as they are"},
		{"go", "down", true, "", "two everyday words"},
		{"no", "leeks", true, "", "a denial is kept"},
		{"tire", "tread", true, "", "two words of the trade"},
	} {
		got := false
		found := lex.matchJoined(c.a, c.b)
		if c.damaged {
			found = append(found, lex.matchSplit(c.a, c.b, lex.sense(c.a), lex.sense(c.b))...)
		}
		for _, m := range found {
			got = got || lex.words[m.word].text == c.want || c.want == ""
		}
		if got != (c.want != "") {
			t.Errorf("%s %s (damaged %v): want %q, %s", c.a, c.b, c.damaged, c.want, c.reason)
		}
	}
}

func TestFindBySound(t *testing.T) {
	m := matcher(t, "class-a")
	w, ok := m.weakOf(m.finder.phrase("brake chamber"))
	if !ok {
		t.Fatal("no sounds")
	}
	for _, c := range []struct {
		text        string
		covered     int // token that is accounted for, -1 if none
		first, last int
		least, most float32
		reason      string
	}{
		{"now the brake chamber is here", -1, 2, 4, 1, 1, "as it is"},
		{"now the break chamber is here", -1, 2, 4, 0.95, 1, "a homophone"},
		{"now the brakechamber is here", -1, 2, 3, 0.95, 1, "run together"},
		{"now the brake the chamber is", -1, 2, 5, 0.9, 0.999, "a small word between"},
		{"now the bray came burr is here", -1, 2, 5, 0.7, 0.999, "torn apart"},
		{"now the brake chamber is here", 3, 0, 0, 0, 0, "not over words that are accounted for"},
		{"we sell apples", -1, 0, 0, 0, 0, "nothing like it"},
		{"", -1, 0, 0, 0, 0, "no words"},
	} {
		l := &listening{m: m, toks: speech.TokensOf(c.text)}
		l.covered = make([]bool, len(l.toks))
		if c.covered >= 0 {
			l.covered[c.covered] = true
		}
		var buf cells
		first, last, best := 0, 0, float32(0)
		w.find(l.stretch(0, len(l.toks)), &buf, func(f, n int, like float32) {
			if like > best {
				first, last, best = f, n, like
			}
		})
		if first != c.first || last != c.last || best < c.least-1e-4 || best > c.most+1e-4 {
			t.Errorf("%q: tokens [%d:%d) like %.3f, want [%d:%d) %.2f to %.2f: %s", c.text, first, last, best, c.first, c.last, c.least, c.most, c.reason)
		}
	}
}

// everySeventh is a part of the open attempts, where all would take long.
func everySeventh(t *testing.T) map[string]*speech.Transcript {
	texts, _ := corpus(t)
	for i, id := range slices.Sorted(maps.Keys(texts)) {
		if i%7 > 0 {
			delete(texts, id)
		}
	}
	return texts
}

// The estimate rises with the damage done, is nothing for clean transcripts but
// those full of words of their own, and looks at enough words only.
func TestEstimateDamage(t *testing.T) {
	m := matcher(t, "class-a")
	texts := everySeventh(t)
	last := float32(-1)
	for _, rate := range []float64{0, 0.05, 0.10, 0.20, 0.30} {
		sum, heard := float32(0), 0
		for _, id := range slices.Sorted(maps.Keys(texts)) {
			tr := texts[id]
			if rate > 0 {
				tr, _ = damage.Damage(tr, rate, 5)
			}
			l := m.listen(tr, Options{})
			sum += l.damage
			if l.damage > 0 {
				heard++
			}
		}
		mean := sum / float32(len(texts))
		if mean <= last {
			t.Errorf("estimate %.3f at %.2f, and %.3f below that", mean, rate, last)
		}
		if off := float64(mean) - rate; off < -0.08 || off > 0.05 {
			t.Errorf("estimate %.3f at %.2f", mean, rate)
		}
		if rate == 0 && heard > len(texts)*2/5 { // the later attempts are full of words of their own
			t.Errorf("%d of %d clean transcripts taken as damaged", heard, len(texts))
		}
		last = mean
	}
	if l := m.listen(talk(turn{0, "", "the keeping and the lebron his crackt"}), Options{}); l.damage != 0 {
		t.Errorf("%.2f estimated from seven words", l.damage)
	}
}

// A recognizer that doubts its words is believed, one that gives no confidences
// or good ones changes nothing.
func TestDamageByConfidence(t *testing.T) {
	m := matcher(t, "class-a")
	text := strings.Repeat("the kingpin is not bent or cracked and the apron is not bent. ", 8)
	for _, c := range []struct {
		doubted int     // every so many words has a confidence of 0.2
		others  float64 // confidence of the rest
		want    float32
		reason  string
	}{
		{0, -1, 0, "no confidences"},
		{0, 0.9, 0, "none doubted"},
		{0, 0.5, 0, "even odds are no doubt"},
		{4, 0.9, 0.25, "one in four doubted"},
		{4, -1, damageMost, "only doubted words have one: never above the most"},
		{2, 0.9, damageMost, "never above the most"},
	} {
		tr := talk(turn{0, "", text})
		for i := range tr.Words {
			if tr.Words[i].Confidence = c.others; c.doubted > 0 && i%c.doubted == 0 {
				tr.Words[i].Confidence = 0.2
			}
		}
		if got := m.listen(tr, Options{}).damage; got < c.want-0.01 || got > c.want+0.01 {
			t.Errorf("estimate %.3f, want %.2f: %s", got, c.want, c.reason)
		}
	}
}

// What the student says is invented, garbled as a recognizer might.
const garbled = `fifth wheel. the skid plate is greased and mounted secure. the platform is not cracked bent or broken.
	the abron is not cracked bent or broken. %s the locking jaws are closed around the shank and knot craked.
	the releese arm is in the lockt position and the safety latch is engaged. the slighting pins are not bent and they are fully in gaged.
	the lanting gear is fully raised and not damijed and the crank handel is secure.`

func TestGarbledNames(t *testing.T) {
	m := matcher(t, "class-a")
	for _, c := range []struct {
		say, kingpin, reason string
	}{
		{"the kingpin is not bent worn or damaged.", "said", "as it is"},
		{"the teen pen is not bent worn or damaged.", "said", "garbled where a part is named"},
		{"", "missed", "not named at all"},
		{"we had the meeting outside before it rained.", "missed", "talk"},
	} {
		s := m.Grade(talk(turn{0, "", fmt.Sprintf(garbled, c.say)}), Options{})
		got := marks(s)
		if got["coupling.kingpin"] != c.kingpin {
			t.Errorf("%q: kingpin %s, want %s: %s", c.say, got["coupling.kingpin"], c.kingpin, c.reason)
		}
		if got["coupling.apron"] != "said" {
			t.Errorf("%q: apron %s, though \"abron\" stands between platform and kingpin", c.say, got["coupling.apron"])
		}
	}
}

// What is heard by sound alone has its words as evidence, contradicts nothing,
// and is never surer than what is heard plainly.
func TestGuessesStayHonest(t *testing.T) {
	m := matcher(t, "class-a")
	texts := everySeventh(t)
	n := 0
	for _, id := range slices.Sorted(maps.Keys(texts)) {
		bad, _ := damage.Damage(texts[id], 0.2, 3)
		s := m.Grade(bad, Options{})
		for _, it := range s.Items {
			for _, c := range it.Checks {
				for _, e := range c.Evidence {
					if !strings.HasPrefix(e.Reason, "close to") {
						continue
					}
					n++
					if e.Contradicts || e.Words == "" || e.Confidence > 0.8 {
						t.Errorf("%s %s/%s: %+v", id, it.ID, c.ID, e)
					}
				}
			}
		}
	}
	if n == 0 {
		t.Error("nothing was heard by sound in the damaged transcripts")
	}
}

// The tables hold nothing that cannot be: a likelier sound, a better place and
// more of the phrase's own words never count against a guess.
func TestChance(t *testing.T) {
	for name, table := range map[string]*signs{"name": &nameWeights, "check": &checkWeights} {
		at := func(like, weight float32) float32 {
			x := signs{signBias: 1, signLike: like, signWeight: weight, signLikeWeight: like * weight, signClear: max(0, like-clearLike) * 5}
			return chanceOf(table, &x)
		}
		for weight := float32(0.25); weight <= 1; weight += 0.25 {
			for like := float32(leastLike); like < 1; like += 0.05 {
				if at(like+0.05, weight) < at(like, weight) {
					t.Errorf("%s of weight %.2f: likeness %.2f counts against it", name, weight, like+0.05)
				}
			}
		}
		for _, sign := range []int{signOwn, signFollows, signPrecedes, signFits, signUnfit, signAgain, signDenied, signOthers, signSet} {
			if table[sign] < 0 {
				t.Errorf("%s: sign %d counts against a guess", name, sign)
			}
		}
		if p := at(0.7, 0.5); p >= 0.5 {
			t.Errorf("%s: sound alone, and that poor, gives %.2f", name, p)
		}
	}
}

// BenchmarkGradeDamaged marks an attempt of 3,500 words, damaged.
func BenchmarkGradeDamaged(b *testing.B) {
	r, err := rubric.Load("class-a")
	if err != nil {
		b.Fatal(err)
	}
	m, err := New(r)
	if err != nil {
		b.Fatal(err)
	}
	clean := repeated(b, 1)
	for _, rate := range []float64{0.05, 0.10, 0.20, 0.30} {
		t, _ := damage.Damage(clean, rate, 1)
		b.Run(fmt.Sprintf("rate=%.2f", rate), func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				m.Grade(t, Options{})
			}
		})
	}
}
