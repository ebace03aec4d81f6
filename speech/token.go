package speech

import (
	"strings"
	"unicode"
	"unicode/utf8"
)

// Pauses, in seconds, that part two words whose times were measured. A
// recognizer without punctuation leaves nothing else to tell phrases apart.
const (
	commaPause = 0.6
	stopPause  = 1.5
)

// Tokens gives the normal forms of a transcript's words, in order, in linear
// time. A word gives no token (a dash), one, or several:
//
//   - lower case, outer punctuation stripped; what it said of phrasing is kept
//     as the Break of the token before it
//   - hyphens and slashes part words: "twenty-five" is twenty, five
//   - figures stay whole with their point, fraction or clock colon ("3.5",
//     "4/32", "4:32"), lose the commas of thousands ("1,200" is 1200) and leave
//     their unit ("5psi" is 5, psi; 10° is 10, degrees; 2" is 2, inches); an
//     ordinal keeps its ending ("32nds"), a fraction drops it ("4/32nds" is
//     4/32)
//   - a dash between figures is a token of its own: "20-45" is 20, -, 45
//   - letters spoken one by one join: "p s i", "P.S.I." and "p-s-i" are psi.
//     The joined token has the index and start of the first word and the end of
//     the last. "a" and "i" beside other letters stay words unless the
//     abbreviation is a known one.
//
// A pause of at least 0.6 s (1.5 s) between words with measured times, or a
// change of speaker, also gives a Break; a pause behind a word that ends no
// phrase ("the", "not") is the speaker's thinking and gives none.
func Tokens(t *Transcript) []Token {
	s := splitter{toks: make([]Token, 0, len(t.Words)+len(t.Words)/8)}
	for i := range t.Words {
		w := &t.Words[i]
		if i > 0 {
			s.brk(pauseBreak(t, i))
		}
		s.next = ""
		if i+1 < len(t.Words) {
			s.next = t.Words[i+1].Text
		}
		s.proto = Token{Word: i, Start: w.Start, End: w.End, Segment: w.Segment}
		s.split(w.Text)
	}
	return joinLetters(s.toks)
}

// TokensOf gives the normal forms of a phrase, the same as Tokens gives of the
// same words. Strings with spaces in them are split. Word counts the words from
// 0; times and segment are 0.
func TokensOf(words ...string) []Token {
	var t Transcript
	for _, w := range words {
		for f := range strings.FieldsSeq(w) {
			t.Words = append(t.Words, Word{Text: f, Estimated: true})
		}
	}
	return Tokens(&t)
}

// pauseBreak is the break that times and speakers put before word i.
func pauseBreak(t *Transcript, i int) Break {
	a, b := &t.Words[i-1], &t.Words[i]
	if a.Segment != b.Segment && inRange(a.Segment, t) && inRange(b.Segment, t) &&
		t.Segments[a.Segment].Speaker != t.Segments[b.Segment].Speaker {
		return StopBreak
	}
	if a.Estimated || b.Estimated {
		return NoBreak
	}
	gap := b.Start - a.End
	if gap >= commaPause && hesitates[strings.ToLower(a.Text)] {
		return NoBreak
	}
	switch {
	case gap >= stopPause:
		return StopBreak
	case gap >= commaPause:
		return CommaBreak
	}
	return NoBreak
}

// hesitates are words that end no phrase: the speaker thinks what comes next.
var hesitates = map[string]bool{"the": true, "a": true, "an": true, "my": true, "your": true, "our": true, "its": true, "their": true,
	"these": true, "of": true, "from": true, "with": true, "and": true, "or": true, "not": true, "is": true, "are": true, "isn't": true,
	"aren't": true, "it's": true, "they're": true, "there's": true, "have": true, "has": true}

func inRange(seg int, t *Transcript) bool { return seg >= 0 && seg < len(t.Segments) }

// splitter cuts one word into tokens.
type splitter struct {
	toks  []Token
	proto Token
	next  string // the word after, to tell "P.S.I." in a sentence from one at its end
	quote bool   // inside a double quotation, so that 2" need not be inches
}

func (s *splitter) emit(text string) {
	t := s.proto
	t.Text = text
	s.toks = append(s.toks, t)
}

// brk raises the break after the last token, of this word or an earlier one.
func (s *splitter) brk(b Break) {
	if n := len(s.toks); n > 0 && s.toks[n-1].Break < b {
		s.toks[n-1].Break = b
	}
}

func (s *splitter) split(text string) {
	if plainWord(text) {
		s.emit(text)
		return
	}
	w := foldWord(text)
	if onlyDashes(w) {
		// A dash with spaces round it: between figures a range, else a comma.
		if n := len(s.toks); n > 0 && s.toks[n-1].Break == NoBreak && isDigit(s.toks[n-1].Text[0]) && s.next != "" && isDigit(s.next[0]) {
			s.emit("-")
			return
		}
		s.brk(CommaBreak)
		return
	}
	for i := 0; i < len(w); {
		i = s.piece(w, i)
	}
}

// piece reads one token or one mark of w at i and returns where the next begins.
func (s *splitter) piece(w string, i int) int {
	c := w[i]
	switch {
	case isDigit(c) || c == '.' && i+1 < len(w) && isDigit(w[i+1]) && (i == 0 || !isAlnum(w[i-1])):
		return s.numeral(w, i)
	case isLetter(c) || c >= utf8.RuneSelf:
		return s.letters(w, i)
	}
	after := i + 1
	nextDigit := after < len(w) && (isDigit(w[after]) || w[after] == '.')
	before := strings.TrimRight(w[:i], " ")
	prevDigit := before != "" && isDigit(before[len(before)-1])
	switch c {
	case '"':
		switch {
		case prevDigit && !s.quote:
			s.emit("inches")
		default:
			s.quote = !s.quote
		}
	case '\'':
		if prevDigit && !s.quote && (after == len(w) || !isLetter(w[after])) {
			s.emit("feet")
		}
	case '%':
		s.emit("percent")
	case '&':
		s.emit("and")
	case '@':
		s.emit("at")
	case '+':
		if prevDigit || nextDigit {
			s.emit("plus")
		}
	case '#':
		if nextDigit {
			s.emit("number")
		}
	case '~':
		if nextDigit {
			s.emit("about")
		}
	case '<', '>':
		if nextDigit {
			s.emit(map[byte]string{'<': "below", '>': "above"}[c])
		}
	case '-':
		switch {
		case after < len(w) && w[after] == '-': // "--"
			s.brk(CommaBreak)
			after++
		case prevDigit && nextDigit:
			s.emit("-")
		case after == len(w) || i == 0: // a word cut off, or an aside
			s.brk(CommaBreak)
		}
	case ',':
		s.brk(CommaBreak)
	case '.':
		if strings.HasPrefix(w[i:], "..") { // a hesitation
			for after < len(w) && w[after] == '.' {
				after++
			}
			s.brk(CommaBreak)
			break
		}
		s.brk(StopBreak)
	case '!', '?', ';', ':':
		s.brk(StopBreak)
	}
	return after
}

// numeral reads a figure at i: 120, 1,200, 3.5, .5, 4/32, 4:32, with an ordinal
// ending if it has one.
func (s *splitter) numeral(w string, i int) int {
	digits := func(k int) int {
		for k < len(w) && isDigit(w[k]) {
			k++
		}
		return k
	}
	end := digits(i)
	text := w[i:end]
	whole := true
	if end-i <= 3 && end > i {
		for k := end; k+3 < len(w) && k-i < 12 && w[k] == ',' && digits(k+1) == k+4; k += 4 {
			text += w[k+1 : k+4]
			end = k + 4
		}
	}
	if end+1 < len(w) && w[end] == '.' && isDigit(w[end+1]) {
		k := digits(end + 1)
		if text == "" {
			text = "0"
		}
		text += w[end:k]
		end, whole = k, false
	}
	pair := false
	if whole && end+1 < len(w) && (w[end] == '/' || w[end] == ':') && isDigit(w[end+1]) {
		k := digits(end + 1)
		if w[end] == '/' || k-end-1 == 2 {
			text += w[end:k]
			end, whole, pair = k, false, true
		}
	}
	k := end
	if k < len(w) && w[k] == '\'' && k+1 < len(w) && w[k+1] == 's' {
		k++ // "32's"
	}
	stop := k
	for stop < len(w) && isLetter(w[stop]) {
		stop++
	}
	switch suffix := w[k:stop]; suffix {
	case "st", "nd", "rd", "th", "nds", "rds", "ths", "s":
		if whole {
			text += suffix
		} else if pair && suffix != "s" {
			text = strings.Replace(text, ":", "/", 1)
		}
		end = stop
	}
	s.emit(text)
	return end
}

// letters reads a word of letters at i, with inner apostrophes, or an
// abbreviation with points.
func (s *splitter) letters(w string, i int) int {
	if end, text := dotted(w, i); end > 0 {
		s.emit(text)
		// The last point of "P.S.I." ends a sentence only if one begins after it.
		if end == len(w) && w[end-1] == '.' && startsUpper(s.next) {
			s.brk(StopBreak)
		}
		return end
	}
	k := i
	for k < len(w) {
		c := w[k]
		if isLetter(c) || c >= utf8.RuneSelf || isDigit(c) ||
			c == '\'' && k > i && k+1 < len(w) && (isLetter(w[k+1]) || w[k+1] >= utf8.RuneSelf) {
			k++
			continue
		}
		break
	}
	text := w[i:k]
	switch text {
	case "psis", "psi's":
		text = "psi"
	}
	s.emit(text)
	return k
}

// dotted reads single letters that each have a point after them, but maybe the
// last: "p.s.i." It returns 0 where there are not at least two.
func dotted(w string, i int) (end int, text string) {
	var b strings.Builder
	k := i
	for k < len(w) && isLetter(w[k]) && (k+1 == len(w) || !isAlnum(w[k+1])) {
		b.WriteByte(w[k])
		k++
		if k == len(w) || w[k] != '.' {
			break
		}
		k++
	}
	if b.Len() < 2 {
		return 0, ""
	}
	return k, b.String()
}

// plainWord reports whether text is its own normal form: by far the most are.
func plainWord(text string) bool {
	for i := 0; i < len(text); i++ {
		if c := text[i]; c < 'a' || c > 'z' {
			return false
		}
	}
	return text != "" && text != "psis"
}

var foldRunes = map[rune]string{
	'‘': "'", '’': "'", '‛': "'", 'ʼ': "'", '′': "'",
	'“': `"`, '”': `"`, '„': `"`, '‟': `"`, '″': `"`,
	'‐': "-", '‑': "-", '‒': "-", '–': "-", '−': "-", '—': "--", '―': "--",
	'…': "...", '⁄': "/", '∕': "/", '\u00ad': "", '\u200b': "", '\ufeff': "",
	'°': " degrees ", 'º': " degrees ", '≥': " at least ", '≤': " at most ", '≈': " about ",
	'½': " 1/2 ", '⅓': " 1/3 ", '⅔': " 2/3 ", '¼': " 1/4 ", '¾': " 3/4 ",
	'⅛': " 1/8 ", '⅜': " 3/8 ", '⅝': " 5/8 ", '⅞': " 7/8 ",
}

// foldWord lowers a word and folds typographic signs to plain ones. Signs that
// stand for words come out with spaces round them.
func foldWord(text string) string {
	ascii := true
	for i := 0; i < len(text); i++ {
		if text[i] >= utf8.RuneSelf {
			ascii = false
			break
		}
	}
	if ascii {
		return strings.ToLower(text)
	}
	var b strings.Builder
	for _, r := range text {
		if f, ok := foldRunes[r]; ok {
			b.WriteString(f)
			continue
		}
		if r >= utf8.RuneSelf && !unicode.IsLetter(r) && !unicode.IsMark(r) {
			r = ' '
		}
		b.WriteRune(unicode.ToLower(r))
	}
	return b.String()
}

// spelled lists the abbreviations that are known when spoken letter by letter
// even where they touch an article or a pronoun ("the a b s i check").
var spelled = []string{"psi", "rpm", "mph", "abs", "abc", "def", "ac", "bc", "ok"}

// joinLetters joins runs of single letters into one token each, in place.
func joinLetters(toks []Token) []Token {
	single := func(t *Token) bool { return len(t.Text) == 1 && isLetter(t.Text[0]) }
	out := toks[:0]
	for i := 0; i < len(toks); {
		if !single(&toks[i]) {
			out = append(out, toks[i])
			i++
			continue
		}
		j := i + 1
		for j < len(toks) && j-i < 12 && single(&toks[j]) {
			j++
		}
		if j-i == 1 {
			out = append(out, toks[i])
			i++
			continue
		}
		n, join := lettersOf(toks[i:j])
		if join {
			t := toks[i]
			var b strings.Builder
			for _, l := range toks[i : i+n] {
				b.WriteString(l.Text)
			}
			t.Text, t.End, t.Break = b.String(), toks[i+n-1].End, toks[i+n-1].Break
			out = append(out, t)
		} else {
			out = append(out, toks[i:i+n]...)
		}
		i += n
	}
	return out
}

// lettersOf says how many letters at the start of a run of at least two are
// dealt with, and whether they join into one token.
func lettersOf(run []Token) (n int, join bool) {
	var buf [12]byte
	for i := range run {
		buf[i] = run[i].Text[0]
	}
	all := string(buf[:len(run)])
	for _, a := range spelled {
		if strings.HasPrefix(all, a) {
			return len(a), true
		}
	}
	// Letters parted by a comma, a stop or a pause join only if known.
	unbroken := 1
	for unbroken < len(run) && run[unbroken-1].Break == NoBreak {
		unbroken++
	}
	word := func(c byte) bool { return c == 'a' || c == 'i' || c == 'o' }
	known := len(all)
	for _, a := range spelled {
		if k := strings.Index(all, a); k > 0 {
			known = min(known, k)
		}
	}
	end := min(unbroken, known)
	for end > 1 && word(all[end-1]) {
		end--
	}
	if word(all[0]) && (end <= 2 || known < len(all)) {
		return 1, false // "a u bolt", "a p s i gauge"
	}
	return end, end > 1
}

func isDigit(c byte) bool  { return c >= '0' && c <= '9' }
func isLetter(c byte) bool { return c >= 'a' && c <= 'z' }
func isAlnum(c byte) bool  { return isDigit(c) || isLetter(c) || c >= utf8.RuneSelf }

func onlyDashes(w string) bool {
	return w != "" && strings.Trim(w, "-") == ""
}

func startsUpper(s string) bool {
	r, _ := utf8.DecodeRuneInString(s)
	return unicode.IsUpper(r)
}
