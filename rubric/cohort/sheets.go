package cohort

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"

	"markaround/rubric"
)

// ErrNotSheet is wrapped in the error of ReadSheets when the JSON is something
// else than a sheet.
var ErrNotSheet = errors.New("no sheet of marks")

// ReadSheets reads sheets in their JSON form, one or several one after another.
// Name is the file's name for messages. A sheet of another schema version is an
// error.
func ReadSheets(r io.Reader, name string) ([]*rubric.Sheet, error) {
	var sheets []*rubric.Sheet
	d := json.NewDecoder(r)
	for {
		var s rubric.Sheet
		switch err := d.Decode(&s); {
		case err == io.EOF && len(sheets) > 0:
			return sheets, nil
		case err == io.EOF:
			return nil, fmt.Errorf("%s: the file is empty: %w", name, ErrNotSheet)
		case err != nil:
			return nil, fmt.Errorf("%s: byte %d: %w (%w)", name, d.InputOffset(), ErrNotSheet, err)
		case s.Schema == 0 || s.Attempt == "":
			return nil, fmt.Errorf("%s: no schema or attempt in it: %w", name, ErrNotSheet)
		case s.Schema != rubric.SheetSchema:
			return nil, fmt.Errorf("%s: sheet has schema %d, this version reads %d; grade the recording again", name, s.Schema, rubric.SheetSchema)
		}
		sheets = append(sheets, &s)
	}
}
