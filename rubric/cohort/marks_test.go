package cohort

import (
	"errors"
	"os"
	"reflect"
	"strings"
	"testing"

	"markaround/rubric"
)

// short lists judgments as "attempt item mark", with a note where there is one.
func short(list []Judgment) []string {
	var out []string
	for _, j := range list {
		s := j.Attempt + " " + j.Item + " " + string(j.Mark)
		if j.Note != "" {
			s += " (" + j.Note + ")"
		}
		out = append(out, s)
	}
	return out
}

func TestReadMarks(t *testing.T) {
	three := []string{"a1 cab.horn said", "a1 air.leak/loss wrong (said six, not four)", "a1 order:chock-first found"}
	for _, c := range []struct {
		reason, in string
		want       []string
	}{
		{"plain", "attempt,item,mark,note\na1,cab.horn,said,\na1,air.leak/loss,wrong,\"said six, not four\"\na1,order:chock-first,found,\n", three},
		{"byte order mark and CRLF", "\ufeffattempt,item,mark,note\r\na1,cab.horn,said,\r\na1,air.leak/loss,wrong,\"said six, not four\"\r\na1,order:chock-first,found,", three},
		{"semicolons, as spreadsheets write them in some countries", "attempt;item;mark;note\na1;cab.horn;said;\na1;air.leak/loss;wrong;said six, not four\na1;order:chock-first;found;\n", three},
		{"tabs, with an empty field", "note\tattempt\titem\tmark\n\ta1\tcab.horn\tsaid\nsaid six, not four\ta1\tair.leak/loss\twrong\n\ta1\torder:chock-first\tfound\n", three},
		{"comments before the header and between rows, one quoted by a spreadsheet", "# invented; marks\n\nattempt,item,mark,note\n# a comment, with a comma\na1,cab.horn,said,\n\"# quoted, comment\",,,\n,,,\na1,air.leak/loss,wrong,\"said six, not four\"\na1,order:chock-first,found,\n", three},
		{"columns in another order, unknown ones passed over, capitals", "Mark,Minutes,ITEM,Attempt\nSaid,3, cab.horn ,a1\n", three[:1]},
		{"a short row at the end of which the note is left out", "attempt,item,mark,note\na1,cab.horn,said\n", three[:1]},
		{"the same item in two attempts", "attempt,item,mark\na1,cab.horn,said\na2,cab.horn,missed\n", []string{"a1 cab.horn said", "a2 cab.horn missed"}},
		{"a header only", "attempt,item,mark\n", nil},
		{"attempts with spaces and accents", "attempt,item,mark\n\"José, 2nd\",cab.horn,partly\n", []string{"José, 2nd cab.horn partly"}},
	} {
		m, err := ReadMarks(strings.NewReader(c.in), "m.csv")
		if err != nil {
			t.Errorf("%s: %v", c.reason, err)
			continue
		}
		if got := short(m.All()); !reflect.DeepEqual(got, c.want) {
			t.Errorf("%s: %q, want %q", c.reason, got, c.want)
		}
	}
}

func TestReadMarksKinds(t *testing.T) {
	m, err := ReadMarks(strings.NewReader("attempt,item,mark,kind\na1,air.leak,said,item\na1,air.leak/loss,said,Measure\na1,air.leak/held,said,check\na1,air.leak/x,said,\na1,order:y,found,measure\n"), "m.csv")
	if err != nil {
		t.Fatal(err)
	}
	var got []Kind
	for _, j := range m.All() {
		got = append(got, j.Kind)
	}
	if want := []Kind{ItemKind, MeasureKind, CheckKind, PartKind, FindingKind}; !reflect.DeepEqual(got, want) {
		t.Errorf("kinds %v, want %v", got, want)
	}
}

func TestReadMarksErrors(t *testing.T) {
	for _, c := range []struct{ reason, in, want string }{
		{"empty", "", "m.csv:1: the file is empty; begin with the header row attempt,item,mark"},
		{"comments only", "# nothing\n", "m.csv:1: the file is empty; begin with the header row attempt,item,mark"},
		{"no header", "a1,cab.horn,said\n", `m.csv:1: no column "attempt"; begin with a header row such as attempt,item,mark`},
		{"a column twice", "attempt,item,mark,mark\n", `m.csv:1: column "mark" is there twice; keep one of them`},
		{"unknown mark", "attempt,item,mark\na1,cab.horn,ok\n", `m.csv:2: unknown mark "ok" of item cab.horn; use said, partly, missed or wrong`},
		{"a check half said", "attempt,item,mark\na1,cab.horn/works,partly\n", `m.csv:2: mark "partly" does not fit cab.horn/works; a check or measure is said, missed or wrong`},
		{"a finding that was said", "attempt,item,mark\na1,hold:leak,said\n", `m.csv:2: mark "said" does not fit hold:leak; mark a finding "found", or leave the row out`},
		{"an item that was found", "attempt,item,mark\na1,cab.horn,found\n", `m.csv:2: unknown mark "found" of item cab.horn; use said, partly, missed or wrong`},
		{"an item of no known form", "attempt,item,mark\na1,horn,said\n", `m.csv:2: item "horn" has an unknown form; write section.part, section.part/check, or order:ID, hold:ID, reading:ID`},
		{"marked twice", "attempt,item,mark\n\na1,cab.horn,said\n# x\na1,cab.horn,missed\n", `m.csv:5: cab.horn of attempt a1 is marked on line 3 already; keep one of the rows`},
		{"an empty mark", "attempt,item,mark\na1,cab.horn,\n", "m.csv:2: no mark; fill it in or remove the row"},
		{"a row cut short", "attempt,item,mark\na1\n", "m.csv:2: no item; fill it in or remove the row"},
		{"too many fields", "attempt,item,mark,note\na1,cab.horn,said,six, not four\n", `m.csv:2: more fields than the header has columns, from "not four"; put quotes round a field that has a separator in it`},
		{"a stray quote", "attempt,item,mark,note\na1,cab.horn,said,6\" gap\n", `m.csv:2: bare " in non-quoted-field; put quotes round the whole field and write "" for a quote inside it`},
		{"a quote left open", "attempt,item,mark,note\na1,cab.horn,said,\"gap\n", `m.csv:2: extraneous or missing " in quoted-field; put quotes round the whole field and write "" for a quote inside it`},
		{"not UTF-8", "attempt,item,mark\nJos\xe9,cab.horn,said\n", "m.csv:2: the text is not UTF-8; save it as CSV in UTF-8"},
		{"UTF-16", "\xff\xfea\x00t\x00", "m.csv:1: this is UTF-16 text; save it as CSV in UTF-8"},
		{"two faults, both told", "attempt,item,mark\na1,horn,said\na1,cab.horn,ok\n", "m.csv:2: item \"horn\" has an unknown form; write section.part, section.part/check, or order:ID, hold:ID, reading:ID\nm.csv:3: unknown mark \"ok\" of item cab.horn; use said, partly, missed or wrong"},
	} {
		m, err := ReadMarks(strings.NewReader(c.in), "m.csv")
		if err == nil {
			t.Errorf("%s: read as %q", c.reason, short(m.All()))
			continue
		}
		if got := err.Error(); got != c.want {
			t.Errorf("%s:\ngot  %s\nwant %s", c.reason, got, c.want)
		}
		var one *rubric.Error
		if !errors.As(err, &one) || one.Pos.Line == 0 {
			t.Errorf("%s: no place in %#v", c.reason, err)
		}
	}
}

type brokenReader struct{}

func (brokenReader) Read([]byte) (int, error) { return 0, os.ErrPermission }

func TestReadMarksPassesReadErrors(t *testing.T) {
	if _, err := ReadMarks(brokenReader{}, "m.csv"); !errors.Is(err, os.ErrPermission) {
		t.Errorf("got %v", err)
	}
}

func FuzzReadMarks(f *testing.F) {
	f.Add("attempt,item,mark\na1,cab.horn,said\n")
	f.Add("\ufeffattempt;item;mark;note\r\na1;air.leak/loss;wrong;\"x;y\"\r\n# c\r\na1;order:x;found;\r\n")
	f.Add("attempt\titem\tmark\n\"a\tb\"\tcab.horn\tmissed\n")
	f.Add("attempt,item,mark\n\"a\n1\",cab.horn,said")
	f.Add("#\n\"#\"\n")
	f.Fuzz(func(t *testing.T, in string) {
		m, err := ReadMarks(strings.NewReader(in), "f")
		if err != nil {
			if m != nil || err.Error() == "" {
				t.Fatalf("marks beside an error, or an error without words: %v %v", m, err)
			}
			return
		}
		seen := map[string]bool{}
		last := 0
		for _, j := range m.All() {
			if j.Attempt == "" || j.Item == "" || seen[j.Attempt+"\n"+j.Item] || j.Line <= last {
				t.Fatalf("empty, twice or out of order: %+v", j)
			}
			seen[j.Attempt+"\n"+j.Item], last = true, j.Line
			if (j.Kind == FindingKind) != (j.Mark == Found) {
				t.Fatalf("kind and mark do not fit: %+v", j)
			}
		}
	})
}

func TestReadSheets(t *testing.T) {
	const sheet = `{"schema":1,"attempt":"a1","items":[{"id":"cab.horn","mark":"said","confidence":0.9}]}`
	for _, c := range []struct {
		reason, in string
		want       int
		wrong      string
	}{
		{"one", sheet, 1, ""},
		{"several, one after another", sheet + "\n" + sheet, 2, ""},
		{"empty", "", 0, "s.json: the file is empty: no sheet of marks"},
		{"other JSON", `{"segments":[]}`, 0, "s.json: no schema or attempt in it: no sheet of marks"},
		{"cut short", sheet[:40], 0, "s.json: byte 0: no sheet of marks (unexpected EOF)"},
		{"a version to come", strings.Replace(sheet, `:1,`, `:9,`, 1), 0, "s.json: sheet has schema 9, this version reads 1; grade the recording again"},
		{"one good, one bad", sheet + "[]", 0, "no sheet of marks"},
	} {
		got, err := ReadSheets(strings.NewReader(c.in), "s.json")
		if len(got) != c.want || (err == nil) != (c.wrong == "") || err != nil && !strings.Contains(err.Error(), c.wrong) {
			t.Errorf("%s: %d sheets, %v", c.reason, len(got), err)
		}
	}
}

func FuzzReadSheets(f *testing.F) {
	f.Add(`{"schema":1,"attempt":"a1","items":[{"id":"cab.horn","mark":"said","checks":[{"id":"works","mark":"wrong","evidence":[{"confidence":2}]}]}],"findings":[{"kind":"hold","id":"x"}]}`)
	f.Add(`{"schema":1,"attempt":"a1","items":[{"id":"","mark":""}]}`)
	f.Add(`[]{}`)
	f.Fuzz(func(t *testing.T, in string) {
		sheets, err := ReadSheets(strings.NewReader(in), "f")
		if err != nil {
			return
		}
		m := NewMarks("f")
		for _, s := range sheets {
			if err := m.AddSheet(s); err != nil {
				return
			}
		}
		c := Compare(m, m, ByItem)
		if len(c.Disagreements()) > 0 {
			t.Fatalf("a marker disagrees with itself: %+v", c.Disagreements())
		}
	})
}
