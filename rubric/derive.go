package rubric

import (
	"fmt"
	"path/filepath"
	"slices"

	"github.com/goccy/go-yaml/ast"
)

// A rubric can be made from another one, so that what they share is written
// once: its file names a base, overlays that are put onto it, and then its own
// changes, in the form of an overlay. Its own changes may set what those
// overlays have set.

// finder gives the name and content of a rubric or overlay file that the file
// by names.
type finder func(by, nameOrPath string, overlay bool) (name string, data []byte, err error)

// mostBases is how many rubrics may be made from each other in a row.
const mostBases = 8

// hasKey tells whether a file's mapping names a key.
func hasKey(root ast.Node, key string) bool {
	m, ok := root.(*ast.MappingNode)
	return ok && slices.ContainsFunc(m.Values, func(v *ast.MappingValueNode) bool { return v.Key.GetToken().Value == key })
}

// derived reads a rubric that is made from another. Chain holds the hashes of
// the files that lead here.
func (d *decoder) derived(root ast.Node, data []byte, find finder, chain []string) (*Rubric, error) {
	o := &Overlay{data: data, places: d.places}
	var base string
	var with []string
	fields := append([]field{
		{"rubric", d.setText(&o.ID)},
		{"base", d.setText(&base)},
		{"with", d.setTexts(&with)},
		{"title", d.setText(&o.Title)},
	}, d.changes(o)...)
	o.pos, _ = d.object(root, "a rubric", fields...)
	d.need(o.pos, "the rubric", "rubric", o.ID)
	d.need(o.pos, "the rubric", "title", o.Title)
	d.need(o.pos, "the rubric", "version", o.Version)
	if o.ID != "" && !isName(o.ID, "-") {
		d.errs.add(d.places.at(o.pos, "rubric"), "use lower-case letters, digits and hyphens", "id %q", clip(o.ID))
	}
	d.changesOnce(o)
	if len(d.errs) > 0 {
		return nil, d.errs.err()
	}
	r, err := d.onto(o.pos, base, with, find, append(chain, hash(data)))
	if err != nil {
		return nil, err
	}
	r.Bases = append([]string{r.ID}, r.Bases...)
	r.within = append(r.within, r.With...)
	r.With = nil
	was := r.ID + "." + r.Version
	c := &composer{r: r, own: true, gone: dropped{}}
	if c.apply(o); len(c.errs) > 0 {
		return nil, c.faults(o).err()
	}
	r.set = nil
	r.ID, r.Title, r.Version = o.ID, o.Title, o.Version+"+"+was
	for _, key := range []string{"time_limit", "time_source", "pass"} {
		if at, moved := r.places[place{r.pos, key}]; moved {
			r.places[place{o.pos, key}] = at
		}
	}
	r.pos = o.pos
	return c.finish()
}

// onto loads the base and puts the overlays on it.
func (d *decoder) onto(pos Pos, base string, with []string, find finder, chain []string) (*Rubric, error) {
	at := d.places.at(pos, "base")
	name, data, err := find(d.file, base, false)
	switch {
	case err != nil:
		d.errs.add(at, "name a built-in rubric, or a .yaml file from the folder of this one", "base %q cannot be had: %v", clip(base), err)
		return nil, d.errs.err()
	case slices.Contains(chain, hash(data)):
		d.errs.add(at, "name another base", "the rubric is made from itself, by way of %s", name)
		return nil, d.errs.err()
	case len(chain) > mostBases:
		d.errs.add(at, "name a base closer to the first", "more than %d rubrics are made from each other", mostBases)
		return nil, d.errs.err()
	}
	r, err := readCached(name, data, find, chain)
	if err != nil {
		return nil, err
	}
	if len(with) == 0 {
		return r.clone(), nil
	}
	at = d.places.at(pos, "with")
	var overlays []*Overlay
	for _, w := range with {
		name, data, err := find(d.file, w, true)
		if err != nil {
			d.errs.add(at, "name built-in overlays, or .yaml files from the folder of this one", "overlay %q cannot be had: %v", clip(w), err)
			continue
		}
		o, err := ReadOverlay(name, data)
		if err != nil {
			d.errs = append(d.errs, asErrors(err)...)
			continue
		}
		overlays = append(overlays, o)
	}
	if len(d.errs) > 0 {
		return nil, d.errs.err()
	}
	return Compose(r, overlays...)
}

// embedded finds what comes with the program.
func embedded(_, name string, overlay bool) (string, []byte, error) {
	if isPath(name) {
		return "", nil, fmt.Errorf("it is a file; read this one by its path")
	}
	return open(name, overlay)
}

// anywhere finds embedded files by name, and others by their path from the
// folder of the file that names them.
func anywhere(by, name string, overlay bool) (string, []byte, error) {
	if isPath(name) && !filepath.IsAbs(name) {
		name = filepath.Join(filepath.Dir(by), filepath.FromSlash(name))
	}
	return open(name, overlay)
}
