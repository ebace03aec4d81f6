package report

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"

	"markaround/rubric"
	"markaround/speech"
)

// toneWAV is a recording of a low tone: 8-bit mono at 4,000 samples a second.
// The form is that of Microsoft's Multimedia Programming Interface 1.0 (1991).
func toneWAV(seconds float64) []byte {
	const rate = 4000
	n := uint32(seconds * rate)
	var b bytes.Buffer
	b.WriteString("RIFF")
	binary.Write(&b, binary.LittleEndian, 36+n)
	b.WriteString("WAVEfmt ")
	for _, v := range []any{uint32(16), uint16(1), uint16(1), uint32(rate), uint32(rate), uint16(1), uint16(8)} {
		binary.Write(&b, binary.LittleEndian, v)
	}
	b.WriteString("data")
	binary.Write(&b, binary.LittleEndian, n)
	for i := range n {
		b.WriteByte(byte(128 + 20*math.Sin(float64(i)*2*math.Pi*200/rate)))
	}
	return b.Bytes()
}

// toneSound is what such a recording would hold if the words were in it.
func toneSound(t *speech.Transcript, seconds float64) *speech.Sound {
	s := &speech.Sound{Name: "invented.wav", Rate: 4000, Channels: 1, Bits: 8, Seconds: seconds, Step: 0.02, Floor: -60}
	for i := range int(seconds / s.Step) {
		s.Level = append(s.Level, float32(-60+40*(i%2)))
	}
	for _, seg := range t.Segments {
		s.Speech = append(s.Speech, speech.Span{Start: seg.Start, End: seg.End})
	}
	return s
}

// bigReplay is the student's page of the invented attempt, with a recording
// unless change takes it out.
func bigReplay(t *testing.T, change func(*ReplayOptions)) []byte {
	t.Helper()
	s, words := nearSheet()
	seconds := words.Duration() + 5
	s.Recording = &rubric.Recording{File: "invented.wav", Seconds: seconds, Unheard: []rubric.Gap{{Start: 100, End: 104}}, Unspoken: []rubric.Gap{}}
	opt := ReplayOptions{
		Transcript: words, Sound: toneSound(words, seconds),
		Audio: toneWAV(seconds), AudioType: "audio/wav",
	}
	if change != nil {
		change(&opt)
	}
	var b bytes.Buffer
	if err := Replay(&b, s, opt); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// nearSheet is bigSheet with words that came near its first missed item.
func nearSheet() (*rubric.Sheet, *speech.Transcript) {
	s, words := bigSheet()
	for i := range s.Items {
		if it := &s.Items[i]; it.Mark == rubric.Missed && !it.Extra {
			it.Near = []rubric.Evidence{{Words: words.Text(40, 42), First: 40, Last: 42, Start: words.Words[40].Start, End: words.Words[41].End, Confidence: 0.4, Reason: "sounds like it"}}
			break
		}
	}
	return s, words
}

func TestMoments(t *testing.T) {
	s, _ := nearSheet()
	list := Moments(s)
	whys := map[Why]int{}
	for i, m := range list {
		whys[m.Why]++
		if i > 0 && m.Said.Start >= 0 && list[i-1].Said.Start > m.Said.Start {
			t.Errorf("%s comes before %s", list[i-1].Title(), m.Title())
		}
		switch {
		case m.Why == HearWrong && m.Mark != rubric.Wrong, m.Why == HearNear && m.Mark != rubric.Missed, m.Why == HearDoubt && !m.Item.Listen:
			t.Errorf("%s: marked %s, to hear because %s", m.Item.ID, m.Mark, m.Why)
		case !m.Place && m.Said.Words == "":
			t.Errorf("%s: no words", m.Item.ID)
		}
	}
	wrong, doubt := 0, 0
	for _, it := range s.Items {
		parts := 0
		for _, m := range it.Measures {
			if m.Mark == rubric.Wrong {
				parts++
			}
		}
		for _, c := range it.Checks {
			if c.Mark == rubric.Wrong {
				parts++
			}
		}
		wrong += parts
		if it.Listen && parts == 0 && len(it.Near) == 0 && !(it.Extra && it.Mark == rubric.Missed) {
			doubt++
		}
	}
	if whys[HearWrong] != wrong || whys[HearNear] != 1 || whys[HearDoubt] != doubt || doubt == 0 {
		t.Errorf("got %v; want %d wrong, 1 near, %d doubtful", whys, wrong, doubt)
	}
}

// What stands on a card, in the words of the score sheet.
func TestDrill(t *testing.T) {
	it := rubric.ItemMark{
		ID: "steer.slack", Title: "Slack adjuster and pushrod", Mark: rubric.Partly,
		Checks: []rubric.CheckMark{
			{Title: "mounted securely", Mark: rubric.Said},
			{Title: "not broken", Mark: rubric.Missed},
			{Title: "clean", Minor: true, Mark: rubric.Missed},
			{Title: "no leaks", Minor: true, Mark: rubric.Wrong},
		},
		Measures: []rubric.MeasureMark{
			{Title: "pushrod travel when pulled by hand", Accepted: "at most 1 inch", Note: "brakes released", Mark: rubric.Missed},
			{Title: "angle", Accepted: "90 degrees", Optional: true, Mark: rubric.Missed},
		},
	}
	d := newDrill(it, "Steering axle")
	const want = "say: Slack adjuster and pushrod; mounted securely; not broken; no leaks; pushrod travel when pulled by hand: at most 1 inch (brakes released)"
	if got := sayLine(d); got != want {
		t.Errorf("got  %s\nwant %s", got, want)
	}
	if len(d.May) != 2 || d.May[0].Text != "clean" || d.May[1].Text != "angle: 90 degrees" {
		t.Errorf("may be added: %v", d.May)
	}
}

// A card with a wrong number has both figures, so that the right one is not read as
// the wrong one.
func TestDrillWrongNumber(t *testing.T) {
	s := &rubric.Sheet{Sections: []rubric.SectionMark{{ID: "steer", Title: "Steering axle"}}, Items: []rubric.ItemMark{{
		ID: "steer.tread", Section: "steer", Title: "Steer tire tread", Mark: rubric.Wrong, Start: 5,
		Named:    []rubric.Evidence{{Words: "tire", Start: 5, End: 6}},
		Checks:   []rubric.CheckMark{{Title: "no cuts", Mark: rubric.Wrong}},
		Measures: []rubric.MeasureMark{{Title: "tread depth", Said: "2/32 inch", Accepted: "at least 4/32 inch", Note: "steer axle", Mark: rubric.Wrong}},
	}}}
	page := written(t, func(w io.Writer) error { return Replay(w, s, ReplayOptions{}) })
	for _, want := range []string{"tread depth: you said 2/32 inch; accepted <b>at least 4/32 inch (steer axle)</b>", `<b>no cuts</b> <span class="quiet">your words say the opposite</span>`} {
		if !strings.Contains(page, want) {
			t.Errorf("no %q on the page", want)
		}
	}
	if got := sayLine(newDrill(s.Items[0], "")); !strings.HasSuffix(got, "tread depth: at least 4/32 inch (steer axle)") {
		t.Errorf("what to say is %q", got)
	}
}

// The cards follow the walk and leave out what was said and what is no loss.
func TestDrills(t *testing.T) {
	s, _ := bigSheet()
	var got, want []string
	for _, g := range newDrills(s) {
		for _, d := range g.Items {
			got = append(got, d.ID)
		}
	}
	for _, it := range s.Items {
		if it.Mark != rubric.Said && !(it.Extra && it.Mark == rubric.Missed) {
			want = append(want, it.ID)
		}
	}
	if len(want) < 10 || strings.Join(got, " ") != strings.Join(want, " ") {
		t.Errorf("got  %v\nwant %v", got, want)
	}
}

// What fails the test by itself comes before all else.
func TestFixesFirst(t *testing.T) {
	s, _ := bigSheet()
	p := replayPage{page: page{Sheet: s, D: newDigest(s), titles: titles(s)}}
	list := newFixes(&p)
	seen := map[string]bool{}
	critical := true
	for i, f := range list {
		now := strings.HasPrefix(f.Head, "critical")
		if now && !critical {
			t.Errorf("%s stands after something less", f.Title)
		}
		critical = now
		if f.Item != "" && f.Glyph != "missed" && seen[f.Item] {
			t.Errorf("%s stands there twice", f.Title)
		}
		seen[f.Item] = true
		if i < len(p.D.Critical) && !now {
			t.Errorf("number %d is %s, and %d are critical", i+1, f.Head, len(p.D.Critical))
		}
		if f.Say == "" {
			t.Errorf("%s does not tell what is right", f.Title)
		}
	}
	if last := list[len(list)-1]; last.Head != "missed" {
		t.Errorf("the place with the most missed is not last: %s", last.Head)
	}
}

func TestLevelPath(t *testing.T) {
	nan, none, all := float32(math.NaN()), float32(math.Inf(-1)), float32(math.Inf(1))
	for _, c := range []struct {
		level  []float32
		floor  float64
		whole  float64
		want   string
		reason string
	}{
		{[]float32{-60, -20}, -60, 2, "M0 100L300.0 93L900.0 0L1200.0 100Z", "from 3 dB under the floor to the peak"},
		{[]float32{-60, -20}, -60, 4, "M0 100L150.0 93L450.0 0L600.0 100Z", "half as long as the strip"},
		{[]float32{-20, -20}, -20, 2, "M0 100L300.0 0L900.0 0L1200.0 100Z", "no range below 20 dB"},
		{[]float32{none, -20}, math.Inf(-1), 2, "M0 100L300.0 100L900.0 0L1200.0 100Z", "digital silence"},
		{[]float32{nan, all, -20}, math.NaN(), 3, "M0 100L200.0 100L600.0 0L1000.0 0L1200.0 100Z", "no numbers"},
		{[]float32{none, none}, math.Inf(-1), 2, "", "nothing in it"},
		{nil, -60, 2, "", "no levels"},
	} {
		if got := levelPath(&speech.Sound{Level: c.level, Step: 1, Floor: c.floor}, c.whole); got != c.want {
			t.Errorf("%s: got %s, want %s", c.reason, got, c.want)
		}
	}
	long := make([]float32, 360_000) // two hours at 20 ms
	if n := strings.Count(levelPath(&speech.Sound{Level: long, Step: 0.02, Floor: -60}, 7200), "L"); n != traceWidth+1 {
		t.Errorf("%d points for two hours", n)
	}
}

func TestReplayAudioRefused(t *testing.T) {
	s, words := bigSheet()
	for reason, opt := range map[string]ReplayOptions{
		"no media type":            {Audio: []byte{1}},
		"a type with an attribute": {Audio: []byte{1}, AudioType: `audio/wav" onplay="x`},
		"another host":             {AudioURL: "https://example.org/x.wav", AudioType: "audio/wav"},
		"another host, no scheme":  {AudioURL: "//example.org/x.wav", AudioType: "audio/wav"},
		"a script":                 {AudioURL: "javascript:x", AudioType: "audio/wav"},
	} {
		opt.Transcript = words
		var b bytes.Buffer
		if err := Replay(&b, s, opt); err == nil || b.Len() > 0 || strings.Contains(err.Error(), "\n") {
			t.Errorf("%s: error %v, %d bytes written", reason, err, b.Len())
		}
	}
}

// An attempt without a word, and one whose transcript is not the sheet's.
func TestReplayOdd(t *testing.T) {
	s, words := bigSheet()
	words.Words = words.Words[:10]
	sound := &speech.Sound{Seconds: 3, Step: 0.02}
	for reason, c := range map[string]struct {
		sheet *rubric.Sheet
		opt   ReplayOptions
	}{
		"another transcript": {s, ReplayOptions{Transcript: words}},
		"empty":              {&rubric.Sheet{}, ReplayOptions{Transcript: &speech.Transcript{}, Sound: sound, Audio: toneWAV(3), AudioType: "audio/wav"}},
		"empty and mute":     {&rubric.Sheet{}, ReplayOptions{}},
	} {
		var b bytes.Buffer
		if err := Replay(&b, c.sheet, c.opt); err != nil {
			t.Errorf("%s: %v", reason, err)
		}
		checkStructure(t, b.Bytes())
	}
}

func TestClipIndex(t *testing.T) {
	it := rubric.ItemMark{ID: "air.leak", Title: "Leak limit"}
	var b bytes.Buffer
	err := ClipIndex(&b, []Clip{
		{Moment{Item: it, Part: "loss", Mark: rubric.Wrong, Why: HearWrong, Said: rubric.Evidence{Words: "=six, pounds"}}, "03m07s-air.leak-wrong.wav", 185.25, 192},
		{Moment{Item: it, Mark: rubric.Missed, Why: HearDoubt, Place: true}, "", -1, -1},
	})
	const want = "file,item,mark,why,start,end,title,words\n" +
		"03m07s-air.leak-wrong.wav,air.leak/loss,wrong,wrong,185.25,192.00,Leak limit,\"'=six, pounds\"\n" +
		",air.leak,missed,listen,,,Leak limit,\n"
	if err != nil || b.String() != want {
		t.Errorf("%v, got\n%swant\n%s", err, b.String(), want)
	}
}

// playing waits until the recording is heard, and gives its time.
func (p *tab) playing(what string) float64 {
	p.t.Helper()
	for range 100 {
		if eval[bool](p, `!audio.paused && !audio.seeking && audio.readyState > 1`) {
			return eval[float64](p, `audio.currentTime`)
		}
		time.Sleep(20 * time.Millisecond)
	}
	p.t.Fatalf("%s: nothing is heard after 2 s: %s", what, eval[string](p, `document.getElementById("here").textContent`))
	return 0
}

// near checks that a time is at want, or up to two seconds on, since the
// recording plays.
func near(t *testing.T, what string, got, want float64) {
	t.Helper()
	if got < want-0.05 || got > want+2 {
		t.Errorf("%s: the recording is at %.2f s, want %.2f s", what, got, want)
	}
}

// pause stops the recording without a key: a Space that chromedp sends scrolls the
// page as well, and what scrolls slips away under the next click.
func (p *tab) pause() {
	p.t.Helper()
	p.run("pause", chromedp.Evaluate[chromedp.Void](`audio.pause()`))
}

func TestReplayInBrowser(t *testing.T) {
	s, words := nearSheet()
	dir := t.TempDir()
	blob := func(address string) bool { return strings.HasPrefix(address, "blob:") }
	p := open(t, dir, bigReplay(t, nil), blob)
	defer p.done()
	p.run("load", chromedp.Poll[chromedp.Void](`audio.readyState > 0`))

	if eval[bool](p, `audio.controls || document.querySelector(".bar").hidden`) {
		t.Error("the browser's own controls are shown, or ours are not")
	}
	const hear = `Number(document.querySelector(".cards .hear").dataset.at)`
	p.run("hear a wrong number", chromedp.Click(chromedp.CSS(".cards .hear")))
	near(t, "a wrong number", p.playing("a wrong number"), eval[float64](p, hear)-1.5)

	// The word that is heard is the one that lights up.
	p.run("pause", chromedp.KeyEvent(" "))
	if !eval[bool](p, `audio.paused`) {
		t.Error("Space does not pause after a click on a mark")
	}
	at := words.Words[300]
	p.run("seek", chromedp.Evaluate[chromedp.Void](fmt.Sprintf(`audio.currentTime = %f`, (at.Start+at.End)/2)), chromedp.Poll[chromedp.Void](`document.querySelector(".now")`))
	if got := eval[string](p, `[...document.querySelectorAll(".now")].map((e) => e.id + " " + e.textContent).join()`); got != "w-300 "+at.Text {
		t.Errorf("at %.2f s %q lights up, want word 300, %q", at.Start, got, at.Text)
	}
	if !eval[bool](p, `(() => { const w = document.querySelector(".now").getBoundingClientRect(), b = document.querySelector(".words").getBoundingClientRect(); return w.top >= b.top - 1 && w.bottom <= b.bottom + 1 })()`) {
		time.Sleep(time.Second) // it may still scroll there
		if !eval[bool](p, `(() => { const w = document.querySelector(".now").getBoundingClientRect(), b = document.querySelector(".words").getBoundingClientRect(); return w.top >= b.top - 1 && w.bottom <= b.bottom + 1 })()`) {
			t.Error("the word that is heard is out of view")
		}
	}
	if x := eval[float64](p, `parseFloat(document.querySelector(".playhead").getAttribute("x1")) / 100 * Number(lanes.dataset.seconds)`); math.Abs(x-(at.Start+at.End)/2) > 0.1 {
		t.Errorf("the line on the strip is at %.2f s, want %.2f s", x, at.Start)
	}

	// Keys.
	now := func() float64 { return eval[float64](p, `audio.currentTime`) }
	before := now()
	p.run("ahead", chromedp.KeyEvent(kb.ArrowRight))
	near(t, "right arrow", now(), before+5)
	p.run("back", chromedp.KeyEvent(kb.ArrowLeft))
	near(t, "left arrow", now(), before)
	var stops []float64
	for _, m := range Moments(s) {
		if !m.Place {
			stops = append(stops, m.Said.Start)
		}
	}
	for _, f := range s.Findings {
		if f.Kind != rubric.PaceFinding {
			stops = append(stops, f.Start)
		}
	}
	if n := eval[int](p, `document.querySelectorAll("a.stop").length`); n != len(stops) {
		t.Errorf("%d marks to halt at, want %d", n, len(stops))
	}
	next, previous := math.Inf(1), math.Inf(-1)
	for _, at := range stops {
		if at > before+1.5 {
			next = min(next, at)
		} else {
			previous = max(previous, at)
		}
	}
	p.run("next", chromedp.KeyEvent("j"))
	near(t, "J", p.playing("J"), next-1.5)
	if told := eval[string](p, `here.textContent`); !strings.Contains(told, " of ") || !strings.Contains(told, Clock(next)) {
		t.Errorf("J tells %q", told)
	}
	p.run("previous", chromedp.KeyEvent("k"))
	near(t, "K", p.playing("K"), previous-1.5)
	p.run("next", chromedp.KeyEvent(kb.ArrowDown))
	near(t, "down arrow", p.playing("down arrow"), next-1.5)
	p.run("previous", chromedp.KeyEvent(kb.ArrowUp))
	near(t, "up arrow", p.playing("up arrow"), previous-1.5)
	p.pause()
	still := now()
	for _, key := range []string{"n", "p", "s", "w", "m", "a", "x", "u"} { // some decide on the desk
		p.run("no key here", chromedp.KeyEvent(key))
	}
	if !eval[bool](p, `audio.paused`) || now() != still {
		t.Error("a letter that means something else on the desk does something here")
	}

	// The strip, by a mark and by a bare place.
	p.run("click a mark of the strip", chromedp.Click(chromedp.CSS("#lanes a.stop .hit")))
	near(t, "a mark of the strip", p.playing("a mark of the strip"), eval[float64](p, `Number(document.querySelector("#lanes a.stop").dataset.at)`)-1.5)
	p.run("click a word", chromedp.Click(chromedp.CSS("#w-4")))
	near(t, "a word", p.playing("a word"), words.Words[4].Start)
	p.pause()

	// A button that has the focus is what Space presses.
	p.run("focus", chromedp.Focus(chromedp.CSS("#ahead")), chromedp.KeyEvent(kb.Tab), chromedp.KeyEvent(kb.Tab))
	if id := eval[string](p, `document.activeElement.id`); id != "next" {
		t.Errorf("two tabs from +5 s lead to %q", id)
	}
	if !eval[bool](p, `getComputedStyle(document.activeElement).outlineStyle !== "none"`) {
		t.Error("the focus cannot be seen")
	}
	p.run("press", chromedp.KeyEvent(" "))
	p.playing("a button pressed by Space")
	p.pause()

	// Where the words have the focus, the arrows scroll them.
	still = now()
	p.run("into the words", chromedp.Focus(chromedp.CSS(".words")), chromedp.KeyEvent(kb.ArrowDown))
	if !eval[bool](p, `audio.paused`) || now() != still {
		t.Error("the down arrow does not scroll the words")
	}

	p.fits()

	p.run("cover", chromedp.Click(chromedp.CSS("#cover")))
	const shown = `[...document.querySelectorAll(".back")].filter((b) => b.checkVisibility() && b.getBoundingClientRect().height > 5).length`
	if n := eval[int](p, shown); n != 0 {
		t.Errorf("%d answers are not covered", n)
	}
	p.print()
	cards := eval[int](p, `document.querySelectorAll(".deck > li").length`)
	if n := eval[int](p, shown); n != cards || n == 0 {
		t.Errorf("%d answers are printed, of %d cards", n, cards)
	}
	if n := eval[int](p, `[...document.querySelectorAll("header, footer, #player, .strip, .words, .cards")].filter((e) => e.checkVisibility()).length`); n != 0 {
		t.Errorf("%d parts are printed beside the cards", n)
	}
}

// A recording beside the page is found whatever its name.
func TestReplayBesideInBrowser(t *testing.T) {
	_, words := bigSheet()
	dir := t.TempDir()
	const name = "S 14, 50%#1.wav"
	if err := os.WriteFile(filepath.Join(dir, name), toneWAV(words.Duration()), 0o644); err != nil {
		t.Fatal(err)
	}
	beside := bigReplay(t, func(opt *ReplayOptions) { opt.Audio, opt.AudioURL = nil, "./S%2014,%2050%25%231.wav" })
	p := open(t, dir, beside, func(address string) bool { return strings.HasSuffix(address, "/S%2014,%2050%25%231.wav") })
	defer p.done()
	p.run("load", chromedp.Poll[chromedp.Void](`audio.readyState > 0`))
	p.run("hear a wrong number", chromedp.Click(chromedp.CSS(".cards .hear")))
	near(t, "a wrong number", p.playing("a wrong number"), eval[float64](p, `Number(document.querySelector(".cards .hear").dataset.at)`)-1.5)
}

// Without a recording a mark leads to its words.
func TestReplayMuteInBrowser(t *testing.T) {
	s, _ := nearSheet()
	p := open(t, t.TempDir(), bigReplay(t, func(opt *ReplayOptions) { *opt = ReplayOptions{Transcript: opt.Transcript} }), nothingElse)
	defer p.done()
	var first rubric.Evidence
	for _, m := range Moments(s) {
		if !m.Place {
			first = m.Said
			break
		}
	}
	p.run("next", chromedp.KeyEvent("j"), chromedp.Sleep(100*time.Millisecond))
	if got, want := eval[string](p, `location.hash`), fmt.Sprintf("#w-%d", first.First); got != want {
		t.Errorf("J leads to %q, want %s", got, want)
	}
	if !eval[bool](p, `(() => { const r = document.querySelector(":target").getBoundingClientRect(); return r.top > player.getBoundingClientRect().bottom && r.bottom < innerHeight })()`) {
		t.Error("the words are out of view")
	}
	p.run("click", chromedp.Click(chromedp.CSS(".cards a.time")))
	if !eval[bool](p, `document.querySelector(":target").closest(".words") !== null`) {
		t.Error("a time does not lead to the words")
	}
	p.fits()
}
