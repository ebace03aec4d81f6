package speech

import (
	"encoding/json"
	"errors"
	"io"
	"strings"
)

// voskResult is one utterance as Vosk gives it (github.com/alphacep/vosk-api,
// src/vosk_api.h): words with seconds, where they were asked for. A recording
// is a row of them, one after the other, by lines or in a list. With n-best
// lists on, the words are in the alternatives.
type voskResult struct {
	Result       []jsonWord `json:"result"`
	Text         string     `json:"text"`
	Partial      *string    `json:"partial"`
	Speaker      jsonText   `json:"speaker"`
	Alternatives []struct {
		Result []jsonWord `json:"result"`
		Text   string     `json:"text"`
	} `json:"alternatives"`
}

func readVosk(s *source) ([]cue, error) {
	results, lines, err := s.voskResults()
	if err != nil {
		return nil, err
	}
	var cues []cue
	timed := false
	for i, r := range results {
		words, text := r.Result, r.Text
		if len(words) == 0 && len(r.Alternatives) > 0 {
			words, text = r.Alternatives[0].Result, r.Alternatives[0].Text
		}
		c := cue{start: unknown, end: unknown, line: lines[i], n: i + 1}
		if r.Speaker != "" {
			c.addTurn(string(r.Speaker))
		}
		c.addWords(words, false)
		if len(c.words) > 0 {
			timed = true
		} else if c.addText(text); len(c.words) > 0 {
			s.warn(c.line, c.n, "utterances without word times", "no word times; %s was put after the utterance before it", quote(text))
		}
		cues = append(cues, c)
	}
	if !timed {
		return nil, s.errorf(0, "switch word times on in the speech-to-text", "no word in the JSON has a time")
	}
	return cues, nil
}

// voskResults reads the row of utterances and the line where each begins. Where
// one is damaged or cut off, it goes on at the next line that begins an object.
func (s *source) voskResults() (results []voskResult, lines []int, err error) {
	if strings.HasPrefix(strings.TrimSpace(s.text), "[") {
		err := s.decodeJSON(&results)
		return results, make([]int, len(results)), err
	}
	text, _ := laxNumbers(s.text)
	line, counted := 1, 0 // line of the byte at counted
	for at := 0; at < len(text); {
		dec := json.NewDecoder(strings.NewReader(text[at:]))
		for {
			var r voskResult
			before := at + int(dec.InputOffset())
			err := dec.Decode(&r)
			if errors.Is(err, io.EOF) {
				return results, lines, nil
			}
			before += len(text[before:]) - len(strings.TrimLeft(text[before:], " \t\n"))
			line += strings.Count(text[counted:before], "\n")
			counted = before
			if err != nil {
				end := len(text)
				if next := strings.Index(text[before:], "\n{"); next >= 0 {
					end = before + next + 1
				} else if len(results) == 0 {
					return nil, nil, s.jsonError(err, int64(at))
				}
				s.warn(line, 0, "damaged utterances", "damaged or cut off JSON left out: %s", quote(text[before:end]))
				at = end
				break
			}
			if r.Partial == nil {
				results = append(results, r)
				lines = append(lines, line)
			}
		}
	}
	return results, lines, nil
}
