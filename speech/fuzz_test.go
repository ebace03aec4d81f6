package speech

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// fuzzRead checks on any input that a reader gives a sound transcript or a
// one-line error that names the file.
func fuzzRead(f *testing.F, format Format, seeds ...string) {
	files, err := filepath.Glob("testdata/transcripts/*")
	if err != nil {
		f.Fatal(err)
	}
	for _, path := range files {
		data, err := os.ReadFile(path)
		if err != nil {
			f.Fatal(err)
		}
		if kind, _ := Detect(data); format == Auto || kind == format || isJSON(format) && isJSON(kind) {
			f.Add(data)
		}
	}
	for _, s := range seeds {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		formats := []Format{format}
		if isJSON(format) {
			formats = []Format{Whisper, WhisperCPP, Vosk, Cloud}
		}
		for _, format := range formats {
			tr, err := Read(strings.NewReader(string(data)), Options{Name: "fuzz", Format: format, MaxBytes: 1 << 20})
			if err != nil {
				checkError(t, err)
				if !strings.HasPrefix(err.Error(), "fuzz:") {
					t.Errorf("error does not name the file: %v", err)
				}
				continue
			}
			checkTranscript(t, tr)
		}
	})
}

func isJSON(f Format) bool { return f == Whisper || f == WhisperCPP || f == Vosk || f == Cloud }

func FuzzSRT(f *testing.F) {
	fuzzRead(f, SRT, "1\n00:00:01,000 -->\n110\n", "00:01 --> 00:00\n>> a\n[b]: c\n", "9\n-1:00 -> 1:0:0:5\n(beep\n")
}

func FuzzWebVTT(f *testing.F) {
	fuzzRead(f, WebVTT, "WEBVTT\n\n00:00.000 --> 00:09.000\n<v a>b<00:01.000>c</v>&amp;<\n", "WEBVTT\n-->\n00:00.000-->00:00.000\na\nb\n\n00:00.000-->00:00.000\nb\nc\n")
}

func FuzzTTML(f *testing.F) {
	fuzzRead(f, TTML, tt(`<p begin="1t" dur="9f"><span begin="1s">a</span>b<br/></p><p>c</p>`), `<tt><body timeContainer="seq" begin="00:00:01:01"><p>a`)
}

func FuzzJSON(f *testing.F) {
	fuzzRead(f, Whisper, `{"words":[{"word":"a","start":NaN,"end":"1s"},{"word":" 4 5"}]}`, `{"transcription":[{"text":"a"}]}`, `{"text":"a"}{"result":[{"word":"b","start":1}]}`, `[{"alternatives":[{"words":[{"word":"a","startTime":{"seconds":1}}]}]}]`)
}

func FuzzCTM(f *testing.F) {
	fuzzRead(f, CTM, "a 1 0 0 x\na 2 0 0 y 1 lex z\n", "a 1 * * <ALT_BEGIN>\na 1 1e9 1 x\na 1 -1 1 x\n")
}

func FuzzText(f *testing.F) {
	fuzzRead(f, Text, "a\n[0:01] b [0:00] c\n", "0:01 a\n9:99 b\n0:01,0:00 c\nStudent 0:03 d\n")
}

func FuzzRead(f *testing.F) {
	fuzzRead(f, Auto, "", "\xff\xfea\x00", "RIFF")
}
