// Recognizer is the program beside hear.sh: it prepares what a speech recognizer
// needs to hear one invented attempt, and turns its answer into a CTM file.
//
//	go run ./testdata/attempts/recognizer prepare FOLDER ID DICTIONARY WORK
//	go run ./testdata/attempts/recognizer ctm NAME [HOW] < recognizer-output > NAME.ctm
//
// prepare reads FOLDER/scripts/ID.script and writes into WORK: lines.tsv (a line for
// each breath: seconds of silence before it, tab, text with its numbers spelled), ref.txt (all words, on one line,
// as a reference for scoring), domain.lm (a trigram model in ARPA form, from the other
// scripts of the folder and titles.txt) and domain.dict (pronunciations). Attempts that
// are set aside are not read, and nothing of ID's own text goes into the model.
// ctm writes HOW, a note on how it was spoken, into the first line.
package main

import (
	"bufio"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"sort"
	"strconv"
	"strings"
)

func main() {
	if err := run(os.Args[1:], os.Stdin, os.Stdout, os.Stderr); err != nil {
		fmt.Fprintln(os.Stderr, "recognizer:", err)
		os.Exit(1)
	}
}

func run(args []string, in io.Reader, out, notes io.Writer) error {
	switch {
	case len(args) == 5 && args[0] == "prepare":
		return prepare(args[1], args[2], args[3], args[4], notes)
	case len(args) == 2 && args[0] == "ctm":
		return writeCTM(args[1], "", in, out)
	case len(args) == 3 && args[0] == "ctm":
		return writeCTM(args[1], ": "+args[2], in, out)
	}
	return fmt.Errorf("arguments %q: want prepare FOLDER ID DICTIONARY WORK, or ctm NAME [HOW]", args)
}

func prepare(folder, id, dictionary, work string, notes io.Writer) error {
	breaths, err := readBreaths(filepath.Join(folder, "scripts", id+".script"))
	if err != nil {
		return err
	}
	sentences, err := domain(folder, id)
	if err != nil {
		return err
	}

	var lines, ref strings.Builder
	for _, b := range breaths {
		fmt.Fprintf(&lines, "%g\t%s\n", b.silence, aloud(b.text))
		ref.WriteString(strings.Join(words(b.text), " ") + " ")
	}
	vocabulary := map[string]bool{}
	for _, s := range sentences {
		for _, w := range s {
			vocabulary[w] = true
		}
	}
	pronunciations, guessed, err := pronounce(dictionary, vocabulary)
	if err != nil {
		return err
	}
	for name, text := range map[string]string{
		"lines.tsv":   lines.String(),
		"ref.txt":     strings.TrimSpace(ref.String()) + "\n",
		"domain.lm":   trainTrigram(sentences).arpa(),
		"domain.dict": pronunciations,
	} {
		if err := os.WriteFile(filepath.Join(work, name), []byte(text), 0o644); err != nil {
			return err
		}
	}

	spoken, unknown := 0, map[string]int{}
	for _, w := range words(ref.String()) {
		spoken++
		if !vocabulary[w] {
			unknown[w]++
		}
	}
	fmt.Fprintf(notes, "%d words spoken; %d sentences and %d words in the model; pronunciation guessed for: %s\n",
		spoken, len(sentences), len(vocabulary), strings.Join(guessed, " "))
	fmt.Fprintf(notes, "spoken but not in the model: %s\n", strings.Join(sortedKeys(unknown), " "))
	return nil
}

// A breath is one line of a script.
type breath struct {
	silence float64 // seconds before it, beyond the usual gap
	text    string
}

// readBreaths gives the student's and examiner's lines of a script, in order.
func readBreaths(path string) ([]breath, error) {
	data, err := os.ReadFile(path)
	if err != nil {
		return nil, err
	}
	_, body, found := strings.Cut(string(data), "\n---\n")
	if !found {
		return nil, fmt.Errorf("%s: no line of three hyphens after the header", path)
	}
	var breaths []breath
	silence := 0.0
	for _, line := range strings.Split(body, "\n") {
		line = strings.TrimSpace(line)
		if seconds, ok := strings.CutPrefix(line, "(pause "); ok {
			if silence, err = strconv.ParseFloat(strings.TrimSuffix(seconds, ")"), 64); err != nil {
				return nil, fmt.Errorf("%s: %q: %w", path, line, err)
			}
			continue
		}
		for _, speaker := range []string{"S: ", "E: "} {
			if text, ok := strings.CutPrefix(line, speaker); ok {
				breaths = append(breaths, breath{silence, text})
				silence = 0
			}
		}
	}
	if len(breaths) == 0 {
		return nil, fmt.Errorf("%s: nothing is said", path)
	}
	return breaths, nil
}

// domain gives the sentences for the language model: the lines of every script of the
// folder but the one of id, and the titles of the score sheet.
func domain(folder, id string) ([][]string, error) {
	paths, err := filepath.Glob(filepath.Join(folder, "scripts", "*.script"))
	if err != nil {
		return nil, err
	}
	var sentences [][]string
	for _, path := range paths {
		if filepath.Base(path) == id+".script" {
			continue
		}
		breaths, err := readBreaths(path)
		if err != nil {
			return nil, err
		}
		for _, b := range breaths {
			// Punctuated scripts hold several sentences in one breath.
			for _, s := range strings.FieldsFunc(b.text, func(r rune) bool { return strings.ContainsRune(".?!", r) }) {
				if w := words(s); len(w) > 0 {
					sentences = append(sentences, w)
				}
			}
		}
	}
	titles, err := os.ReadFile(filepath.Join(folder, "recognizer", "titles.txt"))
	if err != nil {
		return nil, err
	}
	for _, line := range strings.Split(string(titles), "\n") {
		if w := words(line); len(w) > 0 {
			sentences = append(sentences, w)
		}
	}
	return sentences, nil
}

// writeCTM turns lines "word begin end confidence" (seconds), mixed with others, into CTM
// lines "name 1 begin duration word confidence". Silences and noises in <>, [] or ++ are dropped.
func writeCTM(name, how string, in io.Reader, out io.Writer) error {
	fmt.Fprintf(out, ";; invented attempt %s, as a recognizer heard a synthetic voice%s\n", name, how)
	heard := 0
	scanner := bufio.NewScanner(in)
	for scanner.Scan() {
		f := strings.Fields(scanner.Text())
		if len(f) != 4 || strings.ContainsAny(f[0][:1], "<[+") {
			continue
		}
		var n [3]float64
		ok := true
		for i := range n {
			var err error
			n[i], err = strconv.ParseFloat(f[i+1], 64)
			ok = ok && err == nil
		}
		if !ok {
			continue // four words of plain text
		}
		word, _, _ := strings.Cut(f[0], "(") // "the(2)" is the second pronunciation
		fmt.Fprintf(out, "%s 1 %.2f %.2f %s %.3f\n", name, n[0], n[1]-n[0], word, min(n[2], 1))
		heard++
	}
	if err := scanner.Err(); err != nil {
		return err
	}
	if heard == 0 {
		return fmt.Errorf("no words with times in the recognizer's output")
	}
	return nil
}

func sortedKeys[V any](m map[string]V) []string {
	keys := make([]string, 0, len(m))
	for k := range m {
		keys = append(keys, k)
	}
	sort.Strings(keys)
	return keys
}
