package speech

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"os"
	"runtime"
	"strings"
	"testing"

	"github.com/go-audio/audio"
	"github.com/go-audio/wav"
)

// encode writes samples, full scale 1, as PCM of so many bits, the same in each
// channel.
func encode(x []float64, channels, bits int) []byte {
	var out []byte
	for _, v := range x {
		n := int64(math.Round(v * (float64(int64(1)<<(bits-1)) - 1)))
		if bits == 8 {
			n += 128
		}
		for range channels {
			out = append(out, le(int(n), bits/8)...)
		}
	}
	return out
}

// tone is a second of a sine at half of full scale, and a second of nothing.
func tone(rate int) []float64 {
	out := make([]float64, 2*rate)
	for i := range rate {
		out[i] = 0.5 * math.Sin(2*math.Pi*440*float64(i)/float64(rate))
	}
	return out
}

func TestReadSoundFormats(t *testing.T) {
	for _, c := range []struct {
		reason               string
		channels, rate, bits int
		long                 bool
	}{
		{"the usual recording", 1, 16000, 16, false},
		{"telephone", 1, 8000, 8, false},
		{"the least rate", 1, 4000, 16, false},
		{"a rate that is no multiple of another", 1, 11025, 16, false},
		{"CD", 2, 44100, 16, false},
		{"video", 2, 48000, 16, false},
		{"studio", 2, 96000, 24, false},
		{"24 bits of one channel", 1, 48000, 24, false},
		{"32 bits", 1, 22050, 32, false},
		{"8 bits of two channels", 2, 16000, 8, false},
		{"three channels: a frame of no even size", 3, 16000, 24, false},
		{"long form of one channel", 1, 16000, 16, true},
		{"long form of 24 bits", 2, 48000, 24, true},
		{"long form of 32 bits and six channels", 6, 16000, 32, true},
		{"more channels than are decoded at a time", 300, 8000, 8, true},
	} {
		t.Run(c.reason, func(t *testing.T) {
			head := fmtChunk(1, c.channels, c.rate, c.bits)
			if c.long {
				head = extensible(1, c.channels, c.rate, c.bits)
			}
			s, err := ReadSound(bytes.NewReader(riffFile(head, chunk("data", encode(tone(c.rate), c.channels, c.bits)))), "a.wav")
			if err != nil {
				t.Fatal(err)
			}
			if s.Rate != c.rate || s.Channels != c.channels || s.Bits != c.bits || s.Seconds != 2 || s.Name != "a.wav" || len(s.Warnings) > 0 {
				t.Errorf("%d Hz, %d channels, %d bits, %g s, warnings %v", s.Rate, s.Channels, s.Bits, s.Seconds, s.Warnings)
			}
			if len(s.Level) != 200 || s.Step != 0.01 {
				t.Fatalf("%d levels every %g s, want 200", len(s.Level), s.Step)
			}
			// A sine at half of full scale is 20 log 2 = 6.02 dB below it.
			if v := s.Level[50]; math.Abs(float64(v)+6.02) > 0.3 {
				t.Errorf("level of the tone %.2f dB, want -6.02", v)
			}
			if v := s.Level[150]; v > -70 {
				t.Errorf("level of nothing %.2f dB", v)
			}
			if len(s.Speech) > 0 {
				t.Errorf("speech in a tone: %v", s.Speech)
			}
		})
	}
}

// The same sound must give the same speech, whatever it is stored as: most forms
// take another way through the code.
func TestReadSoundAgrees(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 22))
	tr := speak(r, phrases(t)[:4], 1, func() float64 { return 0.7 })
	x := make([]float64, len(tr.samples))
	for i, v := range tr.samples {
		x[i] = v + 0.002*r.NormFloat64()
	}
	read := func(b []byte) *Sound {
		t.Helper()
		s, err := ReadSound(bytes.NewReader(b), "")
		if err != nil {
			t.Fatal(err)
		}
		return s
	}
	want := read(wav16(x))
	if len(want.Speech) != 4 {
		t.Fatalf("speech %v, want 4 phrases at %v", want.Speech, tr.spans)
	}
	// at another rate, by straight lines from sample to sample
	at := func(rate int) []float64 {
		out := make([]float64, len(x)*rate/toneRate)
		for i := range out {
			p := float64(i) * toneRate / float64(rate)
			k := min(int(p), len(x)-2)
			out[i] = x[k] + (x[k+1]-x[k])*(p-float64(k))
		}
		return out
	}
	for _, c := range []struct {
		rate, channels, bits int
		slack                float64 // seconds
	}{
		{toneRate, 1, 24, 0.011}, {toneRate, 2, 16, 0.011}, {toneRate, 1, 32, 0.011},
		// Straight lines take up to 2 dB of the hiss away.
		{48000, 1, 16, 0.05}, {44100, 2, 16, 0.05}, {22050, 1, 16, 0.05}, {96000, 1, 24, 0.05},
	} {
		got := read(riffFile(fmtChunk(1, c.channels, c.rate, c.bits), chunk("data", encode(at(c.rate), c.channels, c.bits))))
		if len(got.Speech) != len(want.Speech) || math.Abs(got.Floor-want.Floor) > 2.5 {
			t.Errorf("%+v: speech %v, floor %.1f dB, want %v, %.1f", c, got.Speech, got.Floor, want.Speech, want.Floor)
			continue
		}
		for i, p := range got.Speech {
			if q := want.Speech[i]; math.Abs(p.Start-q.Start) > c.slack || math.Abs(p.End-q.End) > c.slack {
				t.Errorf("%+v: speech %v, want %v", c, p, q)
			}
		}
	}
}

// A constant in the samples, as cheap recorders have it, is no noise.
func TestReadSoundOffset(t *testing.T) {
	x := tone(16000)
	for i := range x {
		x[i] = x[i]/2 + 0.3
	}
	s, err := ReadSound(bytes.NewReader(wav16(x)), "")
	if err != nil {
		t.Fatal(err)
	}
	if s.Level[190] > -60 {
		t.Errorf("a constant has %.1f dB", s.Level[190])
	}
}

// aSecond is one of 16 bits and one channel at 8,000 samples a second.
func aSecond() (format, data []byte) {
	return fmtChunk(1, 1, 8000, 16), chunk("data", encode(tone(4000), 1, 16))
}

// sized is a chunk that claims another size than it has.
func sized(id string, claim int, body []byte) []byte {
	return append(append([]byte(id), le(claim, 4)...), body...)
}

func TestReadSoundRepairs(t *testing.T) {
	format, data := aSecond()
	body := data[8:]
	list := chunk("LIST", []byte("INFOISFT\x06\x00\x00\x00abcde\x00"))
	wrong := riffFile(format, data)
	copy(wrong[4:], le(7, 4))
	for _, c := range []struct {
		reason  string
		in      []byte
		seconds float64
		warning string // "": none
	}{
		{"nothing to repair", riffFile(format, data), 1, ""},
		{"title before the samples", riffFile(format, list, data), 1, ""},
		{"title before the format", riffFile(list, format, data), 1, ""},
		{"title after the samples", riffFile(format, data, list), 1, ""},
		{"broadcast extension and fact", riffFile(chunk("bext", make([]byte, 602)), format, chunk("fact", le(8000, 4)), data), 1, ""},
		{"room left for a larger header", riffFile(chunk("JUNK", make([]byte, 28)), format, data), 1, ""},
		{"chunk of odd size with its padding", riffFile(format, chunk("note", []byte("odd")), data), 1, ""},
		{"chunk of odd size without", riffFile(format, sized("note", 3, []byte("odd")), data), 1, ""},
		{"long form of the format", riffFile(extensible(1, 1, 8000, 16), data), 1, ""},
		{"18 bytes of format", riffFile(chunk("fmt ", append(fmtBody(1, 1, 8000, 16), 0, 0)), data), 1, ""},
		{"a second format is not looked at", riffFile(format, fmtChunk(3, 2, 1, 32), data), 1, ""},
		{"12 bits in the upper part of 16", riffFile(fmtChunk(1, 1, 8000, 12), data), 1, ""},
		{"size of the whole wrong", wrong, 1, ""},
		{"not a byte after the samples' padding", riffFile(format, sized("data", 15999, body[:15999])), 0.999875, "1 bytes at the end"},
		{"streamed, ffmpeg's size", riffFile(format, sized("data", 0xFFFFFFFF, body)), 1, "does not say how long"},
		{"streamed, sox's size", riffFile(format, sized("data", 0x7FFFF000, body)), 1, "does not say how long"},
		{"streamed, arecord's size", riffFile(format, sized("data", 0x80000000, body)), 1, "does not say how long"},
		{"broken off before the size was written", riffFile(format, sized("data", 0, body)), 1, "does not say how long"},
		{"streamed and cut within a sample", riffFile(format, sized("data", 0, body[:15999])), 0.999875, "does not say how long"},
		{"cut short", riffFile(format, sized("data", 16000, body[:4000])), 0.25, "promises 1.0 s, the file ends after 0.2 s"},
		{"cut short within a sample", riffFile(format, sized("data", 16000, body[:4001])), 0.25, "promises 1.0 s"},
	} {
		t.Run(c.reason, func(t *testing.T) {
			s, err := ReadSound(bytes.NewReader(c.in), "a.wav")
			if err != nil {
				t.Fatal(err)
			}
			if math.Abs(s.Seconds-c.seconds) > 1e-9 || math.Abs(float64(s.Level[10])+6.02) > 0.3 {
				t.Errorf("%g s of %.1f dB, want %g s of -6.0", s.Seconds, s.Level[10], c.seconds)
			}
			if c.warning == "" && len(s.Warnings) > 0 || c.warning != "" && (len(s.Warnings) != 1 || !strings.Contains(s.Warnings[0].Text, c.warning)) {
				t.Errorf("warnings %v, want %q", s.Warnings, c.warning)
			}
		})
	}
}

func TestReadSoundRefuses(t *testing.T) {
	format, data := aSecond()
	whole := riffFile(format, data)
	as := func(f []byte) []byte { return riffFile(f, data) }
	broken := extensible(1, 1, 8000, 16)
	broken[len(broken)-1] ^= 1
	many := [][]byte{format}
	for range maxChunks {
		many = append(many, chunk("note", nil))
	}
	const by = "ffmpeg -i IN"
	for _, c := range []struct {
		reason, in, want, advice string
	}{
		{"nothing saved", "", "the recording is empty", "check which file"},
		{"a transcript given as a recording", "1\n00:00:01,000 --> 00:00:02,000\n", `begins with "1\n00"`, by},
		{"bytes below the header", "RIFF\x00\x00", "cut short after 6 bytes", "copy it from the recorder again"},
		{"zeros, as from a card that failed", string(make([]byte, 100)), "not a WAV file", by},
		{"a film", string(riffFile())[:8] + "AVI LIST", `a RIFF file of kind "AVI "`, by},
		{"larger than WAV can hold", "RF64" + string(whole[4:]), "RF64", "-ar 16000"},
		{"likewise, of a broadcaster", "BW64" + string(whole[4:]), "BW64", "-ar 16000"},
		{"big end first", "RIFX" + string(whole[4:]), "big-endian", by},
		{"AIFF", "FORM\x00\x00\x00\x10AIFFCOMM", "an AIFF file", by},
		{"FLAC", "fLaC\x00\x00\x00\x22", "a FLAC file", by},
		{"Ogg", "OggS\x00\x02", "an Ogg file", by},
		{"MP3 with a title", "ID3\x03\x00", "an MP3 file", by},
		{"a telephone's recording", "\x00\x00\x00\x20ftypM4A \x00\x00", "an MP4 or M4A file", by},
		{"no chunk at all", "RIFF\x04\x00\x00\x00WAVE", "no data chunk with samples in the 12 bytes", "copy it"},
		{"cut within the format", string(whole[:30]), `chunk "fmt " at byte 12 claims 16 bytes, the file has 10 left`, "copy it"},
		{"cut before the samples", string(whole[:36]), "no data chunk", "copy it"},
		{"cut within the size of the samples", string(whole[:42]), "no data chunk", "copy it"},
		{"a header and no samples", string(whole[:44]), "no samples", "check the recorder"},
		{"samples of no length before a title", string(riffFile(format, chunk("data", nil), chunk("LIST", []byte("INFO")))), "no samples", "check the recorder"},
		{"less than one sample", string(riffFile(fmtChunk(1, 2, 8000, 32), chunk("data", make([]byte, 7)))), "no samples", "check the recorder"},
		{"samples first", string(riffFile(data, format)), "samples without a fmt chunk before them", by},
		{"forged size before the samples", string(riffFile(format, sized("LIST", 0xFFFFFFF0, nil), data)), `chunk "LIST" at byte 36 claims 4294967280 bytes`, by},
		{"forged size of the format", string(riffFile(sized("fmt ", 0x7FFFFFFF, nil), data)), `chunk "fmt " at byte 12 claims 2147483647 bytes`, by},
		{"format of too few bytes", string(as(chunk("fmt ", make([]byte, 14)))), "fmt chunk of 14 bytes", by},
		{"format of too many", string(as(chunk("fmt ", make([]byte, maxFormat+2)))), "fmt chunk of 4098 bytes", by},
		{"chunks without end", string(riffFile(many...)), "no samples among the first 4096 chunks", by},
		{"long form cut short", string(as(chunk("fmt ", append(fmtBody(0xFFFE, 1, 8000, 16), 0, 0)))), "extensible fmt chunk of 18 bytes", by},
		{"long form of something else", string(as(broken)), "samples of unknown kind", by},
		{"floating point", string(as(fmtChunk(3, 1, 8000, 32))), "0x3 (floating point)", by},
		{"floating point in the long form", string(as(extensible(3, 1, 8000, 32))), "0x3 (floating point)", by},
		{"A-law", string(as(fmtChunk(6, 1, 8000, 8))), "(A-law)", by},
		{"mu-law", string(as(fmtChunk(7, 1, 8000, 8))), "(mu-law)", by},
		{"ADPCM", string(as(fmtChunk(2, 1, 8000, 4))), "(ADPCM)", by},
		{"ADPCM of the other kind", string(as(fmtChunk(0x11, 1, 8000, 4))), "(IMA ADPCM)", by},
		{"GSM", string(as(fmtChunk(0x31, 1, 8000, 0))), "(GSM 6.10)", by},
		{"MP3 in a WAV file", string(as(fmtChunk(0x55, 1, 8000, 0))), "(MP3)", by},
		{"a kind nobody knows", string(as(fmtChunk(0xABCD, 1, 8000, 16))), "0xabcd (kind unknown)", by},
		{"no channels", string(as(fmtChunk(1, 0, 8000, 16))), "no channels", by},
		{"no rate", string(as(fmtChunk(1, 1, 0, 16))), "0 samples a second", by},
		{"a rate no recorder has", string(as(fmtChunk(1, 1, 0x7FFFFFFF, 16))), "2147483647 samples a second", by},
		{"no bits", string(as(fmtChunk(1, 1, 8000, 0))), "samples of 0 bits", by},
		{"64 bits", string(as(fmtChunk(1, 1, 8000, 64))), "samples of 64 bits", by},
		{"sizes that do not agree", string(as(chunk("fmt ", append(fmtBody(1, 2, 8000, 16)[:12], 2, 0, 16, 0)))), "2 bytes a frame in the header, want 4", by},
	} {
		t.Run(c.reason, func(t *testing.T) {
			check := func(err error, name string) {
				t.Helper()
				if err == nil {
					t.Fatal("read without an error")
				}
				checkError(t, err)
				if !strings.HasPrefix(err.Error(), name) || !strings.Contains(err.Error(), c.want) || !strings.Contains(err.Error(), c.advice) {
					t.Errorf("error %q, want %q and %q", err, c.want, c.advice)
				}
			}
			var before, after runtime.MemStats
			runtime.ReadMemStats(&before)
			_, err := ReadSound(strings.NewReader(c.in), "a.wav")
			runtime.ReadMemStats(&after)
			check(err, "a.wav: ")
			if got := after.TotalAlloc - before.TotalAlloc; got > 1<<20 {
				t.Errorf("%d bytes of memory for a file of %d", got, len(c.in))
			}
			var out bytes.Buffer
			check(Clip(&out, strings.NewReader(c.in), 0, 1), "")
			if out.Len() > 0 {
				t.Errorf("%d bytes written of a recording that was refused", out.Len())
			}
		})
	}
}

// The silent faults of go-audio/wav 1.1.0. Each is shown first: where one has
// been mended, this test says so, and the guard may go.
func TestLibraryFaults(t *testing.T) {
	format, data := aSecond()
	body := data[8:]
	library := func(in []byte) (int, error) {
		d := wav.NewDecoder(bytes.NewReader(in))
		buf, err := d.FullPCMBuffer()
		if err == nil {
			err = d.Err()
		}
		if err != nil {
			return 0, err
		}
		return len(buf.Data), nil
	}
	ours := func(in []byte) (*Sound, error) { return ReadSound(bytes.NewReader(in), "a.wav") }

	for _, c := range []struct {
		reason string
		tag    int
		bits   int
	}{{"floating point", 3, 32}, {"mu-law", 7, 8}, {"A-law", 6, 8}} {
		t.Run("format tag not looked at: "+c.reason, func(t *testing.T) {
			in := riffFile(fmtChunk(c.tag, 1, 8000, c.bits), data)
			if n, err := library(in); n == 0 || err != nil {
				t.Errorf("mended: %d samples, %v", n, err)
			}
			if _, err := ours(in); err == nil || !strings.Contains(err.Error(), "not PCM") {
				t.Errorf("got %v", err)
			}
		})
	}
	for _, size := range []int{0, 0xFFFFFFFF} {
		t.Run(fmt.Sprintf("data of size %#x gives no samples and no error", size), func(t *testing.T) {
			in := riffFile(format, sized("data", size, body))
			if n, err := library(in); n != 0 || err != nil {
				t.Errorf("mended: %d samples, %v", n, err)
			}
			s, err := ours(in)
			if err != nil || s.Seconds != 1 || len(s.Warnings) != 1 {
				t.Errorf("got %+v, %v", s, err)
			}
		})
	}
	t.Run("truncated data passes for valid", func(t *testing.T) {
		in := riffFile(format, sized("data", len(body), body[:8000]))
		if n, err := library(in); n != 4000 || err != nil || !wav.NewDecoder(bytes.NewReader(in)).IsValidFile() {
			t.Errorf("mended: %d samples, %v", n, err)
		}
		s, err := ours(in)
		if err != nil || s.Seconds != 0.5 || len(s.Warnings) != 1 {
			t.Errorf("got %+v, %v", s, err)
		}
	})
	t.Run("a forged size is allocated", func(t *testing.T) {
		const claim = 32 << 20 // up to 4 GiB
		in := riffFile(sized("LIST", claim, nil), format, data)
		taken := func(f func()) uint64 {
			var before, after runtime.MemStats
			runtime.ReadMemStats(&before)
			f()
			runtime.ReadMemStats(&after)
			return after.TotalAlloc - before.TotalAlloc
		}
		if n := taken(func() { _, _ = library(in) }); n < claim {
			t.Errorf("mended: %d bytes", n)
		}
		if n := taken(func() {
			if _, err := ours(in); err == nil {
				t.Error("read without an error")
			}
		}); n > 1<<20 {
			t.Errorf("%d bytes of memory for a file of %d", n, len(in))
		}
	})
}

// What is decoded here is what the library decodes, where it has no fault.
func TestSamplesAsLibrary(t *testing.T) {
	r := rand.New(rand.NewPCG(4, 23))
	for width := 1; width <= 4; width++ {
		raw := make([]byte, 12*500)
		for i := range raw {
			raw[i] = byte(r.Uint32())
		}
		d := wav.NewDecoder(bytes.NewReader(riffFile(fmtChunk(1, 1, 8000, 8*width), chunk("data", raw))))
		buf := &audio.IntBuffer{Data: make([]int, len(raw)/width)}
		if n, err := d.PCMBuffer(buf); n != len(buf.Data) || err != nil {
			t.Fatalf("%d samples, %v", n, err)
		}
		got := appendSamples(nil, raw, width)
		if len(got) != len(buf.Data) {
			t.Fatalf("%d bytes: %d samples, want %d", width, len(got), len(buf.Data))
		}
		for i, v := range buf.Data {
			if width == 1 {
				v -= 128 // the library leaves them unsigned
			}
			if want := float32(v) / float32(int64(1)<<(8*width-1)); got[i] != want {
				t.Fatalf("%d bytes, sample %d: %g, want %g", width, i, got[i], want)
			}
		}
	}
}

// faulty is a recording on a card that fails.
type faulty struct {
	io.ReadSeeker
	at int64
}

func (f faulty) Read(b []byte) (int, error) {
	pos, err := f.Seek(0, io.SeekCurrent)
	if err != nil {
		return 0, err
	}
	if pos >= f.at {
		return 0, os.ErrDeadlineExceeded
	}
	return f.ReadSeeker.Read(b[:min(int64(len(b)), f.at-pos)])
}

func TestReadSoundFails(t *testing.T) {
	in := wav16(tone(16000))
	for _, at := range []int64{0, 6, 12, 30, 44, 50, 40000, int64(len(in)) - 1} {
		s, err := ReadSound(faulty{bytes.NewReader(in), at}, "a.wav")
		if s != nil || err == nil || !strings.Contains(err.Error(), `read recording "a.wav"`) || !strings.Contains(err.Error(), os.ErrDeadlineExceeded.Error()) {
			t.Errorf("a fault at byte %d: %v, %v", at, s, err)
		}
	}
}

// streamed is a recording of any length that is nowhere: its samples are the
// same second over and over.
type streamed struct {
	head   []byte
	second []byte
	size   int64
	pos    int64
}

func stream(seconds, rate, channels int) *streamed {
	x := tone(rate)[rate/2:][:rate]
	second := encode(x, channels, 16)
	s := &streamed{second: second}
	length := seconds * len(second)
	s.head = append(riffFile(fmtChunk(1, channels, rate, 16)), sized("data", length, nil)...)
	binary.LittleEndian.PutUint32(s.head[4:], uint32(len(s.head)-8+length))
	s.size = int64(len(s.head) + length)
	return s
}

func (s *streamed) Seek(to int64, whence int) (int64, error) {
	s.pos = to + []int64{0, s.pos, s.size}[whence]
	return s.pos, nil
}

func (s *streamed) Read(b []byte) (int, error) {
	n := 0
	for n < len(b) && s.pos < s.size {
		from := s.head
		at := s.pos
		if at -= int64(len(s.head)); at >= 0 {
			from = s.second
			at %= int64(len(from))
		} else {
			at = s.pos
		}
		k := copy(b[n:], from[at:])
		n += k
		s.pos += int64(k)
	}
	if n == 0 {
		return 0, io.EOF
	}
	return n, nil
}

// Two hours of 48,000 samples a second and two channels take 32 MiB at most, all
// that was ever allocated counted. That takes long; always tested is a part,
// with 1 MiB for what does not grow.
func TestReadSoundMemory(t *testing.T) {
	minutes, most := 2, 32<<20*2/120+1<<20
	if os.Getenv("MARKAROUND_LONG") != "" {
		minutes, most = 120, 32<<20
	}
	in := stream(60*minutes, 48000, 2)
	var before, after runtime.MemStats
	runtime.ReadMemStats(&before)
	s, err := ReadSound(in, "")
	runtime.ReadMemStats(&after)
	if err != nil || s.Seconds != float64(60*minutes) || len(s.Level) != 6000*minutes {
		t.Fatalf("%v, %v", s, err)
	}
	got := after.TotalAlloc - before.TotalAlloc
	t.Logf("%d minutes: %.1f MiB", minutes, float64(got)/(1<<20))
	if got > uint64(most) {
		t.Errorf("%d bytes for %d minutes, want at most %d", got, minutes, most)
	}
}
