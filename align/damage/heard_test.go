package damage

import (
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
)

// heardDir is where what a recognizer heard of spoken attempts lies, with the
// words spoken and the counts of NIST's sclite 2.10 (Debian's sctk), recorded
// by testdata/attempts/recognizer/hear-design.sh.
var heardDir = filepath.Join("..", "..", "testdata", "attempts", "heard")

// TestWERAgainstScliteOnHeard counts the word errors of whole recordings: the
// numbers of substituted, deleted and inserted words are those of sclite.
func TestWERAgainstScliteOnHeard(t *testing.T) {
	file, err := os.ReadFile(filepath.Join(heardDir, "sclite.tsv"))
	if err != nil {
		t.Fatal(err)
	}
	lines := strings.Split(strings.TrimSpace(string(file)), "\n")[1:] // below the heads
	if found, _ := filepath.Glob(filepath.Join(heardDir, "*.ctm")); len(found) != len(lines) || len(lines) == 0 {
		t.Fatalf("%d transcripts for %d recorded counts", len(found), len(lines))
	}
	for _, line := range lines {
		f := strings.Split(line, "\t")
		if len(f) != 10 {
			t.Fatalf("%d columns, want 10: %s", len(f), line)
		}
		ref, err := os.ReadFile(filepath.Join(heardDir, f[1]+".ref.txt"))
		if err != nil {
			t.Fatal(err)
		}
		ctm, err := os.ReadFile(filepath.Join(heardDir, f[0]+".ctm"))
		if err != nil {
			t.Fatal(err)
		}
		// The words are taken in the order of the file, as sclite got them. Where
		// the recognizer's times step back, speech.ReadFile orders by time.
		var heard []string
		for _, line := range strings.Split(string(ctm), "\n") {
			if w := strings.Fields(line); len(w) == 6 && w[0] == f[0] {
				heard = append(heard, w[4])
			}
		}
		got := WER(strings.Fields(string(ref)), heard)
		correct := got.Words - got.Sub - got.Del
		for i, n := range []int{got.Words, correct, got.Sub, got.Del, got.Ins} {
			if want, err := strconv.Atoi(f[5+i]); err != nil || n != want {
				t.Errorf("%s: words %d correct %d sub %d del %d ins %d; sclite counts %v",
					f[0], got.Words, correct, got.Sub, got.Del, got.Ins, f[5:])
				break
			}
		}
	}
}
