package speech

import (
	"math"
	"math/rand/v2"
)

// Noises of a yard, made anew from a seed at toneRate samples a second. They are
// from memory and measured against no real yard.

const toneRate = 16_000

// noises by name, each n samples long, of a power of about 1 where it is on.
var noises = []struct {
	name string
	make func(r *rand.Rand, n int) []float64
}{
	{"none", func(_ *rand.Rand, n int) []float64 { return make([]float64, n) }},
	{"white", white},
	{"idle", idleNoise},
	{"wind", windNoise},
	{"hiss", hissNoise},
	{"buzzer", buzzerNoise},
	{"beeper", beeperNoise},
}

// wave is one turn of a tone as a table, for math.Sin is slow under the race
// detector.
type wave [4096]float64

// waveOf makes a tone of sines, given their numbers, loudness and phase.
func waveOf(sines ...[3]float64) *wave {
	var w wave
	for i := range w {
		for _, s := range sines {
			w[i] += s[1] * math.Sin(2*math.Pi*(s[0]*float64(i)/float64(len(w))+s[2]))
		}
	}
	return &w
}

// at gives the tone at a phase in turns, at least 0.
func (w *wave) at(turns float64) float64 { return w[int(turns*float64(len(w)))%len(w)] }

// slow is a random walk around 0 of deviation 1 that changes in about so many
// seconds, as a gust does.
func slow(r *rand.Rand, n int, seconds float64) []float64 {
	step := toneRate / 50
	keep := math.Exp(-0.02 / seconds)
	out := make([]float64, n)
	last, next := 0.0, r.NormFloat64()
	for i := range out {
		if i%step == 0 {
			last, next = next, keep*next+math.Sqrt(1-keep*keep)*r.NormFloat64()
		}
		out[i] = last + (next-last)*float64(i%step)/float64(step)
	}
	return out
}

// lowPass leaves what is below a frequency in Hz, falling by 6 dB an octave.
func lowPass(x []float64, hz float64) {
	keep := math.Exp(-2 * math.Pi * hz / toneRate)
	y := 0.0
	for i, v := range x {
		y = keep*y + (1-keep)*v
		x[i] = y
	}
}

// highPass2 takes away what is below a frequency in Hz, falling by 12 dB an
// octave.
func highPass2(x []float64, hz float64) {
	for range 2 {
		low := append([]float64(nil), x...)
		lowPass(low, hz)
		for i := range x {
			x[i] -= low[i]
		}
	}
}

func white(r *rand.Rand, n int) []float64 {
	out := make([]float64, n)
	for i := range out {
		out[i] = r.NormFloat64()
	}
	return out
}

// power is the mean square of the samples that are not 0.
func power(x []float64) float64 {
	sum, n := 0.0, 0.0
	for _, v := range x {
		if v != 0 {
			sum += v * v
			n++
		}
	}
	return sum / max(1, n)
}

func scaled(x []float64, to float64) []float64 {
	by := math.Sqrt(to / max(1e-3, power(x)))
	for i := range x {
		x[i] *= by
	}
	return x
}

// idleNoise is a Diesel engine that idles: harmonics of 12 Hz, half the firing
// rate of six cylinders at some 480 turns a minute, the even ones louder, over
// rumble.
func idleNoise(r *rand.Rand, n int) []float64 {
	const harmonics = 40
	var all [][3]float64
	for h := 1.0; h <= harmonics; h++ {
		level := math.Pow(h, -1.1)
		if math.Mod(h, 2) == 1 {
			level *= 0.5
		}
		all = append(all, [3]float64{h, level, r.Float64()})
	}
	engine := waveOf(all...)
	rumble := white(r, n)
	lowPass(rumble, 120)
	scaled(rumble, 0.5)
	pitch, swell := slow(r, n, 1), slow(r, n, 0.4)
	out := make([]float64, n)
	at := 0.0
	for i := range out {
		at += 12 * (1 + 0.01*pitch[i]) / toneRate
		out[i] = (rumble[i] + engine.at(at)) * (1 + 0.1*swell[i])
	}
	return scaled(out, 1)
}

// windNoise is brown noise, which falls by 6 dB an octave from 40 Hz on, with
// gusts of 5 dB or so either way.
func windNoise(r *rand.Rand, n int) []float64 {
	out, gust := white(r, n), slow(r, n, 1.5)
	lowPass(out, 40)
	for i := range out {
		out[i] *= math.Pow(10, 5*gust[i]/20)
	}
	return scaled(out, 1)
}

// hissNoise is a leak at the compressor, white noise above 2,000 Hz, and every
// nine seconds the air dryer, which blows off twice as loud for half a second
// and dies away.
func hissNoise(r *rand.Rand, n int) []float64 {
	out := white(r, n)
	highPass2(out, 2000)
	for i := range out {
		if t := math.Mod(float64(i)/toneRate, 9) - 5; t > 0 {
			out[i] *= 1 + 2*min(1, t/0.02)*math.Exp(-max(0, t-0.5)/0.3)
		}
	}
	return scaled(out, 1)
}

var pure = waveOf([3]float64{1, 1})

// square is nearly so, up to the 9th harmonic.
var square = waveOf([3]float64{1, 1}, [3]float64{3, 1. / 3}, [3]float64{5, 1. / 5}, [3]float64{7, 1. / 7}, [3]float64{9, 1. / 9})

// buzzerNoise is the low-air buzzer, five seconds on and four off.
func buzzerNoise(_ *rand.Rand, n int) []float64 { return buzz(n, 440, 9, 5) }

// beeperNoise is one that beeps, 0.4 of every second.
func beeperNoise(_ *rand.Rand, n int) []float64 { return buzz(n, 1500, 1, 0.4) }

func buzz(n int, hz, every, on float64) []float64 {
	out := make([]float64, n)
	for i := range out {
		t := float64(i) / toneRate
		if p := math.Mod(t, every); p < on {
			out[i] = square.at(hz*t+0.25) * min(1, p/0.01, (on-p)/0.01)
		}
	}
	return scaled(out, 1)
}
