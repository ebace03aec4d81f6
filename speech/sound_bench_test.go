package speech

import (
	"os"
	"testing"
)

func BenchmarkZ(b *testing.B) {
	for b.Loop() {
		f, _ := os.Open("/tmp/audwork/bench.wav")
		_, err := ReadSound(f, "x")
		if err != nil {
			b.Fatal(err)
		}
		f.Close()
	}
}
