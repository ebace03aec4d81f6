package rubric

import "slices"

// NamedSources are the sources that something on the sheet names, in the
// file's order: a sheet that is made from another has the other's list.
func (r *Rubric) NamedSources() []Source {
	texts := []string{r.TimeSource}
	for _, s := range r.Sections {
		for _, l := range s.Lines {
			texts = append(texts, l.Source)
			for _, it := range l.Items {
				for _, m := range it.Measures {
					texts = append(texts, m.Source)
				}
			}
		}
	}
	for _, o := range r.Order {
		texts = append(texts, o.Source)
	}
	for _, h := range r.Holds {
		texts = append(texts, h.Source)
	}
	var out []Source
	for _, s := range r.Sources {
		if slices.ContainsFunc(texts, func(text string) bool { return NamesSource(text, s.Key) }) {
			out = append(out, s)
		}
	}
	return out
}
