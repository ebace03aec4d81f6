package web

import (
	"os"
	"path/filepath"
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
	t.Cleanup(func() { s.Close() })
	return s
}

// keepFile marks a transcript and keeps it, as an upload is.
func keepFile(t testing.TB, st *store.Store, path string, d store.Details) store.Kept {
	t.Helper()
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	s := &Server{opt: Options{Tool: "markaround test"}}
	e, _, err := s.mark(&upload{details: d, sheet: "class-a", transcript: data, name: filepath.Base(path)}, func(string) {})
	if err != nil {
		t.Fatal(err)
	}
	kept, err := st.Keep(t.Context(), *e)
	if err != nil {
		t.Fatal(err)
	}
	return kept[0]
}
