package main

import (
	"bytes"
	"encoding/csv"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"markaround/rubric"
	"markaround/speech"
)

// The samples of a clip are those of the recording at the seconds that the list
// says.
func TestClipSamples(t *testing.T) {
	const text = "[0:01] Moving on to the steering axle.\n[0:05] On the steer tire, the tread depth has to be at least 2/32 of an inch.\n[0:12] No cuts or bulges."
	const rate, head = 8000, 44
	dir := t.TempDir()
	words, err := speech.Read(strings.NewReader(text), speech.Options{})
	if err != nil {
		t.Fatal(err)
	}
	wav := hummed(words, rate)
	for name, data := range map[string][]byte{"a.txt": []byte(text), "a.wav": wav} {
		if err := os.WriteFile(filepath.Join(dir, name), data, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	var stdout, stderr bytes.Buffer
	out := filepath.Join(dir, "clips")
	if code := run(t.Context(), []string{"clip", filepath.Join(dir, "a.txt"), "-o", out, "--only", "steer", "--margin", "1.5"}, strings.NewReader(""), &stdout, &stderr); code != 0 {
		t.Fatalf("exit code %d: %s", code, stderr.String())
	}
	f, err := os.Open(filepath.Join(out, "clips.csv"))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	files := 0
	for _, row := range rows[1:] {
		if row[0] == "" {
			continue
		}
		files++
		clip, err := os.ReadFile(filepath.Join(out, row[0]))
		if err != nil {
			t.Fatal(err)
		}
		start, _ := strconv.ParseFloat(row[4], 64)
		end, _ := strconv.ParseFloat(row[5], 64)
		if n := float64(len(clip)-head) / 2 / rate; math.Abs(n-(end-start)) > 0.01 {
			t.Errorf("%s is %.3f s long, listed are %.3f s", row[0], n, end-start)
		}
		at := bytes.Index(wav[head:], clip[head:])
		if at < 0 || math.Abs(float64(at)/2/rate-start) > 0.01 {
			t.Errorf("%s: found at byte %d of the recording, listed at %.2f s", row[0], at, start)
		}
	}
	if files == 0 {
		t.Error("nothing was cut")
	}
}

func TestClipNames(t *testing.T) {
	said := func(start float64) rubric.Evidence {
		return rubric.Evidence{Words: "x", Start: start, End: start + 1}
	}
	leaf := func(id string, start float64) rubric.ItemMark {
		return rubric.ItemMark{ID: id, Mark: rubric.Missed, Start: -1, Near: []rubric.Evidence{said(start)}}
	}
	s := &rubric.Sheet{Items: []rubric.ItemMark{leaf("air.leak", 187.9), leaf("air.leak", 187.1), leaf(`own/../part:1`, 3725), leaf("cab.horn", 4000), leaf("cab.seat", 0.5)}}
	for _, c := range []struct {
		seconds float64
		want    []string
		beyond  int
		reason  string
	}{
		{3600, []string{"00h00m00s-cab.seat-near.wav", "00h03m07s-air.leak-near.wav", "00h03m07s-air.leak-near-2.wav", "", ""}, 2, "hours in a long recording, none twice"},
		{3599, []string{"00m00s-cab.seat-near.wav", "03m07s-air.leak-near.wav", "03m07s-air.leak-near-2.wav", "", ""}, 2, "no hours in a short one"},
		{3724, []string{"00h00m00s-cab.seat-near.wav", "00h03m07s-air.leak-near.wav", "00h03m07s-air.leak-near-2.wav", "01h02m05s-own-..-part-1-near.wav", ""}, 1, "words just beyond the end, with the margin within; an id that is no file name"},
	} {
		clips, beyond, nowhere := clipsOf(s, c.seconds, 2)
		var got []string
		for _, p := range clips {
			got = append(got, p.File)
			if p.File != "" && (p.Start < 0 || p.End > c.seconds || p.Start >= p.End) {
				t.Errorf("%s: %s runs from %v to %v", c.reason, p.File, p.Start, p.End)
			}
		}
		if strings.Join(got, "\n") != strings.Join(c.want, "\n") || beyond != c.beyond || nowhere != 0 {
			t.Errorf("%s: got %q, %d beyond, want %q, %d", c.reason, got, beyond, c.want, c.beyond)
		}
	}
	clips, _, nowhere := clipsOf(&rubric.Sheet{Items: []rubric.ItemMark{{ID: "a.b", Mark: rubric.Missed, Listen: true, Start: -1}}}, 9, 2)
	if len(clips) != 0 || nowhere != 1 {
		t.Errorf("a mark without a place has %v", clips)
	}
}

func TestRecordingOf(t *testing.T) {
	dir := t.TempDir()
	for _, name := range []string{"a.wav", "b.WAV", "c.wav", "f.wav/x"} {
		path := filepath.Join(dir, name)
		if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, nil, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	for _, c := range []struct{ transcript, asked, want, reason string }{
		{"a.srt", "", "a.wav", "the same name"},
		{"b.json", "", "b.WAV", "in capitals"},
		{"c.wav.srt", "", "c.wav", "an ending put behind that of the recording"},
		{"d.srt", "", "", "none there"},
		{"f.srt", "", "", "a folder of that name"},
		{"a.srt", "none", "", "left out"},
		{"a.srt", "c.wav", "c.wav", "another one"},
		{"elsewhere/b.json", ".", "b.WAV", "in a folder of recordings"},
		{"elsewhere/z.json", ".", "", "not in that folder"},
	} {
		asked, want := c.asked, c.want
		if asked == "c.wav" || asked == "." {
			asked = filepath.Join(dir, asked)
		}
		if want != "" {
			want = filepath.Join(dir, want)
		}
		got, err := recordingOf(input{path: filepath.Join(dir, c.transcript)}, asked)
		if err != nil || !strings.EqualFold(got, want) {
			t.Errorf("%s: got %q, %v, want %q", c.reason, got, err, want)
		}
	}
	if got, err := recordingOf(input{path: "-"}, ""); got != "" || err != nil {
		t.Errorf("standard input: got %q, %v", got, err)
	}
}
