package store

import (
	"bytes"
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"
	"unicode"
)

// search looks for texts and for pieces of packed files in a stream of bytes.
type search struct {
	texts  []string
	others []string // longer texts that hold one of texts and are somebody else's
	pieces map[[piece]byte]bool
	first  [1 << 10]uint64 // bits for the first two bytes of the pieces
}

// A piece of a packed file has so many bytes, and one is taken every so many:
// several for every page of a store, so that none can keep its part unseen.
const (
	piece      = 16
	pieceEvery = 256
	// leastText is the length below which a text is found in any file by chance.
	leastText = 4
	// overlap is more than any text or piece has.
	overlap = 1 << 10
)

func (s *search) addPacked(data []byte) {
	// The first bytes are those of every packed file.
	for at := 2 * piece; at+piece <= len(data); at += pieceEvery {
		s.addPiece(data[at : at+piece])
	}
}

// addRecording takes pieces that are not all alike: silence is found anywhere.
func (s *search) addRecording(data []byte) {
	for at := 2 * pieceEvery; at+piece <= len(data); at += 64 * pieceEvery {
		p := data[at : at+piece]
		kinds := map[byte]bool{}
		for _, b := range p {
			kinds[b] = true
		}
		if len(kinds) > piece/2 {
			s.addPiece(p)
		}
	}
}

func (s *search) addPiece(p []byte) {
	if s.pieces == nil {
		s.pieces = map[[piece]byte]bool{}
	}
	s.pieces[[piece]byte(p)] = true
	s.set(p[0], p[1])
}

// forgive takes out the pieces that rows of others hold as well: two short
// attempts may be packed alike in part.
func (s *search) forgive(data []byte) {
	for i := 0; i+piece <= len(data); i++ {
		if s.starts(data[i], data[i+1]) {
			delete(s.pieces, [piece]byte(data[i:]))
		}
	}
}

func (s *search) set(a, b byte) {
	k := uint(a) | uint(b)<<8
	s.first[k>>6] |= 1 << (k & 63)
}

func (s *search) starts(a, b byte) bool {
	k := uint(a) | uint(b)<<8
	return s.first[k>>6]&(1<<(k&63)) != 0
}

func (s *search) addText(texts ...string) {
	for _, t := range texts {
		if len(t) >= leastText && len(t) < overlap && !slices.Contains(s.texts, t) {
			s.texts = append(s.texts, t)
		}
	}
}

// count counts the places where a text or piece lies.
func (s *search) count(r io.Reader) (found int, size int64, err error) {
	buf := make([]byte, 0, 1<<20)
	from := 0 // what lies before has been counted
	for {
		n, err := io.ReadFull(r, buf[len(buf):cap(buf)])
		buf, size = buf[:len(buf)+n], size+int64(n)
		last := err == io.EOF || err == io.ErrUnexpectedEOF
		if err != nil && !last {
			return found, size, err
		}
		to := len(buf)
		if !last {
			to -= overlap
		}
		found += s.countIn(buf, from, to)
		if last {
			return found, size, nil
		}
		// What lies before the next place to look at may cover it.
		keep := max(0, to-overlap)
		from = to - keep
		buf = append(buf[:0], buf[keep:]...)
	}
}

// countIn counts the places that begin in data[from:to].
func (s *search) countIn(data []byte, from, to int) (n int) {
	for i := from; i < min(to, len(data)-piece+1); i++ {
		if s.starts(data[i], data[i+1]) && s.pieces[[piece]byte(data[i:])] {
			n++
		}
	}
	for _, text := range s.texts {
		for at := from; ; at++ {
			i := bytes.Index(data[at:], []byte(text))
			if i < 0 || at+i >= to {
				break
			}
			at += i
			if !s.covered(data, at, text) {
				n++
			}
		}
	}
	return n
}

// covered tells whether the text at a place is part of a longer one that is
// somebody else's.
func (s *search) covered(data []byte, at int, text string) bool {
	for _, o := range s.others {
		for k := 0; k+len(text) <= len(o); k++ {
			if o[k:k+len(text)] == text && at >= k && bytes.HasPrefix(data[at-k:], []byte(o)) {
				return true
			}
		}
	}
	return false
}

// traces is what the store's files hold of a student.
func (s *Store) traces(ctx context.Context, student string, attempts []Attempt) (*search, error) {
	look := &search{}
	look.addText(student)
	for _, a := range attempts {
		look.addText(a.TranscriptHash, a.RecordingHash)
		for _, text := range []string{`SELECT text FROM transcripts WHERE attempt = ?`, `SELECT sheet FROM sheets WHERE attempt = ?`} {
			var data []byte
			if err := s.read().row(ctx, text, a.ID).Scan(&data); err != nil {
				return nil, err
			}
			look.addPacked(data)
		}
		// A piece of every part of the recording.
		rows, err := s.read().query(ctx, `SELECT data FROM recordings WHERE attempt = ?`, a.ID)
		if err != nil {
			return nil, err
		}
		for rows.Next() {
			var data sql.RawBytes
			if err := rows.Scan(&data); err != nil {
				rows.Close()
				return nil, err
			}
			look.addRecording(data)
		}
		if err := errors.Join(rows.Err(), rows.Close()); err != nil {
			return nil, err
		}
	}
	// Rows of others that hold the id, as a longer one does. Those that name the
	// student are told by mentions.
	texts, err := s.othersTexts(ctx, student)
	for _, t := range texts {
		if len(t.text) < overlap {
			look.others = append(look.others, t.text)
		}
	}
	return look, err
}

// forgiveOthers takes out what the rows that are left hold.
func (s *Store) forgiveOthers(ctx context.Context, look *search) error {
	for _, text := range []string{`SELECT text FROM transcripts`, `SELECT sound FROM transcripts`, `SELECT sheet FROM sheets`, `SELECT data FROM recordings`} {
		rows, err := s.read().query(ctx, text)
		if err != nil {
			return err
		}
		for rows.Next() {
			var data sql.RawBytes
			if err := rows.Scan(&data); err != nil {
				rows.Close()
				return err
			}
			look.forgive(data)
		}
		if err := errors.Join(rows.Err(), rows.Close()); err != nil {
			return err
		}
	}
	return nil
}

// mentions says where rows of others name the student.
func (s *Store) mentions(ctx context.Context, student string) (list []string, err error) {
	texts, err := s.othersTexts(ctx, student)
	for _, t := range texts {
		if names(t.text, student) {
			list = append(list, t.where)
		}
	}
	return list, err
}

// names tells whether a text has the id as a word, not in a longer one.
func names(text, id string) bool {
	inWord := func(r rune) bool { return unicode.IsLetter(r) || unicode.IsDigit(r) }
	for at := 0; ; at++ {
		i := strings.Index(text[at:], id)
		if i < 0 {
			return false
		}
		at += i
		before, after := []rune(text[:at]), []rune(text[at+len(id):])
		if (len(before) == 0 || !inWord(before[len(before)-1])) && (len(after) == 0 || !inWord(after[0])) {
			return true
		}
	}
}

type placedText struct{ text, where string }

// othersTexts are the texts of other students' rows that hold the id anywhere.
func (s *Store) othersTexts(ctx context.Context, student string) ([]placedText, error) {
	var list []placedText
	collect := func(what, text string, args ...any) error {
		rows, err := s.read().query(ctx, text, args...)
		if err != nil {
			return err
		}
		defer rows.Close()
		for rows.Next() {
			var id int64
			var t string
			if err := rows.Scan(&id, &t); err != nil {
				return err
			}
			if strings.Contains(t, student) {
				list = append(list, placedText{t, fmt.Sprintf(what, id)})
			}
		}
		return rows.Err()
	}
	if err := collect("another student's id%.0d", `SELECT 0, id FROM students WHERE id <> ?`, student); err != nil {
		return nil, err
	}
	for _, column := range []string{"name", "cohort", "site", "instructor", "vehicle"} {
		what := column + " of attempt %d"
		if err := collect(what, `SELECT id, `+column+` FROM attempts WHERE student <> ?`, student); err != nil {
			return nil, err
		}
	}
	for _, column := range []string{"why", "who"} {
		what := column + " of a correction of attempt %d"
		if err := collect(what, `SELECT c.attempt, c.`+column+` FROM corrections c JOIN attempts a ON a.id = c.attempt WHERE a.student <> ?`, student); err != nil {
			return nil, err
		}
	}
	err := collect("path of backup %d", `SELECT id, path FROM backups WHERE path <> ?`, "")
	return list, err
}
