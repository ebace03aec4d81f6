package speech

import (
	"html"
	"regexp"
	"strconv"
	"strings"
)

// SubRip has no specification. The reader goes by the timing lines: what is
// between two of them is text, but for the cue number right before a timing
// line. Text that is only a number may be a pressure that was read out, so a
// line of digits counts as a cue number only where one is due.

var (
	// 00:00:01,500 and its looser forms 0:00:1.5, 00:01,500 and 00:00:01.
	srtTime  = `(-?\d{1,4}\s?:\s?\d{1,2}(?:\s?:\s?\d{1,2})?(?:\s?[.,:]\s?\d{1,9})?)`
	srtArrow = `\s*(?:-{1,3}\s*>|[–—]\s*>|→)\s*`

	srtTiming = regexp.MustCompile(`^\s*` + srtTime + srtArrow + srtTime + `(?:\s(.*))?$`)
	srtOpen   = regexp.MustCompile(`^\s*` + srtTime + srtArrow)
	srtPlace  = regexp.MustCompile(`^(?:\s*[A-Za-z]\w*:\S+)*\s*$`) // X1:40, align:start
	srtBad    = regexp.MustCompile(`^\s*-?\d\S*\s*-->|^\s*-->\s*-?\d+[:.,]`)
	digits    = regexp.MustCompile(`^\s*\d{1,9}\s*$`)
)

// srtStamp is a timing line.
type srtStamp struct {
	line       int // index into the lines
	start, end float64
	text       string // words behind the times
	bad        bool   // neither time can be read
}

// hasTimingLine tells whether a line of text is an SRT timing line.
func hasTimingLine(text string) bool {
	for l := range strings.Lines(text) {
		if strings.ContainsAny(l, ">→") && (srtTiming.MatchString(strings.TrimSuffix(l, "\n")) || srtBad.MatchString(l)) {
			return true
		}
	}
	return false
}

func readSRT(s *source) ([]cue, error) {
	lines := strings.Split(s.text, "\n")
	stamps := s.srtStamps(lines)
	if len(stamps) == 0 {
		return nil, s.errorf(0, "a cue needs a line such as 00:00:01,000 --> 00:00:04,000", "no timing line in the SRT file")
	}
	numbered := 0
	for _, t := range stamps {
		if t.line > 0 && digits.MatchString(lines[t.line-1]) {
			numbered++
		}
	}
	usesNumbers := 2*numbered >= len(stamps)

	var cues []cue
	number := 0            // of the cue before, whether written or counted on
	from := 0              // first line not yet used
	var current *srtStamp  // whose text the lines belong to
	take := func(to int) { // lines[from:to] are the text of the current cue
		if current == nil {
			if text := strings.Join(lines[from:to], " "); strings.TrimSpace(text) != "" {
				s.warn(from+1, 0, "lines before the first cue", "text before the first timing line left out: %s", quote(text))
			}
			return
		}
		c := cue{start: current.start, end: current.end, line: current.line + 1, n: len(cues) + 1}
		for _, l := range append([]string{current.text}, lines[from:to]...) {
			c.newLine()
			c.addLabeled(plainMarkup(l))
		}
		if current.bad {
			s.warn(c.line, c.n, "cues with an unreadable time", "unreadable time %s; %s was put after the cue before it", quote(lines[current.line]), quote(c.text()))
		}
		cues = append(cues, c)
	}
	for i := range stamps {
		t := &stamps[i]
		to := t.line
		number++
		if to > from && digits.MatchString(lines[to-1]) {
			n, _ := strconv.Atoi(strings.TrimSpace(lines[to-1]))
			alone := to-1 == from && current == nil || to >= 2 && strings.TrimSpace(lines[to-2]) == ""
			if usesNumbers && (alone || n == number) {
				number = n
				to--
			}
		}
		take(to)
		current = t
		from = t.line + 1
	}
	take(len(lines))
	return cues, nil
}

// srtStamps finds the timing lines. A line with an arrow that does not begin
// like a time is text.
func (s *source) srtStamps(lines []string) []srtStamp {
	var out []srtStamp
	for i, l := range lines {
		if !strings.ContainsAny(l, ">→") {
			continue
		}
		if m := srtTiming.FindStringSubmatch(l); m != nil {
			start, okStart := looseTime(m[1])
			end, okEnd := looseTime(m[2])
			if okStart && okEnd {
				t := srtStamp{line: i, start: start, end: end}
				if !srtPlace.MatchString(m[3]) {
					t.text = m[3]
				}
				out = append(out, t)
				continue
			}
		}
		if m := srtOpen.FindStringSubmatch(l); m != nil && strings.Contains(l, "-->") {
			if start, ok := looseTime(m[1]); ok {
				s.warn(i+1, 0, "cues without a readable end", "no readable end time in %s; it was estimated", quote(l))
				out = append(out, srtStamp{line: i, start: start, end: unknown})
				continue
			}
		}
		if srtBad.MatchString(l) {
			out = append(out, srtStamp{line: i, start: unknown, end: unknown, bad: true})
		}
	}
	return out
}

// looseTime reads h:mm:ss or m:ss with an optional fraction after a point, a
// comma or, behind three other fields, a colon. Digits may be missing. Minutes
// and seconds must be below 60 where a larger unit stands before them.
func looseTime(text string) (float64, bool) {
	text = strings.ReplaceAll(strings.Join(strings.Fields(text), ""), ",", ".")
	sign := 1.0
	if rest, ok := strings.CutPrefix(text, "-"); ok {
		sign, text = -1, rest
	}
	text, fraction, _ := strings.Cut(text, ".")
	fields := strings.Split(text, ":")
	if len(fields) == 4 && fraction == "" {
		fields, fraction = fields[:3], fields[3]
	}
	if len(fields) < 2 || len(fields) > 3 {
		return 0, false
	}
	total := 0.0
	for i, f := range fields {
		n, err := strconv.ParseUint(f, 10, 32)
		if err != nil || i > 0 && n > 59 {
			return 0, false
		}
		total = total*60 + float64(n)
	}
	if fraction != "" {
		f, err := strconv.ParseFloat("0."+fraction, 64)
		if err != nil {
			return 0, false
		}
		total += f
	}
	return sign * total, true
}

var (
	fontTag     = regexp.MustCompile(`(?i)</?(?:i|b|u|s|c|v|em|strong|font|span|ruby|rt|br|p|lang)(?:[\s.][^<>]*)?/?>`)
	overrideTag = regexp.MustCompile(`\{\\[^{}]*\}`)
)

// plainMarkup takes <i>, <font ...> and {\an8} out of a line and resolves
// character references. Other text in angle brackets stays: "<3 psi" is speech.
func plainMarkup(line string) string {
	if strings.Contains(line, "{\\") {
		line = overrideTag.ReplaceAllString(line, "")
	}
	if strings.Contains(line, "<") {
		line = fontTag.ReplaceAllStringFunc(line, func(tag string) string {
			if strings.HasPrefix(strings.ToLower(tag), "<br") {
				return " "
			}
			return ""
		})
	}
	if strings.Contains(line, "\\") {
		line = strings.NewReplacer(`\N`, " ", `\n`, " ", `\h`, " ").Replace(line)
	}
	if strings.Contains(line, "&") {
		line = html.UnescapeString(line)
	}
	return line
}
