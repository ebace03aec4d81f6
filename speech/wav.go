package speech

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"math"

	"github.com/go-audio/wav"
)

// convert is the advice for recordings that are sound, but not of this kind.
const convert = "convert it: ffmpeg -i IN -c:a pcm_s16le OUT.wav, or: sox IN -b 16 -e signed-integer OUT.wav"

// onlyFFmpeg is the advice for those that sox does not read.
const onlyFFmpeg = "convert it: ffmpeg -i IN -c:a pcm_s16le OUT.wav"

// shrink is the advice for those that may be too large for a WAV file.
const shrink = "convert it: ffmpeg -i IN -ac 1 -ar 16000 -c:a pcm_s16le OUT.wav, or: sox IN -b 16 -e signed-integer OUT.wav channels 1 rate 16k"

// Rates outside these, in samples a second, hold no speech or come from no
// recorder. The upper one also bounds what is kept of a recording at a time.
const (
	minRate = 4_000
	maxRate = 768_000
)

// Format tags of a fmt chunk. Registered with Microsoft, in its mmreg.h and in
// RFC 2361.
const (
	tagPCM        = 0x0001
	tagExtensible = 0xFFFE
)

var tagNames = map[uint16]string{
	0x0002: "ADPCM",
	0x0003: "floating point",
	0x0006: "A-law",
	0x0007: "mu-law",
	0x0011: "IMA ADPCM",
	0x0031: "GSM 6.10",
	0x0040: "G.721 ADPCM",
	0x0055: "MP3",
	0x0160: "WMA",
	0x0161: "WMA",
	0x0162: "WMA",
}

// guidTail is what every sub-format GUID that stands for a format tag ends
// with; the tag is its first two bytes (KSDATAFORMAT_SUBTYPE_WAVEFORMATEX).
var guidTail = []byte{0, 0, 0, 0, 0x10, 0, 0x80, 0, 0, 0xAA, 0, 0x38, 0x9B, 0x71}

// magics tells other kinds of recordings by the bytes at an offset.
var magics = []struct {
	at     int
	bytes  string
	name   string
	advice string
}{
	{0, "RF64", "an RF64 file (WAV beyond 4 GiB)", shrink},
	{0, "BW64", "a BW64 file (WAV beyond 4 GiB)", shrink},
	{0, "riff", "a Wave64 file", shrink},
	{0, "RIFX", "a big-endian RIFX file", convert},
	{0, "FORM", "an AIFF file", convert},
	{0, "fLaC", "a FLAC file", convert},
	{0, "OggS", "an Ogg file", convert},
	{0, "ID3", "an MP3 file", convert},
	{0, "\xff\xfb", "an MP3 file", convert},
	{0, "\xff\xf3", "an MP3 file", convert},
	{0, "\xff\xf1", "an AAC file", onlyFFmpeg},
	{4, "ftyp", "an MP4 or M4A file", onlyFFmpeg},
	{0, "caff", "a CAF file", convert},
	{0, "#!AMR", "an AMR file", convert},
	{0, "\x1aE\xdf\xa3", "a Matroska or WebM file", onlyFFmpeg},
	{0, ".snd", "an AU file", convert},
}

// wavFile is an open WAV file whose header has been checked against its size.
type wavFile struct {
	name     string
	r        io.ReadSeeker
	format   []byte // body of the fmt chunk, as it stands
	channels int
	rate     int   // samples a second
	bits     int   // of a sample, as stated
	width    int   // bytes that a sample takes
	start    int64 // where the samples begin
	length   int64 // bytes of whole frames
	warnings []Warning
}

// block is the number of bytes of a frame, one sample of every channel.
func (w *wavFile) block() int { return w.width * w.channels }

func (w *wavFile) frames() int64 { return w.length / int64(w.block()) }

func (w *wavFile) seconds() float64 { return float64(w.frames()) / float64(w.rate) }

func (w *wavFile) errorf(advice, format string, args ...any) error {
	return &SyntaxError{Name: w.name, Msg: fmt.Sprintf(format, args...), Advice: advice}
}

func (w *wavFile) warn(format string, args ...any) {
	w.warnings = append(w.warnings, Warning{Text: fmt.Sprintf(format, args...)})
}

func (w *wavFile) ioError(err error) error {
	return fmt.Errorf("read recording %q: %w", w.name, err)
}

const again = "copy it from the recorder again; it may have been cut short"

// maxChunks bounds the walk through a file that is all headers.
const maxChunks = 4096

// openWAV walks the chunks of a WAV file up to the samples, believing no size
// that the file's own length does not bear out. Errors in the content are
// *SyntaxError.
//
// The walk is ours because the library's trusts every size: it allocates what
// a chunk claims, takes an odd or streamed size of data for none, passes
// truncated data, and never looks at the format tag, so that floating point
// comes out as noise (go-audio/wav 1.1.0).
func openWAV(r io.ReadSeeker, name string) (*wavFile, error) {
	w := &wavFile{name: name, r: r}
	size, err := r.Seek(0, io.SeekEnd)
	if err != nil {
		return nil, w.ioError(err)
	}
	head, err := w.readAt(0, min(12, size))
	if err != nil {
		return nil, err
	}
	if err := w.checkKind(head); err != nil {
		return nil, err
	}
	pos := int64(12)
	for n := 0; ; n++ {
		if n == maxChunks {
			return nil, w.errorf("record it again, or "+convert, "no samples among the first %d chunks", maxChunks)
		}
		if pos+8 > size {
			return nil, w.errorf(again, "no data chunk with samples in the %d bytes", size)
		}
		h, err := w.readAt(pos, 8)
		if err != nil {
			return nil, err
		}
		id, claim := string(h[:4]), int64(binary.LittleEndian.Uint32(h[4:]))
		pos += 8
		if id == "data" {
			return w, w.takeData(pos, claim, size)
		}
		if claim > size-pos {
			return nil, w.errorf("copy it from the recorder again, or "+convert,
				"chunk %q at byte %d claims %d bytes, the file has %d left", id, pos-8, claim, size-pos)
		}
		if id == "fmt " && w.format == nil {
			if err := w.takeFormat(pos, claim); err != nil {
				return nil, err
			}
		}
		pos += claim
		if claim%2 == 1 && pos < size {
			// Chunks of odd length are followed by a zero, which some writers
			// leave out. No chunk's name begins with one.
			pad, err := w.readAt(pos, 1)
			if err != nil {
				return nil, err
			}
			if pad[0] == 0 {
				pos++
			}
		}
	}
}

// readAt reads n bytes, which must be few and within the file.
func (w *wavFile) readAt(pos, n int64) ([]byte, error) {
	if _, err := w.r.Seek(pos, io.SeekStart); err != nil {
		return nil, w.ioError(err)
	}
	b := make([]byte, n)
	if _, err := io.ReadFull(w.r, b); err != nil {
		return nil, w.ioError(err)
	}
	return b, nil
}

func (w *wavFile) checkKind(head []byte) error {
	if len(head) == 0 {
		return w.errorf("check which file was saved", "the recording is empty")
	}
	if len(head) == 12 && string(head[:4]) == "RIFF" {
		if string(head[8:]) == "WAVE" {
			return nil
		}
		return w.errorf(convert, "a RIFF file of kind %q, not WAVE", head[8:])
	}
	for _, m := range magics {
		if len(head) > m.at && bytes.HasPrefix(head[m.at:], []byte(m.bytes)) {
			return w.errorf(m.advice, "%s, not a WAV file of PCM samples", m.name)
		}
	}
	if len(head) < 12 && bytes.HasPrefix(head, []byte("RIFF")) {
		return w.errorf(again, "a WAV file cut short after %d bytes", len(head))
	}
	return w.errorf("give the recording, or "+convert, "not a WAV file: it begins with %q", head[:min(4, len(head))])
}

// maxFormat is more than any fmt chunk of PCM needs (40 bytes).
const maxFormat = 4096

func (w *wavFile) takeFormat(pos, claim int64) error {
	if claim < 16 || claim > maxFormat {
		return w.errorf(convert, "a fmt chunk of %d bytes, want 16, 18 or 40", claim)
	}
	f, err := w.readAt(pos, claim)
	if err != nil {
		return err
	}
	u16 := func(at int) int { return int(binary.LittleEndian.Uint16(f[at:])) }
	tag := uint16(u16(0))
	w.format = f
	w.channels = u16(2)
	rate := binary.LittleEndian.Uint32(f[4:])
	block := u16(12)
	w.bits = u16(14)
	kind := tag
	if tag == tagExtensible {
		if len(f) < 40 {
			return w.errorf(convert, "an extensible fmt chunk of %d bytes, want 40", len(f))
		}
		kind = uint16(u16(24))
		if !bytes.Equal(f[26:40], guidTail) {
			return w.errorf(convert, "samples of unknown kind %x", f[24:40])
		}
	}
	if kind != tagPCM {
		name := tagNames[kind]
		if name == "" {
			name = "kind unknown"
		}
		return w.errorf(convert, "the samples are not PCM but of format %#x (%s)", kind, name)
	}
	// Samples of 12 or 20 bits stand in the upper bits of whole bytes, so that
	// only their width matters here.
	w.width = (w.bits + 7) / 8
	switch {
	case w.channels == 0:
		return w.errorf(convert, "no channels in the header")
	case rate < minRate || rate > maxRate:
		return w.errorf("check the file; a recorder makes 8000 to 96000, or "+convert,
			"%d samples a second in the header, want %d to %d", rate, minRate, maxRate)
	case w.width < 1 || w.width > 4:
		return w.errorf(convert, "samples of %d bits, want 8, 16, 24 or 32", w.bits)
	case block != w.block():
		return w.errorf(convert, "%d bytes a frame in the header, want %d for %d channels of %d bits", block, w.block(), w.channels, w.bits)
	}
	w.rate = int(rate)
	return nil
}

// openLength is the least length that writers state who do not know it yet: sox
// 0x7FFFF000, arecord a little more, ffmpeg 0xFFFFFFFF.
const openLength = 0x7FFFF000

// maxData is the most that a WAV file can hold and its decoder can be told.
const maxData = math.MaxUint32 - 4095

// takeData decides how many bytes from pos on are samples.
func (w *wavFile) takeData(pos, claim, size int64) error {
	if w.format == nil {
		return w.errorf(convert, "samples without a fmt chunk before them")
	}
	rest := size - pos
	unknown := claim == math.MaxUint32 || claim >= openLength && claim > rest
	if claim == 0 && rest > 0 {
		follows, err := w.chunkAt(pos, size)
		if err != nil {
			return err
		}
		unknown = !follows
	}
	w.start, w.length = pos, min(claim, rest)
	if unknown {
		w.length = rest
	}
	if w.length > maxData {
		return w.errorf("cut it into parts: sox IN OUT.wav trim 0 3600 : newfile : restart", "%d bytes of samples, more than the limit of %d", w.length, int64(maxData))
	}
	odd := w.length % int64(w.block())
	w.length -= odd
	if w.length == 0 {
		return w.errorf("check the recorder, or copy the recording again", "the recording holds no samples")
	}
	switch {
	case unknown:
		w.warn("the header does not say how long the recording is, as in one that was streamed or broken off; taken to the end of the file, %.1f s", w.seconds())
	case claim > rest:
		w.warn("the header promises %.1f s, the file ends after %.1f s; if it was cut short, copy it again",
			float64(claim)/float64(w.block()*w.rate), w.seconds())
	case odd > 0:
		w.warn("%d bytes at the end of the recording are not a whole sample; left out", odd)
	}
	return nil
}

// chunkAt reports whether a chunk that fits into the file begins at pos: then
// what came before it was really empty.
func (w *wavFile) chunkAt(pos, size int64) (bool, error) {
	if size-pos < 8 {
		return false, nil
	}
	h, err := w.readAt(pos, 8)
	if err != nil {
		return false, err
	}
	for _, c := range h[:4] {
		if c < ' ' || c > '~' {
			return false, nil
		}
	}
	return int64(binary.LittleEndian.Uint32(h[4:])) <= size-pos-8, nil
}

// decoder opens the samples. The library gets a header of ours in front of the
// samples alone: one that says what the checks above found, in the only form
// that it has no faults with.
func (w *wavFile) decoder() (*wav.Decoder, error) {
	if _, err := w.r.Seek(w.start, io.SeekStart); err != nil {
		return nil, w.ioError(err)
	}
	var head bytes.Buffer
	plain := make([]byte, 16)
	copy(plain, w.format)
	binary.LittleEndian.PutUint16(plain, tagPCM)
	binary.LittleEndian.PutUint16(plain[14:], uint16(8*w.width))
	writeHeader(&head, plain, w.length)
	d := wav.NewDecoder(forward{io.MultiReader(&head, io.LimitReader(w.r, w.length))})
	if err := d.FwdToPCM(); err != nil {
		return nil, w.ioError(err)
	}
	if err := d.Err(); err != nil {
		return nil, w.ioError(err)
	}
	if int(d.NumChans) != w.channels || int(d.SampleRate) != w.rate || int(d.BitDepth) != 8*w.width || d.PCMChunk == nil {
		return nil, w.ioError(fmt.Errorf("decoder found %d channels of %d bits at %d a second", d.NumChans, d.BitDepth, d.SampleRate))
	}
	return d, nil
}

// forward is a reader that cannot seek, given where seeking is asked for and
// not done.
type forward struct{ io.Reader }

var errSeek = errors.New("cannot seek")

func (forward) Seek(int64, int) (int64, error) { return 0, errSeek }

// writeHeader writes everything of a WAV file that comes before its samples:
// format is the body of the fmt chunk, length the bytes of samples to come.
func writeHeader(b *bytes.Buffer, format []byte, length int64) {
	pad := len(format) % 2
	u32 := func(n int64) { b.Write(binary.LittleEndian.AppendUint32(nil, uint32(n))) }
	b.WriteString("RIFF")
	u32(4 + 8 + int64(len(format)+pad) + 8 + length + length%2)
	b.WriteString("WAVEfmt ")
	u32(int64(len(format)))
	b.Write(format)
	b.Write(make([]byte, pad))
	b.WriteString("data")
	u32(length)
}
