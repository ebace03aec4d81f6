package rubric

import (
	"iter"
	"slices"
)

// Entry is an item with where it stands. The pointers lead into the rubric.
type Entry struct {
	Section *Section
	Line    *Line
	Item    *Item
}

// All gives every item, in order, with its section and line.
func (r *Rubric) All() iter.Seq[Entry] {
	return func(yield func(Entry) bool) {
		for s := range r.Sections {
			section := &r.Sections[s]
			for l := range section.Lines {
				line := &section.Lines[l]
				for i := range line.Items {
					if !yield(Entry{section, line, &line.Items[i]}) {
						return
					}
				}
			}
		}
	}
}

// Item is the item with a full id (section.part), nil if there is none.
func (r *Rubric) Item(id string) *Item {
	for e := range r.All() {
		if e.Item.ID == id {
			return e.Item
		}
	}
	return nil
}

// Measure is the item's measure with an id, nil if there is none.
func (it *Item) Measure(id string) *Measure {
	for i := range it.Measures {
		if it.Measures[i].ID == id {
			return &it.Measures[i]
		}
	}
	return nil
}

// Shared is the condition that a check names, nil if it is one of its own.
func (r *Rubric) Shared(c *Check) *Condition {
	for i := range r.Conditions {
		if c.Condition != "" && r.Conditions[i].ID == c.Condition {
			return &r.Conditions[i]
		}
	}
	return nil
}

// Phrases are the phrases of a check: those of its shared condition, then its
// own, none twice.
func (r *Rubric) Phrases(c *Check) (good, bad []string) {
	if shared := r.Shared(c); shared != nil {
		good, bad = slices.Clone(shared.Good), slices.Clone(shared.Bad)
	}
	return union(good, c.Good), union(bad, c.Bad)
}

// At is where the value of a key stands of the part at pos ("say" of an item):
// in the file that set it last. It is pos itself for a value that is not there.
func (r *Rubric) At(pos Pos, key string) Pos { return r.places.at(pos, key) }

// Counts are the parts of the rubric; extra items, their checks and their
// measures are counted with the rest.
func (r *Rubric) Counts() (sections, lines, items, checks, measures int) {
	sections = len(r.Sections)
	for _, s := range r.Sections {
		lines += len(s.Lines)
	}
	for e := range r.All() {
		items++
		checks += len(e.Item.Checks)
		measures += len(e.Item.Measures)
	}
	return
}

// Extras is how many of the items are extra.
func (r *Rubric) Extras() (n int) {
	for e := range r.All() {
		if e.Item.Extra {
			n++
		}
	}
	return n
}
