package web

import (
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"

	"markaround/align"
	"markaround/cmd/internal/store"
	"markaround/rubric"
	"markaround/speech"
)

// choice is a score sheet or overlay to choose.
type choice struct {
	Name  string // of a built-in one, or the path of a file
	Title string
}

// offer finds the score sheets and overlays to choose from. Nothing else is ever
// loaded, so that no form can name a file of this machine.
func (s *Server) offer() error {
	sheets, overlays := rubric.Names()
	for _, name := range append(sheets, s.opt.Sheets...) {
		r, err := rubric.Load(name)
		if err != nil {
			return err
		}
		title := r.Title
		if r.Edition != "" {
			title += ", " + r.Edition
		}
		s.sheets = append(s.sheets, choice{name, title})
	}
	for _, name := range append(overlays, s.opt.Overlays...) {
		data, file := rubric.SourceText(name), name+".yaml"
		if data == nil {
			var err error
			if data, err = os.ReadFile(name); err != nil {
				return err
			}
			file = name
		}
		o, err := rubric.ReadOverlay(file, data)
		if err != nil {
			return err
		}
		s.overlays = append(s.overlays, choice{name, o.Title})
	}
	return nil
}

func offered(list []choice, name string) bool {
	return slices.ContainsFunc(list, func(c choice) bool { return c.Name == name })
}

// matchers keeps the matchers of the score sheets that were used: to make one
// takes longer than to mark with it.
type matchers struct {
	mu   sync.Mutex
	made map[string]*matcher
}

type matcher struct {
	*align.Matcher
	rule rubric.Rule
}

// mostMatchers bounds the memory that matchers take.
const mostMatchers = 12

func (m *matchers) of(sheet string, with []string) (*matcher, error) {
	key := strings.Join(append([]string{sheet}, with...), "\x00")
	m.mu.Lock()
	defer m.mu.Unlock()
	if made, ok := m.made[key]; ok {
		return made, nil
	}
	r, err := rubric.Load(sheet, with...)
	if err != nil {
		return nil, &fieldError{"with", err}
	}
	a, err := align.New(r)
	if err != nil {
		return nil, &fieldError{"sheet", err}
	}
	if m.made == nil || len(m.made) >= mostMatchers {
		m.made = map[string]*matcher{}
	}
	m.made[key] = &matcher{a, r.Rule()}
	return m.made[key], nil
}

// fieldError is an error about what stands in one field of a form.
type fieldError struct {
	field string
	err   error
}

func (e *fieldError) Error() string { return e.err.Error() }
func (e *fieldError) Unwrap() error { return e.err }

// upload is an attempt as the form brings it.
type upload struct {
	details    store.Details
	sheet      string
	with       []string
	speaker    string
	keepAudio  bool
	transcript []byte
	name       string // of its file, no folder
	recording  string // path of a file of ours, "" without one
	soundName  string // what it was called
}

// words reads the transcript.
func (u *upload) words() (*speech.Transcript, []string, error) {
	t, err := speech.Read(strings.NewReader(string(u.transcript)), speech.Options{Name: u.name})
	if err != nil {
		return nil, nil, &fieldError{"transcript", err}
	}
	if u.speaker == "" {
		return t, nil, nil
	}
	there := t.Speakers()
	i := slices.IndexFunc(there, func(label string) bool { return strings.EqualFold(label, u.speaker) })
	switch {
	case len(there) == 0:
		return nil, nil, &fieldError{"speaker", errors.New("the transcript has no speaker labels; leave this empty")}
	case i < 0:
		return nil, nil, &fieldError{"speaker", fmt.Errorf("no speaker is labeled %q; the labels are %s", u.speaker, strings.Join(there, ", "))}
	}
	return t, there[i : i+1], nil
}

// mark marks an upload; step is told what is being done.
func (s *Server) mark(u *upload, step func(stage string)) (*store.Entry, *speech.Sound, error) {
	step("words")
	t, labels, err := u.words()
	if err != nil {
		return nil, nil, err
	}
	opt := align.Options{Attempt: attemptName(u.name), Student: labels}
	if u.recording != "" {
		step("sound")
		if opt.Sound, err = readSound(u.recording, u.soundName); err != nil {
			return nil, nil, &fieldError{"recording", err}
		}
		t, opt.Timing = speech.Place(t, opt.Sound)
	}
	step("sheet")
	m, err := s.matchers.of(u.sheet, u.with)
	if err != nil {
		return nil, nil, err
	}
	step("marks")
	sheet := m.Grade(t, opt)
	sheet.Tool, sheet.Source = s.opt.Tool, u.name
	e := &store.Entry{Name: opt.Attempt, Details: u.details, Transcript: u.transcript, Sound: opt.Sound, Sheet: sheet, Rule: m.rule,
		Marking: store.Marking{Rubric: u.sheet, With: u.with, Labels: labels}}
	if u.keepAudio {
		e.Recording = u.recording
	}
	return e, opt.Sound, nil
}

func readSound(path, name string) (*speech.Sound, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	return speech.ReadSound(f, name)
}

// fileName is the last part of a name that a browser sent, whatever folders of
// whatever system stand before it.
func fileName(name string) string {
	name = strings.Map(func(r rune) rune {
		if r < ' ' || r == 0x7f {
			return -1
		}
		return r
	}, strings.ToValidUTF8(name, ""))
	name = name[strings.LastIndexAny(name, `/\`)+1:]
	if r := []rune(name); len(r) > 100 {
		name = string(r[len(r)-100:])
	}
	if name == "" || name == "." || name == ".." {
		return "transcript"
	}
	return name
}

// attemptName is the name of a file without its ending.
func attemptName(file string) string {
	if id := strings.TrimSuffix(file, filepath.Ext(file)); id != "" {
		return id
	}
	return file
}

// copyLimited writes a part of a form to a file of ours; tooLarge when it has more
// bytes than the limit.
func copyLimited(w io.Writer, r io.Reader, limit int64) error {
	n, err := io.Copy(w, io.LimitReader(r, limit+1))
	if err == nil && n > limit {
		err = errTooLarge
	}
	return err
}

var errTooLarge = errors.New("too large")
