package web

import (
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"net/http"
	"os"
	"sync"
	"time"
)

// jobs are the uploads that are being marked, and the last ones that were.
type jobs struct {
	mu   sync.Mutex
	list map[string]*job
	slot chan bool // for those that are worked on
	ctx  context.Context
	end  context.CancelFunc
	done sync.WaitGroup
}

type job struct {
	mu     sync.Mutex
	stage  string            // key of a text, see text/en.yaml
	failed map[string]string // by field, "" for the whole
	href   string            // where the attempt is, once it is kept
	ended  time.Time
}

// The most that are worked on at once, that wait, and how long one is remembered.
const (
	atOnce     = 2
	mostJobs   = 40
	remembered = 15 * time.Minute
)

var errBusy = errors.New("busy")

func (j *jobs) start() {
	j.list, j.slot = map[string]*job{}, make(chan bool, atOnce)
	j.ctx, j.end = context.WithCancel(context.Background())
}

// stop waits for what is being kept.
func (j *jobs) stop() {
	j.end()
	j.done.Wait()
}

// start starts to mark an upload. The file of its recording is removed at the end.
func (s *Server) start(u *upload) (id string, err error) {
	j := &s.jobs
	j.mu.Lock()
	defer j.mu.Unlock()
	for id, old := range j.list {
		if old.over(remembered) {
			delete(j.list, id)
		}
	}
	if len(j.list) >= mostJobs {
		return "", errBusy
	}
	id = rand.Text()
	one := &job{stage: "waits"}
	j.list[id] = one
	j.done.Add(1)
	go func() {
		defer j.done.Done()
		href, failed := "", map[string]string(nil)
		select {
		case j.slot <- true:
			href, failed = s.work(j.ctx, u, one.step)
			<-j.slot
		case <-j.ctx.Done():
		}
		if u.recording != "" {
			os.Remove(u.recording)
		}
		one.finish(href, failed)
	}()
	return id, nil
}

// work marks an upload and keeps it.
func (s *Server) work(ctx context.Context, u *upload, step func(string)) (href string, failed map[string]string) {
	defer func() {
		if p := recover(); p != nil { // a bad file must not end the desk
			s.log("marking %q: %v", u.name, p)
			text, _ := s.text.say("error.bug")
			href, failed = "", map[string]string{"": text}
		}
	}()
	e, sound, err := s.mark(u, step)
	if err == nil {
		step("keeps")
		kept, kerr := s.store.Keep(ctx, *e)
		if err = kerr; err == nil {
			k := kept[0]
			if sound != nil && k.RecordingHash != "" {
				s.sounds.put(k.RecordingHash, sound)
			}
			if !k.New {
				return fmt.Sprintf("/attempts/%d?same=1", k.ID), nil
			}
			return fmt.Sprintf("/attempts/%d", k.ID), nil
		}
		s.log("keep %q: %v", u.name, err)
	}
	field := ""
	if fe, ok := errors.AsType[*fieldError](err); ok {
		field = fe.field
	}
	return "", map[string]string{field: sentence(err.Error(), u.name, u.soundName)}
}

func (j *job) step(stage string) {
	j.mu.Lock()
	defer j.mu.Unlock()
	j.stage = stage
}

func (j *job) finish(href string, failed map[string]string) {
	j.mu.Lock()
	defer j.mu.Unlock()
	j.href, j.failed, j.ended = href, failed, time.Now()
}

func (j *job) over(since time.Duration) bool {
	j.mu.Lock()
	defer j.mu.Unlock()
	return !j.ended.IsZero() && time.Since(j.ended) > since
}

type jobPage struct {
	base
	Stages []string
	At     int
	Failed map[string]string
}

// stages are what marking goes through, keys of texts.
var stages = []string{"waits", "words", "sound", "sheet", "marks", "keeps"}

type jobNews struct {
	Stage  string            `json:"stage"` // in words
	At     int               `json:"at"`
	Of     int               `json:"of"`
	Href   string            `json:"href,omitempty"`
	Failed map[string]string `json:"failed,omitempty"`
}

func (s *Server) job(w http.ResponseWriter, r *http.Request) {
	s.jobs.mu.Lock()
	one := s.jobs.list[r.PathValue("job")]
	s.jobs.mu.Unlock()
	if one == nil { // of before a restart
		s.refuse(w, r, http.StatusNotFound, "error.job")
		return
	}
	one.mu.Lock()
	news := jobNews{Href: one.href, Failed: one.failed, Of: len(stages)}
	for i, st := range stages {
		if st == one.stage {
			news.At = i
		}
	}
	one.mu.Unlock()
	news.Stage, _ = s.text.say("add.stage." + stages[news.At])
	if wantsJSON(r) {
		s.json(w, http.StatusOK, news)
		return
	}
	if news.Href != "" {
		http.Redirect(w, r, news.Href, http.StatusSeeOther)
		return
	}
	page := &jobPage{base: s.base(w, r, "add.working"), Stages: stages, At: news.At, Failed: news.Failed}
	if news.Failed == nil {
		w.Header().Set("Refresh", "1") // for browsers without scripts
	}
	s.render(w, r, http.StatusOK, "job.html", page)
}
