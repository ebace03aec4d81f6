package speech

import (
	"bytes"
	"strings"
	"testing"

	"golang.org/x/text/encoding"
	"golang.org/x/text/encoding/charmap"
	"golang.org/x/text/encoding/unicode"
	"golang.org/x/text/encoding/unicode/utf32"
)

// Every encoding of one text, made by golang.org/x/text, must read the same.
func TestEncodings(t *testing.T) {
	const text = "[0:01] it’s ¼ inch\n[0:09] naïve “air” lines\n"
	const want = "1-3 ~it’s ~¼ ~inch\n9-11 ~naïve ~“air” ~lines\n"
	for _, c := range []struct {
		reason string
		enc    encoding.Encoding
		warns  string
	}{
		{"UTF-8", encoding.Nop, ""},
		{"UTF-8 with a byte order mark", unicode.UTF8BOM, ""},
		{"UTF-16, small end first", unicode.UTF16(unicode.LittleEndian, unicode.UseBOM), ""},
		{"UTF-16, big end first", unicode.UTF16(unicode.BigEndian, unicode.UseBOM), ""},
		{"UTF-16, small end first, no mark", unicode.UTF16(unicode.LittleEndian, unicode.IgnoreBOM), "read as UTF-16"},
		{"UTF-16, big end first, no mark", unicode.UTF16(unicode.BigEndian, unicode.IgnoreBOM), "read as UTF-16"},
		{"UTF-32, small end first", utf32.UTF32(utf32.LittleEndian, utf32.UseBOM), ""},
		{"UTF-32, big end first", utf32.UTF32(utf32.BigEndian, utf32.UseBOM), ""},
		{"Windows-1252", charmap.Windows1252, "line 1: not UTF-8 from here; the file was read as Windows-1252"},
	} {
		for _, end := range []string{"\n", "\r\n", "\r"} {
			t.Run(c.reason, func(t *testing.T) {
				data, err := c.enc.NewEncoder().Bytes([]byte(strings.ReplaceAll(text, "\n", end)))
				if err != nil {
					t.Fatal(err)
				}
				tr, err := Read(bytes.NewReader(data), Options{})
				if err != nil {
					t.Fatal(err)
				}
				checkTranscript(t, tr)
				got := warned(tr)
				if dump(tr) != want || (c.warns == "") != (got == "") || !strings.Contains(got, c.warns) {
					t.Errorf("got\n%swarnings %q", dump(tr), got)
				}
			})
		}
	}
}

func TestDamagedText(t *testing.T) {
	runReadCases(t, []readCase{
		{reason: "UTF-8 cut off within a character stays UTF-8", in: "[0:01] it’s “air”\n[0:09] ¼\xe2\x80", want: "1-3 ~it’s ~“air”\n9-11 ~¼\ufffd\n", warns: "line 2: damaged UTF-8"},
		{reason: "zero bytes", in: "[0:01] air\x00 lines and more of it\n", want: "1-4.6 ~air\ufffd ~lines ~and ~more ~of ~it\n", warns: "line 1: zero bytes"},
		{reason: "half a pair in UTF-16", in: "\xff\xfe[\x000\x00:\x000\x001\x00]\x00a\x00b", want: "1-3 ~a\ufffd\n"},
		{reason: "an MP4", in: "\x00\x00\x00\x20ftypisom\x00\x00", err: "in: this is an MP4 recording, not a transcript; run speech-to-text on it first"},
		{reason: "an office document", in: "PK\x03\x04\x14\x00", err: "an office document"},
		{reason: "a picture of a transcript", in: "\x89PNG\r\n\x1a\n", err: "a picture"},
	})
}
