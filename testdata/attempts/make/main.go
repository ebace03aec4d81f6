// Make turns the scripts of invented attempts into transcripts such as speech
// recognizers write. Run it from the top of the repository:
//
//	go run ./testdata/attempts/make [FOLDER]
//
// It reads FOLDER/scripts/*.script and FOLDER/aside/scripts/*.script (FOLDER is
// testdata/attempts by default) and writes FOLDER/ID.EXT and FOLDER/aside/ID.EXT.
// The same scripts always give the same bytes: the jitter of the times comes from
// a generator seeded with the attempt's id. Nothing is written if any script is bad.
//
// It does not damage words: damage is written into the scripts, so that the gold
// marks beside them stay true to the text.
package main

import (
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"sort"
)

func main() {
	dir := filepath.Join("testdata", "attempts")
	if len(os.Args) > 1 {
		dir = os.Args[1]
	}
	if err := run(dir, os.Stdout); err != nil {
		fmt.Fprintln(os.Stderr, "make:", err)
		os.Exit(1)
	}
}

// run writes the transcripts of all scripts under dir and one line of counts for each to w.
func run(dir string, w io.Writer) error {
	type output struct {
		path string
		data []byte
		line string
	}
	var outputs []output
	for _, sub := range []string{"", "aside"} {
		names, err := filepath.Glob(filepath.Join(dir, sub, "scripts", "*.script"))
		if err != nil {
			return err
		}
		sort.Strings(names)
		for _, name := range names {
			s, err := readScript(name)
			if err != nil {
				return err
			}
			words := speak(s)
			data, err := formats[s.format].write(s, words)
			if err != nil {
				return fmt.Errorf("%s: %w", name, err)
			}
			outputs = append(outputs, output{
				path: filepath.Join(dir, sub, s.id+"."+formats[s.format].ext),
				data: data,
				line: fmt.Sprintf("%-4s %-10s %5d words, %d by the examiner, %4.1f minutes",
					s.id, s.format, len(words), byExaminer(words), words[len(words)-1].end/60),
			})
		}
	}
	if len(outputs) == 0 {
		return errors.New("no scripts under " + dir + ", run from the top of the repository")
	}
	for _, o := range outputs {
		if err := os.WriteFile(o.path, o.data, 0o644); err != nil {
			return err
		}
		fmt.Fprintln(w, o.line)
	}
	return nil
}

func byExaminer(words []word) int {
	n := 0
	for _, w := range words {
		if w.examiner {
			n++
		}
	}
	return n
}
