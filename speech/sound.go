package speech

// Span is a stretch of a recording, in seconds from its start.
type Span struct {
	Start, End float64
}

// Sound is what a recording holds besides words: how loud it is, and where
// somebody speaks. It is small, whatever the recording's length: four bytes for
// every Step seconds.
type Sound struct {
	Name     string    // where it came from, for messages
	Rate     int       // samples a second
	Channels int       // 1 is mono
	Bits     int       // of a sample
	Seconds  float64   // length
	Step     float64   // seconds from one level to the next
	Level    []float32 // loudness of each step, dB below full scale (0 is the loudest sine)
	Floor    float64   // noise floor in the same dB
	Speech   []Span    // where somebody speaks, in order, not touching
	Warnings []Warning // what was repaired or left out while reading
}

// Spoken gives the seconds of speech between two moments.
func (s *Sound) Spoken(start, end float64) float64 {
	var sum float64
	for _, p := range s.Speech {
		if d := min(p.End, end) - max(p.Start, start); d > 0 {
			sum += d
		}
	}
	return sum
}
