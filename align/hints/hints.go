// Package hints turns a score sheet into what speech recognizers take as a bias:
// words, one line of prompt, phrases with weights, and a language model.
//
// It holds what the sheet listens for and nothing else. Figures are not in it:
// recognizers know number words.
package hints

import (
	"cmp"
	"maps"
	"slices"
	"strings"

	"markaround/align"
	"markaround/rubric"
	"markaround/speech"
)

// Hint is a word or phrase in lower case and how much it is worth: 3 when the
// sheet knows that recognizers write something else for it, 2 when it names a
// part or a place, 1 when it is said of one. The scale is ours; recognizers that
// take weights have scales of their own.
type Hint struct {
	Text   string
	Weight int
}

// said is a text of the sheet: how many came before it in its list, and whether
// it names something.
type said struct {
	text  string
	rank  int
	names bool
}

// texts are all texts that the sheet listens for.
func texts(r *rubric.Rubric) (out []said) {
	add := func(list []string, names bool) {
		for i, s := range list {
			out = append(out, said{spoken(s), i, names})
		}
	}
	for _, s := range r.Sections {
		add(s.Say, true)
		for _, l := range s.Lines {
			add(l.Say, true)
			for i := range l.Items {
				it := &l.Items[i]
				add(it.Say, true)
				for c := range it.Checks {
					good, bad := r.Phrases(&it.Checks[c])
					add(good, false)
					add(bad, false)
				}
				for _, m := range it.Measures {
					add(m.Near, false)
				}
			}
		}
	}
	return slices.DeleteFunc(out, func(s said) bool { return s.text == "" })
}

// spoken is a text in the normal forms of speech, without punctuation.
func spoken(text string) string {
	var words []string
	for _, t := range speech.TokensOf(text) {
		words = append(words, t.Text)
	}
	return strings.Join(words, " ")
}

// hard are the texts for which recognizers write something else, by the
// sheet's own table.
func hard(r *rubric.Rubric) []string {
	var out []string
	for _, h := range r.HeardAs {
		if s := spoken(h.Means); s != "" {
			out = append(out, s)
		}
	}
	return out
}

// finder finds texts inside others as whole words.
type finder map[string][][]string // by the first word

func newFinder(texts []string) finder {
	f := finder{}
	for _, text := range texts {
		words := strings.Fields(text)
		f[words[0]] = append(f[words[0]], words)
	}
	return f
}

// within gives the texts that are in another.
func (f finder) within(text string) (found []string) {
	words := strings.Fields(text)
	for i, w := range words {
		for _, part := range f[w] {
			if len(part) <= len(words)-i && slices.Equal(part, words[i:i+len(part)]) {
				found = append(found, strings.Join(part, " "))
			}
		}
	}
	return found
}

// Phrases are the texts of two words or more with a word that is not everyday,
// and single such words, each once. Those that matter most come first: by weight,
// then the first way to say each part before the second of any.
func Phrases(r *rubric.Rubric) []Hint {
	// A sheet made from another has the other's table too; what it does not say
	// itself is in none of its texts.
	difficult := newFinder(hard(r))
	best := map[string]said{}
	order := map[string]int{}
	var all []string
	for _, s := range texts(r) {
		if !slices.ContainsFunc(strings.Fields(s.text), func(w string) bool { return !align.Everyday(w) }) {
			continue
		}
		old, there := best[s.text]
		if !there {
			order[s.text] = len(all)
			all = append(all, s.text)
			best[s.text] = s
			continue
		}
		best[s.text] = said{s.text, min(old.rank, s.rank), old.names || s.names}
	}
	weight := func(text string) int {
		switch {
		case len(difficult.within(text)) > 0:
			return 3
		case best[text].names:
			return 2
		}
		return 1
	}
	out := make([]Hint, len(all))
	for i, text := range all {
		out[i] = Hint{text, weight(text)}
	}
	slices.SortStableFunc(out, func(a, b Hint) int {
		return cmp.Or(cmp.Compare(b.Weight, a.Weight), cmp.Compare(best[a.Text].rank, best[b.Text].rank), cmp.Compare(order[a.Text], order[b.Text]))
	})
	return out
}

// Words are the words of the sheet that are not everyday, each once with the
// largest weight of a phrase that holds it, 3 only for words of the texts that
// recognizers write otherwise. The weightier come first, then by the alphabet.
func Words(r *rubric.Rubric) []Hint {
	weights := map[string]int{}
	put := func(text string, weight int) {
		for _, w := range strings.Fields(text) {
			if !align.Everyday(w) {
				weights[w] = max(weights[w], weight)
			}
		}
	}
	for _, s := range texts(r) {
		weight := 1
		if s.names {
			weight = 2
		}
		put(s.text, weight)
	}
	for _, text := range hard(r) {
		for _, w := range strings.Fields(text) {
			if weights[w] > 0 {
				weights[w] = 3
			}
		}
	}
	var out []Hint
	for _, w := range slices.Sorted(maps.Keys(weights)) {
		out = append(out, Hint{w, weights[w]})
	}
	slices.SortStableFunc(out, func(a, b Hint) int { return cmp.Compare(b.Weight, a.Weight) })
	return out
}

// Prompt is one line of at most most characters that names the parts as a
// student would: the first way to say each, those on the list before the extra,
// then what recognizers write otherwise. Recognizers that continue a text take
// up its words. Nothing is cut in the middle.
func Prompt(r *rubric.Rubric, most int) string {
	var parts []string
	add := func(text string) {
		if text != "" && !slices.Contains(parts, text) {
			parts = append(parts, text)
		}
	}
	for _, extra := range []bool{false, true} {
		for e := range r.All() {
			if e.Item.Extra == extra && len(e.Item.Say) > 0 {
				add(spoken(e.Item.Say[0]))
			}
		}
		if !extra {
			difficult := hard(r)
			f, there := newFinder(difficult), map[string]bool{}
			for _, t := range texts(r) {
				for _, s := range f.within(t.text) {
					there[s] = true
				}
			}
			for _, s := range difficult {
				if there[s] {
					add(s)
				}
			}
		}
	}
	line := ""
	for _, p := range parts {
		next := line + ", " + p
		if line == "" {
			next = strings.ToUpper(p[:1]) + p[1:]
		}
		if len(next)+1 > most {
			continue // a shorter one may still fit
		}
		line = next
	}
	if line != "" {
		line += "."
	}
	return line
}
