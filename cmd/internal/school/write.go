package school

import (
	"bufio"
	"bytes"
	_ "embed"
	"encoding/csv"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"text/template"

	"markaround/rubric"
	"markaround/speech"
)

// Files of a school's folder.
const (
	TranscriptsFolder = "transcripts"
	StudentsFile      = "students.csv"
	AttemptsFile      = "attempts.csv"
	GoldFile          = "gold.csv"
	PlantedFile       = "planted.csv"
	ReadmeFile        = "README.md"
)

//go:embed readme.md.tmpl
var readmeText string

var readme = template.Must(template.New("readme").Parse(readmeText))

// File is the name of the attempt's transcript: SRT from every other site, JSON
// with a time for each word from the rest.
func (s *School) File(a *Attempt) string {
	if slices.Index(talk().Sites, s.Of(a).Site)%2 == 0 {
		return a.ID + ".srt"
	}
	return a.ID + ".json"
}

// Write writes the school into a new folder: all of it or nothing. A folder that
// exists is an error unless it is empty, or replace is set and it holds a school
// that was written before. Transcripts that were not made yet are made one by
// one and not kept, so that a large school takes little memory.
func (s *School) Write(folder string, replace bool) (err error) {
	folder = filepath.Clean(folder)
	old, err := takes(folder, replace)
	if err != nil {
		return err
	}
	beside, err := os.MkdirTemp(filepath.Dir(folder), "."+filepath.Base(folder)+".*.tmp")
	if err != nil {
		return fmt.Errorf("%s: cannot be written: %w", folder, cause(err))
	}
	defer os.RemoveAll(beside)
	fresh := filepath.Join(beside, "new")
	if err := s.fill(fresh); err != nil {
		return fmt.Errorf("%s: cannot be written: %w", folder, cause(err))
	}
	if old {
		if err := os.Rename(folder, filepath.Join(beside, "old")); err != nil {
			return fmt.Errorf("%s: cannot be replaced: %w", folder, cause(err))
		}
	}
	if err := os.Rename(fresh, folder); err != nil {
		if old {
			os.Rename(filepath.Join(beside, "old"), folder)
		}
		return fmt.Errorf("%s: cannot be written: %w", folder, cause(err))
	}
	return nil
}

// Free reports why Write would not write there, nil when it would.
func Free(folder string, replace bool) error {
	_, err := takes(filepath.Clean(folder), replace)
	return err
}

// takes reports whether the folder exists, or why nothing may be written there.
func takes(folder string, replace bool) (exists bool, err error) {
	info, err := os.Stat(folder)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return false, nil
	case err != nil:
		return false, fmt.Errorf("%s: %w", folder, cause(err))
	case !info.IsDir():
		return false, fmt.Errorf("%s: is a file, not a folder; give another name", folder)
	}
	list, err := os.ReadDir(folder)
	if err != nil {
		return false, fmt.Errorf("%s: %w", folder, cause(err))
	}
	if len(list) == 0 {
		return true, nil
	}
	// What somebody put beside the school's own files is not ours to remove.
	own := []string{TranscriptsFolder, StudentsFile, AttemptsFile, GoldFile, PlantedFile, ReadmeFile}
	there := 0
	for _, e := range list {
		if slices.Contains(own, e.Name()) {
			there++
		} else {
			return false, fmt.Errorf("%s: exists and holds %s, which is no part of an invented school; give another name", folder, e.Name())
		}
	}
	if there < len(own) {
		return false, fmt.Errorf("%s: exists and is not empty; give another name", folder)
	}
	if !replace {
		return false, fmt.Errorf("%s: holds an invented school already; add --force to replace it, or give another name", folder)
	}
	return true, nil
}

// fill makes a folder with all files of the school.
func (s *School) fill(folder string) error {
	transcripts := filepath.Join(folder, TranscriptsFolder)
	if err := os.MkdirAll(transcripts, 0o777); err != nil {
		return err
	}
	err := put(filepath.Join(folder, GoldFile), func(w io.Writer) error {
		gold := csv.NewWriter(w)
		gold.Write(goldHeader)
		for i := range s.Attempts {
			a := s.Attempts[i]
			if a.Transcript == nil {
				s.voice().speak(&a)
			}
			s.writeGold(gold, &a)
			name := s.File(&a)
			write := writeSRT
			if filepath.Ext(name) == ".json" {
				write = writeJSON
			}
			if err := put(filepath.Join(transcripts, name), func(w io.Writer) error { return write(w, a.Transcript) }); err != nil {
				return err
			}
		}
		gold.Flush()
		return gold.Error()
	})
	if err != nil {
		return err
	}
	for _, f := range []struct {
		name  string
		write func(io.Writer) error
	}{
		{StudentsFile, s.writeStudents}, {AttemptsFile, s.writeAttempts}, {PlantedFile, s.writePlanted}, {ReadmeFile, s.writeReadme},
	} {
		if err := put(filepath.Join(folder, f.name), f.write); err != nil {
			return err
		}
	}
	return nil
}

func put(path string, write func(io.Writer) error) error {
	f, err := os.Create(path)
	if err != nil {
		return err
	}
	b := bufio.NewWriter(f)
	return errors.Join(write(b), b.Flush(), f.Close())
}

func writeTable(w io.Writer, rows [][]string) error {
	c := csv.NewWriter(w)
	return c.WriteAll(rows)
}

func (s *School) writeStudents(w io.Writer) error {
	rows := [][]string{{"student", "cohort", "site", "instructor"}}
	for _, st := range s.Students {
		rows = append(rows, []string{st.ID, st.Cohort, st.Site, st.Instructor})
	}
	return writeTable(w, rows)
}

func (s *School) writeAttempts(w io.Writer) error {
	rows := [][]string{{"attempt", "file", "student", "number", "date", "cohort", "site", "instructor", "vehicle"}}
	for i := range s.Attempts {
		a := &s.Attempts[i]
		st := s.Of(a)
		rows = append(rows, []string{a.ID, TranscriptsFolder + "/" + s.File(a), st.ID, strconv.Itoa(a.Number), a.Date, st.Cohort, st.Site, st.Instructor, a.Vehicle})
	}
	return writeTable(w, rows)
}

func (s *School) writePlanted(w io.Writer) error {
	rows := [][]string{{"kind", "group", "item", "mark", "number", "figure"}}
	for _, p := range s.Planted {
		rows = append(rows, []string{p.Kind, p.Group, p.Item, string(p.Mark), p.Measure, p.Figure})
	}
	return writeTable(w, rows)
}

func (s *School) writeReadme(w io.Writer) error {
	t := talk()
	data := struct {
		*School
		Cohorts, Sites, Instructors   []string
		LastCohort, First, Last, Rate string
	}{School: s, Cohorts: t.Cohorts, Sites: t.Sites, Instructors: t.Instructors, LastCohort: t.Cohorts[len(t.Cohorts)-1],
		Rate: rubric.Percent(s.Errors, 1)}
	for i := range s.Attempts {
		d := s.Attempts[i].Date
		if data.First == "" || d < data.First {
			data.First = d
		}
		data.Last = max(data.Last, d)
	}
	return readme.Execute(w, data)
}

// writeSRT writes captions.
func writeSRT(w io.Writer, t *speech.Transcript) error {
	for i, g := range t.Segments {
		if _, err := fmt.Fprintf(w, "%d\n%s --> %s\n%s\n\n", i+1, clock(g.Start), clock(g.End), t.Text(g.First, g.Last)); err != nil {
			return err
		}
	}
	return nil
}

func milliseconds(sec float64) int { return int(math.Round(max(0, sec) * 1000)) }

func clock(sec float64) string {
	ms := milliseconds(sec)
	return fmt.Sprintf("%02d:%02d:%02d,%03d", ms/3600000, ms/60000%60, ms/1000%60, ms%1000)
}

// writeJSON writes the form that Whisper has with word times.
func writeJSON(w io.Writer, t *speech.Transcript) error {
	type wordJSON struct {
		Word        string  `json:"word"`
		Start       float64 `json:"start"`
		End         float64 `json:"end"`
		Probability float64 `json:"probability"`
	}
	type segmentJSON struct {
		ID    int        `json:"id"`
		Start float64    `json:"start"`
		End   float64    `json:"end"`
		Text  string     `json:"text"`
		Words []wordJSON `json:"words"`
	}
	round := func(sec float64) float64 { return float64(milliseconds(sec)) / 1000 }
	out := struct {
		Text     string        `json:"text"`
		Segments []segmentJSON `json:"segments"`
		Language string        `json:"language"`
	}{Language: "en"}
	var all bytes.Buffer
	for i, g := range t.Segments {
		text := " " + t.Text(g.First, g.Last)
		all.WriteString(text)
		seg := segmentJSON{ID: i, Start: round(g.Start), End: round(g.End), Text: text}
		for _, x := range t.Words[g.First:g.Last] {
			seg.Words = append(seg.Words, wordJSON{" " + x.Text, round(x.Start), round(x.End), round(x.Confidence)})
		}
		out.Segments = append(out.Segments, seg)
	}
	out.Text = all.String()
	e := json.NewEncoder(w)
	e.SetEscapeHTML(false)
	return e.Encode(out)
}

// cause takes the operation and the path off an error of the file system.
func cause(err error) error {
	var pe *fs.PathError
	if errors.As(err, &pe) {
		return pe.Err
	}
	var le *os.LinkError
	if errors.As(err, &le) {
		return le.Err
	}
	return err
}
