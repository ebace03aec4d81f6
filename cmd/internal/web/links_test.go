package web

import (
	"html"
	"net/http"
	"net/url"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"markaround/cmd/internal/store"
)

var linkTo = regexp.MustCompile(`href="(/[^"#]*)`)

// Every link of the desk leads to a page, about the student or cohort that it
// names, whatever characters an id has.
func TestLinks(t *testing.T) {
	st := newStore(t, filepath.Join(t.TempDir(), "attempts.db"))
	ids := []string{"S-090", "Jörg Ä", "a&b", "#1", "100% <i>", "x+y=z?/;", `"q" 'r'`}
	cohorts := []string{"C", "fall & winter", "Süd #2"}
	const doubtful = "I check the air gauge and the oil pressure gauge. the horn and the wipers, and nothing leaks"
	for i, id := range ids {
		keepText(t, st, id[:1]+"x.srt", doubtful, store.Details{Student: id, Cohort: cohorts[i%len(cohorts)]})
	}
	c := newClient(t, newServer(t, st, Options{}))
	seen := map[string]bool{}
	missing := []string{"/attempts/", "/student?id=", "/class?cohort=", "/?cohort=", "/school?cohort=", "/reports/items?cohort=", "/reports/progress?student="}
	for next := []string{"/", "/class", "/school"}; len(next) > 0; {
		path := next[0]
		next = next[1:]
		if seen[path] {
			continue
		}
		seen[path] = true
		missing = slices.DeleteFunc(missing, func(start string) bool { return strings.HasPrefix(path, start) && len(path) > len(start) })
		u, err := url.Parse(path)
		if err != nil {
			t.Fatal(err)
		}
		for key, v := range u.Query() {
			var known []string
			switch key {
			case "id", "student":
				known = ids
			case "cohort":
				known = append(cohorts, "")
			case "attempts":
				known = []string{"last"}
			}
			if !slices.Contains(known, v[0]) {
				t.Errorf("%s: %q is no %s", path, v[0], key)
			}
		}
		res, body := c.get(path)
		if to := res.Header.Get("Location"); res.StatusCode == http.StatusSeeOther && to != "" {
			next = append(next, to)
			continue
		}
		if res.StatusCode != http.StatusOK {
			t.Errorf("%s: %d", path, res.StatusCode)
		}
		if strings.HasPrefix(path, "/class?") && !strings.Contains(body, "students are ready") {
			t.Errorf("%s is empty", path)
		}
		for _, m := range linkTo.FindAllStringSubmatch(body, -1) {
			next = append(next, html.UnescapeString(m[1]))
		}
	}
	if len(missing) > 0 {
		t.Errorf("no link was met that begins with %q", missing)
	}
}
