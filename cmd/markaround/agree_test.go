package main

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"markaround/rubric"
	"markaround/rubric/cohort"
)

// agreeFolder makes a folder with the invented marks m.csv and second.csv, the
// sheets of attempts a1 and a2 in sheets/, and a file there that is no sheet.
func agreeFolder(t *testing.T) string {
	t.Helper()
	dir := t.TempDir()
	write := func(name string, data []byte) {
		path := filepath.Join(dir, name)
		if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, data, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	sheet := func(attempt string, horn, leak, loss rubric.Mark) {
		ev := []rubric.Evidence{{Words: "I should not lose more than six psi", Start: 671.5, Confidence: 0.93}}
		s := rubric.Sheet{Schema: rubric.SheetSchema, Attempt: attempt, Items: []rubric.ItemMark{
			{ID: "cab.horn", Mark: horn, Confidence: 0.97, Start: 12, Checks: []rubric.CheckMark{{ID: "works", Mark: rubric.Said}}},
			{ID: "cab.wipers", Mark: rubric.Missed, Confidence: 0.7, Start: -1},
			{ID: "air.leak", Mark: leak, Confidence: 0.93, Start: 671.5,
				Measures: []rubric.MeasureMark{{ID: "loss", Mark: loss, Evidence: ev}}},
		}, Findings: []rubric.Finding{{Kind: rubric.HoldFinding, ID: "leak-minute", Text: "held 31 s, not 60", Start: 640}}}
		data, err := json.Marshal(s)
		if err != nil {
			t.Fatal(err)
		}
		write("sheets/"+attempt+".sheet.json", data)
	}
	sheet("a1", rubric.Said, rubric.Wrong, rubric.Wrong)
	sheet("a2", rubric.Said, rubric.Said, rubric.Said)
	write("sheets/a1.json", []byte(`{"segments":[]}`))
	write("m.csv", []byte("# invented\nattempt;item;mark;note\na1;cab.horn;said;\na1;cab.wipers;missed;\na1;air.leak;wrong;six, not four\n"+
		"a1;air.leak/loss;wrong;six, not four\na1;hold:leak-minute;found;\na2;cab.horn;missed;mumbled\na2;cab.wipers;missed;\na9;cab.horn;said;\n"))
	write("second.csv", []byte("attempt,item,mark\na1,cab.horn,said\na1,cab.wipers,partly\na2,cab.horn,missed\n"))
	write("empty/readme.txt", nil)
	write("bad.csv", []byte("attempt,item,mark\na1,cab.horn,ok\n"))
	write("old.json", []byte(`{"schema":7,"attempt":"a1"}`))
	write("strange.csv", []byte("attempt,item,mark\nz9,cab.horn,said\n"))
	return dir
}

func runAgree(dir string, args ...string) (stdout, stderr string, err error) {
	for i, a := range args {
		if !strings.HasPrefix(a, "-") && (strings.Contains(a, ".") || a == "sheets" || a == "empty") {
			args[i] = filepath.Join(dir, a)
		}
	}
	cmd := newAgreeCommand()
	cmd.SilenceErrors, cmd.SilenceUsage = true, true
	var out, errs bytes.Buffer
	cmd.SetOut(&out)
	cmd.SetErr(&errs)
	cmd.SetArgs(args)
	err = cmd.Execute()
	return out.String(), strings.ReplaceAll(errs.String(), dir, "DIR"), err
}

func TestAgreeText(t *testing.T) {
	dir := agreeFolder(t)
	out, stderr, err := runAgree(dir, "m.csv", "sheets", "--list")
	if err != nil {
		t.Fatal(err)
	}
	if want := "DIR/sheets: skipped, no sheet in it: 1 JSON file\n"; stderr != want {
		t.Errorf("stderr %q, want %q", stderr, want)
	}
	// Worked by hand: 5 items, 4 alike; theirs says 1, misses 3, wrong 1; ours
	// says 2, misses 2, wrong 1: chance (1*2 + 3*2 + 1*1)/25 = 0.36, kappa
	// (0.80-0.36)/0.64 = 0.6875. The interval is that of statsmodels 0.13.5 for
	// this table, 0.1560 to 1.2190, cut at 1.
	want := `m.csv (theirs) against sheets (ours)
2 attempts, 5 items compared; intervals are at 95%

  same mark  0.800 (0.376 to 0.964) 4 of 5
  kappa      0.688 (n too small for an interval)  Cohen's; 0.360 alike by chance

  theirs \ ours     said  partly  missed   wrong
  said                 1       0       0       0
  partly               0       0       0       0
  missed               1       0       2       0
  wrong                0       0       0       1

                           precision: theirs, of ours     recall: ours, of theirs
  missed items             1.000 (0.342 to 1.000) 2 of 2  0.667 (0.208 to 0.939) 2 of 3
  wrong numbers            1.000 (0.207 to 1.000) 1 of 1  1.000 (0.207 to 1.000) 1 of 1
  contradicted conditions  none to count                  none to count
  findings                 0.500 (0.095 to 0.905) 1 of 2  1.000 (0.207 to 1.000) 1 of 1

  confidence    mean  same mark
  0.7 to 0.8    0.70  1.000 (0.342 to 1.000) 2 of 2
  0.9 to 1.0    0.96  0.667 (0.208 to 0.939) 2 of 3
  0.9 or more         0.667 (0.208 to 0.939) 2 of 3
  expected calibration error 0.294, n = 5

Not compared
  1 item of these attempts that m.csv does not mark
  1 attempt that only m.csv has: a9

2 marks differ

  a2
      0:12  cab.horn                           theirs missed  ours said    0.97
            mumbled
     10:40  hold:leak-minute                   theirs -       ours found   -
            "held 31 s, not 60"
`
	if out != want {
		t.Errorf("got\n%s\nwant\n%s", out, want)
	}
	for _, line := range strings.Split(out, "\n") {
		if len(line) > 100 {
			t.Errorf("line of %d columns: %s", len(line), line)
		}
	}
}

// Values and Wilson intervals are those of statsmodels' proportion_confint, but
// Intervals are Wilson's, worked out in Python from the formula.
func TestShareText(t *testing.T) {
	for _, c := range []struct {
		share  cohort.Share
		want   string
		reason string
	}{
		{cohort.Share{Hits: 18654, Of: 18790}, "0.993 (0.991 to 0.994) 18654 of 18790", "the estimate lies in its interval"},
		{cohort.Share{Hits: 19999, Of: 20000}, "0.999 (0.999 to 1.000) 19999 of 20000", "not whole, so not 1"},
		{cohort.Share{Hits: 1, Of: 1}, "1.000 (0.207 to 1.000) 1 of 1", "whole"},
		{cohort.Share{Of: 5}, "0.000 (0.000 to 0.434) 0 of 5", "none"},
		{cohort.Share{}, "none to count", "of nothing"},
	} {
		if got := shareText(c.share); got != c.want {
			t.Errorf("%s: %s, want %s", c.reason, got, c.want)
		}
	}
}

func TestAgreeJSON(t *testing.T) {
	dir := agreeFolder(t)
	out, _, err := runAgree(dir, "m.csv", "sheets", "--as", "json")
	if err != nil {
		t.Fatal(err)
	}
	var got struct {
		Agreement struct {
			Kappa      struct{ N int }
			Detections []struct {
				Name      string
				Precision struct{ Value *float64 }
			}
		}
		Different *[]any
	}
	if err := json.Unmarshal([]byte(out), &got); err != nil {
		t.Fatal(err)
	}
	if got.Agreement.Kappa.N != 5 || len(got.Agreement.Detections) != 4 || got.Different != nil {
		t.Errorf("%+v", got)
	}
	if d := got.Agreement.Detections[2]; d.Name != "contradicted conditions" || d.Precision.Value != nil {
		t.Errorf("a share of nothing must be null: %+v", d)
	}
	out, _, err = runAgree(dir, "m.csv", "m.csv", "--as", "json", "--list")
	if err != nil || !strings.Contains(out, `"different": []`) {
		t.Errorf("a marker against itself: %v\n%s", err, out)
	}
}

func TestAgreeCSV(t *testing.T) {
	dir := agreeFolder(t)
	for _, c := range []struct {
		args []string
		rows int
	}{
		{[]string{"m.csv", "sheets", "--as", "csv"}, 1 + 5 + 2},
		{[]string{"m.csv", "sheets", "--as", "csv", "--list"}, 1 + 2},
		{[]string{"m.csv", "sheets", "--as", "csv", "--level", "check"}, 1 + 1 + 2},
		{[]string{"m.csv", "second.csv", "--as", "csv"}, 1 + 3 + 1},
	} {
		out, _, err := runAgree(dir, c.args...)
		if err != nil {
			t.Fatal(err)
		}
		rows, err := csv.NewReader(strings.NewReader(out)).ReadAll()
		if err != nil || len(rows) != c.rows {
			t.Errorf("%v: %d rows, %v, want %d\n%s", c.args, len(rows), err, c.rows, out)
		}
	}
}

func TestAgreeTwoPersons(t *testing.T) {
	out, _, err := runAgree(agreeFolder(t), "m.csv", "second.csv")
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"3 items compared", "confidence: none was given", "wrong items"} {
		if !strings.Contains(out, want) {
			t.Errorf("no %q in\n%s", want, out)
		}
	}
	if strings.Contains(out, "NaN") {
		t.Errorf("NaN in\n%s", out)
	}
}

func TestAgreeErrors(t *testing.T) {
	dir := agreeFolder(t)
	for _, c := range []struct {
		reason string
		args   []string
		want   string
	}{
		{"no sheet given", []string{"m.csv"}, "agree needs a marks file and at least one sheet, got 1 argument; see agree --help"},
		{"marks file missing", []string{"none.csv", "sheets"}, "DIR/none.csv: "},
		{"sheet missing", []string{"m.csv", "none.json"}, "DIR/none.json: "},
		{"wrong way round", []string{"sheets/a1.sheet.json", "m.csv"}, "DIR/sheets/a1.sheet.json: this is JSON; give the marks file (CSV) first, then the sheets"},
		{"bad mark", []string{"bad.csv", "sheets"}, `DIR/bad.csv:2: unknown mark "ok" of item cab.horn; use said, partly, missed or wrong`},
		{"an empty folder", []string{"m.csv", "empty"}, "DIR/empty: no sheet and no marks file in this folder; sheets are made by grade --as json"},
		{"a transcript for a sheet", []string{"m.csv", "sheets/a1.json"}, "DIR/sheets/a1.json: no schema or attempt in it: no sheet of marks"},
		{"another version", []string{"m.csv", "old.json"}, "DIR/old.json: sheet has schema 7, this version reads 1; grade the recording again"},
		{"the same sheet twice", []string{"m.csv", "sheets", "sheets/a1.sheet.json"}, `DIR/sheets/a1.sheet.json: attempt "a1" has a second sheet; leave one of them out`},
		{"marked in two files", []string{"m.csv", "m.csv", "second.csv"}, "DIR/second.csv:2: cab.horn of attempt a1 has been marked in another file; leave one of them out"},
		{"no attempt in common", []string{"strange.csv", "sheets"}, "no attempt of strange.csv is in sheets (z9; a1, a2); give the same attempt ids"},
		{"unknown level", []string{"m.csv", "sheets", "--level", "part"}, `unknown level "part" for --level; use item or check`},
		{"unknown form", []string{"m.csv", "sheets", "--as", "html"}, `unknown form "html" for --as; use text, json or csv`},
	} {
		out, _, err := runAgree(dir, c.args...)
		if err == nil {
			t.Errorf("%s: no error", c.reason)
			continue
		}
		got := strings.ReplaceAll(err.Error(), dir, "DIR")
		if !strings.HasPrefix(got, c.want) || strings.Contains(got, "\n") {
			t.Errorf("%s:\ngot  %s\nwant %s", c.reason, got, c.want)
		}
		if out != "" {
			t.Errorf("%s: half a report was written: %s", c.reason, out)
		}
	}
}
