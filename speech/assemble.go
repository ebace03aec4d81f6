package speech

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"unicode"
)

// Speaking speed bounds what cannot be measured, so that dead air is not
// hidden under a stretched word. Both are common practice, no source: slow
// clear speech is about 100 words a minute, 0.6 s a word.
const (
	secondsPerWord = 0.6
	shortestTurn   = 2.0 // seconds, for a line of one to three words
	longestWord    = 1.0 // seconds, for a word whose end the source does not give
	longGap        = 3600.0
	latest         = 1e7 // seconds, some 115 days: no recording is longer
)

// speakingTime is the longest that n words without a known end may take.
func speakingTime(n int) float64 {
	return max(shortestTurn, secondsPerWord*float64(n))
}

// assemble turns the cues of any format into a transcript that keeps every
// promise of Transcript: finite times, words and segments in order of start,
// contiguous segments, no empty words.
func (s *source) assemble(cues []cue) (*Transcript, error) {
	s.dropRepeats(cues)
	s.dropSounds(cues)
	cues = slices.DeleteFunc(cues, func(c cue) bool { return len(c.words) == 0 })
	total := 0
	for i := range cues {
		total += len(cues[i].words)
	}
	switch {
	case total == 0:
		return nil, s.errorf(0, "check that the recording has speech and that the speech-to-text finished", "not a single word in the transcript")
	case total > maxWords:
		return nil, s.errorf(0, "give the transcript of one recording", "%d words, more than the limit of %d", total, maxWords)
	}
	carrySpeakers(cues)
	s.checkWords(cues)
	s.place(cues)
	s.sortCues(cues)
	cues = s.dropDuplicates(cues)
	s.close(cues)
	for i := range cues {
		cues[i].spread()
	}
	t := &Transcript{Name: s.name}
	s.lay(t, cues)
	s.warnGaps(t)
	t.Warnings = s.warnings()
	return t, nil
}

// dropRepeats takes out what rolling captions show again.
func (s *source) dropRepeats(cues []cue) {
	repeats := rolling(cues)
	count, first := 0, -1
	for i, n := range repeats {
		if n > 0 {
			if count++; first < 0 {
				first = i
			}
			cues[i].trim(n)
		}
	}
	for i := range cues {
		if c := &cues[i]; c.timed && len(c.words) > 0 && math.IsNaN(c.words[0].start) {
			c.words[0].start = c.start
		}
	}
	if count > 0 {
		s.warn(cues[first].line, cues[first].n, "rolling captions", "rolling captions: the line shown again was left out (%d in all)", count)
	}
}

func (s *source) dropSounds(cues []cue) {
	count, line, n, example := 0, 0, 0, ""
	for i := range cues {
		k, text := cues[i].dropSounds()
		if count == 0 && k > 0 {
			line, n, example = cues[i].line, cues[i].n, text
		}
		count += k
	}
	if count > 0 {
		s.warn(line, n, "sounds", "sounds in brackets were left out (%d in all), such as %s", count, quote(example))
	}
}

// carrySpeakers lets a label hold on to the cues after it that have none,
// where the source labels at least two speakers. With one label only, such as
// the examiner's, the unlabeled cues are likely the other's.
func carrySpeakers(cues []cue) {
	labels := map[string]bool{}
	for i := range cues {
		for _, t := range cues[i].turns {
			if cues[i].carry && t.speaker != "" {
				labels[t.speaker] = true
			}
		}
	}
	if len(labels) < 2 {
		return
	}
	last := ""
	for i := range cues {
		c := &cues[i]
		if last != "" && (len(c.turns) == 0 || c.turns[0].first > 0) {
			c.turns = slices.Insert(c.turns, 0, turn{0, last})
		}
		if c.carry {
			last = c.turns[len(c.turns)-1].speaker
		}
	}
}

// usable tells whether a time can be a place in a recording.
func usable(t float64) bool { return t >= 0 && t <= latest } // false for NaN

// checkWords makes every time of a word usable or unknown.
func (s *source) checkWords(cues []cue) {
	for i := range cues {
		c := &cues[i]
		for j := range c.words {
			w := &c.words[j]
			if !math.IsNaN(w.start) && !usable(w.start) || !math.IsNaN(w.end) && !usable(w.end) {
				s.warn(c.line, c.n, "words with an impossible time", "word %s has the impossible time %g to %g; its place was estimated", quote(w.text), w.start, w.end)
			}
			if !usable(w.start) {
				w.start, w.end = unknown, unknown
			}
			if !usable(w.end) {
				w.end = unknown
			}
			if w.end < w.start {
				s.warn(c.line, c.n, "words that end before they start", "word %s ends at %g, before it starts at %g", quote(w.text), w.end, w.start)
				w.end = unknown
			}
			if !(w.conf >= 0 && w.conf <= 1) {
				w.conf = -1
			}
		}
	}
}

// place gives every cue a start, from its words or from the cue before it, and
// leaves an end that cannot be right unknown.
func (s *source) place(cues []cue) {
	before := 0.0
	for i := range cues {
		c := &cues[i]
		first, last := c.measured()
		if !math.IsNaN(c.start) && !usable(c.start) {
			if c.start < 0 && c.start > -latest {
				s.warn(c.line, c.n, "cues with a negative time", "the start %g is negative; taken as 0", c.start)
				c.start = 0
			} else {
				s.warn(c.line, c.n, "cues with an impossible time", "the start %g is impossible; %s was put after the cue before it", c.start, quote(c.text()))
				c.start = unknown
			}
		}
		if !math.IsNaN(c.end) && !usable(c.end) {
			s.warn(c.line, c.n, "cues with an impossible end", "the end %g is impossible; it was estimated", c.end)
			c.end = unknown
		}
		if first <= last { // some word has a time
			if math.IsNaN(c.start) || first < c.start {
				c.start = first
			}
			if !math.IsNaN(c.end) || !c.openTail() {
				c.end = max(last, c.end)
				if math.IsNaN(c.end) {
					c.end = last
				}
			}
		}
		if math.IsNaN(c.start) {
			c.start = before
		}
		if c.end < c.start {
			s.warn(c.line, c.n, "cues that end before they start", "the cue ends at %s, before it starts at %s; its end was estimated", clock(c.end), clock(c.start))
			c.end = unknown
		}
		if math.IsNaN(c.end) {
			c.end, c.capped = latest, true
		}
		before = c.end
		if c.capped {
			before = min(c.end, c.start+speakingTime(len(c.words)))
		}
	}
}

// measured gives the first and the last time that any word of the cue has;
// first > last when none has one.
func (c *cue) measured() (first, last float64) {
	first, last = math.Inf(1), math.Inf(-1)
	for _, w := range c.words {
		if !math.IsNaN(w.start) {
			first, last = min(first, w.start), max(last, w.start)
		}
		if !math.IsNaN(w.end) {
			last = max(last, w.end)
		}
	}
	return first, last
}

// openTail tells whether the last word's end is unknown.
func (c *cue) openTail() bool { return math.IsNaN(c.words[len(c.words)-1].end) }

func (s *source) sortCues(cues []cue) {
	back, at := 0, 0
	for i := 1; i < len(cues); i++ {
		if cues[i].start < cues[i-1].start {
			if back++; back == 1 {
				at = i
			}
		}
	}
	if back > 0 {
		c := cues[at]
		s.warn(c.line, c.n, "times that run backwards", "times run backwards from %s to %s (%d in all); sorted by start", clock(cues[at-1].start), clock(c.start), back)
		slices.SortStableFunc(cues, func(a, b cue) int { return cmp.Compare(a.start, b.start) })
	}
}

// dropDuplicates leaves out a cue that says the same at the same time as
// another.
func (s *source) dropDuplicates(cues []cue) []cue {
	out := cues[:0]
	for i := range cues {
		c := cues[i]
		twin := false
		for k := len(out) - 1; k >= 0 && out[k].start == c.start && !twin && len(out)-k <= 8; k-- {
			twin = out[k].end == c.end && out[k].sameAs(&c)
		}
		if twin {
			s.warn(c.line, c.n, "duplicate cues", "duplicate cue at %s left out", clock(c.start))
			continue
		}
		out = append(out, c)
	}
	return out
}

func (c *cue) sameAs(d *cue) bool {
	return c.lastSpeaker() == d.lastSpeaker() &&
		slices.EqualFunc(c.words, d.words, func(a, b rawWord) bool { return a.text == b.text })
}

func (c *cue) lastSpeaker() string {
	if len(c.turns) == 0 {
		return ""
	}
	return c.turns[len(c.turns)-1].speaker
}

// close settles where cues end: an estimated end is bounded by the next start
// and by speaking speed, and cues of one speaker whose words have no times of
// their own do not overlap.
func (s *source) close(cues []cue) {
	const slack = 0.001 // rounding in the source
	for i := 0; i < len(cues); {
		j := i + 1 // cues[i:j] start together
		for j < len(cues) && cues[j].start == cues[i].start {
			j++
		}
		next := latest
		if j < len(cues) {
			next = cues[j].start
		}
		run := cues[i:j]
		for k := range run {
			c := &run[k]
			if c.capped {
				c.end = min(c.end, next, c.start+speakingTime(len(c.words)))
			}
			same := j < len(cues) && c.lastSpeaker() == cues[j].firstSpeaker()
			over := c.end - next
			if clipped := c.clip(next, same); over > slack && (clipped || same) {
				s.warn(c.line, c.n, "overlapping cues", "overlaps the next cue by %.1f s", over)
			}
		}
		if len(run) > 1 {
			s.share(run)
		}
		i = j
	}
}

// clip ends the cue at next unless its overlap may be true: two speakers at
// once whose words have times, or whose overlap is long; or one speaker's words
// whose times say so. It tells whether it did.
func (c *cue) clip(next float64, sameSpeaker bool) bool {
	const short = 1.0 // seconds
	first, last := c.measured()
	measured := first <= last
	if c.end <= next || measured && !sameSpeaker || c.end-next > short && (measured || !sameSpeaker) {
		return false
	}
	c.end = next
	for i := range c.words {
		w := &c.words[i]
		w.start, w.end = min(w.start, next), min(w.end, next) // NaN stays NaN
	}
	return true
}

func (c *cue) firstSpeaker() string {
	speaker := ""
	for _, t := range c.turns {
		if t.first > 0 {
			break
		}
		speaker = t.speaker
	}
	return speaker
}

// share lays cues that start together, and have no word times, one after the
// other, by length.
func (s *source) share(run []cue) {
	start, end, total := run[0].start, run[0].start, 0.0
	for k := range run {
		if first, last := run[k].measured(); first <= last || run[k].lastSpeaker() != run[0].lastSpeaker() {
			return
		}
		end = max(end, run[k].end)
		total += weights(run[k].words)
	}
	s.warn(run[1].line, run[1].n, "cues that start together", "%d cues start together at %s; put one after the other", len(run), clock(start))
	done := 0.0
	for k := range run {
		run[k].start = start + (end-start)*done/total
		done += weights(run[k].words)
		run[k].end = start + (end-start)*done/total
	}
}

// weight is the length of a word in speaking time: its letters and digits and
// one for the gap.
func weight(word string) float64 {
	n := 1
	for _, r := range word {
		if unicode.IsLetter(r) || unicode.IsDigit(r) {
			n++
		}
	}
	return float64(n)
}

func weights(words []rawWord) float64 {
	sum := 0.0
	for _, w := range words {
		sum += weight(w.text)
	}
	return sum
}

// spread gives times to the words that have none, by their length, between
// the neighbors that have some. Afterwards starts rise within the cue.
func (c *cue) spread() {
	at := c.start
	for i := 0; i < len(c.words); {
		w := &c.words[i]
		known := !math.IsNaN(w.start)
		j := i + 1
		for j < len(c.words) && math.IsNaN(c.words[j].start) {
			j++
		}
		hi := c.end
		if j < len(c.words) {
			hi = c.words[j].start
		}
		lo := at
		if known {
			lo = max(at, w.start)
			w.start = lo
		}
		hi = max(hi, lo)
		from := i
		if known && !math.IsNaN(w.end) {
			w.end = max(w.end, lo)
			lo = w.end
			hi = max(hi, lo)
			from = i + 1
		} else if known && j == i+1 {
			// A mark before a word measures its start, and the next mark
			// bounds its end.
			w.end = min(hi, lo+longestWord)
			from = j
		}
		c.spreadRun(from, j, lo, hi)
		at = c.words[j-1].start
		i = j
	}
}

// spreadRun spreads the words [i:j) over lo to hi.
func (c *cue) spreadRun(i, j int, lo, hi float64) {
	total, done := weights(c.words[i:j]), 0.0
	for k := i; k < j; k++ {
		w := &c.words[k]
		w.start = lo + (hi-lo)*done/total
		done += weight(w.text)
		w.end = max(w.start, lo+(hi-lo)*done/total)
		w.estimated = true
	}
}

// lay writes the words and segments of the cues, in order of time. A segment
// is a run of words of one cue and one speaker: a cue is cut where the speaker
// changes, and where another cue's words fall between its own.
func (s *source) lay(t *Transcript, cues []cue) {
	type place struct{ cue, word int }
	total := 0
	for i := range cues {
		total += len(cues[i].words)
	}
	order := make([]place, 0, total)
	sorted := true
	prev := math.Inf(-1)
	for i := range cues {
		for j, w := range cues[i].words {
			sorted = sorted && w.start >= prev
			prev = w.start
			order = append(order, place{i, j})
		}
	}
	if !sorted {
		slices.SortStableFunc(order, func(a, b place) int {
			return cmp.Compare(cues[a.cue].words[a.word].start, cues[b.cue].words[b.word].start)
		})
	}
	t.Words = make([]Word, 0, total)
	turnAt := make([]int, len(cues)) // turns of each cue already begun
	for k, p := range order {
		c := &cues[p.cue]
		w := c.words[p.word]
		fresh := k == 0 || order[k-1].cue != p.cue
		for turnAt[p.cue] < len(c.turns) && c.turns[turnAt[p.cue]].first <= p.word {
			turnAt[p.cue]++
			fresh = true
		}
		if fresh {
			seg := Segment{Start: w.start, End: w.end, First: k, Last: k, Line: c.line, Cue: c.n}
			if n := turnAt[p.cue]; n > 0 {
				seg.Speaker = c.turns[n-1].speaker
			}
			if p.word == 0 {
				seg.Start = min(c.start, w.start)
			}
			if n := len(t.Segments); n > 0 {
				seg.Start = max(seg.Start, t.Segments[n-1].Start)
			}
			t.Segments = append(t.Segments, seg)
		}
		n := len(t.Segments) - 1
		seg := &t.Segments[n]
		seg.Last = k + 1
		seg.End = max(seg.End, w.end)
		if p.word == len(c.words)-1 {
			seg.End = max(seg.End, c.end)
		}
		t.Words = append(t.Words, Word{Text: w.text, Start: w.start, End: w.end, Confidence: w.conf, Segment: n, Estimated: w.estimated})
	}
}

func (s *source) warnGaps(t *Transcript) {
	for i := 1; i < len(t.Segments); i++ {
		a, b := t.Segments[i-1], t.Segments[i]
		if gap := b.Start - a.End; gap > longGap {
			s.warn(b.Line, b.Cue, "long gaps", "nothing for %.1f hours before %s; check the times", gap/3600, clock(b.Start))
		}
	}
}

// clock writes seconds as m:ss.s or h:mm:ss.s.
func clock(seconds float64) string {
	tenths := int64(math.Round(max(0, seconds) * 10))
	h, m, sec := tenths/36000, tenths/600%60, float64(tenths%600)/10
	if h > 0 {
		return fmt.Sprintf("%d:%02d:%04.1f", h, m, sec)
	}
	return fmt.Sprintf("%d:%04.1f", m, sec)
}
