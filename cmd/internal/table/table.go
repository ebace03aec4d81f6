// Package table reads CSV files that people keep in a spreadsheet: a header row
// that names the columns, in any order, and a row for each thing.
//
// Fields are parted by comma, semicolon or tab, quoted where needed; the text is
// UTF-8, with or without a byte order mark. Rows that begin with "#" are
// comments, empty ones are passed over. Columns that nobody asks for are passed
// over too: a class list may have names in it that are no business of ours.
package table

import (
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"
	"unicode/utf8"

	"markaround/rubric"
)

// Row is a row under the header.
type Row struct {
	Line  int // of the file, from 1
	cells map[string]string
}

// Get is the field of a column, trimmed; "" when the row or the file has none.
func (r Row) Get(column string) string { return r.cells[column] }

// MaxBytes is the size of the largest file that is read.
const MaxBytes = 32 << 20

// maxFaults is how many faults are listed at most.
const maxFaults = 50

// Read reads a file. It has to have the columns of need, and every row something
// in them. Name is the file's name for messages. The error is a rubric.Errors
// with every fault and its line, or the reader's own.
func Read(r io.Reader, name string, need ...string) ([]Row, error) {
	data, err := io.ReadAll(io.LimitReader(r, MaxBytes+1))
	if err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	var faults rubric.Errors
	fault := func(line int, advice, format string, args ...any) {
		if len(faults) < maxFaults {
			faults = append(faults, &rubric.Error{Pos: rubric.Pos{File: name, Line: line}, Msg: fmt.Sprintf(format, args...), Advice: advice})
		}
	}
	switch {
	case len(data) > MaxBytes:
		return nil, fmt.Errorf("%s: has more than %d MiB; split it", name, MaxBytes>>20)
	case bytes.HasPrefix(data, []byte("\xff\xfe")), bytes.HasPrefix(data, []byte("\xfe\xff")):
		fault(1, "save it as CSV in UTF-8", "this is UTF-16 text")
		return nil, faults
	}
	data = bytes.TrimPrefix(data, []byte("\ufeff"))
	in := csv.NewReader(bytes.NewReader(data))
	in.Comma = separator(data)
	in.Comment = '#'
	in.FieldsPerRecord = -1
	in.TrimLeadingSpace = in.Comma != '\t' // a tab would be trimmed as space
	var header []string
	var rows []Row
	for {
		fields, err := in.Read()
		if err == io.EOF {
			break
		}
		if syntax, ok := errors.AsType[*csv.ParseError](err); ok {
			fault(syntax.Line, `put quotes round the whole field and write "" for a quote inside it`, "%v", syntax.Err)
			return nil, faults
		}
		if err != nil {
			return nil, fmt.Errorf("%s: %w", name, err)
		}
		line, _ := in.FieldPos(0)
		if slices.ContainsFunc(fields, func(f string) bool { return !utf8.ValidString(f) }) {
			fault(line, "save it as CSV in UTF-8", "the text is not UTF-8")
			return nil, faults
		}
		for i := range fields {
			fields[i] = strings.TrimSpace(fields[i])
		}
		// Spreadsheets put quotes round a comment with a separator in it.
		if strings.HasPrefix(fields[0], "#") || !slices.ContainsFunc(fields, func(f string) bool { return f != "" }) {
			continue
		}
		if header == nil {
			for _, h := range fields {
				header = append(header, strings.ToLower(h))
			}
			for _, h := range need {
				switch i := slices.Index(header, h); {
				case i < 0:
					fault(line, "begin with a header row such as "+strings.Join(need, ","), "no column %q", h)
				case slices.Contains(header[i+1:], h):
					fault(line, "keep one of them", "column %q is there twice", h)
				}
			}
			if len(faults) > 0 {
				return nil, faults
			}
			continue
		}
		row := Row{line, map[string]string{}}
		for i, f := range fields {
			if i < len(header) {
				if row.cells[header[i]] == "" {
					row.cells[header[i]] = f
				}
			} else if f != "" {
				fault(line, "put quotes round a field that has a separator in it", "more fields than the header has columns, from %q", f)
				break
			}
		}
		for _, h := range need {
			if row.cells[h] == "" {
				fault(line, "fill it in or remove the row", "no %s", h)
			}
		}
		rows = append(rows, row)
	}
	switch {
	case len(faults) > 0:
		return nil, faults
	case header == nil:
		fault(1, "begin with a header row such as "+strings.Join(need, ","), "the file is empty")
		return nil, faults
	}
	return rows, nil
}

// separator is the one that the header has most of.
func separator(data []byte) rune {
	for line := range bytes.Lines(data) {
		if line = bytes.TrimSpace(line); len(line) == 0 || line[0] == '#' {
			continue
		}
		most, sep := 0, ','
		for _, s := range ",;\t" {
			if n := bytes.Count(line, []byte(string(s))); n > most {
				most, sep = n, s
			}
		}
		return sep
	}
	return ','
}
