//go:build !unix

package web

import (
	"testing"
	"time"
)

// cpu is not measured on this system.
func cpu(testing.TB) time.Duration { return 0 }
