package web

import (
	"errors"
	"io"
	"mime/multipart"
	"net/http"
	"os"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"
)

type addPage struct {
	base
	Sheets, Overlays []choice
	Cohorts          []string
	Value            map[string]string // of the fields, as they were sent
	With             []string
	Failed           map[string]string // by field
	LimitT, LimitR   int64             // MB
}

// Chosen tells whether an overlay was chosen.
func (p *addPage) Chosen(name string) bool { return slices.Contains(p.With, name) }

// field is an input of a form with what is said of it.
type field struct {
	Page           *addPage
	Name, Kind     string
	Need           bool
	Value, Trouble string
}

func newField(p *addPage, name, kind string, need bool) field {
	return field{p, name, kind, need, p.Value[name], p.Failed[name]}
}

func (s *Server) addForm(w http.ResponseWriter, r *http.Request) {
	value := map[string]string{"sheet": "class-a", "instructor": s.whoOf(r), "cohort": r.FormValue("cohort"), "student": r.FormValue("student"), "keep": "on"}
	s.showAdd(w, r, http.StatusOK, value, nil, nil)
}

func (s *Server) showAdd(w http.ResponseWriter, r *http.Request, status int, value map[string]string, with []string, failed map[string]string) {
	cohorts, err := s.store.Cohorts(r.Context())
	if err != nil {
		s.fail(w, r, err)
		return
	}
	p := &addPage{base: s.base(w, r, "add.title"), Sheets: s.sheets, Overlays: s.overlays, Cohorts: cohorts, Value: value, With: with, Failed: failed,
		LimitT: s.opt.Limits.Transcript >> 20, LimitR: s.opt.Limits.Recording >> 20}
	p.Nav = "add"
	s.render(w, r, status, "add.html", p)
}

// add takes an upload. Faults of the fields and of the transcript come back at
// once, beside their field; the rest is done behind a page that tells how far it
// is.
func (s *Server) add(w http.ResponseWriter, r *http.Request) {
	r.Body = http.MaxBytesReader(w, r.Body, s.opt.Limits.Transcript+s.opt.Limits.Recording+4<<20)
	u, value, failed, err := s.receive(r)
	started := false
	defer func() {
		if !started && u.recording != "" {
			os.Remove(u.recording)
		}
	}()
	if err != nil {
		key, status := "error.form", http.StatusBadRequest
		if _, ok := errors.AsType[*http.MaxBytesError](err); ok {
			key, status = "error.large", http.StatusRequestEntityTooLarge
		}
		if err == errToken {
			key, status = "error.token", http.StatusForbidden
		}
		w.Header().Set("Connection", "close") // what is left of the upload is not read
		s.refuse(w, r, status, key)
		return
	}
	if len(failed) == 0 {
		if _, _, err := u.words(); err != nil {
			fe, _ := errors.AsType[*fieldError](err)
			failed = map[string]string{fe.field: sentence(fe.err.Error(), u.name)}
		}
	}
	id := ""
	if len(failed) == 0 {
		if id, err = s.start(u); err != nil {
			text, _ := s.text.say("add.busy")
			failed = map[string]string{"": text}
		}
	}
	if len(failed) > 0 {
		if wantsJSON(r) {
			s.json(w, http.StatusUnprocessableEntity, map[string]any{"failed": failed})
			return
		}
		s.showAdd(w, r, http.StatusUnprocessableEntity, value, u.with, failed)
		return
	}
	started = true
	if wantsJSON(r) {
		s.json(w, http.StatusAccepted, map[string]string{"job": "/add/" + id})
		return
	}
	http.Redirect(w, r, "/add/"+id, http.StatusSeeOther)
}

var errToken = errors.New("the token does not fit")

// receive reads the parts of the form as they come. Files are read only after the
// token, which stands first in the form.
func (s *Server) receive(r *http.Request) (u *upload, value, failed map[string]string, err error) {
	u = &upload{}
	value, failed = map[string]string{}, map[string]string{}
	say := func(field, key string, args ...any) {
		if failed[field] == "" {
			failed[field], _ = s.text.say(key, args...)
		}
	}
	parts, err := r.MultipartReader()
	if err != nil {
		return u, value, failed, err
	}
	fits := false
	for {
		part, err := parts.NextPart()
		if err == io.EOF {
			break
		}
		if err != nil {
			return u, value, failed, err
		}
		name := part.FormName()
		if !fits && name != "token" {
			return u, value, failed, errToken
		}
		switch name {
		case "transcript":
			err = s.takeTranscript(u, part, say)
		case "recording":
			err = s.takeRecording(u, part, say)
		default:
			var b strings.Builder
			if err = copyLimited(&b, part, 4096); err == errTooLarge {
				say(name, "add.long")
				err = nil
			}
			text := strings.TrimSpace(b.String())
			if name == "token" {
				fits = s.tokenFits(r, text)
				break
			}
			if name == "with" {
				u.with = append(u.with, text)
			}
			value[name] = text
		}
		if err != nil {
			return u, value, failed, err
		}
	}
	if !fits {
		return u, value, failed, errToken
	}
	s.fields(u, value, say)
	return u, value, failed, nil
}

func (s *Server) takeTranscript(u *upload, part *multipart.Part, say func(string, string, ...any)) error {
	var b strings.Builder
	err := copyLimited(&b, part, s.opt.Limits.Transcript)
	if err == errTooLarge {
		say("transcript", "add.large", s.opt.Limits.Transcript>>20)
		_, err = io.Copy(io.Discard, part)
		return err
	}
	if b.Len() > 0 {
		u.transcript, u.name = []byte(b.String()), fileName(part.FileName())
	} else if part.FileName() != "" {
		say("transcript", "add.empty")
	}
	return err
}

// takeRecording writes the recording into a file of ours, under a name of ours.
func (s *Server) takeRecording(u *upload, part *multipart.Part, say func(string, string, ...any)) error {
	if part.FileName() == "" || u.recording != "" {
		return nil
	}
	f, err := os.CreateTemp(s.folder, "recording-*.wav")
	if err != nil {
		return err
	}
	u.recording, u.soundName = f.Name(), fileName(part.FileName())
	err = copyLimited(f, part, s.opt.Limits.Recording)
	if cerr := f.Close(); err == nil {
		err = cerr
	}
	if err == errTooLarge {
		say("recording", "add.large", s.opt.Limits.Recording>>20)
		_, err = io.Copy(io.Discard, part)
	}
	return err
}

// fields checks what is not a file.
func (s *Server) fields(u *upload, value map[string]string, say func(string, string, ...any)) {
	for _, f := range []struct {
		name string
		to   *string
	}{
		{"student", &u.details.Student}, {"cohort", &u.details.Cohort}, {"site", &u.details.Site}, {"instructor", &u.details.Instructor},
		{"vehicle", &u.details.Vehicle}, {"day", &u.details.Day}, {"speaker", &u.speaker}, {"sheet", &u.sheet},
	} {
		*f.to = value[f.name]
		switch {
		case !utf8.ValidString(*f.to) || strings.ContainsFunc(*f.to, unicode.IsControl):
			say(f.name, "add.unprintable")
		case utf8.RuneCountInString(*f.to) > 100 && f.name != "sheet":
			say(f.name, "add.long")
		}
	}
	if u.details.Student == "" {
		say("student", "add.student")
	}
	if u.details.Day != "" {
		if _, err := time.Parse(time.DateOnly, u.details.Day); err != nil {
			say("day", "add.day")
		}
	}
	if n := value["number"]; n != "" {
		var err error
		if u.details.Number, err = strconv.Atoi(n); err != nil || u.details.Number < 1 || u.details.Number > 1e6 {
			say("number", "add.number")
		}
	}
	if len(u.transcript) == 0 {
		say("transcript", "add.transcript")
	}
	if !offered(s.sheets, u.sheet) {
		say("sheet", "add.sheet")
	}
	for _, name := range u.with {
		if !offered(s.overlays, name) {
			say("with", "add.overlay")
		}
	}
	u.keepAudio = value["keep"] != "" && u.recording != ""
}
