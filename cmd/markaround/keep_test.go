package main

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strconv"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"markaround/cmd/internal/store"
)

// Whose attempt a file is, by its name.
func TestNameParts(t *testing.T) {
	for _, c := range []struct{ path, want, reason string }{
		{"rec/S-014.srt", "S-014 ", "the whole name"},
		{"S-014_2.srt", "S-014 ", "up to an underscore"},
		{"S-014 second try.srt", "S-014 ", "up to a space"},
		{"S-014_2026-11-25.srt", "S-014 2026-11-25", "a day"},
		{"2026-11-25 S-014.srt", "2026-11-25 2026-11-25", "the day first is taken for the student: --students says otherwise"},
		{"S-014_2026-02-30.srt", "S-014 ", "no day of the calendar"},
		{"S-014_12026-11-255.srt", "S-014 ", "figures of something else"},
		{"S-014.wav.srt", "S-014 ", "the ending that a recognizer leaves"},
		{"_S-014.srt", "_S-014 ", "an underscore in front"},
		{"-", " ", "standard input says nothing"},
	} {
		d := nameParts(input{path: c.path})
		if got := d.Student + " " + d.Day; got != c.want {
			t.Errorf("%s: %q gives %q, want %q", c.reason, c.path, got, c.want)
		}
	}
}

// Days that can hardly be meant.
func TestDayNotes(t *testing.T) {
	const amend = "; markaround amend ATTEMPT --date changes it"
	for _, c := range []struct {
		paths  []string
		given  string // by --date
		want   []string
		reason string
	}{
		{[]string{"S-1_2026-11-25.srt"}, "", nil, "today"},
		{[]string{"S-1.srt", "-"}, "", nil, "no day"},
		{[]string{"rec/S-1_2026-13-45.srt"}, "", []string{"rec/S-1_2026-13-45.srt: kept without a day, since there is none 2026-13-45" + amend}, "no such month"},
		{[]string{"S-1_2026-13-45.srt"}, "2026-11-20", nil, "the flag gives the day"},
		{[]string{"S-1.srt"}, "2031-01-01", []string{"S-1.srt: its day, 2031-01-01, is yet to come" + amend}, "years ahead"},
		{[]string{"S-1_2026-02-30.srt", "S-2_2026-11-26.srt", "S-3_2027-11-26.srt"}, "",
			[]string{"S-1_2026-02-30.srt: kept without a day, since there is none 2026-02-30" + amend, "S-2_2026-11-26.srt: its day, 2026-11-26, is yet to come (and 1 more)" + amend}, "both"},
	} {
		var inputs []input
		var list []store.Details
		for _, p := range c.paths {
			in := input{path: p}
			inputs, list = append(inputs, in), append(list, over(store.Details{Day: c.given}, nameParts(in)))
		}
		if got := dayNotes(inputs, list, "2026-11-25"); !slices.Equal(got, c.want) {
			t.Errorf("%s: got %q, want %q", c.reason, got, c.want)
		}
	}
}

// Where the store is, when it is not said.
func TestStorePlace(t *testing.T) {
	home := t.TempDir()
	for _, c := range []struct{ flag, env, xdg, want, reason string }{
		{"a.db", "b.db", "/data", "a.db", "the flag goes first"},
		{"", "postgres://x/y", "/data", "postgres://x/y", "then the environment"},
		{"", "", home, filepath.Join(home, "markaround", "attempts.db"), "then the user's data"},
		{"", "", "data", filepath.Join(home, ".local", "share", "markaround", "attempts.db"), "a relative folder is to be ignored by the XDG specification"},
		{"", "", "", filepath.Join(home, ".local", "share", "markaround", "attempts.db"), "its default"},
	} {
		if runtime.GOOS != "linux" && c.env == "" && c.flag == "" {
			continue // other systems have other folders
		}
		t.Setenv("MARKAROUND_STORE", c.env)
		t.Setenv("XDG_DATA_HOME", c.xdg)
		t.Setenv("HOME", home)
		if got, _, err := (storeFlag{c.flag}).place(); err != nil || got != c.want {
			t.Errorf("%s: %s, %v; want %s", c.reason, got, err, c.want)
		}
	}
}

// Results come in order, and what waits for a slow one is bounded.
func TestInOrder(t *testing.T) {
	const n = 1000
	var most, taken atomic.Int64
	slow := make(chan bool)
	go func() {
		time.Sleep(30 * time.Millisecond)
		close(slow)
	}()
	next := 0
	for i := range inOrder(t.Context(), n, func(i int) int {
		if i == 3 {
			<-slow
		}
		most.Store(max(most.Load(), int64(i)-taken.Load()))
		return i
	}) {
		if i != next {
			t.Fatalf("got %d, want %d", i, next)
		}
		next++
		taken.Store(int64(i))
	}
	if next != n || most.Load() > ahead+1 {
		t.Errorf("%d results, the farthest %d ahead of those taken", next, most.Load())
	}
	for i := range inOrder(t.Context(), n, func(i int) int { return i }) {
		if i == 5 {
			break // and nobody is left waiting
		}
	}
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	got := 0
	for range inOrder(ctx, n, func(i int) int { return i }) {
		got++
	}
	if got > ahead {
		t.Errorf("%d results after a cancel", got)
	}
}

// BenchmarkGradeAndKeep marks and keeps a folder of transcripts: the open attempts
// over and over, each with a line of its own. There are as many as
// MARKAROUND_SCALE says, else 200. It prints how many it does in a second and the
// most memory that the heap took.
//
//	MARKAROUND_SCALE=10000 go test ./cmd/markaround -run '^$' -bench GradeAndKeep -benchtime 1x
func BenchmarkGradeAndKeep(b *testing.B) {
	n := 200
	if v, err := strconv.Atoi(os.Getenv("MARKAROUND_SCALE")); err == nil {
		n = v
	}
	open, err := filepath.Glob("../../testdata/attempts/*.srt")
	if err != nil || len(open) == 0 {
		b.Fatal(err)
	}
	for b.Loop() {
		b.StopTimer()
		dir := b.TempDir()
		folder := filepath.Join(dir, "in")
		if err := os.Mkdir(folder, 0o700); err != nil {
			b.Fatal(err)
		}
		for i := range n {
			data, err := os.ReadFile(open[i%len(open)])
			if err != nil {
				b.Fatal(err)
			}
			data = fmt.Appendf(bytes.TrimSpace(data), "\n\n9999\n01:20:00,000 --> 01:20:02,000\nthat was number %d\n", i)
			if err := os.WriteFile(filepath.Join(folder, fmt.Sprintf("S-%d_%d.srt", i%(n/3+1), i)), data, 0o600); err != nil {
				b.Fatal(err)
			}
		}
		var most atomic.Uint64
		done := make(chan bool)
		go func() {
			for tick := time.Tick(50 * time.Millisecond); ; {
				select {
				case <-tick:
					var m runtime.MemStats
					runtime.ReadMemStats(&m)
					most.Store(max(most.Load(), m.HeapInuse))
				case <-done:
					return
				}
			}
		}()
		b.StartTimer()
		began := time.Now()
		var errs strings.Builder
		path := filepath.Join(dir, "attempts.db")
		if code := run(context.Background(), []string{"grade", folder, "--keep", "--store", path}, nil, io.Discard, &errs); code != 0 {
			b.Fatal(errs.String())
		}
		b.ReportMetric(float64(n)/time.Since(began).Seconds(), "attempts/s")
		close(done)
		b.ReportMetric(float64(most.Load())/(1<<20), "MiB-heap")
		b.StopTimer()
		st, err := store.Open(b.Context(), path, store.Options{})
		if err != nil {
			b.Fatal(err)
		}
		began = time.Now()
		list, err := st.Summaries(b.Context(), store.Filter{})
		if err != nil || len(list) != n {
			b.Fatalf("%d of %d kept: %v", len(list), n, err)
		}
		b.ReportMetric(time.Since(began).Seconds(), "s-summaries")
		if info, err := os.Stat(path); err == nil {
			b.ReportMetric(float64(info.Size())/float64(n)/1024, "KiB-each")
		}
		st.Close()
		b.StartTimer()
	}
}
