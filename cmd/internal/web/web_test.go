package web

import (
	"maps"
	"os"
	"path/filepath"
	"sync"
	"testing"

	"markaround/cmd/internal/store"
)

func newStore(t testing.TB, path string) *store.Store {
	t.Helper()
	st, err := store.Open(t.Context(), path, store.Options{Create: true})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { st.Close() })
	return st
}

func newServer(t testing.TB, st *store.Store, opt Options) *Server {
	t.Helper()
	opt.Tool = "markaround test"
	opt.Log = func(line string) { t.Log(line) }
	s, err := New(st, opt)
	if err != nil {
		t.Fatal(err)
	}
	known.Lock()
	defer known.Unlock()
	s.matchers.made = maps.Clone(made)
	t.Cleanup(func() { s.Close() })
	return s
}

// entryOf marks a transcript as an upload is, once for all tests.
func entryOf(t testing.TB, path string, d store.Details) *store.Entry {
	t.Helper()
	known.Lock()
	defer known.Unlock()
	if e := entries[path]; e != nil {
		e := *e
		e.Details = d
		return &e
	}
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	s := &Server{opt: Options{Tool: "markaround test"}}
	s.matchers.made = made
	e, _, err := s.mark(&upload{details: d, sheet: "class-a", transcript: data, name: filepath.Base(path)}, func(string) {})
	if err != nil {
		t.Fatal(err)
	}
	made, entries[path] = s.matchers.made, e
	copied := *e
	return &copied
}

// What tests share: attempts that were marked, by their path, and matchers.
var (
	known   sync.Mutex
	entries = map[string]*store.Entry{}
	made    map[string]*matcher
)

func keepFile(t testing.TB, st *store.Store, path string, d store.Details) store.Kept {
	t.Helper()
	return keepEntry(t, st, entryOf(t, path, d))
}

func keepEntry(t testing.TB, st *store.Store, e *store.Entry) store.Kept {
	t.Helper()
	kept, err := st.Keep(t.Context(), *e)
	if err != nil {
		t.Fatal(err)
	}
	return kept[0]
}
