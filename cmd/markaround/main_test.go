package main

import (
	"bytes"
	"encoding/binary"
	"errors"
	"flag"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"
	"golang.org/x/text/encoding/unicode"

	"markaround/cmd/internal/report"
	"markaround/rubric"
	"markaround/speech"
)

var update = flag.Bool("update", false, "rewrite the files that scripts compare with")

func TestMain(m *testing.M) {
	testscript.Main(m, map[string]func(){"markaround": main})
}

// programPath is a PATH on which markaround is the program to be tested: this test
// binary, or the one in the folder that MARKAROUND_BIN names. .ci/run builds one
// there without the race detector, with which every command would take eight
// times as long; what runs at the same time is tested with it in this process.
func programPath(path string) string {
	if dir := os.Getenv("MARKAROUND_BIN"); dir != "" {
		return dir + string(os.PathListSeparator) + path
	}
	return path
}

func TestScripts(t *testing.T) {
	testscript.Run(t, testscript.Params{
		Dir:                 "testdata/script",
		UpdateScripts:       *update,
		RequireExplicitExec: true,
		RequireUniqueNames:  true,
		Setup: func(env *testscript.Env) error {
			env.Setenv("NO_COLOR", "")
			env.Setenv("TERM", "xterm")
			env.Setenv("PATH", programPath(env.Getenv("PATH")))
			return nil
		},
		Cmds: map[string]func(*testscript.TestScript, bool, []string){
			"sizeover": sizeOver,
			"wide":     wide,
			"record":   record,
		},
	})
}

// sizeOver FILE N fails unless the file has more than N bytes.
func sizeOver(ts *testscript.TestScript, neg bool, args []string) {
	data := ts.ReadFile(args[0])
	n := 0
	for _, r := range args[1] {
		n = n*10 + int(r-'0')
	}
	if (len(data) > n) == neg {
		ts.Fatalf("%s has %d bytes", args[0], len(data))
	}
}

// wide FILE N fails unless a line of the file has more than N characters.
func wide(ts *testscript.TestScript, neg bool, args []string) {
	n := 0
	for _, r := range args[1] {
		n = n*10 + int(r-'0')
	}
	most, width := 0, 0
	for _, r := range ts.ReadFile(args[0]) {
		if width++; r == '\n' {
			width = 0
		}
		most = max(most, width)
	}
	if (most > n) == neg {
		ts.Fatalf("the widest line of %s has %d characters", args[0], most)
	}
}

// record TRANSCRIPT FILE [RATE] makes a recording to a transcript: 16-bit mono
// at so many samples a second, 8,000 unless given.
func record(ts *testscript.TestScript, neg bool, args []string) {
	rate := 8000
	if len(args) > 2 {
		var err error
		rate, err = strconv.Atoi(args[2])
		ts.Check(err)
	}
	t, err := speech.Read(strings.NewReader(ts.ReadFile(args[0])), speech.Options{Name: args[0]})
	ts.Check(err)
	ts.Check(os.WriteFile(ts.MkAbs(args[1]), hummed(t, rate), 0o666))
}

// hummed is a recording where somebody hums every word of a transcript for as
// long as it lasts, over a little noise.
func hummed(t *speech.Transcript, rate int) []byte {
	pcm := make([]int16, int((t.Duration()+2)*float64(rate)))
	noise := rand.New(rand.NewPCG(1, 2))
	for i := range pcm {
		pcm[i] = int16(noise.NormFloat64() * 30)
	}
	for k, w := range t.Words {
		pitch := 120 + float64(k%7)*25
		for i := int(w.Start * float64(rate)); i < min(int((w.End-0.03)*float64(rate)), len(pcm)); i++ {
			at := float64(i) / float64(rate)
			swell := math.Sin(math.Pi * (at - w.Start) / (w.End - w.Start))
			var v float64
			for h := 1.0; h <= 12; h++ {
				v += math.Sin(2*math.Pi*pitch*h*at) / h
			}
			pcm[i] += int16(6000 * swell * v)
		}
	}
	b := []byte("RIFF")
	b = binary.LittleEndian.AppendUint32(b, uint32(36+2*len(pcm)))
	b = append(b, "WAVEfmt \x10\x00\x00\x00\x01\x00\x01\x00"...)
	b = binary.LittleEndian.AppendUint32(b, uint32(rate))
	b = binary.LittleEndian.AppendUint32(b, uint32(2*rate))
	b = append(b, "\x02\x00\x10\x00data"...)
	b = binary.LittleEndian.AppendUint32(b, uint32(2*len(pcm)))
	for _, v := range pcm {
		b = binary.LittleEndian.AppendUint16(b, uint16(v))
	}
	return b
}

// The folder order and the choice among several transcripts of one recording.
func TestFromFolder(t *testing.T) {
	dir := t.TempDir()
	timed := "[0:01] my mirrors are clean"
	for name, content := range map[string]string{
		"b.srt": "x", "a.txt": timed, "a.vtt": "x", "a.json": "x", "c.wav": "x", "notes.pdf": "x", ".hidden.vtt": "x",
		"a.sheet.json": "x", "a.sheet.html": "x", "d.txt": timed, "to do.txt": "call the school\nbuy chocks", "empty.srt": "",
	} {
		if err := os.WriteFile(dir+"/"+name, []byte(content), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	if err := os.Mkdir(dir+"/d.vtt", 0o755); err != nil {
		t.Fatal(err)
	}
	list, note, err := fromFolder(dir)
	if err != nil {
		t.Fatal(err)
	}
	var got []string
	for _, in := range list {
		got = append(got, in.attempt+" "+filepath.Base(in.path))
	}
	if want := []string{"a a.json", "b b.srt", "d d.txt", "empty empty.srt"}; !slices.Equal(got, want) {
		t.Errorf("got %q, want %q", got, want)
	}
	want := dir + ": 4 to mark, 1 skipped that is a recording, 2 skipped that are reports, 1 skipped that is text without times, " +
		"1 skipped that is no transcript, 2 skipped that are other forms of the same attempt"
	if note != want {
		t.Errorf("note is %q, want %q", note, want)
	}
}

// Reports that grade made are told from transcripts, whatever their name and
// the encoding that a shell gives them; transcripts are not taken for reports.
func TestKindOf(t *testing.T) {
	s, words, err := sheetOf(t, "[0:01] my fire extinguisher is fully charged\n[0:05] these are my mirrors they are clean")
	if err != nil {
		t.Fatal(err)
	}
	var text, page, object bytes.Buffer
	if err := errors.Join(report.Text(&text, s, report.TextOptions{Transcript: words}), report.JSON(&object, s), report.JSONLine(&page, s)); err != nil {
		t.Fatal(err)
	}
	utf16, err := unicode.UTF16(unicode.LittleEndian, unicode.UseBOM).NewEncoder().Bytes(bytes.ReplaceAll(text.Bytes(), []byte("\n"), []byte("\r\n")))
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		name    string
		content []byte
		want    fileKind
		reason  string
	}{
		{"old.txt", text.Bytes(), reportOfOurs, "times stand at the start of its lines"},
		{"old.txt", utf16, reportOfOurs, "as one shell redirects it"},
		{"old.json", object.Bytes(), reportOfOurs, "a sheet under another name"},
		{"old.json", page.Bytes(), reportOfOurs, "a sheet on one line"},
		{"old.sheet.csv", nil, reportOfOurs, "by its name"},
		{"a.txt", []byte("[0:01] attempt one, from the top"), maybeTranscript, "a transcript"},
		{"a.txt", []byte("buy chocks"), untimedText, "notes"},
		{"a.txt", nil, maybeTranscript, "an empty file is worth an error"},
		{"a.srt", []byte("buy chocks"), maybeTranscript, "so is a bad one that is named as a transcript"},
		{"a.mp3", nil, recording, "by its name"},
		{"a.txt", []byte("ID3\x04\x00rest"), recording, "by its beginning"},
		{"a.ctm", []byte("ID3045 1 0.10 0.20 mirrors"), maybeTranscript, "an id that only looks like a tag"},
	} {
		path := filepath.Join(t.TempDir(), c.name)
		if err := os.WriteFile(path, c.content, 0o644); err != nil {
			t.Fatal(err)
		}
		if got := kindOf(path); got != c.want {
			t.Errorf("%s (%s): kind %d, want %d", c.name, c.reason, got, c.want)
		}
	}
}

// Beginnings of files as their formats lay them down: RFC 9639 (FLAC), RFC 3533
// (Ogg), RFC 8794 (EBML), RFC 4867 (AMR), ISO 14496-12 (ftyp); the rest from
// memory.
func TestRecordingHead(t *testing.T) {
	for _, c := range []struct {
		head, what string
		want       bool
	}{
		{"RIFF\x24\x08\x00\x00WAVEfmt ", "WAV", true},
		{"RIFF\x24\x08\x00\x00AVI LIST", "no sound alone", false},
		{"fLaC\x00\x00\x00\x22", "FLAC", true},
		{"OggS\x00\x02", "Ogg", true},
		{"ID3\x03\x00\x00", "MP3 with a tag", true},
		{"\xff\xfb\x90\x64", "MP3 frame", true},
		{"\x00\x00\x00\x20ftypM4A ", "M4A", true},
		{"\x1a\x45\xdf\xa3", "WebM", true},
		{"#!AMR\n", "AMR", true},
		{"\xff\xfeW\x00E\x00", "text in UTF-16", false},
		{"\xef\xbb\xbfWEBVTT", "text with a byte order mark", false},
		{"WEBVTT", "WebVTT", false},
		{"", "nothing", false},
	} {
		if recordingHead([]byte(c.head)) != c.want {
			t.Errorf("%s: want %t", c.what, c.want)
		}
	}
}

func sheetOf(t *testing.T, text string) (*rubric.Sheet, *speech.Transcript, error) {
	t.Helper()
	m, err := newMarker(markFlags{rubric: "class-a"}, strings.NewReader(text))
	if err != nil {
		return nil, nil, err
	}
	got := m.mark(input{"-", "one"})
	if got.err != nil {
		return nil, nil, got.err
	}
	return got.sheet, got.words, nil
}

func TestFileName(t *testing.T) {
	for in, want := range map[string]string{
		"student-07": "student-07", "a/b": "a-b", `..\x`: "-x", "../../etc": "-..-etc", "a:b*": "a-b-", "Ñu": "Ñu",
	} {
		if got := fileName(in); got != want {
			t.Errorf("fileName(%q) = %q, want %q", in, got, want)
		}
	}
}
