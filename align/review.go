package align

import (
	"cmp"
	"fmt"
	"maps"
	"runtime"
	"slices"
	"strings"
	"sync"

	"markaround/rubric"
	"markaround/speech"
)

// Review tries a rubric out on itself and gives what will not work as it was
// meant, each with its place: phrases that name nothing, or another part of the
// same section; parts that cannot be told apart; conditions and numbers that no
// phrase of theirs reaches. Each phrase is said alone, after the announcement of
// its section. None of it is a fault; it fails only as New does.
//
// With files, only what stands in one of them is looked at: what a file adds to
// a rubric or changes. It takes about a second for a thousand phrases.
func Review(r *rubric.Rubric, files ...string) (rubric.Errors, error) {
	m, err := New(r)
	if err != nil {
		return nil, err
	}
	v := &review{m: m, files: files}
	var jobs []*trying
	for s := range r.Sections {
		sec := &r.Sections[s]
		announced := map[string]bool{}
		for _, mark := range v.say(announcement(sec)).Items {
			announced[mark.ID] = mark.Mark != rubric.Missed
		}
		for l := range sec.Lines {
			for i := range sec.Lines[l].Items {
				jobs = append(jobs, &trying{review: v, section: sec, item: &sec.Lines[l].Items[i], taken: map[string]int{}, shared: map[string]int{}, announced: announced})
			}
		}
	}
	next := make(chan *trying)
	var wait sync.WaitGroup
	for range runtime.GOMAXPROCS(0) {
		wait.Go(func() {
			for j := range next {
				j.run()
			}
		})
	}
	for _, j := range jobs {
		next <- j
	}
	close(next)
	wait.Wait()
	warnings := alikeNames(jobs)
	for _, j := range jobs {
		warnings = append(warnings, j.warnings...)
	}
	for _, w := range r.Unmeetable() {
		if v.mine(w.Pos) {
			warnings = append(warnings, w)
		}
	}
	slices.SortStableFunc(warnings, func(a, b *rubric.Error) int {
		return cmp.Or(strings.Compare(a.Pos.File, b.Pos.File), cmp.Compare(a.Pos.Line, b.Pos.Line), cmp.Compare(a.Pos.Column, b.Pos.Column))
	})
	return warnings, nil
}

type review struct {
	m     *Matcher
	files []string // to look at; all when empty
}

// mine reports a place in one of the files to look at.
func (v *review) mine(pos rubric.Pos) bool {
	return len(v.files) == 0 || slices.Contains(v.files, pos.File)
}

// trying is one item being tried out.
type trying struct {
	*review
	section   *rubric.Section
	item      *rubric.Item
	taken     map[string]int  // phrases that name another item alone, by that
	shared    map[string]int  // phrases that name another item too, by that
	announced map[string]bool // items that the section's announcement names
	warnings  rubric.Errors
}

func (v *trying) warn(pos rubric.Pos, advice, format string, args ...any) {
	v.warnings = append(v.warnings, &rubric.Error{Pos: pos, Msg: fmt.Sprintf(format, args...), Advice: advice})
}

// say marks sentences said one after the other, a second apart.
func (v *review) say(sentences ...string) *rubric.Sheet {
	t := &speech.Transcript{Name: "review", Format: speech.Text}
	at := 0.0
	for i, s := range sentences {
		words := strings.Fields(s)
		if len(words) == 0 {
			continue
		}
		seg := speech.Segment{Start: at, First: len(t.Words), Cue: i + 1}
		for k, w := range words {
			if k == len(words)-1 {
				w += "."
			}
			t.Words = append(t.Words, speech.Word{Text: w, Start: at, End: at + 0.3, Confidence: -1, Segment: len(t.Segments)})
			at += 0.35
		}
		seg.Last, seg.End = len(t.Words), at
		t.Segments = append(t.Segments, seg)
		at++
	}
	return v.m.Grade(t, Options{})
}

// announcement is how a section is announced, "" when it has no way.
func announcement(sec *rubric.Section) string {
	if len(sec.Say) == 0 {
		return ""
	}
	return sec.Say[0]
}

// run says each of the item's names, then what is said of it.
func (v *trying) run() {
	sec, it := v.section, v.item
	at := v.m.rubric.At(it.Pos, "say")
	if v.mine(at) || v.mine(it.Pos) {
		v.names(at)
	}
	name := v.name()
	if name == "" {
		return // nothing can be said of it then
	}
	for i := range it.Checks {
		c := &it.Checks[i]
		if v.mine(c.Pos) || v.mine(v.m.rubric.At(c.Pos, "good")) || v.mine(v.m.rubric.At(c.Pos, "bad")) {
			v.check(sec, it, name, c)
		}
	}
	for i := range it.Measures {
		m := &it.Measures[i]
		if v.mine(m.Pos) || v.mine(v.m.rubric.At(m.Pos, "min")) || v.mine(v.m.rubric.At(m.Pos, "max")) || v.mine(v.m.rubric.At(m.Pos, "near")) {
			v.measure(sec, it, name, m)
		}
	}
}

// named says a phrase where the item's section was just announced, and gives
// whether it names the item, and which others.
func (v *trying) named(phrase string) (own bool, others []string) {
	for _, mark := range v.say(announcement(v.section), phrase).Items {
		switch {
		case mark.Mark == rubric.Missed:
		case mark.ID == v.item.ID:
			own = true
		case !v.announced[mark.ID]:
			others = append(others, mark.ID)
		}
	}
	return own, others
}

// name is the first phrase that names the item.
func (v *trying) name() string {
	for _, phrase := range v.item.Say {
		if own, _ := v.named(phrase); own {
			return phrase
		}
	}
	return ""
}

// names says each of the item's names.
func (v *trying) names(at rubric.Pos) {
	it := v.item
	var nothing []string
	works := 0
	others := map[string][]string{}
	var order []string
	for _, phrase := range it.Say {
		own, named := v.named(phrase)
		switch {
		case own:
			works++
			for _, other := range named {
				v.shared[other]++
			}
		case len(named) > 0:
			other := named[0]
			if others[other] == nil {
				order = append(order, other)
			}
			others[other] = append(others[other], phrase)
			v.taken[other]++
		default:
			nothing = append(nothing, phrase)
		}
	}
	for _, o := range order {
		v.warn(at, "give it to that one, or make it longer", "%s of item %q %s taken for %s where its section was just announced", quoted(others[o]), it.ID, isAre(others[o]), o)
	}
	switch {
	case works == 0 && len(it.Say) > 0:
		v.warn(at, "add ways to name it that no other item has", "nothing under say names item %q", it.ID)
	case len(nothing) > 0:
		v.warn(at, "leave such words out, or put one with a meaning of its own beside them", "%s of item %q %s nothing", quoted(nothing), it.ID, nameNames(nothing))
	}
}

// mostTries is how many phrases of a check are tried before it is called out
// of reach.
const mostTries = 40

// check says its phrases of the item until one is heard.
func (v *trying) check(sec *rubric.Section, it *rubric.Item, name string, c *rubric.Check) {
	good, bad := v.m.rubric.Phrases(c)
	var ways [][]string
	for _, g := range good {
		ways = append(ways, []string{name + " " + g}, []string{name + " is " + g}, []string{name, g})
	}
	for _, b := range bad {
		ways = append(ways, []string{name + " no " + b}, []string{name + " is not " + b}, []string{name, "it is not " + b})
	}
	for _, way := range ways[:min(len(ways), mostTries*3)] {
		for _, mark := range v.say(append([]string{announcement(sec)}, way...)...).Items {
			if mark.ID != it.ID {
				continue
			}
			for _, cm := range mark.Checks {
				if cm.ID == c.ID && cm.Mark == rubric.Said {
					return
				}
			}
		}
	}
	v.warn(c.Pos, "add a phrase that is no name of a part and no negation", "no phrase reaches check %q of %s: said of %q, none of them is heard", c.ID, it.ID, name)
}

// unitWords say a unit after a figure.
var unitWords = map[string]string{"inch": "inches", "foot": "feet", "degree": "degrees", "second": "seconds", "minute": "minutes", "count": "", "fraction": "", "volt": "volts"}

// measure says its own figures of the item until one is accepted.
func (v *trying) measure(sec *rubric.Section, it *rubric.Item, name string, m *rubric.Measure) {
	unit, ok := unitWords[m.Unit]
	if !ok {
		unit = m.Unit
	}
	ties := append([]string{""}, m.Near...)
	var figures []string
	for _, f := range []string{m.Min, m.Max} {
		if f != "" && !slices.Contains(figures, f) {
			figures = append(figures, f)
		}
	}
	for _, tie := range ties {
		for _, f := range figures {
			for _, bound := range []string{"", "at least", "at most"} {
				figure := strings.Join(strings.Fields(bound+" "+f+" "+unit), " ")
				for _, way := range []string{tie + " " + figure, figure + " " + tie} {
					for _, mark := range v.say(announcement(sec), name+" "+strings.TrimSpace(way)).Items {
						if mark.ID != it.ID {
							continue
						}
						for _, mm := range mark.Measures {
							if mm.ID == m.ID && mm.Mark == rubric.Said {
								return
							}
						}
					}
				}
			}
		}
	}
	v.warn(v.m.rubric.At(m.Pos, "min"), "add words to near: that stand beside it and no other number of the item", "no figure reaches number %q of %s: said of %q, its own figures are not accepted", m.ID, it.ID, name)
}

// alikeNames finds items of whose names half or more name another one too, or
// instead.
func alikeNames(jobs []*trying) (warnings rubric.Errors) {
	byID := map[string]*trying{}
	for _, j := range jobs {
		byID[j.item.ID] = j
	}
	for _, a := range jobs {
		at := a.m.rubric.At(a.item.Pos, "say")
		all := maps.Clone(a.shared)
		for id, n := range a.taken {
			all[id] += n
		}
		for _, id := range slices.Sorted(maps.Keys(all)) {
			b := byID[id]
			if 2*all[id] < len(a.item.Say) {
				continue
			}
			warnings = append(warnings, &rubric.Error{Pos: at, Msg: fmt.Sprintf("item %q is named too much like %q to tell them apart", a.item.ID, id),
				Advice: fmt.Sprintf("give each names of its own; the other is at %s", b.item.Pos)})
		}
	}
	return warnings
}

// quoted is the first few of a list in quotes.
func quoted(list []string) string {
	const most = 3
	out := make([]string, 0, most)
	for _, s := range list[:min(most, len(list))] {
		out = append(out, fmt.Sprintf("%q", s))
	}
	if len(list) > most {
		return strings.Join(out, ", ") + fmt.Sprintf(" and %d more", len(list)-most)
	}
	return strings.Join(out, ", ")
}

func isAre(list []string) string {
	if len(list) == 1 {
		return "is"
	}
	return "are"
}

func nameNames(list []string) string {
	if len(list) == 1 {
		return "names"
	}
	return "name"
}
