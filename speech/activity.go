package speech

import (
	"io"
	"math/bits"
)

// ReadSound reads a WAV recording of PCM samples (8, 16, 24 or 32 bits, any
// number of channels, 4,000 to 768,000 samples a second) and finds where
// somebody speaks in it. The samples are read once and not kept. Errors in the
// content are *SyntaxError and say how to convert the recording; a recording
// that is cut short, or whose header does not say how long it is, is taken as
// far as it goes, with a warning.
func ReadSound(r io.ReadSeeker, name string) (*Sound, error) {
	w, err := openWAV(r, name)
	if err != nil {
		return nil, err
	}
	st, err := listen(w)
	if err != nil {
		return nil, err
	}
	s := &Sound{
		Name:     name,
		Rate:     w.rate,
		Channels: w.channels,
		Bits:     w.bits,
		Seconds:  w.seconds(),
		Step:     1.0 / stepsPerSecond,
		Level:    st.level,
		Warnings: w.warnings,
	}
	runs := st.speech()
	s.Floor = noiseFloor(st.level, runs)
	for _, r := range runs {
		s.Speech = append(s.Speech, Span{float64(r.from) * s.Step, min(float64(r.to)*s.Step, s.Seconds)})
	}
	return s, nil
}

// run is a run of steps, to is the first one after it.
type run struct{ from, to int }

// Speech is told from other sound by these. Chosen on invented signals and by
// what is known of speech; they have no source and no meaning outside.
const (
	floorWindow = 500 // steps to each side in which the floor of an octave is looked for
	floorShare  = 0.10
	clear6      = 6   // dB above the floor that a voice is
	active      = 4   // dB above the floor of what goes with a voice
	voiced      = 0.5 // likeness to itself of a voice after one of its periods
	joinCore    = 20
	minCore     = 6
	before      = 20
	after       = 25
	joinSpeech  = 20
	steadyHalf  = 20
	steadyRange = 3.0
)

func (st *steps) speech() []run {
	n := len(st.level)
	var snr [octaves][]float32
	for b := range snr {
		sm := smooth(st.power[b], 1)
		floor := floors(smooth(st.power[b], 3))
		for k := range sm {
			sm[k] -= max(floor[k], -85)
		}
		snr[b] = sm
	}
	core := make([]bool, n)
	act := make([]bool, n)
	for k := range n {
		sum := float32(0)
		cnt := 0
		for b := range snr {
			v := snr[b][k]
			if v > clear6 {
				cnt++
			}
			sum += max(0, min(v, 20))
		}
		act[k] = sum > 4*active
		core[k] = cnt >= 2 && sum > 4*clear6 && st.voice(k) > voiced && !st.steady(k)
	}
	var runs []run
	for k := range n {
		if !core[k] {
			continue
		}
		if len(runs) > 0 && k-runs[len(runs)-1].to <= joinCore {
			runs[len(runs)-1].to = k + 1
		} else {
			runs = append(runs, run{k, k + 1})
		}
	}
	var out []run
	for _, r := range runs {
		c := 0
		for k := r.from; k < r.to; k++ {
			if core[k] {
				c++
			}
		}
		if c < minCore {
			continue
		}
		for i := 0; i < before && r.from > 0 && act[r.from-1]; i++ {
			r.from--
		}
		for i := 0; i < after && r.to < n && act[r.to]; i++ {
			r.to++
		}
		if len(out) > 0 && r.from-out[len(out)-1].to <= joinSpeech {
			out[len(out)-1].to = r.to
		} else {
			out = append(out, r)
		}
	}
	return out
}

func (st *steps) steady(k int) bool {
	from, to := max(0, k-steadyHalf), min(len(st.level), k+steadyHalf+1)
	for b := range st.power {
		lo, hi := float32(0), float32(-200)
		for _, v := range st.power[b][from:to] {
			lo = min(lo, v)
			hi = max(hi, v)
		}
		if hi-lo < steadyRange {
			return true
		}
	}
	return false
}

func smooth(x []float32, half int) []float32 {
	out := make([]float32, len(x))
	for k := range x {
		from, to := max(0, k-half), min(len(x), k+half+1)
		var s float32
		for _, v := range x[from:to] {
			s += v
		}
		out[k] = s / float32(to-from)
	}
	return out
}

// floors gives for every step the level that sound stays above for all but a
// tenth of the seconds around it.
func floors(x []float32) []float32 {
	var hist [256]int
	bin := func(v float32) int { return max(0, min(255, int((v-silence)*2))) }
	out := make([]float32, len(x))
	from, to := 0, 0
	var f float32
	for k := range x {
		for ; to < min(len(x), k+floorWindow+1); to++ {
			hist[bin(x[to])]++
		}
		for ; from < k-floorWindow; from++ {
			hist[bin(x[from])]--
		}
		if k%10 == 0 {
			want := int(floorShare * float64(to-from))
			sum := 0
			for i, c := range hist {
				sum += c
				if sum > want {
					f = float32(i)/2 + silence + .25
					break
				}
			}
		}
		out[k] = f
	}
	return out
}

// voice tells how much the sound around a step repeats itself with a period of
// a voice, 80 to 400 Hz: the correlation of its signs, 0 for noise and near 1
// for a clear vowel.
func (st *steps) voice(k int) float32 {
	const window, lags = 128, 50
	at := k*signStep + signStep/2 - (window+lags)/2
	at = max(0, min(at, len(st.sign)*64-window-64))
	if at < 0 {
		return 0
	}
	word := func(i int) uint64 {
		w, s := at/64+i, uint(at%64)
		v := st.sign[w] >> s
		if s > 0 && w+1 < len(st.sign) {
			v |= st.sign[w+1] << (64 - s)
		}
		return v
	}
	x0, x1 := word(0), word(1)
	y0, y1, y2 := x0, x1, word(2)
	best := 0
	for lag := 1; lag <= lags; lag++ {
		y0, y1, y2 = y0>>1|y1<<63, y1>>1|y2<<63, y2>>1
		if lag >= signRate/400 {
			best = max(best, window-bits.OnesCount64(x0^y0)-bits.OnesCount64(x1^y1))
		}
	}
	return float32(best-window/2) / (window / 2)
}

// noiseFloor is the median level outside speech.
func noiseFloor(level []float32, speech []run) float64 {
	var hist [2 * -silence * 4]int
	count := 0
	add := func(part []float32) {
		for _, v := range part {
			hist[max(0, min(len(hist)-1, int((v-silence)*4)))]++
		}
		count += len(part)
	}
	at := 0
	for _, r := range speech {
		add(level[at:r.from])
		at = r.to
	}
	add(level[at:])
	share := 0.5
	if count < stepsPerSecond {
		clear(hist[:])
		count = 0
		add(level)
		share = 0.1
	}
	sum := 0
	for i, c := range hist {
		sum += c
		if float64(sum) > share*float64(count) {
			return float64(i)/4 + silence
		}
	}
	return silence
}
