package speech

import (
	"encoding/json"
	"errors"
	"io"
	"maps"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"
)

// JSON transcripts are told apart by shape, never by file name.

var (
	jsonStart = regexp.MustCompile(`^(?:\{\s*(?:"|\}|$)|\[\s*(?:\{|\]\s*$))`)
	jsonKey   = regexp.MustCompile(`"(transcription|segments|chunks|words|results|response|result|partial|alternatives|text)"\s*:`)
)

// jsonShapes gives the format by the key that tells it, most telling first.
var jsonShapes = []struct {
	key    string
	format Format
}{
	{"transcription", WhisperCPP},
	{"segments", Whisper},
	{"chunks", Whisper},
	{"words", Whisper},
	{"results", Cloud},
	{"response", Cloud},
	{"result", Vosk},
	{"partial", Vosk},
}

func (s *source) detectJSON() (Format, error) {
	keys, err := s.jsonKeys()
	if err != nil {
		return Auto, err
	}
	for _, shape := range jsonShapes {
		if slices.Contains(keys, shape.key) {
			return shape.format, nil
		}
	}
	has := func(k string) bool { return slices.Contains(keys, k) }
	switch {
	case has("alternatives"):
		// Vosk's n-best puts words in "result", the cloud shape in "words".
		if strings.Contains(s.text, `"words"`) || strings.Contains(s.text, `"transcript"`) {
			return Cloud, nil
		}
		return Vosk, nil
	case has("start") || has("startTime") || has("timestamp"):
		return Whisper, nil
	case has("text"):
		return Vosk, nil
	}
	return Auto, s.errorf(0, `known are "segments", "words", "transcription", "result" and "results"; or export SRT or WebVTT`, "JSON of an unknown shape, with the keys %s", quote(strings.Join(keys, ", ")))
}

// jsonKeys lists the keys of the first object, be it the document or the first
// element of a list.
func (s *source) jsonKeys() ([]string, error) {
	var first json.RawMessage
	text, _ := laxNumbers(s.text)
	if err := json.NewDecoder(strings.NewReader(text)).Decode(&first); err != nil {
		// Cut off or damaged: the reader of the format will say where.
		var keys []string
		for _, m := range jsonKey.FindAllStringSubmatch(s.text[:min(len(s.text), 64<<10)], -1) {
			keys = append(keys, m[1])
		}
		if len(keys) > 0 {
			return keys, nil
		}
		return nil, s.jsonError(err, 0)
	}
	if first[0] == '[' {
		var list []json.RawMessage
		if err := json.Unmarshal(first, &list); err != nil {
			return nil, s.jsonError(err, 0)
		}
		if len(list) == 0 {
			return nil, s.errorf(0, "run the speech-to-text again, or check which file was saved", "the transcript is an empty JSON list")
		}
		first = list[0]
	}
	var object map[string]json.RawMessage
	if err := json.Unmarshal(first, &object); err != nil {
		return nil, s.jsonError(err, 0)
	}
	return slices.Sorted(maps.Keys(object)), nil
}

// decodeJSON reads the whole text into v.
func (s *source) decodeJSON(v any) error {
	text, n := laxNumbers(s.text)
	if n > 0 {
		s.warn(0, 0, "numbers that are none", "NaN or Infinity in the JSON taken as not given (%d in all)", n)
	}
	if err := json.Unmarshal([]byte(text), v); err != nil {
		return s.jsonError(err, 0)
	}
	return nil
}

// jsonError tells where in the text, from offset base on, err is.
func (s *source) jsonError(err error, base int64) error {
	var syntax *json.SyntaxError
	var kind *json.UnmarshalTypeError
	switch {
	case errors.As(err, &syntax) && syntax.Error() == "unexpected end of JSON input", errors.Is(err, io.ErrUnexpectedEOF), errors.Is(err, io.EOF):
		return s.errorf(s.lineAt(int64(len(s.text))), "export or copy it again", "the JSON is cut off")
	case errors.As(err, &syntax):
		return s.errorf(s.lineAt(base+syntax.Offset), "export it again", "not well-formed JSON (%s)", syntax.Error())
	case errors.As(err, &kind):
		field := kind.Field
		if field == "" {
			field = "the document"
		}
		return s.errorf(s.lineAt(base+kind.Offset), "export it again", "a JSON %s where %s should be another kind of value", kind.Value, quote(field))
	}
	return s.errorf(0, "export it again", "not readable as JSON (%v)", err)
}

// laxNumbers replaces NaN, Infinity and -Infinity outside strings, which some
// tools write although JSON has no such numbers, by null. It gives their count.
func laxNumbers(text string) (string, int) {
	if !strings.Contains(text, "NaN") && !strings.Contains(text, "Infinity") {
		return text, 0
	}
	var b strings.Builder
	n, from := 0, 0
	for i := 0; i < len(text); {
		switch c := text[i]; c {
		case '"':
			for i++; i < len(text) && text[i] != '"'; i++ {
				if text[i] == '\\' {
					i++
				}
			}
			i++
		case 'N', 'I', '-':
			size := 0
			for _, word := range []string{"NaN", "Infinity", "-Infinity"} {
				if strings.HasPrefix(text[i:], word) {
					size = len(word)
				}
			}
			if size == 0 {
				i++
				continue
			}
			b.WriteString(text[from:i])
			b.WriteString("null")
			i += size
			from = i
			n++
		default:
			i++
		}
	}
	b.WriteString(text[min(from, len(text)):])
	return b.String(), n
}

// jsonTime is a time in seconds in any of the ways that tools write one: a
// number, "1.200s", "1.2", "00:00:01,200" or {"seconds": "1", "nanos": 2e8}.
// What cannot be read is +Inf, so that it is reported where it is used.
type jsonTime struct {
	value float64
	set   bool
}

// seconds is NaN where no time was given.
func (t jsonTime) seconds() float64 {
	if !t.set {
		return unknown
	}
	return t.value
}

func (t *jsonTime) UnmarshalJSON(data []byte) error {
	*t = jsonTime{math.Inf(1), true}
	text := strings.TrimSpace(string(data))
	switch {
	case text == "null" || text == `""`:
		*t = jsonTime{}
		return nil
	case text[0] == '"':
		text = strings.Trim(text, `"`)
		if strings.Contains(text, ":") {
			if v, ok := looseTime(text); ok {
				t.value = v
			}
			return nil
		}
		text = strings.TrimSuffix(text, "s")
	case text[0] == '{':
		var d struct {
			Seconds, Nanos json.Number
		}
		if json.Unmarshal(data, &d) != nil {
			return nil
		}
		sec, err1 := strconv.ParseFloat("0"+string(d.Seconds), 64)
		nanos, err2 := strconv.ParseFloat("0"+string(d.Nanos), 64)
		if err1 == nil && err2 == nil {
			t.value = sec + nanos/1e9
		}
		return nil
	}
	if v, err := strconv.ParseFloat(text, 64); err == nil {
		t.value = v
	}
	return nil
}

// jsonText is a string, or a number as written; anything else is "".
type jsonText string

func (t *jsonText) UnmarshalJSON(data []byte) error {
	switch c := data[0]; {
	case c == '"':
		return json.Unmarshal(data, (*string)(t))
	case c == '-' || isDigit(c):
		*t = jsonText(data)
	default:
		*t = ""
	}
	return nil
}

// jsonWord is a word in any of the shapes.
type jsonWord struct {
	Word        jsonText `json:"word"`
	Text        jsonText `json:"text"`
	Start       jsonTime `json:"start"`
	End         jsonTime `json:"end"`
	StartTime   jsonTime `json:"startTime"`
	EndTime     jsonTime `json:"endTime"`
	StartTime2  jsonTime `json:"start_time"`
	EndTime2    jsonTime `json:"end_time"`
	StartOffset jsonTime `json:"startOffset"`
	EndOffset   jsonTime `json:"endOffset"`
	StartOff2   jsonTime `json:"start_offset"`
	EndOff2     jsonTime `json:"end_offset"`

	Probability *float64 `json:"probability"`
	Confidence  *float64 `json:"confidence"`
	Conf        *float64 `json:"conf"`
	Score       *float64 `json:"score"`

	Speaker       jsonText `json:"speaker"`
	SpeakerTag    jsonText `json:"speakerTag"`
	SpeakerTag2   jsonText `json:"speaker_tag"`
	SpeakerLabel  jsonText `json:"speakerLabel"`
	SpeakerLabel2 jsonText `json:"speaker_label"`
}

func firstTime(times ...jsonTime) float64 {
	for _, t := range times {
		if t.set {
			return t.value
		}
	}
	return unknown
}

func (w *jsonWord) text() string {
	if w.Word != "" {
		return string(w.Word)
	}
	return string(w.Text)
}

func (w *jsonWord) start() float64 {
	return firstTime(w.Start, w.StartTime, w.StartTime2, w.StartOffset, w.StartOff2)
}

func (w *jsonWord) end() float64 {
	return firstTime(w.End, w.EndTime, w.EndTime2, w.EndOffset, w.EndOff2)
}

func (w *jsonWord) confidence() float64 {
	for _, c := range []*float64{w.Probability, w.Confidence, w.Conf, w.Score} {
		if c != nil {
			return *c
		}
	}
	return -1
}

func (w *jsonWord) speaker() string {
	for _, t := range []jsonText{w.Speaker, w.SpeakerLabel, w.SpeakerLabel2} {
		if t != "" {
			return string(t)
		}
	}
	for _, t := range []jsonText{w.SpeakerTag, w.SpeakerTag2} {
		if t != "" && t != "0" { // 0 says that nobody was told apart
			return string(t)
		}
	}
	return ""
}

// addWords appends recognized words to the cue. Recognizers that write a space
// before each word give the parts of "3.5", "4/32" and "twenty-five" without
// one: such a part belongs to the word before it, as does one that begins with
// a joining mark where spaces are not written.
func (c *cue) addWords(words []jsonWord, spaced bool) {
	for i := range words {
		w := &words[i]
		text := w.text()
		fields := strings.Fields(text)
		if len(fields) == 0 {
			continue
		}
		if sp := w.speaker(); sp != "" && sp != c.lastSpeaker() {
			c.addTurn(sp)
		}
		start, end, conf := w.start(), w.end(), w.confidence()
		if n := len(c.words); n > 0 && !c.newTurn() && (spaced && text[0] != ' ' || !spaced && joins(c.words[n-1].text, text)) && c.glue(fields[0]) {
			last := &c.words[n-1]
			last.conf = min(last.conf, conf)
			if !math.IsNaN(end) && len(fields) == 1 {
				last.end = end
			}
			if fields = fields[1:]; len(fields) == 0 {
				continue
			}
			start = unknown
		}
		if len(fields) == 1 {
			c.words = append(c.words, rawWord{text: fields[0], start: start, end: end, conf: conf})
			continue
		}
		for _, f := range spreadText(fields, start, end) {
			f.conf, f.estimated = conf, true
			c.words = append(c.words, f)
		}
	}
}

// newTurn tells whether a turn begins at the next word.
func (c *cue) newTurn() bool {
	return len(c.turns) > 0 && c.turns[len(c.turns)-1].first == len(c.words)
}

// spreadText gives the fields of one recognized "word" with spaces in it their
// share of its time.
func spreadText(fields []string, start, end float64) []rawWord {
	c := cue{start: start, end: end}
	c.addFields(fields)
	if usable(start) && usable(end) && start <= end {
		c.spread()
	}
	return c.words
}

var joinMark = regexp.MustCompile(`^(?:[./,:]\d|[-/]\pL|-\d|%|°)`)

// joins tells whether a part without a space before it goes on with the word
// before.
func joins(before, part string) bool {
	if before == "" || !joinMark.MatchString(part) {
		return false
	}
	last := before[len(before)-1]
	switch {
	case isDigit(last):
		return true
	case last >= 'a' && last <= 'z', last >= 'A' && last <= 'Z':
		return part[0] == '-' || part[0] == '/'
	}
	return false
}

// spaced tells whether words carry the space before them.
func spaced(words []jsonWord) bool {
	with, all := 0, 0
	for i := range words {
		if t := words[i].text(); t != "" {
			all++
			if t[0] == ' ' {
				with++
			}
		}
	}
	return 2*with > all
}

const wordPause = 1.0 // seconds; a longer one parts a bare list of words

// groupWords makes cues of a bare list of words: a new one after a pause
// and where the times go back.
func groupWords(words []jsonWord) []cue {
	var cues []cue
	sp := spaced(words)
	from := 0
	for i := 1; i <= len(words); i++ {
		if i < len(words) && !(words[i].start()-words[i-1].end() > wordPause) && !(words[i].start() < words[i-1].start()) {
			continue
		}
		c := cue{start: unknown, end: unknown, n: len(cues) + 1}
		c.addWords(words[from:i], sp)
		cues = append(cues, c)
		from = i
	}
	return cues
}
