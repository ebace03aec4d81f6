package report

import (
	"bytes"
	"fmt"
	"regexp"
	"strings"
	"testing"

	"golang.org/x/net/html"

	"markaround/rubric"
)

func bigPage(t *testing.T) []byte {
	t.Helper()
	s, words := bigSheet()
	var b bytes.Buffer
	if err := HTML(&b, s, HTMLOptions{Transcript: words}); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func attr(n *html.Node, name string) string {
	for _, a := range n.Attr {
		if a.Key == name {
			return a.Val
		}
	}
	return ""
}

func nodes(t *testing.T, page []byte) []*html.Node {
	t.Helper()
	doc, err := html.Parse(bytes.NewReader(page))
	if err != nil {
		t.Fatal(err)
	}
	var all []*html.Node
	for n := range doc.Descendants() {
		if n.Type == html.ElementNode {
			all = append(all, n)
		}
	}
	return all
}

// The pages must stand alone, be walkable by headings, and have no link that
// leads nowhere.
func TestPageStructure(t *testing.T) {
	for name, page := range map[string][]byte{
		"sheet": bigPage(t), "with a recording": bigReplay(t, nil), "without one": bigReplay(t, func(opt *ReplayOptions) { *opt = ReplayOptions{Transcript: opt.Transcript} }),
		"with neither": bigReplay(t, func(opt *ReplayOptions) { *opt = ReplayOptions{} }),
	} {
		t.Run(name, func(t *testing.T) { checkStructure(t, page) })
	}
	ids := map[string]bool{}
	for _, n := range nodes(t, bigPage(t)) {
		ids[attr(n, "id")] = true
	}
	if !ids["item-air.loss-in-one-minute"] || !ids["line-1"] {
		t.Error("items and transcript lines cannot be linked to")
	}
}

func checkStructure(t *testing.T, page []byte) {
	t.Helper()
	ids := map[string]bool{}
	level := 0
	all := nodes(t, page)
	for _, n := range all {
		if id := attr(n, "id"); id != "" {
			if ids[id] {
				t.Errorf("id %s twice", id)
			}
			ids[id] = true
		}
	}
	for _, n := range all {
		for _, a := range n.Attr {
			switch {
			case a.Key == "style" || strings.HasPrefix(a.Key, "on"):
				t.Errorf("<%s> has attribute %s, which the policy blocks", n.Data, a.Key)
			case a.Key == "src" && !(n.Data == "audio" && strings.HasPrefix(a.Val, "data:audio/wav;base64,")):
				t.Errorf("<%s> loads %s", n.Data, a.Val)
			case a.Key == "href" && a.Val != "data:,":
				if !strings.HasPrefix(a.Val, "#") || !ids[a.Val[1:]] {
					t.Errorf("<%s> links to %s", n.Data, a.Val)
				}
			case a.Key == "aria-labelledby":
				if !ids[a.Val] {
					t.Errorf("<%s> is labeled by %s, which is not there", n.Data, a.Val)
				}
			}
		}
		if len(n.Data) == 2 && n.Data[0] == 'h' && n.Data[1] >= '1' && n.Data[1] <= '6' {
			now := int(n.Data[1] - '0')
			if now > level+1 {
				t.Errorf("heading level %d after %d", now, level)
			}
			level = now
		}
		if n.Data == "th" && attr(n, "scope") == "" {
			t.Error("table header without scope")
		}
		if n.Data == "button" && attr(n, "type") != "button" {
			t.Error("a button that would send a form")
		}
	}
}

func TestPagePolicy(t *testing.T) {
	checkPolicy(t, string(bigPage(t)))
	checkPolicy(t, string(bigReplay(t, nil)))
}

func checkPolicy(t *testing.T, page string) {
	t.Helper()
	m := regexp.MustCompile(`Content-Security-Policy" content="([^"]*)"`).FindStringSubmatch(page)
	if m == nil {
		t.Fatal("no policy")
	}
	policy := html.UnescapeString(m[1])
	if !strings.HasPrefix(policy, "default-src 'none'") || strings.Contains(policy, "unsafe") || strings.Contains(policy, "*") {
		t.Errorf("policy is %s", policy)
	}
	for _, tag := range []string{"style", "script"} {
		_, rest, _ := strings.Cut(page, "<"+tag+">")
		body, _, _ := strings.Cut(rest, "</"+tag+">")
		if !strings.Contains(policy, hash([]byte(body))) {
			t.Errorf("the policy does not name the %s that the page has", tag)
		}
	}
}

// Words of a transcript are text, whatever they look like.
func TestPageEscapes(t *testing.T) {
	evil := `"><script>alert(1)</script><img src=x onerror=alert(1)>' {{.}} javascript:x`
	s, words := bigSheet()
	for i := range words.Words {
		words.Words[i].Text = evil
	}
	words.Segments[0].Speaker = evil
	s.Attempt, s.Source, s.Tool, s.Rubric.Title = evil, evil, evil, evil
	for i := range s.Items {
		it := &s.Items[i]
		it.Title, it.Reason, it.ID = evil, evil, fmt.Sprint(evil, i)
		for j := range it.Named {
			it.Named[j].Words, it.Named[j].Reason = evil, evil
		}
		for j := range it.Measures {
			it.Measures[j].Said, it.Measures[j].Source = evil, evil
		}
	}
	for i := range s.Sections {
		s.Sections[i].Title = evil
	}
	for i := range s.Findings {
		s.Findings[i].Text = evil
	}
	var b bytes.Buffer
	if err := HTML(&b, s, HTMLOptions{Transcript: words}); err != nil {
		t.Fatal(err)
	}
	if err := Replay(&b, s, ReplayOptions{Transcript: words, AudioURL: `./"onerror="x`, AudioType: "audio/wav"}); err != nil {
		t.Fatal(err)
	}
	if err := HTMLSummary(&b, []Row{{Attempt: evil, Link: "javascript:alert(1)"}}); err != nil {
		t.Fatal(err)
	}
	scripts := 0
	for _, n := range nodes(t, b.Bytes()) {
		switch n.Data {
		case "img":
			t.Fatal("an element came in with the words")
		case "script":
			scripts++
		}
		if strings.HasPrefix(attr(n, "href"), "javascript:") {
			t.Error("a script address came in with the words")
		}
		for _, a := range n.Attr {
			if strings.HasPrefix(a.Key, "on") {
				t.Errorf("attribute %s came in with the words", a.Key)
			}
		}
	}
	if scripts != 3 {
		t.Errorf("%d scripts, want the pages' own three", scripts)
	}
}

func TestTranscriptMarks(t *testing.T) {
	s, words := bigSheet()
	lines := newLines(words, s)
	var got []string
	for _, l := range lines {
		for _, r := range l.Runs {
			if r.Item == "cab.fire-extinguisher" {
				got = append(got, r.Mark+": "+r.Text)
			}
		}
	}
	// The evidence of the contradicted check covers the words that name the item.
	if want := "wrong: my fire extinguisher is loose"; len(got) != 1 || got[0] != want {
		t.Errorf("got %q, want %q", got, want)
	}
	n := 0
	for _, l := range lines {
		for _, r := range l.Runs {
			n += len(strings.Fields(r.Text))
		}
	}
	if n != len(words.Words) {
		t.Errorf("%d words shown of %d", n, len(words.Words))
	}
}

// Evidence of another transcript must not make the page fail.
func TestTranscriptOfAnotherLength(t *testing.T) {
	s, words := bigSheet()
	words.Words = words.Words[:10]
	var b bytes.Buffer
	if err := HTML(&b, s, HTMLOptions{Transcript: words}); err != nil {
		t.Error(err)
	}
}

var noLinks = stripOptions{Link: func(string, rubric.Evidence) string { return "" }}

func TestStrip(t *testing.T) {
	s, _ := bigSheet()
	st := newStrip(s, noLinks)
	if len(st.Lanes) != len(s.Sections) || len(st.Dead) != 2 || len(st.Findings) != 3 {
		t.Errorf("%d lanes, %d dead air, %d findings", len(st.Lanes), len(st.Dead), len(st.Findings))
	}
	ticks, want := 0, 0
	for _, l := range st.Lanes {
		for _, k := range l.Ticks {
			if ticks++; k.At < 0 || k.At > 100 {
				t.Errorf("tick at %v%%", k.At)
			}
		}
	}
	for _, it := range s.Items {
		if it.Mark != rubric.Missed {
			want++
		}
	}
	if ticks != want {
		t.Errorf("%d ticks, want %d", ticks, want)
	}
	if st.Limit < 90 || st.Limit > 99 {
		t.Errorf("limit at %v%%", st.Limit)
	}
	s.Pace.Limit = 1e5
	if st := newStrip(s, noLinks); st.Limit != -1 {
		t.Errorf("a limit that was not reached is drawn at %v%%", st.Limit)
	}
	for _, end := range []float64{3, 61, 1200, 5400, 40000, 400000} {
		if n := int(end/axisStep(end)) + 1; n > 8 {
			t.Errorf("%d labels on %v s", n, end)
		}
	}
}

// What the recording shows is in every form that people read.
func TestRecordingIsShown(t *testing.T) {
	s, words := bigSheet()
	s.Recording = &rubric.Recording{File: "S-014.wav", Seconds: 725, Speech: 610, Offset: 1.5, Drift: 0.01,
		Unheard: []rubric.Gap{{Start: 60, End: 62}, {Start: 100, End: 112}}, Unspoken: []rubric.Gap{{Start: 300, End: 303}}}
	var text, page bytes.Buffer
	if err := Text(&text, s, TextOptions{}); err != nil {
		t.Fatal(err)
	}
	if err := HTML(&page, s, HTMLOptions{Transcript: words, Sound: toneSound(words, 725)}); err != nil {
		t.Fatal(err)
	}
	flat := strings.Join(strings.Fields(text.String()), " ")
	for _, want := range []string{
		"Recording S-014.wav, 12:05; speech for 10:10; transcript moved by +1.5 s and stretched by +1.00%",
		"Unheard 14 s of speech without words, longest first: 12 s at 1:40, 2 s at 1:00",
		"Unspoken 3 s of words where nobody speaks, longest first: 3 s at 5:00",
	} {
		if !strings.Contains(flat, want) {
			t.Errorf("the text lacks %q", want)
		}
	}
	for _, want := range []string{"S-014.wav, 12:05; speech for 10:10", "speech without words: 2 s at", "words where nobody speaks: 3 s at", `class="trace"`, `class="unheard"`} {
		if !strings.Contains(page.String(), want) {
			t.Errorf("the page lacks %q", want)
		}
	}
	s.Recording = nil
	text.Reset()
	if err := Text(&text, s, TextOptions{}); err != nil || strings.Contains(text.String(), "Recording") {
		t.Errorf("without a recording the text speaks of one: %v", err)
	}
}
