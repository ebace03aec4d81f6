package speech

import (
	"encoding/json"
	"math"
	"strings"
)

// cloudResult is one stretch of speech in the shape that the cloud services'
// recognize calls share: the best alternative first, its words with times as
// "1.200s" or as seconds and nanos.
type cloudResult struct {
	Alternatives []struct {
		Transcript string     `json:"transcript"`
		Words      []jsonWord `json:"words"`
	} `json:"alternatives"`
	EndTime    jsonTime `json:"resultEndTime"`
	EndTime2   jsonTime `json:"result_end_time"`
	EndOffset  jsonTime `json:"resultEndOffset"`
	EndOffset2 jsonTime `json:"result_end_offset"`
}

func readCloud(s *source) ([]cue, error) {
	var file struct {
		Results  json.RawMessage `json:"results"`
		Response struct {
			Results json.RawMessage `json:"results"`
		} `json:"response"`
	}
	var results []cloudResult
	if strings.HasPrefix(strings.TrimSpace(s.text), "[") {
		if err := s.decodeJSON(&results); err != nil {
			return nil, err
		}
	} else {
		if err := s.decodeJSON(&file); err != nil {
			return nil, err
		}
		raw := file.Results
		if raw == nil {
			raw = file.Response.Results
		}
		if err := json.Unmarshal(raw, &results); err != nil {
			return nil, s.errorf(0, "export SRT or WebVTT instead", "JSON of an unknown shape: \"results\" is not a list of alternatives with words")
		}
	}
	results = s.dropWhole(results)
	var cues []cue
	end := 0.0
	timed := false
	for i, r := range results {
		if len(r.Alternatives) == 0 {
			continue
		}
		best := r.Alternatives[0]
		c := cue{start: unknown, end: firstTime(r.EndTime, r.EndTime2, r.EndOffset, r.EndOffset2), n: i + 1}
		c.addWords(best.Words, false)
		if len(c.words) > 0 {
			c.end = unknown
		} else if c.addText(best.Transcript); len(c.words) > 0 && c.end > end {
			c.start = end
		}
		first, last := c.measured()
		timed = timed || first <= last || usable(c.start)
		if usable(c.end) {
			end = c.end
		} else if usable(last) {
			end = last
		}
		cues = append(cues, c)
	}
	if !timed {
		return nil, s.errorf(0, "switch word time offsets on in the speech-to-text", "no word in the JSON has a time")
	}
	return cues, nil
}

// dropWhole handles recordings with speakers told apart: the last result then
// says all the words once more, with their speakers.
func (s *source) dropWhole(results []cloudResult) []cloudResult {
	n := len(results)
	if n < 2 || len(results[n-1].Alternatives) == 0 {
		return results
	}
	last := results[n-1].Alternatives[0].Words
	before, start := 0, math.Inf(1)
	for _, r := range results[:n-1] {
		if len(r.Alternatives) > 0 && len(r.Alternatives[0].Words) > 0 {
			words := r.Alternatives[0].Words
			before += len(words)
			start = min(start, words[0].start())
		}
	}
	if before == 0 || len(last) < before || !(last[0].start() <= start) || last[0].speaker() == "" {
		return results
	}
	s.warn(0, n, "repeated results", "the last result repeats all words with their speakers; the %d before it were left out", n-1)
	return results[n-1:]
}
