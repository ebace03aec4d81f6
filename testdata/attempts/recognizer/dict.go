package main

import (
	"os"
	"sort"
	"strings"
)

// pronounce gives a dictionary in the form of the one at path ("word SOUND SOUND…", further
// pronunciations as "word(2)") for the words of the vocabulary, and which of them it guessed.
func pronounce(path string, vocabulary map[string]bool) (text string, guessed []string, err error) {
	data, err := os.ReadFile(path)
	if err != nil {
		return "", nil, err
	}
	sounds := map[string]string{}
	var out []string
	for _, line := range strings.Split(string(data), "\n") {
		entry, said, ok := strings.Cut(line, " ")
		if !ok {
			continue
		}
		word, _, variant := strings.Cut(entry, "(")
		if !variant {
			sounds[word] = said
		}
		if vocabulary[word] {
			out = append(out, line)
		}
	}
	for _, word := range sortedKeys(vocabulary) {
		if sounds[word] == "" {
			guessed = append(guessed, word)
			out = append(out, word+" "+guess(word, sounds))
		}
	}
	sort.Strings(out)
	return strings.Join(out, "\n") + "\n", guessed, nil
}

// guess makes up a pronunciation: of two known words run together ("kingpin"), of a known
// word and an ending, or else letter by letter.
func guess(word string, sounds map[string]string) string {
	for cut := len(word) - 3; cut >= 3; cut-- {
		a, b := sounds[word[:cut]], sounds[word[cut:]]
		if a != "" && b != "" {
			return a + " " + b
		}
	}
	for _, e := range []struct{ ending, said string }{{"'s", "Z"}, {"s", "Z"}, {"ed", "D"}, {"er", "ER"}, {"in", "IH N"}, {"n", "N"}} {
		if stem, ok := strings.CutSuffix(word, e.ending); ok && sounds[stem] != "" {
			return sounds[stem] + " " + e.said
		}
	}
	var said []string
	for rest := word; rest != ""; {
		n := min(2, len(rest))
		if s := letters[rest[:n]]; n == 2 && s != "" {
			said, rest = append(said, s), rest[2:]
			continue
		}
		if s := letters[rest[:1]]; s != "" {
			said = append(said, s)
		}
		rest = rest[1:]
	}
	if len(said) == 0 {
		return "AH"
	}
	return strings.Join(said, " ")
}

// letters are rough English values of letters and pairs, good enough for a few rare words.
var letters = map[string]string{
	"a": "AE", "b": "B", "c": "K", "d": "D", "e": "EH", "f": "F", "g": "G", "h": "HH", "i": "IH", "j": "JH", "k": "K",
	"l": "L", "m": "M", "n": "N", "o": "AA", "p": "P", "q": "K", "r": "R", "s": "S", "t": "T", "u": "AH", "v": "V",
	"w": "W", "x": "K S", "y": "IY", "z": "Z",
	"ch": "CH", "sh": "SH", "th": "TH", "ph": "F", "ck": "K", "ee": "IY", "ea": "IY", "oo": "UW", "ou": "AW", "ow": "AW",
	"ai": "EY", "ay": "EY", "oa": "OW", "er": "ER", "or": "AO R", "ar": "AA R", "ll": "L", "ss": "S", "tt": "T", "ng": "NG", "qu": "K W",
}
