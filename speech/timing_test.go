package speech

import (
	"cmp"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
)

// There is no recording to the invented attempts. Their speech activity is
// made from the times of their words, with the faults of a real detector, and
// their words are then worsened and moved.

// walk makes a transcript of words with measured times: phrases, short pauses,
// some long ones, as in a walk around a truck.
func walk(r *rand.Rand, seconds float64) *Transcript {
	t := &Transcript{Name: "generated"}
	pace := 0.25 + 0.2*r.Float64() // seconds a word
	at := 1 + 5*r.Float64()
	for at < seconds {
		g := Segment{Start: at, First: len(t.Words)}
		for n := 3 + r.IntN(28); n > 0; n-- {
			text := strings.Repeat("x", 1+r.IntN(9))
			long := pace * (0.4 + 0.12*float64(len(text)))
			t.Words = append(t.Words, Word{Text: text, Start: at, End: at + long, Confidence: -1, Segment: len(t.Segments)})
			at += long
			if r.Float64() < 0.08 {
				at += 0.2 + 0.4*r.Float64() // a breath
			}
		}
		g.End, g.Last = t.Words[len(t.Words)-1].End, len(t.Words)
		t.Segments = append(t.Segments, g)
		switch p := r.Float64(); {
		case p < 0.5:
			at += 0.3 + 0.7*r.Float64()
		case p < 0.97:
			at += 1 + 4*r.ExpFloat64()/2
		default:
			at += 10 + 50*r.Float64() // walks on, holds the brake
		}
	}
	return t
}

// faults are what is wrong with the activity and with the transcript.
type faults struct {
	misses, alarms float64 // share of the stretches of speech
	others         int     // long stretches without words: another voice, a buzzer
	drop           float64 // share of words
	jitter         float64 // seconds, either way
	cues           string  // "": word times; "close": cues as long as their words; "open": cues up to the next; "seconds": whole seconds, no ends
}

// heard makes the activity that a detector finds in the speech of t.
func heard(r *rand.Rand, t *Transcript, true Timing, f faults) *Sound {
	var spans []Span
	for _, w := range t.Words {
		p := Span{true.At(w.Start), true.At(w.End)}
		if n := len(spans); n > 0 && p.Start-spans[n-1].End < 0.25 {
			spans[n-1].End = max(p.End, spans[n-1].End)
		} else {
			spans = append(spans, p)
		}
	}
	length := true.At(t.Duration()) + 5
	var out []Span
	for _, p := range spans {
		if r.Float64() < f.misses {
			continue
		}
		out = append(out, Span{p.Start + 0.1*(r.Float64()-0.5), p.End + 0.2*r.Float64()})
	}
	for range int(f.alarms * float64(len(spans))) {
		at := length * r.Float64()
		out = append(out, Span{at, at + 0.2 + r.Float64()})
	}
	for range f.others {
		at := length * r.Float64()
		out = append(out, Span{at, at + 3 + 25*r.Float64()})
	}
	kept := out[:0]
	for _, p := range out {
		if p.Start = max(0, p.Start); p.End > p.Start {
			kept = append(kept, p)
		}
	}
	return &Sound{Seconds: length, Step: 0.01, Speech: merge(kept)}
}

// worsen makes what a recognizer would have written of t.
func worsen(r *rand.Rand, t *Transcript, f faults) *Transcript {
	out := &Transcript{Name: t.Name}
	for _, g := range t.Segments {
		n := Segment{First: len(out.Words)}
		for _, w := range t.Words[g.First:g.Last] {
			if r.Float64() < f.drop {
				continue
			}
			j := f.jitter * (2*r.Float64() - 1)
			w.Start, w.End = max(0, w.Start+j), max(0, w.End+j)
			if len(out.Words) > 0 {
				w.Start = max(w.Start, out.Words[len(out.Words)-1].Start)
				w.End = max(w.End, w.Start)
			}
			w.Segment = len(out.Segments)
			out.Words = append(out.Words, w)
		}
		if n.Last = len(out.Words); n.Last > n.First {
			n.Start, n.End = out.Words[n.First].Start, out.Words[n.Last-1].End
			out.Segments = append(out.Segments, n)
		}
	}
	if f.cues != "" {
		out = cuesOnly(r, out, f.cues)
	}
	return out
}

// cuesOnly takes the words' own times away, as Read would have it.
func cuesOnly(r *rand.Rand, t *Transcript, kind string) *Transcript {
	var cues []cue
	begin, most := -1, 0
	for i, w := range t.Words {
		if begin < 0 || cutBefore(t.Words[begin:i], w, kind, most) {
			most = 8 + r.IntN(9)
			cues = append(cues, cue{start: w.Start, end: w.End})
			begin = i
		}
		c := &cues[len(cues)-1]
		c.addText(w.Text)
		c.end = max(c.end, w.End)
	}
	for i := range cues {
		switch {
		case kind == "seconds":
			cues[i].start, cues[i].end = math.Floor(cues[i].start), unknown
		case kind == "open" && i+1 < len(cues) && cues[i+1].start-cues[i].end < 2:
			cues[i].end = cues[i+1].start
		}
	}
	out, err := (&source{}).assemble(cues)
	if err != nil {
		panic(err)
	}
	return out
}

// cutBefore tells whether a new cue begins with w.
func cutBefore(cue []Word, w Word, kind string, most int) bool {
	last := cue[len(cue)-1]
	pause := w.Start - last.End
	switch kind {
	case "cut":
		return len(cue) >= most || pause > 2
	case "open":
		return strings.ContainsAny(last.Text[len(last.Text)-1:], ".?!") || pause > 0.8 || w.Segment != last.Segment || len(cue) > 24
	}
	return w.Segment != last.Segment || pause > 0.5 || len(cue) > 24
}

// worst is the larger of the errors at the first and at the last word.
func worst(t *Transcript, found, true Timing) float64 {
	a, b := t.Words[0].Start, t.Words[len(t.Words)-1].End
	return max(math.Abs(found.At(a)-true.At(a)), math.Abs(found.At(b)-true.At(b)))
}

// attempts reads the open invented attempts, those of measured word times only
// if so told.
func attempts(t testing.TB, measured bool) []*Transcript {
	files, err := filepath.Glob("../testdata/attempts/*")
	if err != nil {
		t.Fatal(err)
	}
	var out []*Transcript
	for _, f := range files {
		switch filepath.Ext(f) {
		case ".srt", ".vtt", ".json", ".ctm", ".txt":
		default:
			continue
		}
		a, err := ReadFile(f, Options{})
		if err != nil {
			t.Fatal(err)
		}
		if measured && a.Words[0].Estimated {
			continue
		}
		out = append(out, a)
	}
	if len(out) < 10 {
		t.Fatalf("%d attempts found", len(out))
	}
	return out
}

// draws is how many random cases a test goes through: FIT_CASES, where it is
// set, for measuring.
func draws(n int) int {
	if k, err := strconv.Atoi(os.Getenv("FIT_CASES")); err == nil {
		return k
	}
	return n
}

func TestFitTimingRecovers(t *testing.T) {
	real := attempts(t, true)
	for _, c := range []struct {
		cues   string
		most   float64 // seconds, at either end
		known  float64 // least share of the cases
		reason string
	}{
		{"", 0.2, 1, "word times: promised"},
		{"close", 0.2, 1, "cues that begin and end with their phrase: promised"},
		{"open", 0.45, 0.98, "ends are not known, a tenth of the starts is late by a lost word"},
		{"cut", 0.7, 0.75, "a cue cut anywhere hides its pauses: it may not be known"},
		{"seconds", 0.6, 0.98, "starts in whole seconds are no better than half of one"},
	} {
		t.Run("cues "+c.cues, func(t *testing.T) {
			var off []float64
			n := draws(30)
			for i := range n {
				r := rand.New(rand.NewPCG(uint64(i), 7))
				a := real[r.IntN(len(real))]
				if i%2 == 0 {
					a = walk(r, 60*(6+34*r.Float64()))
				}
				truth := Timing{Offset: 60*r.Float64() - 30, Drift: 0.04*r.Float64() - 0.02}
				f := faults{misses: 0.05 + 0.05*r.Float64(), alarms: 0.05 + 0.05*r.Float64(), others: r.IntN(6), drop: 0.1, jitter: 0.3, cues: c.cues}
				s := heard(r, a, truth, f)
				w := worsen(r, a, f)
				if c.cues == "seconds" {
					truth.Offset += 0.5 // the mean of what the clock leaves out
				}
				tm := FitTiming(w, s)
				if !tm.Known {
					t.Logf("case %d, %s: %s", i, a.Name, tm.Note)
					continue
				}
				e := worst(w, tm, truth)
				if off = append(off, e); e > c.most {
					t.Errorf("case %d, %s of %.0f s: off by %.2f s, found %+v, want %+v", i, a.Name, a.Duration(), e, tm, truth)
				}
			}
			slices.Sort(off)
			if len(off) < int(c.known*float64(n)) {
				t.Fatalf("%d of %d known, want %.0f %%", len(off), n, 100*c.known)
			}
			t.Logf("%d of %d known; off by %.2f s (median), %.2f (nine in ten), %.2f (worst)", len(off), n, off[len(off)/2], off[len(off)*9/10], off[len(off)-1])
		})
	}
}

// Words of one recording and speech of another.
func TestFitTimingRefusesAnother(t *testing.T) {
	all := attempts(t, false)
	surest := 0.0
	for i := range draws(45) {
		r := rand.New(rand.NewPCG(uint64(i), 9))
		a, b := all[r.IntN(len(all))], all[r.IntN(len(all))]
		switch i % 3 {
		case 0:
			a = walk(r, 60*(1+39*r.Float64()))
		case 1:
			b = walk(r, 60*(1+39*r.Float64()))
		}
		if a == b {
			continue
		}
		s := heard(r, b, Timing{}, faults{misses: 0.05, alarms: 0.05, others: 2})
		tm := FitTiming(a, s)
		surest = max(surest, tm.Sure)
		if tm.Known || tm.Moved || tm.Offset != 0 || tm.Drift != 0 {
			t.Errorf("case %d: the words of %s (%.0f s) in the recording of %s (%.0f s): %+v", i, a.Name, a.Duration(), b.Name, b.Duration(), tm)
		}
	}
	t.Logf("surest: %.2f", surest)
}

// Words that lie where they were spoken stay there.
func TestFitTimingLeavesRight(t *testing.T) {
	real := attempts(t, true)
	for _, cues := range []string{"", "close", "open"} {
		for i := range draws(10) {
			r := rand.New(rand.NewPCG(uint64(i), 11))
			a := real[r.IntN(len(real))]
			s := heard(r, a, Timing{}, faults{misses: 0.05, alarms: 0.05, others: 1})
			w := worsen(r, a, faults{drop: 0.03, jitter: 0.1, cues: cues})
			if tm := FitTiming(w, s); !tm.Known || tm.Moved || tm.Offset != 0 || tm.Drift != 0 {
				t.Errorf("case %d, cues %q of %s: %+v", i, cues, a.Name, tm)
			}
		}
	}
}

func TestFitTimingCannotTell(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 4))
	a := walk(r, 600)
	s := heard(r, a, Timing{}, faults{})
	steady := &Transcript{}
	for i := range 1000 {
		at := 0.4 * float64(i)
		steady.Words = append(steady.Words, Word{Text: "word", Start: at, End: at + 0.4})
	}
	steady.Segments = []Segment{{Start: 0, End: 400, Last: 1000}}
	regular, beats := &Transcript{}, &Sound{Seconds: 660}
	for i := range 200 {
		at := 3 * float64(i)
		regular.Words = append(regular.Words, Word{Text: "word", Start: at, End: at + 1.5, Segment: i})
		regular.Segments = append(regular.Segments, Segment{Start: at, End: at + 1.5, First: i, Last: i + 1})
		beats.Speech = append(beats.Speech, Span{at + 10.7, at + 12.2})
	}
	points := &Transcript{}
	for i := range 200 {
		at := 3*float64(i) + r.Float64()
		points.Words = append(points.Words, Word{Text: "word", Start: at, End: at, Segment: i})
		points.Segments = append(points.Segments, Segment{Start: at, End: at, First: i, Last: i + 1})
	}
	few := walk(r, 15)
	nan := math.NaN()
	odd := &Transcript{Words: []Word{{Text: "a", Start: nan, End: nan}, {Text: "b", Start: -5, End: math.Inf(1)}}, Segments: []Segment{{Start: nan, End: nan, Last: 2}}}
	wild := &Sound{Speech: []Span{{nan, nan}, {5, 1}, {-3, 9}, {1, math.Inf(1)}, {1e300, 1e301}}}
	for _, c := range []struct {
		name   string
		words  *Transcript
		sound  *Sound
		reason string
	}{
		{"no words", &Transcript{}, s, "nothing to place"},
		{"no recording", a, nil, "nothing to place it in"},
		{"no speech", a, &Sound{Seconds: 600}, "likewise"},
		{"20 s of speech", few, heard(r, few, Timing{Offset: 5}, faults{}), "a few words fit anywhere"},
		{"20 s in a long transcript", a, &Sound{Seconds: 20, Speech: []Span{{1, 9}, {10, 20}}}, "likewise"},
		{"no pauses in the words", steady, s, "they fit anywhere"},
		{"no pauses in the speech", a, &Sound{Seconds: 600, Speech: []Span{{0, 600}}}, "everything fits"},
		{"regular pauses", regular, beats, "they fit at every beat"},
		{"words without length", points, s, "nothing to cover the speech with"},
		{"impossible word times", odd, s, "not a number, negative, endless"},
		{"impossible speech", a, wild, "likewise"},
	} {
		t.Run(c.name, func(t *testing.T) {
			tm := FitTiming(c.words, c.sound)
			if tm.Known || tm.Moved || tm.Offset != 0 || tm.Drift != 0 || tm.Off != 0 || !(tm.Sure >= 0 && tm.Sure < leastSure) {
				t.Errorf("%s, but %+v", c.reason, tm)
			}
			if !strings.HasPrefix(tm.Note, "timing not checked: ") {
				t.Errorf("note %q", tm.Note)
			}
		})
	}
}

func TestTimed(t *testing.T) {
	in := &Transcript{
		Name:     "a",
		Words:    []Word{{Text: "one", Start: 1, End: 2, Confidence: 0.5}, {Text: "two", Start: 4, End: 6, Segment: 1, Estimated: true}, {Text: "three", Start: 100, End: 101, Segment: 1}},
		Segments: []Segment{{Start: 1, End: 2, Last: 1}, {Start: 4, End: 102, First: 1, Last: 3}},
		Warnings: []Warning{{Text: "old"}},
	}
	before := dump(in)
	for _, c := range []struct {
		tm     Timing
		want   string
		warn   string
		reason string
	}{
		{Timing{Offset: 9, Drift: 0.5}, "1-2 one\n4-102 ~two three\n", "", "not moved: the figures do not count"},
		{Timing{Offset: 10, Drift: 0.01, Moved: true}, "11.01-12.02 one\n14.04-113.02 ~two three\n", "", "drift first, then offset"},
		{Timing{Offset: -5, Moved: true}, "0-0 one\n0-97 ~two three\n", "2 words lie up to 4.0 s before the recording begins; put at its start", "both begin too early, one ends in it"},
		{Timing{Offset: -1.5, Moved: true}, "0-0.5 one\n2.5-100.5 ~two three\n", "1 word lies up to 0.5 s before the recording begins; put at its start", "one word"},
	} {
		out := in.Timed(c.tm)
		if got := dump(out); got != c.want {
			t.Errorf("%s: got\n%swant\n%s", c.reason, got, c.want)
		}
		warn := ""
		if n := len(out.Warnings); n > 1 {
			warn = out.Warnings[n-1].Text
		}
		if warn != c.warn {
			t.Errorf("%s: warning %q, want %q", c.reason, warn, c.warn)
		}
		if dump(in) != before || len(in.Warnings) != 1 {
			t.Fatalf("%s: the transcript itself was changed", c.reason)
		}
		for i, w := range out.Words {
			if w.Text != in.Words[i].Text || w.Confidence != in.Words[i].Confidence || w.Segment != in.Words[i].Segment || w.Start > w.End {
				t.Errorf("%s: word %d is %+v", c.reason, i, w)
			}
		}
	}
}

// What FitTiming finds, Timed brings into place: fitted again, nothing is left
// to move.
func TestTimedSettles(t *testing.T) {
	real := attempts(t, true)
	for i := range draws(10) {
		r := rand.New(rand.NewPCG(uint64(i), 13))
		a := real[r.IntN(len(real))]
		s := heard(r, a, Timing{Offset: 17.3, Drift: 0.01}, faults{misses: 0.05, alarms: 0.05})
		out := a.Timed(FitTiming(a, s))
		if tm := FitTiming(out, s); !tm.Known || tm.Moved {
			t.Errorf("case %d, %s: %+v", i, a.Name, tm)
		}
		if !slices.IsSortedFunc(out.Words, func(a, b Word) int { return cmp.Compare(a.Start, b.Start) }) {
			t.Errorf("case %d, %s: words out of order", i, a.Name)
		}
	}
}

// The cost of the search grows with the square of the length: a longer
// transcript has more blocks, and more drifts to tell apart.
func BenchmarkFitTiming(b *testing.B) {
	for _, minutes := range []float64{10, 40, 160} {
		b.Run(fmt.Sprintf("%gmin", minutes), func(b *testing.B) {
			r := rand.New(rand.NewPCG(1, 2))
			a := walk(r, 60*minutes)
			s := heard(r, a, Timing{Offset: 17.3, Drift: 0.01}, faults{misses: 0.1, alarms: 0.1, others: 3})
			b.ReportAllocs()
			for b.Loop() {
				if tm := FitTiming(a, s); !tm.Moved {
					b.Fatal(tm.Note)
				}
			}
		})
	}
}
