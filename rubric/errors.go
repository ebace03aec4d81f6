package rubric

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
)

// String gives "file:line:column", shorter where parts are unknown.
func (p Pos) String() string {
	switch {
	case p.Line == 0:
		return p.File
	case p.Column == 0:
		return fmt.Sprintf("%s:%d", p.File, p.Line)
	}
	return fmt.Sprintf("%s:%d:%d", p.File, p.Line, p.Column)
}

// Error is one fault of a rubric or overlay file. It prints as one line,
// "file:line:column: message; advice".
type Error struct {
	Pos    Pos
	Msg    string // what is wrong, with the offending value
	Advice string // what to do, "" if there is nothing to say
}

func (e *Error) Error() string {
	s := e.Msg
	if p := e.Pos.String(); p != "" {
		s = p + ": " + s
	}
	if e.Advice != "" {
		s += "; " + e.Advice
	}
	return s
}

// Errors are all faults found, in file order. It prints one fault a line.
type Errors []*Error

func (e Errors) Error() string {
	lines := make([]string, len(e))
	for i, err := range e {
		lines[i] = err.Error()
	}
	return strings.Join(lines, "\n")
}

// Unwrap lets errors.As find a single *Error.
func (e Errors) Unwrap() []error {
	errs := make([]error, len(e))
	for i, err := range e {
		errs[i] = err
	}
	return errs
}

// maxErrors keeps a hopeless file from filling the screen.
const maxErrors = 200

func (e *Errors) add(pos Pos, advice, format string, args ...any) {
	switch {
	case len(*e) < maxErrors:
		*e = append(*e, &Error{Pos: pos, Msg: fmt.Sprintf(format, args...), Advice: advice})
	case len(*e) == maxErrors:
		*e = append(*e, &Error{Pos: pos, Msg: fmt.Sprintf("more than %d faults, the rest is left out", maxErrors), Advice: "mend these and read it again"})
	}
}

// err is nil when there are none; otherwise e sorted by file, in the order the
// files first appear, and place.
func (e Errors) err() error {
	if len(e) == 0 {
		return nil
	}
	rank := map[string]int{}
	for _, err := range e {
		if _, ok := rank[err.Pos.File]; !ok {
			rank[err.Pos.File] = len(rank)
		}
	}
	slices.SortStableFunc(e, func(a, b *Error) int {
		return cmp.Or(
			cmp.Compare(rank[a.Pos.File], rank[b.Pos.File]),
			cmp.Compare(a.Pos.Line, b.Pos.Line),
			cmp.Compare(a.Pos.Column, b.Pos.Column),
		)
	})
	return e
}
