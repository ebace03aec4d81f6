package damage

import (
	"slices"
	"strconv"
	"strings"
)

// wordSet makes a set of the words of a list.
func wordSet(list string) map[string]bool {
	set := map[string]bool{}
	for _, w := range strings.Fields(list) {
		set[w] = true
	}
	return set
}

var (
	small = strings.Fields(`zero one two three four five six seven eight nine ten eleven twelve thirteen
		fourteen fifteen sixteen seventeen eighteen nineteen`)
	tens = strings.Fields(`- ten twenty thirty forty fifty sixty seventy eighty ninety`)

	// numberWords take part in numbers, fractions and counts. No damage but a
	// change of spelling touches one, and none comes up where none was said.
	numberWords = wordSet(strings.Join(small, " ") + " " + strings.Join(tens, " ") + ` oh o fourty hundred hundreds
		thousand thousands million billion half halves quarter quarters third thirds fourth fourths fifths sixth sixths
		seventh eighth eighths ninth tenth tenths sixteenth sixteenths twentieth thirtieth second seconds point
		double once twice dozen couple twenties thirties forties fifties sixties seventies eighties nineties
		ones twos threes fours fives sixes sevens eights nines`)

	// negations turn a claim round; see NegationShare.
	negations = wordSet(`no not none never neither nor nothing without nobody nowhere cannot free non nope nah unable`)

	// bounds say which way a figure points. None comes up where none was said.
	bounds = wordSet(`about above below under over least most more less than before between within max maximum
		min minimum exceed exceeds around up down`)

	units = wordSet(`psi pounds pound lbs inch inches foot feet degrees degree seconds second minute minutes mph
		miles rpm rpms volts volt percent p`)

	// functionWords are short and unstressed, and the first to be lost.
	functionWords = wordSet(`the a an of and to is are it its it's in on that at or my i i'm this so there be has
		for with all we they as was were from by you your have also then would will they're there's that's`)

	treadWords = wordSet(`tread treads depth tire tires 32nds groove grooves`)
)

// isNumber reports whether a normalized word is a number or part of one. An
// apostrophe or a unit grown onto it does not hide it.
func isNumber(w string) bool {
	return strings.ContainsAny(w, "0123456789½¼¾⅛") || numberWords[strings.TrimSuffix(w, "'s")]
}

// isNegation reports whether a normalized word denies what it is said of.
func isNegation(w string) bool { return negations[w] || strings.HasSuffix(w, "n't") }

// below100 reads one or two words as a number from 1 to 99.
func below100(w []string) (int, bool) {
	switch len(w) {
	case 1:
		if n := slices.Index(small, w[0]); n > 0 {
			return n, true
		}
		if n := slices.Index(tens, w[0]); n > 1 {
			return 10 * n, true
		}
	case 2:
		t, u := slices.Index(tens, w[0]), slices.Index(small, w[1])
		if t > 1 && u > 0 && u < 10 {
			return 10*t + u, true
		}
	}
	return 0, false
}

// value reads a whole run of words as one number from 1 to 9999, as it is
// commonly spoken: "twenty five", "a hundred and five", "one twenty five",
// "one oh five", "fifteen hundred", "125". False for anything less clear.
func value(w []string) (int, bool) {
	if len(w) == 1 {
		if n, err := strconv.Atoi(w[0]); err == nil {
			return n, n > 0 && n < 10000 && !strings.HasPrefix(w[0], "0")
		}
	}
	if n, ok := below100(w); ok {
		return n, true
	}
	for _, unit := range []struct {
		word  string
		scale int
	}{{"hundred", 100}, {"thousand", 1000}} {
		i, scale := slices.Index(w, unit.word), unit.scale
		if i < 1 {
			continue
		}
		n, ok := below100(w[:i])
		if i == 1 && w[0] == "a" {
			n, ok = 1, true
		}
		rest := w[i+1:]
		if !ok || n*scale >= 10000 || scale == 1000 && len(rest) > 0 {
			return 0, false
		}
		if len(rest) == 0 {
			return n * scale, true
		}
		if rest[0] == "and" {
			rest = rest[1:]
		}
		low, ok := below100(rest)
		return n*scale + low, ok
	}
	if len(w) < 2 {
		return 0, false
	}
	high := slices.Index(small, w[0])
	if high < 1 || high > 9 {
		return 0, false
	}
	if len(w) == 3 && (w[1] == "oh" || w[1] == "o") {
		low := slices.Index(small, w[2])
		return 100*high + low, low > 0 && low < 10
	}
	low, ok := below100(w[1:])
	return 100*high + low, ok && low >= 10
}

// inWords spells 1 to 99.
func inWords(n int) []string {
	switch {
	case n < 20:
		return []string{small[n]}
	case n%10 == 0:
		return []string{tens[n/10]}
	}
	return []string{tens[n/10], small[n%10]}
}

// spellings lists the ways in which recognizers write the number n.
func spellings(n int) [][]string {
	digits := []string{strconv.Itoa(n)}
	switch high, low := n/100, n%100; {
	case n < 100:
		return [][]string{digits, inWords(n)}
	case n%1000 == 0:
		return [][]string{digits, {small[n/1000], "thousand"}}
	case low == 0 && high > 1 && high < 100:
		return [][]string{digits, append(inWords(high), "hundred")}
	case n == 100:
		return [][]string{digits, {"a", "hundred"}, {"one", "hundred"}}
	case n < 1000 && low >= 10:
		return [][]string{
			digits,
			{small[high], strconv.Itoa(low)},
			{strconv.Itoa(high), strconv.Itoa(low)},
			append([]string{small[high]}, inWords(low)...),
			append([]string{small[high], "hundred"}, inWords(low)...),
			append([]string{small[high], "hundred", "and"}, inWords(low)...),
		}
	case n < 1000:
		return [][]string{digits, {small[high], "oh", small[low]}, {small[high], "hundred", small[low]}}
	}
	return [][]string{digits}
}

// thirtySeconds lists the ways in which recognizers write n 32nds, "n thirty
// seconds" in speech. Where tread says that the words around leave no doubt,
// the fraction itself is one.
func thirtySeconds(n int, tread bool) [][]string {
	d := strconv.Itoa(n)
	out := [][]string{
		append(inWords(n), "thirty", "seconds"),
		{d, "thirty", "seconds"},
		{d, "30", "seconds"},
	}
	if n < 10 {
		out = append(out, []string{d + "30", "seconds"})
	}
	if tread {
		out = append(out, []string{d + "/32"}, []string{d, "32nds"})
	}
	return out
}

// respell lists other spellings of a run of number words, the value kept. One
// standing alone is no figure ("this one") unless a unit follows.
func respell(run []string, next string, tread bool) [][]string {
	var out [][]string
	last := len(run) - 1
	num, den, isFraction := strings.Cut(run[0], "/")
	switch {
	case len(run) == 1 && isFraction && den == "32":
		if n, err := strconv.Atoi(num); err == nil && n > 0 && n < 32 {
			out = thirtySeconds(n, true)
		}
	case last > 0 && (run[last] == "seconds" || run[last] == "second"):
		lead := run[:last]
		if lead[len(lead)-1] == "thirty" || lead[len(lead)-1] == "30" {
			if n, ok := value(lead[:len(lead)-1]); ok && n < 32 {
				out = thirtySeconds(n, tread)
				break
			}
		}
		if n, ok := value(lead); ok {
			for _, s := range spellings(n) {
				out = append(out, append(s, run[last]))
			}
		}
	case len(run) == 1 && run[0] == "one" && !units[next]:
	default:
		if n, ok := value(run); ok {
			out = spellings(n)
		}
	}
	return slices.DeleteFunc(out, func(s []string) bool { return slices.Equal(s, run) })
}
