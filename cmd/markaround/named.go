package main

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"github.com/agnivade/levenshtein"

	"markaround/rubric"
)

// itemName is an item's id and its title, which is what reports print.
type itemName struct{ id, title string }

func (n itemName) String() string { return fmt.Sprintf("%s (%s)", n.id, n.title) }

// names are what a person may call an item: its id, its title, or the last part of
// its id.
func (n itemName) names() [3]string {
	return [3]string{plainName(n.id), plainName(n.title), plainName(n.id[strings.LastIndexByte(n.id, '.')+1:])}
}

func plainName(s string) string { return strings.ToLower(strings.Join(strings.Fields(s), " ")) }

// whichItem finds the item that a person names. Where there is none, or several have
// the name, fault says so in words to follow "the sheet has", and what to give; list
// is the command that lists all items.
func whichItem(items []itemName, given, list string) (id, fault string) {
	want := plainName(given)
	for i := range 3 {
		var found []itemName
		for _, it := range items {
			if it.names()[i] == want {
				found = append(found, it)
			}
		}
		switch {
		case len(found) == 1:
			return found[0].id, ""
		case len(found) > 1:
			return "", fmt.Sprintf("%d items %q; give the id of the one that is meant: %s", len(found), given, join(found))
		}
	}
	fault = fmt.Sprintf("no item %q; ", given)
	if near := nearItems(items, want); len(near) > 0 {
		return "", fault + "near to it: " + join(near)
	}
	return "", fault + list + " lists them"
}

// nearItems are at most three items whose names hold the text or differ in few
// letters, the nearest first.
func nearItems(items []itemName, want string) (near []itemName) {
	if want == "" {
		return nil
	}
	far := map[string]int{}
	few := 1 + len(want)/6 // letters: a slip or two, common practice, no source
	for _, it := range items {
		best := -1
		for _, name := range it.names() {
			d := levenshtein.ComputeDistance(name, want)
			if d > few {
				if !strings.Contains(name, want) {
					continue
				}
				d = few
			}
			if best < 0 || d < best {
				best = d
			}
		}
		if best >= 0 {
			near, far[it.id] = append(near, it), best
		}
	}
	slices.SortStableFunc(near, func(a, b itemName) int { return cmp.Compare(far[a.id], far[b.id]) })
	return near[:min(len(near), 3)]
}

func join(items []itemName) string {
	var list []string
	for _, it := range items {
		list = append(list, it.String())
	}
	return strings.Join(list, ", ")
}

func namesOfRubric(r *rubric.Rubric) (list []itemName) {
	for e := range r.All() {
		list = append(list, itemName{e.Item.ID, e.Item.Title})
	}
	return list
}

func namesOfSheet(s *rubric.Sheet) (list []itemName) {
	for _, it := range s.Items {
		list = append(list, itemName{it.ID, it.Title})
	}
	return list
}
