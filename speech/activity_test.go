package speech

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

// phrase is one of testdata/audio: one stretch of synthetic speech, which begins
// and ends with sound.
type phrase struct {
	file, words string
	samples     []float64 // at toneRate
}

func phrases(t testing.TB) []phrase {
	list, err := os.ReadFile("testdata/audio/phrases.tsv")
	if err != nil {
		t.Fatal(err)
	}
	var out []phrase
	for _, line := range strings.Split(strings.TrimSpace(string(list)), "\n") {
		row := strings.Split(line, "\t")
		data, err := os.ReadFile(filepath.Join("testdata/audio", row[0]))
		if err != nil {
			t.Fatal(err)
		}
		p := parseRIFF(t, data)
		if p.rate != toneRate || p.channels != 1 || p.bits != 16 {
			t.Fatalf("%s: %d Hz, %d channels of %d bits", row[0], p.rate, p.channels, p.bits)
		}
		ph := phrase{file: row[0], words: row[3]}
		for b := p.data; len(b) > 0; b = b[2:] {
			ph.samples = append(ph.samples, float64(int16(binary.LittleEndian.Uint16(b)))/(1<<15))
		}
		out = append(out, ph)
	}
	return out
}

// spokenTrack is phrases at known times in silence.
type spokenTrack struct {
	samples []float64
	spans   []Span
	phrases []phrase // of each span
}

// speak places every phrase once a round, in random order and 3 dB louder or
// softer, with pauses of the given length.
func speak(r *rand.Rand, all []phrase, rounds int, pause func() float64) spokenTrack {
	var tr spokenTrack
	wait := func() { tr.samples = append(tr.samples, make([]float64, int(pause()*toneRate))...) }
	wait()
	for range rounds {
		for _, i := range r.Perm(len(all)) {
			p := all[i]
			gain := math.Pow(10, (6*r.Float64()-3)/20) * 0.1 / math.Sqrt(power(p.samples))
			from := float64(len(tr.samples)) / toneRate
			for _, v := range p.samples {
				tr.samples = append(tr.samples, v*gain)
			}
			tr.spans = append(tr.spans, Span{from, float64(len(tr.samples)) / toneRate})
			tr.phrases = append(tr.phrases, p)
			wait()
		}
	}
	return tr
}

// in is the track with a noise mixed in, snr dB below the power of its speech,
// as the bytes of a WAV file. Under everything lies the hiss of a recorder, 50
// dB below.
func (tr spokenTrack) in(r *rand.Rand, noise []float64, snr float64) []byte {
	speaking := 0.0
	n := 0
	for _, p := range tr.spans {
		part := tr.samples[int(math.Round(p.Start*toneRate)):int(math.Round(p.End*toneRate))]
		for _, v := range part {
			speaking += v * v
		}
		n += len(part)
	}
	speaking /= float64(n)
	by := math.Sqrt(speaking * math.Pow(10, -snr/10) / power(noise))
	own := math.Sqrt(speaking * math.Pow(10, -5))
	out := make([]float64, len(tr.samples))
	for i := range out {
		out[i] = tr.samples[i] + by*noise[i] + own*r.NormFloat64()
	}
	return wav16(out)
}

// wav16 is a WAV file of toneRate of one channel.
func wav16(x []float64) []byte {
	data := make([]byte, 0, 2*len(x))
	for _, v := range x {
		data = binary.LittleEndian.AppendUint16(data, uint16(int16(math.Round(32767*max(-1, min(1, v))))))
	}
	return riffFile(fmtChunk(1, 1, toneRate, 16), chunk("data", data))
}

// score is how far found speech is from what was spoken.
type score struct {
	f1            float64   // of speech, in steps of 10 ms
	starts, ends  []float64 // seconds that the nearest one found lies late
	worst, within float64   // of starts and ends: the largest, and the share up to 0.1 s
}

func scored(spoken, found []Span, seconds float64) score {
	const step = 0.01
	label := func(spans []Span) []bool {
		out := make([]bool, int(seconds/step))
		for _, p := range spans {
			for k := range out {
				if at := (float64(k) + 0.5) * step; at >= p.Start && at < p.End {
					out[k] = true
				}
			}
		}
		return out
	}
	var hit, miss, alarm float64
	truth, heard := label(spoken), label(found)
	for k := range truth {
		switch {
		case truth[k] && heard[k]:
			hit++
		case truth[k]:
			miss++
		case heard[k]:
			alarm++
		}
	}
	s := score{f1: 2 * hit / (2*hit + miss + alarm)}
	nearest := func(at float64, of func(Span) float64) float64 {
		best := seconds
		for _, p := range found {
			if d := of(p) - at; math.Abs(d) < math.Abs(best) {
				best = d
			}
		}
		return best
	}
	good := 0.0
	for _, p := range spoken {
		s.starts = append(s.starts, nearest(p.Start, func(p Span) float64 { return p.Start }))
		s.ends = append(s.ends, nearest(p.End, func(p Span) float64 { return p.End }))
	}
	for _, d := range slices.Concat(s.starts, s.ends) {
		s.worst = max(s.worst, math.Abs(d))
		if math.Abs(d) <= 0.1+1e-9 {
			good++
		}
	}
	s.within = good / float64(2*len(spoken))
	return s
}

func TestX(t *testing.T) {
	all := phrases(t)
	for seed := range uint64(3) {
		for _, n := range noises {
			for _, snr := range []float64{20, 5} {
				r := rand.New(rand.NewPCG(seed, 21))
				tr := speak(r, all, 2, func() float64 { return 0.6 + 1.2*r.ExpFloat64() })
				s, err := ReadSound(bytes.NewReader(tr.in(r, n.make(r, len(tr.samples)), snr)), n.name)
				if err != nil {
					t.Fatal(err)
				}
				sc := scored(tr.spans, s.Speech, s.Seconds)
				fmt.Printf("%-7s %2.0f dB F1 %.3f within %.3f worst %.2f", n.name, snr, sc.f1, sc.within, sc.worst)
				if snr == 20 {
					for i := range sc.starts {
						if math.Abs(sc.starts[i]) > 0.1 || math.Abs(sc.ends[i]) > 0.1 {
							fmt.Printf("  %s %+.2f %+.2f", tr.phrases[i].file, sc.starts[i], sc.ends[i])
						}
					}
				}
				fmt.Println()
			}
		}
	}
}
