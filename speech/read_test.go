package speech

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

// dump writes a transcript in short: one line a segment with its times, its
// speaker and its words, estimated ones marked by a tilde.
func dump(t *Transcript) string {
	var b strings.Builder
	for _, s := range t.Segments {
		fmt.Fprintf(&b, "%s-%s", short(s.Start), short(s.End))
		if s.Speaker != "" {
			fmt.Fprintf(&b, " %s:", s.Speaker)
		}
		for _, w := range t.Words[s.First:s.Last] {
			b.WriteByte(' ')
			if w.Estimated {
				b.WriteByte('~')
			}
			b.WriteString(w.Text)
		}
		b.WriteByte('\n')
	}
	return b.String()
}

func short(seconds float64) string {
	return strings.TrimSuffix(strings.TrimRight(fmt.Sprintf("%.3f", seconds), "0"), ".")
}

// warned lists the warnings, one a line.
func warned(t *Transcript) string {
	var b strings.Builder
	for _, w := range t.Warnings {
		b.WriteString(w.String() + "\n")
	}
	return b.String()
}

// checkTranscript tests every promise that Transcript's comment makes.
func checkTranscript(t *testing.T, tr *Transcript) {
	t.Helper()
	if len(tr.Words) == 0 {
		t.Error("a transcript without words is no error")
	}
	next := 0
	for i, s := range tr.Segments {
		switch {
		case s.First != next || s.Last <= s.First:
			t.Fatalf("segment %d has the words [%d:%d), want them from %d on", i, s.First, s.Last, next)
		case !usable(s.Start) || !usable(s.End) || s.Start > s.End:
			t.Fatalf("segment %d goes from %g to %g", i, s.Start, s.End)
		case i > 0 && s.Start < tr.Segments[i-1].Start:
			t.Fatalf("segment %d starts at %g, before the one before it", i, s.Start)
		}
		next = s.Last
		for j := s.First; j < s.Last; j++ {
			w := tr.Words[j]
			switch {
			case w.Segment != i:
				t.Fatalf("word %d says segment %d, is in %d", j, w.Segment, i)
			case w.Text == "" || len(strings.Fields(w.Text)) != 1 || strings.TrimSpace(w.Text) != w.Text:
				t.Fatalf("word %d is %q", j, w.Text)
			case !usable(w.Start) || !usable(w.End) || w.Start > w.End:
				t.Fatalf("word %d goes from %g to %g", j, w.Start, w.End)
			case w.Start < s.Start || w.End > s.End:
				t.Fatalf("word %d (%g to %g) is not within its segment (%g to %g)", j, w.Start, w.End, s.Start, s.End)
			case j > 0 && w.Start < tr.Words[j-1].Start:
				t.Fatalf("word %d starts at %g, before the one before it", j, w.Start)
			case w.Confidence != -1 && !(w.Confidence >= 0 && w.Confidence <= 1):
				t.Fatalf("word %d has confidence %g", j, w.Confidence)
			}
		}
	}
	if next != len(tr.Words) {
		t.Fatalf("%d words in segments of %d", next, len(tr.Words))
	}
	for _, w := range tr.Warnings {
		if strings.Contains(w.String(), "\n") || w.Text == "" {
			t.Errorf("warning of several lines or none: %q", w.String())
		}
	}
	if len(tr.Warnings) > 100 {
		t.Errorf("%d warnings", len(tr.Warnings))
	}
}

// checkError tests what every reader's error must be.
func checkError(t *testing.T, err error) {
	t.Helper()
	var syntax *SyntaxError
	if !errors.As(err, &syntax) {
		t.Errorf("error is %T, want a *SyntaxError: %v", err, err)
	}
	if strings.ContainsAny(err.Error(), "\n\r") {
		t.Errorf("error of several lines: %q", err)
	}
}

// readCase is a transcript and what must come of it.
type readCase struct {
	reason string
	format Format
	in     string
	want   string // dump of the transcript
	warns  string // part of the warnings; "" for none at all
	err    string // part of the error
}

func runReadCases(t *testing.T, cases []readCase) {
	t.Helper()
	for _, c := range cases {
		t.Run(c.reason, func(t *testing.T) {
			tr, err := Read(strings.NewReader(c.in), Options{Name: "in", Format: c.format})
			if err != nil {
				checkError(t, err)
				if c.err == "" || !strings.Contains(err.Error(), c.err) {
					t.Fatalf("error %q, want %q", err, c.err)
				}
				return
			}
			if c.err != "" {
				t.Fatalf("no error, want %q; got\n%s", c.err, dump(tr))
			}
			checkTranscript(t, tr)
			if got, want := dump(tr), strings.TrimLeft(c.want, "\n"); got != want {
				t.Errorf("got\n%swant\n%s", got, want)
			}
			switch got := warned(tr); {
			case c.warns == "" && got != "":
				t.Errorf("unexpected warnings\n%s", got)
			case !strings.Contains(got, c.warns):
				t.Errorf("warnings\n%swant %q", got, c.warns)
			}
		})
	}
}

func TestDetect(t *testing.T) {
	for _, c := range []struct {
		reason string
		in     string
		want   Format
		err    string
	}{
		{"signature alone", "WEBVTT\n", WebVTT, ""},
		{"byte order mark before the signature", "\ufeffWEBVTT - mock test\n", WebVTT, ""},
		{"arrow after a time", "1\n00:00:01,000 --> 00:00:02,000\nair\n", SRT, ""},
		{"WebVTT times, no signature", "00:01.000 --> 00:02.000\nair\n", SRT, ""},
		{"TTML root with a prefix", `<?xml version="1.0"?><tt:tt xmlns:tt="http://www.w3.org/ns/ttml"/>`, TTML, ""},
		{"a web page", "<!DOCTYPE html><html><body>[0:01] air</body></html>", Auto, "a web page or other XML"},
		{"whisper segments", `{"text":"a","segments":[]}`, Whisper, ""},
		{"whisper cut off in the middle", `{"text":"a","segments":[{"id":0,"sta`, Whisper, ""},
		{"whisper with NaN", `{"avg":NaN,"segments":[]}`, Whisper, ""},
		{"flat words", `{"words":[]}`, Whisper, ""},
		{"list of words", `[{"word":"a","start":0,"end":1}]`, Whisper, ""},
		{"whisper.cpp", `{"systeminfo":"","transcription":[]}`, WhisperCPP, ""},
		{"vosk", `{"result":[],"text":""}`, Vosk, ""},
		{"vosk with a silent first utterance", "{\"text\":\"\"}\n{\"result\":[]}", Vosk, ""},
		{"vosk list", `[{"result":[],"text":""}]`, Vosk, ""},
		{"vosk n-best", `{"alternatives":[{"confidence":200,"text":"a"}]}`, Vosk, ""},
		{"cloud", `{"results":[{"alternatives":[]}]}`, Cloud, ""},
		{"cloud behind an operation", `{"name":"1","done":true,"response":{"results":[]}}`, Cloud, ""},
		{"other JSON", `{"monologues":[]}`, Auto, `keys "monologues"`},
		{"empty JSON list", "[]", Auto, "an empty JSON list"},
		{"CTM with a comment", ";; made up\nrec 1 0.10 0.20 air 0.9\n", CTM, ""},
		{"square brackets", "[0:05] air lines\n", Text, ""},
		{"a bracketed mark is not JSON", "[00:05] {air}\n", Text, ""},
		{"round brackets with hours", "(1:00:05) air lines\n", Text, ""},
		{"no brackets", "0:05 air lines\n0:09 hoses\n", Text, ""},
		{"a spoken 4:32 is not a mark", "the tire has\n4:32 tread depth\n", Auto, "no times found"},
		{"no times", "air lines are not leaking\n", Auto, "no times found"},
		{"empty", "", Auto, "empty"},
		{"white space", " \r\n\t", Auto, "empty"},
		{"a recording", "RIFF\x24\x08\x00\x00WAVEfmt ", Auto, "a WAV or AVI recording"},
		{"binary", "\x01\x02\x03\x04\x05air", Auto, "binary"},
	} {
		t.Run(c.reason, func(t *testing.T) {
			got, err := Detect([]byte(c.in))
			if err != nil {
				checkError(t, err)
			}
			if got != c.want || (err == nil) != (c.err == "") || err != nil && !strings.Contains(err.Error(), c.err) {
				t.Errorf("%q, %v; want %q, %q", got, err, c.want, c.err)
			}
		})
	}
}

func TestParseFormat(t *testing.T) {
	for _, f := range Formats() {
		if got, err := ParseFormat(string(f)); got != f || err != nil {
			t.Errorf("ParseFormat(%q) = %q, %v", f, got, err)
		}
	}
	for in, want := range map[string]Format{"": Auto, "auto": Auto, ".SRT": SRT, " WebVTT ": WebVTT, "whisper.cpp": WhisperCPP, "txt": Text} {
		if got, err := ParseFormat(in); got != want || err != nil {
			t.Errorf("ParseFormat(%q) = %q, %v; want %q", in, got, err, want)
		}
	}
	if _, err := ParseFormat("docx"); err == nil || !strings.Contains(err.Error(), `"docx"`) || !strings.Contains(err.Error(), "vtt") {
		t.Errorf("error %v names neither the value nor the choices", err)
	}
}

// endless gives the same line for ever and counts what was taken.
type endless struct{ taken int64 }

func (e *endless) Read(p []byte) (int, error) {
	n := copy(p, "[0:01] air lines are not leaking\n")
	e.taken += int64(n)
	return n, nil
}

func TestReadLimits(t *testing.T) {
	t.Run("input beyond the limit is not read to its end", func(t *testing.T) {
		e := new(endless)
		_, err := Read(e, Options{Name: "big.txt", MaxBytes: 1 << 20})
		if err == nil || err.Error() != "big.txt: larger than the limit of 1 MiB; give the transcript of one recording" {
			t.Errorf("error %v", err)
		}
		if e.taken > 1<<20+1<<12 {
			t.Errorf("took %d bytes", e.taken)
		}
	})
	t.Run("input at the limit is read", func(t *testing.T) {
		in := "[0:01] air lines"
		if _, err := Read(strings.NewReader(in), Options{MaxBytes: int64(len(in))}); err != nil {
			t.Error(err)
		}
		if _, err := Read(strings.NewReader(in), Options{MaxBytes: int64(len(in)) - 1}); err == nil {
			t.Error("no error one byte beyond the limit")
		}
	})
	t.Run("values by the million are refused before they are made", func(t *testing.T) {
		for _, value := range []string{"{}", "0", "null"} {
			in := `{"words":[` + strings.Repeat(value+",", maxValues+1) + `{}]}`
			_, err := Read(strings.NewReader(in), Options{})
			if err == nil || !strings.Contains(err.Error(), "JSON values, more than the limit") {
				t.Errorf("%s: error %v", value, err)
			}
		}
	})
	t.Run("so are words", func(t *testing.T) {
		_, err := Read(strings.NewReader("[0:01]"+strings.Repeat(" a", 4*maxWords)), Options{})
		if err == nil || !strings.Contains(err.Error(), "words, more than the limit") {
			t.Errorf("error %v", err)
		}
	})
	t.Run("a failing reader is an error that can be told", func(t *testing.T) {
		_, err := Read(io.MultiReader(strings.NewReader("[0:01] air"), brokenReader{}), Options{Name: "x"})
		if !errors.Is(err, io.ErrClosedPipe) {
			t.Errorf("error %v", err)
		}
	})
}

type brokenReader struct{}

func (brokenReader) Read([]byte) (int, error) { return 0, io.ErrClosedPipe }

func TestReadFile(t *testing.T) {
	path := filepath.Join(t.TempDir(), "mock.dat") // formats are told by content
	if err := os.WriteFile(path, []byte("WEBVTT\n\n00:01.000 --> 00:02.000\nair lines\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	tr, err := ReadFile(path, Options{})
	if err != nil {
		t.Fatal(err)
	}
	if tr.Name != path || tr.Format != WebVTT || dump(tr) != "1-2 ~air ~lines\n" {
		t.Errorf("%q, %q\n%s", tr.Name, tr.Format, dump(tr))
	}
	if _, err := ReadFile(filepath.Join(t.TempDir(), "none"), Options{}); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("error %v", err)
	}
	if _, err := ReadFile(t.TempDir(), Options{}); err == nil {
		t.Error("a folder is no transcript")
	}
	_, err = Read(strings.NewReader("x"), Options{Format: "docx"})
	if err == nil || !strings.Contains(err.Error(), "docx") {
		t.Errorf("error %v", err)
	}
}

func TestWarningsAreCounted(t *testing.T) {
	var b strings.Builder
	b.WriteString("WEBVTT\n\n")
	for i := range 10_000 {
		fmt.Fprintf(&b, "00:0%d.00 --> bad\nlost %d\n\n", i%10, i)
	}
	b.WriteString("00:01.000 --> 00:02.000\nkept\n")
	tr, err := Read(strings.NewReader(b.String()), Options{})
	if err != nil {
		t.Fatal(err)
	}
	checkTranscript(t, tr)
	if got := warned(tr); strings.Count(got, "\n") != keptWarnings+1 || !strings.HasSuffix(got, "and 9997 more cues with unreadable timings\n") || !strings.HasPrefix(got, "line 3: ") {
		t.Errorf("warnings\n%s", got)
	}
}

func TestReadersKeepTheirPromises(t *testing.T) {
	files, err := filepath.Glob("testdata/transcripts/*")
	if err != nil || len(files) < 12 {
		t.Fatalf("%d sample transcripts, %v", len(files), err)
	}
	formats := map[Format]bool{}
	for _, path := range files {
		t.Run(filepath.Base(path), func(t *testing.T) {
			tr, err := ReadFile(path, Options{})
			if err != nil {
				t.Fatal(err)
			}
			checkTranscript(t, tr)
			formats[tr.Format] = true
			// Cut anywhere, a file gives an error or a sound transcript.
			data, err := os.ReadFile(path)
			if err != nil {
				t.Fatal(err)
			}
			step := 1 + len(data)/500
			for cut := 0; cut < len(data); cut += step {
				tr, err := Read(bytes.NewReader(data[:cut]), Options{Name: "cut"})
				if err != nil {
					checkError(t, err)
					continue
				}
				checkTranscript(t, tr)
			}
		})
	}
	for _, f := range Formats() {
		if !formats[f] {
			t.Errorf("no sample of %s in testdata/transcripts", f)
		}
	}
}

// The same words in every format must be read as the same words and times:
// the samples check each other.
func TestFormatsAgree(t *testing.T) {
	files, err := filepath.Glob("testdata/transcripts/cab.*")
	if err != nil || len(files) < len(Formats()) {
		t.Fatalf("%d versions of the sample, %v", len(files), err)
	}
	var first []string
	for _, path := range files {
		tr, err := ReadFile(path, Options{})
		if err != nil {
			t.Fatal(err)
		}
		var words []string
		for _, w := range tr.Words {
			words = append(words, strings.ToLower(strings.Trim(w.Text, ".,")))
		}
		if first == nil {
			first = words
		}
		if !slices.Equal(words, first) {
			t.Errorf("%s says\n%q, want\n%q", path, words, first)
		}
		// The second utterance starts at 12.4 s in every version; whole
		// seconds are all that plain text gives.
		tolerance := 0.001
		if tr.Format == Text {
			tolerance = 0.5
		}
		i := slices.Index(words, "governor")
		if i < 1 || math.Abs(tr.Words[i-1].Start-12.4) > tolerance {
			t.Errorf("%s: the second utterance starts at %g", path, tr.Words[i-1].Start)
		}
	}
}

func benchmarkRead(b *testing.B, build func(cues int) string) {
	for _, times := range []int{1, 4, 16} {
		in := build(600 * times) // 600 cues are a mock test of 40 minutes
		b.Run(fmt.Sprintf("%dx", times), func(b *testing.B) {
			b.SetBytes(int64(len(in)))
			b.ReportAllocs()
			for b.Loop() {
				if _, err := Read(strings.NewReader(in), Options{}); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

func BenchmarkReadSRT(b *testing.B) {
	benchmarkRead(b, func(cues int) string {
		var s strings.Builder
		for i := range cues {
			at := i * 4
			fmt.Fprintf(&s, "%d\n%02d:%02d:%02d,000 --> %02d:%02d:%02d,500\nThe brake hose is not cut,\nnot cracked and not leaking\n\n", i+1, at/3600, at/60%60, at%60, (at+3)/3600, (at+3)/60%60, (at+3)%60)
		}
		return s.String()
	})
}

func BenchmarkReadWhisper(b *testing.B) {
	benchmarkRead(b, func(cues int) string {
		var s strings.Builder
		s.WriteString(`{"segments":[`)
		for i := range cues {
			if i > 0 {
				s.WriteByte(',')
			}
			fmt.Fprintf(&s, `{"id":%d,"start":%d,"end":%d,"text":" The hose is fine","words":[`, i, 4*i, 4*i+3)
			for k, w := range []string{" The", " hose", " is", " fine"} {
				if k > 0 {
					s.WriteByte(',')
				}
				fmt.Fprintf(&s, `{"word":%q,"start":%.2f,"end":%.2f,"probability":0.9}`, w, float64(4*i)+float64(k)/2, float64(4*i)+float64(k)/2+.4)
			}
			s.WriteString("]}")
		}
		s.WriteString("]}")
		return s.String()
	})
}
