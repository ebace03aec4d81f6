package align

import (
	"encoding/csv"
	"os"
	"path/filepath"
	"sort"
	"strings"
	"testing"

	"markaround/rubric"
	"markaround/speech"
)

// gold reads a person's marks: attempt → item or item/check → mark.
func gold(t testing.TB, files ...string) map[string]map[string]string {
	out := map[string]map[string]string{}
	for _, name := range files {
		f, err := os.Open(name)
		if err != nil {
			t.Fatal(err)
		}
		r := csv.NewReader(f)
		r.FieldsPerRecord = -1
		r.Comment = '#'
		rows, err := r.ReadAll()
		f.Close()
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		for _, row := range rows[1:] {
			if out[row[0]] == nil {
				out[row[0]] = map[string]string{}
			}
			out[row[0]][row[1]] = row[2]
		}
	}
	return out
}

// TestAttempts shows, with -v, where the matcher and the gold marks of the open
// attempts part. Set MARKAROUND_ASIDE=1 to look at the ones set aside instead.
func TestAttempts(t *testing.T) {
	dir := "../testdata/attempts"
	if os.Getenv("MARKAROUND_ASIDE") != "" {
		dir += "/aside"
	}
	goldFiles, _ := filepath.Glob(dir + "/gold-*.csv")
	marks := gold(t, goldFiles...)
	r, err := rubric.Load("class-a")
	if err != nil {
		t.Fatal(err)
	}
	m, err := New(r)
	if err != nil {
		t.Fatal(err)
	}
	var ids []string
	for id := range marks {
		ids = append(ids, id)
	}
	sort.Strings(ids)
	total, right := 0, 0
	for _, id := range ids {
		files, _ := filepath.Glob(dir + "/" + id + ".*")
		if len(files) == 0 {
			t.Logf("%s: no transcript", id)
			continue
		}
		tr, err := speech.ReadFile(files[0], speech.Options{})
		if err != nil {
			t.Fatal(err)
		}
		s := m.Grade(tr, Options{})
		n, ok := 0, 0
		for _, it := range s.Items {
			want, has := marks[id][it.ID]
			if !has {
				continue
			}
			n++
			if want == string(it.Mark) {
				ok++
				continue
			}
			t.Logf("%s %s: is %s, want %s (%.2f): %s", id, it.ID, it.Mark, want, it.Confidence, it.Reason)
		}
		for _, f := range s.Findings {
			key := string(f.Kind) + ":" + f.ID
			if marks[id][key] == "" {
				t.Logf("%s FINDING not in gold %s: %s", id, key, f.Text)
			}
			delete(marks[id], key)
		}
		for key := range marks[id] {
			if strings.Contains(key, ":") {
				t.Logf("%s FINDING lacking %s", id, key)
			}
		}
		t.Logf("%s: %d of %d", id, ok, n)
		total += n
		right += ok
	}
	t.Logf("all: %d of %d, %.3f", right, total, float64(right)/float64(total))
	if float64(right) < 0.9*float64(total) {
		t.Errorf("%d of %d marks agree, want at least nine in ten", right, total)
	}
}
