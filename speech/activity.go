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
//
// Speech is found to a tenth of a second in fair sound. Pauses of less than a
// quarter of a second are part of it. Whispering is not found; a radio is.
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
	runs := newScene(st).speech()
	s.Floor = noiseFloor(st.level, runs)
	for _, r := range runs {
		s.Speech = append(s.Speech, Span{float64(r.from) / stepsPerSecond, min(float64(r.to)/stepsPerSecond, s.Seconds)})
	}
	return s, nil
}

// How speech is told from other sound. A voice repeats itself with its pitch,
// stands out of the noise in two octaves or more, and neither keeps its level,
// as a buzzer does, nor falls from its first moment, as what is struck does.
// Hiss and released air do not repeat themselves; engine and wind stay below
// or go on for so long that they are the noise. What is not voiced is speech
// only next to a voice.
//
// It is done in four passes over steps of 10 ms. Each octave has a floor, below
// which a tenth of the steps around lie. What stands out of the floors and is
// voiced is surely speech; what is left is noise, and gives each octave the roof
// of its noise. Steps that stand out of the roofs and are voiced make stretches.
// These are widened by the consonants around them and joined to runs.
//
// The figures were chosen on invented signals, with synthetic voices and
// telephone prompts in made noise; they have no source and no meaning outside.
// Levels are in 1/100 dB, lengths in steps.
const (
	window = 500 // to each side of a step, what its noise is judged by
	few    = 50  // steps of noise are too few to judge by

	floorShare = 0.10 // of all steps are below the floor
	roofShare  = 0.92 // of the steps of noise are below its roof
	roofLow    = 150  // roof above floor, at least
	roofUsual  = 400  // and where there is too little noise to know
	roofHigh   = 1200 // and at most
	lowFloor   = -8500

	surely      = 500  // above the floor in two octaves: somebody may be speaking
	surelyAll   = 2400 // and in all octaves together, each counted up to surelyMost
	surelyMost  = 2000
	surelyVoice = 42 // percent
	around      = 30 // before and after that nothing is taken for noise

	likely      = 150 // above the roof in two octaves: so is this
	likelyAll   = 600
	likelyMost  = 1500
	likelyVoice = 35 // percent

	joinVoice  = 30 // voiced steps so near each other are one stretch
	leastVoice = 10 // voiced steps in a stretch
	beside     = 25 // of consonants before a stretch and after it, at most
	closure    = 20 // of the silence before one that ends a word, as in "tight"
	joinSpeech = 25 // runs so near each other are one

	// In poor sound the end of a word is under the noise: this many steps more
	// for every dB that the voice is less than fair above the floor.
	fair     = 2400
	hangMost = 12

	steadyLong  = 25  // a tone that keeps its level for so long
	steadyRange = 250 // to within this
	steadyAbove = 300 // above the floor

	struckLong = 40   // longer is no blow
	struckRise = 1200 // within 4 steps
	struckFall = 1200 // within 10 steps
)

// aloud is how far above the roof of its noise an octave stands that goes with
// a voice. Wind and engine wander most below.
var aloud = [octaves]int{100, 100, 300, 600}

// run is a run of steps; to is the first one after it.
type run struct{ from, to int }

// scene is a recording with what its noise is like.
type scene struct {
	*steps
	floor  [octaves][]int16 // of every hop steps
	roof   [octaves][]int16
	steady []bool
	heard  []int8 // voice of each step in percent, -1 where nobody asked yet
}

func newScene(st *steps) *scene {
	n := len(st.level)
	s := &scene{steps: st, heard: make([]int8, n)}
	for k := range s.heard {
		s.heard[k] = -1
	}
	bins := make([]uint8, n)
	for b, p := range st.power {
		smooth(p)
		binSlow(bins, p)
		s.floor[b] = shares(bins, nil, floorShare)
	}
	smooth(st.total)
	s.markSteady(bins)

	voices := make([]bool, n)
	until := 0
	for k := range n {
		if s.surely(k) {
			for i := max(until, k-around); i < min(n, k+around+1); i++ {
				voices[i] = true
			}
			until = k + around + 1
		}
	}
	for b, p := range st.power {
		for k, v := range p {
			bins[k] = bin(v)
		}
		s.roof[b] = shares(bins, voices, roofShare)
		for i, f := range s.floor[b] {
			r := s.roof[b][i]
			if r == noShare {
				r = f + roofUsual
			}
			s.roof[b][i] = min(f+roofHigh, max(f+roofLow, r))
		}
	}
	return s
}

// surely tells whether somebody speaks at a step, before it is known what the
// noise is like.
func (s *scene) surely(k int) bool {
	count, sum := 0, 0
	for b := range s.power {
		over := int(s.power[b][k]) - int(s.floor[b][k/hop])
		if over > surely {
			count++
		}
		sum += max(0, min(over, surelyMost))
	}
	return count >= 2 && sum > surelyAll && !s.steady[k] && s.voice(k) > surelyVoice
}

// likely tells whether somebody speaks at a step, and whether there is at
// least more than noise. What keeps its level is neither.
func (s *scene) likely(k int) (voice, loud bool) {
	count, sum := 0, 0
	for b := range s.power {
		over := int(s.power[b][k]) - int(s.roof[b][k/hop])
		if over > likely {
			count++
		}
		loud = loud || over > aloud[b]
		sum += max(0, min(over, likelyMost))
	}
	if s.steady[k] {
		return false, false
	}
	return count >= 2 && sum > likelyAll && s.voice(k) > likelyVoice, loud
}

// clear is how far the loudest octave of a step is above its floor.
func (s *scene) clear(k int) int {
	best := 0
	for b := range s.power {
		best = max(best, int(s.power[b][k])-int(s.floor[b][k/hop]))
	}
	return best
}

// speech finds the runs of speech.
func (s *scene) speech() []run {
	n := len(s.level)
	voiced, loud := make([]bool, n), make([]bool, n)
	for k := range n {
		voiced[k], loud[k] = s.likely(k)
	}
	var out []run
	var now run // stretch of voice
	count, clear := 0, 0
	finish := func() {
		if count >= leastVoice && !s.struck(now) {
			out = s.widen(out, now, loud, clear/count)
		}
		count, clear = 0, 0
	}
	for k := range n {
		if !voiced[k] {
			continue
		}
		if count > 0 && k-now.to > joinVoice {
			finish()
		}
		if count == 0 {
			now.from = k
		}
		now.to = k + 1
		count++
		clear += s.clear(k)
	}
	finish()
	return out
}

// widen adds a stretch of voice, with the consonants around it, to the runs of
// speech before it. clear is how far the voice is above the floor.
func (s *scene) widen(out []run, r run, loud []bool, clear int) []run {
	n := len(loud)
	is := func(k int) bool { return k >= 0 && k < n && loud[k] }
	last := r.to + closure
	// What goes on for longer is no consonant but a gust or a beep.
	from, to := r.from, r.to
	for from > 0 && r.from-from <= beside && (is(from-1) || is(from-2)) {
		from--
	}
	for to < n && to-r.to <= beside && (is(to) || is(to+1)) {
		to++
	}
	if r.from-from <= beside {
		r.from = from
	}
	if to-r.to <= beside {
		r.to = to
	}
	for k := r.to + 1; k <= last && k+1 < n; k++ {
		if s.hisses(k) && s.hisses(k+1) {
			r.to = k + 2
		}
	}
	r.to = min(n, r.to+max(0, min(hangMost, (fair-clear)/100)))
	if len(out) > 0 && r.from-out[len(out)-1].to <= joinSpeech {
		out[len(out)-1].to = max(r.to, out[len(out)-1].to)
		return out
	}
	return append(out, r)
}

// hisses tells whether a step has a consonant like s or t, in the upper octaves.
func (s *scene) hisses(k int) bool {
	return !s.steady[k] &&
		(int(s.power[0][k])-int(s.roof[0][k/hop]) > 200 || int(s.power[1][k])-int(s.roof[1][k/hop]) > 300)
}

// markSteady finds the windows in which the sound stands out and keeps its
// level.
func (s *scene) markSteady(bins []uint8) {
	n := len(s.total)
	s.steady = make([]bool, n)
	binSlow(bins, s.total)
	floor := shares(bins, nil, floorShare)
	until := 0
	// A window is steady if none of its steps is far from another. The walk
	// goes on from the last step that is, so that most are looked at once.
	for k := 0; k+steadyLong <= n; {
		lo, hi := s.total[k+steadyLong-1], s.total[k+steadyLong-1]
		i := k + steadyLong - 1
		for ; i >= k; i-- {
			lo, hi = min(lo, s.total[i]), max(hi, s.total[i])
			if hi-lo >= steadyRange {
				break
			}
		}
		if i >= k {
			k = i + 1
			continue
		}
		if lo > floor[k/hop]+steadyAbove {
			// With what smoothing blurs at its ends.
			for i := max(until, k-3); i < min(n, k+steadyLong+3); i++ {
				s.steady[i] = true
			}
			until = k + steadyLong
		}
		k++
	}
}

// struck tells whether a stretch begins all at once and falls at once, as the
// sound of a hammer on a tire or of a door does. No word does both.
func (s *scene) struck(r run) bool {
	if r.to-r.from > struckLong {
		return false
	}
	top := max(0, r.from-3)
	for k := top; k < r.to; k++ {
		if s.total[k] > s.total[top] {
			top = k
		}
	}
	return s.total[top]-s.total[max(0, top-4)] > struckRise &&
		s.total[top]-s.total[min(len(s.total)-1, top+10)] > struckFall
}

// smooth replaces each level by the mean of three.
func smooth(x []int16) {
	if len(x) == 0 {
		return
	}
	last := int(x[0])
	for k := range x {
		next := int(x[min(k+1, len(x)-1)])
		now := int(x[k])
		x[k] = int16((last + now + next) / 3)
		last = now
	}
}

// bin counts half dB from silence. What is beyond 7 dB, which only a signal
// made for it reaches, counts as that.
func bin(v int16) uint8 { return uint8(min(255, (v-100*silence)/50)) }

// binSlow bins the mean of five levels around each.
func binSlow(out []uint8, x []int16) {
	n := len(x)
	at := func(k int) int { return int(x[max(0, min(k, n-1))]) }
	if n == 0 {
		return
	}
	sum := at(-2) + at(-1) + at(0) + at(1)
	for k := range x {
		sum += int(x[min(k+2, n-1)])
		out[k] = bin(int16(sum / 5))
		sum -= int(x[max(k-2, 0)])
	}
}

// hop is how many steps share a floor and a roof.
const hop = 25

// noShare is the share of nothing.
const noShare = -32768

// shares gives for every hop steps the level that a share of the steps around
// it is below, leaving out those to skip; noShare if few are left.
func shares(bins []uint8, skip []bool, share float64) []int16 {
	var hist [256]int32
	out := make([]int16, (len(bins)+hop-1)/hop)
	from, to := 0, 0
	total := int32(0)
	for i := range out {
		middle := i*hop + hop/2
		for end := min(len(bins), middle+window); to < end; to++ {
			if skip == nil || !skip[to] {
				hist[bins[to]]++
				total++
			}
		}
		for ; from < middle-window; from++ {
			if skip == nil || !skip[from] {
				hist[bins[from]]--
				total--
			}
		}
		if skip != nil && total < few {
			out[i] = noShare
			continue
		}
		left := int32(share * float64(total))
		b := 0
		for ; b < len(hist)-1 && left >= hist[b]; b++ {
			left -= hist[b]
		}
		out[i] = max(lowFloor, int16(100*silence+50*b+25))
	}
	return out
}

// voice tells in percent how much the sound around a step repeats itself with
// a period of a voice, 80 to 400 Hz: the correlation of its signs, about
// nothing for noise and near 100 for a clear vowel. Signs need no multiplying
// and do not care how loud it is.
func (s *scene) voice(k int) int {
	if s.heard[k] >= 0 {
		return int(s.heard[k])
	}
	const words, lags = 3, signRate / 80
	const size = words * 64
	if len(s.sign) <= words {
		return 0
	}
	at := k*signStep + signStep/2 - (size+lags)/2
	at = max(0, min(at, (len(s.sign)-words-1)*64))
	sign := s.sign[at/64:]
	shift := uint(at % 64)
	word := func(i int) uint64 {
		v := sign[i] >> shift
		if i+1 < len(sign) {
			v |= sign[i+1] << (64 - shift)
		}
		return v
	}
	x0, x1, x2 := word(0), word(1), word(2)
	y0, y1, y2, y3 := x0, x1, x2, word(3)
	best := size // steps that differ
	for lag := 1; lag <= lags; lag++ {
		y0, y1, y2, y3 = y0>>1|y1<<63, y1>>1|y2<<63, y2>>1|y3<<63, y3>>1
		if lag >= signRate/400 {
			best = min(best, bits.OnesCount64(x0^y0)+bits.OnesCount64(x1^y1)+bits.OnesCount64(x2^y2))
		}
	}
	s.heard[k] = int8(max(0, (size-2*best)*100/size))
	return int(s.heard[k])
}

// noiseFloor is the median level outside speech in dB, or what nine tenths of
// the recording are above if nearly all of it is speech.
func noiseFloor(level []float32, speech []run) float64 {
	var hist [-4 * silence]int // quarters of a dB
	count := 0
	add := func(part []float32) {
		for _, v := range part {
			hist[max(0, min(len(hist)-1, int(4*(v-silence))))]++
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
		share = floorShare
	}
	left := int(share * float64(count))
	for i, c := range hist {
		if left < c {
			return float64(i)/4 + silence
		}
		left -= c
	}
	return silence
}
