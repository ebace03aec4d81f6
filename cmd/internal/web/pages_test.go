package web

import (
	"encoding/json"
	"fmt"
	"html"
	"maps"
	"net/http"
	"net/url"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"markaround/cmd/internal/store"
	"markaround/rubric"
	"markaround/rubric/cohort"
)

// Every text that a page or script asks for is there, and nothing else; what counts
// has both forms.
func TestCatalogue(t *testing.T) {
	c, err := readCatalogue(english)
	if err != nil {
		t.Fatal(err)
	}
	used := map[string]bool{}
	list, err := files.ReadDir("page")
	if err != nil {
		t.Fatal(err)
	}
	inPage := regexp.MustCompile(`\bt "([a-z.]+)"`)
	made := regexp.MustCompile(`\bt \(printf "([a-z.]+)%s"`)
	inScript := regexp.MustCompile(`\b(?:say\("|texts\.|text\.)([a-z]+)`)
	prefixes := map[string]bool{"mark.": true, "links.": true, "school.by.": true, "school.attempts.": true, "add.stage.": true}
	for _, f := range list {
		data, err := files.ReadFile("page/" + f.Name())
		if err != nil {
			t.Fatal(err)
		}
		for _, m := range inPage.FindAllSubmatch(data, -1) {
			used[string(m[1])] = true
		}
		for _, m := range made.FindAllSubmatch(data, -1) {
			prefixes[string(m[1])] = true
		}
		if name, ok := strings.CutSuffix(f.Name(), ".js"); ok {
			for _, m := range inScript.FindAllSubmatch(data, -1) {
				if name == "desk" {
					name = "add"
				}
				used["js."+name+"."+string(m[1])] = true
			}
		}
	}
	for _, mark := range []string{"said", "partly", "wrong", "missed", "none", "found"} {
		used["js.review."+mark] = true
	}
	delete(used, "js.add.length") // no text
	for _, key := range []string{"error.page", "error.attempt", "error.student", "error.cohort", "error.recording", "error.find", "error.host", "error.origin", "error.outside", "error.token", "error.form", "error.large",
		"error.who", "error.job", "error.bug", "add.student", "add.transcript", "add.empty", "add.large", "add.day", "add.number", "add.sheet", "add.overlay", "add.long", "add.unprintable", "add.busy",
		"review.title", "review.who.needed", "review.why.needed", "review.why.long", "review.conflict", "review.regraded", "student.title", "error.picked", "links.school", "school.date.needed", "student.othersheets"} {
		used[key] = true // by the program
	}
	for key := range used {
		if _, ok := c[key]; !ok {
			t.Errorf("no text %q", key)
		}
	}
	for _, key := range slices.Sorted(maps.Keys(c)) {
		byPrefix := slices.ContainsFunc(slices.Collect(maps.Keys(prefixes)), func(p string) bool { return strings.HasPrefix(key, p) })
		if !used[key] && !byPrefix {
			t.Errorf("text %q is not used", key)
		}
		if text := c[key]; text.Other == "" {
			t.Errorf("text %q is empty", key)
		}
	}
	for key, text := range c { // the flags, the CSV files and the pages have one word
		if class := regexp.MustCompile(`(?i)\bclass(es)?\b`); class.MatchString(text.One + " " + text.Other) {
			t.Errorf("text %q says class; a cohort is called so", key)
		}
	}
	if got, _ := c.say("list.waiting", 1); got != "1 waits for review" {
		t.Errorf("one: %q", got)
	}
	if got, _ := c.say("list.waiting", 2); got != "2 wait for review" {
		t.Errorf("two: %q", got)
	}
	if _, err := readCatalogue([]byte("a: {one: x, many: y}")); err == nil {
		t.Error("an unknown form is taken")
	}
}

// A bad upload is told beside its field, and nothing of it is kept.
func TestAddFaults(t *testing.T) {
	st := newStore(t, filepath.Join(t.TempDir(), "attempts.db"))
	s := newServer(t, st, Options{Limits: Limits{Transcript: 2000, Recording: 20000}})
	c := newClient(t, s)
	text := srt("that is all")
	for _, x := range []struct {
		reason, field string
		parts         []part
		want          string
	}{
		{"nothing chosen", "transcript", []part{{"student", "", "S-1"}}, "Choose the transcript."},
		{"an empty file", "transcript", []part{{"student", "", "S-1"}, {"transcript", "a.srt", ""}}, "The file is empty."},
		{"no transcript", "transcript", []part{{"student", "", "S-1"}, {"transcript", "a.pdf", "%PDF-1.7\x00\x01"}}, "a.pdf:"},
		{"a file's name of several words", "transcript", []part{{"student", "", "S-1"}, {"transcript", "my drive.png", "\x89PNG\r\n\x1a\n\x00"}}, "my drive.png:"},
		{"no student", "student", []part{{"transcript", "a.srt", text}}, "Whose attempt is it?"},
		{"a student's name too long", "student", []part{{"student", "", strings.Repeat("x", 101)}, {"transcript", "a.srt", text}}, "Too long"},
		{"a field far too long", "vehicle", []part{{"student", "", "S-1"}, {"vehicle", "", strings.Repeat("x", 5000)}, {"transcript", "a.srt", text}}, "Too long"},
		{"a day of another form", "day", []part{{"student", "", "S-1"}, {"day", "", "25.11.2026"}, {"transcript", "a.srt", text}}, "Write the day as"},
		{"no number", "number", []part{{"student", "", "S-1"}, {"number", "", "0"}, {"transcript", "a.srt", text}}, "counted from 1"},
		{"control characters", "cohort", []part{{"student", "", "S-1"}, {"cohort", "", "a\x01b"}, {"transcript", "a.srt", text}}, "cannot be printed"},
		{"a label where there are none", "speaker", []part{{"student", "", "S-1"}, {"speaker", "", "A"}, {"transcript", "a.srt", text}}, "has no speaker labels"},
		{"a large transcript", "transcript", []part{{"student", "", "S-1"}, {"transcript", "a.srt", strings.Repeat(text, 30)}}, "The file has more than"},
		{"a large recording", "recording", []part{{"student", "", "S-1"}, {"transcript", "a.srt", text}, {"recording", "a.wav", string(toneWAV(9))}}, "The file has more than"},
	} {
		sheet := part{"sheet", "", "class-a"}
		res, body := c.upload(true, append([]part{{"token", "", c.token()}, sheet}, x.parts...)...)
		var got struct{ Failed map[string]string }
		if err := json.Unmarshal([]byte(body), &got); err != nil || res.StatusCode != http.StatusUnprocessableEntity || !strings.HasPrefix(got.Failed[x.field], x.want) && !strings.Contains(got.Failed[x.field], x.want) {
			t.Errorf("%s: %d %s, want %s: %s", x.reason, res.StatusCode, body, x.field, x.want)
		}
		// Without scripts the same stands on the page, with what was filled in.
		if _, body := c.upload(false, append([]part{{"token", "", c.token()}, sheet}, x.parts...)...); !strings.Contains(body, `id="e-`+x.field+`">`) || x.field != "student" && !strings.Contains(body, `value="S-1"`) {
			t.Errorf("%s: the page does not say it", x.reason)
		}
	}
	for _, x := range []struct {
		reason string
		parts  []part
		want   int
	}{
		{"a file before the token", []part{{"transcript", "a.srt", text}, {"token", "", c.token()}}, http.StatusForbidden},
		{"a wrong token", []part{{"token", "", "x"}, {"transcript", "a.srt", text}}, http.StatusForbidden},
		{"no part at all", nil, http.StatusForbidden},
		{"more than everything may have", []part{{"token", "", c.token()}, {"recording", "a.wav", strings.Repeat("x", 6<<20)}}, http.StatusRequestEntityTooLarge},
	} {
		if res, _ := c.upload(false, x.parts...); res.StatusCode != x.want {
			t.Errorf("%s: %d, want %d", x.reason, res.StatusCode, x.want)
		}
	}
	if all, _, err := st.Counts(t.Context(), store.Filter{}); err != nil || all != 0 {
		t.Errorf("%d attempts are kept, %v", all, err)
	}
}

// A recording that is none is told after the work has begun.
func TestAddBadRecording(t *testing.T) {
	st := newStore(t, filepath.Join(t.TempDir(), "attempts.db"))
	c := newClient(t, newServer(t, st, Options{}))
	res, body := c.upload(false, part{"token", "", c.token()}, part{"student", "", "S-1"}, part{"sheet", "", "class-a"}, part{"transcript", "a.srt", srt("a")}, part{"recording", "a.wav", "no sound"})
	if res.StatusCode != http.StatusSeeOther {
		t.Fatal(res.StatusCode, body)
	}
	for range 600 {
		if _, body = c.get(res.Header.Get("Location")); strings.Contains(body, `role="alert"`) {
			break
		}
	}
	if !strings.Contains(body, "Recording: a.wav:") {
		t.Errorf("the page says %s", body)
	}
}

// The same transcript twice is one attempt, and the page says so.
func TestAddTwice(t *testing.T) {
	st := newStore(t, filepath.Join(t.TempDir(), "attempts.db"))
	c := newClient(t, newServer(t, st, Options{}))
	one := c.keep(st, part{"transcript", "S-7_2026-11-25.srt", srt("a")}, part{"day", "", "2026-11-25"}, part{"cohort", "", "fall"})
	two := c.keep(st, part{"transcript", "other.srt", srt("a")})
	if one.ID != two.ID || one.Student != "S-7" || one.Cohort != "fall" || one.Day != "2026-11-25" {
		t.Errorf("%+v and %+v", one, two)
	}
	if _, body := c.get(fmt.Sprintf("/attempts/%d?same=1", one.ID)); !strings.Contains(body, "was kept before") {
		t.Error("the page does not say so")
	}
}

// Decisions without scripts: what is accepted, changed and taken back stands in the
// store, and what does not fit is refused.
func TestDecide(t *testing.T) {
	st := newStore(t, filepath.Join(t.TempDir(), "attempts.db"))
	a := keepText(t, st, "S-1.srt", "that is all", store.Details{Student: "S-1"})
	c := newClient(t, newServer(t, st, Options{}))
	m, err := st.Marks(t.Context(), a.ID)
	if err != nil {
		t.Fatal(err)
	}
	item := m.Machine.Items[0]
	path := fmt.Sprintf("/attempts/%d/marks", a.ID)
	send := func(item string, mark rubric.Mark, why string, seen int, marked string) (int, string) {
		res, body := c.post(path, url.Values{"item": {item}, "mark": {string(mark)}, "why": {why}, "seen": {fmt.Sprint(seen)}, "marked": {marked}})
		return res.StatusCode, body
	}
	if code, body := send(item.ID, item.Mark, "", 0, a.Marked); code != http.StatusUnprocessableEntity || !strings.Contains(body, "Give your id first") {
		t.Errorf("by nobody: %d", code)
	}
	if res, _ := c.post("/who", url.Values{"who": {"  "}}); res.StatusCode != http.StatusUnprocessableEntity {
		t.Errorf("an empty id: %d", res.StatusCode)
	}
	if res, _ := c.post("/who", url.Values{"who": {"I-03 é+%"}, "to": {"//evil.example"}}); res.Header.Get("Location") != "/" {
		t.Errorf("sent to %q", res.Header.Get("Location"))
	}
	other := rubric.Partly
	if item.Mark == other {
		other = rubric.Said
	}
	for _, x := range []struct {
		reason    string
		item      string
		mark      rubric.Mark
		why       string
		seen      int
		marked    string
		code      int
		says      string
		kept      int // corrections afterwards
		standMark rubric.Mark
	}{
		{"accepted", item.ID, item.Mark, "  not kept ", 0, a.Marked, 303, "", 1, item.Mark},
		{"changed without a reason", item.ID, other, " ", 1, a.Marked, 422, "Why is the mark another?", 1, item.Mark},
		{"changed", item.ID, other, "heard it", 1, a.Marked, 303, "", 2, other},
		{"from a window that has not seen that", item.ID, item.Mark, "", 1, a.Marked, 409, "meanwhile I-03 é+% decided", 2, other},
		{"after it was marked anew", item.ID, item.Mark, "", 2, "2001-01-01T00:00:00Z", 409, "was marked anew", 2, other},
		{"taken back", item.ID, "", "", 2, a.Marked, 303, "", 3, ""},
		{"no item", "cab.no-such", rubric.Said, "x", 3, a.Marked, 422, "no item", 3, ""},
		{"no mark", item.ID, "great", "x", 3, a.Marked, 422, "unknown mark", 3, ""},
		{"a reason without end", item.ID, other, strings.Repeat("x", 201), 3, a.Marked, 422, "Shorter", 3, ""},
	} {
		code, body := send(x.item, x.mark, x.why, x.seen, x.marked)
		m, err := st.Marks(t.Context(), a.ID)
		if err != nil {
			t.Fatal(err)
		}
		if code != x.code || !strings.Contains(html.UnescapeString(body), x.says) || len(m.Given) != x.kept || m.Given[len(m.Given)-1].Mark != x.standMark {
			t.Errorf("%s: %d, %d corrections, the last %+v", x.reason, code, len(m.Given), m.Given[len(m.Given)-1])
		}
	}
	if m, err := st.Marks(t.Context(), a.ID); err != nil || m.Given[0].Why != "" || m.Given[1].Why != "heard it" || m.Given[0].Who != "I-03 é+%" {
		t.Errorf("%+v, %v", m.Given, err)
	}
}

// An error becomes a sentence, and the name of a file stays as it is.
func TestSentence(t *testing.T) {
	for _, x := range []struct{ reason, text, name, want string }{
		{"an error", "no words at all", "", "No words at all."},
		{"a full stop", "that is all.", "", "That is all."},
		{"the name of the upload", "x.png: no text", "x.png", "x.png: no text."},
		{"a name with a space", "my drive.png: no text", "my drive.png", "my drive.png: no text."},
		{"a name without an ending", "drive: no text", "drive", "drive: no text."},
		{"another file", "attempts.db: locked", "x.png", "attempts.db: locked."},
		{"an umlaut", "öl fehlt", "", "Öl fehlt."},
		{"nothing", "", "", "."},
	} {
		if got := sentence(x.text, x.name); got != x.want {
			t.Errorf("%s: %q, want %q", x.reason, got, x.want)
		}
	}
}

// Lists and classes show what the store has.
func TestListAndClass(t *testing.T) {
	st := newStore(t, filepath.Join(t.TempDir(), "attempts.db"))
	a := keepText(t, st, "S-1.srt", "one", store.Details{Student: "S-1", Cohort: "fall", Day: "2026-11-25"})
	keepText(t, st, "S-2.srt", "my landing gear is not bent", store.Details{Student: "S-2", Cohort: "spring", Day: "2026-11-26"})
	c := newClient(t, newServer(t, st, Options{}))
	for _, x := range []struct{ path, has, lacks string }{
		{"/", "2 attempts", ""},
		{"/?cohort=fall", ">S-1</a>", ">S-2</a>"},
		{"/?from=2026-11-26", ">S-2</a>", ">S-1</a>"},
		{"/?to=nonsense", "Write the day as", ""},
		{"/?student=S-3", "No attempt is like that.", ">S-1</a>"},
		{"/class", "<option>fall</option>", "Teach tomorrow"},
		{"/class?cohort=fall", "0 of 1 students are ready", ">S-2</a>"},
		{"/class?cohort=fall", fmt.Sprintf("not right in one of the last %d attempts", cohort.DrillCleared), ""},
		{"/student?id=S-1", "To practice first", ""},
		{"/attempts/1?open=rear.tape", `data-item="rear.tape"`, ""},
	} {
		res, body := c.get(x.path)
		if res.StatusCode != http.StatusOK || !strings.Contains(body, x.has) || x.lacks != "" && strings.Contains(body, x.lacks) {
			t.Errorf("%s: %d, want %q and not %q", x.path, res.StatusCode, x.has, x.lacks)
		}
	}
	for path, to := range map[string]string{"/find?q=S-1": "/student?id=S-1", "/find?q=1": "/attempts/1", "/find?q=": "/", "/next": ""} {
		res, _ := c.get(path)
		if got := res.Header.Get("Location"); res.StatusCode != http.StatusSeeOther || to != "" && got != to {
			t.Errorf("%s leads to %q", path, got)
		}
	}
	for _, path := range []string{"/attempts/7", "/attempts/x", "/student?id=S-9", "/class?cohort=none", "/find?q=nobody", "/reports/items?cohort=none", "/add/nojob", fmt.Sprintf("/attempts/%d/recording", a.ID), fmt.Sprintf("/attempts/%d/entry?item=x", a.ID)} {
		if res, body := c.get(path); res.StatusCode != http.StatusNotFound || !strings.Contains(body, "did not work") {
			t.Errorf("%s: %d", path, res.StatusCode)
		}
	}
}

// A lesson counts the students by their last cohort.DrillCleared attempts, as the page says.
func TestLessonsCount(t *testing.T) {
	form := &cohort.Form{ID: "f", Items: []cohort.Column{{ID: "horn"}, {ID: "tire"}}}
	for _, x := range []struct {
		reason string
		marks  [][]string // by student and attempt
		want   map[string]int
	}{
		{"one attempt", [][]string{{"ms"}, {"mm"}, {"sp"}}, map[string]int{"horn": 2, "tire": 2}},
		{"right in the last one alone", [][]string{{"ms", "ss"}, {"ws", "ss"}}, map[string]int{"horn": 2}},
		{"right in the last two", [][]string{{"ms", "ss", "ss"}, {"ms", "ss"}}, map[string]int{"horn": 1}},
		{"all of it right", [][]string{{"ss"}}, map[string]int{}},
	} {
		var list []*seenStudent
		for i, attempts := range x.marks {
			var recs []cohort.Record
			for k, marks := range attempts {
				recs = append(recs, cohort.Record{Name: fmt.Sprint(i, "-", k), Student: fmt.Sprint("S-", i), Number: k + 1, Form: form, Marks: marks, Details: &cohort.Details{}})
			}
			p, err := cohort.ProgressOf(recs, cohort.DefaultReadyRule)
			if err != nil {
				t.Fatal(err)
			}
			list = append(list, &seenStudent{ID: p.Student, Progress: p})
		}
		got := map[string]int{}
		for _, l := range lessons(list) {
			got[l.ID] = len(l.Students)
		}
		if !maps.Equal(got, x.want) {
			t.Errorf("%s: %v, want %v", x.reason, got, x.want)
		}
	}
}

// The reports of the school are those that the commands write, under their own
// policy, with links back.
func TestReports(t *testing.T) {
	st := newStore(t, filepath.Join(t.TempDir(), "attempts.db"))
	for i := range 6 {
		keepText(t, st, fmt.Sprintf("S-%d.srt", i), fmt.Sprint("one ", i), store.Details{Student: fmt.Sprint("S-", i), Cohort: []string{"fall", "spring"}[i%2], Site: `yard "1" <b>`})
	}
	c := newClient(t, newServer(t, st, Options{}))
	for _, x := range []struct {
		path string
		code int
		says string
	}{
		{"/reports/compare?by=cohort", 200, "spring"},
		{"/reports/compare?by=cohort&attempts=all&paired=on", 422, ""},
		{"/reports/compare?by=site", 422, "group"},
		{"/reports/compare?by=date", 422, "Give the day that parts before from after."},
		{"/reports/compare?by=moon", 400, "is no choice for by"},
		{"/reports/items?cohort=fall&attempts=last", 200, `href="/school?cohort=fall"`},
		{"/reports/items?attempts=some", 400, "is no choice for attempts"},
		{"/reports/items?from=x", 422, "Write the day as"},
		{"/reports/items?cohort=summer", 404, "No attempt is like that."},
		{"/reports/progress?student=S-1", 200, `href="/student?id=S-1"`},
		{"/reports/progress", 404, ""},
		{"/reports/other", 404, ""},
		{"/school?cohort=fall", 200, "<option selected>fall</option>"},
	} {
		res, body := c.get(x.path)
		if res.StatusCode != x.code || !strings.Contains(html.UnescapeString(body), x.says) {
			t.Errorf("%s: %d, want %d with %q", x.path, res.StatusCode, x.code, x.says)
		}
		if csp := res.Header.Get("Content-Security-Policy"); x.code == 200 && strings.HasPrefix(x.path, "/reports") && (!strings.Contains(csp, "style-src 'sha256-") || strings.Contains(csp, "script-src") || !strings.HasSuffix(csp, "frame-ancestors 'none'")) {
			t.Errorf("%s: policy %s", x.path, csp)
		}
		if strings.Contains(body, "<b>\"") || strings.Contains(body, `"1" <b>`) {
			t.Errorf("%s: a name gets through", x.path)
		}
	}
}

// A recording is served in parts, as players ask for it.
func TestRecording(t *testing.T) {
	st := newStore(t, filepath.Join(t.TempDir(), "attempts.db"))
	c := newClient(t, newServer(t, st, Options{}))
	wav := toneWAV(400)
	a := c.keep(st, part{"transcript", "S-7.srt", srt("a")}, part{"recording", "S-7.wav", string(wav)}, part{"keep", "", "on"})
	r := c.request("GET", fmt.Sprintf("/attempts/%d/recording", a.ID), nil)
	r.Header.Set("Range", "bytes=1048570-1048589")
	res, body := c.do(r)
	if res.StatusCode != http.StatusPartialContent || body != string(wav[1048570:1048590]) || res.Header.Get("Content-Type") != "audio/wav" {
		t.Errorf("a part: %d %q %v", res.StatusCode, body, res.Header)
	}
	if _, body := c.get(fmt.Sprintf("/attempts/%d/recording", a.ID)); body != string(wav) {
		t.Errorf("the whole: %d bytes of %d", len(body), len(wav))
	}
	if _, body := c.get(fmt.Sprintf("/attempts/%d", a.ID)); !strings.Contains(body, `class="trace"`) {
		t.Error("the review shows no loudness")
	}
}

// The items that most students have to practice come first, critical ones before
// others among as many.
func TestLessons(t *testing.T) {
	drill := func(id string, critical bool, said ...string) cohort.Drill {
		d := cohort.Drill{Column: cohort.Column{ID: id, Critical: critical}}
		for _, n := range said {
			d.Numbers = append(d.Numbers, cohort.WrongNumber{Item: id + "/n", Said: n})
		}
		return d
	}
	list := []*seenStudent{
		{ID: "S-1", Progress: &cohort.Progress{Drill: []cohort.Drill{drill("a", false), drill("b", true), drill("c", false, "2", "3")}}},
		{ID: "S-2", Progress: &cohort.Progress{Drill: []cohort.Drill{drill("c", false, "3"), drill("d", false)}}},
	}
	var got []string
	for _, l := range lessons(list) {
		got = append(got, fmt.Sprintf("%s%v%d", l.ID, l.Students, len(l.Numbers)))
	}
	if want := []string{"c[S-1 S-2]2", "b[S-1]0", "a[S-1]0", "d[S-2]0"}; !slices.Equal(got, want) {
		t.Errorf("%q, want %q", got, want)
	}
}

// What is played of a missed item lies between its neighbors on the sheet.
func TestStretch(t *testing.T) {
	said := func(id string, at float64) rubric.ItemMark {
		return rubric.ItemMark{ID: id, Section: "cab", Mark: rubric.Said, Start: at, Named: []rubric.Evidence{{Start: at, End: at + 2}}}
	}
	missed := rubric.ItemMark{ID: "m", Section: "cab", Mark: rubric.Missed, Start: -1}
	for _, x := range []struct {
		reason      string
		items       []rubric.ItemMark
		of          int
		from, until float64
	}{
		{"its own words", []rubric.ItemMark{said("a", 10)}, 0, 8.5, 12.8},
		{"at the very beginning", []rubric.ItemMark{said("a", 0.5)}, 0, 0, 3.3},
		{"between two", []rubric.ItemMark{said("a", 10), missed, said("b", 16)}, 1, 10.5, 16.8},
		{"between two far from each other", []rubric.ItemMark{said("a", 10), missed, said("b", 100)}, 1, 10.5, 25.5},
		{"the first one", []rubric.ItemMark{missed, said("b", 20)}, 0, 11, 20.8},
		{"the last one", []rubric.ItemMark{said("a", 10), missed}, 1, 10.5, 20.3},
		{"neighbors out of order", []rubric.ItemMark{said("a", 50), missed, said("b", 10)}, 1, 50.5, 60.3},
		{"nothing around", []rubric.ItemMark{missed}, 0, -1, -1},
	} {
		v := &reviewer{o: &opened{Marks: store.Marks{Corrected: &rubric.Sheet{Items: x.items}}}, position: map[string]int{}}
		for i, it := range x.items {
			v.position[it.ID] = i
		}
		from, until, _ := v.stretch(x.items[x.of])
		if fmt.Sprintf("%.1f %.1f", from, until) != fmt.Sprintf("%.1f %.1f", x.from, x.until) {
			t.Errorf("%s: %.1f to %.1f, want %.1f to %.1f", x.reason, from, until, x.from, x.until)
		}
	}
}
