package main

import (
	"fmt"
	"io"
	"strings"

	"github.com/spf13/cobra"

	"markaround/align/hints"
	"markaround/rubric"
)

func newRubricHintsCommand() *cobra.Command {
	var with []string
	var as string
	var limit int
	var to oneFile
	cmd := &cobra.Command{
		Use:   "hints NAME|FILE",
		Short: "Print what a recognizer should listen for",
		Long: `Print the words and phrases of a score sheet in the forms that speech
recognizers take, so that they know the trade's words:

  words    a word a line, those first that recognizers get wrong
  prompt   one line that names the parts, for recognizers that continue a text;
           --limit is its length in characters (850)
  phrases  a phrase and its weight (3, 2 or 1) a line, with a tab between
  arpa     a trigram language model in ARPA form, to be mixed with the
           recognizer's own

--limit keeps the first so many words or phrases; 0 keeps all.`,
		Example: `  markaround rubric hints class-a --as prompt
  markaround rubric hints school-bus --as phrases --limit 500 -o phrases.txt
  markaround rubric hints my-school.yaml --as arpa -o my-school.lm`,
		Args: func(cmd *cobra.Command, args []string) error {
			if len(args) != 1 {
				return fmt.Errorf("rubric hints takes one name or file, got %d; see markaround rubric list", len(args))
			}
			return nil
		},
		RunE: func(cmd *cobra.Command, args []string) error {
			if limit < 0 {
				return fmt.Errorf("--limit %d; give 0 for all, or how many", limit)
			}
			r, err := rubric.Load(args[0], with...)
			if err != nil {
				return err
			}
			return to.write(cmd, func(w io.Writer) error { return writeHints(w, r, as, limit) })
		},
	}
	cmd.Flags().StringArrayVar(&with, "with", nil, "overlay or add-on put onto it; may be repeated, in order")
	cmd.Flags().StringVar(&as, "as", "words", "form: "+strings.Join(hintForms, ", "))
	cmd.Flags().IntVar(&limit, "limit", 0, "how many words or phrases, or characters of the prompt")
	to.flags(cmd)
	return cmd
}

var hintForms = []string{"words", "prompt", "phrases", "arpa"}

// promptLength is what recognizers of the kind keep: about 224 tokens, from
// memory, a token being some four letters.
const promptLength = 850

func writeHints(w io.Writer, r *rubric.Rubric, as string, limit int) error {
	first := func(list []hints.Hint) []hints.Hint {
		if limit > 0 && limit < len(list) {
			return list[:limit]
		}
		return list
	}
	switch as {
	case "words":
		for _, h := range first(hints.Words(r)) {
			fmt.Fprintln(w, h.Text)
		}
	case "phrases":
		for _, h := range first(hints.Phrases(r)) {
			fmt.Fprintf(w, "%s\t%d\n", h.Text, h.Weight)
		}
	case "prompt":
		if limit == 0 {
			limit = promptLength
		}
		fmt.Fprintln(w, hints.Prompt(r, limit))
	case "arpa":
		if limit > 0 {
			return fmt.Errorf("--limit is not for arpa; leave it out")
		}
		return hints.ARPA(w, r)
	default:
		return fmt.Errorf("unknown form %q for --as; use one of %s", as, strings.Join(hintForms, ", "))
	}
	return nil
}
