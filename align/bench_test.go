package align

import (
	"fmt"
	"testing"

	"markaround/rubric"
	"markaround/speech"
)

// repeated makes a transcript of about 3,500 words times n: an open attempt
// said over and over, its times running on.
func repeated(b *testing.B, n int) *speech.Transcript {
	one, err := speech.ReadFile("../testdata/attempts/b1.srt", speech.Options{})
	if err != nil {
		b.Fatal(err)
	}
	out := &speech.Transcript{Name: "repeated", Format: one.Format}
	at := 0.0
	for len(out.Words) < 3500*n {
		seg, word := len(out.Segments), len(out.Words)
		for _, w := range one.Words {
			if len(out.Words) == 3500*n {
				break
			}
			w.Start, w.End, w.Segment = w.Start+at, w.End+at, w.Segment+seg
			out.Words = append(out.Words, w)
		}
		for _, s := range one.Segments {
			if s.First+word >= len(out.Words) {
				break
			}
			s.Start, s.End = s.Start+at, s.End+at
			s.First, s.Last = s.First+word, min(s.Last+word, len(out.Words))
			out.Segments = append(out.Segments, s)
		}
		at += one.Duration()
	}
	return out
}

// BenchmarkGrade aligns and marks an attempt of 3,500 words against the full
// rubric, and 4 and 16 times as much; the cost is to be linear in the words.
func BenchmarkGrade(b *testing.B) {
	r, err := rubric.Load("class-a")
	if err != nil {
		b.Fatal(err)
	}
	m, err := New(r)
	if err != nil {
		b.Fatal(err)
	}
	for _, n := range []int{1, 4, 16} {
		t := repeated(b, n)
		b.Run(fmt.Sprintf("words=%d", len(t.Words)), func(b *testing.B) {
			b.ReportAllocs()
			began := cpuTime(b)
			for b.Loop() {
				m.Grade(t, Options{})
			}
			b.ReportMetric((cpuTime(b)-began).Seconds()*1000/float64(b.N), "cpu-ms/op")
			b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/float64(len(t.Words)), "ns/word")
		})
	}
}

// BenchmarkNew prepares the matcher for the full rubric.
func BenchmarkNew(b *testing.B) {
	r, err := rubric.Load("class-a")
	if err != nil {
		b.Fatal(err)
	}
	b.ReportAllocs()
	for b.Loop() {
		if _, err := New(r); err != nil {
			b.Fatal(err)
		}
	}
}
