package speech

import (
	"bytes"
	"encoding/json"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"golang.org/x/tools/txtar"
)

// The cases and their license are described at the top of the archive.
const wptArchive = "testdata/wpt/file-parsing.txtar"

// wptLeftOut are the properties of a cue that the cases assert on and that this
// reader has no use for. The test fails when one is no longer in the archive.
var wptLeftOut = map[string]string{
	"align":    "cue settings place text on a screen; nothing of speech",
	"line":     "cue settings",
	"position": "cue settings",
	"region":   "regions place text on a screen",
	"size":     "cue settings",
	"vertical": "cue settings",
}

// wptNotHere are the cases of the project that are not in the archive at all.
// The test fails when one turns up in it.
var wptNotHere = map[string]string{
	"regions-lines":                "asserts on regions only",
	"regions-regionanchor":         "asserts on regions only",
	"regions-scroll":               "asserts on regions only",
	"regions-viewportanchor":       "asserts on regions only",
	"settings-align":               "asserts on cue settings only",
	"settings-line":                "asserts on cue settings only",
	"settings-position":            "asserts on cue settings only",
	"settings-size":                "asserts on cue settings only",
	"settings-vertical":            "asserts on cue settings only",
	"stylesheets":                  "asserts on style sheets only",
	"stylesheets-newlines":         "asserts on style sheets only",
	"stylesheets-none":             "asserts on style sheets only",
	"signature-invalid":            "the file could not be had",
	"signature-invalid-whitespace": "which space it holds could not be told from the copy read",
	"signature-null":               "the file could not be had",
	"signature-tab-no-newline":     "the file could not be had",
	"signature-websrt":             "the file could not be had",
}

// wptUnescape resolves the escapes that the archive's head describes.
func wptUnescape(t *testing.T, s string) string {
	t.Helper()
	var b strings.Builder
	for i := 0; i < len(s); i++ {
		if s[i] != '\\' {
			b.WriteByte(s[i])
			continue
		}
		i++
		switch s[i] {
		case '\n':
		case 'x', 'u':
			n := map[byte]int{'x': 2, 'u': 4}[s[i]]
			v, err := strconv.ParseUint(s[i+1:i+1+n], 16, 32)
			if err != nil {
				t.Fatalf("bad escape %q", s[i-1:i+1+n])
			}
			b.WriteRune(rune(v))
			i += n
		default:
			k := strings.IndexByte("rntfv", s[i])
			if k < 0 {
				t.Fatalf("bad escape %q", s[i-1:i+1])
			}
			b.WriteByte("\r\n\t\f\v"[k])
		}
	}
	return b.String()
}

func wptParse(t *testing.T, file string) ([]vttCue, bool) {
	t.Helper()
	s := new(source)
	var err error
	if s.text, err = s.decode([]byte(file)); err != nil {
		t.Fatal(err)
	}
	return s.parseWebVTT()
}

func TestWebVTTFileParsing(t *testing.T) {
	ar, err := txtar.ParseFile(filepath.FromSlash(wptArchive))
	if err != nil {
		t.Fatal(err)
	}
	seen := map[string]bool{}
	for i := 0; i+1 < len(ar.Files); i += 2 {
		name := strings.TrimSuffix(ar.Files[i].Name, ".vtt")
		if ar.Files[i+1].Name != name+".want" {
			t.Fatalf("%s has no .want after it", ar.Files[i].Name)
		}
		if why, ok := wptNotHere[name]; ok {
			t.Errorf("%s is listed as not here (%s)", name, why)
		}
		t.Run(name, func(t *testing.T) {
			cues, ok := wptParse(t, wptUnescape(t, string(ar.Files[i].Data)))
			head, rest, _ := bytes.Cut(ar.Files[i+1].Data, []byte("\n"))
			if string(head) == "error" {
				if ok {
					t.Error("the file loads")
				}
				return
			}
			n, err := strconv.Atoi(string(head))
			if err != nil {
				t.Fatal(err)
			}
			if !ok || len(cues) != n {
				t.Fatalf("%d cues (loads: %v), want %d: %+v", len(cues), ok, n, cues)
			}
			for line := range strings.Lines(string(rest)) {
				var want map[string]any
				if err := json.Unmarshal([]byte(line), &want); err != nil {
					t.Fatal(err)
				}
				k := int(want["cue"].(float64))
				got := map[string]any{"cue": float64(k), "id": cues[k].id, "text": cues[k].text, "start": cues[k].start, "end": cues[k].end}
				for property, v := range want {
					g, known := got[property]
					switch {
					case known && g != v:
						t.Errorf("cue %d has %s %v, want %v", k, property, g, v)
					case !known && wptLeftOut[property] == "":
						t.Errorf("nothing checks %s", property)
					case !known:
						seen[property] = true
					case wptLeftOut[property] != "":
						t.Errorf("%s is listed as left out but is checked", property)
					}
				}
			}
		})
	}
	for property := range wptLeftOut {
		if !seen[property] {
			t.Errorf("%s is listed as left out but no case asserts on it", property)
		}
	}
}

func TestWebVTTCueText(t *testing.T) {
	data, err := os.ReadFile(filepath.FromSlash("testdata/wpt/cue-text.tsv"))
	if err != nil {
		t.Fatal(err)
	}
	for line := range strings.Lines(string(data)) {
		if strings.HasPrefix(line, "#") {
			continue
		}
		f := strings.Split(strings.TrimSuffix(line, "\n"), "\t")
		if len(f) != 5 {
			t.Fatalf("%d fields in %q", len(f), line)
		}
		t.Run(f[0]+"/"+f[1], func(t *testing.T) {
			cues, _ := wptParse(t, "WEBVTT\n\n00:00.000 --> 200:00:00.000\n"+wptUnescape(t, f[1]))
			if len(cues) != 1 {
				t.Fatalf("%d cues", len(cues))
			}
			var text string
			var voices, stamps []string
			for _, p := range vttPieces(cues[0].text) {
				switch p.kind {
				case vttText:
					text += p.text
				case vttVoice:
					if p.text != "" {
						voices = append(voices, p.text)
					}
				case vttStamp:
					stamps = append(stamps, strconv.FormatFloat(p.time, 'g', -1, 64))
				}
			}
			if want := wptUnescape(t, f[2]); text != want {
				t.Errorf("text %q, want %q", text, want)
			}
			if got := strings.Join(voices, "|"); got != f[3] {
				t.Errorf("voices %q, want %q", got, f[3])
			}
			if got := strings.Join(stamps, "|"); got != f[4] {
				t.Errorf("timestamps %q, want %q", got, f[4])
			}
		})
	}
}
