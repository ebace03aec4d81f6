package main

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
)

// transcriptExtensions are the extensions read from a folder. Where one
// recording has several transcripts, the first of this list is taken: those
// with a time for every word come first.
var transcriptExtensions = []string{".json", ".jsonl", ".ndjson", ".ctm", ".vtt", ".ttml", ".dfxp", ".xml", ".srt", ".txt"}

// input is one transcript to mark.
type input struct {
	path    string // "-" for standard input
	attempt string
}

// gather lists the transcripts behind the arguments, files as given and
// folders by extension, and notes about what was left out.
func gather(args []string) (list []input, notes []string, err error) {
	if len(args) == 0 {
		return nil, nil, fmt.Errorf("no transcript given; give files, a folder, or - for standard input")
	}
	for _, arg := range args {
		if arg == "-" {
			list = append(list, input{"-", "stdin"})
			continue
		}
		info, err := os.Stat(arg)
		if err != nil {
			return nil, nil, noTranscript(err)
		}
		if !info.IsDir() {
			list = append(list, input{arg, attemptOf(arg)})
			continue
		}
		found, note, err := fromFolder(arg)
		if err != nil {
			return nil, nil, err
		}
		list = append(list, found...)
		if note != "" {
			notes = append(notes, note)
		}
	}
	seen := map[string]string{}
	for _, in := range list {
		if other, ok := seen[fileName(in.attempt)]; ok {
			if other == in.path {
				return nil, nil, fmt.Errorf("%s: given twice; leave one out", in.path)
			}
			return nil, nil, fmt.Errorf("%s: gives the same attempt id %q as %s; leave one out, or grade it by itself with --attempt", in.path, in.attempt, other)
		}
		seen[fileName(in.attempt)] = in.path
	}
	return list, notes, nil
}

// noTranscript is pathError of a transcript, with what to do where it is not there.
func noTranscript(err error) error {
	if err = pathError(err); errors.Is(err, fs.ErrNotExist) {
		return fmt.Errorf("%w; check the name and the folder", err)
	}
	return err
}

// attemptOf is the file's name without folder and extension.
func attemptOf(path string) string {
	base := filepath.Base(path)
	if id := strings.TrimSuffix(base, filepath.Ext(base)); id != "" {
		return id
	}
	return base
}

// fromFolder lists the transcripts of a folder, not of the folders in it, one
// for each recording.
func fromFolder(dir string) (list []input, note string, err error) {
	entries, err := os.ReadDir(dir)
	if err != nil {
		return nil, "", pathError(err)
	}
	best := map[string]string{} // attempt to file name
	var skip [fileKinds]int
	var sounds []string
	double := 0
	for _, e := range entries {
		name := e.Name()
		if strings.HasPrefix(name, ".") || e.IsDir() {
			continue
		}
		id := attemptOf(name)
		switch kind := kindOf(filepath.Join(dir, name)); kind {
		case maybeTranscript:
		case recording:
			sounds = append(sounds, name)
			continue
		default:
			skip[kind]++
			continue
		}
		old, ok := best[id]
		if ok {
			double++
		}
		if !ok || rank(name) < rank(old) {
			best[id] = name
		}
	}
	for _, name := range sounds {
		// Those of a transcript are heard with it.
		heard := slices.ContainsFunc([]string{attemptOf(name), name}, func(id string) bool {
			return best[id] != "" && slices.Contains(besideNames(best[id]), name)
		})
		if !heard {
			skip[recording]++
		}
	}
	var parts []string
	skipped := func(n int, one, many string) {
		switch {
		case n == 1:
			parts = append(parts, "1 skipped that is "+one)
		case n > 1:
			parts = append(parts, fmt.Sprintf("%d skipped that are %s", n, many))
		}
	}
	skipped(skip[recording], "a recording", "recordings")
	skipped(skip[reportOfOurs], "a report", "reports")
	skipped(skip[untimedText], "text without times", "text without times")
	skipped(skip[otherFile], "no transcript", "no transcripts")
	skipped(double, "another form of the same attempt", "other forms of the same attempt")
	if len(best) == 0 {
		advice := "files ending in " + strings.Join(transcriptExtensions, " ") + " are read"
		if skip[recording] > 0 {
			advice = "run the recordings through speech-to-text first, " + advice
		}
		if len(parts) > 0 {
			advice = strings.Join(parts, ", ") + "; " + advice
		}
		return nil, "", fmt.Errorf("%s: no transcript in this folder; %s", dir, advice)
	}
	for id, name := range best {
		list = append(list, input{filepath.Join(dir, name), id})
	}
	slices.SortFunc(list, func(a, b input) int { return strings.Compare(a.path, b.path) })
	if len(parts) > 0 {
		note = fmt.Sprintf("%s: %d to mark, %s", dir, len(list), strings.Join(parts, ", "))
	}
	return list, note, nil
}

// rank is the place of a file's extension in transcriptExtensions, -1 if it
// has none of them.
func rank(name string) int {
	return slices.Index(transcriptExtensions, strings.ToLower(filepath.Ext(name)))
}
