package align

import "strings"

// Sound gives a code of how an English word sounds, so that "brake" and
// "break" or "tire" and "tyre" compare equal. It follows the rules of the
// Metaphone algorithm (Lawrence Philips, "Hanging on the Metaphone", Computer
// Language 7(12), 1990): vowels are kept only at the start, "0" stands for th
// and "X" for sh. Anything but the letters a to z is passed over; a word
// without letters has the empty code.
func Sound(word string) string { return string(soundOf(word, false)) }

// soundOf makes the code of a word; with vowels, every run of them is an "a" in
// its place, for comparing sound by sound.
func soundOf(word string, vowels bool) []byte {
	var letters [32]byte
	w := letters[:0]
	for i := 0; i < len(word) && len(w) < len(letters); i++ {
		c := word[i]
		if 'A' <= c && c <= 'Z' {
			c += 'a' - 'A'
		}
		// Doubled letters sound once, but for cc ("accident").
		if c < 'a' || c > 'z' || c != 'c' && len(w) > 0 && w[len(w)-1] == c {
			continue
		}
		w = append(w, c)
	}
	n := len(w)
	at := func(i int) byte {
		if i < 0 || i >= n {
			return 0
		}
		return w[i]
	}
	vowel := func(c byte) bool { return c != 0 && strings.IndexByte("aeiou", c) >= 0 }
	front := func(c byte) bool { return c == 'e' || c == 'i' || c == 'y' }

	out := make([]byte, 0, n)
	i := 0
	switch {
	case at(1) == 'n' && (at(0) == 'k' || at(0) == 'g' || at(0) == 'p'), at(0) == 'a' && at(1) == 'e', at(0) == 'w' && at(1) == 'r':
		i = 1
	case at(0) == 'x':
		out = append(out, 'S')
		i = 1
	case at(0) == 'w' && at(1) == 'h':
		out = append(out, 'W')
		i = 2
	}
	for first := i; i < n; i++ {
		c := w[i]
		switch c {
		case 'a', 'e', 'i', 'o', 'u':
			switch {
			case vowels:
				if k := len(out); k == 0 || out[k-1] != 'a' {
					out = append(out, 'a')
				}
			case i == first && len(out) == 0:
				out = append(out, c-'a'+'A')
			}
		case 'b':
			if !(i == n-1 && at(i-1) == 'm') { // silent in "thumb"
				out = append(out, 'B')
			}
		case 'c':
			switch {
			case at(i+1) == 'i' && at(i+2) == 'a':
				out = append(out, 'X')
			case at(i+1) == 'h':
				if at(i-1) == 's' || (i == 0 && !vowel(at(2))) {
					out = append(out, 'K')
				} else {
					out = append(out, 'X')
				}
				i++
			case front(at(i + 1)):
				if at(i-1) != 's' {
					out = append(out, 'S')
				}
			case at(i+1) == 'k' || at(i+1) == 'c' && !front(at(i+2)):
				out = append(out, 'K')
				i++
			default:
				out = append(out, 'K')
			}
		case 'd':
			if at(i+1) == 'g' && front(at(i+2)) {
				out = append(out, 'J')
				i++
			} else {
				out = append(out, 'T')
			}
		case 'g':
			switch {
			case at(i+1) == 'h':
				if i+2 < n && vowel(at(i+2)) {
					out = append(out, 'K')
				}
				i++
			case at(i+1) == 'n' && (i+2 == n || i+4 == n && at(i+2) == 'e' && at(i+3) == 'd'):
			case front(at(i + 1)):
				out = append(out, 'J')
			default:
				out = append(out, 'K')
			}
		case 'h':
			if vowel(at(i+1)) && strings.IndexByte("csptg", at(i-1)) < 0 {
				out = append(out, 'H')
			}
		case 'p':
			if at(i+1) == 'h' {
				out = append(out, 'F')
				i++
			} else {
				out = append(out, 'P')
			}
		case 'q':
			out = append(out, 'K')
		case 's':
			switch {
			case at(i+1) == 'h':
				out = append(out, 'X')
				i++
			case at(i+1) == 'i' && (at(i+2) == 'o' || at(i+2) == 'a'):
				out = append(out, 'X')
			default:
				out = append(out, 'S')
			}
		case 't':
			switch {
			case at(i+1) == 'i' && (at(i+2) == 'o' || at(i+2) == 'a'):
				out = append(out, 'X')
			case at(i+1) == 'h':
				if at(i+2) == 'm' { // "asthma", "Thompson" is th before o
					break
				}
				out = append(out, '0')
				i++
			case at(i+1) == 'c' && at(i+2) == 'h':
			default:
				out = append(out, 'T')
			}
		case 'v':
			out = append(out, 'F')
		case 'w', 'y':
			if vowel(at(i + 1)) {
				out = append(out, c-'a'+'A')
			}
		case 'x':
			out = append(out, 'K', 'S')
		case 'z':
			out = append(out, 'S')
		case 'k':
			if at(i-1) != 'c' {
				out = append(out, 'K')
			}
		default: // f j l m n r
			out = append(out, c-'a'+'A')
		}
	}
	return out
}

// blur merges the sounds that recognizers most often take for each other: the
// voiced and unvoiced pairs, sh and s, th and t, m and n, and a trailing s.
func blur(code string) string {
	b := []byte(code)
	for i, c := range b {
		switch c {
		case 'B':
			b[i] = 'P'
		case 'J', 'X':
			b[i] = 'S'
		case '0':
			b[i] = 'T'
		case 'M':
			b[i] = 'N'
		}
	}
	if len(b) > 2 && b[len(b)-1] == 'S' {
		b = b[:len(b)-1]
	}
	return string(b)
}
