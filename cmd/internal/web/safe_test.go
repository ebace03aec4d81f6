package web

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"mime/multipart"
	"net/http"
	"net/http/cookiejar"
	"net/http/httptest"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"markaround/cmd/internal/store"
	"markaround/rubric"
)

// client is a browser without scripts.
type client struct {
	t    testing.TB
	http *http.Client
	srv  *httptest.Server
}

func newClient(t testing.TB, s *Server) *client {
	t.Helper()
	srv := httptest.NewServer(s)
	t.Cleanup(srv.Close)
	jar, err := cookiejar.New(nil)
	if err != nil {
		t.Fatal(err)
	}
	return &client{t, &http.Client{Jar: jar, CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}, srv}
}

func (c *client) do(r *http.Request) (*http.Response, string) {
	c.t.Helper()
	res, err := c.http.Do(r)
	if err != nil {
		c.t.Fatal(err)
	}
	defer res.Body.Close()
	body, err := io.ReadAll(res.Body)
	if err != nil {
		c.t.Fatal(err)
	}
	return res, string(body)
}

func (c *client) request(method, path string, body io.Reader) *http.Request {
	c.t.Helper()
	r, err := http.NewRequest(method, c.srv.URL+path, body)
	if err != nil {
		c.t.Fatal(err)
	}
	return r
}

func (c *client) get(path string) (*http.Response, string) {
	c.t.Helper()
	return c.do(c.request("GET", path, nil))
}

var tokenField = regexp.MustCompile(`name="token" value="([^"]+)"`)

// token is that of the forms of a page.
func (c *client) token() string {
	c.t.Helper()
	_, body := c.get("/add")
	m := tokenField.FindStringSubmatch(body)
	if m == nil {
		c.t.Fatal("no token on the page")
	}
	return m[1]
}

func (c *client) post(path string, values url.Values) (*http.Response, string) {
	c.t.Helper()
	if values.Get("token") == "" {
		values.Set("token", c.token())
	}
	r := c.request("POST", path, strings.NewReader(values.Encode()))
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	return c.do(r)
}

// part is a part of a form with files.
type part struct{ name, file, text string }

func (c *client) upload(json bool, parts ...part) (*http.Response, string) {
	c.t.Helper()
	var b bytes.Buffer
	m := multipart.NewWriter(&b)
	for _, p := range parts {
		var w io.Writer
		var err error
		if p.file != "" {
			w, err = m.CreateFormFile(p.name, p.file)
		} else {
			w, err = m.CreateFormField(p.name)
		}
		if err != nil {
			c.t.Fatal(err)
		}
		io.WriteString(w, p.text)
	}
	m.Close()
	r := c.request("POST", "/add", &b)
	r.Header.Set("Content-Type", m.FormDataContentType())
	if json {
		r.Header.Set("Accept", "application/json")
	}
	return c.do(r)
}

// srt is a transcript that nobody else has.
func srt(text string) string {
	return "1\n00:00:01,000 --> 00:00:04,000\nMy steer tire has no cuts and at least four thirty seconds of tread depth.\n\n2\n00:00:05,000 --> 00:00:06,000\n" + text + "\n"
}

// keepText keeps an attempt with given words.
func keepText(t testing.TB, st *store.Store, name, words string, d store.Details) store.Kept {
	t.Helper()
	path := filepath.Join(t.TempDir(), name)
	if err := os.WriteFile(path, []byte(srt(words)), 0o600); err != nil {
		t.Fatal(err)
	}
	return keepFile(t, st, path, d)
}

// What comes from elsewhere, under another name, or without the token does nothing.
func TestStrangers(t *testing.T) {
	st := newStore(t, filepath.Join(t.TempDir(), "attempts.db"))
	a := keepText(t, st, "S-1.srt", "that is all", store.Details{Student: "S-1"})
	c := newClient(t, newServer(t, st, Options{}))
	good := c.token()
	marks := fmt.Sprintf("/attempts/%d/marks", a.ID)
	for _, x := range []struct {
		reason string
		change func(*http.Request)
		token  string
		want   int
	}{
		{"the desk's own page", func(r *http.Request) {
			r.Header.Set("Origin", c.srv.URL)
			r.Header.Set("Sec-Fetch-Site", "same-origin")
		}, good, http.StatusUnprocessableEntity}, // nobody has said who he is
		{"no token", func(*http.Request) {}, "", http.StatusForbidden},
		{"another session's token", func(*http.Request) {}, token(strings.Repeat("x", 43)), http.StatusForbidden},
		{"no cookie", func(r *http.Request) { r.Header.Set("X-No-Cookie", "1") }, good, http.StatusForbidden},
		{"another page's origin", func(r *http.Request) { r.Header.Set("Origin", "http://example.org") }, good, http.StatusForbidden},
		{"another port of this computer", func(r *http.Request) { r.Header.Set("Origin", "http://127.0.0.1:1") }, good, http.StatusForbidden},
		{"a page without an origin", func(r *http.Request) { r.Header.Set("Origin", "null") }, good, http.StatusForbidden},
		{"a page of another site", func(r *http.Request) { r.Header.Set("Sec-Fetch-Site", "cross-site") }, good, http.StatusForbidden},
		{"a name that points here", func(r *http.Request) { r.Host = "desk.example.org" }, good, http.StatusMisdirectedRequest},
		{"an address of the network", func(r *http.Request) { r.Host = "192.0.2.7:8417" }, good, http.StatusMisdirectedRequest},
		{"a name that begins as one of ours", func(r *http.Request) { r.Host = "localhost.example.org" }, good, http.StatusMisdirectedRequest},
	} {
		r := c.request("POST", marks, strings.NewReader(url.Values{"token": {x.token}, "item": {"steer.tire"}, "mark": {"missed"}, "why": {"x"}}.Encode()))
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		x.change(r)
		jar := c.http.Jar
		if r.Header.Get("X-No-Cookie") != "" {
			c.http.Jar = nil
		}
		res, _ := c.do(r)
		c.http.Jar = jar
		if res.StatusCode != x.want {
			t.Errorf("%s: %d, want %d", x.reason, res.StatusCode, x.want)
		}
	}
	for _, host := range []string{"localhost", "127.0.0.1:9", "[::1]:8417", "LOCALHOST:1"} {
		r := c.request("GET", "/", nil)
		r.Host = host
		if res, _ := c.do(r); res.StatusCode != http.StatusOK {
			t.Errorf("under %s: %d", host, res.StatusCode)
		}
	}
	if m, err := st.Marks(t.Context(), a.ID); err != nil || len(m.Given) != 0 {
		t.Errorf("corrections %v, %v", m.Given, err)
	}
	// No other method changes anything, and a link never does.
	for _, method := range []string{"GET", "PUT", "DELETE", "PATCH"} {
		if res, _ := c.do(c.request(method, marks, nil)); res.StatusCode < 400 {
			t.Errorf("%s: %d", method, res.StatusCode)
		}
	}
}

// Every answer forbids what pages need not do.
func TestHeaders(t *testing.T) {
	st := newStore(t, filepath.Join(t.TempDir(), "attempts.db"))
	a := keepText(t, st, "S-1.srt", "that is all", store.Details{Student: "S-1", Cohort: "fall"})
	c := newClient(t, newServer(t, st, Options{}))
	for _, path := range []string{"/", "/add", "/class?cohort=fall", "/student?id=S-1", "/nowhere", "/-/desk.css", "/-/review.js",
		fmt.Sprintf("/attempts/%d", a.ID), fmt.Sprintf("/attempts/%d/sheet", a.ID), fmt.Sprintf("/attempts/%d/replay", a.ID)} {
		res, body := c.get(path)
		csp := res.Header.Get("Content-Security-Policy")
		for _, part := range []string{"default-src 'none'", "frame-ancestors 'none'", "base-uri 'none'"} {
			if !strings.Contains(csp, part) {
				t.Errorf("%s: the policy lacks %s: %s", path, part, csp)
			}
		}
		if strings.Contains(csp, "unsafe") || strings.Contains(csp, "http:") || strings.Contains(csp, "*") {
			t.Errorf("%s: %s", path, csp)
		}
		if !strings.Contains(csp, "script-src 'self'") && !strings.Contains(csp, "script-src 'sha256-") {
			t.Errorf("%s: scripts: %s", path, csp)
		}
		if res.Header.Get("X-Content-Type-Options") != "nosniff" || res.Header.Get("Referrer-Policy") == "" || res.Header.Get("Cross-Origin-Resource-Policy") != "same-origin" {
			t.Errorf("%s: headers %v", path, res.Header)
		}
		if strings.Contains(res.Header.Get("Content-Type"), "html") && regexp.MustCompile(`(?i)\son[a-z]+\s*=|javascript:|<(script|link|img|iframe)[^>]+(src|href)="(https?:)?//`).MatchString(body) {
			t.Errorf("%s: has a handler or a request elsewhere", path)
		}
		for _, cookie := range res.Cookies() {
			if !cookie.HttpOnly || cookie.SameSite != http.SameSiteLaxMode {
				t.Errorf("%s: cookie %v", path, cookie)
			}
		}
	}
}

// Nothing outside the desk's own files is ever served or read, whatever a path, a
// file name or a field says.
func TestTraversal(t *testing.T) {
	dir := t.TempDir()
	st := newStore(t, filepath.Join(dir, "attempts.db"))
	secret := filepath.Join(dir, "secret.yaml")
	if err := os.WriteFile(secret, []byte("id: secret-sheet\ntitle: nobody may read this\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	s := newServer(t, st, Options{})
	c := newClient(t, s)
	for _, path := range []string{"/-/../server.go", "/-/..%2f..%2fserver.go", "/-/%2e%2e/desk.css", "/-/en.yaml", "/../../etc/passwd", "/attempts/..%2f1", "/attempts/1%00", "/add/..%2f..%2fx", "/reports/..%2f", "/attempts/99999999999999999999/sheet", "/?after=w-1%27%20OR%201=1"} {
		r := c.request("GET", "/", nil)
		u, err := url.Parse(c.srv.URL + path)
		if err != nil {
			t.Fatal(err)
		}
		r.URL = u
		res, body := c.do(r)
		if res.StatusCode == http.StatusOK && strings.Contains(body, "package web") || res.StatusCode == http.StatusOK && !strings.Contains(body, "<h1>") {
			t.Errorf("%s: %d %.80q", path, res.StatusCode, body)
		}
	}
	for _, x := range []struct{ field, value string }{{"sheet", secret}, {"sheet", "../../secret"}, {"sheet", "./x.yaml"}, {"with", secret}, {"with", "/etc/passwd"}} {
		parts := []part{{"token", "", c.token()}, {"student", "", "S-1"}, {"sheet", "", "class-a"}, {"transcript", "a.srt", srt("a")}}
		if x.field == "sheet" {
			parts[2].text = x.value
		} else {
			parts = append(parts, part{"with", "", x.value})
		}
		res, body := c.upload(false, parts...)
		if res.StatusCode != http.StatusUnprocessableEntity || strings.Contains(body, "nobody may read this") || !strings.Contains(body, `id="e-`+x.field+`">There is no such`) {
			t.Errorf("%s %s: %d", x.field, x.value, res.StatusCode)
		}
	}
	// A file's name is a name and nothing else; the recording goes into a file of ours.
	k := c.keep(st, part{"transcript", `..\..\C:\x/../../../etc/S-7.srt`, srt("b")}, part{"recording", "../../../../" + filepath.Base(dir) + "/evil.wav", string(toneWAV(7))}, part{"keep", "", "on"})
	if k.Source != "S-7.srt" || k.Name != "S-7" || k.RecordingHash == "" {
		t.Errorf("kept as %q, %q", k.Source, k.Name)
	}
	if left, err := os.ReadDir(s.folder); err != nil || len(left) != 0 {
		t.Errorf("uploaded files that are left: %v, %v", left, err)
	}
	for _, path := range []string{filepath.Join(dir, "evil.wav"), "/etc/S-7.srt"} {
		if _, err := os.Stat(path); err == nil {
			t.Errorf("%s was written", path)
		}
	}
	for in, want := range map[string]string{"": "transcript", "..": "transcript", "a/..": "transcript", "x\x00y.srt": "xy.srt", `\\server\share\a.srt`: "a.srt", "a\nb": "ab", strings.Repeat("é", 300): strings.Repeat("é", 100)} {
		if got := fileName(in); got != want {
			t.Errorf("name of %q: %q, want %q", in, got, want)
		}
	}
	for in, want := range map[string]string{"/attempts/1?x=1": "/attempts/1?x=1", "//evil.example": "/", "https://evil.example/": "/", `/\evil.example`: "/", "javascript:alert(1)": "/", "": "/", "add": "/"} {
		if got := localPath(in); got != want {
			t.Errorf("way back to %q: %q, want %q", in, got, want)
		}
	}
}

// keep uploads, follows the work and gives what was kept.
func (c *client) keep(st *store.Store, parts ...part) store.Attempt {
	c.t.Helper()
	head := []part{{"token", "", c.token()}, {"student", "", "S-7"}, {"sheet", "", "class-a"}}
	res, body := c.upload(true, append(head, parts...)...)
	var news struct{ Job string }
	if err := json.Unmarshal([]byte(body), &news); err != nil || news.Job == "" {
		c.t.Fatalf("%d %s", res.StatusCode, body)
	}
	for range 600 {
		r := c.request("GET", news.Job, nil)
		r.Header.Set("Accept", "application/json")
		_, body = c.do(r)
		var j jobNews
		if err := json.Unmarshal([]byte(body), &j); err != nil {
			c.t.Fatal(body)
		}
		if j.Failed != nil {
			c.t.Fatalf("not kept: %v", j.Failed)
		}
		if j.Href != "" {
			a, err := st.Find(c.t.Context(), strings.TrimPrefix(strings.TrimSuffix(j.Href, "?same=1"), "/attempts/"))
			if err != nil {
				c.t.Fatal(err)
			}
			return a
		}
		time.Sleep(20 * time.Millisecond)
	}
	c.t.Fatal("the work does not end")
	return store.Attempt{}
}

// Whatever a transcript, a name or a reason says, it is shown and never run.
func TestForeignText(t *testing.T) {
	const evil = `<script>alert(1)</script><img src=x onerror=alert(2)> "' onmouseover=alert(3) {{.}} </script>`
	st := newStore(t, filepath.Join(t.TempDir(), "attempts.db"))
	a := keepText(t, st, "S-1.srt", "my steer tire "+evil+" is not cut", store.Details{Student: `S<i>"'`, Cohort: `fall"><script>alert(4)</script>`, Vehicle: evil[:90]})
	s := newServer(t, st, Options{})
	c := newClient(t, s)
	m, err := st.Marks(t.Context(), a.ID)
	if err != nil {
		t.Fatal(err)
	}
	item := m.Machine.Items[0]
	if err := st.Correct(t.Context(), store.Order{Attempt: a.ID, Correction: rubric.Correction{Item: item.ID, Mark: rubric.Partly, Why: evil, Who: `I"><b>`}}); err != nil {
		t.Fatal(err)
	}
	state := fmt.Sprintf("/attempts/%d/state?seen=0", a.ID)
	for _, path := range []string{"/", "/?student=" + url.QueryEscape(evil), "/?cohort=" + url.QueryEscape(evil), "/class?" + query("cohort", a.Cohort), "/student?" + query("id", a.Student), "/find?" + query("q", evil),
		"/add?" + query("cohort", evil), fmt.Sprintf("/attempts/%d", a.ID), fmt.Sprintf("/attempts/%d?open=%s", a.ID, item.ID), fmt.Sprintf("/attempts/%d/sheet", a.ID), fmt.Sprintf("/attempts/%d/replay", a.ID), state} {
		_, body := c.get(path)
		if path == state { // HTML in JSON
			var n news
			if err := json.Unmarshal([]byte(body), &n); err != nil || len(n.Entries) != 1 {
				t.Fatal(err, len(n.Entries))
			}
			body = n.Facts + n.Entries[0].HTML
		}
		for _, bad := range []string{"<script>alert", "<img src=x", `" onmouseover`, "<i>", "I\"><b>"} {
			if strings.Contains(body, bad) {
				t.Errorf("%s: %s gets through", path, bad)
			}
		}
	}
	if _, body := c.get(fmt.Sprintf("/attempts/%d", a.ID)); !strings.Contains(body, "&lt;script&gt;alert(1)&lt;/script&gt;") {
		t.Error("the words are not shown as they are")
	}
}

// With a passphrase nobody gets in without it, and a restart throws nobody out.
func TestPassphrase(t *testing.T) {
	st := newStore(t, filepath.Join(t.TempDir(), "attempts.db"))
	a := keepText(t, st, "S-1.srt", "that is all", store.Details{Student: "S-1"})
	if _, err := New(st, Options{Passphrase: "short"}); err == nil || !strings.Contains(err.Error(), "12 characters") {
		t.Errorf("a short passphrase: %v", err)
	}
	s := newServer(t, st, Options{Passphrase: "four wheels good", Hosts: []string{"desk.example"}})
	s.wrongWait = 0
	c := newClient(t, s)
	for _, path := range []string{"/", fmt.Sprintf("/attempts/%d/recording", a.ID), "/add"} {
		res, body := c.get(path)
		if res.StatusCode != http.StatusSeeOther || !strings.HasPrefix(res.Header.Get("Location"), "/enter") || strings.Contains(body, "S-1") {
			t.Errorf("%s: %d %s", path, res.StatusCode, res.Header.Get("Location"))
		}
	}
	_, body := c.get("/enter?to=%2Fadd")
	tok := tokenField.FindStringSubmatch(body)[1]
	enter := func(passphrase string) *http.Response {
		res, _ := c.post("/enter", url.Values{"token": {tok}, "passphrase": {passphrase}, "to": {"/add"}})
		return res
	}
	if res := enter("four wheels bad!"); res.StatusCode != http.StatusForbidden {
		t.Errorf("a wrong one: %d", res.StatusCode)
	}
	if res, _ := c.post("/who", url.Values{"token": {tok}, "who": {"I-1"}}); res.StatusCode != http.StatusUnauthorized {
		t.Errorf("a form from outside: %d", res.StatusCode)
	}
	if res := enter("four wheels good"); res.StatusCode != http.StatusSeeOther || res.Header.Get("Location") != "/add" {
		t.Errorf("the right one: %d %s", res.StatusCode, res.Header.Get("Location"))
	}
	if res, _ := c.get("/"); res.StatusCode != http.StatusOK {
		t.Errorf("inside: %d", res.StatusCode)
	}
	for host, want := range map[string]int{"192.0.2.7:8417": 200, "desk.example": 200, "other.example": http.StatusMisdirectedRequest} {
		r := c.request("GET", "/-/desk.css", nil)
		r.Host = host
		if res, _ := c.do(r); res.StatusCode != want {
			t.Errorf("under %s: %d", host, res.StatusCode)
		}
	}
	old := c.srv
	for _, x := range []struct {
		passphrase string
		want       int
		reason     string
	}{{"four wheels good", http.StatusOK, "after a restart"}, {"two wheels better", http.StatusSeeOther, "after another passphrase"}} {
		c.srv = httptest.NewServer(newServer(t, st, Options{Passphrase: x.passphrase}))
		// The jar knows the cookies by their host, whatever the port.
		if res, _ := c.get("/"); res.StatusCode != x.want {
			t.Errorf("%s: %d", x.reason, res.StatusCode)
		}
		c.srv.Close()
	}
	c.srv = old
	if res, _ := c.post("/leave", url.Values{"token": {tok}}); res.StatusCode != http.StatusSeeOther {
		t.Errorf("leave: %d", res.StatusCode)
	}
	if res, _ := c.get("/"); res.StatusCode != http.StatusSeeOther {
		t.Errorf("after leaving: %d", res.StatusCode)
	}
	// A proof that was not signed by this passphrase, or is over.
	for _, v := range []string{"", "9999999999", "9999999999.x", s.sign("1"), strings.Replace(s.sign("1"), "1.", "9999999999.", 1)} {
		r := httptest.NewRequest("GET", "http://localhost/", nil)
		r.AddCookie(&http.Cookie{Name: insideCookie, Value: v})
		if s.inside(r) {
			t.Errorf("%q lets in", v)
		}
	}
}
