package speech

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"io"
	"math"
)

// Clip copies the part of a WAV recording from start to end, in seconds from
// its beginning, to w as a WAV file of the same format, with no other chunks.
// Nothing is decoded: every sample is as it was. Both moments are rounded to the nearest sample
// and moved into the recording; if nothing is left, that is an error and
// nothing is written. A recording that ReadSound refuses is refused with the
// same error.
func Clip(w io.Writer, r io.ReadSeeker, start, end float64) error {
	f, err := openWAV(r, "")
	if err != nil {
		return err
	}
	frame := func(seconds float64) int64 {
		return int64(math.Round(max(0, min(seconds, f.seconds())) * float64(f.rate)))
	}
	if math.IsNaN(start) || math.IsNaN(end) || frame(end) <= frame(start) {
		return fmt.Errorf("clip from %.3f to %.3f s: nothing of the recording lies there; it is %.3f s long", start, end, f.seconds())
	}
	block := int64(f.block())
	length := (frame(end) - frame(start)) * block
	if _, err := r.Seek(f.start+frame(start)*block, io.SeekStart); err != nil {
		return fmt.Errorf("clip from %.3f to %.3f s: %w", start, end, err)
	}
	var head bytes.Buffer
	writeHeader(&head, f.plainFormat(), length)
	if _, err := w.Write(head.Bytes()); err != nil {
		return fmt.Errorf("clip from %.3f to %.3f s: %w", start, end, err)
	}
	if _, err := io.CopyN(w, r, length); err != nil {
		if err == io.EOF {
			err = io.ErrUnexpectedEOF // somebody cuts the recording while it is read
		}
		return fmt.Errorf("clip from %.3f to %.3f s: %w", start, end, err)
	}
	if length%2 == 1 {
		if _, err := w.Write([]byte{0}); err != nil {
			return fmt.Errorf("clip from %.3f to %.3f s: %w", start, end, err)
		}
	}
	return nil
}

// plainFormat is the body of a fmt chunk with what a reader needs: 16 bytes, or
// 40 where the long form says more. The bytes a second, which some recorders get
// wrong, are made right.
func (w *wavFile) plainFormat() []byte {
	size := 16
	if binary.LittleEndian.Uint16(w.format) == tagExtensible {
		size = 40
	}
	f := bytes.Clone(w.format[:size])
	binary.LittleEndian.PutUint32(f[8:], uint32(w.rate*w.block()))
	if size == 40 {
		binary.LittleEndian.PutUint16(f[16:], 22) // bytes to come
	}
	return f
}
