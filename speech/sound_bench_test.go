package speech

import (
	"bytes"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
)

// BenchmarkReadSound reads ten minutes of speech over an engine, 16,000 samples
// a second of one channel, and lets sox take its statistics of the same file.
// "x" is how many times faster than it was spoken.
func BenchmarkReadSound(b *testing.B) {
	const seconds = 600
	r := rand.New(rand.NewPCG(9, 28))
	tr := speak(r, phrases(b), 15, func() float64 { return 0.6 + 2.2*r.ExpFloat64() })
	tr.samples = append(tr.samples, make([]float64, max(0, seconds*toneRate-len(tr.samples)))...)
	wav := tr.in(r, idleNoise(r, len(tr.samples)), 20)
	long := float64(len(tr.samples)) / toneRate
	file := filepath.Join(b.TempDir(), "a.wav")
	if err := os.WriteFile(file, wav, 0o600); err != nil {
		b.Fatal(err)
	}
	fast := func(b *testing.B) {
		b.ReportMetric(long*float64(b.N)/b.Elapsed().Seconds(), "x")
		b.ReportMetric(0, "ns/op")
	}
	b.Run("markaround", func(b *testing.B) {
		b.ReportAllocs()
		for b.Loop() {
			f, err := os.Open(file)
			if err != nil {
				b.Fatal(err)
			}
			s, err := ReadSound(f, "a.wav")
			if err != nil || len(s.Speech) == 0 {
				b.Fatal(s, err)
			}
			f.Close()
		}
		fast(b)
	})
	b.Run("sox", func(b *testing.B) {
		if _, err := exec.LookPath("sox"); err != nil {
			b.Skip("sox is not installed")
		}
		for b.Loop() {
			if out, err := exec.Command("sox", file, "-n", "stat").CombinedOutput(); err != nil {
				b.Fatal(err, string(out))
			}
		}
		fast(b)
	})
	// Other kinds of recordings take the general way.
	b.Run("48000 of two channels", func(b *testing.B) {
		in := stream(seconds, 48000, 2)
		for b.Loop() {
			if _, err := ReadSound(in, ""); err != nil {
				b.Fatal(err)
			}
		}
		fast(b)
	})
}

func BenchmarkClip(b *testing.B) {
	in := wav16(make([]float64, 60*toneRate))
	for b.Loop() {
		var out bytes.Buffer
		if err := Clip(&out, bytes.NewReader(in), 20, 30); err != nil {
			b.Fatal(err)
		}
	}
}
