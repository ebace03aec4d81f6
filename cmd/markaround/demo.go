package main

import (
	_ "embed"
	"fmt"
	"path/filepath"
	"slices"
	"strings"
	"text/template"

	"github.com/spf13/cobra"

	"markaround/align/damage"
	"markaround/cmd/internal/school"
	"markaround/rubric"
)

// demoText is what demo prints: the way through the commands of all users.
//
//go:embed demo.txt.tmpl
var demoText string

func newDemoCommand() *cobra.Command {
	var o school.Options
	var name string
	var with []string
	var force bool
	cmd := &cobra.Command{
		Use:   "demo FOLDER",
		Short: "Make an invented school to try everything on",
		Long: `Make an invented school in a new folder: students in three cohorts, at two sites
and with three instructors, with two or three attempts each, as transcripts with
times; the class list; the true marks; and the differences that were put in.
Then print the commands that take an instructor, a student and the school
through it.

Nobody in it exists, and nothing in it was ever said. The same seed makes the
same school.`,
		Example: `  markaround demo our-demo
  markaround demo bus-demo --rubric school-bus --students 30
  markaround demo noisy --errors 0.1 --seed 7`,
		Args: func(cmd *cobra.Command, args []string) error {
			if len(args) != 1 {
				return fmt.Errorf("demo takes one folder, got %d; see markaround demo --help", len(args))
			}
			return nil
		},
		RunE: func(cmd *cobra.Command, args []string) error {
			switch {
			case !(o.Errors >= 0 && o.Errors <= damage.MaxRate):
				return fmt.Errorf("--errors %v: a share of the words from 0 to %v", o.Errors, damage.MaxRate)
			case o.Students < 1 || o.Students > school.MostStudents:
				return fmt.Errorf("--students %d: from 1 to %d", o.Students, school.MostStudents)
			}
			var err error
			if o.Rubric, err = rubric.Load(name, with...); err != nil {
				return err
			}
			folder := filepath.Clean(args[0])
			if err := school.Free(folder, force); err != nil {
				return err
			}
			s, err := school.Marks(o)
			if err != nil {
				return err
			}
			if err := s.Write(folder, force); err != nil {
				return err
			}
			// Only commands that this program has are shown.
			has := func(name string) bool {
				return slices.ContainsFunc(cmd.Root().Commands(), func(c *cobra.Command) bool { return c.Name() == name })
			}
			text, err := template.New("demo").Funcs(template.FuncMap{"has": has}).Parse(demoText)
			if err != nil {
				return err
			}
			return text.Execute(cmd.OutOrStdout(), wayThrough(s, folder, name, with))
		},
	}
	fl := cmd.Flags()
	fl.SortFlags = false
	fl.Uint64Var(&o.Seed, "seed", 1, "number that everything is drawn from")
	fl.IntVar(&o.Students, "students", school.DefaultStudents, "number of students")
	fl.StringVar(&name, "rubric", "class-a", "score sheet: a built-in name (see markaround rubric list) or a .yaml file")
	fl.StringArrayVar(&with, "with", nil, "overlay or add-on put onto it, by name or file; may be repeated, in order")
	fl.Float64Var(&o.Errors, "errors", 0, "share of the words that a recognizer would have got wrong, 0 to 0.6")
	fl.BoolVar(&force, "force", false, "replace an invented school that is there")
	return cmd
}

// way is what demoText is filled with.
type way struct {
	Folder           string
	Students         int
	Attempts         int
	Rubric, Flag     string // the score sheet, and the flags that name it
	One              string // transcript of the attempt that is shown
	Attempt, Student string // whose it is
	Item             string // one that went wrong in it
}

// wayThrough picks the attempt that is shown: one in which a number was said
// wrong, where there is one.
func wayThrough(s *school.School, folder, name string, with []string) way {
	w := way{Folder: filepath.ToSlash(folder), Students: len(s.Students), Attempts: len(s.Attempts), Rubric: name}
	if name != "class-a" {
		w.Flag = " --rubric " + name
	}
	for _, o := range with {
		w.Flag += " --with " + o
		w.Rubric += " with " + o
	}
	pick, item := &s.Attempts[0], 0
	for _, want := range []rubric.Mark{rubric.Missed, rubric.Partly, rubric.Wrong} {
		found := false
		for i := range s.Attempts {
			for k, m := range s.Attempts[i].Marks {
				if m == want && !found {
					pick, item, found = &s.Attempts[i], k, true
				}
			}
		}
	}
	w.One = strings.Join([]string{w.Folder, school.TranscriptsFolder, s.File(pick)}, "/")
	w.Attempt, w.Student, w.Item = pick.ID, s.Of(pick).ID, s.Items[item].ID
	return w
}
