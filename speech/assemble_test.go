package speech

import (
	"math"
	"testing"
)

func TestSpread(t *testing.T) {
	nan := math.NaN()
	type w = rawWord
	for _, c := range []struct {
		reason string
		cue    cue
		want   []w
	}{
		{"by letters and one for the gap: 4, 2 and 6 of 12", cue{start: 0, end: 12, words: []w{{text: "air", start: nan, end: nan}, {text: "a", start: nan, end: nan}, {text: "lines.", start: nan, end: nan}}},
			[]w{{start: 0, end: 4, estimated: true}, {start: 4, end: 6, estimated: true}, {start: 6, end: 12, estimated: true}}},
		{"between two measured words", cue{start: 0, end: 9, words: []w{{text: "a", start: 1, end: 2}, {text: "4", start: nan, end: nan}, {text: "b", start: 5, end: 6}}},
			[]w{{start: 1, end: 2}, {start: 2, end: 5, estimated: true}, {start: 5, end: 6}}},
		{"a measured start ends at the next one", cue{start: 0, end: 9, words: []w{{text: "a", start: 1, end: nan}, {text: "b", start: 1.5, end: nan}}},
			[]w{{start: 1, end: 1.5}, {start: 1.5, end: 2.5}}},
		{"but not after a pause", cue{start: 0, end: 9, words: []w{{text: "a", start: 1, end: nan}, {text: "b", start: 6, end: 7}}},
			[]w{{start: 1, end: 2}, {start: 6, end: 7}}},
		{"a start before the one before it is moved up", cue{start: 0, end: 9, words: []w{{text: "a", start: 3, end: 4}, {text: "b", start: 2, end: 2.5}}},
			[]w{{start: 3, end: 4}, {start: 3, end: 3}}},
		{"no time at all", cue{start: 5, end: 5, words: []w{{text: "a", start: nan, end: nan}, {text: "b", start: nan, end: nan}}},
			[]w{{start: 5, end: 5, estimated: true}, {start: 5, end: 5, estimated: true}}},
	} {
		t.Run(c.reason, func(t *testing.T) {
			c.cue.spread()
			for i, want := range c.want {
				got := c.cue.words[i]
				if math.Abs(got.start-want.start) > 1e-9 || math.Abs(got.end-want.end) > 1e-9 || got.estimated != want.estimated {
					t.Errorf("word %d: %g to %g (%v), want %g to %g (%v)", i, got.start, got.end, got.estimated, want.start, want.end, want.estimated)
				}
			}
		})
	}
}

func TestSpeakersHoldOn(t *testing.T) {
	runReadCases(t, []readCase{
		{reason: "with two labels a label holds until the next", in: "[0:01] EXAMINER: ready\n[0:05] start please\n[0:09] STUDENT: yes\n[0:12] air lines\n",
			want: "1-3 EXAMINER: ~ready\n5-7 EXAMINER: ~start ~please\n9-11 STUDENT: ~yes\n12-14 STUDENT: ~air ~lines\n"},
		{reason: "with one label the others are not the examiner's", in: "[0:01] EXAMINER: ready\n[0:05] yes\n[0:09] air lines\n",
			want: "1-3 EXAMINER: ~ready\n5-7 ~yes\n9-11 ~air ~lines\n"},
		{reason: "chevrons alone end what went before", in: "[0:01] EXAMINER: ready\n[0:03] STUDENT: yes\n[0:05] >> louder\n[0:09] air\n",
			want: "1-3 EXAMINER: ~ready\n3-5 STUDENT: ~yes\n5-7 ~louder\n9-11 ~air\n"},
	})
}

func TestSounds(t *testing.T) {
	for _, c := range []struct {
		reason string
		in     string
		want   string
	}{
		{"square brackets are notes", "[points at hub] hub is fine", "hub is fine"},
		{"a square bracket with a figure is speech", "tread is [4/32] here", "tread is [4/32] here"},
		{"round brackets with a sound", "air (buzzer) lines (hissing sound).", "air lines"},
		{"round brackets with speech", "tires (all of them) are fine", "tires (all of them) are fine"},
		{"stars", "*beeping* air *very* good", "air *very* good"},
		{"notes around a song", "♪ upbeat song ♪ air", "air"},
		{"a bracket that is never closed", "air [lines are fine", "air [lines are fine"},
		{"brackets around a sentence are speech", "(no leaks and no cuts and no cracks in it and no music)", "(no leaks and no cuts and no cracks in it and no music)"},
		{"a recognizer's word for no word", "[unk] air <unk>", "air"},
		{"nothing between", "[] () air", "() air"},
	} {
		t.Run(c.reason, func(t *testing.T) {
			var q cue
			q.addText(c.in)
			q.dropSounds()
			if got := q.text(); got != c.want {
				t.Errorf("%q becomes %q, want %q", c.in, got, c.want)
			}
		})
	}
}

func TestClock(t *testing.T) {
	for in, want := range map[float64]string{0: "0:00.0", 5.25: "0:05.3", 59.96: "1:00.0", 3725.5: "1:02:05.5"} {
		if got := clock(in); got != want {
			t.Errorf("clock(%g) = %q, want %q", in, got, want)
		}
	}
}
