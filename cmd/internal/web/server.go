package web

import (
	"bytes"
	"context"
	"embed"
	"encoding/json"
	"errors"
	"fmt"
	"html/template"
	"net/http"
	"net/url"
	"os"
	"slices"
	"strings"
	"sync"
	"time"
	"unicode"
	"unicode/utf8"

	"markaround/cmd/internal/report"
	"markaround/cmd/internal/store"
	"markaround/rubric"
	"markaround/speech"
)

//go:embed page
var files embed.FS

// Options say how the desk is set up.
type Options struct {
	Tool       string   // written on sheets: name and version of the program
	Passphrase string   // "" for none, which is for loopback alone
	Hosts      []string // names of this machine beside localhost
	TLS        bool     // browsers come over TLS
	Sheets     []string // files of score sheets to choose from beside the built-in ones
	Overlays   []string // files of overlays
	Limits     Limits
	Log        func(string) // takes a line on what went wrong; nil for none
}

// Limits are the largest files that are taken, in bytes.
type Limits struct{ Transcript, Recording int64 }

// DefaultLimits take two hours of stereo at CD quality, and any transcript of
// that.
var DefaultLimits = Limits{Transcript: 32 << 20, Recording: 1400 << 20}

// Server serves the desk.
type Server struct {
	store     *store.Store
	opt       Options
	text      catalogue
	pages     *template.Template
	handler   http.Handler
	key       []byte // of the passphrase, nil without one
	door      sync.Mutex
	wrongWait time.Duration
	sheets    []choice
	overlays  []choice
	matchers  matchers
	jobs      jobs
	sounds    recent[*speech.Sound]      // by the recording
	words     recent[*speech.Transcript] // by attempt and marking
	folder    string                     // for what is uploaded
}

// New makes the desk over a store. Close frees what it holds.
func New(st *store.Store, opt Options) (*Server, error) {
	s := &Server{store: st, opt: opt, wrongWait: time.Second}
	if s.opt.Limits == (Limits{}) {
		s.opt.Limits = DefaultLimits
	}
	var err error
	if opt.Passphrase != "" {
		if s.key, err = passphraseKey(opt.Passphrase); err != nil {
			return nil, err
		}
	}
	if s.text, err = readCatalogue(english); err != nil {
		return nil, err
	}
	if s.pages, err = template.New("").Funcs(s.funcs()).ParseFS(files, "page/*.html"); err != nil {
		return nil, err
	}
	if err := s.offer(); err != nil {
		return nil, err
	}
	if s.folder, err = os.MkdirTemp("", "markaround-desk-"); err != nil { // for its user alone
		return nil, fmt.Errorf("no folder for what is uploaded: %w", err)
	}
	s.jobs.start()
	s.handler = s.guard(s.routes())
	return s, nil
}

// Close ends what is being worked on and removes what was uploaded.
func (s *Server) Close() error {
	s.jobs.stop()
	return os.RemoveAll(s.folder)
}

// ServeHTTP answers a request.
func (s *Server) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	defer func() {
		if p := recover(); p != nil {
			if p == http.ErrAbortHandler {
				panic(p)
			}
			s.log("%s %s: %v", r.Method, r.URL.Path, p)
			s.refuse(w, r, http.StatusInternalServerError, "error.bug")
		}
	}()
	s.handler.ServeHTTP(w, r)
}

func (s *Server) routes() http.Handler {
	m := http.NewServeMux()
	for pattern, f := range map[string]http.HandlerFunc{
		"GET /{$}":                     s.list,
		"GET /find":                    s.find,
		"GET /next":                    s.next,
		"GET /add":                     s.addForm,
		"POST /add":                    s.add,
		"GET /add/{job}":               s.job,
		"GET /attempts/{id}":           s.review,
		"GET /attempts/{id}/state":     s.state,
		"GET /attempts/{id}/entry":     s.entry,
		"POST /attempts/{id}/marks":    s.decide,
		"GET /attempts/{id}/sheet":     s.sheet,
		"GET /attempts/{id}/replay":    s.replay,
		"GET /attempts/{id}/recording": s.recording,
		"GET /student":                 s.student,
		"GET /class":                   s.class,
		"GET /school":                  s.school,
		"GET /reports/{kind}":          s.report,
		"POST /who":                    s.who,
		"GET /enter":                   s.enter,
		"POST /enter":                  s.doEnter,
		"POST /leave":                  s.leave,
		"GET /-/{file}":                s.asset,
		"/": func(w http.ResponseWriter, r *http.Request) {
			s.refuse(w, r, http.StatusNotFound, "error.page")
		},
	} {
		m.HandleFunc(pattern, f)
	}
	return m
}

// funcs are what the pages call.
func (s *Server) funcs() template.FuncMap {
	return template.FuncMap{
		"t":      s.text.say,
		"clock":  report.Clock,
		"points": rubric.Figure,
		"share":  rubric.Percent,
		"anchor": report.Anchor,
		// Of a type that a template does not encode once more.
		"query": func(key, value string) template.URL { return template.URL(query(key, value)) },
		"arr":   func(v ...any) []any { return v },
		"secs":  func(v float64) string { return fmt.Sprintf("%.2f", v) },
		"field": newField,
	}
}

// base is what every page has.
type base struct {
	Title  string
	Who    string // id of the person at the desk, "" when not known
	Token  string
	Here   string // path and query of this page
	Locked bool   // a passphrase was given
	Nav    string // which of the main pages this belongs to
}

func (s *Server) base(w http.ResponseWriter, r *http.Request, title string, args ...any) base {
	text, err := s.text.say(title, args...)
	if err != nil {
		text = title
	}
	return base{Title: text, Who: s.whoOf(r), Token: token(s.session(w, r)), Here: r.URL.RequestURI(), Locked: s.key != nil}
}

// render writes a page, whole or not at all.
func (s *Server) render(w http.ResponseWriter, r *http.Request, status int, name string, page any) {
	var b bytes.Buffer
	if err := s.pages.ExecuteTemplate(&b, name, page); err != nil {
		panic(err) // a fault of the template
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.WriteHeader(status)
	w.Write(b.Bytes())
}

func wantsJSON(r *http.Request) bool {
	return strings.HasPrefix(r.Header.Get("Accept"), "application/json")
}

func (s *Server) json(w http.ResponseWriter, status int, v any) {
	data, err := json.Marshal(v)
	if err != nil {
		panic(err)
	}
	w.Header().Set("Content-Type", "application/json")
	w.WriteHeader(status)
	w.Write(data)
}

type messagePage struct {
	base
	Text string
}

// refuse answers with a text of the catalogue.
func (s *Server) refuse(w http.ResponseWriter, r *http.Request, status int, key string) {
	text, err := s.text.say(key)
	if err != nil {
		text = key
	}
	s.tell(w, r, status, text)
}

// tell answers with a text.
func (s *Server) tell(w http.ResponseWriter, r *http.Request, status int, text string) {
	if wantsJSON(r) {
		s.json(w, status, map[string]string{"error": text})
		return
	}
	page := &messagePage{Text: text}
	page.Title, _ = s.text.say("error.title")
	if s.knownHost(r.Host) {
		page.base = s.base(w, r, "error.title")
	}
	s.render(w, r, status, "message.html", page)
}

// fail answers for an error of the store.
func (s *Server) fail(w http.ResponseWriter, r *http.Request, err error) {
	switch {
	case errors.Is(err, context.Canceled):
		return // nobody waits for an answer
	case errors.Is(err, store.ErrNotFound):
		s.refuse(w, r, http.StatusNotFound, "error.attempt")
	default:
		s.log("%s %s: %v", r.Method, r.URL.Path, err)
		s.tell(w, r, http.StatusInternalServerError, sentence(err.Error()))
	}
}

// sentence makes an error a line for a page. A name of a file, one of those given
// or a first word that looks like one, stays as it is.
func sentence(text string, names ...string) string {
	text = strings.TrimSuffix(text, ".") + "."
	named := slices.ContainsFunc(names, func(name string) bool { return name != "" && strings.HasPrefix(text, name) })
	first, _, _ := strings.Cut(strings.TrimRight(text, "."), " ")
	if named || strings.ContainsAny(first, `./\_`) {
		return text
	}
	letter, size := utf8.DecodeRuneInString(text)
	return string(unicode.ToUpper(letter)) + text[size:]
}

func (s *Server) log(format string, args ...any) {
	if s.opt.Log != nil {
		s.opt.Log(fmt.Sprintf(format, args...))
	}
}

// formLimit is the size of a form without files, in bytes.
const formLimit = 64 << 10

// form reads a form and checks its token. It has answered when it is false.
func (s *Server) form(w http.ResponseWriter, r *http.Request) bool {
	r.Body = http.MaxBytesReader(w, r.Body, formLimit)
	if err := r.ParseForm(); err != nil {
		s.refuse(w, r, http.StatusBadRequest, "error.form")
		return false
	}
	if !s.tokenFits(r, r.PostFormValue("token")) {
		s.refuse(w, r, http.StatusForbidden, "error.token")
		return false
	}
	return true
}

// whoOf is the id of the person at the desk.
func (s *Server) whoOf(r *http.Request) string {
	c, err := r.Cookie(whoCookie)
	if err != nil {
		return ""
	}
	who, err := url.QueryUnescape(c.Value)
	if err != nil || !goodWho(who) {
		return ""
	}
	return who
}

func goodWho(who string) bool {
	return who != "" && utf8.ValidString(who) && utf8.RuneCountInString(who) <= 100 && !strings.ContainsFunc(who, unicode.IsControl)
}

func (s *Server) who(w http.ResponseWriter, r *http.Request) {
	if !s.form(w, r) {
		return
	}
	who := strings.TrimSpace(r.PostFormValue("who"))
	if !goodWho(who) {
		s.refuse(w, r, http.StatusUnprocessableEntity, "error.who")
		return
	}
	s.setCookie(w, whoCookie, url.QueryEscape(who), 365*24*time.Hour)
	if wantsJSON(r) {
		s.json(w, http.StatusOK, map[string]string{"who": who})
		return
	}
	http.Redirect(w, r, localPath(r.PostFormValue("to")), http.StatusSeeOther)
}

// asset serves the style and the scripts.
func (s *Server) asset(w http.ResponseWriter, r *http.Request) {
	var data []byte
	kind := "text/javascript; charset=utf-8"
	switch name := r.PathValue("file"); name {
	case "desk.css":
		own, err := files.ReadFile("page/desk.css")
		if err != nil {
			panic(err)
		}
		data, kind = append(report.StyleSheet(), own...), "text/css; charset=utf-8"
	case "player.js":
		data = report.PageScript()
	case "desk.js", "review.js":
		var err error
		if data, err = files.ReadFile("page/" + name); err != nil {
			panic(err)
		}
	default:
		s.refuse(w, r, http.StatusNotFound, "error.page")
		return
	}
	w.Header().Set("Content-Type", kind)
	w.Header().Set("Cache-Control", "no-cache")
	w.Header().Set("ETag", `"`+store.Hash(data)[:16]+`"`)
	http.ServeContent(w, r, "", time.Time{}, bytes.NewReader(data))
}
