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

// Costs of unlike sounds, in hundredths of a consonant.
const (
	weightConsonant = 100
	weightVowel     = 20
	costVowel       = 20  // a vowel that only the words have
	costConsonant   = 80  // a consonant that only the words have
	costKin         = 35  // consonants made alike, at places side by side: s for sh
	costPlace       = 8   // and for each step further apart
	costManner      = 70  // made at one place: t for s
	costOther       = 100 // another sound
	costInside      = 30  // begins or ends inside a word
	costSmallWord   = 6   // a sound of a small word, which may stand between
	costBarrier     = 5000
)

// barrier stands for words that are accounted for: no match steps over it.
const barrier = '|'

// consonants says how and where the consonants of the codes are made (manner,
// place from the lips back), as in any table of English consonants. Voice is
// not told apart by the codes.
var consonants = map[byte]struct{ manner, place int }{
	'P': {stop, 0}, 'B': {stop, 0}, 'T': {stop, 2}, 'K': {stop, 4}, 'J': {hiss, 3}, 'X': {hiss, 3},
	'S': {hiss, 2}, '0': {hiss, 1}, 'F': {hiss, 0}, 'H': {hiss, 5}, 'M': {nasal, 0}, 'N': {nasal, 2},
	'L': {glide, 2}, 'R': {glide, 3}, 'W': {glide, 0}, 'Y': {glide, 3},
}

const (
	stop = iota
	hiss
	nasal
	glide
)

// soundCost is the cost of one sound for another.
var soundCost = func() (t [128][128]int) {
	for a := range t {
		for b := range t[a] {
			switch {
			case a == barrier || b == barrier:
				t[a][b] = costBarrier
			case a != b:
				t[a][b] = costOther
			}
		}
	}
	for a, x := range consonants {
		for b, y := range consonants {
			apart := max(x.place-y.place, y.place-x.place)
			switch {
			case a == b:
			case x.manner == y.manner:
				t[a][b] = costKin + costPlace*max(0, apart-1)
			case apart <= 1:
				t[a][b] = costManner
			}
		}
	}
	return t
}()

func soundWeight(s byte) int {
	if s == 'a' {
		return weightVowel
	}
	return weightConsonant
}

// dropCost is the cost of a sound lost.
func dropCost(s byte) int { return soundWeight(s) * costConsonant / weightConsonant }

// alike compares two words sound by sound, 0 to 1: 1 less the cost of the
// cheapest edits over the weight of the heavier one.
func alike(a, b []byte) float32 {
	if len(a) > 24 || len(b) > 24 {
		return 0
	}
	var buf [2][25]int
	prev, cur := buf[0][:len(b)+1], buf[1][:len(b)+1]
	var wa, wb int
	for j, c := range b {
		wb += soundWeight(c)
		prev[j+1] = prev[j] + dropCost(c)
	}
	for _, x := range a {
		wa += soundWeight(x)
		cur[0] = prev[0] + dropCost(x)
		for j, y := range b {
			cur[j+1] = min(prev[j]+soundCost[x][y], prev[j+1]+dropCost(x), cur[j]+dropCost(y))
		}
		prev, cur = cur, prev
	}
	if m := max(wa, wb); m > 0 {
		return 1 - float32(prev[len(b)])/float32(m)
	}
	return 0
}
