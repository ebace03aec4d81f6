package cohort

import (
	"bufio"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"maps"
	"regexp"
	"slices"
	"strings"
	"unicode/utf8"

	"markaround/rubric"
)

// Found is the mark of a finding that a marker noticed.
const Found rubric.Mark = "found"

// Kind says what a mark is given to.
type Kind string

// Kinds of marked things. A marks file without a column kind does not tell
// checks from measures: there, both are parts.
const (
	ItemKind    Kind = "item"
	CheckKind   Kind = "check"
	MeasureKind Kind = "measure"
	PartKind    Kind = "part"
	FindingKind Kind = "finding"
)

// Judgment is one mark of one marker.
type Judgment struct {
	Attempt    string
	Item       string // "section.part", "section.part/check", or "order:ID", "hold:ID", "reading:ID"
	Kind       Kind
	Mark       rubric.Mark
	Confidence float64 // 0..1; -1 when none was given
	Extra      bool    // not on the edition's list
	Words      string  // evidence as transcribed, "" if none
	Start      float64 // seconds of the evidence; -1 if none
	Note       string
	Line       int // of the marks file, from 1; 0 otherwise
}

// key names what is marked.
type key struct{ attempt, item string }

// Marks are the judgments of one marker.
type Marks struct {
	Name string // where they came from, for messages
	list []Judgment
	at   map[key]int // index into list
}

// NewMarks gives an empty set of marks to be filled by Add.
func NewMarks(name string) *Marks { return &Marks{Name: name, at: map[key]int{}} }

// Add adds a judgment. It reports false, and adds nothing, when the attempt's
// item has a mark already.
func (m *Marks) Add(j Judgment) bool {
	k := key{j.Attempt, j.Item}
	if _, ok := m.at[k]; ok {
		return false
	}
	m.at[k] = len(m.list)
	m.list = append(m.list, j)
	return true
}

// All are the judgments in the order added.
func (m *Marks) All() []Judgment { return m.list }

// Attempts lists the attempts that have a mark, sorted.
func (m *Marks) Attempts() []string {
	set := map[string]bool{}
	for _, j := range m.list {
		set[j.Attempt] = true
	}
	return slices.Sorted(maps.Keys(set))
}

func (m *Marks) get(attempt, item string) (Judgment, bool) {
	i, ok := m.at[key{attempt, item}]
	if !ok {
		return Judgment{}, false
	}
	return m.list[i], true
}

// AddSheet adds all marks of a sheet: items, checks, measures, and the
// findings a person marks too (order, holds, readings). It fails when the
// sheet's attempt has marks already, and on a mark that is none of the four.
func (m *Marks) AddSheet(s *rubric.Sheet) error {
	if slices.ContainsFunc(m.list, func(j Judgment) bool { return j.Attempt == s.Attempt }) {
		return fmt.Errorf("attempt %q has a second sheet; leave one of them out", s.Attempt)
	}
	for _, it := range s.Items {
		if bad, what := unknownMark(it); bad {
			return fmt.Errorf("attempt %q: item %s has %s, which is no mark; grade the recording again", s.Attempt, it.ID, what)
		}
	}
	for _, it := range s.Items {
		j := Judgment{Attempt: s.Attempt, Item: it.ID, Kind: ItemKind, Mark: it.Mark, Confidence: it.Confidence, Extra: it.Extra}
		j.Words, j.Start, _ = best(it.Evidence())
		if it.Start >= 0 {
			j.Start = it.Start
		}
		if it.Corrected != nil {
			j.Confidence = -1 // a person's mark, which says nothing of ours
		}
		m.Add(j)
		for _, c := range it.Checks {
			m.addPart(s.Attempt, it, c.ID, CheckKind, c.Mark, c.Evidence)
		}
		for _, q := range it.Measures {
			m.addPart(s.Attempt, it, q.ID, MeasureKind, q.Mark, q.Evidence)
		}
	}
	for _, f := range s.Findings {
		switch f.Kind {
		case rubric.OrderFinding, rubric.HoldFinding, rubric.ReadingFinding:
			m.Add(Judgment{Attempt: s.Attempt, Item: f.Key(), Kind: FindingKind, Mark: Found,
				Confidence: -1, Words: f.Text, Start: f.Start})
		}
	}
	return nil
}

func unknownMark(it rubric.ItemMark) (bool, string) {
	marks := []rubric.Mark{it.Mark}
	for _, c := range it.Checks {
		marks = append(marks, c.Mark)
	}
	for _, q := range it.Measures {
		marks = append(marks, q.Mark)
	}
	for _, m := range marks {
		if !slices.Contains(Classes[:], m) {
			return true, fmt.Sprintf("%q", m)
		}
	}
	return false, ""
}

func (m *Marks) addPart(attempt string, it rubric.ItemMark, id string, kind Kind, mark rubric.Mark, ev []rubric.Evidence) {
	j := Judgment{Attempt: attempt, Item: it.ID + "/" + id, Kind: kind, Mark: mark, Extra: it.Extra}
	j.Words, j.Start, j.Confidence = best(ev)
	m.Add(j)
}

// best gives words, start and confidence of the surest evidence; "", -1 and -1
// without any.
func best(ev []rubric.Evidence) (words string, start, confidence float64) {
	start, confidence = -1, -1
	for _, e := range ev {
		if e.Confidence > confidence {
			words, start, confidence = e.Words, e.Start, e.Confidence
		}
	}
	return words, start, confidence
}

var (
	itemForm    = regexp.MustCompile(`^[^\s/:]+\.[^\s/:]+$`)
	partForm    = regexp.MustCompile(`^[^\s/:]+\.[^\s/:]+/[^\s/:]+$`)
	findingForm = regexp.MustCompile(`^(order|hold|reading):\S+$`)
)

// ReadMarks reads a person's marks from a CSV file with a header row that names
// at least the columns attempt, item and mark, in any order; columns note and
// kind (check or measure) are kept, others are passed over. Item is "section.part" for an item,
// "section.part/check" for a check or measure of one, marked said, partly,
// missed or wrong; or "order:ID", "hold:ID" or "reading:ID", marked found.
// Fields are parted by comma, semicolon or tab, quoted where needed. Rows
// beginning with "#" are comments; empty rows are passed over.
//
// The error is a rubric.Errors with every fault that was found and its line, or
// the reader's own error. Name is the file's name for messages.
func ReadMarks(r io.Reader, name string) (*Marks, error) {
	in, err := newMarksReader(r, name)
	if err != nil {
		return nil, err
	}
	m := NewMarks(name)
	for {
		row, line, err := in.next()
		if err == io.EOF {
			break
		}
		if err != nil {
			return nil, err
		}
		in.addRow(m, row, line)
	}
	if len(in.faults) > 0 {
		return nil, in.faults
	}
	return m, nil
}

// marksReader reads the rows under the header.
type marksReader struct {
	csv    *csv.Reader
	name   string
	column map[string]int // by name, lower case
	width  int            // columns of the header
	faults rubric.Errors
}

const (
	markAdvice = "use said, partly, missed or wrong"
	maxFaults  = 50
	// headerWithin is how far into the file the header is looked for, in bytes.
	headerWithin = 1 << 16
	utf8Advice   = "save it as CSV in UTF-8"
	headerWords  = "attempt,item,mark"
)

func newMarksReader(r io.Reader, name string) (*marksReader, error) {
	in := &marksReader{name: name}
	buf := bufio.NewReaderSize(r, headerWithin)
	start, err := buf.Peek(3)
	if err != nil && err != io.EOF {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	switch text := string(start); {
	case text == "\ufeff":
		buf.Discard(3)
	case strings.HasPrefix(text, "\xff\xfe"), strings.HasPrefix(text, "\xfe\xff"):
		return nil, in.fault(1, utf8Advice, "this is UTF-16 text")
	}
	in.csv = csv.NewReader(buf)
	in.csv.Comma = separator(buf)
	in.csv.Comment = '#'
	in.csv.FieldsPerRecord = -1
	in.csv.TrimLeadingSpace = in.csv.Comma != '\t' // a tab would be trimmed as space

	header, line, err := in.next()
	if err == io.EOF {
		return nil, in.fault(1, "begin with the header row "+headerWords, "the file is empty")
	}
	if err != nil {
		return nil, err
	}
	in.column, in.width = map[string]int{}, len(header)
	for i, h := range header {
		h = strings.ToLower(strings.TrimSpace(h))
		if _, twice := in.column[h]; twice && slices.Contains(strings.Split(headerWords, ","), h) {
			return nil, in.fault(line, "keep one of them", "column %q is there twice", h)
		}
		in.column[h] = i
	}
	for _, h := range strings.Split(headerWords, ",") {
		if _, ok := in.column[h]; !ok {
			return nil, in.fault(line, "begin with a header row such as "+headerWords, "no column %q", h)
		}
	}
	return in, nil
}

// separator is the one that the header has most of, from a look ahead.
func separator(buf *bufio.Reader) rune {
	ahead, _ := buf.Peek(headerWithin) // a short file is no error here; reading will tell others
	for line := range strings.Lines(string(ahead)) {
		if line = strings.TrimSpace(line); line == "" || line[0] == '#' {
			continue
		}
		most, sep := 0, ','
		for _, s := range ",;\t" {
			if n := strings.Count(line, string(s)); n > most {
				most, sep = n, s
			}
		}
		return sep
	}
	return ','
}

// next gives the next row that is not empty and the line where it begins.
func (in *marksReader) next() ([]string, int, error) {
	for {
		row, err := in.csv.Read()
		var syntax *csv.ParseError
		switch {
		case err == io.EOF:
			return nil, 0, err
		case errors.As(err, &syntax):
			return nil, 0, in.fault(syntax.Line, `put quotes round the whole field and write "" for a quote inside it`, "%v", syntax.Err)
		case err != nil:
			return nil, 0, fmt.Errorf("%s: %w", in.name, err)
		}
		line, _ := in.csv.FieldPos(0)
		if slices.ContainsFunc(row, func(f string) bool { return !utf8.ValidString(f) }) {
			return nil, 0, in.fault(line, utf8Advice, "the text is not UTF-8")
		}
		// Spreadsheets put quotes round a comment with a separator in it.
		comment := strings.HasPrefix(strings.TrimSpace(row[0]), "#")
		if !comment && slices.ContainsFunc(row, func(f string) bool { return strings.TrimSpace(f) != "" }) {
			return row, line, nil
		}
	}
}

// fault gives all faults noted so far and one more.
func (in *marksReader) fault(line int, advice, format string, args ...any) error {
	in.note(line, advice, format, args...)
	return in.faults
}

func (in *marksReader) note(line int, advice, format string, args ...any) {
	if len(in.faults) < maxFaults {
		in.faults = append(in.faults, &rubric.Error{Pos: rubric.Pos{File: in.name, Line: line}, Msg: fmt.Sprintf(format, args...), Advice: advice})
	}
}

// addRow adds one row to m or notes what is wrong with it.
func (in *marksReader) addRow(m *Marks, row []string, line int) {
	field := func(column string) string {
		if i, ok := in.column[column]; ok && i < len(row) {
			return strings.TrimSpace(row[i])
		}
		return ""
	}
	for i := in.width; i < len(row); i++ {
		if strings.TrimSpace(row[i]) != "" {
			in.note(line, "put quotes round a field that has a separator in it", "more fields than the header has columns, from %q", row[i])
			return
		}
	}
	j := Judgment{Attempt: field("attempt"), Item: field("item"), Mark: rubric.Mark(strings.ToLower(field("mark"))),
		Confidence: -1, Start: -1, Note: field("note"), Line: line}
	for _, h := range strings.Split(headerWords, ",") {
		if field(h) == "" {
			in.note(line, "fill it in or remove the row", "no %s", h)
			return
		}
	}
	known := slices.Contains(Classes[:], j.Mark)
	switch {
	case itemForm.MatchString(j.Item):
		j.Kind = ItemKind
		if !known {
			in.note(line, markAdvice, "unknown mark %q of item %s", j.Mark, j.Item)
			return
		}
	case partForm.MatchString(j.Item):
		switch j.Kind = Kind(strings.ToLower(field("kind"))); j.Kind {
		case CheckKind, MeasureKind:
		default:
			j.Kind = PartKind
		}
		if !known || j.Mark == rubric.Partly {
			in.note(line, "a check or measure is said, missed or wrong", "mark %q does not fit %s", j.Mark, j.Item)
			return
		}
	case findingForm.MatchString(j.Item):
		j.Kind = FindingKind
		if j.Mark != Found {
			in.note(line, `mark a finding "found", or leave the row out`, "mark %q does not fit %s", j.Mark, j.Item)
			return
		}
	default:
		in.note(line, "write section.part, section.part/check, or order:ID, hold:ID, reading:ID", "item %q has an unknown form", j.Item)
		return
	}
	if old, ok := m.get(j.Attempt, j.Item); ok {
		in.note(line, "keep one of the rows", "%s of attempt %s is marked on line %d already", j.Item, j.Attempt, old.Line)
		return
	}
	m.Add(j)
}
