package report

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	"markaround/rubric"
)

// Clock writes seconds as m:ss, or h:mm:ss from an hour on, cut down to the
// second so that it never points past the words. Negative and undefined times
// are "-".
func Clock(seconds float64) string {
	if math.IsNaN(seconds) || seconds < 0 || seconds > 1e9 {
		return "-"
	}
	n := int(seconds)
	if n >= 3600 {
		return fmt.Sprintf("%d:%02d:%02d", n/3600, n/60%60, n%60)
	}
	return fmt.Sprintf("%d:%02d", n/60, n%60)
}

// clockUp is Clock up to the next second, for what is over a limit: it never
// reads as within.
func clockUp(seconds float64) string { return Clock(math.Ceil(seconds)) }

// limitTime writes a limit in seconds as "90 min", or by Clock when it is no whole
// number of minutes.
func limitTime(seconds float64) string {
	if seconds > 0 && math.Mod(seconds, 60) == 0 {
		return fmt.Sprintf("%.0f min", seconds/60)
	}
	return Clock(seconds)
}

// usedTime is the time used, by Clock, or clockUp where it is over the limit.
func usedTime(p rubric.Pace) string {
	used := max(0, p.End-p.Start)
	if p.Limit > 0 && used > p.Limit {
		return clockUp(used)
	}
	return Clock(used)
}

// percent writes a share rounded to a tenth, as rubric.Tenths does: 79.96% never
// reads as a full 80%.
func percent(part, of float64) string {
	if of <= 0 {
		return "-"
	}
	return strconv.FormatFloat(rubric.Tenths(part, of), 'f', 1, 64) + "%"
}

// clean drops what could steer a terminal or break a line: control and format
// characters. White space becomes one space.
func clean(s string) string {
	s = strings.Map(func(r rune) rune {
		switch {
		case unicode.IsSpace(r):
			return ' '
		case unicode.IsControl(r), unicode.In(r, unicode.Cf, unicode.Co), r == utf8.RuneError:
			return -1
		}
		return r
	}, s)
	return strings.Join(strings.Fields(s), " ")
}

// Shorten cuts the middle out of s, at word ends where it can, so that it has
// at most width runes.
func Shorten(s string, width int) string {
	const cut = " ... "
	r := []rune(s)
	if len(r) <= width {
		return s
	}
	if width <= len(cut)+2 {
		return string(r[:max(width, 0)])
	}
	room := width - len(cut)
	words := strings.Fields(s)
	take := func(words []string, room int) (n, used int) {
		for _, w := range words {
			size := utf8.RuneCountInString(w)
			if n > 0 {
				size++
			}
			if used+size > room {
				break
			}
			n, used = n+1, used+size
		}
		return n, used
	}
	head, used := take(words, room*2/3)
	rest := slices.Clone(words[head:])
	slices.Reverse(rest)
	tail, _ := take(rest, room-used)
	if head == 0 || tail == 0 { // one long word
		return string(r[:room-room/3]) + cut + string(r[len(r)-room/3:])
	}
	return strings.Join(words[:head], " ") + cut + strings.Join(words[len(words)-tail:], " ")
}

// Wrap breaks s at spaces into lines of at most width runes. A longer word is
// broken.
func Wrap(s string, width int) []string {
	width = max(width, 8)
	var lines []string
	var line string
	for _, w := range strings.Fields(s) {
		for utf8.RuneCountInString(w) > width {
			if line != "" {
				lines, line = append(lines, line), ""
			}
			r := []rune(w)
			lines, w = append(lines, string(r[:width])), string(r[width:])
		}
		switch {
		case line == "":
			line = w
		case utf8.RuneCountInString(line)+1+utf8.RuneCountInString(w) <= width:
			line += " " + w
		default:
			lines, line = append(lines, line), w
		}
	}
	if line != "" {
		lines = append(lines, line)
	}
	return lines
}

// pad fills s with spaces to width runes.
func pad(s string, width int) string {
	return s + strings.Repeat(" ", max(0, width-utf8.RuneCountInString(s)))
}

// Moved says how the transcript's times were moved onto the recording's clock,
// "" when they were not.
func Moved(r *rubric.Recording) string {
	if r == nil || r.Offset == 0 && r.Drift == 0 {
		return ""
	}
	text := fmt.Sprintf("transcript moved by %+.1f s", r.Offset)
	if r.Drift != 0 {
		text += fmt.Sprintf(" and stretched by %+.2f%%", 100*r.Drift)
	}
	return text
}
