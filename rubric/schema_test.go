package rubric

import (
	"bytes"
	"encoding/json"
	"strings"
	"testing"

	"github.com/goccy/go-yaml"
	"github.com/santhosh-tekuri/jsonschema/v6"
)

func compileSchema(t testing.TB) *jsonschema.Schema {
	t.Helper()
	doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(Schema))
	if err != nil {
		t.Fatal(err)
	}
	c := jsonschema.NewCompiler()
	if err := c.AddResource("rubric.schema.json", doc); err != nil {
		t.Fatal(err)
	}
	s, err := c.Compile("rubric.schema.json")
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// plainValue is a YAML file as an editor's validator sees it.
func plainValue(data []byte) (any, error) {
	var v any
	if err := yaml.Unmarshal(bytes.TrimPrefix(data, []byte("\ufeff")), &v); err != nil {
		return nil, err
	}
	text, err := json.Marshal(v)
	if err != nil {
		return nil, err
	}
	return jsonschema.UnmarshalJSON(bytes.NewReader(text))
}

// ofMeaning are the invalid files whose faults no schema can see, with the
// fault.
var ofMeaning = map[string]string{
	"base-itself.yaml":          "a circle of files",
	"base-meaning.yaml":         "references into the base",
	"base-missing.yaml":         "no such file",
	"check-bare.yaml":           "checks without phrases, which may come from a condition",
	"details.yaml":              "a kind that no item has",
	"duplicate-ids.yaml":        "ids given twice",
	"order-cycle.yaml":          "a circle of rules",
	"overlay-all-gone.yaml":     "nothing left",
	"overlay-conflict.yaml":     "what another overlay has set",
	"overlay-cycle.yaml":        "a circle of rules",
	"overlay-dangling.yaml":     "references to nothing",
	"overlay-dropped-rule.yaml": "references to what was dropped",
	"overlay-dropped.yaml":      "references to what was dropped",
	"overlay-for.yaml":          "a rubric that it is not for",
	"overlay-item-taken.yaml":   "an id that is taken",
	"overlay-part-gone.yaml":    "references to what was dropped",
	"overlay-taken.yaml":        "ids that are taken",
	"overlay-twice.yaml":        "an overlay put on twice",
	"overlay-unknown.yaml":      "references to nothing",
	"sources.yaml":              "keys that no source has",
}

// The schema and the reader agree: what reads is valid, and what does not is
// invalid, but for faults of meaning.
func TestSchemaAgrees(t *testing.T) {
	s := compileSchema(t)
	for _, f := range testFiles(t, "valid") {
		v, err := plainValue(f.data)
		if err != nil {
			t.Fatal(err)
		}
		if err := s.Validate(v); err != nil {
			t.Errorf("%s reads, but the schema says: %v", f.name, err)
		}
	}
	for id, data := range files().data {
		v, err := plainValue(data)
		if err != nil {
			t.Fatal(err)
		}
		if err := s.Validate(v); err != nil {
			t.Errorf("%s is built in, but the schema says: %v", id, err)
		}
	}
	refused, passed := 0, 0
	for _, f := range testFiles(t, "invalid") {
		v, err := plainValue(f.data)
		if err != nil {
			continue // no YAML at all, for both
		}
		err = s.Validate(v)
		fault, meaning := ofMeaning[f.name]
		switch {
		case err == nil && !meaning:
			t.Errorf("%s does not read, but the schema passes it", f.name)
		case err != nil && meaning:
			t.Errorf("%s is to pass the schema (%s), which says: %v", f.name, fault, err)
		case err == nil:
			passed++
		default:
			refused++
		}
	}
	if refused < 10 || passed < 5 {
		t.Errorf("only %d files refused and %d passed", refused, passed)
	}
}

// Every key that the reader names in its messages is known to the schema, and
// the lists of words are the same.
func TestSchemaKeys(t *testing.T) {
	var doc struct {
		Defs map[string]struct {
			Properties map[string]struct{ Enum []string }
		} `json:"$defs"`
	}
	if err := json.Unmarshal(Schema, &doc); err != nil {
		t.Fatal(err)
	}
	measure := doc.Defs["measure-keys"].Properties
	if got := strings.Join(measure["unit"].Enum, " "); got != strings.Join(Units(), " ") {
		t.Errorf("units are %s", got)
	}
	if got := strings.Join(measure["kind"].Enum, " "); got != strings.Join(Kinds(), " ") {
		t.Errorf("kinds are %s", got)
	}
	known := map[string]bool{}
	for _, d := range doc.Defs {
		for key := range d.Properties {
			known[key] = true
		}
	}
	for _, data := range []string{"rubric: r\nzz: 1\n", "rubric: r\nbase: class-a\nzz: 1\n", "overlay: o\nzz: 1\nsections: [{zz: 1}]\nlines: [{zz: 1}]\nitems: [{zz: 1, checks: [{zz: 1}], measures: [{zz: 1}]}]\n",
		"rubric: r\nsections: [{zz: 1, lines: [{zz: 1, items: [{zz: 1}]}]}]\nsources: [{zz: 1}]\nconditions: [{zz: 1}]\nheard_as: [{zz: 1}]\norder: [{zz: 1}]\nholds: [{zz: 1}]\nagreements: [{zz: 1}]\npass: {zz: 1}\n"} {
		_, err := Read("keys.yaml", []byte(data))
		if strings.HasPrefix(data, "overlay") {
			_, err = ReadOverlay("keys.yaml", []byte(data))
		}
		n := 0
		for _, e := range asErrors(err) {
			keys, ok := strings.CutPrefix(e.Advice, "the keys are ")
			if !ok {
				continue
			}
			n++
			for _, key := range strings.Split(keys, ", ") {
				if !known[key] {
					t.Errorf("%s: the schema does not know %s", e.Msg, key)
				}
			}
		}
		if n == 0 {
			t.Errorf("no keys are named for %q", data)
		}
	}
}
