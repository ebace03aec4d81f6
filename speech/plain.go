package speech

import (
	"math"
	"regexp"
	"strconv"
	"strings"
)

// Plain text is a line, or a paragraph, behind a time mark: "[1:05] ...",
// "(0:01:05.5) ...", "1:05 ...", "[00:00:01.000 --> 00:00:03.500] ..." or
// "Student 1:05" with the text on the next line. The end of what a mark begins
// is not known: it is the next mark, or the end of a range, but never later
// than slow speech would take (speakingTime), so that dead air shows.

var (
	markTime  = `(\d{1,3}:\d{2}(?::\d{2})?(?:[.,]\d{1,9})?)`
	markRange = markTime + `(?:\s*(?:-->|->|→|[-–—,]|to)\s*` + markTime + `)?`

	markSeconds = `(\d{1,6}\.\d{1,9}s?|\d{1,6}s)` // "[12.5]" and "[75s]", but not "[2]", a footnote

	bracketMark = regexp.MustCompile(`^[\[({<]\s*` + markRange + `\s*[\])}>]\s*[-–—:|]*\s*`)
	secondsMark = regexp.MustCompile(`^[\[(]\s*` + markSeconds + `(?:\s*(?:-->|->|→|[-–—])\s*` + markSeconds + `)?\s*[\])]\s*[-–—:|]*\s*`)
	bareMark    = regexp.MustCompile(`^` + markRange + `(?:\s*[-–—:|]+\s*|\s+|$)`)
	innerMark   = regexp.MustCompile(`\[\s*` + markRange + `\s*\]`)
	speakerMark = regexp.MustCompile(`(?i)^((?:[-–—*>]+\s*)?\[?\(?` + roleLabel + `\)?\]?)\s*[:,|-]*\s*([\[({]?\s*` + markTime + `\s*[\])}]?)\s*:?\s*`)
)

// nameMark is a speaker's name and a time, well apart, on a line of their own.
var nameMark = regexp.MustCompile(`^(\p{Lu}[\p{L}.'-]*(?: [\p{L}\d.'-]+){0,3})(?:\s{2,}|\t\s*|\s+[\[(])` + markTime + `[\])]?$`)

// mark is a time at the start of a line.
type mark struct {
	start, end float64
	speaker    string
	labeled    bool
	bare       bool // without brackets
	rest       string
}

// lineMark takes a time mark off the start of a line.
func lineMark(line string) (mark, bool) {
	line = strings.TrimSpace(line)
	if line == "" {
		return mark{}, false
	}
	if m := bracketMark.FindStringSubmatch(line); m != nil {
		return newMark(m[1], m[2], line[len(m[0]):])
	}
	if m := secondsMark.FindStringSubmatch(line); m != nil {
		return newMark(m[1], m[2], line[len(m[0]):])
	}
	if isDigit(line[0]) {
		if m := bareMark.FindStringSubmatch(line); m != nil {
			k, ok := newMark(m[1], m[2], line[len(m[0]):])
			k.bare = true
			return k, ok
		}
		return mark{}, false
	}
	if m := speakerMark.FindStringSubmatch(line); m != nil {
		speaker, _, ok := splitLabel(m[1] + ":")
		if !ok {
			return mark{}, false
		}
		k, ok := newMark(m[3], "", line[len(m[0]):])
		k.speaker, k.labeled = speaker, true
		return k, ok
	}
	if m := nameMark.FindStringSubmatch(line); m != nil {
		k, ok := newMark(m[2], "", "")
		k.speaker, k.labeled = m[1], true
		return k, ok
	}
	return mark{}, false
}

// newMark reads the times of a mark; end may be "".
func newMark(start, end, rest string) (mark, bool) {
	k := mark{end: unknown, rest: rest}
	var ok bool
	if k.start, ok = markSecond(start); !ok {
		return mark{}, false
	}
	if end != "" {
		if k.end, ok = markSecond(end); !ok {
			return mark{}, false
		}
	}
	return k, true
}

func markSecond(text string) (float64, bool) {
	if strings.Contains(text, ":") {
		return looseTime(text)
	}
	t, err := strconv.ParseFloat(strings.TrimSuffix(text, "s"), 64)
	return t, err == nil
}

// hasTimeMarks tells whether text is marked with times. A time without
// brackets in the middle of it may be speech, such as a tread depth of 4/32
// written as 4:32, so that one or two alone do not count.
func hasTimeMarks(text string) bool {
	bare, lines := 0, 0
	for _, l := range strings.Split(text, "\n") {
		if strings.TrimSpace(l) == "" {
			continue
		}
		lines++
		k, ok := lineMark(l)
		switch {
		case ok && !k.bare, !ok && hasInnerMark(l):
			return true
		case ok && (lines == 1 || !math.IsNaN(k.end)):
			return true
		case ok:
			bare++
		}
	}
	return bare >= 3
}

func hasInnerMark(line string) bool {
	m := innerMark.FindStringSubmatch(line)
	if m == nil {
		return false
	}
	_, ok := newMark(m[1], m[2], "")
	return ok
}

func readText(s *source) ([]cue, error) {
	if !hasTimeMarks(s.text) {
		return nil, s.noTimes()
	}
	lines := strings.Split(s.text, "\n")
	marks := s.lineMarks(lines)
	var cues []cue
	begin := func(start, end float64, line int) *cue {
		cues = append(cues, cue{start: start, end: end, line: line, n: len(cues) + 1})
		return &cues[len(cues)-1]
	}
	early := ""
	for i, l := range lines {
		if strings.TrimSpace(l) == "" {
			continue
		}
		if k := marks[i]; k != nil {
			c := begin(k.start, k.end, i+1)
			if k.labeled {
				c.addTurn(k.speaker)
				c.carry = true
			}
			l = k.rest
		} else if len(cues) == 0 {
			begin(unknown, unknown, i+1)
			early = l
		}
		for {
			c := &cues[len(cues)-1]
			m := innerMark.FindStringSubmatchIndex(l)
			if m == nil {
				c.addLabeled(plainMarkup(l))
				break
			}
			c.addLabeled(plainMarkup(l[:m[0]]))
			end := ""
			if m[4] >= 0 {
				end = l[m[4]:m[5]]
			}
			k, ok := newMark(l[m[2]:m[3]], end, "")
			if !ok {
				c.addText(plainMarkup(l[m[0]:m[1]]))
			} else {
				speaker := c.lastSpeaker()
				c = begin(k.start, k.end, i+1)
				if speaker != "" {
					c.addTurn(speaker)
				}
			}
			l = l[m[1]:]
		}
	}
	if early != "" {
		s.warn(cues[0].line, 1, "lines before the first mark", "text before the first time mark was put at the start: %s", quote(early))
	}
	return cues, nil
}

func (s *source) noTimes() error {
	return s.errorf(0, `put the time before each line, such as "[1:05] ...", or export SRT, WebVTT or JSON from the speech-to-text`, "no times found in the text")
}

// lineMarks gives the mark of every line, nil where it has none. Where the
// first mark has brackets, times without them are speech; where it has none, a
// time out of line with its neighbors is.
func (s *source) lineMarks(lines []string) []*mark {
	marks := make([]*mark, len(lines))
	var found []int
	for i, l := range lines {
		k, ok := lineMark(l)
		if !ok || k.bare && len(found) > 0 && !marks[found[0]].bare {
			continue
		}
		marks[i] = &k
		found = append(found, i)
	}
	for n := 1; n+1 < len(found); n++ {
		a, b, c := marks[found[n-1]], marks[found[n]], marks[found[n+1]]
		if a == nil || !b.bare || !math.IsNaN(b.end) || b.rest == "" {
			continue
		}
		if a.start <= c.start && (b.start < a.start || b.start > c.start) {
			s.warn(found[n]+1, 0, "times taken for speech", "%s is out of line with the times around it; kept as speech", quote(lines[found[n]]))
			marks[found[n]] = nil
		}
	}
	return marks
}
