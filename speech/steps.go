package speech

import (
	"encoding/binary"
	"fmt"
	"io"
	"math"
)

// stepsPerSecond gives the length of a step, 10 ms, in which sound is measured.
const stepsPerSecond = 100

// Whatever the rate of a recording, speech is looked for at 8,000 samples a
// second, in octaves from 4,000 Hz down to 250 Hz. Below are engine and wind.
const (
	lowRate = 8_000
	octaves = 4
)

// part is how many steps are read and split at a time, 0.64 s: all octaves and
// the 64 bits of a word of signs come out even.
const part = 64

// silence is the level in dB that stands for everything below, down to nothing
// at all.
const silence = -120

// steps is a recording cut down to what speech is told by, 19 bytes for every
// step.
type steps struct {
	level []float32        // dB below a full-scale sine, all frequencies
	power [octaves][]int16 // 1/100 dB, highest octave first
	total []int16          // 1/100 dB of the octaves together
	sign  []uint64         // of the sound between 250 and 2,000 Hz, signRate bits a second, first one lowest
}

const (
	signRate = 4_000
	signStep = signRate / stepsPerSecond
)

// listener turns samples into steps, part by part.
type listener struct {
	w    *wavFile
	out  steps
	mono []float32 // samples of the part, channels averaged, full scale is 1
	pow  []float32 // mean square of the channels; nil for one channel
	x    []float32 // the part at lowRate
	tree [octaves]split
	dc   float64
	high [2]highPass
}

// listen reads all samples of a recording. The memory it takes is that of its
// result and of one part, at most 0.64 s.
func listen(w *wavFile) (*steps, error) {
	d, err := w.decoder()
	if err != nil {
		return nil, err
	}
	l := &listener{w: w, x: make([]float32, lowRate*part/stepsPerSecond)}
	count := int((w.frames()*stepsPerSecond + int64(w.rate) - 1) / int64(w.rate))
	// No more than the file's own size bears out.
	l.out.level = make([]float32, 0, count)
	for b := range l.out.power {
		l.out.power[b] = make([]int16, 0, count)
	}
	l.out.total = make([]int16, 0, count)
	l.out.sign = make([]uint64, 0, (count/part+1)*part*signStep/64)
	// The chunk's reader and not PCMBuffer: that takes 10 ns a sample, more than
	// twice as long as all that is done here. A test holds both against each
	// other.
	raw := make([]byte, w.block()*max(1, (64<<10)/w.block()))
	for k := 0; k < count; k += part {
		first, last := l.frame(k), min(l.frame(k+part), w.frames())
		l.mono, l.pow = l.mono[:0], l.pow[:0]
		quick := false
		for need := int(last - first); need > 0; {
			n := min(need, len(raw)/w.block())
			piece := raw[:n*w.block()]
			if _, err := io.ReadFull(d.PCMChunk, piece); err != nil {
				return nil, w.ioError(fmt.Errorf("at %.1f s: %w", float64(last-int64(need))/float64(w.rate), err))
			}
			if quick = n == int(l.frame(k+part)-first) && l.mono16(piece); !quick {
				l.decode(piece)
			}
			need -= n
		}
		n := min(part, count-k)
		if !quick {
			l.levels(k, n)
			l.resample()
		}
		l.measure(n)
	}
	return &l.out, nil
}

// mono16 does decode, levels and resample in one for a whole part of the usual
// recording, 16 bits of one channel at a multiple of lowRate, and reports
// whether it is one. Those three would take most of the time.
func (l *listener) mono16(raw []byte) bool {
	f := l.w.rate / lowRate
	if l.w.channels != 1 || l.w.width != 2 || f*lowRate != l.w.rate {
		return false
	}
	const size = lowRate / stepsPerSecond
	scale := 1 / float32(f<<15)
	for k := range part {
		in := raw[k*size*f*2:][:size*f*2]
		out := l.x[k*size:][:size]
		var sum, square int64
		if f == 2 {
			for i := range out {
				v := binary.LittleEndian.Uint32(in[4*i:])
				a, b := int64(int16(v)), int64(int32(v)>>16)
				sum += a + b
				square += a*a + b*b
				out[i] = float32(a+b) * scale
			}
		} else {
			for i := range out {
				var group int64
				for ; len(in) >= 2*f*(size-i-1)+2; in = in[2:] {
					a := int64(int16(binary.LittleEndian.Uint16(in)))
					group += a
					square += a * a
				}
				sum += group
				out[i] = float32(group) * scale
			}
		}
		l.addLevel(float64(sum)/(1<<15), float64(square)/(1<<30), size*f)
	}
	return true
}

// frame is the first sample of a step.
func (l *listener) frame(step int) int64 {
	return int64(step) * int64(l.w.rate) / stepsPerSecond
}

// decode adds frames to the part.
func (l *listener) decode(raw []byte) {
	if l.w.channels == 1 {
		l.mono = appendSamples(l.mono, raw, l.w.width)
		return
	}
	// A frame at a time, so that little is kept for many channels.
	var buf [256]float32
	for ; len(raw) > 0; raw = raw[l.w.block():] {
		var sum, square float32
		for at := 0; at < l.w.block(); {
			n := min(l.w.block()-at, 256*l.w.width)
			for _, v := range appendSamples(buf[:0], raw[at:at+n], l.w.width) {
				sum += v
				square += v * v
			}
			at += n
		}
		l.mono = append(l.mono, sum/float32(l.w.channels))
		l.pow = append(l.pow, square/float32(l.w.channels))
	}
}

// appendSamples decodes PCM of width bytes a sample, full scale to 1.
func appendSamples(out []float32, raw []byte, width int) []float32 {
	switch width {
	case 1: // unsigned
		for _, v := range raw {
			out = append(out, (float32(v)-128)/(1<<7))
		}
	case 2:
		for ; len(raw) >= 2; raw = raw[2:] {
			out = append(out, float32(int16(binary.LittleEndian.Uint16(raw)))/(1<<15))
		}
	case 3:
		for ; len(raw) >= 3; raw = raw[3:] {
			v := int32(raw[0])<<8 | int32(raw[1])<<16 | int32(raw[2])<<24
			out = append(out, float32(v)/(1<<31))
		}
	case 4:
		for ; len(raw) >= 4; raw = raw[4:] {
			out = append(out, float32(int32(binary.LittleEndian.Uint32(raw)))/(1<<31))
		}
	}
	return out
}

// measure adds n steps from the part at lowRate.
func (l *listener) measure(n int) {
	if len(l.out.total) == 0 {
		for i := range l.tree {
			l.tree[i].odd = l.x[0]
		}
		for i := range l.high {
			l.high[i].x = l.x[0]
		}
	}
	x := l.x
	var e, sum [part]float32
	for b := range l.tree {
		x = l.tree[b].run(x, &e)
		for i, v := range e[:n] {
			sum[i] += v
			l.out.power[b] = append(l.out.power[b], decibel(v))
		}
		if b == 0 {
			l.signs(x)
		}
	}
	for _, v := range sum[:n] {
		l.out.total = append(l.out.total, decibel(v))
	}
}

// levels measures the loudness of n steps from step k on.
func (l *listener) levels(k, n int) {
	begin := l.frame(k)
	for i := range n {
		from := int(l.frame(k+i) - begin)
		to := min(int(l.frame(k+i+1)-begin), len(l.mono))
		var sum, square float64
		for _, v := range l.mono[from:to] {
			sum += float64(v)
			square += float64(v) * float64(v)
		}
		if len(l.pow) > 0 {
			square = 0
			for _, v := range l.pow[from:to] {
				square += float64(v)
			}
		}
		l.addLevel(sum, square, to-from)
	}
}

// addLevel adds the loudness of a step, given its sums. What is constant in
// the samples is left out: cheap recorders have an offset that would pass for
// noise.
func (l *listener) addLevel(sum, square float64, size int) {
	mean := sum / float64(size)
	// Over about ten seconds: the steps of a loud tone are no whole periods, and
	// a faster mean would carry some of it into the silence after it.
	l.dc += (mean - l.dc) / float64(min(len(l.out.level)+1, 10*stepsPerSecond))
	// A full-scale sine has a mean square of 1/2.
	p := 2 * (square/float64(size) - 2*l.dc*mean + l.dc*l.dc)
	l.out.level = append(l.out.level, float32(max(silence, 10*math.Log10(max(p, 1e-12)))))
}

// resample brings the part to lowRate: every sample is the mean of the sound
// over its eighth of a millisecond. That is no sharp filter; what leaks from
// above 4,000 Hz is mostly the hiss of consonants, which does no harm.
func (l *listener) resample() {
	in := l.mono
	r := float64(l.w.rate) / lowRate
	if f := l.w.rate / lowRate; f*lowRate == l.w.rate {
		scale := 1 / float32(f)
		i := 0
		for ; i < len(l.x) && (i+1)*f <= len(in); i++ {
			var sum float32
			for _, v := range in[i*f : i*f+f] {
				sum += v
			}
			l.x[i] = sum * scale
		}
		l.hold(i)
		return
	}
	// The integral of the samples up to position p, samples being held.
	var whole float64
	at := 0
	integral := func(p float64) float64 {
		n := min(int(p), len(in)-1)
		for ; at < n; at++ {
			whole += float64(in[at])
		}
		return whole + (p-float64(n))*float64(in[n])
	}
	last := 0.0
	for i := range l.x {
		next := integral(float64(i+1) * r)
		l.x[i] = float32((next - last) / r)
		last = next
	}
}

// hold fills the part from i on with the last sample, so that the end of the
// recording makes no click.
func (l *listener) hold(i int) {
	v := l.mono[len(l.mono)-1]
	if i > 0 {
		v = l.x[i-1]
	}
	for ; i < len(l.x); i++ {
		l.x[i] = v
	}
}

// split is one level of a wavelet transform by lifting, the 5/3 of JPEG 2000
// (Le Gall and Tabatabai 1988): it parts a signal into its lower half of
// frequencies and its upper. Its upper half has a double zero at nothing, so
// that the rumble of an engine stays out of it.
type split struct {
	odd, d float32 // last odd sample and last detail of the part before
	s      []float32
}

// run gives the lower half of a part, valid until the next run, and the mean
// square of the upper half of each step.
func (l *split) run(x []float32, e *[part]float32) []float32 {
	if l.s == nil {
		l.s = make([]float32, len(x)/2)
	}
	size := len(l.s) / part
	odd, last := l.odd, l.d
	for k := range e {
		s := l.s[k*size : k*size+size]
		in := x[2*k*size:][:2*len(s)]
		var sum float32
		for i := range s {
			x0, x1 := in[2*i], in[2*i+1]
			d := x0 - 0.5*(odd+x1)
			s[i] = odd + 0.25*(last+d)
			sum += d * d
			odd, last = x1, d
		}
		e[k] = sum / float32(size)
	}
	l.odd, l.d = odd, last
	return l.s
}

// highPass takes away what is below about 250 Hz at signRate: a zero at
// nothing and a pole.
type highPass struct{ x, y float32 }

const highPole = 0.68 // exp(-2π·250/4000)

// signs adds the signs of the part's sound between 250 and 2,000 Hz.
func (l *listener) signs(x []float32) {
	a, b := l.high[0], l.high[1]
	for ; len(x) >= 64; x = x[64:] {
		var word uint64
		for i, v := range x[:64] {
			a.y = v - a.x + highPole*a.y
			a.x = v
			b.y = a.y - b.x + highPole*b.y
			b.x = a.y
			word |= uint64(math.Float32bits(b.y)>>31) << i
		}
		l.out.sign = append(l.out.sign, word)
	}
	l.high = [2]highPass{a, b}
}

// decibel of a mean square, in 1/100 dB.
func decibel(p float32) int16 {
	if p < 1e-12 {
		return 100 * silence
	}
	return int16(1000 * math.Log10(float64(min(p, 1e3))))
}
