package speech

import (
	"regexp"
	"strings"
)

// whisperCPPFile is what whisper.cpp writes with -oj and, with tokens, -ojf
// (github.com/ggml-org/whisper.cpp, examples/cli/cli.cpp). Offsets are
// milliseconds.
type whisperCPPFile struct {
	Transcription []struct {
		Timestamps cppSpan    `json:"timestamps"`
		Offsets    cppSpan    `json:"offsets"`
		Text       string     `json:"text"`
		Tokens     []cppToken `json:"tokens"`
		Speaker    jsonText   `json:"speaker"`
	} `json:"transcription"`
}

type cppSpan struct {
	From jsonTime `json:"from"`
	To   jsonTime `json:"to"`
}

type cppToken struct {
	Text    string   `json:"text"`
	Offsets cppSpan  `json:"offsets"`
	P       *float64 `json:"p"`
}

// cppSpecial are tokens that mark a place and were not said.
var cppSpecial = regexp.MustCompile(`^\s*(?:\[_[A-Z]+_?\d*\]|<\|.*\|>)\s*$`)

func readWhisperCPP(s *source) ([]cue, error) {
	var file whisperCPPFile
	if err := s.decodeJSON(&file); err != nil {
		return nil, err
	}
	single := 0
	for _, g := range file.Transcription {
		if len(strings.Fields(g.Text)) <= 1 {
			single++
		}
	}
	if single*10 > len(file.Transcription)*8 {
		// Asked for segments of one token (-ml 1), it writes a list of words.
		words := make([]jsonWord, len(file.Transcription))
		for i, g := range file.Transcription {
			start, end := cppTimes(g.Offsets, g.Timestamps)
			words[i] = jsonWord{Word: jsonText(g.Text), Start: given(start), End: given(end), Speaker: g.Speaker}
		}
		return groupWords(words), nil
	}
	cues := make([]cue, 0, len(file.Transcription))
	for i, g := range file.Transcription {
		c := cue{n: i + 1}
		c.start, c.end = cppTimes(g.Offsets, g.Timestamps)
		if g.Speaker != "" {
			c.addTurn(string(g.Speaker))
		}
		c.addTokens(g.Tokens, strings.Fields(g.Text))
		if len(c.words) == 0 {
			c.addLabeled(g.Text)
		}
		if c.start != c.start {
			s.warn(0, c.n, "segments without times", "no times; %s was put after the segment before it", quote(c.text()))
		}
		cues = append(cues, c)
	}
	return cues, nil
}

// given makes a time of seconds; NaN is none.
func given(seconds float64) jsonTime { return jsonTime{seconds, seconds == seconds} }

// cppTimes prefers offsets, in milliseconds, to the timestamps "00:00:01,200".
func cppTimes(offsets, stamps cppSpan) (start, end float64) {
	pick := func(ms, stamp jsonTime) float64 {
		if ms.set {
			return ms.value / 1000
		}
		return stamp.seconds()
	}
	return pick(offsets.From, stamps.From), pick(offsets.To, stamps.To)
}

// addTokens joins the tokens, which are parts of words, at the spaces before
// them. The segment's own text has the better spelling where characters were
// cut in two, and it counts where it has as many words.
func (c *cue) addTokens(tokens []cppToken, fields []string) {
	timed := false
	for _, t := range tokens {
		timed = timed || t.Offsets.From.set
	}
	if !timed {
		return
	}
	var words []jsonWord
	for _, t := range tokens {
		if cppSpecial.MatchString(t.Text) || strings.TrimSpace(t.Text) == "" {
			continue
		}
		start, end := cppTimes(t.Offsets, cppSpan{})
		words = append(words, jsonWord{Word: jsonText(t.Text), Start: given(start), End: given(end), Probability: t.P})
	}
	c.addWords(words, true)
	if len(fields) == len(c.words) {
		for i := range fields {
			c.words[i].text = fields[i]
		}
	}
}
