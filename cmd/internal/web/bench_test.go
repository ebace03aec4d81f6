package web

import (
	"database/sql"
	"fmt"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"markaround/cmd/internal/store"
)

// bigStore makes a store of n attempts out of four marked ones: 100 students a
// class, four attempts a student. The last attempts have sheets and transcripts, as
// many as fit into 100 MB; the rows that lists and statistics read are there of all.
func bigStore(b *testing.B, n int) (st *store.Store, last int) {
	b.Helper()
	path := filepath.Join(b.TempDir(), "attempts.db")
	st = newStore(b, path)
	for i, f := range []string{"a6.json", "b1.srt", "f7.vtt", "h3.json"} {
		keepFile(b, st, attemptsFolder+f, store.Details{Student: fmt.Sprint("S-", i), Cohort: "first"})
	}
	db, err := sql.Open("sqlite", path)
	if err != nil {
		b.Fatal(err)
	}
	defer db.Close()
	for _, text := range []string{
		`PRAGMA synchronous = off`,
		`CREATE TEMP TABLE n AS WITH RECURSIVE n(i) AS (SELECT 5 UNION ALL SELECT i + 1 FROM n WHERE i < ` + strconv.Itoa(n) + `) SELECT i FROM n`,
		`INSERT INTO students SELECT DISTINCT 'T-' || (i / 4), 'class ' || (i / 400), 'yard ' || (i / 4000), 'I-' || (i / 800) FROM n`,
		`INSERT INTO attempts (id, name, student, number, day, cohort, site, instructor, vehicle, source, transcript_hash, recording_hash, marking, rubric, rubric_version,
			rubric_hash, rubric_with, tool, kept, marked, points, points_of, pass, seconds, layout, marks, details, listen)
			SELECT i, 'T-' || (i / 4) || '_' || (i % 4), 'T-' || (i / 4), i % 4 + 1, date('2020-01-01', '+' || (i / 50) || ' days'), '', '', '', '', source, 'hash ' || i, '', marking, rubric, rubric_version,
			rubric_hash, rubric_with, tool, kept, marked, points, points_of, pass, seconds, layout, marks, details, CASE WHEN i % 40 = 0 THEN listen ELSE 0 END
			FROM n JOIN attempts ON id = i % 4 + 1`,
		`INSERT INTO sheets SELECT i, rule, sheet FROM n JOIN sheets ON attempt = i % 4 + 1 WHERE i > (SELECT MAX(i) - 2500 FROM n)`,
		`INSERT INTO transcripts SELECT i, text, sound FROM n JOIN transcripts ON attempt = i % 4 + 1 WHERE i > (SELECT MAX(i) - 2500 FROM n)`,
	} {
		if _, err := db.Exec(text); err != nil {
			b.Fatalf("%.60s: %v", text, err)
		}
	}
	if info, err := os.Stat(path); err == nil {
		b.Logf("%d attempts, %d MB", n, info.Size()>>20)
	}
	return st, n
}

// BenchmarkPages answers for every page from a store of 100,000 attempts, or
// MARKAROUND_ATTEMPTS of them, and reports the median and the slowest twentieth, and
// the processor's time, which other work on the machine does not lengthen.
func BenchmarkPages(b *testing.B) {
	n := 100_000
	if text := os.Getenv("MARKAROUND_ATTEMPTS"); text != "" {
		var err error
		if n, err = strconv.Atoi(text); err != nil {
			b.Fatal(err)
		}
	}
	st, last := bigStore(b, n)
	s := newServer(b, st, Options{})
	for _, page := range []struct{ name, path string }{
		{"list", "/"}, {"list-later", "/?after=d-ID"}, {"list-class", "/?cohort=class+CLASS"}, {"list-student", "/?student=T-STUDENT"}, {"list-day", "/?from=2021-01-01&to=2021-01-31"},
		{"add", "/add"}, {"review", "/attempts/ID"}, {"state", "/attempts/ID/state?seen=0"}, {"sheet", "/attempts/ID/sheet"}, {"replay", "/attempts/ID/replay"},
		{"student", "/student?id=T-STUDENT"}, {"class", "/class?cohort=class+CLASS"}, {"find", "/find?q=T-STUDENT"}, {"school", "/school"},
		{"items", "/reports/items?cohort=class+CLASS"}, {"progress", "/reports/progress?student=T-STUDENT"},
	} {
		b.Run(page.name, func(b *testing.B) {
			var took []time.Duration
			busy := cpu(b)
			for i := 0; b.Loop(); i++ {
				id := last - i%2000
				path := strings.NewReplacer("ID", fmt.Sprint(id), "CLASS", fmt.Sprint(id/400-i%20), "STUDENT", fmt.Sprint(id/4)).Replace(page.path)
				r := httptest.NewRequest("GET", "http://localhost"+path, nil)
				w := httptest.NewRecorder()
				began := time.Now()
				s.ServeHTTP(w, r)
				took = append(took, time.Since(began))
				if w.Code != http.StatusOK && w.Code != http.StatusSeeOther {
					b.Fatalf("%s: %d %s", r.URL, w.Code, w.Body)
				}
			}
			b.ReportMetric(float64((cpu(b)-busy).Microseconds())/1000/float64(len(took)), "cpu-ms")
			slices.Sort(took)
			b.ReportMetric(float64(took[len(took)/2].Microseconds())/1000, "median-ms")
			b.ReportMetric(float64(took[len(took)*19/20].Microseconds())/1000, "p95-ms")
		})
	}
}
