package rubric

import (
	"bytes"
	"errors"
	"fmt"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"github.com/goccy/go-yaml"
	"github.com/goccy/go-yaml/ast"
	"github.com/goccy/go-yaml/lexer"
	"github.com/goccy/go-yaml/parser"
	"github.com/goccy/go-yaml/token"
)

// Limits of a file. A score sheet of 2,500 lines is about 100 KB, nests nine
// deep and has at most twenty keys in one mapping.
const (
	MaxBytes  = 1 << 20 // of one file
	maxDepth  = 32      // mappings and lists inside each other
	maxKeys   = 100     // in one mapping
	maxValues = 1 << 17 // read from one file, those behind an alias counted each time
)

// parseYAML gives the one document of a file. The parser recurses for depth
// and for the keys of a mapping, so both are limited before it runs.
func parseYAML(file string, data []byte) (root ast.Node, errs Errors) {
	at := Pos{File: file}
	if len(data) > MaxBytes {
		errs.add(at, "split it into a rubric and overlays", "the file has %d bytes, more than the limit of %d", len(data), MaxBytes)
		return nil, errs
	}
	text := bytes.TrimPrefix(data, []byte("\ufeff"))
	text = bytes.ReplaceAll(text, []byte("\r\n"), []byte("\n"))
	text = bytes.ReplaceAll(text, []byte("\r"), []byte("\n"))
	if checkText(file, text, &errs); len(errs) > 0 {
		return nil, errs
	}
	defer func() {
		if r := recover(); r != nil {
			root, errs = nil, nil
			errs.add(at, "check its indentation, quotes and brackets", "the YAML cannot be read")
		}
	}()
	tokens := lexer.Tokenize(string(text))
	if checkShape(file, tokens, &errs); len(errs) > 0 {
		return nil, errs
	}
	// Duplicate keys are found by the decoder, which goes on after one.
	doc, err := parser.Parse(tokens, 0, parser.AllowDuplicateMapKey())
	if err != nil {
		addYAMLError(file, err, &errs)
		return nil, errs
	}
	for _, d := range doc.Docs {
		switch {
		case d.Body == nil || d.Body.Type() == ast.CommentType:
		case root == nil:
			root = d.Body
		default:
			errs.add(posOf(file, d.Body), "put each into a file of its own", "a second document begins here")
			return nil, errs
		}
	}
	if root == nil {
		errs.add(at, "it must begin with rubric: or overlay:", "the file is empty")
	}
	return root, errs
}

func checkText(file string, text []byte, errs *Errors) {
	line, col := 1, 1
	for i := 0; i < len(text); {
		r, size := utf8.DecodeRune(text[i:])
		pos := Pos{file, line, col}
		switch {
		case r == utf8.RuneError && size == 1:
			errs.add(pos, "save the file as UTF-8", "byte 0x%02x is not UTF-8", text[i])
			return
		case r == '\n':
			line, col = line+1, 0
		case unicode.IsControl(r) && r != '\t' && r != '\u0085':
			errs.add(pos, "delete it", "control character %U", r)
			return
		}
		i += size
		col++
	}
}

// checkShape limits the nesting and the keys of block mappings by the columns
// of list dashes and keys, and the nesting of flow style by its brackets.
func checkShape(file string, tokens token.Tokens, errs *Errors) {
	type level struct {
		column, keys int
		list         bool
	}
	var open []level
	flow, headers := 0, 0
	for i, t := range tokens {
		column, list := 0, false
		switch t.Type {
		case token.DocumentHeaderType:
			if headers++; headers > 1 {
				errs.add(tokenPos(file, t), "put each into a file of its own", "a second document begins here")
				return
			}
		case token.MappingStartType, token.SequenceStartType:
			flow++
		case token.MappingEndType, token.SequenceEndType:
			flow = max(flow-1, 0)
		case token.SequenceEntryType:
			column, list = t.Position.Column, true
		case token.MappingKeyType:
			column = t.Position.Column
		case token.TagType: // each wraps the next
			if i > 0 && tokens[i-1].Type == t.Type {
				errs.add(tokenPos(file, t), "leave them out", "tags follow each other")
				return
			}
		case token.MappingValueType:
			column = t.Position.Column
			if i > 0 && tokens[i-1].Position.Line == t.Position.Line {
				column = tokens[i-1].Position.Column
			}
		}
		if column > 0 && flow == 0 {
			for len(open) > 0 && (open[len(open)-1].column > column || open[len(open)-1].column == column && open[len(open)-1].list && !list) {
				open = open[:len(open)-1]
			}
			if len(open) == 0 || open[len(open)-1].column < column || open[len(open)-1].list != list {
				open = append(open, level{column: column, list: list})
			}
			if top := &open[len(open)-1]; !list {
				if top.keys++; top.keys > maxKeys {
					errs.add(tokenPos(file, t), "check the indentation", "more than %d keys in one mapping", maxKeys)
					return
				}
			}
		}
		if len(open)+flow > maxDepth {
			errs.add(tokenPos(file, t), "check the indentation and brackets", "nested more than %d deep", maxDepth)
			return
		}
	}
}

// addYAMLError puts what the parser says into one line of ours.
func addYAMLError(file string, err error, errs *Errors) {
	pos, msg := Pos{File: file}, ""
	// Error of a yaml.Error prints an excerpt of many lines, in quadratic time.
	if ye, ok := errors.AsType[yaml.Error](err); !ok {
		msg = err.Error()
	} else {
		msg = ye.GetMessage()
		if t := ye.GetToken(); t != nil && t.Position != nil {
			pos = tokenPos(file, t)
		}
	}
	msg = strings.ReplaceAll(msg, "\t", "tab")
	errs.add(pos, "check its indentation, quotes and brackets; text that holds ': ' or ' #' needs quotes",
		"not valid YAML: %s", clip(strings.Join(strings.Fields(msg), " ")))
}

func tokenPos(file string, t *token.Token) Pos {
	if t == nil || t.Position == nil {
		return Pos{File: file}
	}
	return Pos{file, max(t.Position.Line, 1), max(t.Position.Column, 1)}
}

// posOf is where a value begins: its first key, dash, bracket or letter.
func posOf(file string, n ast.Node) Pos {
	switch n := n.(type) {
	case nil:
		return Pos{File: file}
	case *ast.MappingNode:
		if !n.IsFlowStyle && len(n.Values) > 0 {
			return posOf(file, n.Values[0].Key)
		}
		return tokenPos(file, n.Start)
	case *ast.MappingValueNode:
		return posOf(file, n.Key)
	case *ast.SequenceNode:
		return tokenPos(file, n.Start)
	case *ast.LiteralNode:
		return tokenPos(file, n.Start)
	}
	return tokenPos(file, n.GetToken())
}

// place names the value of a key of the object that begins at Pos.
type place struct {
	Pos Pos
	Key string
}

// places are where values stood.
type places map[place]Pos

// at is where the value of a key of the object at pos stood, else pos.
func (p places) at(pos Pos, key string) Pos {
	if at, ok := p[place{pos, key}]; ok {
		return at
	}
	return pos
}

// decoder turns YAML values into the model, collecting every fault of form.
// Faults of meaning are found by check, which asks places where a value stood.
type decoder struct {
	file    string
	key     string // being read, for messages
	errs    Errors
	anchors map[string]ast.Node
	values  int
	places  places
}

func newDecoder(file string) *decoder {
	return &decoder{file: file, anchors: map[string]ast.Node{}, places: places{}}
}

func (d *decoder) fail(n ast.Node, advice, format string, args ...any) {
	d.errs.add(posOf(d.file, n), advice, format, args...)
}

// resolve follows anchors and aliases to the value itself; nil when there is
// none to be had, which it then has reported.
func (d *decoder) resolve(n ast.Node) ast.Node {
	if d.values++; d.values > maxValues {
		if d.values == maxValues+1 {
			d.fail(n, "use fewer aliases", "the file holds more than %d values", maxValues)
		}
		return nil
	}
	for range maxDepth {
		switch v := n.(type) {
		case *ast.AnchorNode:
			if v.Value == nil || v.Name == nil {
				d.fail(n, "write the value out", "an anchor without a value")
				return nil
			}
			d.anchors[v.Name.GetToken().Value] = v.Value
			n = v.Value
		case *ast.AliasNode:
			name := v.Value.GetToken().Value
			target, ok := d.anchors[name]
			if !ok {
				d.fail(n, "put &"+name+" before its first use, or write the value out", "there is no anchor %q", name)
				return nil
			}
			n = target
		case *ast.TagNode:
			d.fail(n, "leave the tag out", "tags such as %s are not used here", clip(v.Start.Value))
			return nil
		case *ast.MappingKeyNode:
			d.fail(n, "write key: value", "keys that begin with ? are not used here")
			return nil
		default:
			return n
		}
	}
	d.fail(n, "write the value out", "an alias that leads to itself")
	return nil
}

// field is a key an object may have and the reader of its value.
type field struct {
	key  string
	read func(ast.Node)
}

// object reads a mapping with no other keys than those of fields and gives its
// place and the keys named, in order.
func (d *decoder) object(n ast.Node, what string, fields ...field) (pos Pos, named []string) {
	pos = posOf(d.file, n)
	v := d.resolve(n)
	if v == nil {
		return pos, nil
	}
	var pairs []*ast.MappingValueNode
	switch v := v.(type) {
	case *ast.MappingNode:
		pairs = v.Values
	case *ast.MappingValueNode:
		pairs = []*ast.MappingValueNode{v}
	default:
		d.fail(n, "write it as key: value; the keys are "+keyNames(fields), "%s must be a mapping, not %s", what, kindOf(v))
		return pos, nil
	}
	outer := d.key
	for _, pair := range pairs {
		name := pair.Key.GetToken().Value
		i := slices.IndexFunc(fields, func(f field) bool { return f.key == name })
		switch {
		case i < 0:
			d.fail(pair.Key, "the keys are "+keyNames(fields), "%s has no key %q", what, clip(name))
		case slices.Contains(named, name):
			d.fail(pair.Key, "keep one", "%s has the key %q twice, first at %s", what, name, d.places[place{pos, name}])
		default:
			named = append(named, name)
			d.places[place{pos, name}] = posOf(d.file, pair.Value)
			d.key = name
			fields[i].read(pair.Value)
		}
	}
	d.key = outer
	return pos, named
}

func keyNames(fields []field) string {
	names := make([]string, len(fields))
	for i, f := range fields {
		names[i] = f.key
	}
	return strings.Join(names, ", ")
}

// list calls read for every element.
func (d *decoder) list(n ast.Node, read func(ast.Node)) {
	switch v := d.resolve(n).(type) {
	case nil:
	case *ast.SequenceNode:
		key := d.key
		for _, e := range v.Values {
			read(e)
			d.key = key
		}
	default:
		d.fail(n, fmt.Sprintf("write it as %s: [one, another] or with one \"- \" a line", d.key), "%s must be a list, not %s", d.key, kindOf(v))
	}
}

// text reads a scalar on one line: runs of white space become one space.
// Numbers are taken as they are written.
func (d *decoder) text(n ast.Node) (string, bool) {
	var s string
	switch v := d.resolve(n).(type) {
	case nil:
		return "", false
	case *ast.StringNode:
		s = v.Value
	case *ast.LiteralNode:
		s = v.Value.Value
	case *ast.IntegerNode, *ast.FloatNode:
		s = v.GetToken().Value
	case *ast.NullNode:
		d.fail(n, "fill it in or leave the key out", "%s is empty", d.key)
		return "", false
	case *ast.BoolNode, *ast.InfinityNode, *ast.NanNode:
		d.fail(n, "if the word itself is meant, put it in quotes", "%s must be text, not %s", d.key, kindOf(v))
		return "", false
	default:
		d.fail(n, fmt.Sprintf("write it as %s: text", d.key), "%s must be text, not %s", d.key, kindOf(v))
		return "", false
	}
	s = strings.Join(strings.Fields(s), " ")
	if i := strings.IndexFunc(s, unicode.IsControl); i >= 0 {
		d.fail(n, "delete it", "%s holds a control character", d.key)
		return "", false
	}
	return s, true
}

func (d *decoder) setText(to *string) func(ast.Node) {
	return func(n ast.Node) {
		if s, ok := d.text(n); ok {
			if s == "" {
				d.fail(n, "fill it in or leave the key out", "%s is empty", d.key)
			}
			*to = s
		}
	}
}

func (d *decoder) setBool(to *bool) func(ast.Node) {
	return func(n ast.Node) {
		switch v := d.resolve(n).(type) {
		case nil:
		case *ast.BoolNode:
			*to = v.Value
		default:
			d.fail(n, "write true or false", "%s must be true or false, not %s", d.key, kindOf(v))
		}
	}
}

// setNumber reads a figure of any form that ParseRational knows.
func (d *decoder) setNumber(to *float64) func(ast.Node) {
	return func(n ast.Node) {
		s, ok := d.text(n)
		if !ok {
			return
		}
		v, err := ParseRational(s)
		if err != nil {
			d.fail(n, "write it as 3 or 0.5", "%s must be a number, not %q", d.key, clip(s))
			return
		}
		*to, _ = v.Float64()
	}
}

func (d *decoder) setSeconds(to *float64) func(ast.Node) {
	return func(n ast.Node) {
		s, ok := d.text(n)
		if !ok {
			return
		}
		v, ok := parseSeconds(s)
		if !ok {
			d.fail(n, "write it as 45 s, 90 min, 1 h 30 min or a number of seconds, at most 24 h", "%s must be a time above zero, not %q", d.key, clip(s))
			return
		}
		*to = v
	}
}

// setTexts reads a list of texts, none of them empty or given twice.
func (d *decoder) setTexts(to *[]string) func(ast.Node) {
	return func(n ast.Node) { d.texts(n, to, false) }
}

// setPhrases reads a list of spoken phrases: texts with a letter or digit.
func (d *decoder) setPhrases(to *[]string) func(ast.Node) {
	return func(n ast.Node) { d.texts(n, to, true) }
}

func (d *decoder) texts(n ast.Node, to *[]string, spoken bool) {
	seen := map[string]bool{}
	key := d.key
	d.list(n, func(e ast.Node) {
		d.key = "each of " + key
		s, ok := d.text(e)
		switch folded := strings.ToLower(s); {
		case !ok:
		case s == "":
			d.fail(e, "fill it in or delete it", "%s has an empty text", key)
		case seen[folded]:
			d.fail(e, "delete one", "%s has %q twice", key, clip(s))
		case spoken && !strings.ContainsFunc(s, func(r rune) bool { return unicode.IsLetter(r) || unicode.IsDigit(r) }):
			d.fail(e, "write it as it is spoken", "%s has the phrase %q without a letter or digit", key, clip(s))
		default:
			seen[folded] = true
			*to = append(*to, s)
		}
	})
}

func kindOf(n ast.Node) string {
	switch n := n.(type) {
	case *ast.MappingNode, *ast.MappingValueNode:
		return "a mapping"
	case *ast.SequenceNode:
		return "a list"
	case *ast.NullNode:
		return "nothing"
	case *ast.BoolNode, *ast.IntegerNode, *ast.FloatNode, *ast.InfinityNode, *ast.NanNode:
		return clip(n.GetToken().Value)
	case *ast.StringNode:
		return fmt.Sprintf("%q", clip(n.Value))
	}
	return "this"
}

// clip keeps a value in a message short.
func clip(s string) string {
	const most = 60
	if utf8.RuneCountInString(s) <= most {
		return s
	}
	return string([]rune(s)[:most-1]) + "…"
}
