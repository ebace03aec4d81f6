package report

import (
	"encoding/csv"
	"io"
)

// Clip is a piece of the recording, cut out for a moment.
type Clip struct {
	Moment
	File       string  // its name, "" when nothing was cut
	Start, End float64 // seconds of the recording that it runs from and to
}

// clipColumns are the columns of ClipIndex.
var clipColumns = []string{"file", "item", "mark", "why", "start", "end", "title", "words"}

// ClipIndex writes a header and a row for every clip: its file, the item
// ("section.part", with "/id" for the check or number that is wrong), the mark,
// why it is worth hearing (wrong, near or listen), the seconds of the recording
// that it holds, and the words. A row without a file has the time of the place
// where the words should have been, or of words that the recording does not
// reach to.
func ClipIndex(w io.Writer, clips []Clip) error {
	c := csv.NewWriter(w)
	c.Write(clipColumns)
	for _, p := range clips {
		item := p.Item.ID
		if p.Part != "" {
			item += "/" + p.Part
		}
		row := []string{p.File, item, string(p.Mark), string(p.Why), seconds(p.Start), seconds(p.End), p.Item.Title, p.Said.Words}
		for i := range row {
			row[i] = Cell(row[i])
		}
		c.Write(row)
	}
	c.Flush()
	return c.Error()
}
