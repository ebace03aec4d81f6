package speech

import (
	"math"
	"math/rand/v2"
	"reflect"
	"testing"

	"pgregory.net/rapid"
)

// spoken makes a transcript of one-word segments, or of one segment with
// estimated times.
func spoken(estimated bool, times ...Span) *Transcript {
	t := &Transcript{}
	for i, p := range times {
		w := Word{Text: "word", Start: p.Start, End: p.End, Segment: i}
		if estimated {
			w.Segment, w.Estimated = 0, true
		}
		t.Words = append(t.Words, w)
		t.Segments = append(t.Segments, Segment{Start: p.Start, End: p.End, First: i, Last: i + 1})
	}
	if estimated {
		t.Segments = []Segment{{Start: times[0].Start, End: times[len(times)-1].End, Last: len(times)}}
	}
	return t
}

func TestUnheard(t *testing.T) {
	words := spoken(false, Span{10, 10.5}, Span{10.5, 11}, Span{20, 20.5})
	for _, c := range []struct {
		words  *Transcript
		speech []Span
		want   []Span
		reason string
	}{
		{words, []Span{{9.8, 11.3}, {19.8, 20.8}}, nil, "speech a little longer than its words"},
		{words, []Span{{9.8, 11.3}, {14, 16}, {19.8, 20.8}}, []Span{{14, 16}}, "talk between words"},
		{words, []Span{{14, 14.9}}, nil, "less than a second"},
		{words, []Span{{14, 14.6}, {15, 15.6}}, []Span{{14, 15.6}}, "a short pause does not part it"},
		{words, []Span{{14, 14.6}, {15.2, 15.8}}, nil, "a longer one does"},
		{words, []Span{{9.8, 18}}, []Span{{11.4, 18}}, "talk goes on after a word; the margin is the word's"},
		{words, []Span{{9.8, 12.3}}, nil, "it goes on for less than a second"},
		{words, []Span{{2, 5}, {30, 40}}, []Span{{2, 5}, {30, 40}}, "before the first word and after the last"},
		{words, nil, nil, "no speech"},
		{&Transcript{}, []Span{{2, 5}}, []Span{{2, 5}}, "no words"},
		{spoken(true, Span{10, 10.5}, Span{19, 20}), []Span{{12, 15}, {25, 27}}, []Span{{25, 27}}, "the words of a cue may be anywhere in it"},
		{spoken(false, Span{10, 30}, Span{11, 12}), []Span{{15, 18}}, nil, "under a long word with a short one in it"},
		{spoken(false, Span{math.NaN(), 30}), []Span{{15, 18}}, []Span{{15, 18}}, "a word without a place covers nothing"},
	} {
		if got := Unheard(c.words, &Sound{Seconds: 60, Speech: c.speech}); !reflect.DeepEqual(got, c.want) {
			t.Errorf("%s: got %v, want %v", c.reason, got, c.want)
		}
	}
	if got := Unheard(words, nil); got != nil {
		t.Errorf("no recording: got %v", got)
	}
}

func TestUnspoken(t *testing.T) {
	four := []Span{{10, 10.4}, {10.4, 10.8}, {10.8, 11.2}, {30, 30.4}}
	for _, c := range []struct {
		words  *Transcript
		speech []Span
		want   []WordRange
		reason string
	}{
		{spoken(false, four...), []Span{{10, 11.2}, {30, 30.4}}, nil, "all spoken"},
		{spoken(false, four...), []Span{{30, 30.4}}, []WordRange{{0, 3}}, "three words in silence"},
		{spoken(false, four...), []Span{{8, 9.5}, {30, 30.4}}, []WordRange{{0, 3}}, "speech before them is not theirs"},
		{spoken(false, four...), []Span{{8, 9.8}, {30, 30.4}}, nil, "speech within the margin may be the first's: two are left"},
		{spoken(false, four...), []Span{{10, 11.2}}, nil, "one word in silence"},
		{spoken(false, four...), nil, []WordRange{{0, 4}}, "no speech at all"},
		{spoken(false, Span{10, 11.6}), nil, []WordRange{{0, 1}}, "one long word"},
		{spoken(true, four[:3]...), nil, []WordRange{{0, 3}}, "a cue in silence"},
		{spoken(true, Span{10, 11}, Span{11, 12}, Span{19, 20}), []Span{{15, 17}}, nil, "the words of a cue may be anywhere in it"},
		{spoken(true, Span{10, 11}, Span{11, 12}, Span{19, 20}), []Span{{15, 15.5}}, []WordRange{{0, 3}}, "a clank in a long cue is not its words"},
		{spoken(false, Span{70, 71}, Span{71, 72}, Span{72, 73}), []Span{{1, 2}}, nil, "beyond the recording there is no silence either"},
		{&Transcript{}, nil, nil, "no words"},
	} {
		if got := Unspoken(c.words, &Sound{Seconds: 60, Speech: c.speech}); !reflect.DeepEqual(got, c.want) {
			t.Errorf("%s: got %v, want %v", c.reason, got, c.want)
		}
	}
	if got := Unspoken(spoken(false, four...), nil); got != nil {
		t.Errorf("no recording: got %v", got)
	}
}

func TestQuiet(t *testing.T) {
	s := &Sound{Seconds: 60, Speech: []Span{{0, 10}, {14, 14.3}, {20, 21.2}, {30, 30.6}, {31, 31.6}, {40, 50}}}
	for _, c := range []struct {
		start, end float64
		want       bool
		reason     string
	}{
		{10, 14, true, "silence"},
		{9.7, 14.3, true, "the words around sound on into the margin"},
		{9, 14, true, "0.6 s of 3.2 s is under a fifth"},
		{12, 15, true, "a clank"},
		{13.5, 15, false, "a clank that takes most of it"},
		{15, 25, false, "1.2 s of talk"},
		{25, 35, false, "0.6 s twice with a short pause is talk"},
		{42, 42.5, true, "too short to hold any"},
		{42, 44, false, "all talk"},
		{50, 60.3, true, "up to the end"},
		{50, 70, false, "beyond it"},
		{-5, 5, false, "before it"},
		{20, 10, false, "backwards"},
		{math.NaN(), 10, false, "nowhere"},
		{10, math.Inf(1), false, "endless"},
	} {
		if got := s.Quiet(c.start, c.end); got != c.want {
			t.Errorf("%g to %g: got %v, want %v: %s", c.start, c.end, got, c.want, c.reason)
		}
	}
	if (&Sound{}).Quiet(1, 2) {
		t.Error("a recording of no length is quiet")
	}
}

// What was dropped is found, and nothing else is told, on the invented
// attempts: a run of words is taken out of each, and another one put where
// nobody speaks.
func TestUnheardAttempts(t *testing.T) {
	for i, a := range attempts(t, true) {
		r := rand.New(rand.NewPCG(uint64(i), 17))
		s := heard(r, a, Timing{}, faults{})
		if got := Unheard(a, s); got != nil {
			t.Errorf("%s: unheard %v in a whole transcript", a.Name, got)
		}
		if got := Unspoken(a, s); got != nil {
			t.Errorf("%s: unspoken %v in a true transcript", a.Name, got)
		}
		first := r.IntN(len(a.Words) - 12)
		from, to := a.Words[first].Start, a.Words[first+11].End
		less := &Transcript{Words: append(append([]Word(nil), a.Words[:first]...), a.Words[first+12:]...), Segments: a.Segments}
		found, lost := 0.0, 0.0
		for _, w := range a.Words[first : first+12] {
			lost += w.End - w.Start
		}
		for _, p := range Unheard(less, s) {
			if p.Start < from-1 || p.End > to+1 {
				t.Errorf("%s: unheard %v, dropped %.1f to %.1f", a.Name, p, from, to)
			}
			found += p.End - p.Start
		}
		if found < lost/2 {
			t.Errorf("%s: %.1f s unheard, dropped %.1f s from %.1f to %.1f", a.Name, found, lost, from, to)
		}
		mute := &Sound{Seconds: s.Seconds}
		for _, p := range s.Speech {
			if p.End < from || p.Start > to {
				mute.Speech = append(mute.Speech, p)
			}
		}
		ranges := Unspoken(a, mute)
		if len(ranges) != 1 || ranges[0].First < first-60 || ranges[0].First > first+3 || ranges[0].Last < first+9 || ranges[0].Last > first+72 {
			t.Errorf("%s: unspoken %v, made up about %d to %d", a.Name, ranges, first, first+12)
		}
	}
}

// Whatever comes in, what goes out is in order, apart, long enough and free of
// words; and a silence between words is never told to hold talk and be quiet.
func TestUnheardProperties(t *testing.T) {
	second := rapid.Custom(func(t *rapid.T) float64 { return float64(rapid.IntRange(-20, 1200).Draw(t, "tenth")) / 10 })
	rapid.Check(t, func(t *rapid.T) {
		span := rapid.Custom(func(t *rapid.T) Span { return Span{second.Draw(t, "a"), second.Draw(t, "b")} })
		s := &Sound{Seconds: second.Draw(t, "length"), Speech: rapid.SliceOfN(span, 0, 20).Draw(t, "speech")}
		var a Transcript
		for i, p := range rapid.SliceOfN(span, 0, 20).Draw(t, "words") {
			a.Words = append(a.Words, Word{Text: "x", Start: p.Start, End: p.End, Segment: i, Estimated: rapid.Bool().Draw(t, "estimated")})
			a.Segments = append(a.Segments, Segment{Start: p.Start, End: p.End, First: i, Last: i + 1})
		}
		last := math.Inf(-1)
		for _, p := range Unheard(&a, s) {
			if p.Start <= last || p.End-p.Start < leastTalk-1e-9 {
				t.Fatalf("unheard %v after %g", p, last)
			}
			last = p.End
			for _, w := range a.Words {
				if w.Start <= w.End && w.End > p.Start && w.Start < p.End {
					t.Fatalf("unheard %v over the word %v", p, w)
				}
			}
			if s.Quiet(p.Start-wordMargin, p.End+wordMargin) {
				t.Fatalf("unheard %v is quiet", p)
			}
		}
		at := 0
		for _, r := range Unspoken(&a, s) {
			if r.First < at || r.Last <= r.First || r.Last > len(a.Words) {
				t.Fatalf("unspoken %v of %d words", r, len(a.Words))
			}
			at = r.Last
		}
		FitTiming(&a, s)
	})
}
