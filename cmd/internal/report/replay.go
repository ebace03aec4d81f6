package report

import (
	"cmp"
	_ "embed"
	"encoding/base64"
	"fmt"
	"html/template"
	"io"
	"regexp"
	"slices"
	"strings"

	"markaround/rubric"
	"markaround/speech"
)

var (
	//go:embed page/replay.css
	replayStyle string
	//go:embed page/replay.js
	replayScript string
)

// ReplayOptions says what a student's page has beside the sheet. All may be left
// out: without a recording the page shows the same, and a mark leads to its words.
type ReplayOptions struct {
	Transcript *speech.Transcript // with the times of the recording
	Sound      *speech.Sound      // its loudness and speech
	Audio      []byte             // the recording itself, to go into the page
	AudioURL   string             // where the recording lies, seen from the page, when Audio is empty
	AudioType  string             // its media type, such as audio/wav
	Later      bool               // a person may give the recording while the page is open: see Pieces
	Links      []Link             // to other pages, on top
}

// Replay writes the student's page: what to fix first, the recording with its
// marks, the words as they are heard, and cards to drill what was missed. It is
// one file that makes no request but for the recording where that lies beside it.
// On paper it is the cards alone.
func Replay(w io.Writer, s *rubric.Sheet, opt ReplayOptions) error {
	p, err := newReplayPage(s, opt)
	if err != nil {
		return err
	}
	return render(w, "replay.html", p)
}

func newReplayPage(s *rubric.Sheet, opt ReplayOptions) (*replayPage, error) {
	p, err := newMarksPage(s, opt)
	if err == nil {
		p.fill(opt)
	}
	return p, err
}

// newMarksPage is a page as far as its items and moments go.
func newMarksPage(s *rubric.Sheet, opt ReplayOptions) (*replayPage, error) {
	s = cleaned(s)
	p := &replayPage{page: page{Sheet: s, Links: opt.Links, titles: titles(s), words: opt.Transcript}}
	p.frame, p.WordsTitle = frame{style: replayStyle, script: replayScript}, "Your words"
	if err := p.setAudio(opt); err != nil {
		return nil, err
	}
	p.Play = p.Play || opt.Later
	p.at, p.link = p.atWord, func(item string) string { return "#card-" + anchor(item) }
	p.Hear = Moments(s)
	return p, nil
}

// fill makes the rest of a page.
func (p *replayPage) fill(opt ReplayOptions) {
	p.D = newDigest(p.Sheet)
	p.Strip = newStrip(p.Sheet, stripOptions{
		Link:  func(_ string, ev rubric.Evidence) string { return p.wordHref(ev.Start) },
		Play:  p.Play,
		Hear:  p.Hear,
		Sound: opt.Sound,
	})
	p.Sources = p.D.Sources
	p.Drills = newDrills(p.Sheet)
	p.Fixes = newFixes(p)
	if n := len(p.Fixes) - mostFixes; n > 0 {
		p.Fixes, p.MoreFixes = p.Fixes[:mostFixes], n
	}
	if opt.Transcript != nil {
		p.Transcript = newLines(opt.Transcript, p.Sheet)
	}
}

type replayPage struct {
	page
	Play       bool // there is a recording
	Audio      template.HTMLAttr
	Type       string
	WordsTitle string
	Hear       []Moment
	Fixes      []fix
	MoreFixes  int
	Drills     []drillGroup
}

var mediaType = regexp.MustCompile(`^audio/[a-z0-9][a-z0-9.+-]*$`)

// setAudio makes the src attribute of the player and what the policy allows it.
func (p *replayPage) setAudio(opt ReplayOptions) error {
	if len(opt.Audio) == 0 && opt.AudioURL == "" {
		return nil
	}
	if !mediaType.MatchString(opt.AudioType) {
		return fmt.Errorf("%q is no media type of a recording; use one such as audio/wav", opt.AudioType)
	}
	p.Play, p.Type = true, opt.AudioType
	if len(opt.Audio) == 0 {
		if strings.Contains(opt.AudioURL, "//") || strings.Contains(opt.AudioURL, ":") {
			return fmt.Errorf("%q is no place beside the page; give a relative address", opt.AudioURL)
		}
		// A page from a folder has no origin, so 'self' names nothing there in some browsers.
		p.media = "'self' file:"
		p.Audio = template.HTMLAttr(`src="` + template.HTMLEscapeString(opt.AudioURL) + `"`)
		return nil
	}
	p.media = "data: blob:" // the script turns the one into the other
	// Nothing in base64 needs escaping, and a template would escape every plus sign.
	p.Audio = template.HTMLAttr(`src="data:` + opt.AudioType + `;base64,` + base64.StdEncoding.EncodeToString(opt.Audio) + `"`)
	return nil
}

// wordHref leads to the word that is said at a time.
func (p *replayPage) wordHref(start float64) string {
	if p.words == nil || start < 0 {
		return ""
	}
	i, found := slices.BinarySearchFunc(p.words.Words, start+0.01, func(w speech.Word, t float64) int { return cmp.Compare(w.Start, t) })
	if !found {
		i--
	}
	if i < 0 {
		return ""
	}
	return fmt.Sprintf("#w-%d", i)
}

func (p *replayPage) atWord(start float64) moment {
	return moment{Start: start, Href: p.wordHref(start), Play: p.Play && start >= 0}
}

// Times are when the words of a line begin and end, in hundredths of a second.
func (p *replayPage) Times(l textLine) string {
	seg := p.words.Segments[l.segment]
	var b strings.Builder
	for i := max(seg.First, 0); i < min(seg.Last, len(p.words.Words)); i++ {
		fmt.Fprintf(&b, " %.0f %.0f", p.words.Words[i].Start*100, p.words.Words[i].End*100)
	}
	return strings.TrimPrefix(b.String(), " ")
}

// Doubts are the moments that are doubtful and nothing else, with words to hear.
func (p *replayPage) Doubts() (list []Moment) {
	for _, m := range p.Hear {
		if m.Why == HearDoubt && !m.Place {
			list = append(list, m)
		}
	}
	return list
}

// DoubtfullyMissed counts the items whose being missed is doubtful, without words
// to hear.
func (p *replayPage) DoubtfullyMissed() (n int) {
	for _, m := range p.Hear {
		if m.Place {
			n++
		}
	}
	return n
}

// About is what Title says behind the mark.
func (m Moment) About() string { return m.about }

// point is one thing to say of an item.
type point struct {
	Text string
	Mark rubric.Mark // of the check or measure

	// Of a number said wrong; Said is "" for all others.
	Name, Said, Accepted string
}

// drill is an item to learn, with what to say in the words of the score sheet.
type drill struct {
	rubric.ItemMark
	Section string
	Say     []point // without the name, which comes first
	May     []point // may be left out
}

type drillGroup struct {
	Section rubric.SectionMark
	Items   []drill
}

// newDrills lists the items that were missed, partly said or wrong, in the order
// of the walk.
func newDrills(s *rubric.Sheet) (list []drillGroup) {
	wanted := func(it rubric.ItemMark) bool {
		return it.Mark != rubric.Said && !(it.Extra && it.Mark == rubric.Missed)
	}
	for _, g := range groups(s, wanted) {
		dg := drillGroup{Section: g.Section}
		for _, it := range g.Items {
			dg.Items = append(dg.Items, newDrill(it, g.Section.Title))
		}
		list = append(list, dg)
	}
	return list
}

func newDrill(it rubric.ItemMark, section string) drill {
	d := drill{ItemMark: it, Section: section}
	add := func(p point, may bool) {
		if may && p.Mark != rubric.Wrong {
			d.May = append(d.May, p)
		} else {
			d.Say = append(d.Say, p)
		}
	}
	for _, c := range it.Checks {
		add(point{Text: c.Title, Mark: c.Mark}, c.Minor)
	}
	for _, m := range it.Measures {
		p := point{Text: measureText(m), Mark: m.Mark}
		if m.Mark == rubric.Wrong && m.Said != "" {
			p.Name, p.Said = m.Title, m.Said
			m.Title = ""
			p.Accepted = measureText(m)
		}
		add(p, m.Optional)
	}
	return d
}

// measureText is what to say of a number: "tread depth: at least 4/32 inch".
func measureText(m rubric.MeasureMark) string {
	text := m.Accepted
	if m.Title != "" {
		text = m.Title + ": " + text
	}
	if m.Note != "" {
		text += " (" + m.Note + ")"
	}
	return text
}

// fix is one thing to put right.
type fix struct {
	Glyph  string // one of the marks, or "finding"
	Head   string // what it is: "critical", "number", "opposite", "missed"
	Title  string
	Where  string // section
	Say    string // what is right
	Start  float64
	Item   string // leads to its card; "" for none
	Listen bool
}

// mostFixes is how many things are put before a student at once.
const mostFixes = 5

// newFixes lists what to put right, first things first: what fails the test by itself, then
// numbers, then opposites, then the place with the most missed.
func newFixes(p *replayPage) []fix {
	var list []fix
	items := map[string]rubric.ItemMark{}
	for _, it := range p.Items {
		items[it.ID] = it
	}
	taken := map[string]bool{}
	for _, c := range p.D.Critical {
		f := fix{Glyph: kindGlyph(c), Head: "critical, " + c.What, Title: c.Title, Where: c.Section, Say: c.Reason, Start: c.Start, Item: c.Item, Listen: c.Listen}
		if c.Item != "" {
			f.Say = sayLine(newDrill(items[c.Item], ""))
			taken[c.Item] = true
		} else {
			for _, finding := range p.Findings {
				if finding.Text == c.Title {
					f.Say = finding.Reason
				}
			}
		}
		list = append(list, f)
	}
	for _, n := range p.D.Numbers {
		if !taken[n.Item.ID] && !n.Item.Extra {
			list = append(list, fix{Glyph: "wrong", Head: "number", Title: n.Item.Title, Where: p.TitleOf(n.Item.Section),
				Say: "you said " + n.Measure.Said + "; say " + measureText(n.Measure), Start: n.Said.Start, Item: n.Item.ID, Listen: n.Item.Listen})
			taken[n.Item.ID] = true
		}
	}
	for _, c := range p.D.Contradictions {
		if !taken[c.Item.ID] && !c.Item.Extra {
			say := c.Item.Reason
			if c.Check.Title != "" {
				say = "looked for: " + c.Check.Title + "; your words say the opposite"
			}
			list = append(list, fix{Glyph: "wrong", Head: "opposite", Title: c.Item.Title, Where: p.TitleOf(c.Item.Section),
				Say: say, Start: c.Said.Start, Item: c.Item.ID, Listen: c.Item.Listen})
			taken[c.Item.ID] = true
		}
	}
	if len(p.D.Missed) > 0 {
		g := slices.MaxFunc(p.D.Missed, func(a, b group) int { return cmp.Compare(len(a.Items), len(b.Items)) })
		var names []string
		for _, it := range g.Items {
			names = append(names, it.Title)
		}
		list = append(list, fix{Glyph: "missed", Head: "missed", Title: rubric.Plural(len(g.Items), "item") + " at one place", Where: g.Section.Title,
			Say: strings.Join(names, "; "), Start: -1, Item: g.Items[0].ID})
	}
	return list
}

// sayLine is what to say of an item in one line: "Slack adjuster and pushrod:
// mounted securely; travel: at most 1 inch".
func sayLine(d drill) string {
	var parts []string
	for _, p := range d.Say {
		parts = append(parts, p.Text)
	}
	if len(parts) == 0 {
		return "say: " + d.Title
	}
	return "say: " + d.Title + "; " + strings.Join(parts, "; ")
}
