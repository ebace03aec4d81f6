package speech

import (
	"strings"
)

// whisperSegment is one segment of openai-whisper and its relatives
// (github.com/openai/whisper, whisper/transcribe.py): seconds, and words only
// where they were asked for.
type whisperSegment struct {
	jsonWord              // start, end, text, speaker
	Words     []jsonWord  `json:"words"`
	Timestamp [2]jsonTime `json:"timestamp"` // start and end in "chunks"
}

func readWhisper(s *source) ([]cue, error) {
	var file struct {
		Segments []whisperSegment `json:"segments"`
		Chunks   []whisperSegment `json:"chunks"`
		Words    []jsonWord       `json:"words"`
	}
	var target any = &file
	if strings.HasPrefix(strings.TrimSpace(s.text), "[") {
		target = &file.Segments
	}
	if err := s.decodeJSON(target); err != nil {
		return nil, err
	}
	segments := append(file.Segments, file.Chunks...)
	inside, single := 0, 0
	for i := range segments {
		g := &segments[i]
		if !g.Start.set {
			g.Start, g.End = g.Timestamp[0], g.Timestamp[1]
		}
		inside += len(g.Words)
		if len(g.Words) == 0 && len(strings.Fields(g.text())) <= 1 {
			single++
		}
	}
	switch {
	case inside == 0 && len(file.Words) > 0:
		return whisperFlat(segments, file.Words), nil
	case inside == 0 && single*10 > len(segments)*8:
		// Segments of one word each are a list of words.
		words := make([]jsonWord, len(segments))
		for i, g := range segments {
			words[i] = g.jsonWord
		}
		return groupWords(words), nil
	}
	sp := false
	for i := range segments {
		sp = sp || len(segments[i].Words) > 1 && spaced(segments[i].Words)
	}
	cues := make([]cue, 0, len(segments))
	for i := range segments {
		g := &segments[i]
		c := cue{start: g.start(), end: g.end(), n: i + 1}
		if g.speaker() != "" {
			c.addTurn(g.speaker())
		}
		if len(g.Words) > 0 {
			c.addWords(g.Words, sp)
		} else {
			c.addLabeled(g.text())
		}
		if first, last := c.measured(); c.start != c.start && first > last && len(c.words) > 0 {
			s.warn(0, c.n, "segments without times", "no times; %s was put after the segment before it", quote(c.text()))
		}
		cues = append(cues, c)
	}
	return cues, nil
}

// whisperFlat reads a list of words beside the segments. The words lack
// punctuation; where the segments' text has as many words, it is theirs.
func whisperFlat(segments []whisperSegment, words []jsonWord) []cue {
	total := 0
	for i := range segments {
		total += len(strings.Fields(segments[i].text()))
	}
	if total != len(words) {
		return groupWords(words)
	}
	cues := make([]cue, 0, len(segments))
	for i := range segments {
		g := &segments[i]
		c := cue{start: unknown, end: unknown, n: i + 1}
		if g.speaker() != "" {
			c.addTurn(g.speaker())
		}
		for _, f := range strings.Fields(g.text()) {
			words[0].Word = jsonText(f)
			c.addWords(words[:1], false)
			words = words[1:]
		}
		cues = append(cues, c)
	}
	return cues
}
