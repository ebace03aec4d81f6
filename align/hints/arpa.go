package hints

import (
	"bufio"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"

	"markaround/rubric"
)

// gramsOrder is the length of the longest word sequences that are counted.
const gramsOrder = 3

// Sentence ends, as ARPA files write them.
const (
	begin   = "<s>"
	finish  = "</s>"
	unknown = "<unk>"
)

// model is an n-gram model of a list of sentences with interpolated
// Witten-Bell smoothing: what follows a history is its share among all that
// followed, with as much weight for the shorter history as there were different
// followers. I. Witten and T. Bell, "The zero-frequency problem" (1991), method C;
// S. Chen and J. Goodman, "An empirical study of smoothing techniques for language
// modeling" (1998), section 2.6.
type model struct {
	counts [gramsOrder]map[string]float64            // by n-1: sequences as "a b c"
	after  [gramsOrder]map[string]map[string]float64 // followers of a history of n-1 words
	words  []string                                  // what may follow anything: the words, </s> and <unk>
}

// train counts sentences of words apart by spaces, each with its weight.
func train(sentences []string, weights []float64) *model {
	m := &model{}
	for n := range gramsOrder {
		m.counts[n] = map[string]float64{}
		m.after[n] = map[string]map[string]float64{}
	}
	seen := map[string]bool{}
	for i, s := range sentences {
		words := append(append([]string{begin}, strings.Fields(s)...), finish)
		for at := 1; at < len(words); at++ {
			if w := words[at]; !seen[w] {
				seen[w] = true
				m.words = append(m.words, w)
			}
			for n := 0; n < gramsOrder && n <= at; n++ {
				history := strings.Join(words[at-n:at], " ")
				m.counts[n][strings.Join(words[at-n:at+1], " ")] += weights[i]
				if m.after[n][history] == nil {
					m.after[n][history] = map[string]float64{}
				}
				m.after[n][history][words[at]] += weights[i]
			}
		}
	}
	if !seen[unknown] {
		m.words = append(m.words, unknown)
	}
	slices.Sort(m.words)
	return m
}

// share is the probability of a word after a history of at most two words.
func (m *model) share(history []string, word string) float64 {
	lower := 1 / float64(len(m.words))
	if len(history) > 0 {
		lower = m.share(history[1:], word)
	}
	followers := m.after[len(history)][strings.Join(history, " ")]
	if len(followers) == 0 {
		return lower
	}
	sum := 0.0
	for _, c := range followers {
		sum += c
	}
	kinds := float64(len(followers))
	return (followers[word] + kinds*lower) / (sum + kinds)
}

// backoff is the weight that a history leaves to the shorter one.
func (m *model) backoff(history string) float64 {
	followers := m.after[len(strings.Fields(history))][history]
	if len(followers) == 0 {
		return 1
	}
	sum := 0.0
	for _, c := range followers {
		sum += c
	}
	return float64(len(followers)) / (sum + float64(len(followers)))
}

// ARPA writes a trigram model of the sheet's phrases in the ARPA form (base 10
// logarithms, with backoff weights), for recognizers to mix with their own. Each
// phrase is a sentence and counts by its weight. It knows no numbers and little of
// how sentences are joined: alone it is too narrow for a whole recording.
func ARPA(w io.Writer, r *rubric.Rubric) error {
	var sentences []string
	var weights []float64
	for _, h := range Phrases(r) {
		sentences = append(sentences, h.Text)
		weights = append(weights, float64(h.Weight))
	}
	return train(sentences, weights).write(w)
}

func (m *model) write(w io.Writer) error {
	b := bufio.NewWriter(w)
	grams := [gramsOrder][]string{0: append([]string{begin}, m.words...)}
	slices.Sort(grams[0])
	for n := 1; n < gramsOrder; n++ {
		for g := range m.counts[n] {
			grams[n] = append(grams[n], g)
		}
		slices.Sort(grams[n])
	}
	fmt.Fprintf(b, "\\data\\\n")
	for n, list := range grams {
		fmt.Fprintf(b, "ngram %d=%d\n", n+1, len(list))
	}
	for n, list := range grams {
		fmt.Fprintf(b, "\n\\%d-grams:\n", n+1)
		for _, g := range list {
			words := strings.Fields(g)
			p := -99.0 // <s> is never said
			if g != begin {
				p = math.Log10(m.share(words[:n], words[n]))
			}
			fmt.Fprintf(b, "%.6f\t%s", p, g)
			if n+1 < gramsOrder && words[n] != finish && words[n] != unknown {
				fmt.Fprintf(b, "\t%.6f", math.Log10(m.backoff(g)))
			}
			fmt.Fprintln(b)
		}
	}
	fmt.Fprintf(b, "\n\\end\\\n")
	return b.Flush()
}
