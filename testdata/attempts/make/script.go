package main

import (
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"unicode"
)

// script is one invented attempt as its writer wrote it.
type script struct {
	id       string
	format   string
	pace     float64 // words a minute, pauses not counted
	punct    bool    // false: lower case, no punctuation, cues cut anew
	wordly   bool    // word times in formats where they are optional
	speakers bool    // speaker labels in formats that have them
	lines    []line
}

// line is what one voice says in one breath.
type line struct {
	examiner bool
	pause    float64 // silence before it, seconds
	text     string
}

// readScript reads the file name: comments, a header, "---", then the lines.
func readScript(name string) (*script, error) {
	data, err := os.ReadFile(name)
	if err != nil {
		return nil, err
	}
	s := &script{pace: 150, punct: true, wordly: true}
	inHeader, pause := true, 0.0
	for i, l := range strings.Split(string(data), "\n") {
		l = strings.TrimSpace(l)
		bad := func(msg string) error { return fmt.Errorf("%s:%d: %s: %q", name, i+1, msg, l) }
		switch {
		case l == "" || strings.HasPrefix(l, "#"):
		case inHeader && l == "---":
			inHeader = false
		case inHeader:
			if msg := s.header(l); msg != "" {
				return nil, bad(msg)
			}
		case strings.HasPrefix(l, "(pause "):
			n, err := strconv.ParseFloat(strings.TrimSuffix(l[len("(pause "):], ")"), 64)
			if err != nil || n <= 0 || n > 3600 {
				return nil, bad("pause is not a number of seconds")
			}
			pause += n
		case strings.HasPrefix(l, "S:"), strings.HasPrefix(l, "E:"):
			text := strings.TrimSpace(l[2:])
			if !s.punct {
				text = bare(text)
			}
			if text == "" {
				return nil, bad("line says nothing")
			}
			s.lines = append(s.lines, line{examiner: l[0] == 'E', pause: pause, text: text})
			pause = 0
		default:
			return nil, bad("want S:, E: or (pause SECONDS)")
		}
	}
	switch {
	case s.id != strings.TrimSuffix(filepath.Base(name), ".script"):
		return nil, fmt.Errorf("%s: id %q is not the file's name", name, s.id)
	case formats[s.format].write == nil:
		return nil, fmt.Errorf("%s: unknown format %q", name, s.format)
	case len(s.lines) == 0:
		return nil, fmt.Errorf("%s: no lines after ---", name)
	}
	return s, nil
}

// header takes one "key: value (remark)" line and returns what is wrong with it, or "".
func (s *script) header(l string) string {
	key, value, ok := strings.Cut(l, ":")
	if !ok {
		return "want KEY: VALUE"
	}
	value, _, _ = strings.Cut(value, "(")
	value = strings.TrimSpace(value)
	yesNo := func(p *bool) string {
		if value != "yes" && value != "no" {
			return "want yes or no"
		}
		*p = value == "yes"
		return ""
	}
	switch key {
	case "id":
		s.id = value
	case "format":
		s.format = value
	case "pace":
		n, err := strconv.ParseFloat(value, 64)
		if err != nil || n < 40 || n > 400 {
			return "pace must be 40 to 400 words a minute"
		}
		s.pace = n
	case "punctuation":
		return yesNo(&s.punct)
	case "words":
		return yesNo(&s.wordly)
	case "speakers":
		return yesNo(&s.speakers)
	case "date", "student", "cohort": // for the reader of the script and for the tool's store
	default:
		return "unknown header"
	}
	return ""
}

// bare lowers the case and drops punctuation as recognizers without it do. Slashes and
// points between digits and apostrophes in words stay; hyphens part words.
func bare(text string) string {
	rs := []rune(strings.ToLower(text))
	var b strings.Builder
	for i, r := range rs {
		inside := i > 0 && i < len(rs)-1
		switch {
		case unicode.IsLetter(r), unicode.IsDigit(r), unicode.IsSpace(r), r == '%', r == '+':
			b.WriteRune(r)
		case inside && strings.ContainsRune("/.,:", r) && unicode.IsDigit(rs[i-1]) && unicode.IsDigit(rs[i+1]):
			b.WriteRune(r)
		case inside && (r == '\'' || r == '’') && unicode.IsLetter(rs[i-1]):
			b.WriteRune('\'')
		case r == '-' || r == '–' || r == '—' || r == '/':
			b.WriteRune(' ')
		}
	}
	return strings.Join(strings.Fields(b.String()), " ")
}
