package speech

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
)

// counted is samples that all differ from their neighbors, so that a cut that is
// off by one byte shows.
func counted(frames, block int) []byte {
	out := make([]byte, frames*block)
	for i := range out {
		out[i] = byte(i*7 + i/256)
	}
	return out
}

// Cuts are held against our own strict parser, and against soxi and sox where
// they are installed.
func TestClip(t *testing.T) {
	const rate, frames = 8000, 8001 // 1.000125 s, so that the last frame may be odd
	for _, c := range []struct {
		reason               string
		start, end           float64
		from, to             int // frames
		channels, bits, rate int
		long                 bool
	}{
		{"whole samples", 0.25, 0.5, 2000, 4000, 1, 16, rate, false},
		{"rounded to the nearest sample", 0.25004, 0.50009, 2000, 4001, 1, 16, rate, false},
		{"the first sample", 0, 1.0 / rate, 0, 1, 1, 16, rate, false},
		{"the last sample", 8000.0 / rate, 8001.0 / rate, 8000, 8001, 1, 16, rate, false},
		{"a margin before the beginning", -0.5, 0.1, 0, 800, 1, 16, rate, false},
		{"a margin after the end", 0.9, 1.5, 7200, 8001, 1, 16, rate, false},
		{"margins on both sides", -3, 1e9, 0, 8001, 1, 16, rate, false},
		{"for ever", math.Inf(-1), math.Inf(1), 0, 8001, 1, 16, rate, false},
		{"8 bits, an even number of bytes", 0.1, 0.2, 800, 1600, 1, 8, rate, false},
		{"8 bits, an odd number is padded", 0.1, 1601.0 / rate, 800, 1601, 1, 8, rate, false},
		{"24 bits, odd", 0.1, 1601.0 / rate, 800, 1601, 1, 24, rate, false},
		{"32 bits", 0.1, 0.2, 800, 1600, 1, 32, rate, false},
		{"two channels stay together", 0.1, 1601.0 / rate, 800, 1601, 2, 16, rate, false},
		{"two channels of 24 bits", 0.1, 1601.0 / rate, 800, 1601, 2, 24, rate, false},
		{"two channels of 8 bits", 0.1, 1601.0 / rate, 800, 1601, 2, 8, rate, false},
		{"long form", 0.1, 1601.0 / rate, 800, 1601, 3, 24, rate, true},
		{"another rate", 0.1, 0.15, 4410, 6615, 2, 16, 44100, false},
	} {
		t.Run(c.reason, func(t *testing.T) {
			block := c.channels * c.bits / 8
			data := counted(frames, block)
			head := fmtChunk(1, c.channels, c.rate, c.bits)
			if c.long {
				head = extensible(1, c.channels, c.rate, c.bits)
			}
			copy(head[16:], le(12345, 4)) // bytes a second, wrong as some recorders have it
			in := riffFile(chunk("note", []byte("odd")), head, chunk("data", data), chunk("LIST", []byte("INFO")))
			var out bytes.Buffer
			if err := Clip(&out, bytes.NewReader(in), c.start, c.end); err != nil {
				t.Fatal(err)
			}
			got := parseRIFF(t, out.Bytes())
			want := data[c.from*block : c.to*block]
			if !bytes.Equal(got.data, want) {
				t.Errorf("%d bytes of samples, want %d, or others", len(got.data), len(want))
			}
			tag := 1
			if c.long {
				tag = 0xFFFE
			}
			if got.tag != tag || got.channels != c.channels || got.rate != c.rate || got.bits != c.bits || got.block != block || got.byteRate != c.rate*block {
				t.Errorf("header %+v", riff{tag: got.tag, channels: got.channels, rate: got.rate, bits: got.bits, block: got.block, byteRate: got.byteRate})
			}
			if !slices.Equal(got.chunks, []string{"fmt ", "data"}) {
				t.Errorf("chunks %q", got.chunks)
			}
			if s, err := ReadSound(bytes.NewReader(out.Bytes()), ""); err != nil || len(s.Warnings) > 0 {
				t.Errorf("a clip that cannot be read: %v, %v", s, err)
			}
			clipBySox(t, out.Bytes(), want, c.channels, c.rate, c.bits)
		})
	}
}

// clipBySox asks soxi and sox what is in a clip.
func clipBySox(t *testing.T, clip, want []byte, channels, rate, bits int) {
	if _, err := exec.LookPath("soxi"); err != nil {
		return
	}
	file := filepath.Join(t.TempDir(), "clip.wav")
	if err := os.WriteFile(file, clip, 0o600); err != nil {
		t.Fatal(err)
	}
	for flag, n := range map[string]int{"-r": rate, "-c": channels, "-b": bits, "-s": len(want) * 8 / bits / channels} {
		out, err := exec.Command("soxi", flag, file).Output()
		if got := strings.TrimSpace(string(out)); err != nil || got != strconv.Itoa(n) {
			t.Errorf("soxi %s says %q, %v; want %d", flag, got, err, n)
		}
	}
	kind := "signed-integer"
	if bits == 8 {
		kind = "unsigned-integer"
	}
	out, err := exec.Command("sox", "-D", file, "-t", "raw", "-e", kind, "-b", strconv.Itoa(bits), "-L", "-").Output()
	if err != nil || !bytes.Equal(out, want) {
		t.Errorf("sox reads %d bytes of samples, want %d, or others; %v", len(out), len(want), err)
	}
}

// Clips side by side make up the recording: no sample is lost or doubled.
func TestClipsJoin(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 24))
	for range 30 {
		rate := []int{8000, 11025, 16000, 44100}[r.IntN(4)]
		data := counted(1+r.IntN(5000), 3)
		in := riffFile(fmtChunk(1, 1, rate, 24), chunk("data", data))
		var joined []byte
		at, end := 0.0, float64(len(data)/3)/float64(rate)
		for at < end {
			next := at + 0.001 + 0.1*r.Float64()
			var out bytes.Buffer
			if err := Clip(&out, bytes.NewReader(in), at, next); err != nil {
				// Less than half a sample may be left.
				if end-at < 0.5/float64(rate) {
					break
				}
				t.Fatal(err)
			}
			joined = append(joined, parseRIFF(t, out.Bytes()).data...)
			at = next
		}
		if !bytes.Equal(joined, data) {
			t.Fatalf("%d bytes in clips, %d in the recording at %d Hz, or others", len(joined), len(data), rate)
		}
	}
}

func TestClipNothing(t *testing.T) {
	in := riffFile(fmtChunk(1, 1, 8000, 16), chunk("data", counted(8000, 2)))
	nan := math.NaN()
	for _, c := range []struct {
		reason     string
		start, end float64
	}{
		{"after the end", 1.5, 2}, {"at the end", 1, 2}, {"before the beginning", -2, 0},
		{"backwards", 0.5, 0.4}, {"of no length", 0.5, 0.5}, {"less than half a sample", 0.5, 0.50005},
		{"no number", nan, 1}, {"no number at the end", 0, nan}, {"no numbers", nan, nan},
	} {
		var out bytes.Buffer
		err := Clip(&out, bytes.NewReader(in), c.start, c.end)
		if err == nil || !strings.Contains(err.Error(), "nothing of the recording lies there; it is 1.000 s long") || out.Len() > 0 {
			t.Errorf("%s: %v, %d bytes written", c.reason, err, out.Len())
		}
	}
}

// A recording that was cut short gives what is there, and not the padding or the
// chunks after the samples.
func TestClipRepaired(t *testing.T) {
	data := counted(8000, 2)
	format := fmtChunk(1, 1, 8000, 16)
	for _, c := range []struct {
		reason string
		in     []byte
		want   []byte
	}{
		{"cut short", riffFile(format, sized("data", 16000, data[:10001])), data[8000:10000]},
		{"streamed", riffFile(format, sized("data", 0xFFFFFFFF, data)), data[8000:]},
		{"never finished", riffFile(format, sized("data", 0, data)), data[8000:]},
	} {
		var out bytes.Buffer
		if err := Clip(&out, bytes.NewReader(c.in), 0.5, 9); err != nil {
			t.Fatal(err)
		}
		if got := parseRIFF(t, out.Bytes()).data; !bytes.Equal(got, c.want) {
			t.Errorf("%s: %d bytes, want %d, or others", c.reason, len(got), len(c.want))
		}
	}
}

// full is a disk that takes so many bytes.
type full struct{ room int }

var errFull = errors.New("no space left")

func (f *full) Write(b []byte) (int, error) {
	n := min(len(b), f.room)
	f.room -= n
	if n < len(b) {
		return n, errFull
	}
	return n, nil
}

// shrunk is a recording that somebody cuts while it is read.
type shrunk struct {
	*bytes.Reader
	at int64
}

func (s shrunk) Read(b []byte) (int, error) {
	pos, _ := s.Seek(0, io.SeekCurrent)
	if pos >= s.at {
		return 0, io.EOF
	}
	return s.Reader.Read(b[:min(int64(len(b)), s.at-pos)])
}

// Whatever goes wrong on the way is an error, so that the command keeps no file
// (its test is TestWriteFileWholeOrNot in cmd/markaround).
func TestClipFails(t *testing.T) {
	in := riffFile(fmtChunk(1, 1, 8000, 8), chunk("data", counted(999, 1)))
	var whole bytes.Buffer
	if err := Clip(&whole, bytes.NewReader(in), 0, 1); err != nil {
		t.Fatal(err)
	}
	for room := range whole.Len() {
		if err := Clip(&full{room}, bytes.NewReader(in), 0, 1); !errors.Is(err, errFull) {
			t.Fatalf("room for %d of %d bytes: %v", room, whole.Len(), err)
		}
	}
	if err := Clip(&full{whole.Len()}, bytes.NewReader(in), 0, 1); err != nil {
		t.Errorf("room for all: %v", err)
	}
	for _, at := range []int64{44, 45, 800, 1042} {
		err := Clip(io.Discard, shrunk{bytes.NewReader(in), at}, 0, 1)
		if !errors.Is(err, io.ErrUnexpectedEOF) || !strings.HasPrefix(fmt.Sprint(err), "clip from 0.000 to 1.000 s: ") {
			t.Errorf("recording cut to %d bytes: %v", at, err)
		}
	}
	if err := Clip(io.Discard, faulty{bytes.NewReader(in), 500}, 0, 1); !errors.Is(err, os.ErrDeadlineExceeded) {
		t.Errorf("a card that fails: %v", err)
	}
}

func FuzzWAV(f *testing.F) {
	format, data := fmtChunk(1, 1, 8000, 16), chunk("data", counted(200, 2))
	f.Add(riffFile(format, data), 0.0, 0.01)
	f.Add(riffFile(chunk("JUNK", make([]byte, 3)), extensible(1, 2, 44100, 24), chunk("data", counted(100, 6))), 0.001, 0.002)
	f.Add(riffFile(fmtChunk(1, 1, 4000, 8), sized("data", 0, counted(99, 1))), -1.0, 9.0)
	f.Add(riffFile(format, sized("data", 0xFFFFFFFF, counted(100, 2))), 0.0, 1.0)
	f.Add(riffFile(format, sized("data", 4000, counted(100, 2))), 0.005, 1.0)
	f.Add(riffFile(format, sized("LIST", 0xFFFFFFF0, nil), data), 0.0, 1.0)
	f.Add(riffFile(fmtChunk(3, 1, 8000, 32), data), 0.0, 1.0)
	f.Add(riffFile(fmtChunk(1, 65535, 768000, 8), data), 0.0, 1.0)
	f.Add([]byte("RIFX\x00\x00\x00\x04WAVE"), 0.0, 1.0)
	f.Fuzz(func(t *testing.T, in []byte, start, end float64) {
		if len(in) > 1<<20 {
			return
		}
		s, err := ReadSound(bytes.NewReader(in), "fuzz")
		var out bytes.Buffer
		cut := Clip(&out, bytes.NewReader(in), start, end)
		if err != nil {
			checkError(t, err)
			if cut == nil || out.Len() > 0 || !strings.HasPrefix(err.Error(), "fuzz: ") {
				t.Errorf("refused with %q, but cut: %v, %d bytes", err, cut, out.Len())
			}
			return
		}
		checkSound(t, s)
		if cut != nil {
			if out.Len() > 0 {
				t.Errorf("%d bytes written before %v", out.Len(), cut)
			}
			return
		}
		clip := parseRIFF(t, out.Bytes())
		if len(clip.data) == 0 || len(clip.data)%clip.block != 0 || !bytes.Contains(in, clip.data) || clip.rate != s.Rate || clip.channels != s.Channels {
			t.Errorf("a clip of %d bytes with header %d, %d, %d", len(clip.data), clip.rate, clip.channels, clip.block)
		}
		again, err := ReadSound(bytes.NewReader(out.Bytes()), "clip")
		if err != nil || len(again.Warnings) > 0 {
			t.Fatalf("a clip that cannot be read: %v, %v", again, err)
		}
		checkSound(t, again)
	})
}

// checkSound checks what Sound promises of any recording.
func checkSound(t *testing.T, s *Sound) {
	t.Helper()
	if !(s.Seconds > 0) || len(s.Level) != int(math.Ceil(s.Seconds/s.Step-1e-6)) {
		t.Errorf("%g s, %d levels every %g s", s.Seconds, len(s.Level), s.Step)
	}
	for i, v := range append([]float32{float32(s.Floor)}, s.Level...) {
		if !(v >= silence && v < 10) {
			t.Errorf("level %d is %g dB", i-1, v)
		}
	}
	last := -1.0
	for _, p := range s.Speech {
		if !(p.Start > last && p.Start < p.End && p.End <= s.Seconds) {
			t.Errorf("speech %v of %g s", s.Speech, s.Seconds)
		}
		last = p.End
	}
	for _, w := range s.Warnings {
		if w.Text == "" || strings.ContainsAny(w.Text, "\r\n") {
			t.Errorf("warning %q", w.Text)
		}
	}
}
