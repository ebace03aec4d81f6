package main

import (
	"bufio"
	"cmp"
	"encoding/csv"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"markaround/align"
	"markaround/cmd/internal/report"
	"markaround/rubric"
	"markaround/speech"
)

func newRubricTrialCommand() *cobra.Command {
	var with, student []string
	var as string
	var limit int
	var to oneFile
	cmd := &cobra.Command{
		Use:   "trial NAME|FILE ATTEMPT ...",
		Short: "Count what a score sheet's phrases do in attempts, and what they miss",
		Long: `Try a score sheet on attempts, files or folders: which phrases are found how
often, which never are, and what the students say that no phrase catches. The
last is ranked, with the part named before, as suggestions of what to add.

--limit is the length of each list (20; 0 is all). As csv every phrase is a row:
found, taken (for what it is there for), in how many attempts.`,
		Example: `  markaround rubric trial my-school.yaml recordings/
  markaround rubric trial class-a student-07.vtt student-08.vtt --with passenger
  markaround rubric trial my-school.yaml recordings/ --as csv -o phrases.csv`,
		Args: func(cmd *cobra.Command, args []string) error {
			if len(args) < 2 {
				return fmt.Errorf("rubric trial takes a score sheet and one or more transcripts, got %d; see markaround rubric trial --help", len(args))
			}
			return nil
		},
		RunE: func(cmd *cobra.Command, args []string) error {
			if as != textForm && as != csvForm {
				return fmt.Errorf("unknown form %q for --as; use one of text, csv", as)
			}
			if limit < 0 {
				return fmt.Errorf("--limit %d; give 0 for all, or how many", limit)
			}
			inputs, _, err := gather(args[1:])
			if err != nil {
				return err
			}
			r, err := rubric.Load(args[0], with...)
			if err != nil {
				return err
			}
			m, err := align.New(r)
			if err != nil {
				return err
			}
			trial, failed := m.NewTrial(), false
			for _, in := range inputs {
				if err := tryOne(trial, in, student, cmd.InOrStdin()); err != nil {
					complain(cmd.ErrOrStderr(), err)
					failed = true
				}
			}
			if trial.Attempts() > 0 {
				write := func(w io.Writer) error { return writeTrial(w, trial, limit) }
				if as == csvForm {
					write = func(w io.Writer) error { return writeTrialRows(w, trial) }
				}
				if err := to.write(cmd, write); err != nil {
					return err
				}
			}
			if failed {
				return errSaid
			}
			return nil
		},
	}
	cmd.Flags().StringArrayVar(&with, "with", nil, "overlay or add-on put onto it; may be repeated, in order")
	cmd.Flags().StringArrayVar(&student, "student", nil, "speaker label of the student; may be repeated (default: a guess)")
	cmd.Flags().StringVar(&as, "as", textForm, "form: text or csv")
	cmd.Flags().IntVar(&limit, "limit", 20, "length of each list; 0 for all")
	to.flags(cmd)
	return cmd
}

func tryOne(trial *align.Trial, in input, student []string, stdin io.Reader) error {
	t, err := readTranscript(in, speech.Auto, stdin, nil)
	if err != nil {
		return err
	}
	labels, err := labelsOf(t, in, student)
	if err != nil {
		return err
	}
	trial.Add(t, align.Options{Attempt: in.attempt, Student: labels})
	return nil
}

func writeTrial(out io.Writer, trial *align.Trial, limit int) error {
	w := bufio.NewWriter(out)
	r, uses := trial.Rubric(), trial.Uses()
	found, never := 0, map[string][]string{}
	var order []string // of what never is found, by what it is for
	for _, u := range uses {
		if u.Found > 0 {
			found++
			continue
		}
		key := u.For
		if u.As == align.AsDefect {
			key += " (defect)"
		}
		if never[key] == nil {
			order = append(order, key)
		}
		never[key] = append(never[key], u.Phrase)
	}
	fmt.Fprintf(w, "%s on %s: %d of %s found\n", r.ID, rubric.Plural(trial.Attempts(), "attempt"), found, rubric.Plural(len(uses), "phrase"))

	gaps := trial.Gaps()
	fmt.Fprintf(w, "\nWHAT NO PHRASE CATCHES  %s\n", ofAll(limit, len(gaps)))
	for _, g := range gaps[:upTo(limit, len(gaps))] {
		after := ""
		if g.After != "" {
			after = "  after " + g.After
		}
		fmt.Fprintf(w, "  %3dx in %s  %q%s\n", g.Count, rubric.Plural(g.Attempts, "attempt"), g.Words, after)
		e := g.Example[0]
		for _, line := range report.Wrap(fmt.Sprintf("%s %s  %s", e.Attempt, report.Clock(e.Start), e.Words), 86) {
			fmt.Fprintf(w, "          %s\n", line)
		}
	}

	list := func(title string, keep func(align.Use) bool, by func(align.Use) int) {
		some := slices.DeleteFunc(slices.Clone(uses), func(u align.Use) bool { return !keep(u) })
		slices.SortStableFunc(some, func(a, b align.Use) int { return cmp.Compare(by(b), by(a)) })
		fmt.Fprintf(w, "\n%s  %s\n", title, ofAll(limit, len(some)))
		for _, u := range some[:upTo(limit, len(some))] {
			fmt.Fprintf(w, "  %4dx found in %s, %dx taken  %q  %s of %s\n", u.Found, rubric.Plural(u.Attempts, "attempt"), u.Taken, u.Phrase, u.As, u.For)
		}
	}
	list("TAKEN MOST OFTEN", func(u align.Use) bool { return u.Taken > 0 }, func(u align.Use) int { return u.Taken })
	list("NAMES FOUND BUT NEVER TAKEN", func(u align.Use) bool { return u.As == align.AsName && u.Found > 0 && u.Taken == 0 }, func(u align.Use) int { return u.Found })

	fmt.Fprintf(w, "\nNEVER FOUND  %s\n", ofAll(limit, len(order)))
	for _, key := range order[:upTo(limit, len(order))] {
		list := never[key]
		text := strings.Join(list[:upTo(limit, len(list))], ", ")
		if n := len(list) - upTo(limit, len(list)); n > 0 {
			text += fmt.Sprintf(" and %d more", n)
		}
		for i, line := range report.Wrap(key+": "+text, 94) {
			if i > 0 {
				line = "    " + line
			}
			fmt.Fprintf(w, "  %s\n", line)
		}
	}
	return w.Flush()
}

// upTo is how many of n a list shows; 0 is no limit.
func upTo(limit, n int) int {
	if limit == 0 {
		return n
	}
	return min(limit, n)
}

func ofAll(limit, n int) string {
	if upTo(limit, n) == n {
		return fmt.Sprintf("(%d)", n)
	}
	return fmt.Sprintf("(%d of %d)", upTo(limit, n), n)
}

func writeTrialRows(out io.Writer, trial *align.Trial) error {
	w := csv.NewWriter(out)
	rows := [][]string{{"phrase", "for", "as", "found", "taken", "attempts"}}
	for _, u := range trial.Uses() {
		rows = append(rows, []string{u.Phrase, u.For, u.As, strconv.Itoa(u.Found), strconv.Itoa(u.Taken), strconv.Itoa(u.Attempts)})
	}
	return w.WriteAll(rows)
}
