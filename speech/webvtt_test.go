package speech

import "testing"

// What the parser algorithm says is tested in wpt_test.go; here is what the
// transcript makes of it.
func TestReadWebVTT(t *testing.T) {
	runReadCases(t, []readCase{
		{reason: "voices are speakers, also two in a cue", in: "WEBVTT\n\n00:01.000 --> 00:03.000\n<v Examiner>ready</v> <v.loud Student>yes\n",
			want: "1-2.2 Examiner: ~ready\n2.2-3 Student: ~yes\n"},
		{reason: "a voice ends with its cue", in: "WEBVTT\n\n00:01.000 --> 00:02.000\n<v Student>air\n\n00:03.000 --> 00:04.000\nlines\n",
			want: "1-2 Student: ~air\n3-4 ~lines\n"},
		{reason: "inline times are word times", in: "WEBVTT\n\n00:01.000 --> 00:03.000\nair <00:01.500>lines <00:02.000>no leaks\n",
			want: "1-3 air lines ~no ~leaks\n"},
		{reason: "an inline time within a word does not cut it", in: "WEBVTT\n\n00:01.000 --> 00:03.000\nair<00:01.500>brake <00:02.000>hose\n",
			want: "1-3 airbrake hose\n"},
		{reason: "inline times must rise within the cue", in: "WEBVTT\n\n00:01.000 --> 00:03.000\nair <00:02.000>lines <00:01.500>no <00:09.000>leaks\n",
			want: "1-3 air ~lines ~no ~leaks\n", warns: "line 3: inline time <00:01.500>"},
		{reason: "a tag within a word does not cut it", in: "WEBVTT\n\n00:01.000 --> 00:02.000\nbr<b>ake</b> <i>hose</i>\n", want: "1-2 ~brake ~hose\n"},
		{reason: "unknown markup is told", in: "WEBVTT\n\n00:01.000 --> 00:02.000\nunder <4> psi\n", want: "1-2 ~under ~psi\n", warns: `unknown markup left out: "<4>"`},
		{reason: "entities", in: "WEBVTT\n\n00:01.000 --> 00:02.000\nbelts &amp; hoses &lt; 4&nbsp;psi don&#39;t\n", want: "1-2 ~belts ~& ~hoses ~< ~4 ~psi ~don't\n"},
		{reason: "NOTE and STYLE within a cue are speech", in: "WEBVTT\n\nSTYLE\n::cue {}\n\n00:01.000 --> 00:02.000\nNOTE the gauge\nSTYLE\n", want: "1-2 ~NOTE ~the ~gauge ~STYLE\n"},
		{reason: "a bad timing line drops its cue alone", in: "WEBVTT\n\n00:01.00 --> 00:02.000\nlost words\n\n00:03.000 --> 00:04.000\nair\n",
			want: "3-4 ~air\n", warns: `line 3: unreadable timings "00:01.00 --> 00:02.000"; the cue was left out: "lost words"`},
		{reason: "text without timings is told", in: "WEBVTT\n\nlost words\n\n00:03.000 --> 00:04.000\nair\n", want: "3-4 ~air\n", warns: `line 3: text without timings was left out: "lost words"`},
		{reason: "rolling captions, old line above the new one", in: "WEBVTT\n\n00:01.000 --> 00:02.000\nair lines\n\n00:02.000 --> 00:03.000\nair lines\nno leaks\n\n00:03.000 --> 00:04.000\nno leaks\nno cuts\n",
			want: "1-2 ~air ~lines\n2-3 ~no ~leaks\n3-4 ~no ~cuts\n", warns: "left out (2 in all)"},
		{reason: "rolling captions, line that grows", in: "WEBVTT\n\n00:01.000 --> 00:02.000\nair lines\n\n00:02.000 --> 00:03.000\nair lines have\n\n00:03.000 --> 00:04.000\nair lines have no leaks\n",
			want: "1-2 ~air ~lines\n2-3 ~have\n3-4 ~no ~leaks\n", warns: "left out (2 in all)"},
		{reason: "one repeat among many cues is speech", in: "WEBVTT\n\n00:01.000 --> 00:02.000\nno leaks\n\n00:02.000 --> 00:03.000\nno leaks\nbelts\n\n00:03.000 --> 00:04.000\nhoses\n\n00:04.000 --> 00:05.000\nfan\n",
			want: "1-2 ~no ~leaks\n2-3 ~no ~leaks ~belts\n3-4 ~hoses\n4-5 ~fan\n"},
		{reason: "an overlap of the same speaker is cut", in: "WEBVTT\n\n00:01.000 --> 00:05.000\nair lines\n\n00:03.000 --> 00:06.000\nhoses\n",
			want: "1-3 ~air ~lines\n3-6 ~hoses\n", warns: "line 3: overlaps the next cue by 2.0 s"},
		{reason: "crosstalk of two speakers stays", in: "WEBVTT\n\n00:01.000 --> 00:09.000\n<v Student>air lines no leaks\n\n00:04.000 --> 00:05.000\n<v Examiner>louder\n",
			want: "1-5.211 Student: ~air ~lines\n4-5 Examiner: ~louder\n5.211-9 Student: ~no ~leaks\n"},
		{reason: "cues that start together follow each other", in: "WEBVTT\n\n00:01.000 --> 00:03.000\nair\n\n00:01.000 --> 00:03.000\nhub\n",
			want: "1-2 ~air\n2-3 ~hub\n", warns: "2 cues start together"},
		{reason: "no signature", format: WebVTT, in: "WEBVTTX\n\n00:01.000 --> 00:02.000\nair\n", err: "in:1: not a WebVTT file"},
		{reason: "no cue", in: "WEBVTT\n", err: "in: not a single word"},
	})
}
