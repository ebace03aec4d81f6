package school

import (
	"slices"
	"strings"
	"sync"

	"github.com/kljensen/snowball/english"

	"markaround/rubric"
)

// form is how a phrase of the score sheet goes into a sentence.
type form uint8

const (
	aside   form = iota // said by itself between commas
	state               // "is secure"
	doing               // "works"
	denied              // "is not loose"
	without             // "has no cracks"
)

// way is one way to claim a condition.
type way struct {
	form form
	text string
	stem string
}

// mostWays is how many ways to claim a condition are used, the first in the
// score sheet's lists: these are the plain ones, further down stands what single
// people were heard to say.
const mostWays = 14

// mostNames is the same for the names of a part.
const mostNames = 7

// waysOf are the ways to claim a condition, from its phrases: good ones as they
// are, bad ones denied. Where none of them has a form that is known, the first
// good ones are said between commas.
func waysOf(good, bad []string) (out []way) {
	for _, p := range good {
		if f, ok := affirmed(p); ok && len(out) < mostWays {
			out = append(out, way{f, p, stems.of(p)})
		}
	}
	n := 0
	for _, p := range bad {
		if f, ok := deniable(p); ok && n < mostWays {
			out = append(out, way{f, p, stems.of(p)})
			n++
		}
	}
	if len(out) > 0 {
		return out
	}
	for _, p := range good[:min(3, len(good))] {
		out = append(out, way{aside, p, stems.of(p)})
	}
	return out
}

// affirmed tells the form of a good phrase.
func affirmed(p string) (form, bool) {
	w := strings.Fields(p)
	t := talk()
	if len(w) == 0 || len(w) > 4 || slices.Contains(t.Dangling, w[len(w)-1]) {
		return 0, false
	}
	if isVerb(w[0]) {
		return doing, true
	}
	head := w
	if slices.Contains(t.Adverbs, w[0]) && len(w) > 1 {
		head = w[1:]
	}
	switch {
	case slices.Contains(t.Places, w[0]) && len(w) > 1:
		return state, true
	case !isState(head[0]):
		return 0, false
	case len(head) > 1 && !slices.Contains(t.Links, head[1]) && !slices.Contains(t.Places, head[1]):
		return 0, false // "good condition"
	}
	return state, true
}

// deniable tells the form in which a bad phrase is denied.
func deniable(p string) (form, bool) {
	w := strings.Fields(p)
	if len(w) == 0 || len(w) > 2 {
		return 0, false
	}
	last := w[len(w)-1]
	plural := isPlural(last)
	switch {
	case plural && !isVerb(w[0]) && !isVerb(last) && !slices.Contains(talk().Adverbs, w[0]) && !strings.Contains(p, "'"):
		return without, true
	case len(w) == 1 && isState(last):
		return denied, true
	}
	return 0, false
}

func isState(w string) bool {
	return slices.Contains(talk().Adjectives, w) || len(w) > 4 && (strings.HasSuffix(w, "ed") || strings.HasSuffix(w, "ing"))
}

// isVerb reports whether a word is one of the verbs, in either form.
func isVerb(w string) bool {
	return !slices.Contains(talk().Adjectives, w) && (thirdPerson(w) || plainForm(w))
}

func thirdPerson(w string) bool { _, ok := talk().Verbs[w]; return ok }

func plainForm(w string) bool {
	for _, plain := range talk().Verbs { // the order does not matter
		if plain == w {
			return true
		}
	}
	return false
}

// agree puts the verb that a phrase begins with into the number of its subject.
func agree(p string, plural bool) string {
	first, rest, more := strings.Cut(p, " ")
	for third, plain := range talk().Verbs { // at most one fits
		switch {
		case plural && first == third:
			first = plain
		case !plural && first == plain:
			first = third
		default:
			continue
		}
		break
	}
	if more {
		return first + " " + rest
	}
	return first
}

// name is one way to name a part.
type name struct {
	text   string
	plural bool
	action bool // something that is done: "press the pedal"
	clause bool // a sentence of its own: "wheels chocked"
	fixed  bool // takes no article
}

// namesOf are the names of an item that no other item of its section has, those
// that are nouns before all others.
func namesOf(r *rubric.Rubric, o owners, it *rubric.Item) (out []name) {
	var defects []string // "puddles" names the ground under a machine, but to point one out is no praise
	for k := range it.Checks {
		_, bad := r.Phrases(&it.Checks[k])
		for _, p := range bad {
			defects = append(defects, stems.of(p))
		}
	}
	t := talk()
	var actions []name
	for _, p := range it.Say {
		if len(out) == mostNames {
			break
		}
		if o.another(it, p) || within(defects, p) {
			continue
		}
		w := strings.Fields(p)
		n := name{text: p, plural: isPlural(head(w))}
		n.fixed = slices.Contains(t.NamesNot, w[0])
		n.clause = len(w) > 1 && (isState(w[len(w)-1]) && !strings.HasSuffix(w[len(w)-1], "ing") || slices.ContainsFunc(w, func(s string) bool { return slices.Contains(t.Clauses, s) }))
		switch {
		case slices.Contains(t.Actions, w[0]), isVerb(w[0]), slices.Contains(t.Prepositions, w[0]), slices.Contains(t.Subjects, w[0]):
			n.action = true
			actions = append(actions, n)
		default:
			out = append(out, n)
		}
	}
	if len(out) == 0 {
		out = actions[:min(3, len(actions))]
	}
	if len(out) == 0 && len(it.Say) > 0 {
		out = []name{{text: it.Say[0]}}
	}
	return out
}

// head is the noun that a name turns on: the last word before a preposition.
func head(words []string) string {
	for i, w := range words {
		if i > 0 && slices.Contains(talk().Prepositions, w) {
			return words[i-1]
		}
	}
	return words[len(words)-1]
}

func isPlural(w string) bool {
	return strings.HasSuffix(w, "s") && !strings.HasSuffix(w, "ss") && !strings.HasSuffix(w, "us") && !strings.HasSuffix(w, "abs")
}

// within reports whether a phrase has one of a list of stems in it.
func within(list []string, phrase string) bool {
	in := " " + stems.of(phrase) + " "
	return slices.ContainsFunc(list, func(p string) bool { return strings.Contains(in, " "+p+" ") })
}

// placesOf are the ways to announce a section that name none of its parts, all
// of them where none is left.
func placesOf(s *rubric.Section) []string {
	var names []string
	for l := range s.Lines {
		for i := range s.Lines[l].Items {
			for _, p := range s.Lines[l].Items[i].Say {
				names = append(names, stems.of(p))
			}
		}
	}
	out := slices.DeleteFunc(slices.Clone(s.Say), func(p string) bool { return within(names, p) })
	if len(out) == 0 {
		return s.Say
	}
	return out
}

// owners tell which item of a section each name is of; "" for a name of several.
type owners map[string]string

func ownersIn(section *rubric.Section) owners {
	o := owners{}
	for l := range section.Lines {
		for i := range section.Lines[l].Items {
			it := &section.Lines[l].Items[i]
			for _, p := range it.Say {
				if of, there := o[p]; there && of != it.ID {
					o[p] = ""
				} else {
					o[p] = it.ID
				}
			}
		}
	}
	return o
}

// another reports whether a phrase names another item of the section, too or
// instead.
func (o owners) another(it *rubric.Item, phrase string) bool {
	of, there := o[phrase]
	return there && of != it.ID
}

// stemmer remembers the stems of words: finding them is most of the work of
// making a voice, and score sheets share their words.
type stemmer struct {
	sync.Mutex
	known map[string]string
}

var stems = &stemmer{known: map[string]string{}}

// of are the stems of a phrase's words, joined.
func (st *stemmer) of(phrase string) string {
	words := strings.Fields(phrase)
	st.Lock()
	defer st.Unlock()
	for i, w := range words {
		stem, ok := st.known[w]
		if !ok {
			stem = english.Stem(w, true)
			st.known[w] = stem
		}
		words[i] = stem
	}
	return strings.Join(words, " ")
}
