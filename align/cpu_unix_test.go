//go:build unix

package align

import (
	"syscall"
	"testing"
	"time"
)

// cpuTime is what the process has used of all cores, the collector's share in it.
func cpuTime(tb testing.TB) time.Duration {
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
		tb.Fatal(err)
	}
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}
