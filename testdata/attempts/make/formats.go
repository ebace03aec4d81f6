package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"strings"
)

// formats gives for each format of a script's header how it is written.
var formats map[string]struct {
	ext   string
	write func(s *script, words []word) ([]byte, error)
}

func init() {
	type f = struct {
		ext   string
		write func(s *script, words []word) ([]byte, error)
	}
	formats = map[string]f{
		"srt":        {"srt", writeSRT},
		"vtt":        {"vtt", writeVTT},
		"text":       {"txt", writeText},
		"ctm":        {"ctm", writeCTM},
		"whisper":    {"json", writeWhisper},
		"whispercpp": {"json", writeWhisperCPP},
		"vosk":       {"json", writeVosk},
		"cloud":      {"json", writeCloud},
	}
}

func voice(examiner bool) string {
	if examiner {
		return "Examiner"
	}
	return "Student"
}

// label is the voice before a cue in formats without a field for it.
func label(s *script, g segment) string {
	if !s.speakers {
		return ""
	}
	return voice(g[0].examiner) + ": "
}

func clock(sec float64, point string) string {
	ms := int(math.Round(sec * 1000))
	return fmt.Sprintf("%02d:%02d:%02d%s%03d", ms/3600000, ms/60000%60, ms/1000%60, point, ms%1000)
}

func writeSRT(s *script, words []word) ([]byte, error) {
	var b bytes.Buffer
	for i, g := range cues(s, words) {
		fmt.Fprintf(&b, "%d\n%s --> %s\n%s%s\n\n", i+1, clock(g.start(), ","), clock(g.end(), ","), label(s, g), g.text())
	}
	return b.Bytes(), nil
}

// writeVTT writes voice tags where speakers are labeled. Word times within cues would be
// legal, but the tools that make such files from speech seldom write them.
func writeVTT(s *script, words []word) ([]byte, error) {
	escape := strings.NewReplacer("&", "&amp;", "<", "&lt;", ">", "&gt;")
	var b bytes.Buffer
	fmt.Fprintf(&b, "WEBVTT\n\nNOTE Invented attempt %s\n\n", s.id)
	for _, g := range cues(s, words) {
		tag := ""
		if s.speakers {
			tag = "<v " + voice(g[0].examiner) + ">"
		}
		fmt.Fprintf(&b, "%s --> %s\n%s%s\n\n", clock(g.start(), "."), clock(g.end(), "."), tag, escape.Replace(g.text()))
	}
	return b.Bytes(), nil
}

func writeText(s *script, words []word) ([]byte, error) {
	var b bytes.Buffer
	for _, g := range cues(s, words) {
		sec := int(g.start())
		fmt.Fprintf(&b, "[%d:%02d] %s%s\n", sec/60, sec%60, label(s, g), g.text())
	}
	return b.Bytes(), nil
}

func writeCTM(s *script, words []word) ([]byte, error) {
	var b bytes.Buffer
	fmt.Fprintf(&b, ";; invented attempt %s\n", s.id)
	for _, w := range words {
		fmt.Fprintf(&b, "%s 1 %.2f %.2f %s %.3f\n", s.id, w.start, w.end-w.start, w.text, w.conf)
	}
	return b.Bytes(), nil
}

func marshal(v any) ([]byte, error) {
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	e.SetIndent("", " ")
	err := e.Encode(v)
	return b.Bytes(), err
}

func writeWhisper(s *script, words []word) ([]byte, error) {
	type wordJSON struct {
		Word        string  `json:"word"`
		Start       float64 `json:"start"`
		End         float64 `json:"end"`
		Probability float64 `json:"probability"`
		Speaker     string  `json:"speaker,omitempty"`
	}
	type segmentJSON struct {
		ID          int        `json:"id"`
		Seek        int        `json:"seek"`
		Start       float64    `json:"start"`
		End         float64    `json:"end"`
		Text        string     `json:"text"`
		Tokens      []int      `json:"tokens"`
		Temperature float64    `json:"temperature"`
		AvgLogprob  float64    `json:"avg_logprob"`
		Compression float64    `json:"compression_ratio"`
		NoSpeech    float64    `json:"no_speech_prob"`
		Words       []wordJSON `json:"words,omitempty"`
		Speaker     string     `json:"speaker,omitempty"`
	}
	out := struct {
		Text     string        `json:"text"`
		Segments []segmentJSON `json:"segments"`
		Language string        `json:"language"`
	}{Language: "en"}
	for i, g := range cues(s, words) {
		speaker := ""
		if s.speakers {
			speaker = strings.ToUpper(voice(g[0].examiner))
		}
		seg := segmentJSON{ID: i, Seek: int(g.start()/30) * 3000, Start: g.start(), End: g.end(), Text: " " + g.text(),
			Tokens: []int{}, AvgLogprob: -0.25, Compression: 1.6, NoSpeech: 0.02, Speaker: speaker}
		if s.wordly {
			for _, w := range g {
				seg.Words = append(seg.Words, wordJSON{" " + w.text, w.start, w.end, w.conf, speaker})
			}
		}
		out.Text += seg.Text
		out.Segments = append(out.Segments, seg)
	}
	return marshal(out)
}

// writeWhisperCPP writes the short form, or with "words: yes" the full one with tokens,
// which are parts of words; a leading space begins a new word.
func writeWhisperCPP(s *script, words []word) ([]byte, error) {
	type stamps struct {
		From string `json:"from"`
		To   string `json:"to"`
	}
	type offsets struct {
		From int `json:"from"`
		To   int `json:"to"`
	}
	type token struct {
		Text       string  `json:"text"`
		Timestamps stamps  `json:"timestamps"`
		Offsets    offsets `json:"offsets"`
		ID         int     `json:"id"`
		P          float64 `json:"p"`
		DTW        int     `json:"t_dtw"`
	}
	type piece struct {
		Timestamps stamps  `json:"timestamps"`
		Offsets    offsets `json:"offsets"`
		Text       string  `json:"text"`
		Tokens     []token `json:"tokens,omitempty"`
		Speaker    string  `json:"speaker,omitempty"`
	}
	span := func(from, to float64) (stamps, offsets) {
		return stamps{clock(from, ","), clock(to, ",")}, offsets{int(math.Round(from * 1000)), int(math.Round(to * 1000))}
	}
	id := func(text string) int { // any stable number does: readers must not need it
		n := 1000
		for _, r := range text {
			n = (n*31 + int(r)) % 50000
		}
		return n
	}
	var pieces []piece
	for _, g := range cues(s, words) {
		var p piece
		p.Timestamps, p.Offsets = span(g.start(), g.end())
		p.Text = " " + g.text()
		if s.speakers {
			p.Speaker = map[bool]string{false: "0", true: "1"}[g[0].examiner]
		}
		if s.wordly {
			first := token{Text: "[_BEG_]", ID: 50363, P: 0.97, DTW: -1}
			first.Timestamps, first.Offsets = span(g.start(), g.start())
			p.Tokens = append(p.Tokens, first)
			for _, w := range g {
				from := w.start
				for _, text := range subwords(" " + w.text) {
					to := from + (w.end-w.start)*float64(len(text))/float64(len(w.text)+1)
					t := token{Text: text, ID: id(text), P: w.conf, DTW: -1}
					t.Timestamps, t.Offsets = span(from, to)
					p.Tokens = append(p.Tokens, t)
					from = to
				}
			}
		}
		pieces = append(pieces, p)
	}
	return marshal(map[string]any{
		"systeminfo":    "invented attempt " + s.id,
		"model":         map[string]any{"type": "base", "multilingual": false},
		"params":        map[string]any{"model": "base.en", "language": "en", "translate": false},
		"result":        map[string]any{"language": "en"},
		"transcription": pieces,
	})
}

// subwords parts long words after the fifth letter, and parts off a closing mark.
func subwords(t string) []string {
	var out []string
	tail := ""
	if strings.ContainsAny(t[len(t)-1:], ".,?!") {
		t, tail = t[:len(t)-1], t[len(t)-1:]
	}
	if rs := []rune(t); len(rs) > 9 {
		out = append(out, string(rs[:6]), string(rs[6:]))
	} else {
		out = append(out, t)
	}
	if tail != "" {
		out = append(out, tail)
	}
	return out
}

// writeVosk writes one object an utterance, one after another: a stream, not an array.
func writeVosk(s *script, words []word) ([]byte, error) {
	type wordJSON struct {
		Conf  float64 `json:"conf"`
		End   float64 `json:"end"`
		Start float64 `json:"start"`
		Word  string  `json:"word"`
	}
	var b bytes.Buffer
	for _, g := range utterances(s, words) {
		var ws []wordJSON
		for _, w := range g {
			ws = append(ws, wordJSON{w.conf, w.end, w.start, w.text})
		}
		data, err := marshal(struct {
			Result []wordJSON `json:"result"`
			Text   string     `json:"text"`
		}{ws, g.text()})
		if err != nil {
			return nil, err
		}
		b.Write(data)
	}
	return b.Bytes(), nil
}

func writeCloud(s *script, words []word) ([]byte, error) {
	type wordJSON struct {
		StartTime  string  `json:"startTime"`
		EndTime    string  `json:"endTime"`
		Word       string  `json:"word"`
		Confidence float64 `json:"confidence"`
		SpeakerTag int     `json:"speakerTag,omitempty"`
	}
	type alternative struct {
		Transcript string     `json:"transcript"`
		Confidence float64    `json:"confidence"`
		Words      []wordJSON `json:"words,omitempty"`
	}
	type result struct {
		Alternatives  []alternative `json:"alternatives"`
		ResultEndTime string        `json:"resultEndTime"`
		LanguageCode  string        `json:"languageCode"`
	}
	sec := func(x float64) string { return fmt.Sprintf("%.3fs", x) }
	var results []result
	for _, g := range utterances(s, words) {
		a := alternative{Transcript: g.text()}
		for _, w := range g {
			tag := 0
			if s.speakers {
				tag = map[bool]int{false: 1, true: 2}[w.examiner]
			}
			a.Words = append(a.Words, wordJSON{sec(w.start), sec(w.end), w.text, w.conf, tag})
			a.Confidence += w.conf
		}
		a.Confidence = hundredth(a.Confidence / float64(len(g)))
		if !s.wordly {
			a.Words = nil
		}
		results = append(results, result{[]alternative{a}, sec(g.end()), "en-us"})
	}
	return marshal(map[string]any{"results": results})
}
