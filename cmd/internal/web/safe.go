package web

import (
	"crypto/hmac"
	"crypto/pbkdf2"
	"crypto/rand"
	"crypto/sha256"
	"crypto/subtle"
	"encoding/base64"
	"errors"
	"net"
	"net/http"
	"net/url"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"
)

// policy is the content security policy of the desk's own pages: nothing runs
// that is not a file of this server.
const policy = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; media-src 'self' blob:; connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"

// reportPolicy is that of a page that package report wrote, which names its own
// style and script by hash.
func reportPolicy(page []byte) string {
	m := policyInPage.FindSubmatch(page)
	if m == nil {
		return "default-src 'none'; frame-ancestors 'none'"
	}
	own := strings.NewReplacer("&#39;", "'", "&#43;", "+", "&amp;", "&").Replace(string(m[1]))
	return own + "; frame-ancestors 'none'"
}

var policyInPage = regexp.MustCompile(`<meta http-equiv="Content-Security-Policy" content="([^"]*)">`)

// The cookies.
const (
	sessionCookie = "markaround-desk" // a number that the tokens of forms hang on
	insideCookie  = "markaround-in"   // proof that the passphrase was given
	whoCookie     = "markaround-who"  // id of the person who corrects
)

// insideFor is how long a passphrase holds.
const insideFor = 12 * time.Hour

// guard lets through what comes from the desk's own pages, under a name of this
// machine, by somebody who may.
func (s *Server) guard(next http.Handler) http.Handler {
	sameOrigin := http.NewCrossOriginProtection()
	sameOrigin.SetDenyHandler(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		s.refuse(w, r, http.StatusForbidden, "error.origin")
	}))
	inner := sameOrigin.Handler(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if s.key != nil && !strings.HasPrefix(r.URL.Path, "/-/") && r.URL.Path != "/enter" && !s.inside(r) {
			if r.Method == http.MethodGet && !wantsJSON(r) {
				http.Redirect(w, r, "/enter?"+url.Values{"to": {r.URL.RequestURI()}}.Encode(), http.StatusSeeOther)
				return
			}
			s.refuse(w, r, http.StatusUnauthorized, "error.outside")
			return
		}
		next.ServeHTTP(w, r)
	}))
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		h := w.Header()
		h.Set("Content-Security-Policy", policy)
		h.Set("X-Content-Type-Options", "nosniff")
		h.Set("Referrer-Policy", "same-origin")
		h.Set("Cross-Origin-Opener-Policy", "same-origin")
		h.Set("Cross-Origin-Resource-Policy", "same-origin")
		h.Set("Permissions-Policy", "camera=(), microphone=(), geolocation=()")
		h.Set("Cache-Control", "no-store") // marks stay off the disk
		if !s.knownHost(r.Host) {
			s.refuse(w, r, http.StatusMisdirectedRequest, "error.host")
			return
		}
		inner.ServeHTTP(w, r)
	})
}

// knownHost tells whether a request is addressed to this machine by a number or
// by a name that it is known to have. A page elsewhere that has its own name
// point here does not get in by it.
func (s *Server) knownHost(host string) bool {
	name, _, err := net.SplitHostPort(host)
	if err != nil {
		name = strings.Trim(host, "[]")
	}
	if ip := net.ParseIP(name); ip != nil {
		return ip.IsLoopback() || s.key != nil
	}
	return strings.EqualFold(name, "localhost") || slices.ContainsFunc(s.opt.Hosts, func(h string) bool { return strings.EqualFold(h, name) })
}

// session gives the number of the browser's session, and makes one where there
// is none.
func (s *Server) session(w http.ResponseWriter, r *http.Request) string {
	if c, err := r.Cookie(sessionCookie); err == nil && len(c.Value) == 43 {
		return c.Value
	}
	b := make([]byte, 32)
	rand.Read(b) // never fails
	v := base64.RawURLEncoding.EncodeToString(b)
	s.setCookie(w, sessionCookie, v, 365*24*time.Hour)
	r.AddCookie(&http.Cookie{Name: sessionCookie, Value: v})
	return v
}

func (s *Server) setCookie(w http.ResponseWriter, name, value string, age time.Duration) {
	http.SetCookie(w, &http.Cookie{Name: name, Value: value, Path: "/", MaxAge: int(age.Seconds()), HttpOnly: true, SameSite: http.SameSiteLaxMode, Secure: s.opt.TLS})
}

// token is what a form must bring along. It hangs on the cookie alone, so that a
// page outlives a restart of the server; who does not see the cookie, and no page
// elsewhere does, cannot make it.
func token(session string) string {
	mac := hmac.New(sha256.New, []byte(session))
	mac.Write([]byte("form"))
	return base64.RawURLEncoding.EncodeToString(mac.Sum(nil))
}

func (s *Server) tokenFits(r *http.Request, got string) bool {
	c, err := r.Cookie(sessionCookie)
	return err == nil && len(c.Value) == 43 && subtle.ConstantTimeCompare([]byte(got), []byte(token(c.Value))) == 1
}

// passphraseKey is what the proofs of a passphrase are signed by. It is the same
// after a restart, so that nobody is thrown out in the middle of a review, and
// another one with another passphrase.
func passphraseKey(passphrase string) ([]byte, error) {
	if len(passphrase) < 12 {
		return nil, errors.New("the passphrase is too short; use 12 characters or more")
	}
	return pbkdf2.Key(sha256.New, passphrase, []byte("markaround desk"), 200_000, 32)
}

func (s *Server) sign(text string) string {
	mac := hmac.New(sha256.New, s.key)
	mac.Write([]byte(text))
	return text + "." + base64.RawURLEncoding.EncodeToString(mac.Sum(nil))
}

// inside tells whether the browser has given the passphrase.
func (s *Server) inside(r *http.Request) bool {
	c, err := r.Cookie(insideCookie)
	if err != nil {
		return false
	}
	until, _, _ := strings.Cut(c.Value, ".")
	n, err := strconv.ParseInt(until, 10, 64)
	return err == nil && time.Now().Unix() < n && subtle.ConstantTimeCompare([]byte(c.Value), []byte(s.sign(until))) == 1
}

type enterPage struct {
	base
	To    string
	Wrong bool
}

func (s *Server) enter(w http.ResponseWriter, r *http.Request) {
	if s.key == nil {
		http.Redirect(w, r, "/", http.StatusSeeOther)
		return
	}
	s.render(w, r, http.StatusOK, "enter.html", &enterPage{base: s.base(w, r, "enter.title"), To: localPath(r.FormValue("to"))})
}

func (s *Server) doEnter(w http.ResponseWriter, r *http.Request) {
	if s.key == nil || !s.form(w, r) {
		return
	}
	// One at a time, and slowly after a wrong one, so that guessing takes years.
	s.door.Lock()
	defer s.door.Unlock()
	key, err := passphraseKey(r.PostFormValue("passphrase"))
	if err != nil || subtle.ConstantTimeCompare(key, s.key) != 1 {
		select {
		case <-time.After(s.wrongWait):
		case <-r.Context().Done():
		}
		s.render(w, r, http.StatusForbidden, "enter.html", &enterPage{base: s.base(w, r, "enter.title"), To: localPath(r.PostFormValue("to")), Wrong: true})
		return
	}
	s.setCookie(w, insideCookie, s.sign(strconv.FormatInt(time.Now().Add(insideFor).Unix(), 10)), insideFor)
	http.Redirect(w, r, localPath(r.PostFormValue("to")), http.StatusSeeOther)
}

func (s *Server) leave(w http.ResponseWriter, r *http.Request) {
	if !s.form(w, r) {
		return
	}
	s.setCookie(w, insideCookie, "", -time.Second)
	http.Redirect(w, r, "/", http.StatusSeeOther)
}

// localPath is a path of this server, "/" for anything else.
func localPath(to string) string {
	u, err := url.Parse(to)
	if err != nil || u.Scheme != "" || u.Host != "" || u.User != nil || strings.Contains(to, `\`) {
		return "/"
	}
	if path := u.RequestURI(); strings.HasPrefix(path, "/") && !strings.HasPrefix(path, "//") {
		return path
	}
	return "/"
}
