package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io"
)

// Heard is the copy of a recording, to be read from any place.
type Heard struct {
	s    *Store
	ctx  context.Context
	id   int64
	size int64 // bytes
	at   int64
	part int64 // that data holds, -1 for none
	data []byte
}

// OpenRecording opens the copy of an attempt's recording; it is read as long as
// ctx lasts. ErrNotFound is wrapped in the error when none is kept.
func (s *Store) OpenRecording(ctx context.Context, id int64) (*Heard, error) {
	h := &Heard{s: s, ctx: ctx, id: id, part: -1}
	var last, length int64
	err := s.read().row(ctx, `SELECT part, length(data) FROM recordings WHERE attempt = ? ORDER BY part DESC LIMIT 1`, id).Scan(&last, &length)
	if errors.Is(err, sql.ErrNoRows) {
		err = tell("a recording of attempt %d is %w", id, ErrNotFound)
	}
	h.size = last*recordingPart + length
	return h, s.fail(fmt.Sprintf("open the recording of attempt %d", id), err)
}

// Read reads on.
func (h *Heard) Read(p []byte) (int, error) {
	if h.at >= h.size {
		return 0, io.EOF
	}
	if part := h.at / recordingPart; part != h.part {
		h.part = -1
		if err := h.s.read().row(h.ctx, `SELECT data FROM recordings WHERE attempt = ? AND part = ?`, h.id, part).Scan(&h.data); err != nil {
			return 0, h.s.fail(fmt.Sprintf("read the recording of attempt %d", h.id), err)
		}
		h.part = part
	}
	off := h.at % recordingPart
	if off >= int64(len(h.data)) {
		return 0, io.ErrUnexpectedEOF
	}
	n := copy(p, h.data[off:])
	h.at += int64(n)
	return n, nil
}

// Seek goes to another place, as io.Seeker says.
func (h *Heard) Seek(offset int64, whence int) (int64, error) {
	switch whence {
	case io.SeekCurrent:
		offset += h.at
	case io.SeekEnd:
		offset += h.size
	}
	if offset < 0 {
		return 0, errors.New("seek before the beginning")
	}
	h.at = offset
	return offset, nil
}
