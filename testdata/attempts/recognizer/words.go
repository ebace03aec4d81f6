package main

import (
	"regexp"
	"strconv"
	"strings"
)

var (
	token    = regexp.MustCompile(`[a-z']+`)
	number   = regexp.MustCompile(`[0-9]+`)
	fraction = regexp.MustCompile(`\b([0-9]+)/([0-9]+)\b`)
	ordinal  = regexp.MustCompile(`\b([0-9]+)(nds?|ths?|rds?|sts?)\b`)
)

// words gives the spoken words of a text: lower case, no punctuation, numbers spelled.
func words(text string) []string {
	var out []string
	for _, w := range token.FindAllString(strings.ToLower(aloud(text)), -1) {
		if w = strings.Trim(w, "'"); w != "" {
			out = append(out, w)
		}
	}
	return out
}

// aloud spells the numbers of a text and leaves all else, so that every voice says the
// same words: espeak-ng reads 4/32 as "four slash thirty two", and 150 in British English
// as "one hundred and fifty".
func aloud(text string) string {
	text = strings.ReplaceAll(text, "’", "'")
	text = fraction.ReplaceAllStringFunc(text, func(s string) string {
		f := fraction.FindStringSubmatch(s)
		return spell(f[1]) + " " + parts(f[2])
	})
	text = ordinal.ReplaceAllStringFunc(text, func(s string) string {
		return parts(ordinal.FindStringSubmatch(s)[1])
	})
	return number.ReplaceAllStringFunc(text, spell)
}

var small = strings.Fields("zero one two three four five six seven eight nine ten eleven twelve thirteen " +
	"fourteen fifteen sixteen seventeen eighteen nineteen")
var tens = strings.Fields("- - twenty thirty forty fifty sixty seventy eighty ninety")

// spell reads a whole number below a thousand aloud; a longer one digit by digit.
func spell(digits string) string {
	n, err := strconv.Atoi(digits)
	switch {
	case err != nil || n >= 1000:
		var each []string
		for _, d := range digits {
			each = append(each, small[d-'0'])
		}
		return strings.Join(each, " ")
	case n < 20:
		return small[n]
	case n < 100 && n%10 == 0:
		return tens[n/10]
	case n < 100:
		return tens[n/10] + " " + small[n%10]
	case n%100 == 0:
		return small[n/100] + " hundred"
	}
	return small[n/100] + " hundred " + spell(strconv.Itoa(n%100))
}

// parts reads the lower number of a fraction aloud.
func parts(digits string) string {
	switch digits {
	case "2":
		return "half"
	case "4":
		return "quarter"
	case "8":
		return "eighth"
	case "16":
		return "sixteenths"
	case "32":
		return "thirty seconds"
	}
	return spell(digits)
}
