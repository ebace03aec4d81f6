package speech

import (
	"html"
	"regexp"
	"strings"
)

// The WebVTT reader follows the parser algorithm of the W3C, "WebVTT: The Web
// Video Text Tracks Format" (w3.org/TR/webvtt1), sections 6.1 (file), 6.3
// (timings) and 6.4 (cue text). Regions, style sheets and cue settings say
// nothing about what was spoken and are passed over.

// vttCue is a cue as the algorithm gives it.
type vttCue struct {
	id         string
	start, end float64
	text       string // payload, lines parted by \n, markup untouched
	line       int    // of the timings, from 1
}

// webVTTSignature tells whether text begins as every WebVTT file must: WEBVTT
// and then its end, a space, a tab or a line end.
func webVTTSignature(text string) bool {
	rest, ok := strings.CutPrefix(text, "WEBVTT")
	return ok && (rest == "" || strings.IndexByte(" \t\n", rest[0]) >= 0)
}

func readWebVTT(s *source) ([]cue, error) {
	raw, ok := s.parseWebVTT()
	if !ok {
		return nil, s.errorf(1, `the first line must begin with WEBVTT`, "not a WebVTT file: it begins with %s", quote(firstLine(s.text)))
	}
	cues := make([]cue, 0, len(raw))
	for i, r := range raw {
		c := cue{start: r.start, end: r.end, line: r.line, n: i + 1}
		s.vttWords(&c, r.text)
		cues = append(cues, c)
	}
	return cues, nil
}

func firstLine(text string) string {
	line, _, _ := strings.Cut(text, "\n")
	return line
}

// parseWebVTT is the file part of the algorithm; false means no signature. A
// cue with bad timings is dropped with a warning, the rest goes on.
func (s *source) parseWebVTT() ([]vttCue, bool) {
	if !webVTTSignature(s.text) {
		return nil, false
	}
	p := &vttParser{source: s, lines: strings.Split(s.text, "\n")}
	// Splitting leaves an empty string after the last line end: no line.
	if n := len(p.lines); p.lines[n-1] == "" {
		p.lines = p.lines[:n-1]
	}
	p.at = 1 // the signature line
	if p.at < len(p.lines) && p.lines[p.at] != "" {
		p.block(true)
	}
	for p.at < len(p.lines) {
		if p.lines[p.at] == "" {
			p.at++
			continue
		}
		p.block(false)
	}
	return p.cues, true
}

type vttParser struct {
	*source
	lines []string
	at    int // next line
	cues  []vttCue
}

// block collects one block: a cue, or a header, note, style or region, which
// give nothing.
func (p *vttParser) block(header bool) {
	var buffer []string
	var c *vttCue
	first := p.at + 1
	arrow, dropped := false, 0
	for n := 1; p.at < len(p.lines); n++ {
		line := p.lines[p.at]
		if strings.Contains(line, "-->") {
			if header || n > 2 || n == 2 && arrow {
				break // the next block begins here
			}
			arrow = true
			p.at++
			start, end, ok := vttTimings(line)
			if !ok {
				dropped = p.at
				continue
			}
			c = &vttCue{id: strings.Join(buffer, "\n"), start: start, end: end, line: p.at}
			buffer, dropped = nil, 0
			continue
		}
		p.at++
		if line == "" {
			break
		}
		buffer = append(buffer, line)
	}
	switch {
	case c != nil:
		c.text = strings.Join(buffer, "\n")
		p.cues = append(p.cues, *c)
	case dropped > 0:
		p.warn(dropped, 0, "cues with unreadable timings", "unreadable timings %s; the cue was left out: %s", quote(p.lines[dropped-1]), quote(strings.Join(buffer, " ")))
	case !header && len(buffer) > 0 && !vttBlock.MatchString(buffer[0]):
		p.warn(first, 0, "blocks without timings", "text without timings was left out: %s", quote(strings.Join(buffer, " ")))
	}
}

var vttBlock = regexp.MustCompile(`^(?:STYLE|REGION)[ \t]*$|^NOTE(?:[ \t]|$)`)

// vttTimings reads a cue's timings line. What follows the end, the settings,
// is not looked at.
func vttTimings(line string) (start, end float64, ok bool) {
	const space = " \t\n\f\r"
	rest := strings.TrimLeft(line, space)
	if start, rest, ok = vttTime(rest); !ok {
		return 0, 0, false
	}
	rest, ok = strings.CutPrefix(strings.TrimLeft(rest, space), "-->")
	if !ok {
		return 0, 0, false
	}
	end, _, ok = vttTime(strings.TrimLeft(rest, space))
	return start, end, ok
}

// vttTime collects a timestamp at the start of text, in seconds, and gives
// what follows it. A first field of other than two digits, or above 59, is
// hours and needs two more fields.
func vttTime(text string) (seconds float64, rest string, ok bool) {
	number := func() (value float64, n int) {
		for n < len(text) && isDigit(text[n]) {
			value = value*10 + float64(text[n]-'0')
			n++
		}
		text = text[n:]
		return value, n
	}
	skip := func(c byte) bool {
		if text == "" || text[0] != c {
			return false
		}
		text = text[1:]
		return true
	}
	first, n := number()
	if n == 0 || !skip(':') {
		return 0, text, false
	}
	hours := n != 2 || first > 59
	second, n := number()
	if n != 2 {
		return 0, text, false
	}
	h, m, sec := 0.0, first, second
	if hours || text != "" && text[0] == ':' {
		if !skip(':') {
			return 0, text, false
		}
		third, n := number()
		if n != 2 {
			return 0, text, false
		}
		h, m, sec = first, second, third
	}
	if !skip('.') {
		return 0, text, false
	}
	milli, n := number()
	if n != 3 || m > 59 || sec > 59 {
		return 0, text, false
	}
	return h*3600 + m*60 + sec + milli/1000, text, true
}

// vttPiece is one token of cue text.
type vttPiece struct {
	kind  vttKind
	text  string // the text, or the voice's name, or the tag as written
	time  float64
	known bool // a tag that the format defines
}

type vttKind uint8

const (
	vttText vttKind = iota
	vttTag
	vttVoice
	vttVoiceEnd
	vttStamp
)

// vttPieces is the tokenizer of the algorithm, reduced to what bears on words:
// text, voices and timestamps.
func vttPieces(text string) []vttPiece {
	var out []vttPiece
	for text != "" {
		i := strings.IndexByte(text, '<')
		if i != 0 {
			if i < 0 {
				i = len(text)
			}
			out = append(out, vttPiece{kind: vttText, text: html.UnescapeString(text[:i])})
			text = text[i:]
			continue
		}
		tag := text[1:]
		if end := strings.IndexByte(tag, '>'); end >= 0 {
			tag, text = tag[:end], tag[end+1:]
		} else {
			text = ""
		}
		out = append(out, vttTagPiece(tag))
	}
	return out
}

var (
	vttName  = regexp.MustCompile(`^/?([a-z]+)(?:[.\s]|$)`)
	vttKnown = map[string]bool{"c": true, "i": true, "b": true, "u": true, "ruby": true, "rt": true, "v": true, "lang": true, "font": true}
)

func vttTagPiece(tag string) vttPiece {
	if tag != "" && isDigit(tag[0]) {
		if t, rest, ok := vttTime(tag); ok && rest == "" {
			return vttPiece{kind: vttStamp, time: t, text: tag}
		}
		return vttPiece{kind: vttTag, text: tag}
	}
	if tag == "" || tag == "/" {
		return vttPiece{kind: vttTag, text: tag, known: true}
	}
	m := vttName.FindStringSubmatch(tag)
	if m == nil || !vttKnown[m[1]] {
		return vttPiece{kind: vttTag, text: tag}
	}
	switch {
	case m[1] == "v" && tag[0] == '/':
		return vttPiece{kind: vttVoiceEnd, known: true}
	case m[1] == "v":
		name := ""
		if i := strings.IndexAny(tag, " \t\n\f"); i >= 0 {
			name = strings.Join(strings.Fields(html.UnescapeString(tag[i:])), " ")
		}
		return vttPiece{kind: vttVoice, text: name, known: true}
	}
	return vttPiece{kind: vttTag, text: tag, known: true}
}

// vttWords fills the cue with the words of its text. A voice is a speaker, a
// timestamp the start of the word after it.
func (s *source) vttWords(c *cue, text string) {
	voices := strings.Contains(text, "<v")
	stamp, last := unknown, c.start
	glued := false // the next text goes on with the word before it
	timed := false
	c.newLine()
	lineStart := true
	for _, p := range vttPieces(text) {
		switch p.kind {
		case vttVoice:
			c.addTurn(p.text)
			glued = false
		case vttVoiceEnd:
			c.addTurn("")
			glued = false
		case vttStamp:
			if p.time < last || c.end > c.start && p.time > c.end {
				s.warn(c.line, c.n, "inline times out of order", "inline time <%s> is not within its cue or not in order; passed over", p.text)
				continue
			}
			stamp, last, timed = p.time, p.time, true
		case vttTag:
			if !p.known {
				s.warn(c.line, c.n, "unknown tags", "unknown markup left out: %s", quote("<"+p.text+">"))
			}
		case vttText:
			for i, line := range strings.Split(p.text, "\n") {
				if i > 0 {
					c.newLine()
					lineStart, glued = true, false
				}
				if lineStart && !voices && strings.TrimSpace(line) != "" {
					if speaker, rest, ok := splitLabel(line); ok {
						c.addTurn(speaker)
						c.carry = true
						line = " " + rest
					}
				}
				fields := strings.Fields(line)
				if len(fields) == 0 {
					glued = glued && line == ""
					continue
				}
				lineStart = false
				spaceBefore := !strings.HasPrefix(line, fields[0])
				for k, f := range fields {
					if k > 0 || !glued || spaceBefore || !c.glue(f) {
						c.words = append(c.words, rawWord{text: f, start: stamp, end: unknown, conf: -1})
					}
					stamp = unknown
				}
				glued = strings.HasSuffix(line, fields[len(fields)-1])
			}
		}
	}
	c.timed = timed
}
