//go:build unix

package web

import (
	"syscall"
	"testing"
	"time"
)

// cpu is what the process has used of all cores.
func cpu(tb testing.TB) time.Duration {
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
		tb.Fatal(err)
	}
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}
