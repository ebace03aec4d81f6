package main

import (
	"errors"
	"fmt"
	"io"
	"strings"

	"github.com/spf13/cobra"
)

func newRoot() *cobra.Command {
	root := group(&cobra.Command{
		Use:   "markaround",
		Short: "Mark spoken vehicle inspections from their transcripts",
		Long: `Markaround marks spoken vehicle inspections. It takes the time-stamped
transcript of a recording, compares what was said with a score sheet (the
rubric), and reports missed items, wrong numbers, order and pace, with the
words behind every mark.

Practice marking, not a license decision: the local authority's current manual
and the vehicle maker's figures come first.

Exit codes: 0 done, 1 bad input or usage, 2 marked and not passed (grade
--strict only).`,
		Example: `  markaround grade student-07.vtt
  markaround grade recordings/ -o sheets/ --as html
  markaround agree marks.csv sheets/
  markaround rubric show class-a`,
		SilenceErrors: true,
		SilenceUsage:  true,
	})
	root.CompletionOptions.HiddenDefaultCmd = true
	root.Version = versionText()
	root.SetHelpCommand(newHelpCommand())
	root.SetFlagErrorFunc(func(cmd *cobra.Command, err error) error {
		return fmt.Errorf("%w; see %s --help", err, cmd.CommandPath())
	})
	root.AddCommand(newGradeCommand())
	root.AddCommand(newExplainCommand())
	root.AddCommand(newReplayCommand())
	root.AddCommand(newClipCommand())
	root.AddCommand(newAgreeCommand())
	root.AddCommand(newAttemptsCommand())
	root.AddCommand(newSheetCommand())
	root.AddCommand(newCorrectCommand())
	root.AddCommand(newAmendCommand())
	root.AddCommand(newRegradeCommand())
	root.AddCommand(newProgressCommand())
	root.AddCommand(newCompareCommand())
	root.AddCommand(newItemsCommand())
	root.AddCommand(newForgetCommand())
	root.AddCommand(newBackupCommand())
	root.AddCommand(newExportCommand())
	root.AddCommand(newImportCommand())
	root.AddCommand(newRubricCommand())
	root.AddCommand(newDemoCommand())
	root.AddCommand(newSchemaCommand())
	root.AddCommand(newVersionCommand())
	return root
}

// group makes cmd print its help when nothing follows, and a one-line error
// for a command that it does not have.
func group(cmd *cobra.Command) *cobra.Command {
	cmd.Args = cobra.ArbitraryArgs
	cmd.RunE = func(cmd *cobra.Command, args []string) error {
		if len(args) == 0 {
			return cmd.Help()
		}
		cmd.SuggestionsMinimumDistance = 2
		near := ""
		if s := cmd.SuggestionsFor(args[0]); len(s) > 0 {
			near = "did you mean " + strings.Join(s, " or ") + "? "
		}
		return fmt.Errorf("unknown command %q; %ssee %s --help", args[0], near, cmd.CommandPath())
	}
	return cmd
}

// noArgs refuses arguments in our own words.
func noArgs(cmd *cobra.Command, args []string) error {
	if len(args) > 0 {
		return fmt.Errorf("%s takes no arguments, got %q; see %s --help", cmd.CommandPath(), args[0], cmd.CommandPath())
	}
	return nil
}

// errNotPassed ends grade --strict when a sheet is not a pass. It is no
// message: the sheet says it.
var errNotPassed = errors.New("not passed")

// errSaid ends a command whose errors have been printed already.
var errSaid = errors.New("errors were printed")

// exitCode prints err, one line for each of the errors it holds, and gives the
// exit code.
func exitCode(stderr io.Writer, err error) int {
	if errors.Is(err, errNotPassed) {
		return 2
	}
	if !errors.Is(err, errSaid) {
		complain(stderr, err)
	}
	return 1
}

func complain(stderr io.Writer, err error) {
	for line := range strings.Lines(err.Error()) {
		if line = strings.TrimSpace(line); line != "" {
			fmt.Fprintf(stderr, "markaround: %s\n", line)
		}
	}
}
