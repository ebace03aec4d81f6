package speech

import (
	"encoding/binary"
	"testing"
)

// WAV files for tests are put together and taken apart here by the published
// description (Microsoft and IBM, Multimedia Programming Interface and Data
// Specifications 1.0, 1991) and share no code with what is tested.

func le(v, size int) []byte {
	return binary.LittleEndian.AppendUint64(nil, uint64(v))[:size]
}

// chunk is one chunk with its padding.
func chunk(id string, body []byte) []byte {
	out := append([]byte(id), le(len(body), 4)...)
	out = append(out, body...)
	if len(body)%2 == 1 {
		out = append(out, 0)
	}
	return out
}

// fmtChunk is the description of samples, 16 bytes long.
func fmtChunk(tag, channels, rate, bits int) []byte {
	return chunk("fmt ", fmtBody(tag, channels, rate, bits))
}

func fmtBody(tag, channels, rate, bits int) []byte {
	block := channels * ((bits + 7) / 8)
	var b []byte
	b = append(b, le(tag, 2)...)
	b = append(b, le(channels, 2)...)
	b = append(b, le(rate, 4)...)
	b = append(b, le(rate*block, 4)...)
	b = append(b, le(block, 2)...)
	return append(b, le(bits, 2)...)
}

// extensible is the description of samples in its long form, of a sub-format
// tag.
func extensible(tag, channels, rate, bits int) []byte {
	b := fmtBody(0xFFFE, channels, rate, bits)
	b = append(b, le(22, 2)...)   // bytes to come
	b = append(b, le(bits, 2)...) // valid bits
	b = append(b, le(0, 4)...)    // which loudspeakers
	b = append(b, le(tag, 2)...)
	return chunk("fmt ", append(b, "\x00\x00\x00\x00\x10\x00\x80\x00\x00\xaa\x00\x38\x9b\x71"...))
}

// riffFile is a WAV file of these chunks.
func riffFile(chunks ...[]byte) []byte {
	body := []byte("WAVE")
	for _, c := range chunks {
		body = append(body, c...)
	}
	return append(append([]byte("RIFF"), le(len(body), 4)...), body...)
}

// riff is a WAV file taken apart.
type riff struct {
	tag, channels, rate, byteRate, block, bits int
	data                                       []byte
	chunks                                     []string
}

// parseRIFF is strict: every size must add up to the byte.
func parseRIFF(t testing.TB, b []byte) riff {
	t.Helper()
	num := func(b []byte) int {
		n := 0
		for i, v := range b {
			n |= int(v) << (8 * i)
		}
		return n
	}
	if len(b) < 12 || string(b[:4]) != "RIFF" || string(b[8:12]) != "WAVE" || num(b[4:8]) != len(b)-8 {
		t.Fatalf("no RIFF file of kind WAVE of %d bytes: %q", len(b), b[:min(12, len(b))])
	}
	var out riff
	for b = b[12:]; len(b) > 0; {
		if len(b) < 8 || num(b[4:8])+num(b[4:8])%2 > len(b)-8 {
			t.Fatalf("chunk %q does not fit into the %d bytes left", b[:min(4, len(b))], len(b))
		}
		id, body := string(b[:4]), b[8:8+num(b[4:8])]
		out.chunks = append(out.chunks, id)
		switch id {
		case "fmt ":
			out.tag, out.channels, out.rate = num(body[:2]), num(body[2:4]), num(body[4:8])
			out.byteRate, out.block, out.bits = num(body[8:12]), num(body[12:14]), num(body[14:16])
		case "data":
			out.data = body
		}
		if len(body)%2 == 1 && b[8+len(body)] != 0 {
			t.Fatalf("chunk %q is padded with %#x", id, b[8+len(body)])
		}
		b = b[8+len(body)+len(body)%2:]
	}
	return out
}
