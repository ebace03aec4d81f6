package main

import (
	"flag"
	"os"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"
)

var update = flag.Bool("update", false, "rewrite the files that scripts compare with")

func TestMain(m *testing.M) {
	testscript.Main(m, map[string]func(){"markaround": main})
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
			return nil
		},
		Cmds: map[string]func(*testscript.TestScript, bool, []string){
			"sizeover": sizeOver,
			"wide":     wide,
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

// The folder order and the choice among several transcripts of one recording.
func TestFromFolder(t *testing.T) {
	dir := t.TempDir()
	for _, name := range []string{"b.srt", "a.txt", "a.vtt", "a.json", "c.wav", "notes.pdf", ".hidden.vtt", "a.sheet.json", "a.sheet.html"} {
		if err := os.WriteFile(dir+"/"+name, []byte("x"), 0o644); err != nil {
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
	if len(list) != 2 || list[0].attempt != "a" || rank(list[0].path) != 0 || list[1].attempt != "b" {
		t.Errorf("got %v", list)
	}
	want := dir + ": 2 to mark, 4 skipped that are no transcripts, 2 skipped that are other forms of the same attempt"
	if note != want {
		t.Errorf("note is %q, want %q", note, want)
	}
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
