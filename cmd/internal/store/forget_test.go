package store

import (
	"bytes"
	"crypto/rand"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"markaround/rubric"
)

// noise is a made-up recording.
func noise(t testing.TB, size int) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "noise.wav")
	data := make([]byte, size)
	rand.Read(data)
	if err := os.WriteFile(path, data, 0o600); err != nil {
		t.Fatal(err)
	}
	return path
}

func TestRecording(t *testing.T) {
	onEach(t, func(t *testing.T, where string) {
		s, ctx := open(t, where), t.Context()
		path := noise(t, 2*recordingPart+77)
		want, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		e := entry("a1", Details{Student: "S-1"})
		mustKeep(t, s, e)
		var got bytes.Buffer
		if err := s.Recording(ctx, 1, &got); err == nil || !strings.Contains(err.Error(), "no recording of attempt 1 is kept") {
			t.Errorf("none: %v", err)
		}
		// It is added when the same attempt comes with it.
		e = entry("a1", Details{Student: "S-1"})
		e.Recording = path
		if k := mustKeep(t, s, e)[0]; k.New || k.RecordingHash != Hash(want) {
			t.Errorf("kept %+v", k)
		}
		if err := s.Recording(ctx, 1, &got); err != nil || !bytes.Equal(got.Bytes(), want) {
			t.Errorf("%d bytes come back of %d, %v", got.Len(), len(want), err)
		}
		// A recording that cannot be read keeps nothing.
		e = entry("a2", Details{Student: "S-1"})
		e.Recording = path + ".no"
		if _, err := s.Keep(ctx, e); err == nil || !strings.Contains(err.Error(), "the recording cannot be copied: no such file or directory") {
			t.Errorf("a recording that is not there: %v", err)
		}
		if list := must[[]Attempt](t)(s.Attempts(ctx, Filter{})); len(list) != 1 {
			t.Errorf("%d attempts", len(list))
		}
	})
}

// What is forgotten is in none of the store's files: not the id, not the words of
// the transcript, not the packed bytes of either, not the recording. That they
// were there before shows that the search can find them.
func TestForget(t *testing.T) {
	s, ctx := open(t, filepath.Join(t.TempDir(), "attempts.db")), t.Context()
	sound := noise(t, 300_000)
	var theirs []Entry
	for i := range 12 {
		e := entry(fmt.Sprint("other", i), Details{Student: fmt.Sprint("S-01", i)})
		theirs = append(theirs, e)
	}
	e := entry("walkaround", Details{Student: "S-0147", Cohort: "autumn-cohort-of-one"})
	e.Recording = sound
	mustKeep(t, s, append(theirs, e)...)
	if err := s.Correct(ctx, Order{13, rubric.Correction{Item: "cab.horn", Mark: rubric.Said, Why: "a remark that nobody else made", Who: "I-03"}}); err != nil {
		t.Fatal(err)
	}
	if _, err := s.PutStudents(ctx, []Student{{ID: "S-01477"}}); err != nil { // whose id holds the other
		t.Fatal(err)
	}
	packed := func() (list [][]byte) {
		for _, text := range []string{`SELECT text FROM transcripts WHERE attempt = 13`, `SELECT sheet FROM sheets WHERE attempt = 13`} {
			var data []byte
			if err := s.read().row(ctx, text).Scan(&data); err != nil {
				t.Fatal(err)
			}
			list = append(list, data[20:60])
		}
		return list
	}()
	recording, err := os.ReadFile(sound)
	if err != nil {
		t.Fatal(err)
	}
	secrets := append(packed, []byte("S-0147\x00"), []byte("autumn-cohort-of-one"), []byte("a remark that nobody else made"), []byte("walkaround"), recording[5000:5040])
	secrets[2] = []byte("S-0147")
	inFiles := func(secret []byte) (n int) {
		for _, path := range s.files() {
			data, err := os.ReadFile(path)
			if err != nil {
				t.Fatal(err)
			}
			n += bytes.Count(bytes.ReplaceAll(data, []byte("S-01477"), nil), secret)
		}
		return n
	}
	for i, secret := range secrets {
		if inFiles(secret) == 0 {
			t.Errorf("secret %d is not in the files before: the test sees nothing", i)
		}
	}
	f, err := s.Forget(ctx, "S-0147")
	if err != nil {
		t.Fatal(err)
	}
	for i, secret := range secrets {
		if n := inFiles(secret); n > 0 {
			t.Errorf("secret %d, %q, is in the files %d times", i, secret, n)
		}
	}
	if f.Before < 10 || f.After != 0 || f.Corrections != 1 || len(f.Attempts) != 1 || f.Bytes == 0 || !slices.Contains(f.Searched, s.path) {
		t.Errorf("forgotten %+v", f)
	}
	if len(f.Mentions) != 0 {
		t.Errorf("mentions %v: a longer id is another's", f.Mentions)
	}
	if list := must[[]Attempt](t)(s.Attempts(ctx, Filter{})); len(list) != 12 {
		t.Errorf("%d attempts of others are left, want 12", len(list))
	}
	if err := s.Check(ctx); err != nil {
		t.Error(err)
	}
	for i := range 12 {
		if _, err := s.Marks(ctx, int64(i+1)); err != nil {
			t.Error(err)
		}
	}
	if _, err := s.Forget(ctx, "S-0147"); !errors.Is(err, ErrNotFound) {
		t.Errorf("the second time: %v", err)
	}
}

// Transcripts that are packed alike in part are no traces of each other.
func TestForgetAlike(t *testing.T) {
	s, ctx := open(t, filepath.Join(t.TempDir(), "attempts.db")), t.Context()
	var text strings.Builder
	for i := range 2000 {
		fmt.Fprintf(&text, "%d the mirrors of truck %x are clean\n", i, i*i*7919)
	}
	for i := range 2 {
		e := entry("same", Details{Student: fmt.Sprint("stud-", i)})
		e.Transcript = []byte(text.String() + fmt.Sprint(i))
		mustKeep(t, s, e)
	}
	if f, err := s.Forget(ctx, "stud-0"); err != nil || f.After != 0 {
		t.Errorf("%+v, %v", f, err)
	}
}

// On both, the rows go, the backups and what others' rows say of the student are
// told.
func TestForgetRows(t *testing.T) {
	onEach(t, func(t *testing.T, where string) {
		s, ctx := open(t, where), t.Context()
		e := entry("a1", Details{Student: "S-0147"})
		e.Recording = noise(t, 50_000)
		mustKeep(t, s, e, entry("a2", Details{Student: "S-0148"}))
		if err := s.Correct(ctx, order(1, "cab.horn", rubric.Said), Order{2, rubric.Correction{Item: "cab.horn", Mark: rubric.Said, Why: "as S-0147 said", Who: "I"}}); err != nil {
			t.Fatal(err)
		}
		var backups []string
		if !s.postgres {
			path := filepath.Join(t.TempDir(), "copy.db")
			if _, err := s.Backup(ctx, path); err != nil {
				t.Fatal(err)
			}
			backups = []string{path}
		}
		f, err := s.Forget(ctx, "S-0147")
		if err != nil {
			t.Fatal(err)
		}
		if fmt.Sprint(f.Mentions) != "[why of a correction of attempt 2]" || fmt.Sprint(f.Backups) != fmt.Sprint(backups) {
			t.Errorf("mentions %v, backups %v", f.Mentions, f.Backups)
		}
		for _, table := range []string{"students", "attempts", "transcripts", "sheets", "corrections"} {
			var n int
			if err := s.read().row(ctx, `SELECT count(*) FROM `+table).Scan(&n); err != nil || n != 1 {
				t.Errorf("%s has %d rows, %v; want the other's", table, n, err)
			}
		}
		var n int
		if err := s.read().row(ctx, `SELECT count(*) FROM recordings`).Scan(&n); err != nil || n != 0 {
			t.Errorf("%d parts of the recording are left, %v", n, err)
		}
	})
}

func TestBackup(t *testing.T) {
	s, ctx := open(t, filepath.Join(t.TempDir(), "attempts.db")), t.Context()
	mustKeep(t, s, entry("a1", Details{Student: "S-1"}), entry("a2", Details{Student: "S-2"}))
	path := filepath.Join(t.TempDir(), "copy.db")
	if n, err := s.Backup(ctx, path); err != nil || n != 2 {
		t.Fatalf("%d attempts, %v", n, err)
	}
	mustKeep(t, s, entry("a3", Details{Student: "S-3"})) // later
	c := must[*Store](t)(Open(ctx, path, Options{}))
	defer c.Close()
	if list := must[[]Attempt](t)(c.Attempts(ctx, Filter{})); len(list) != 2 {
		t.Errorf("the copy has %d attempts", len(list))
	}
	if info, err := os.Stat(path); err != nil || info.Mode().Perm() != 0o600 {
		t.Errorf("the copy may be read by others: %v, %v", info.Mode(), err)
	}
	if _, err := s.Backup(ctx, path); err == nil || !strings.Contains(err.Error(), "exists already; give the backup another name") {
		t.Errorf("over a file: %v", err)
	}
	if _, err := s.Backup(ctx, filepath.Join(t.TempDir(), "no", "copy.db")); err == nil || !strings.Contains(err.Error(), "cannot be written: no such file or directory") {
		t.Errorf("in no folder: %v", err)
	}
}

// A damaged file is told as such.
func TestCheckDamaged(t *testing.T) {
	path := filepath.Join(t.TempDir(), "attempts.db")
	s := open(t, path)
	for i := range 40 {
		mustKeep(t, s, entry(fmt.Sprint("a", i), Details{Student: "S-1"}))
	}
	if err := s.checkpoint(t.Context()); err != nil {
		t.Fatal(err)
	}
	s.Close()
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	rand.Read(data[5*4096 : 12*4096])
	if err := os.WriteFile(path, data, 0o600); err != nil {
		t.Fatal(err)
	}
	bad, err := Open(t.Context(), path, Options{})
	if err == nil {
		err = bad.Check(t.Context())
		bad.Close()
	}
	if err == nil || !strings.Contains(err.Error(), "go back to the last backup") || strings.Contains(err.Error(), "\n") {
		t.Errorf("damaged: %v", err)
	}
}
