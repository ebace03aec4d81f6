package main

import (
	"bufio"
	"bytes"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"

	"golang.org/x/text/encoding"
	"golang.org/x/text/encoding/unicode"
	"golang.org/x/text/transform"

	"markaround/speech"
)

// fileKind is what a file of a folder is, as far as a look at its name and its
// beginning tells.
type fileKind uint8

const (
	maybeTranscript fileKind = iota
	recording
	reportOfOurs // made by grade
	untimedText  // a .txt file without a time in it, such as notes
	otherFile    // no transcript by its name
	fileKinds    // how many there are
)

// sniffBytes is how much of a file is looked at.
const sniffBytes = 64 << 10

// kindOf looks at a file. One that cannot be read may be a transcript: reading
// it will tell why.
func kindOf(path string) fileKind {
	name := filepath.Base(path)
	if recordingName(name) {
		return recording
	}
	if strings.HasSuffix(attemptOf(name), ".sheet") {
		return reportOfOurs
	}
	if rank(name) < 0 {
		return otherFile
	}
	f, err := os.Open(path)
	if err != nil {
		return maybeTranscript
	}
	defer f.Close()
	head, err := io.ReadAll(io.LimitReader(f, sniffBytes))
	switch {
	case err != nil:
		return maybeTranscript
	case recordingHead(head):
		return recording
	}
	text := plainText(head)
	switch {
	case ours(text):
		return reportOfOurs
	case !strings.EqualFold(filepath.Ext(name), ".txt"), len(bytes.TrimSpace(text)) == 0, bytes.IndexByte(text, 0) >= 0:
		return maybeTranscript
	}
	if _, err := speech.Detect(text); err != nil {
		return untimedText
	}
	return maybeTranscript
}

// plainText is UTF-8 whatever the encoding that a byte order mark tells, without
// a last line that is cut short.
func plainText(head []byte) []byte {
	text, _, err := transform.Bytes(unicode.BOMOverride(encoding.Nop.NewDecoder()), head)
	if err != nil {
		text = head
	}
	if i := bytes.LastIndexByte(text, '\n'); i >= 0 && len(head) == sniffBytes {
		text = text[:i+1]
	}
	return bytes.ReplaceAll(text, []byte("\r\n"), []byte("\n"))
}

// ours tells whether text is a report that grade wrote.
func ours(text []byte) bool {
	head := text[:min(len(text), 4<<10)]
	return textReport.Match(head) || jsonReport.Match(head)
}

// How grade's own reports begin. Times stand in the text ones, so that they
// would pass for transcripts.
var (
	textReport = regexp.MustCompile(`(?m)^Attempt   (?s:.{1,900}?) words?\nResult    (?:NO )?PASS `)
	jsonReport = regexp.MustCompile(`\A\s*\{\s*"schema":\s*\d+,\s*"tool":\s*"markaround `)
)

// recordingExtensions are those of sound and film files.
var recordingExtensions = []string{".aac", ".aif", ".aiff", ".amr", ".flac", ".m4a", ".m4b", ".mka", ".mkv", ".mov", ".mp3",
	".mp4", ".mpeg", ".oga", ".ogg", ".opus", ".wav", ".webm", ".wma"}

func recordingName(name string) bool {
	return slices.Contains(recordingExtensions, strings.ToLower(filepath.Ext(name)))
}

// recordingHead tells a recording by its first bytes: RIFF/WAVE, FLAC, Ogg, MP3
// (an ID3 tag or a frame), the boxes of MP4 and M4A, Matroska and WebM, AIFF,
// AMR, and ASF (WMA). Signatures from memory, as in file(1)'s list.
func recordingHead(b []byte) bool {
	at := func(i int, s string) bool { return len(b) >= i+len(s) && string(b[i:i+len(s)]) == s }
	switch {
	case at(0, "RIFF") && at(8, "WAVE"), at(0, "RF64") && at(8, "WAVE"), at(0, "FORM") && at(8, "AIF"),
		at(0, "fLaC"), at(0, "OggS\x00"), at(0, "ID3") && len(b) > 3 && b[3] < 8, at(4, "ftyp"), at(0, "\x1a\x45\xdf\xa3"), at(0, "#!AMR"),
		at(0, "\x30\x26\xb2\x75\x8e\x66\xcf\x11"):
		return true
	}
	// An MPEG audio frame: eleven bits set, then a layer and a bit rate. The
	// mark of UTF-16 (ff fe) has no layer.
	return len(b) >= 3 && b[0] == 0xff && b[1]&0xe0 == 0xe0 && b[1]&0x06 != 0 && b[1] != 0xfe && b[2]&0xf0 != 0xf0
}

// readTranscript reads one transcript. A recording in its place is told as such.
func readTranscript(in input, format speech.Format, stdin io.Reader, copyTo io.Writer) (*speech.Transcript, error) {
	name, r := "stdin", stdin
	if in.path != "-" {
		f, err := os.Open(in.path)
		if err != nil {
			return nil, noTranscript(err)
		}
		defer f.Close()
		name, r = in.path, f
	}
	if copyTo != nil {
		r = io.TeeReader(r, copyTo)
	}
	b := bufio.NewReaderSize(r, sniffBytes)
	head, _ := b.Peek(sniffBytes)
	switch {
	case recordingHead(head), len(head) > 0 && recordingName(in.path) && bytes.IndexByte(head, 0) >= 0:
		return nil, fmt.Errorf("%s: this is a recording, not a transcript; run it through speech-to-text first and grade what that writes", name)
	case ours(plainText(head)):
		return nil, fmt.Errorf("%s: this is a report that was made from a transcript; grade the transcript", name)
	}
	return speech.Read(b, speech.Options{Name: name, Format: format})
}
