package web

import (
	"bytes"
	"cmp"
	"context"
	"encoding/binary"
	"fmt"
	"math"
	"net"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/input"
	"github.com/chromedp/cdproto/log"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"

	"markaround/cmd/internal/store"
)

// TestInBrowser is everything that a real browser is asked, in one of them: to
// start one takes longer than to use it.
func TestInBrowser(t *testing.T) {
	b := startBrowser(t)
	// One cookie for all, before several windows ask for one at once.
	b.tab(t, openDesk(t, newStore(t, filepath.Join(t.TempDir(), "attempts.db"))), "/")
	for _, test := range []struct {
		name string
		run  func(*testing.T)
	}{{"review", b.review}, {"pages", b.pages}, {"windows", func(t *testing.T) {
		t.Run("two", b.twoWindows)
		t.Run("restart", b.restart)
		t.Run("add", b.add)
	}}} {
		t.Run(test.name, func(t *testing.T) {
			t.Parallel() // sound takes its time, and so do the rules of access
			test.run(t)
		})
	}
}

type browser struct{ ctx context.Context }

// startBrowser starts a headless browser, or skips where none is installed.
func startBrowser(t *testing.T) *browser {
	t.Helper()
	found := ""
	for _, name := range []string{"chromium", "chromium-browser", "google-chrome", "headless_shell"} {
		if p, err := exec.LookPath(name); err == nil {
			found = p
			break
		}
	}
	if found == "" {
		t.Skip("no chromium on PATH")
	}
	opts := append(chromedp.DefaultExecAllocatorOptions[:],
		chromedp.ExecPath(found), chromedp.NoSandbox, chromedp.DisableGPU, chromedp.UserDataDir(t.TempDir()),
		chromedp.Flag("disable-dev-shm-usage", true), chromedp.Flag("disable-quic", true), chromedp.Flag("autoplay-policy", "no-user-gesture-required"),
		chromedp.Flag("disable-component-update", true), chromedp.Flag("mute-audio", true))
	ctx, cancel := context.WithTimeout(context.Background(), 4*time.Minute)
	t.Cleanup(cancel)
	ctx, cancel = chromedp.NewExecAllocator(ctx, opts...)
	t.Cleanup(cancel)
	ctx, cancel = chromedp.NewContext(ctx)
	t.Cleanup(cancel)
	if err := chromedp.Do(ctx); err != nil {
		version, _ := exec.Command(found, "--version").CombinedOutput()
		t.Fatalf("%s does not start: %v (%s)", found, err, strings.TrimSpace(string(version)))
	}
	return &browser{ctx}
}

// desk is a server that can be stopped and started again at the same address.
type desk struct {
	t    *testing.T
	st   *store.Store
	addr string
	srv  *http.Server
	s    *Server
}

func openDesk(t *testing.T, st *store.Store) *desk {
	t.Helper()
	d := &desk{t: t, st: st, addr: "127.0.0.1:0"}
	d.start()
	t.Cleanup(d.stop)
	return d
}

func (d *desk) start() {
	d.t.Helper()
	l, err := net.Listen("tcp", d.addr)
	if err != nil {
		d.t.Fatal(err)
	}
	d.addr = l.Addr().String()
	d.s = newServer(d.t, d.st, Options{})
	d.srv = &http.Server{Handler: d.s}
	go d.srv.Serve(l)
}

func (d *desk) stop() { d.srv.Close() }

func (d *desk) url(path string) string { return "http://" + d.addr + path }

// tab is a page open in the browser, and what went wrong in it.
type tab struct {
	t   *testing.T
	ctx context.Context

	mu      sync.Mutex
	trouble []string
	expect  string // part of a message that is no trouble
	also    string // address of another desk
	leave   bool   // answer to the question whether to leave a page
}

// tab opens a window at an address of the desk. A request elsewhere, and anything
// on the console, is trouble.
func (b *browser) tab(t *testing.T, d *desk, path string) *tab {
	t.Helper()
	ctx, cancel := chromedp.NewContext(b.ctx)
	p := &tab{t: t, ctx: ctx}
	t.Cleanup(func() {
		cancel()
		p.mu.Lock()
		defer p.mu.Unlock()
		for _, s := range p.trouble {
			t.Error(s)
		}
	})
	if err := chromedp.Do(ctx); err != nil {
		t.Fatal(err)
	}
	home := d.url("/")
	err := chromedp.Listen(ctx, func(ev any) {
		p.mu.Lock()
		defer p.mu.Unlock()
		say := func(text string) {
			if p.expect == "" || !strings.Contains(text, p.expect) {
				p.trouble = append(p.trouble, text)
			}
		}
		switch ev := ev.(type) {
		case *network.EventRequestWillBeSent:
			if u := ev.Request.URL; !strings.HasPrefix(u, home) && (p.also == "" || !strings.HasPrefix(u, p.also)) && !strings.HasPrefix(u, "data:") && !strings.HasPrefix(u, "blob:"+strings.TrimSuffix(home, "/")) {
				say("request to " + u)
			}
		case *page.EventJavascriptDialogOpening:
			leave := p.leave
			go chromedp.Call(ctx, page.HandleJavaScriptDialog, page.HandleJavaScriptDialogParams{Accept: leave})
		case *runtime.EventConsoleAPICalled:
			say("console " + string(ev.Type))
		case *runtime.EventExceptionThrown:
			say("exception: " + ev.ExceptionDetails.Text)
		case *log.EventEntryAdded:
			say("log: " + ev.Entry.Text + " " + ev.Entry.URL)
		}
	})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := chromedp.Call(ctx, network.Enable, network.EnableParams{}); err != nil {
		t.Fatal(err)
	}
	if _, err := chromedp.Call(ctx, log.Enable, cdp.Empty{}); err != nil {
		t.Fatal(err)
	}
	p.size(1280)
	p.open(d.url(path))
	return p
}

func (p *tab) open(address string) {
	p.t.Helper()
	p.run("open "+address, chromedp.Navigate(address), chromedp.WaitVisible(chromedp.CSS("h1")))
}

func (p *tab) run(what string, actions ...chromedp.Action[chromedp.Void]) {
	p.t.Helper()
	if err := chromedp.Do(p.ctx, actions...); err != nil {
		p.t.Fatalf("%s: %v", what, err)
	}
}

// keys presses keys as a keyboard does: the character is part of the key going
// down, and goes nowhere when the page has taken the key.
func (p *tab) keys(text string) {
	p.t.Helper()
	for _, r := range text {
		events := kb.Encode(r)
		for i, k := range events {
			if k.Type == kb.KeyChar {
				continue
			}
			if i+1 < len(events) && events[i+1].Type == kb.KeyChar {
				k.Type, k.Text = kb.KeyDown, events[i+1].Text
			}
			if _, err := chromedp.Call(p.ctx, input.DispatchKeyEvent, *k); err != nil {
				p.t.Fatalf("press %q: %v", r, err)
			}
		}
	}
}

func eval[T any](p *tab, js string) T {
	p.t.Helper()
	v, err := chromedp.Run(p.ctx, chromedp.Evaluate[T](js))
	if err != nil {
		p.t.Fatalf("%s: %v", js, err)
	}
	return v
}

// wait waits until an expression of the page is true.
func (p *tab) wait(what, js string) {
	p.t.Helper()
	for end := time.Now().Add(40 * time.Second); ; time.Sleep(20 * time.Millisecond) {
		if eval[bool](p, js) {
			return
		}
		if time.Now().After(end) {
			p.t.Fatalf("%s: never so; the page says %q", what, eval[string](p, `(document.getElementById("say") || document.body).innerText`))
		}
	}
}

// as gives the id that is asked for, unless the browser knows it from another desk:
// cookies are those of the computer, whatever the port.
func (p *tab) as(who string) {
	p.t.Helper()
	p.wait("the page is ready", `document.querySelector(".entry.current") !== null`)
	if eval[bool](p, `document.activeElement.id === "who-now"`) {
		p.keys(who + "\r")
	}
	p.wait("the first mark has the focus", `document.activeElement.closest(".entry.current") !== null`)
}

func (p *tab) size(width int64) {
	p.t.Helper()
	p.run("resize", chromedp.EmulateViewport(width, 900))
}

func (p *tab) media(m emulation.SetEmulatedMediaParams) {
	p.t.Helper()
	if _, err := chromedp.Call(p.ctx, emulation.SetEmulatedMedia, m); err != nil {
		p.t.Fatal(err)
	}
}

// shot writes a picture of the page into the folder MARKAROUND_SHOTS, for a person
// to look at.
func (p *tab) shot(name string) {
	p.t.Helper()
	dir := os.Getenv("MARKAROUND_SHOTS")
	if dir == "" {
		return
	}
	r, err := chromedp.Call(p.ctx, page.CaptureScreenshot, page.CaptureScreenshotParams{})
	if err != nil {
		p.t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(dir, name+".png"), r.Data, 0o644); err != nil {
		p.t.Fatal(err)
	}
}

// toneWAV is a recording of a low tone: 8-bit mono at 4,000 samples a second.
// The form is that of Microsoft's Multimedia Programming Interface 1.0 (1991).
func toneWAV(seconds float64) []byte {
	const rate = 4000
	n := uint32(seconds * rate)
	var b bytes.Buffer
	b.WriteString("RIFF")
	binary.Write(&b, binary.LittleEndian, 36+n)
	b.WriteString("WAVEfmt ")
	for _, v := range []any{uint32(16), uint16(1), uint16(1), uint32(rate), uint32(rate), uint16(1), uint16(8)} {
		binary.Write(&b, binary.LittleEndian, v)
	}
	b.WriteString("data")
	binary.Write(&b, binary.LittleEndian, n)
	for i := range n {
		b.WriteByte(byte(128 + 20*math.Sin(float64(i)*2*math.Pi*200/rate)*math.Sin(float64(i)/rate)))
	}
	return b.Bytes()
}

// review decides about ten doubtful marks by keyboard alone, seven accepted and
// three changed, hearing each.
func (b *browser) review(t *testing.T) {
	st := newStore(t, filepath.Join(t.TempDir(), "attempts.db"))
	a := keepHeard(t, st, tenDoubtful(t, store.Details{Student: "S-014", Cohort: "fall", Day: "2026-11-25"}))
	p := b.tab(t, openDesk(t, st), fmt.Sprintf("/attempts/%d", a.ID))
	strokes := 0
	press := func(keys string) {
		t.Helper()
		strokes += len([]rune(keys))
		p.keys(keys)
	}
	left := func() int { return eval[int](p, `Number(document.getElementById("left").textContent)`) }
	const doubtful = 10
	if left() != doubtful {
		t.Fatalf("%d doubtful marks, the test is written for %d", left(), doubtful)
	}
	p.shot("review-start")
	p.as("I-03")
	eval[bool](p, `window.lit = 0; new MutationObserver(() => { if (document.querySelector(".words span.now")) lit++; }).observe(document.querySelector(".words"), { subtree: true, attributeFilter: ["class"] }); true`)
	eval[bool](p, `window.stretches = []; document.addEventListener("hear", (e) => stretches.push(e.detail.until - e.detail.from)); true`)
	const audio = `document.getElementById("audio")`
	p.wait("the recording is there", audio+`.readyState > 1`)
	eval[float64](p, audio+`.playbackRate = 16`)
	began := time.Now()
	for i := range doubtful {
		item := eval[string](p, `document.querySelector(".entry.current").dataset.item`)
		press(" ")
		p.wait("it plays", `!`+audio+`.paused || stretches.length > `+fmt.Sprint(i))
		if i == 1 {
			p.wait("a word lights up", `lit > 0`)
			p.shot("review-hear")
		}
		p.wait("it halts by itself", audio+`.paused`)
		if i%3 == 1 {
			mark := eval[string](p, `document.querySelector(".entry.current").dataset.machine`)
			key := map[string]string{"said": "m", "partly": "s", "wrong": "s", "missed": "s"}[mark]
			press(key)
			p.wait("the reason has the focus", `document.activeElement.name === "why"`)
			if i == 1 {
				p.shot("review-why")
			}
			press("heard it\r")
		} else {
			press("a")
		}
		p.wait("it is kept", fmt.Sprintf(`Number(document.getElementById("left").textContent) === %d`, doubtful-1-i))
		if got := eval[string](p, `document.querySelector(".entry.current").dataset.item`); got == item && i+1 < doubtful {
			t.Fatalf("after %s the review does not go on", item)
		}
	}
	took := time.Since(began)
	heard := eval[float64](p, `stretches.reduce((a, b) => a + b, 0)`)
	// A keystroke is a fifth of a second to a slow typist, and each mark a second to
	// think: common practice in keystroke counting (Card, Moran and Newell 1980), from memory.
	whole := heard + 0.28*float64(strokes) + 1.35*doubtful
	t.Logf("%d doubtful marks: %d keystrokes, %.0f s of sound; with 0.28 s a keystroke and 1.35 s to think of each mark %.0f s (the test took %.1f s)", doubtful, strokes, heard, whole, took.Seconds())
	if whole > 180 {
		t.Errorf("a review of %d marks takes %.0f s", doubtful, whole)
	}
	p.wait("it says so", `document.activeElement.id === "done"`)
	p.shot("review-done")

	m, err := st.Marks(t.Context(), a.ID)
	if err != nil {
		t.Fatal(err)
	}
	changed := 0
	for _, c := range m.Given {
		if c.Who != "I-03" {
			t.Errorf("corrected by %q", c.Who)
		}
		if c.Why == "heard it" {
			changed++
		}
	}
	if len(m.Given) != doubtful || changed != 3 {
		t.Errorf("%d corrections in the store, %d with a reason", len(m.Given), changed)
	}

	// Undo goes back from the last one.
	last := m.Given[doubtful-1].Item
	press("u")
	p.wait("it is doubtful again", fmt.Sprintf(`document.querySelector('[data-item="%s"]').dataset.stands === "" && Number(document.getElementById("left").textContent) === 1`, last))
	press("a")
	p.wait("it is decided again", `Number(document.getElementById("left").textContent) === 0`)

	// The body of an item further down comes when it is opened.
	p.run("open another", chromedp.Click(chromedp.CSS(".entry[data-later] summary")))
	p.wait("its body is there", `document.querySelector(".entry.current details[open] .decide") !== null && !("later" in document.querySelector(".entry.current").dataset)`)
	p.shot("review-later")
	for _, width := range []int64{390, 768, 1280} {
		p.size(width)
		if got := eval[int64](p, `document.documentElement.scrollWidth`); got > width {
			t.Errorf("at %d px the review is %d px wide", width, got)
		}
	}
}

// tenDoubtful is an open attempt of which the ten least sure marks are doubtful,
// whatever the matcher has become.
func tenDoubtful(t testing.TB, d store.Details) *store.Entry {
	t.Helper()
	e := entryOf(t, attemptsFolder+"b1.srt", d)
	sheet := *e.Sheet
	sheet.Items = slices.Clone(sheet.Items)
	order := make([]int, len(sheet.Items))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(sheet.Items[a].Confidence, sheet.Items[b].Confidence) })
	for n, i := range order {
		sheet.Items[i].Listen = n < 10
	}
	e.Sheet = &sheet
	return e
}

const attemptsFolder = "../../../testdata/attempts/"

// keepHeard keeps an attempt with a recording of its length.
func keepHeard(t testing.TB, st *store.Store, e *store.Entry) store.Kept {
	t.Helper()
	e.Recording = filepath.Join(t.TempDir(), "tone.wav")
	if err := os.WriteFile(e.Recording, toneWAV(e.Sheet.Pace.End+5), 0o600); err != nil {
		t.Fatal(err)
	}
	kept, err := st.Keep(t.Context(), *e)
	if err != nil {
		t.Fatal(err)
	}
	return kept[0]
}
