package web

import (
	_ "embed"
	"fmt"
	"strings"

	"github.com/goccy/go-yaml"
)

//go:embed text/en.yaml
var english []byte

// catalogue is the text of all pages by key. A text that counts has two forms.
type catalogue map[string]counted

type counted struct{ One, Other string }

// UnmarshalYAML takes a text, or the two forms of one that counts.
func (c *counted) UnmarshalYAML(data []byte) error {
	var forms struct{ One, Other string }
	if err := yaml.Unmarshal(data, &c.Other); err == nil {
		return nil
	}
	if err := yaml.UnmarshalWithOptions(data, &forms, yaml.Strict()); err != nil {
		return err
	}
	c.One, c.Other = forms.One, forms.Other
	return nil
}

func readCatalogue(data []byte) (catalogue, error) {
	var c catalogue
	if err := yaml.Unmarshal(data, &c); err != nil {
		return nil, fmt.Errorf("text: %w", err)
	}
	return c, nil
}

// say is the text of a key with the arguments put in as fmt.Sprintf does. The
// first one, when it is an int, picks the form.
func (c catalogue) say(key string, args ...any) (string, error) {
	text, ok := c[key]
	if !ok {
		return "", fmt.Errorf("no text %q", key)
	}
	form := text.Other
	if len(args) > 0 && text.One != "" {
		if n, ok := args[0].(int); ok && n == 1 {
			form = text.One
		}
	}
	if len(args) == 0 {
		return form, nil
	}
	return fmt.Sprintf(form, args...), nil
}

// under are the texts whose keys begin with the prefix, without it: those of a
// script.
func (c catalogue) under(prefix string) map[string]string {
	out := map[string]string{}
	for key, text := range c {
		if name, ok := strings.CutPrefix(key, prefix); ok {
			out[name] = text.Other
			if text.One != "" {
				out[name+".one"] = text.One
			}
		}
	}
	return out
}
