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

func TestPageInBrowser(t *testing.T) {
	ctx := browser(t)
	path := filepath.Join(t.TempDir(), "sheet.html")
	if err := os.WriteFile(path, bigPage(t), 0o644); err != nil {
		t.Fatal(err)
	}
	address := (&url.URL{Scheme: "file", Path: filepath.ToSlash(path)}).String()

	var mu sync.Mutex
	var trouble []string
	err := chromedp.Listen(ctx, func(ev any) {
		mu.Lock()
		defer mu.Unlock()
		switch ev := ev.(type) {
		case *network.EventRequestWillBeSent:
			if u := ev.Request.URL; u != address && !strings.HasPrefix(u, "data:") {
				trouble = append(trouble, "request to "+u)
			}
		case *runtime.EventConsoleAPICalled:
			trouble = append(trouble, "console "+string(ev.Type))
		case *runtime.EventExceptionThrown:
			trouble = append(trouble, "exception: "+ev.ExceptionDetails.Text)
		case *log.EventEntryAdded:
			trouble = append(trouble, "log: "+ev.Entry.Text)
		}
	})
	if err != nil {
		t.Fatal(err)
	}
	run := func(what string, actions ...chromedp.Action[chromedp.Void]) {
		t.Helper()
		if err := chromedp.Do(ctx, actions...); err != nil {
			t.Fatalf("%s: %v", what, err)
		}
	}
	eval := func(js string) int {
		t.Helper()
		v, err := chromedp.Run(ctx, chromedp.Evaluate[int](js))
		if err != nil {
			t.Fatalf("%s: %v", js, err)
		}
		return v
	}

	if _, err := chromedp.Call(ctx, network.Enable, network.EnableParams{}); err != nil {
		t.Fatal(err)
	}
	if _, err := chromedp.Call(ctx, log.Enable, cdp.Empty{}); err != nil {
		t.Fatal(err)
	}
	run("open", chromedp.Navigate(address), chromedp.WaitVisible(chromedp.CSS("h1")))
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

	for _, width := range []int64{390, 768, 1280} {
		run("resize", chromedp.EmulateViewport(width, 900))
		if got := eval(`document.documentElement.scrollWidth`); got > int(width) {
			t.Errorf("at %d px the page is %d px wide", width, got)
		}
	}

	if _, err := chromedp.Call(ctx, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Media: "print"}); err != nil {
		t.Fatal(err)
	}
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
	mu.Lock()
	defer mu.Unlock()
	for _, s := range trouble {
		t.Error(s)
	}
}
