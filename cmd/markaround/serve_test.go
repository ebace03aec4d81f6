package main

import (
	"bufio"
	"context"
	"io"
	"net/http"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"
)

// The desk opens, answers, and ends in order.
func TestServe(t *testing.T) {
	ctx, stop := context.WithCancel(t.Context())
	defer stop()
	out, in := io.Pipe()
	ended := make(chan int, 1)
	var stderr strings.Builder
	go func() {
		ended <- run(ctx, []string{"serve", "--listen", "127.0.0.1:0", "--store", filepath.Join(t.TempDir(), "desk.db")}, strings.NewReader(""), in, &stderr)
		in.Close()
	}()
	line, err := bufio.NewReader(out).ReadString('\n')
	if err != nil {
		t.Fatal(err, stderr.String())
	}
	address := regexp.MustCompile(`http://127\.0\.0\.1:[0-9]+/`).FindString(line)
	res, err := http.Get(address)
	if err != nil {
		t.Fatalf("%q: %v", line, err)
	}
	body, err := io.ReadAll(res.Body)
	res.Body.Close()
	if err != nil || res.StatusCode != http.StatusOK || !strings.Contains(string(body), "No attempt is kept yet") {
		t.Errorf("%d %v", res.StatusCode, err)
	}
	stop()
	select {
	case code := <-ended:
		if code != 0 || stderr.String() != "" {
			t.Errorf("ends with %d: %s", code, stderr.String())
		}
	case <-time.After(time.Minute):
		t.Fatal("it does not end")
	}
}
