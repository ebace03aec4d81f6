package store

import "markaround/rubric"

// Part is a check or number that an item asks for. Those that may be left out
// are none.
type Part struct {
	ID    string `json:"id"`
	Title string `json:"title"`
}

// parts lists what an item asks for, with its marks: a letter each, as in
// Summary.Marks.
func parts(m rubric.ItemMark) (list []Part, marks string) {
	add := func(id, title string, mark rubric.Mark, may bool) {
		if may {
			return
		}
		list = append(list, Part{id, title})
		marks += string(letter(rubric.ItemMark{Mark: mark}))
	}
	for _, c := range m.Checks {
		add(c.ID, c.Title, c.Mark, c.Minor)
	}
	for _, q := range m.Measures {
		add(q.ID, q.Title, q.Mark, q.Optional)
	}
	return list, marks
}

// sectionTitles are the titles of the sections of a sheet, by id.
func sectionTitles(s *rubric.Sheet) map[string]string {
	titles := map[string]string{}
	for _, sec := range s.Sections {
		titles[sec.ID] = sec.Title
	}
	return titles
}

// Marks is the marks of the layout's items in its order: a letter each, s said, p
// partly, w wrong, m missed; a capital one where a person corrected it.
func (s *Summary) Marks() string { return s.marks }
