package speech

import (
	"bytes"
	"cmp"
	"encoding/binary"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
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
	by := math.Sqrt(speaking * math.Pow(10, -snr/10) / max(1e-3, power(noise)))
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
	f1           float64   // of speech, in steps of 10 ms
	starts, ends []float64 // seconds that the nearest one found lies late
	// of starts and ends, either way
	median, worst float64
	within        float64 // share up to 0.1 s
}

func scored(spoken, found []Span, seconds float64) score {
	const step = 0.01
	label := func(spans []Span) []bool {
		out := make([]bool, int(seconds/step))
		for _, p := range spans {
			for k := int(math.Round(p.Start / step)); k < min(len(out), int(math.Round(p.End/step))); k++ {
				out[k] = true
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
	good, all := 0.0, []float64{}
	for _, p := range spoken {
		s.starts = append(s.starts, nearest(p.Start, func(p Span) float64 { return p.Start }))
		s.ends = append(s.ends, nearest(p.End, func(p Span) float64 { return p.End }))
	}
	for _, d := range slices.Concat(s.starts, s.ends) {
		all = append(all, math.Abs(d))
		if math.Abs(d) <= 0.1+1e-9 {
			good++
		}
	}
	slices.Sort(all)
	s.median, s.worst = all[len(all)/2], all[len(all)-1]
	s.within = good / float64(2*len(spoken))
	return s
}

// trial is one track in one noise, and what was found in it.
type trial struct {
	noise string
	snr   float64
	wav   []byte
	track spokenTrack
	score score
}

// trials mixes the track of a seed with every noise at 20 and 5 dB.
func trials(t testing.TB, all []phrase, seed uint64) []trial {
	var out []trial
	for _, n := range noises {
		r := rand.New(rand.NewPCG(seed, 21))
		tr := speak(r, all, 2, func() float64 { return 0.6 + 1.2*r.ExpFloat64() })
		noise := n.make(r, len(tr.samples))
		ratios := []float64{20, 5}
		if n.name == "none" {
			ratios = ratios[:1]
		}
		for _, snr := range ratios {
			wav := tr.in(r, noise, snr)
			s, err := ReadSound(bytes.NewReader(wav), n.name)
			if err != nil {
				t.Fatal(err)
			}
			checkSound(t.(*testing.T), s)
			out = append(out, trial{n.name, snr, wav, tr, scored(tr.spans, s.Speech, s.Seconds)})
		}
	}
	return out
}

// seeds is how many draws of phrases, pauses and noise are tried: one, or
// MARKAROUND_LONG for measuring.
func seeds() uint64 {
	n, err := strconv.ParseUint(os.Getenv("MARKAROUND_LONG"), 10, 16)
	if err != nil {
		return 1
	}
	return n
}

// Promised are an F1 of 0.95 at 20 dB in every noise and of 0.85 at 5 dB in that
// of an engine, and starts and ends to 0.1 s at 20 dB. The last is kept in quiet
// and with an engine, and all but always in wind. In the others a tenth or so of
// them is up to 0.25 s off: the end of a beep or of the air dryer's blow right
// beside a word passes for a part of it, and the last s of "bolts" and "springs"
// is lower than a hiss or a buzzer.
func TestSpeechFound(t *testing.T) {
	least := map[string]struct {
		f1Fair, f1Poor, within float64
	}{
		"none":   {0.98, 0.98, 1},
		"white":  {0.97, 0.80, 0.90},
		"idle":   {0.98, 0.93, 0.95},
		"wind":   {0.97, 0.92, 0.92},
		"hiss":   {0.97, 0.90, 0.85},
		"buzzer": {0.96, 0.87, 0.85},
		"beeper": {0.96, 0.94, 0.75},
	}
	all := phrases(t)
	for seed := range seeds() {
		for _, c := range trials(t, all, seed) {
			l := least[c.noise]
			f1, within := l.f1Fair, l.within
			if c.snr < 20 {
				f1, within = l.f1Poor, 0
			}
			t.Logf("%-6s %2.0f dB: F1 %.3f, %3.0f%% of starts and ends within 0.1 s, median %.2f, worst %.2f s",
				c.noise, c.snr, c.score.f1, 100*c.score.within, c.score.median, c.score.worst)
			if c.score.f1 < f1 || c.score.within < within {
				t.Errorf("seed %d, %s at %.0f dB: F1 %.3f, want %.2f; %.2f within 0.1 s, want %.2f", seed, c.noise, c.snr, c.score.f1, f1, c.score.within, within)
			}
		}
	}
}

// Where nobody speaks, no speech is found.
func TestSpeechNone(t *testing.T) {
	const seconds = 30
	bed := func(r *rand.Rand) []float64 { return scaled(idleNoise(r, seconds*toneRate), 0.0001) }
	sounds := []struct {
		name string
		make func(r *rand.Rand) []float64
		most float64 // seconds
	}{
		{"nothing at all", func(*rand.Rand) []float64 { return make([]float64, seconds*toneRate) }, 0},
		{"full scale, up and down", func(*rand.Rand) []float64 {
			x := make([]float64, seconds*toneRate)
			for i := range x {
				x[i] = float64(i/2%2*2 - 1)
			}
			return x
		}, 0},
		{"a hammer on tires, over an engine", func(r *rand.Rand) []float64 {
			x := bed(r)
			for at := 2.0; at < seconds-2; at += 1.3 {
				hz := 80 + 300*r.Float64()
				for i := range toneRate / 2 {
					s := float64(i) / toneRate
					x[int(at*toneRate)+i] += 0.2 * (pure.at(hz*s) + r.NormFloat64()) * math.Exp(-25*s)
				}
			}
			return x
		}, 0.3},
		{"air let out, over an engine", func(r *rand.Rand) []float64 {
			x := bed(r)
			for at := 2.0; at < seconds-3; at += 3 {
				air := white(r, 2*toneRate)
				highPass2(air, 800)
				for i, v := range air {
					s := float64(i) / toneRate
					x[int(at*toneRate)+i] += 0.1 * v * min(1, s/0.01) * math.Exp(-3*s)
				}
			}
			return x
		}, 0.3},
	}
	for _, n := range noises {
		sounds = append(sounds, struct {
			name string
			make func(r *rand.Rand) []float64
			most float64
		}{n.name + ", loud", func(r *rand.Rand) []float64 { return scaled(n.make(r, seconds*toneRate), 0.01) }, 0})
	}
	for _, c := range sounds {
		s, err := ReadSound(bytes.NewReader(wav16(c.make(rand.New(rand.NewPCG(6, 25))))), c.name)
		if err != nil {
			t.Fatal(err)
		}
		checkSound(t, s)
		if got := total(s.Speech); got > c.most {
			t.Errorf("%s: %.2f s of speech, want at most %.2f: %v", c.name, got, c.most, s.Speech)
		}
	}
}

// The level of a step and the floor are held against what sox calls RMS, which
// is 3.01 dB lower as it counts from a square of full scale.
func TestLevelAsSox(t *testing.T) {
	if _, err := exec.LookPath("sox"); err != nil {
		t.Skip("sox is not installed")
	}
	r := rand.New(rand.NewPCG(7, 26))
	x := scaled(white(r, 4*toneRate), 0.001)
	for i := range x[2*toneRate:] {
		x[2*toneRate+i] *= 10
	}
	file := filepath.Join(t.TempDir(), "a.wav")
	if err := os.WriteFile(file, wav16(x), 0o600); err != nil {
		t.Fatal(err)
	}
	s, err := ReadSound(bytes.NewReader(wav16(x)), "")
	if err != nil {
		t.Fatal(err)
	}
	for _, half := range []int{0, 2} {
		out, err := exec.Command("sox", file, "-n", "trim", strconv.Itoa(half), "2", "stats").CombinedOutput()
		if err != nil {
			t.Fatal(err, string(out))
		}
		var want float64
		for _, line := range strings.Split(string(out), "\n") {
			if f := strings.Fields(line); strings.HasPrefix(line, "RMS lev dB") {
				want, err = strconv.ParseFloat(f[3], 64)
			}
		}
		if want == 0 || err != nil {
			t.Fatalf("no level in %q", out)
		}
		sum := 0.0
		for _, v := range s.Level[100*half : 100*half+200] {
			sum += math.Pow(10, float64(v)/10)
		}
		if got := 10*math.Log10(sum/200) - 3.01; math.Abs(got-want) > 0.1 {
			t.Errorf("from %d s: %.2f dB, sox says %.2f", half, got, want)
		}
	}
}

// MARKAROUND_TOOLS=1 prints the table of testdata/audio/README.md: what ffmpeg's
// silence detection finds in the same files, at the threshold that does best in
// each, which nobody knows beforehand, and at the one that does best in all.
func TestAgainstTools(t *testing.T) {
	if os.Getenv("MARKAROUND_TOOLS") == "" {
		t.Skip("set MARKAROUND_TOOLS=1; needs ffmpeg")
	}
	const low, high, step = -70, -10, 2
	all := trials(t, phrases(t), 0)
	file := filepath.Join(t.TempDir(), "a.wav")
	found := make([][]score, len(all)) // by threshold
	sum := make([]float64, (high-low)/step+1)
	for i, c := range all {
		if err := os.WriteFile(file, c.wav, 0o600); err != nil {
			t.Fatal(err)
		}
		for k := range sum {
			spans, end := silences(t, file, low+k*step)
			found[i] = append(found[i], scored(c.track.spans, spans, end))
			sum[k] += found[i][k].f1
		}
	}
	best := slices.Index(sum, slices.Max(sum))
	t.Logf("best in all: %d dB", low+best*step)
	for i, c := range all {
		own := slices.MaxFunc(found[i], func(a, b score) int { return cmp.Compare(a.f1, b.f1) })
		show := func(s score) string { return fmt.Sprintf("%.3f | %3.0f%%", s.f1, 100*s.within) }
		t.Logf("| %s | %.0f | %s | %s | %s |", c.noise, c.snr, show(c.score), show(own), show(found[i][best]))
	}
}

// silences gives what ffmpeg calls no silence, and the length in seconds.
func silences(t *testing.T, file string, level int) ([]Span, float64) {
	out, err := exec.Command("ffmpeg", "-hide_banner", "-nostats", "-nostdin", "-i", file, "-af", fmt.Sprintf("silencedetect=noise=%ddB:d=0.25", level), "-f", "null", "-").CombinedOutput()
	if err != nil {
		t.Fatal(err, string(out))
	}
	info, err := os.Stat(file)
	if err != nil {
		t.Fatal(err)
	}
	end := float64(info.Size()-44) / 2 / toneRate
	var spans []Span
	at := 0.0
	for _, f := range regexp.MustCompile(`silence_(start|end): ([-0-9.e]+)`).FindAllStringSubmatch(string(out), -1) {
		v, err := strconv.ParseFloat(f[2], 64)
		if err != nil {
			t.Fatal(err)
		}
		if f[1] == "end" {
			at = v
		} else if v > at {
			spans = append(spans, Span{at, v})
		}
		if f[1] == "start" {
			at = end // unless it ends
		}
	}
	if at < end {
		spans = append(spans, Span{at, end})
	}
	return spans, end
}

// The whole way with sound that was spoken: a recording with an engine in it, and
// its subtitles off by up to 30 s and 2 %.
func TestFitTimingHeard(t *testing.T) {
	r := rand.New(rand.NewPCG(8, 27))
	all := phrases(t)
	tr := speak(r, all, 5, func() float64 { return 0.5 + 2*r.ExpFloat64() })
	const before = 40 // seconds of engine
	tr.samples = append(make([]float64, before*toneRate), tr.samples...)
	for i := range tr.spans {
		tr.spans[i].Start += before
		tr.spans[i].End += before
	}
	s, err := ReadSound(bytes.NewReader(tr.in(r, idleNoise(r, len(tr.samples)), 20)), "a.wav")
	if err != nil {
		t.Fatal(err)
	}
	for _, truth := range []Timing{
		{}, {Offset: 30, Drift: 0.02}, {Offset: 30, Drift: -0.02}, {Offset: -30, Drift: 0.02}, {Offset: -30, Drift: -0.02},
		{Offset: 12.3, Drift: -0.011}, {Offset: -0.7}, {Drift: 0.004},
	} {
		var srt strings.Builder
		stamp := func(at float64) string {
			ms := int(math.Round(1000 * (at - truth.Offset) / (1 + truth.Drift)))
			return fmt.Sprintf("%02d:%02d:%02d,%03d", ms/3600000, ms/60000%60, ms/1000%60, ms%1000)
		}
		for i, p := range tr.spans {
			fmt.Fprintf(&srt, "%d\n%s --> %s\n%s\n\n", i+1, stamp(p.Start), stamp(p.End), tr.phrases[i].words)
		}
		words, err := Read(strings.NewReader(srt.String()), Options{})
		if err != nil {
			t.Fatal(err)
		}
		tm := FitTiming(words, s)
		off := worst(words, tm, truth)
		t.Logf("%+.1f s, %+.1f %%: off by %.3f s, sure %.2f", truth.Offset, 100*truth.Drift, off, tm.Sure)
		if !tm.Known || off > 0.2 || (truth == Timing{}) == tm.Moved {
			t.Errorf("%+.1f s, %+.1f %%: off by %.2f s: %+v", truth.Offset, 100*truth.Drift, off, tm)
		}
		if got := Unheard(words.Timed(tm), s); len(got) > 0 {
			t.Errorf("%+.1f s, %+.1f %%: unheard speech %v, all of it has words", truth.Offset, 100*truth.Drift, got)
		}
	}
}
