package store

import (
	"bufio"
	"context"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"
)

// TestMain lets the test binary be the process that is killed.
func TestMain(m *testing.M) {
	if where := os.Getenv("MARKAROUND_KILL_ME"); where != "" {
		keepUntilKilled(where)
	}
	os.Exit(m.Run())
}

// keepUntilKilled keeps one attempt after the other, one to three at a time, and
// says of each on standard output when it is kept.
func keepUntilKilled(where string) {
	ctx := context.Background()
	s, err := Open(ctx, where, Options{Create: true})
	for i := 0; err == nil; i++ {
		var batch []Entry
		for k := range 1 + i%3 {
			batch = append(batch, entry(fmt.Sprintf("a%d-%d-%d", os.Getpid(), i, k), Details{Student: fmt.Sprint("S-", i%7)}))
		}
		var list []Kept
		if list, err = s.Keep(ctx, batch...); err == nil {
			for _, k := range list {
				fmt.Println(k.Name)
			}
		}
		if i%5 == 4 && err == nil {
			err = s.Correct(ctx, order(list[0].ID, "cab.horn", "said"))
		}
		if i%10 == 9 && err == nil {
			err = s.checkpoint(ctx) // a moment like no other to be killed at
		}
	}
	fmt.Fprintln(os.Stderr, err)
	os.Exit(1)
}

// A process that is killed loses no attempt that it has said is kept, and leaves
// a store that is whole, at whatever moment. 8 times, or as often as
// MARKAROUND_KILLS says.
func TestKilled(t *testing.T) {
	kills := 8
	if n, err := strconv.Atoi(os.Getenv("MARKAROUND_KILLS")); err == nil {
		kills = n
	}
	path := filepath.Join(t.TempDir(), "attempts.db")
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	kept := map[string]bool{}
	for n := range kills {
		cmd := exec.Command(self)
		cmd.Env = append(os.Environ(), "MARKAROUND_KILL_ME="+path)
		var errs strings.Builder
		cmd.Stderr = &errs
		out, err := cmd.StdoutPipe()
		if err != nil {
			t.Fatal(err)
		}
		if err := cmd.Start(); err != nil {
			t.Fatal(err)
		}
		// From before the store is made, now and then, to many attempts later.
		time.AfterFunc(time.Duration(rand.ExpFloat64()*float64(120*time.Millisecond)), func() { cmd.Process.Kill() })
		said := 0
		for lines := bufio.NewScanner(out); lines.Scan(); said++ {
			kept[lines.Text()] = true
		}
		cmd.Wait()
		if errs.Len() > 0 {
			t.Fatalf("kill %d: it ended by itself: %s", n, errs.String())
		}
		checkWhole(t, path, kept)
	}
	t.Logf("killed %d times; %d attempts had been said to be kept", kills, len(kept))
	if len(kept) == 0 {
		t.Error("none was kept before a kill: the test shows nothing")
	}
}

func checkWhole(t *testing.T, path string, kept map[string]bool) {
	t.Helper()
	ctx := t.Context()
	s, err := Open(ctx, path, Options{Create: true})
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	if err := s.Check(ctx); err != nil {
		t.Fatal(err)
	}
	list, err := s.Summaries(ctx, Filter{})
	if err != nil {
		t.Fatal(err)
	}
	there := map[string]bool{}
	for i, a := range list {
		there[a.Name] = true
		if i < len(list)-20 { // older ones were looked at before
			continue
		}
		if _, err := s.Marks(ctx, a.ID); err != nil {
			t.Fatal(err)
		}
		if text, _, err := s.Transcript(ctx, a.ID); err != nil || !strings.Contains(string(text), a.Name) {
			t.Fatalf("transcript of %s: %q, %v", a.Name, text, err)
		}
	}
	for name := range kept {
		if !there[name] {
			t.Fatalf("attempt %s was said to be kept and is not", name)
		}
	}
}

// A full disk is said in one line; what was kept before is there, nothing of the
// call is, and the next one works once there is room. The disk is full here by
// SQLite's own limit on pages, which fails as the file system does.
func TestDiskFull(t *testing.T) {
	s, ctx := open(t, filepath.Join(t.TempDir(), "attempts.db")), t.Context()
	s.db.SetMaxOpenConns(1) // the limit is one of a connection
	mustKeep(t, s, entry("before", Details{Student: "S-1"}))
	limit := func(pages int) {
		if _, err := s.read().exec(ctx, fmt.Sprint(`PRAGMA max_page_count = `, pages)); err != nil {
			t.Fatal(err)
		}
	}
	var pages int
	if err := s.read().row(ctx, `PRAGMA page_count`).Scan(&pages); err != nil {
		t.Fatal(err)
	}
	limit(pages + 2)
	var batch []Entry
	for i := range 20 {
		e := entry(fmt.Sprint("full", i), Details{Student: "S-1"})
		e.Recording = noise(t, 20_000)
		batch = append(batch, e)
	}
	_, err := s.Keep(ctx, batch...)
	if err == nil || !strings.HasSuffix(err.Error(), "; the disk is full, nothing of it was kept; make room and run the command again") || strings.Contains(err.Error(), "\n") {
		t.Fatalf("full: %v", err)
	}
	if list := must[[]Attempt](t)(s.Attempts(ctx, Filter{})); len(list) != 1 {
		t.Errorf("%d attempts, want the one before", len(list))
	}
	if err := s.Check(ctx); err != nil {
		t.Error(err)
	}
	limit(1 << 20)
	if list, err := s.Keep(ctx, batch...); err != nil || len(list) != 20 {
		t.Errorf("after room was made: %d, %v", len(list), err)
	}
}
