package web

import (
	"encoding/json"
	"fmt"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"

	"markaround/cmd/internal/store"
	"markaround/rubric"
)

// twoWindows decides about the same mark in two windows: what the first one kept
// stays, and the second is told.
func (b *browser) twoWindows(t *testing.T) {
	st := newStore(t, filepath.Join(t.TempDir(), "attempts.db"))
	a := keepEntry(t, st, tenDoubtful(t, store.Details{Student: "S-1"}))
	d := openDesk(t, st)
	path := fmt.Sprintf("/attempts/%d", a.ID)
	one := b.tab(t, d, path)
	one.as("I-03")
	two := b.tab(t, d, path)
	two.expect = "409" // the browser notes the answer that this test is about
	two.wait("it is known in the second", `document.getElementById("review").dataset.who === "I-03"`)

	one.keys("a")
	one.wait("the first keeps it", `Number(document.getElementById("left").textContent) === 9`)
	item := eval[string](two, `document.querySelector(".entry.current").dataset.item`)
	key := "m"
	if eval[string](two, `document.querySelector(".entry.current").dataset.machine`) == "missed" {
		key = "s"
	}
	two.keys(key)
	two.wait("a reason is asked", `document.activeElement.name === "why"`)
	two.keys("heard nothing\r")
	two.wait("the second is told", `document.getElementById("say").textContent.startsWith("Not kept: meanwhile I-03 decided")`)
	two.wait("and sees what was kept", fmt.Sprintf(`document.querySelector('[data-item="%s"]').classList.contains("decided") && Number(document.getElementById("left").textContent) === 9`, item))
	two.wait("and is led back to it", fmt.Sprintf(`document.querySelector(".entry.current").dataset.item === "%s"`, item))
	two.shot("two-windows")
	m, err := st.Marks(t.Context(), a.ID)
	if err != nil || len(m.Given) != 1 || m.Given[0].Why != "" {
		t.Errorf("kept %+v, %v", m.Given, err)
	}
	// Now that it is seen, it may be changed.
	two.keys(key)
	two.wait("a reason is asked again", `document.activeElement.name === "why"`)
	two.keys("heard nothing\r")
	two.wait("it is kept", `document.getElementById("say").textContent.includes("left to hear")`)
	// The first window hears of it when one comes back to it.
	eval[bool](one, `dispatchEvent(new Event("focus"))`)
	one.wait("the first is told too", `document.getElementById("say").textContent.startsWith("Others changed")`)
	if m, err := st.Marks(t.Context(), a.ID); err != nil || len(m.Given) != 2 || m.Given[1].Why != "heard nothing" {
		t.Errorf("kept %+v, %v", m.Given, err)
	}
}

// restart ends the desk in the middle of a review and opens it again: what was
// decided meanwhile is sent, by the same page and by one that was loaded anew.
func (b *browser) restart(t *testing.T) {
	st := newStore(t, filepath.Join(t.TempDir(), "attempts.db"))
	a := keepEntry(t, st, tenDoubtful(t, store.Details{Student: "S-1"}))
	d := openDesk(t, st)
	p := b.tab(t, d, fmt.Sprintf("/attempts/%d", a.ID))
	p.expect = "ERR_CONNECTION"
	p.as("I-03")
	// A recording that was not kept may be given, and stays in the browser.
	p.keys(" ")
	p.wait("the page asks for the recording", `document.getElementById("say").textContent.startsWith("There is no recording")`)
	sound := filepath.Join(t.TempDir(), "tone.wav")
	if err := os.WriteFile(sound, toneWAV(1200), 0o600); err != nil {
		t.Fatal(err)
	}
	p.run("give it", chromedp.SetUploadFiles(chromedp.CSS("#give"), []string{sound}))
	p.wait("it is there", `document.getElementById("audio").readyState > 1`)
	eval[bool](p, `document.querySelector(".entry.current summary").focus(); true`)
	p.keys(" ")
	p.wait("it plays", `!document.getElementById("audio").paused && document.getElementById("audio").currentTime > 1`)
	p.keys(" ")
	p.wait("and halts", `document.getElementById("audio").paused`)

	p.keys("a")
	p.wait("one is kept", `Number(document.getElementById("left").textContent) === 9`)
	d.stop()
	p.keys("aa")
	p.wait("the page says that it waits", `document.getElementById("say").textContent.startsWith("Not kept yet")`)
	d.start()
	p.wait("they are kept", `Number(document.getElementById("left").textContent) === 7 && document.querySelectorAll(".sending").length === 0`)
	if m, err := st.Marks(t.Context(), a.ID); err != nil || len(m.Given) != 3 {
		t.Errorf("%d decisions in the store, %v", len(m.Given), err)
	}
	p.run("load it again", chromedp.Reload(), chromedp.WaitVisible(chromedp.CSS("h1")))
	p.wait("seven are left", `Number(document.getElementById("left").textContent) === 7`)

	// What waits outlives the page too.
	d.stop()
	p.keys("a")
	p.wait("the page says that it waits", `document.getElementById("say").textContent.startsWith("Not kept yet")`)
	p.leave = true // although the page asks
	d.start()
	p.open(d.url(fmt.Sprintf("/attempts/%d?again=1", a.ID)))
	p.wait("it is kept", `Number(document.getElementById("left").textContent) === 6`)

	// By mouse: another mark, its reason, and back.
	p.run("another mark", chromedp.Click(chromedp.CSS(".entry.current .change")))
	p.wait("a reason is asked", `document.activeElement.name === "why"`)
	p.run("keep it without", chromedp.Click(chromedp.CSS(".entry.current .save")))
	p.wait("it wants one", `!document.querySelector(".entry.current .trouble").hidden && document.activeElement.name === "why"`)
	item := eval[string](p, `document.querySelector(".entry.current").dataset.item`)
	p.keys("heard it")
	p.run("keep it", chromedp.Click(chromedp.CSS(".entry.current .save")))
	p.wait("it is kept", fmt.Sprintf(`Number(document.getElementById("left").textContent) === 5 && document.querySelector('[data-item="%s"]').dataset.why === "heard it"`, item))
	p.run("open it", chromedp.Click(chromedp.CSS(fmt.Sprintf(`[data-item="%s"] summary`, item))))
	p.run("take it back", chromedp.Click(chromedp.CSS(fmt.Sprintf(`[data-item="%s"] .undo`, item))))
	p.wait("it is doubtful again", `Number(document.getElementById("left").textContent) === 6`)
}

// add drops files onto the form.
func (b *browser) add(t *testing.T) {
	dir := t.TempDir()
	st := newStore(t, filepath.Join(dir, "attempts.db"))
	p := b.tab(t, openDesk(t, st), "/add")
	p.expect = "422" // the browser notes it
	bad, good, sound := filepath.Join(dir, "S-020.srt"), filepath.Join(dir, "S-021_2026-11-25.srt"), filepath.Join(dir, "S-021.wav")
	if err := os.WriteFile(bad, []byte("%PDF-1.7 no transcript"), 0o600); err != nil {
		t.Fatal(err)
	}
	data, err := os.ReadFile(attemptsFolder + "e6.srt")
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(good, data, 0o600); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(sound, toneWAV(500), 0o600); err != nil {
		t.Fatal(err)
	}
	p.shot("add")
	eval[bool](p, `(() => {
		const d = new DataTransfer();
		d.items.add(new File(["RIFF"], "S-019.WAV"));
		d.items.add(new File(["1"], "S-019.srt"));
		document.getElementById("drop").dispatchEvent(new DragEvent("drop", { dataTransfer: d, bubbles: true, cancelable: true }));
		return true;
	})()`)
	p.wait("what is dropped goes where it belongs", `document.getElementById("i-transcript").files[0].name === "S-019.srt" && document.getElementById("i-recording").files[0].name === "S-019.WAV" && document.getElementById("i-student").value === "S-019"`)
	p.open(eval[string](p, `location.href`))
	p.run("choose", chromedp.SetUploadFiles(chromedp.CSS("#i-transcript"), []string{bad}))
	p.wait("the name tells the student", `document.getElementById("i-student").value === "S-020"`)
	p.run("send", chromedp.Click(chromedp.CSS("#go")))
	p.wait("the fault stands beside the field", `!document.getElementById("e-transcript").hidden && document.activeElement.id === "i-transcript"`)
	p.shot("add-fault")
	eval[bool](p, `document.getElementById("i-student").value = ""; true`)
	p.run("choose another", chromedp.SetUploadFiles(chromedp.CSS("#i-transcript"), []string{good}), chromedp.SetUploadFiles(chromedp.CSS("#i-recording"), []string{sound}))
	p.wait("name and day are told", `document.getElementById("i-student").value === "S-021" && document.getElementById("i-day").value === "2026-11-25"`)
	p.run("send", chromedp.Click(chromedp.CSS("#go")))
	p.wait("it leads to the review", `location.pathname === "/attempts/1" && document.getElementById("audio") !== null && document.getElementById("audio").readyState > 0`)
	a, err := st.Find(t.Context(), "1")
	if err != nil || a.Student != "S-021" || a.Day != "2026-11-25" || a.RecordingHash == "" {
		t.Errorf("kept %+v, %v", a, err)
	}
}

// pages looks at every page: as wide as the screen, no serious fault of access, and
// everything to be reached by the Tab key.
func (b *browser) pages(t *testing.T) {
	st := newStore(t, filepath.Join(t.TempDir(), "attempts.db"))
	for i, f := range []string{"e6.srt", "c1.ctm"} {
		a := keepHeard(t, st, entryOf(t, attemptsFolder+f, store.Details{Student: fmt.Sprint("S-01", i), Cohort: "fall & winter", Site: fmt.Sprint("yard ", i), Day: "2026-11-25"}))
		if i == 1 {
			m, err := st.Marks(t.Context(), a.ID)
			if err != nil {
				t.Fatal(err)
			}
			err = st.Correct(t.Context(), store.Order{Attempt: a.ID, Correction: rubric.Correction{Item: m.Machine.Items[0].ID, Mark: rubric.Missed, Why: "heard nothing", Who: "I-03"}})
			if err != nil {
				t.Fatal(err)
			}
		}
	}
	axe := []byte(nil)
	if path := os.Getenv("MARKAROUND_AXE"); path != "" {
		var err error
		if axe, err = os.ReadFile(path); err != nil {
			t.Fatal(err)
		}
	} else {
		t.Log("MARKAROUND_AXE is not set: access is not checked")
	}
	d := openDesk(t, st)
	locked := httptest.NewServer(newServer(t, st, Options{Passphrase: "four wheels good"}))
	defer locked.Close()
	p := b.tab(t, d, "/")
	p.expect, p.also = "404", locked.URL
	for _, page := range []struct {
		name, path string
		dark       bool // has colors that the pages before it do not have
	}{
		{"list", "/", true}, {"list-none", "/?student=nobody", false}, {"add", "/add", false}, {"review", "/attempts/1", true}, {"review-corrected", "/attempts/2", false},
		{"sheet", "/attempts/1/sheet", false}, {"replay", "/attempts/1/replay", false}, {"student", "/student?id=S-010", true},
		{"class", "/class?cohort=fall+%26+winter", false}, {"class-none", "/class", false}, {"school", "/school", false},
		{"compare", "/reports/compare?by=site&attempts=last", true}, {"items", "/reports/items", false}, {"progress", "/reports/progress?student=S-010", false},
		{"message", "/attempts/99", false}, {"enter", locked.URL + "/enter", false},
	} {
		began := time.Now()
		for _, scheme := range []string{"light", "dark"} {
			if scheme == "dark" && !page.dark {
				continue
			}
			p.media(emulation.SetEmulatedMediaParams{Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: scheme}}})
			p.size(1280)
			if address := page.path; strings.HasPrefix(address, "/") {
				p.open(d.url(address))
			} else {
				p.open(address)
			}
			if scheme == "light" {
				for _, width := range []int64{390, 1280} {
					p.size(width)
					if got := eval[int64](p, `document.documentElement.scrollWidth`); got > width {
						t.Errorf("%s: at %d px it is %d px wide", page.name, width, got)
					}
					p.shot(fmt.Sprintf("%s-%d", page.name, width))
				}
			} else {
				p.shot(page.name + "-dark")
			}
			if axe != nil {
				rules := ""
				if scheme == "dark" { // nothing else is another there
					rules = `runOnly: ["color-contrast"], `
				}
				for _, fault := range faults(p, axe, rules) {
					t.Errorf("%s, %s: %s", page.name, scheme, fault)
				}
			}
		}
		p.media(emulation.SetEmulatedMediaParams{Media: "print"})
		p.shot(page.name + "-print")
		t.Logf("%s: %.1f s", page.name, time.Since(began).Seconds())
	}
}

// faults asks axe-core, the rules of the Deque company for the Web Content
// Accessibility Guidelines, for what is serious or worse. Of the words of a
// transcript the first lines stand for all.
func faults(p *tab, axe []byte, rules string) (list []string) {
	p.t.Helper()
	if !eval[bool](p, `typeof axe !== "undefined"`) {
		eval[bool](p, string(axe)+"; true")
	}
	eval[bool](p, `window.axeFaults = null; axe.run({ exclude: [[".words li:nth-child(n + 12)"]] }, { `+rules+`resultTypes: ["violations"] }).then((r) => { window.axeFaults = JSON.stringify(r.violations.filter((v) => v.impact === "serious" || v.impact === "critical").map((v) => v.id + " " + v.nodes.slice(0, 3).map((n) => n.target + " " + n.failureSummary).join(" | "))); }, (e) => { window.axeFaults = JSON.stringify(["axe: " + e]); }); true`)
	p.wait("axe-core ends", `window.axeFaults !== null`)
	if err := json.Unmarshal([]byte(eval[string](p, `window.axeFaults`)), &list); err != nil {
		p.t.Fatal(err)
	}
	for i := range list {
		list[i] = strings.ReplaceAll(list[i], "\n", " ")
	}
	return list
}
