// Markaround marks spoken vehicle inspections: it takes the time-stamped
// transcript of a recording and reports, with the words as evidence, what was
// missed, which numbers were wrong, and where order and time went.
package main

import (
	"context"
	"io"
	"os"
	"os/signal"
)

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
	code := run(ctx, os.Args[1:], os.Stdin, os.Stdout, os.Stderr)
	stop()
	os.Exit(code)
}

// run is the whole program. It returns the exit code: 0 done, 1 bad input or
// usage, 2 marked and not passed (only when asked for).
func run(ctx context.Context, args []string, stdin io.Reader, stdout, stderr io.Writer) int {
	root := newRoot()
	root.SetArgs(args)
	root.SetIn(stdin)
	root.SetOut(stdout)
	root.SetErr(stderr)
	err := root.ExecuteContext(ctx)
	if err == nil {
		return 0
	}
	return exitCode(stderr, err)
}
