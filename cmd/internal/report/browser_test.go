package report

import (
	"context"
	"fmt"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/log"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
)

// browser starts a headless browser, or skips where none is installed.
func browser(t *testing.T) context.Context {
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
		chromedp.Flag("disable-dev-shm-usage", true), chromedp.Flag("disable-quic", true),
		chromedp.Flag("disable-component-update", true))
	ctx, cancel := context.WithTimeout(context.Background(), 90*time.Second)
	t.Cleanup(cancel)
	ctx, cancel = chromedp.NewExecAllocator(ctx, opts...)
	t.Cleanup(cancel)
	ctx, cancel = chromedp.NewContext(ctx)
	t.Cleanup(cancel)
	if err := chromedp.Do(ctx); err != nil {
		version, _ := exec.Command(found, "--version").CombinedOutput()
		t.Fatalf("%s does not start: %v (%s)", found, err, strings.TrimSpace(string(version)))
	}
	return ctx
}

// tab is a page open in a browser, and what went wrong in it.
type tab struct {
	t   *testing.T
	ctx context.Context

	mu      sync.Mutex
	trouble []string
}

// open writes a page into a folder, for a browser to open as a person would. A
// request for anything but the page itself and what allow admits is trouble.
func open(t *testing.T, dir string, page []byte, allow func(address string) bool) *tab {
	t.Helper()
	p := &tab{t: t, ctx: browser(t)}
	path := filepath.Join(dir, "page.html")
	if err := os.WriteFile(path, page, 0o644); err != nil {
		t.Fatal(err)
	}
	address := (&url.URL{Scheme: "file", Path: filepath.ToSlash(path)}).String()
	err := chromedp.Listen(p.ctx, func(ev any) {
		p.mu.Lock()
		defer p.mu.Unlock()
		switch ev := ev.(type) {
		case *network.EventRequestWillBeSent:
			if u := ev.Request.URL; u != address && !strings.HasPrefix(u, "data:") && !allow(u) {
				p.trouble = append(p.trouble, "request to "+u)
			}
		case *runtime.EventConsoleAPICalled:
			p.trouble = append(p.trouble, "console "+string(ev.Type))
		case *runtime.EventExceptionThrown:
			p.trouble = append(p.trouble, "exception: "+ev.ExceptionDetails.Text)
		case *log.EventEntryAdded:
			p.trouble = append(p.trouble, "log: "+ev.Entry.Text)
		}
	})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := chromedp.Call(p.ctx, network.Enable, network.EnableParams{}); err != nil {
		t.Fatal(err)
	}
	if _, err := chromedp.Call(p.ctx, log.Enable, cdp.Empty{}); err != nil {
		t.Fatal(err)
	}
	p.run("open", chromedp.Navigate(address), chromedp.WaitVisible(chromedp.CSS("h1")))
	return p
}

// done tells what went wrong.
func (p *tab) done() {
	p.mu.Lock()
	defer p.mu.Unlock()
	for _, s := range p.trouble {
		p.t.Error(s)
	}
}

func (p *tab) run(what string, actions ...chromedp.Action[chromedp.Void]) {
	p.t.Helper()
	if err := chromedp.Do(p.ctx, actions...); err != nil {
		p.t.Fatalf("%s: %v", what, err)
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

// fits checks that nothing is wider than the screen of a phone, a tablet and a
// desk.
func (p *tab) fits() {
	p.t.Helper()
	for _, width := range []int64{390, 768, 1280} {
		p.run("resize", chromedp.EmulateViewport(width, 900))
		if got := eval[int](p, `document.documentElement.scrollWidth`); got > int(width) {
			p.t.Errorf("at %d px the page is %d px wide", width, got)
		}
	}
}

func (p *tab) print() {
	p.t.Helper()
	if _, err := chromedp.Call(p.ctx, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Media: "print"}); err != nil {
		p.t.Fatal(err)
	}
}

func nothingElse(string) bool { return false }

func TestPageInBrowser(t *testing.T) {
	p := open(t, t.TempDir(), bigPage(t), nothingElse)
	defer p.done()
	run := p.run
	eval := func(js string) int { t.Helper(); return eval[int](p, js) }

	if n := eval(`document.querySelectorAll("details.item").length`); n != 80 {
		t.Errorf("%d items on the page", n)
	}

	const first = `document.querySelector("details.item")`
	run("open by keyboard", chromedp.Focus(chromedp.CSS("details.item summary")), chromedp.KeyEvent(kb.Enter))
	if eval(first+`.open ? 1 : 0`) != 1 {
		t.Error("Enter does not open an item")
	}
	run("shut by keyboard", chromedp.KeyEvent(" "))
	if eval(first+`.open ? 1 : 0`) != 0 {
		t.Error("Space does not shut it")
	}
	if eval(`getComputedStyle(document.querySelector("details.item summary")).outlineStyle !== "none" ? 1 : 0`) != 1 {
		t.Error("the focus cannot be seen")
	}

	const shown = `[...document.querySelectorAll("details.item")].filter((d) => d.checkVisibility()).length`
	for _, mark := range []string{"wrong", "missed", "partly", "said", "listen"} {
		run("filter", chromedp.Click(chromedp.CSS("#show-"+mark)))
		want := eval(fmt.Sprintf(`document.querySelectorAll("details.item.%s").length`, mark))
		if got := eval(shown); got != want || got == 0 {
			t.Errorf("filter %s shows %d items, want %d", mark, got, want)
		}
	}
	run("follow a link", chromedp.Evaluate[chromedp.Void](`location.hash = "#item-cab.safe-start"`), chromedp.Sleep(100*time.Millisecond))
	if got := eval(shown); got != 80 {
		t.Errorf("a link to an item that the filter hides leaves %d items", got)
	}
	if eval(first+`.open ? 1 : 0`) != 1 {
		t.Error("a link to an item does not open it")
	}

	p.fits()
	p.print()
	const folded = `.filter((b) => !b.checkVisibility() || b.getBoundingClientRect().height < 5).length`
	if n := eval(`[...document.querySelectorAll("details.item:not(.said) .body")]` + folded); n != 0 {
		t.Errorf("%d items that were not said are folded in print", n)
	}
	if n, want := eval(`[...document.querySelectorAll("details.item.said:not([open]) .body")]`+folded), eval(`document.querySelectorAll("details.item.said:not([open])").length`); n != want || n == 0 {
		t.Errorf("%d of %d items that were said are folded in print", n, want)
	}
	if n := eval(`[...document.querySelectorAll("details.item.said[open] .body")]` + folded); n != 0 {
		t.Errorf("%d items that were unfolded on the page are folded in print", n)
	}
}
