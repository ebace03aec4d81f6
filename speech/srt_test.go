package speech

import (
	"math"
	"strings"
	"testing"
)

// SubRip has no specification. The variants are those named in cdown/srt#55
// (single-digit seconds), Aegisub#250 (no milliseconds), openzim/ted#48 (blank
// first line) and codex-editor#778 (out of order); the others are common
// practice, no source.
func TestReadSRT(t *testing.T) {
	runReadCases(t, []readCase{
		{reason: "the usual form, two lines of text", in: "1\n00:00:01,000 --> 00:00:04,000\nno cuts\nno leaks\n\n2\n00:00:05,250 --> 00:00:06,000\nair lines\n",
			want: "1-4 ~no ~cuts ~no ~leaks\n5.25-6 ~air ~lines\n"},
		{reason: "position after the times", in: "1\n00:00:01,000 --> 00:00:04,000  X1:40 X2:600 Y1:20 Y2:50\nair\n", want: "1-4 ~air\n"},
		{reason: "settings after the times", in: "1\n00:00:01.000 --> 00:00:04.000 align:start line:0%\nair\n", want: "1-4 ~air\n"},
		{reason: "text behind the times", in: "00:00:01.000 --> 00:00:04.000 air lines\n00:00:05.000 --> 00:00:06.000 hub\n", want: "1-4 ~air ~lines\n5-6 ~hub\n"},
		{reason: "points for commas", in: "1\n00:00:01.500 --> 00:00:04.250\nair\n", want: "1.5-4.25 ~air\n"},
		{reason: "no milliseconds", in: "1\n00:00:01 --> 00:00:04\nair\n", want: "1-4 ~air\n"},
		{reason: "one and two digits of fraction are tenths and hundredths", in: "1\n00:00:01,5 --> 00:00:04,25\nair\n", want: "1.5-4.25 ~air\n"},
		{reason: "single digits", in: "1\n0:00:0,500 --> 0:1:2,000\nair\n", want: "0.5-62 ~air\n"},
		{reason: "no hours", in: "00:01,000 --> 01:02,000\nair\n", want: "1-62 ~air\n"},
		{reason: "a colon before the milliseconds", in: "1\n00:00:01:500 --> 00:00:04:000\nair\n", want: "1.5-4 ~air\n"},
		{reason: "spaces within and none around", in: "1\n00:00:01, 500-->00: 00:04,000\nair\n", want: "1.5-4 ~air\n"},
		{reason: "another arrow", in: "1\n00:00:01,000 -> 00:00:04,000\nair\n", want: "1-4 ~air\n"},
		{reason: "no cue numbers", in: "00:00:01,000 --> 00:00:02,000\nair\n\n00:00:03,000 --> 00:00:04,000\nlines\n", want: "1-2 ~air\n3-4 ~lines\n"},
		{reason: "no blank lines", in: "1\n00:00:01,000 --> 00:00:02,000\nair\n2\n00:00:03,000 --> 00:00:04,000\nlines\n", want: "1-2 ~air\n3-4 ~lines\n"},
		{reason: "blank first line, blank line within the text", in: "\n\n1\n00:00:01,000 --> 00:00:02,000\n\nair\n\nlines\n\n2\n00:00:03,000 --> 00:00:04,000\nhose\n", want: "1-2 ~air ~lines\n3-4 ~hose\n"},
		{reason: "text that is only a number is a pressure", in: "1\n00:00:01,000 --> 00:00:02,000\n110\n\n2\n00:00:03,000 --> 00:00:04,000\n125\n", want: "1-2 ~110\n3-4 ~125\n"},
		{reason: "a number as last line, no blank line and no cue number after it", in: "00:00:01,000 --> 00:00:02,000\nthe pressure is\n110\n00:00:03,000 --> 00:00:04,000\nand holds\n", want: "1-2 ~the ~pressure ~is ~110\n3-4 ~and ~holds\n"},
		{reason: "the same in a file with numbers", in: "1\n00:00:01,000 --> 00:00:02,000\nbuilding\n\n2\n00:00:03,000 --> 00:00:04,000\n110\n00:00:05,000 --> 00:00:06,000\nand holds\n4\n00:00:07,000 --> 00:00:08,000\nfine\n", want: "1-2 ~building\n3-4 ~110\n5-6 ~and ~holds\n7-8 ~fine\n"},
		{reason: "numbers that start again", in: "7\n00:00:01,000 --> 00:00:02,000\nair\n\n1\n00:00:03,000 --> 00:00:04,000\nlines\n", want: "1-2 ~air\n3-4 ~lines\n"},
		{reason: "tags and references", in: "1\n00:00:01,000 --> 00:00:02,000\n{\\an8}<i>belts</i> &amp; <font color=\"#fff\">hoses</font>\\Nfine\n", want: "1-2 ~belts ~& ~hoses ~fine\n"},
		{reason: "angle brackets that are no tag", in: "1\n00:00:01,000 --> 00:00:02,000\n< 4 psi and <3 psi\n", want: "1-2 ~< ~4 ~psi ~and ~<3 ~psi\n"},
		{reason: "an arrow in the text", in: "1\n00:00:01,000 --> 00:00:02,000\nhub --> drum\n---> this way\n", want: "1-2 ~hub ~--> ~drum ~---> ~this ~way\n"},
		{reason: "out of order", in: "1\n00:00:05,000 --> 00:00:06,000\nlines\n\n2\n00:00:01,000 --> 00:00:02,000\nair\n", want: "1-2 ~air\n5-6 ~lines\n", warns: "line 6: times run backwards from"},
		{reason: "end before start: the words stay, the end is from their number", in: "1\n00:00:05,000 --> 00:00:04,000\nair lines hose coupler\n", want: "5-7.4 ~air ~lines ~hose ~coupler\n", warns: "line 2: the cue ends at 0:04.0, before it starts at 0:05.0"},
		{reason: "no end time", in: "1\n00:00:05,000 -->\nair lines\n\n2\n00:00:06,000 --> 00:00:07,000\nhose\n", want: "5-6 ~air ~lines\n6-7 ~hose\n", warns: "line 2: no readable end time"},
		{reason: "no readable time: the words stay where they stood", in: "1\n00:00:05,000 --> 00:00:06,000\nair\n\n2\n00:0x:06,000 --> 00:00:07,000\nlines\n\n3\n00:00:20,000 --> 00:00:21,000\nhose\n", want: "5-6 ~air\n6-8 ~lines\n20-21 ~hose\n", warns: "line 6: unreadable time"},
		{reason: "seconds beyond 59", in: "1\n00:00:75,000 --> 00:01:16,000\nair\n", want: "0-2 ~air\n", warns: "unreadable time"},
		{reason: "negative start", in: "1\n-00:00:01,000 --> 00:00:02,000\nair\n", want: "0-2 ~air\n", warns: "negative"},
		{reason: "no time can be a hundred days", in: "1\n9999:00:00,000 --> 9999:00:01,000\nair\n", want: "0-2 ~air\n", warns: "impossible"},
		{reason: "a duplicate", in: "1\n00:00:01,000 --> 00:00:02,000\nair\n\n2\n00:00:01,000 --> 00:00:02,000\nair\n", want: "1-2 ~air\n", warns: "duplicate"},
		{reason: "words said twice are no duplicate", in: "1\n00:00:01,000 --> 00:00:02,000\nno leaks\n\n2\n00:00:02,000 --> 00:00:03,000\nno leaks\n", want: "1-2 ~no ~leaks\n2-3 ~no ~leaks\n"},
		{reason: "a gap of hours", in: "1\n00:00:01,000 --> 00:00:02,000\nair\n\n2\n05:00:00,000 --> 05:00:01,000\nlines\n", want: "1-2 ~air\n18000-18001 ~lines\n", warns: "nothing for 5.0 hours before 5:00:00.0"},
		{reason: "text before the first cue", in: "made by hand\n\n1\n00:00:01,000 --> 00:00:02,000\nair\n", want: "1-2 ~air\n", warns: `line 1: text before the first timing line left out: "made by hand"`},
		{reason: "no timing line", format: SRT, in: "air lines\n", err: "in: no timing line in the SRT file; a cue needs"},
		{reason: "only sounds", in: "1\n00:00:01,000 --> 00:00:02,000\n[BLANK_AUDIO]\n", err: "not a single word"},
	})
}

// go-astisub would lose what follows a line this long.
func TestReadSRTLongLine(t *testing.T) {
	in := "1\n00:00:01,000 --> 00:10:00,000\n" + strings.Repeat("air ", 40_000) + "\n\n2\n00:11:00,000 --> 00:11:01,000\nlast\n"
	tr, err := Read(strings.NewReader(in), Options{})
	if err != nil {
		t.Fatal(err)
	}
	checkTranscript(t, tr)
	if n := len(tr.Words); n != 40_001 || tr.Words[n-1].Text != "last" {
		t.Errorf("%d words", n)
	}
}

func TestLooseTime(t *testing.T) {
	for in, want := range map[string]float64{
		"01:02:03,004": 3723.004, "1:2:3": 3723, "75:10": 4510, "0:00.5": 0.5, "-0:01": -1, "00:00:01:250": 1.25,
		"1:60": math.NaN(), "1:60:00": math.NaN(), "12": math.NaN(), "1:2:3:4:5": math.NaN(), "": math.NaN(), ":": math.NaN(), "99999999999999999999:00": math.NaN(),
	} {
		got, ok := looseTime(in)
		if ok == math.IsNaN(want) || ok && math.Abs(got-want) > 1e-9 {
			t.Errorf("looseTime(%q) = %g, %v; want %g", in, got, ok, want)
		}
	}
}
