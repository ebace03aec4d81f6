package report

import (
	"bytes"
	"strings"
	"testing"

	"markaround/rubric"
)

// Every item of every embedded sheet has its row of four boxes, its conditions,
// and its numbers; the page stands alone and has no script.
func TestBlankPage(t *testing.T) {
	names, _ := rubric.Names()
	for _, name := range names {
		r, err := rubric.Load(name)
		if err != nil {
			t.Fatal(err)
		}
		var page bytes.Buffer
		if err := BlankHTML(&page, r); err != nil {
			t.Fatal(err)
		}
		text := page.String()
		if !strings.HasSuffix(strings.TrimSpace(text), "</html>") || !strings.Contains(text, hash(blankStyle)) {
			t.Errorf("%s: the page is cut short, or its policy does not name its style", name)
		}
		boxes, cells, level := 0, 0, 0
		for _, n := range nodes(t, page.Bytes()) {
			switch {
			case n.Data == "script" || attr(n, "src") != "" || attr(n, "style") != "" || attr(n, "href") != "" && attr(n, "href") != "data:,":
				t.Errorf("%s: <%s> loads or runs something", name, n.Data)
			case n.Data == "th" && attr(n, "scope") == "":
				t.Errorf("%s: table header without scope", name)
			case n.Data == "td" && attr(n, "class") == "mark":
				boxes++
			case n.Data == "li" && n.Parent != nil && n.Parent.Parent != nil && n.Parent.Parent.Data == "td":
				cells++
			case len(n.Data) == 2 && n.Data[0] == 'h' && '1' <= n.Data[1] && n.Data[1] <= '6':
				now := int(n.Data[1] - '0')
				if now > level+1 {
					t.Errorf("%s: heading level %d after %d", name, now, level)
				}
				level = now
			}
		}
		_, _, items, checks, measures := r.Counts()
		if boxes != 4*items || cells != checks+measures {
			t.Errorf("%s: %d boxes and %d lines for %d items with %d conditions and %d numbers", name, boxes, cells, items, checks, measures)
		}
	}
}

// Text of a school's own file cannot become markup.
func TestBlankPageEscapes(t *testing.T) {
	r, err := rubric.Read("x.yaml", []byte("rubric: x\ntitle: <b>Bold</b>\nversion: 1\nsections: [{id: s, title: <script>, lines: [{id: l, title: L, items: [{id: i, title: \"I\", say: [i]}]}]}]\n"))
	if err != nil {
		t.Fatal(err)
	}
	var page bytes.Buffer
	if err := BlankHTML(&page, r); err != nil {
		t.Fatal(err)
	}
	if text := page.String(); strings.Contains(text, "<script>") || !strings.Contains(text, "&lt;b&gt;Bold") {
		t.Error("markup of the file is in the page")
	}
}
