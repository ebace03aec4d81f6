package web

import (
	"context"
	"errors"
	"net/http"
	"time"

	"markaround/cmd/internal/store"
	"markaround/speech"
)

// loudness reads the copy of a recording, or gives what the store knows of it:
// where somebody speaks, and not how loud.
func (s *Server) loudness(ctx context.Context, a store.Attempt, kept *speech.Sound) *speech.Sound {
	if a.RecordingHash == "" {
		return kept
	}
	if sound, ok := s.sounds.get(a.RecordingHash); ok {
		return sound
	}
	read := make(chan *speech.Sound, 1)
	s.jobs.done.Add(1)
	go func() {
		defer s.jobs.done.Done()
		read <- s.readLoudness(s.jobs.ctx, a)
	}()
	select {
	case sound := <-read:
		if sound != nil {
			return sound
		}
	case <-time.After(patience):
	case <-ctx.Done():
	}
	return kept
}

// patience is how long a page waits for the loudness of a long recording; the page
// after it has it.
const patience = 400 * time.Millisecond

func (s *Server) readLoudness(ctx context.Context, a store.Attempt) *speech.Sound {
	f, err := s.store.OpenRecording(ctx, a.ID)
	if err != nil {
		return nil
	}
	sound, err := speech.ReadSound(f, a.Name)
	if err != nil {
		s.log("attempt %d: its recording: %v", a.ID, err)
		return nil
	}
	s.sounds.put(a.RecordingHash, sound)
	return sound
}

// recording serves the copy of a recording, whole or in parts.
func (s *Server) recording(w http.ResponseWriter, r *http.Request) {
	a, ok := s.attempt(w, r)
	if !ok {
		return
	}
	f, err := s.store.OpenRecording(r.Context(), a.ID)
	if errors.Is(err, store.ErrNotFound) {
		s.refuse(w, r, http.StatusNotFound, "error.recording")
		return
	}
	if err != nil {
		s.fail(w, r, err)
		return
	}
	w.Header().Set("Content-Type", "audio/wav")
	w.Header().Set("Cache-Control", "private, no-cache")
	w.Header().Set("ETag", `"`+a.RecordingHash[:min(16, len(a.RecordingHash))]+`"`)
	http.ServeContent(w, r, "", time.Time{}, f)
}
