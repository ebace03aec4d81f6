package main

import (
	"fmt"
	"math"
	"strings"
)

// discount is taken off every count of a word sequence seen, for those not seen
// (absolute discounting: Ney, Essen and Kneser 1994; the value is a usual choice).
const discount = 0.7

// A trigram holds counts of sequences of one to three words, joined by spaces.
type trigram struct {
	counts  [4]map[string]int // by length, 1 to 3
	follows [3]map[string][2]int
	total   int
}

// trainTrigram counts the word sequences of sentences, with <s> and </s> round each.
func trainTrigram(sentences [][]string) *trigram {
	t := &trigram{}
	for n := range t.counts {
		t.counts[n] = map[string]int{}
	}
	for n := range t.follows {
		t.follows[n] = map[string][2]int{}
	}
	for _, s := range sentences {
		s = append(append([]string{"<s>"}, s...), "</s>")
		for end := 1; end <= len(s); end++ {
			for n := 1; n <= min(3, end); n++ {
				if n == 1 && s[end-1] == "<s>" {
					continue // never predicted
				}
				t.counts[n][strings.Join(s[end-n:end], " ")]++
			}
		}
	}
	for n := 2; n <= 3; n++ {
		for sequence, c := range t.counts[n] {
			history := sequence[:strings.LastIndexByte(sequence, ' ')]
			f := t.follows[n-1][history]
			t.follows[n-1][history] = [2]int{f[0] + c, f[1] + 1} // tokens, kinds
		}
	}
	for _, c := range t.counts[1] {
		t.total += c
	}
	return t
}

// probability is that of the last word of sequence after the ones before it, with
// interpolation: the mass taken off the seen goes to the shorter history.
func (t *trigram) probability(sequence string) float64 {
	n := strings.Count(sequence, " ") + 1
	if n == 1 {
		return float64(t.counts[1][sequence]) / float64(t.total)
	}
	history, shorter := sequence[:strings.LastIndexByte(sequence, ' ')], sequence[strings.IndexByte(sequence, ' ')+1:]
	seen := math.Max(float64(t.counts[n][sequence])-discount, 0)
	return seen/float64(t.follows[n-1][history][0]) + t.backoff(history)*t.probability(shorter)
}

// backoff is the share of probability that history leaves to words not seen after it.
// The probabilities of the shorter history are scaled by it.
func (t *trigram) backoff(history string) float64 {
	f, ok := t.follows[strings.Count(history, " ")+1][history]
	if !ok {
		return 1
	}
	return discount * float64(f[1]) / float64(f[0])
}

// arpa writes the model in the ARPA form that recognizers read: base ten logarithms of the
// probability, the words, and the backoff weight.
func (t *trigram) arpa() string {
	var b strings.Builder
	b.WriteString("\\data\\\n")
	t.counts[1]["<s>"] = 0 // in the list for its backoff weight
	for n := 1; n <= 3; n++ {
		fmt.Fprintf(&b, "ngram %d=%d\n", n, len(t.counts[n]))
	}
	for n := 1; n <= 3; n++ {
		fmt.Fprintf(&b, "\n\\%d-grams:\n", n)
		for _, sequence := range sortedKeys(t.counts[n]) {
			p := -99.0
			if sequence != "<s>" {
				p = math.Log10(t.probability(sequence))
			}
			fmt.Fprintf(&b, "%.4f %s", p, sequence)
			if n < 3 {
				fmt.Fprintf(&b, " %.4f", math.Log10(t.backoff(sequence)))
			}
			b.WriteByte('\n')
		}
	}
	b.WriteString("\n\\end\\\n")
	return b.String()
}
