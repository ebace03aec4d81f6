package main

import (
	"hash/fnv"
	"math"
	"math/rand/v2"
	"strings"
)

// word is one spoken word with its times in seconds.
type word struct {
	text       string
	start, end float64
	conf       float64 // 0..1
	examiner   bool
	line       int // index of the script's line it belongs to
}

// segment is a run of words that a recognizer would write as one piece.
type segment []word

func (g segment) start() float64 { return g[0].start }
func (g segment) end() float64   { return g[len(g)-1].end }
func (g segment) text() string {
	parts := make([]string, len(g))
	for i, w := range g {
		parts[i] = w.text
	}
	return strings.Join(parts, " ")
}

func random(s *script, use string) *rand.Rand {
	h := fnv.New64a()
	h.Write([]byte(s.id + "/" + use))
	return rand.New(rand.NewPCG(h.Sum64(), 1))
}

// speechShare is the part of the time in which words sound; the rest is breath between lines.
const speechShare = 0.84

// speak gives every word its times. Long words last longer; the whole keeps near the
// script's pace, pauses apart.
func speak(s *script) []word {
	rng := random(s, "times")
	jitter := func(by float64) float64 { return 1 + by*(2*rng.Float64()-1) }
	slot := 60 / s.pace
	var words []word
	at := 0.6 + 1.5*rng.Float64()
	for i, l := range s.lines {
		at += l.pause
		texts := strings.Fields(l.text)
		for _, t := range texts {
			d := slot * speechShare * (0.35 + 0.65*float64(len(t))/4.3) * jitter(0.15)
			d = math.Min(math.Max(d, 0.06), 1.6)
			words = append(words, word{text: t, start: hundredth(at), end: hundredth(at + 0.92*d),
				conf: confidence(rng, t), examiner: l.examiner, line: i})
			at += d
		}
		at += math.Max(0.08, slot*(1-speechShare)*float64(len(texts))*jitter(0.7))
	}
	return words
}

// confidence is high for most words and low for a few, more often short ones.
func confidence(rng *rand.Rand, t string) float64 {
	c := 1 - 0.08*rng.ExpFloat64()
	if len(t) <= 3 {
		c -= 0.1 * rng.Float64()
	}
	return math.Round(math.Max(c, 0.31)*1000) / 1000
}

func hundredth(x float64) float64 { return math.Round(x*100) / 100 }

// byLine keeps the script's lines.
func byLine(words []word) []segment {
	return cut(words, func(g segment, w word) bool { return w.line != g[0].line })
}

// recut cuts every 8 to 16 words wherever that falls, and at silences above 2 s; where
// voices are labeled, also where the voice changes.
func recut(s *script, words []word) []segment {
	rng := random(s, "cuts")
	most := 8 + rng.IntN(9)
	return cut(words, func(g segment, w word) bool {
		if len(g) < most && w.start-g.end() < 2 && !(s.speakers && w.examiner != g[0].examiner) {
			return false
		}
		most = 8 + rng.IntN(9)
		return true
	})
}

// utterances cuts at silences above 1.2 s, and at the first breath after 25 to 60 words.
func utterances(s *script, words []word) []segment {
	rng := random(s, "utterances")
	most := 25 + rng.IntN(36)
	return cut(words, func(g segment, w word) bool {
		last := g[len(g)-1]
		if w.start-last.end < 1.2 && (len(g) < most || w.line == last.line) {
			return false
		}
		most = 25 + rng.IntN(36)
		return true
	})
}

// cues are the segments of the formats written in cues.
func cues(s *script, words []word) []segment {
	if s.punct {
		return byLine(words)
	}
	return recut(s, words)
}

func cut(words []word, before func(g segment, w word) bool) []segment {
	var out []segment
	from := 0
	for i := 1; i <= len(words); i++ {
		if i == len(words) || before(words[from:i], words[i]) {
			out = append(out, words[from:i])
			from = i
		}
	}
	return out
}
