package speech

import (
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"regexp"
	"strings"

	"github.com/asticode/go-astisub"
)

// TTML is read in two steps. A walk over the XML finds what is timed, its
// words, lines and speakers; go-astisub then reads the time expressions, from
// a clean copy that holds nothing else. The document itself is not handed to
// it, because it joins words across line breaks in the text, leaves out text
// in nested spans, refuses a file for one unknown style, and panics where a
// paragraph has no begin or end. Frames count at the whole frame rate, without
// its multiplier: in a clock time less than a frame off.

// ttmlNode is an element that may have times.
type ttmlNode struct {
	begin, end, dur string // as written
	parent          int    // index of the enclosing node, -1 for none
	sequential      bool   // timeContainer="seq": children begin where the one before ends
	line            int
	cue             *cue // of a timed element in the text
}

const ttmlDepth = 64 // elements within elements; a transcript needs about six

var ttmlTime = regexp.MustCompile(`^(?:\d{1,4}:[0-5]\d:[0-5]\d(?:\.\d{1,9}|:\d{1,3})?|\d{1,12}(?:\.\d{1,9})?(?:h|ms|m|s|f|t))$`)

func readTTML(s *source) ([]cue, error) {
	w := ttmlWalk{source: s, agents: map[string]string{}}
	if err := w.walk(); err != nil {
		return nil, err
	}
	times, err := w.times()
	if err != nil {
		return nil, err
	}
	// A time counts from the start of the enclosing element.
	begin := make([]float64, len(w.nodes))
	end := make([]float64, len(w.nodes))
	after := map[int]float64{} // for sequential containers
	var cues []cue
	for i, n := range w.nodes {
		base, limit := 0.0, unknown
		if n.parent >= 0 {
			base, limit = begin[n.parent], end[n.parent]
			if w.nodes[n.parent].sequential {
				base = max(base, after[n.parent])
			}
		}
		begin[i], end[i] = base, limit
		if t, ok := times[n.begin]; ok {
			begin[i] = base + t
		}
		if t, ok := times[n.end]; ok {
			end[i] = base + t
		} else if t, ok := times[n.dur]; ok {
			end[i] = begin[i] + t
		}
		if n.parent >= 0 {
			after[n.parent] = end[i]
		}
		c := n.cue
		if c == nil || len(c.words) == 0 {
			continue
		}
		c.start, c.end, c.n = begin[i], end[i], len(cues)+1
		if !w.timed(i) {
			s.warn(n.line, c.n, "paragraphs without times", "no begin time; %s was put after the cue before it", quote(c.text()))
			c.start, c.end = unknown, unknown
		}
		cues = append(cues, *c)
	}
	if len(cues) == 0 {
		return nil, s.errorf(0, "a TTML transcript has its text in <p begin=... end=...>", "no timed text in the TTML file")
	}
	return cues, nil
}

type ttmlWalk struct {
	*source
	nodes               []ttmlNode
	agents              map[string]string // xml:id to name
	frameRate, tickRate string
}

// timed tells whether the node or one that encloses it has a time.
func (w *ttmlWalk) timed(i int) bool {
	for ; i >= 0; i = w.nodes[i].parent {
		if n := w.nodes[i]; n.begin != "" || n.end != "" || n.dur != "" || n.parent >= 0 && w.nodes[n.parent].sequential {
			return true
		}
	}
	return false
}

// walk collects the timed elements in order. Text goes to the innermost of
// them within a paragraph.
func (w *ttmlWalk) walk() error {
	dec := xml.NewDecoder(strings.NewReader(w.text))
	dec.Entity = xml.HTMLEntity
	dec.CharsetReader = func(_ string, in io.Reader) (io.Reader, error) { return in, nil } // already UTF-8
	var stack []ttmlFrame
	var agent, name string // of <ttm:agent> and <ttm:name> in the head
	for {
		tok, err := dec.Token()
		line, _ := dec.InputPos()
		if errors.Is(err, io.EOF) {
			return nil
		}
		if err != nil {
			return w.errorf(line, "the file may be cut off; export it again", "not well-formed XML (%s)", xmlReason(err))
		}
		top := ttmlFrame{node: -1}
		if len(stack) > 0 {
			top = stack[len(stack)-1]
		}
		switch t := tok.(type) {
		case xml.StartElement:
			if len(stack) == ttmlDepth {
				return w.errorf(line, "export it again", "elements nested more than %d deep", ttmlDepth)
			}
			if len(stack) == 0 && t.Name.Local != "tt" {
				return w.errorf(line, "", "the root element is <%s>, not <tt>", t.Name.Local)
			}
			f := top
			f.name = t.Name.Local
			a := attributes(t)
			switch f.name {
			case "tt":
				w.frameRate, w.tickRate = a["frameRate"], a["tickRate"]
			case "agent":
				agent, name = a["id"], ""
			case "br":
				w.lineBreak(top)
			case "metadata", "head":
				f.mute = true
			case "body", "div", "p", "span":
				if id := strings.Fields(a["agent"]); len(id) > 0 {
					f.speaker = id[0]
				}
				f.inText = f.inText || f.name == "p"
				w.open(&f, a, line)
			}
			stack = append(stack, f)
		case xml.EndElement:
			if top.name == "agent" && agent != "" {
				w.agents[agent] = name
			}
			stack = stack[:len(stack)-1]
		case xml.CharData:
			switch {
			case top.name == "name":
				name += strings.TrimSpace(string(t))
			case top.inText && !top.mute && top.node >= 0:
				w.addText(top, string(t))
			}
		}
	}
}

// ttmlFrame is an open element.
type ttmlFrame struct {
	name    string
	node    int    // innermost timed element, -1 for none
	speaker string // id of the agent
	inText  bool   // within a paragraph
	mute    bool   // within metadata
}

// open begins a node for the element where it is a paragraph, is timed, or
// orders its children in time.
func (w *ttmlWalk) open(f *ttmlFrame, a map[string]string, line int) {
	n := ttmlNode{begin: a["begin"], end: a["end"], dur: a["dur"], parent: f.node, sequential: a["timeContainer"] == "seq", line: line}
	for _, t := range []*string{&n.begin, &n.end, &n.dur} {
		*t = strings.TrimSpace(*t)
		if *t != "" && !ttmlTime.MatchString(*t) {
			w.warn(line, 0, "unreadable times", "unreadable time %s; taken as not given", quote(*t))
			*t = ""
		}
	}
	if f.name != "p" && n.begin == "" && n.end == "" && n.dur == "" && !n.sequential {
		return
	}
	if f.inText {
		n.cue = &cue{line: line}
		n.cue.newLine()
	}
	f.node = len(w.nodes)
	w.nodes = append(w.nodes, n)
}

func (w *ttmlWalk) lineBreak(f ttmlFrame) {
	if f.node >= 0 && w.nodes[f.node].cue != nil {
		c := w.nodes[f.node].cue
		c.newLine()
		c.glued = false
	}
}

// addText gives text to the innermost timed element. Text that goes on with no
// space after <span>bra</span> belongs to the same word.
func (w *ttmlWalk) addText(f ttmlFrame, text string) {
	c := w.nodes[f.node].cue
	if c == nil {
		return
	}
	fields := strings.Fields(text)
	if len(fields) == 0 {
		c.glued = c.glued && text == ""
		return
	}
	if speaker := f.speaker; speaker != "" {
		if full := w.agents[speaker]; full != "" {
			speaker = full
		}
		if c.lastSpeaker() != speaker {
			c.addTurn(speaker)
			c.glued = false
		}
	} else if len(c.words) == 0 {
		if label, rest, found := splitLabel(text); found {
			c.addTurn(label)
			c.carry = true
			fields = strings.Fields(rest)
		}
	}
	if c.glued && len(fields) > 0 && strings.HasPrefix(text, fields[0]) && c.glue(fields[0]) {
		fields = fields[1:]
	}
	c.addFields(fields)
	last := text[len(text)-1]
	c.glued = len(c.words) > 0 && last != ' ' && last != '\n' && last != '\t'
}

// times reads every time expression of the document, in seconds.
func (w *ttmlWalk) times() (times map[string]float64, err error) {
	defer func() {
		if r := recover(); r != nil {
			err = w.errorf(0, "export it again, or export WebVTT", "unreadable times (%v)", r)
		}
	}()
	times = map[string]float64{}
	var list []string
	var doc strings.Builder
	doc.WriteString("<tt")
	for name, value := range map[string]string{"frameRate": w.frameRate, "tickRate": w.tickRate} {
		if rate.MatchString(value) {
			fmt.Fprintf(&doc, " %s=%q", name, value)
		}
	}
	doc.WriteString("><body><div>")
	for _, n := range w.nodes {
		for _, t := range []string{n.begin, n.end, n.dur} {
			if _, seen := times[t]; seen || t == "" {
				continue
			}
			times[t] = 0
			list = append(list, t)
			fmt.Fprintf(&doc, `<p begin="%s" end="0s"/>`, millis.ReplaceAllString(t, "$1"))
		}
	}
	doc.WriteString("</div></body></tt>")
	subs, err := astisub.ReadFromTTML(strings.NewReader(doc.String()))
	if err != nil {
		return nil, w.errorf(0, "export it again, or export WebVTT", "unreadable times (%v)", err)
	}
	for i, item := range subs.Items {
		times[list[i]] = item.StartAt.Seconds()
	}
	return times, nil
}

var (
	rate   = regexp.MustCompile(`^[1-9]\d{0,8}$`)
	millis = regexp.MustCompile(`^(\d+:\d+:\d+\.\d{1,3})\d*$`) // go-astisub refuses finer clock times
)

// attributes maps local names to values.
func attributes(t xml.StartElement) map[string]string {
	out := map[string]string{}
	for _, a := range t.Attr {
		if a.Name.Space != "xmlns" {
			out[a.Name.Local] = a.Value
		}
	}
	return out
}

// xmlReason is the decoder's message without its own line number.
func xmlReason(err error) string {
	var syntax *xml.SyntaxError
	if errors.As(err, &syntax) {
		return syntax.Msg
	}
	return err.Error()
}
