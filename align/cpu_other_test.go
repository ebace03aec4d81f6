//go:build !unix

package align

import (
	"testing"
	"time"
)

// cpuTime is not measured on this system.
func cpuTime(testing.TB) time.Duration { return 0 }
