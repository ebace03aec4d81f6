package speech

import (
	"bytes"
	"strings"
	"unicode/utf8"

	"golang.org/x/text/encoding"
	"golang.org/x/text/encoding/charmap"
	"golang.org/x/text/encoding/unicode"
	"golang.org/x/text/encoding/unicode/utf32"
)

// magic holds the first bytes of files that people hand in by mistake.
var magic = []struct {
	at   int
	head string
	what string
}{
	{0, "RIFF", "a WAV or AVI recording"},
	{0, "RF64", "a WAV recording"},
	{0, "ID3", "an MP3 recording"},
	{0, "\xff\xfb", "an MP3 recording"},
	{0, "OggS", "an Ogg recording"},
	{0, "fLaC", "a FLAC recording"},
	{0, "\x1aE\xdf\xa3", "a WebM or Matroska recording"},
	{4, "ftyp", "an MP4 recording"},
	{0, "PK\x03\x04", "a ZIP archive or an office document"},
	{0, "%PDF", "a PDF"},
	{0, "\x1f\x8b", "a gzip archive"},
	{0, "\x89PNG", "a picture"},
	{0, "\xff\xd8\xff", "a picture"},
	{0, "SQLite format", "a database"},
}

// decode turns the bytes of a file into UTF-8 with \n as the only line end. It
// knows UTF-8, UTF-16 and UTF-32 by their byte order mark, UTF-16 without one
// by its pattern of zero bytes, and takes what is not UTF-8 for Windows-1252,
// with a warning. Binary data is a *SyntaxError.
func (s *source) decode(data []byte) (string, error) {
	for _, m := range magic {
		if len(data) > m.at && bytes.HasPrefix(data[m.at:], []byte(m.head)) {
			advice := "save it as text, SRT or WebVTT first"
			if strings.HasSuffix(m.what, "recording") {
				advice = "run speech-to-text on it first and give its transcript"
			}
			return "", s.errorf(0, advice, "this is %s, not a transcript", m.what)
		}
	}
	text, err := s.toUTF8(data)
	if err != nil {
		return "", err
	}
	if isBinary(text) {
		return "", s.errorf(0, "give a text, SRT, WebVTT, TTML, CTM or JSON transcript", "this is binary data, not a transcript")
	}
	if n := strings.Count(text, "\x00"); n > 0 {
		line := 1 + lineEnds([]byte(text[:strings.IndexByte(text, 0)]))
		s.warn(line, 0, "zero bytes", "zero bytes in the text were replaced (%d in all)", n)
		text = strings.ReplaceAll(text, "\x00", "\uFFFD")
	}
	if strings.Contains(text, "\r") {
		text = strings.ReplaceAll(text, "\r\n", "\n")
		text = strings.ReplaceAll(text, "\r", "\n")
	}
	return text, nil
}

func (s *source) toUTF8(data []byte) (string, error) {
	var enc encoding.Encoding
	switch {
	case bytes.HasPrefix(data, []byte("\xef\xbb\xbf")):
		data = data[3:]
	case bytes.HasPrefix(data, []byte("\xff\xfe\x00\x00")):
		enc = utf32.UTF32(utf32.LittleEndian, utf32.UseBOM)
	case bytes.HasPrefix(data, []byte("\x00\x00\xfe\xff")):
		enc = utf32.UTF32(utf32.BigEndian, utf32.UseBOM)
	case bytes.HasPrefix(data, []byte("\xff\xfe")), bytes.HasPrefix(data, []byte("\xfe\xff")):
		enc = unicode.UTF16(unicode.LittleEndian, unicode.UseBOM)
	default:
		if order, ok := utf16Pattern(data); ok {
			enc = unicode.UTF16(order, unicode.IgnoreBOM)
			s.warn(0, 0, "encoding guesses", "no byte order mark; read as UTF-16 from its pattern of zero bytes")
		}
	}
	if enc != nil {
		out, err := enc.NewDecoder().Bytes(data)
		if err != nil {
			return "", s.errorf(0, "save it as UTF-8", "not readable as Unicode text (%v)", err)
		}
		return string(out), nil
	}
	if utf8.Valid(data) {
		return string(data), nil
	}
	first, good, bad := utf8Damage(data)
	line := 1 + lineEnds(data[:first])
	if 3*good >= bad && good > 0 {
		s.warn(line, 0, "damaged characters", "damaged UTF-8; bytes were replaced (%d in all)", bad)
		return strings.ToValidUTF8(string(data), "\uFFFD"), nil
	}
	s.warn(line, 0, "encoding guesses", "not UTF-8 from here; the file was read as Windows-1252")
	out, err := charmap.Windows1252.NewDecoder().Bytes(data)
	if err != nil {
		return "", s.errorf(line, "save it as UTF-8", "not readable as text (%v)", err)
	}
	return string(out), nil
}

// utf16Pattern finds UTF-16 without a byte order mark: Western text has a zero
// byte in nearly every pair, always on the same side.
func utf16Pattern(data []byte) (unicode.Endianness, bool) {
	head := data[:min(len(data), 4096)&^1]
	if len(head) < 8 || len(data)%2 != 0 {
		return unicode.LittleEndian, false
	}
	var zeros [2]int
	for i, b := range head {
		if b == 0 {
			zeros[i&1]++
		}
	}
	pairs := len(head) / 2
	switch {
	case zeros[1]*10 >= pairs*7 && zeros[0]*10 <= pairs:
		return unicode.LittleEndian, true
	case zeros[0]*10 >= pairs*7 && zeros[1]*10 <= pairs:
		return unicode.BigEndian, true
	}
	return unicode.LittleEndian, false
}

// utf8Damage gives the offset of the first byte that is not UTF-8, the number
// of well-formed multi-byte characters and the number of bytes in none.
func utf8Damage(data []byte) (first, good, bad int) {
	first = len(data)
	for i := 0; i < len(data); {
		r, n := utf8.DecodeRune(data[i:])
		switch {
		case r == utf8.RuneError && n == 1:
			first = min(first, i)
			bad++
		case n > 1:
			good++
		}
		i += n
	}
	return first, good, bad
}

// isBinary tells data from text: text has hardly any control characters.
func isBinary(text string) bool {
	head := text[:min(len(text), 64<<10)]
	control := 0
	for i := 0; i < len(head); i++ {
		if c := head[i]; c < ' ' && c != '\n' && c != '\r' && c != '\t' && c != '\f' && c != '\v' {
			control++
		}
	}
	return control*10 > len(head)
}

// lineEnds counts the line ends of any kind in data.
func lineEnds(data []byte) int {
	return bytes.Count(data, []byte("\n")) + bytes.Count(data, []byte("\r")) - bytes.Count(data, []byte("\r\n"))
}
