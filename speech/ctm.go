package speech

import (
	"regexp"
	"strconv"
	"strings"
)

// The CTM format is defined in NIST's Scoring Toolkit (SCTK), doc/infmts.htm:
// file, channel, begin, duration, word and an optional confidence; ";;" begins
// a comment. Some tools add a type and a speaker.

const ctmPause = 1.0 // seconds; a longer one begins a new segment

// ctmLine splits a record into its fields; false for comments and blank lines.
func ctmLine(line string) ([]string, bool) {
	line = strings.TrimSpace(line)
	if line == "" || strings.HasPrefix(line, ";;") {
		return nil, false
	}
	return strings.Fields(line), true
}

var ctmNumber = regexp.MustCompile(`^[-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?$`)

func ctmRecord(f []string) bool {
	return len(f) >= 5 && len(f) <= 8 && ctmNumber.MatchString(f[2]) && ctmNumber.MatchString(f[3])
}

// looksLikeCTM tells whether most of the first records are CTM.
func looksLikeCTM(head string) bool {
	good, all := 0, 0
	for _, l := range strings.Split(head, "\n") {
		f, ok := ctmLine(l)
		if !ok {
			continue
		}
		if all++; ctmRecord(f) || len(f) >= 5 && f[2] == "*" {
			good++
		}
		if all == 50 {
			break
		}
	}
	return good > 0 && good*5 >= all*4
}

func readCTM(s *source) ([]cue, error) {
	type key struct{ channel, speaker string }
	var (
		cues      []cue
		channelOf []string        // of each cue
		open      = map[key]int{} // cue that a speaker's words go on in
		channels  = map[string]bool{}
		file      string
		skip      bool // in the second or later of a list of alternatives
	)
	for i, l := range strings.Split(s.text, "\n") {
		f, ok := ctmLine(l)
		if !ok {
			continue
		}
		if len(f) >= 5 && strings.HasPrefix(f[4], "<ALT") {
			switch f[4] {
			case "<ALT>":
				skip = true
				s.warn(i+1, 0, "alternatives", "an alternative was left out; the first one counts")
			default:
				skip = false
			}
			continue
		}
		if skip {
			continue
		}
		if !ctmRecord(f) {
			s.warn(i+1, 0, "unreadable records", "not a record of file, channel, begin, duration and word; left out: %s", quote(l))
			continue
		}
		if file == "" {
			file = f[0]
		}
		if f[0] != file {
			return nil, s.errorf(i+1, "split the file, one recording each", "a second recording %q after %q", f[0], file)
		}
		word := f[4]
		if word == "@" { // the null word
			continue
		}
		begin, err1 := strconv.ParseFloat(f[2], 64)
		dur, err2 := strconv.ParseFloat(f[3], 64)
		if err1 != nil || err2 != nil || dur < 0 || !usable(begin) {
			s.warn(i+1, 0, "unreadable times", "unusable begin %s and duration %s; the place of %s was estimated", f[2], f[3], quote(word))
			begin, dur = unknown, unknown
		}
		conf := -1.0
		if len(f) >= 6 {
			if v, err := strconv.ParseFloat(f[5], 64); err == nil {
				conf = v
			}
		}
		k := key{channel: f[1]}
		if len(f) == 8 && !strings.EqualFold(f[7], "unknown") {
			k.speaker = f[7]
		}
		channels[k.channel] = true
		n, ok := open[k]
		if ok {
			words := cues[n].words
			last := words[len(words)-1]
			ok = !(begin < last.start) && !(begin-last.end > ctmPause)
		}
		if !ok {
			n = len(cues)
			open[k] = n
			cues = append(cues, cue{start: unknown, end: unknown, line: i + 1, n: n + 1})
			cues[n].addTurn(k.speaker)
			channelOf = append(channelOf, k.channel)
		}
		cues[n].words = append(cues[n].words, rawWord{text: word, start: begin, end: begin + dur, conf: conf})
	}
	if len(channels) > 1 { // one channel a speaker
		for i := range cues {
			if t := &cues[i].turns[0]; t.speaker == "" {
				t.speaker = channelOf[i]
			}
		}
	}
	if len(cues) == 0 {
		return nil, s.errorf(0, "a record is: file channel begin duration word", "no CTM record in the file")
	}
	return cues, nil
}
