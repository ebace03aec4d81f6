package damage

import (
	"os"
	"strconv"
	"strings"
	"testing"
)

// The counts are recorded from NIST's sclite by testdata/sclite.py.
func TestWERAgainstSclite(t *testing.T) {
	file, err := os.ReadFile("testdata/sclite.tsv")
	if err != nil {
		t.Fatal(err)
	}
	lines := strings.Split(strings.TrimSpace(string(file)), "\n")
	if len(lines) < 100 {
		t.Fatalf("only %d recorded pairs", len(lines))
	}
	for _, line := range lines {
		f := strings.Split(line, "\t")
		got := WER(strings.Fields(f[0]), strings.Fields(f[1]))
		for i, n := range []int{got.Sub, got.Del, got.Ins} {
			if want, _ := strconv.Atoi(f[2+i]); n != want {
				t.Errorf("ref %q\nhyp %q: sub %d del %d ins %d; sclite counts %v", f[0], f[1], got.Sub, got.Del, got.Ins, f[2:])
				break
			}
		}
	}
}
