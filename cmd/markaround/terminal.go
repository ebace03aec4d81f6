package main

import (
	"bufio"
	"fmt"
	"io"
	"os"
	"strings"

	"golang.org/x/term"

	"markaround/cmd/internal/report"
)

// terminal gives the file behind a stream that is a terminal.
func terminal(stream any) (*os.File, bool) {
	f, ok := stream.(*os.File)
	return f, ok && term.IsTerminal(int(f.Fd()))
}

// textOptions fits text to where it goes: color and width of a terminal, plain
// and 100 columns otherwise. NO_COLOR and a dumb terminal turn color off.
func textOptions(w io.Writer) report.TextOptions {
	var opt report.TextOptions
	if f, ok := terminal(w); ok {
		opt.Color = os.Getenv("NO_COLOR") == "" && os.Getenv("TERM") != "dumb"
		if width, _, err := term.GetSize(int(f.Fd())); err == nil {
			opt.Width = width
		}
	}
	return opt
}

// progress is one line on a terminal, rewritten in place. Off a terminal it
// writes nothing.
type progress struct {
	w     io.Writer
	total int
	done  int
	shown bool
}

// newProgress shows nothing for a single file, or when quiet.
func newProgress(stderr io.Writer, total int, quiet bool) *progress {
	if _, ok := terminal(stderr); !ok || quiet || total < 2 {
		return &progress{}
	}
	return &progress{w: stderr, total: total}
}

func (p *progress) step(name string) {
	p.done++
	if p.w != nil {
		r := []rune(name)
		fmt.Fprintf(p.w, "\r\x1b[K%d of %d marked: %s", p.done, p.total, string(r[:min(len(r), 50)]))
		p.shown = true
	}
}

// clear removes the line, before something else is printed.
func (p *progress) clear() {
	if p.shown {
		fmt.Fprint(p.w, "\r\x1b[K")
		p.shown = false
	}
}

// confirm asks on stderr and reads yes or no. It is false without asking when
// there is nobody to ask.
func confirm(stdin io.Reader, stderr io.Writer, question string) bool {
	if _, ok := terminal(stdin); !ok {
		return false
	}
	if _, ok := terminal(stderr); !ok {
		return false
	}
	fmt.Fprintf(stderr, "%s [y/N] ", question)
	answer, _ := bufio.NewReader(stdin).ReadString('\n')
	switch strings.ToLower(strings.TrimSpace(answer)) {
	case "y", "yes":
		return true
	}
	return false
}
