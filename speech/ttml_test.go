package speech

import (
	"strings"
	"testing"
)

func tt(body string) string {
	return `<tt xmlns="http://www.w3.org/ns/ttml" xmlns:ttm="http://www.w3.org/ns/ttml#metadata" xmlns:ttp="http://www.w3.org/ns/ttml#parameter" ttp:frameRate="25" ttp:tickRate="10"><head><metadata><ttm:title>not said</ttm:title><ttm:agent xml:id="s" type="person"><ttm:name>Student</ttm:name></ttm:agent></metadata></head><body><div>` + body + `</div></body></tt>`
}

// Times are those of W3C, Timed Text Markup Language 2, section 12.3.1.
func TestReadTTML(t *testing.T) {
	runReadCases(t, []readCase{
		{reason: "clock times with fractions of any length", in: tt(`<p begin="00:00:01.5" end="00:00:02.5000">air</p>`), want: "1.5-2.5 ~air\n"},
		{reason: "frames", in: tt(`<p begin="00:00:01:05" end="75f">air</p>`), want: "1.2-3 ~air\n"},
		{reason: "ticks", in: tt(`<p begin="15t" end="25t">air</p>`), want: "1.5-2.5 ~air\n"},
		{reason: "offsets in other units", in: tt(`<p begin="0.5m" end="31000ms">air</p><p begin="0.01h" end="37.5s">hub</p>`), want: "30-31 ~air\n36-37.5 ~hub\n"},
		{reason: "a duration for an end", in: tt(`<p begin="1s" dur="2s">air</p>`), want: "1-3 ~air\n"},
		{reason: "times count from the enclosing element", in: strings.Replace(tt(`<p begin="1s" end="2s">air</p>`), "<div>", `<div begin="10s">`, 1), want: "11-12 ~air\n"},
		{reason: "one after the other", in: strings.Replace(tt(`<p dur="2s">air</p><p dur="1s">hub</p>`), "<div>", `<div timeContainer="seq">`, 1), want: "0-2 ~air\n2-3 ~hub\n"},
		{reason: "line breaks part words", in: tt("<p begin=\"1s\" end=\"2s\">brake\n   hose<br/>air</p>"), want: "1-2 ~brake ~hose ~air\n"},
		{reason: "nested spans keep their text and do not cut words", in: tt(`<p begin="1s" end="2s">no <span>l<span>eak</span>s</span> here</p>`), want: "1-2 ~no ~leaks ~here\n"},
		{reason: "timed spans are words with times", in: tt(`<p begin="10s" end="12s"><span begin="0s" end="0.5s">no</span> <span begin="1s" end="1.5s">leaks</span></p>`), want: "10-10.5 ~no\n11-11.5 ~leaks\n"},
		{reason: "agents are speakers", in: tt(`<p begin="1s" end="2s" ttm:agent="s">air</p>`), want: "1-2 Student: ~air\n"},
		{reason: "labels are speakers", in: tt(`<p begin="1s" end="2s">EXAMINER: ready</p>`), want: "1-2 EXAMINER: ~ready\n"},
		{reason: "an unknown style or region is nothing of speech", in: tt(`<p begin="1s" end="2s" style="gone" region="gone">air</p>`), want: "1-2 ~air\n"},
		{reason: "metadata in a paragraph was not said", in: tt(`<p begin="1s" end="2s"><metadata><ttm:desc>title</ttm:desc></metadata>air</p>`), want: "1-2 ~air\n"},
		{reason: "no end", in: tt(`<p begin="1s">air</p><p begin="9s" end="10s">hub</p>`), want: "1-3 ~air\n9-10 ~hub\n"},
		{reason: "no begin at all", in: tt(`<p begin="1s" end="2s">air</p><p>hub</p>`), want: "1-2 ~air\n2-4 ~hub\n", warns: `no begin time; "hub" was put after`},
		{reason: "an unreadable time", in: tt(`<p begin="soon" end="2s">air</p>`), want: "0-2 ~air\n", warns: `line 1: unreadable time "soon"`},
		{reason: "entities", in: tt(`<p begin="1s" end="2s">belts &amp; hoses&nbsp;fine</p>`), want: "1-2 ~belts ~& ~hoses ~fine\n"},
		{reason: "a prefix on every element", in: `<a:tt xmlns:a="http://www.w3.org/ns/ttml"><a:body><a:div><a:p begin="1s" end="2s">air</a:p></a:div></a:body></a:tt>`, want: "1-2 ~air\n"},
		{reason: "cut off", in: "<tt><body><div>\n<p begin=\"1s\" end=\"2s\">air</p>\n<p beg", err: "in:3: not well-formed XML"},
		{reason: "nested too deep", in: "<tt><body>" + strings.Repeat("<div>", 100), err: "nested more than 64 deep"},
		{reason: "no text", in: tt(""), err: "no timed text"},
		{reason: "another root", format: TTML, in: "<html/>", err: "the root element is <html>, not <tt>"},
	})
}
