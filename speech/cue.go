package speech

import (
	"math"
	"regexp"
	"slices"
	"strings"
	"unicode/utf8"
)

// cue is what a format's reader hands to assemble: one cue, utterance or line
// with its words, before times are checked, spread and put in order.
type cue struct {
	start, end float64 // seconds; NaN where the source does not say
	capped     bool    // the end only bounds it: speech may have stopped long before
	words      []rawWord
	timed      bool   // some words have times of their own, so that start is the first word's
	lines      []int  // index of the first word of every line, for rolling captions
	glued      bool   // the next text goes on with the last word
	turns      []turn // who speaks from which word on; empty when unknown
	carry      bool   // speaker labels of this cue may hold on for later cues
	line, n    int    // Segment.Line and Segment.Cue
}

// rawWord is a word whose times may be unknown (NaN).
type rawWord struct {
	text       string
	start, end float64
	conf       float64 // -1 when unknown
	estimated  bool    // set by spread
}

type turn struct {
	first   int // index into cue.words
	speaker string
}

var unknown = math.NaN()

// addText appends plain text to the cue's words.
func (c *cue) addText(text string) { c.addFields(strings.Fields(text)) }

// addFields appends words.
func (c *cue) addFields(fields []string) {
	for _, f := range fields {
		c.words = append(c.words, rawWord{text: f, start: unknown, end: unknown, conf: -1})
	}
}

// newLine notes that the next word begins a line of a caption.
func (c *cue) newLine() {
	if n := len(c.lines); n == 0 || c.lines[n-1] < len(c.words) {
		c.lines = append(c.lines, len(c.words))
	}
}

// addTurn notes that speaker talks from the next word on.
func (c *cue) addTurn(speaker string) {
	if n := len(c.turns); n > 0 && c.turns[n-1].first == len(c.words) {
		c.turns[n-1].speaker = speaker
		return
	}
	c.turns = append(c.turns, turn{len(c.words), speaker})
}

// addLabeled appends a line of text that may begin with a speaker's label.
func (c *cue) addLabeled(line string) {
	speaker, rest, ok := splitLabel(line)
	if ok {
		c.addTurn(speaker)
		c.carry = true
	}
	c.addText(rest)
}

func (c *cue) text() string {
	parts := make([]string, len(c.words))
	for i, w := range c.words {
		parts[i] = w.text
	}
	return strings.Join(parts, " ")
}

// trim takes the first n words out of the cue.
func (c *cue) trim(n int) {
	c.words = c.words[n:]
	for i := range c.lines {
		c.lines[i] = max(0, c.lines[i]-n)
	}
	for i := range c.turns {
		c.turns[i].first = max(0, c.turns[i].first-n)
	}
}

// glue joins text to the last word. A word that grows beyond all measure is
// left alone, and glue gives false.
func (c *cue) glue(text string) bool {
	const longest = 100 // bytes
	if len(c.words) == 0 {
		return false
	}
	last := &c.words[len(c.words)-1]
	if len(last.text) > longest {
		return false
	}
	last.text += text
	return true
}

// A speaker's label at the start of a line. Only words for a role count
// without brackets, so that "Brakes: no leaks" stays speech. The list is
// common practice, no source.
const (
	roleWords = `examiner|instructor|student|applicant|candidate|trainee|trainer|tester|teacher|evaluator|assessor|inspector|driver|operator|supervisor|coach|mechanic|technician|proctor|pupil|learner|interviewer|interviewee|speaker|participant|narrator|host|guest|spk|unknown speaker`
	roleLabel = `(?:(?:(?:the|your|mock)\s+)?(?:` + roleWords + `)(?:[ _#-]*\d{1,3}|[ _#-]+[a-z?])?|s\d{1,2})`
)

var (
	labelColon    = regexp.MustCompile(`(?i)^(` + roleLabel + `)\s*[:：](?:\s+|$)`)
	labelBrackets = regexp.MustCompile(`(?i)^(?:\[\s*(` + roleLabel + `)\s*\]|\(\s*(` + roleLabel + `)\s*\))\s*[:：]?\s*`)
	nameBrackets  = regexp.MustCompile(`^\[\s*(\p{Lu}[\p{L}\d._'-]*(?: \p{L}[\p{L}\d._'-]*){0,2})\s*\]\s*[:：]\s*`)
	nameChevron   = regexp.MustCompile(`^(\p{Lu}[\p{L}\d._'-]*(?: [\p{L}\d][\p{L}\d._'-]*){0,2})\s*[:：](?:\s+|$)`)
	chevrons      = regexp.MustCompile(`^(?:>>+|»)\s*`)
	dash          = regexp.MustCompile(`^[-–—]\s+`)
)

// splitLabel takes a speaker's label off the start of a line: "EXAMINER: ...",
// "[Speaker 1]: ...", ">> Maria: ..." or a bare ">>", which says only that
// another one speaks and gives "".
func splitLabel(line string) (speaker, rest string, ok bool) {
	line = strings.TrimSpace(line)
	if line == "" || line[0] < utf8.RuneSelf && strings.IndexByte("[(>-", line[0]) < 0 && !strings.ContainsAny(line, ":：") {
		return "", line, false // most lines
	}
	rest = line
	if m := dash.FindString(rest); m != "" {
		rest = rest[len(m):]
	}
	chevron := chevrons.FindString(rest)
	rest = rest[len(chevron):]
	patterns := []*regexp.Regexp{labelColon, labelBrackets, nameBrackets}
	if chevron != "" {
		patterns = append(patterns, nameChevron)
	}
	for _, p := range patterns {
		m := p.FindStringSubmatch(rest)
		if m == nil {
			continue
		}
		for _, name := range m[1:] {
			if name != "" {
				return name, rest[len(m[0]):], true
			}
		}
	}
	if chevron != "" {
		return "", rest, true
	}
	return "", line, false
}

// soundWords mark a remark in brackets as a sound, not speech. The list is
// common practice, no source.
var soundWords = regexp.MustCompile(`(?i)\b(?:` +
	`music|blank_audio|silence|silent|noise|noises|inaudible|unintelligible|indistinct|cross ?talk|foreign|static|` +
	`buzz(?:er|es|ing)?|beep(?:s|ing)?|chim(?:es|ing)|ring(?:s|ing)|honk(?:s|ing)?|hiss(?:es|ing)?|whoosh(?:es|ing)?|` +
	`click(?:s|ing)?|clank(?:s|ing)?|bang(?:s|ing)?|knock(?:s|ing)|tapp?(?:s|ing)|thud(?:s)?|rattl(?:es|ing)|rumbl(?:es|ing)|` +
	`revv?(?:s|ing)|idling|whir(?:s|ring)|hum(?:s|ming)|squeal(?:s|ing)?|squeak(?:s|ing)?|slam(?:s|ming)?|whistl(?:es|ing)|` +
	`laugh(?:s|ter|ing)?|chuckl(?:es|ing)|cough(?:s|ing)?|sneez(?:es|ing)|sigh(?:s|ing)?|breath(?:es|ing)|sniff(?:s|ing)?|` +
	`clear(?:s|ing) throat|applause|clapping|footsteps|chatter|bark(?:s|ing)|wind blowing|background|pause|unk|eps|sil|spn|nsn` +
	`)\b`)

// isSound tells whether text in brackets is a remark about a sound. Square
// brackets and notes are never speech unless they hold a figure; parentheses
// and asterisks are speech unless a word says otherwise.
func isSound(open rune, text string) bool {
	if strings.ContainsAny(text, "0123456789½¼¾") {
		return false
	}
	switch open {
	case '[', '♪', '♫', '<':
		return true
	}
	return soundWords.MatchString(text)
}

var closing = map[rune]rune{'[': ']', '(': ')', '*': '*', '♪': '♪', '♫': '♫', '<': '>'}

const longestSound = 8 // words in brackets

// dropSounds takes bracketed sounds such as [BLANK_AUDIO] and (buzzer) out of
// the cue's words and tells how many there were and what the first said.
func (c *cue) dropSounds() (count int, example string) {
	var gone []bool
	for i := 0; i < len(c.words); {
		n := soundEnd(c.words[i:])
		if n == 0 {
			i++
			continue
		}
		if count++; count == 1 {
			sound := cue{words: c.words[i : i+n]}
			example = sound.text()
			gone = make([]bool, len(c.words))
		}
		for ; n > 0; n-- {
			gone[i] = true
			i++
		}
	}
	if count > 0 {
		c.keep(gone)
	}
	return count, example
}

// keep takes out the words that are gone.
func (c *cue) keep(gone []bool) {
	at := make([]int, len(gone)+1) // new index of every word
	kept := c.words[:0]
	for i, w := range c.words {
		at[i] = len(kept)
		if !gone[i] {
			kept = append(kept, w)
		}
	}
	at[len(gone)] = len(kept)
	c.words = kept
	for i := range c.lines {
		c.lines[i] = at[c.lines[i]]
	}
	for i := range c.turns {
		c.turns[i].first = at[c.turns[i].first]
	}
}

// soundEnd is how many of the first words are one bracketed sound; 0 if they
// are not.
func soundEnd(words []rawWord) int {
	open, size := utf8.DecodeRuneInString(words[0].text)
	end, ok := closing[open]
	if !ok {
		return 0
	}
	var inner []string
	for k := 0; k < len(words) && k < longestSound; k++ {
		t := words[k].text
		if k == 0 {
			t = t[size:]
		}
		body := strings.TrimRight(t, ".,;:!?")
		if last, n := utf8.DecodeLastRuneInString(body); last == end {
			inner = append(inner, body[:len(body)-n])
			if text := strings.Join(inner, " "); isSound(open, text) {
				return k + 1
			}
			return 0
		}
		if strings.ContainsRune(t, end) {
			return 0
		}
		inner = append(inner, t)
	}
	return 0
}

// rolling finds captions that scroll: each cue shows the last line or lines of
// the one before and adds to them. It gives, for every cue, how many of its
// first words are such a repeat, or nil where most cues do not repeat and the
// few that do may well be speech.
func rolling(cues []cue) []int {
	const flash = 0.1 // seconds; web video shows the old line alone that long between two lines
	repeat := make([]int, len(cues))
	hits := 0
	for i := 1; i < len(cues); i++ {
		c := &cues[i]
		repeat[i] = repeated(&cues[i-1], c)
		if repeat[i] > 0 && (repeat[i] < len(c.words) || c.end-c.start < flash) {
			hits++
		}
	}
	if hits == 0 || 2*hits < len(cues)-1 {
		return nil
	}
	return repeat
}

// repeated is the number of words at the start of c that repeat the last lines
// of before.
func repeated(before, c *cue) int {
	from := max(0, len(before.lines)-4) // captions show at most four lines
	for _, first := range before.lines[from:] {
		tail := before.words[first:]
		if len(tail) > 0 && len(tail) <= len(c.words) && slices.EqualFunc(tail, c.words[:len(tail)], func(a, b rawWord) bool { return a.text == b.text }) {
			return len(tail)
		}
	}
	return 0
}
