package table

import (
	"bytes"
	"reflect"
	"strings"
	"testing"
)

func TestRead(t *testing.T) {
	for _, c := range []struct{ text, want, fault, reason string }{
		{"student,cohort\nS-1,fall\n", "2:S-1/fall", "", "plain"},
		{"\ufeffStudent ; Cohort\r\n S-1 ; fall \r\n", "2:S-1/fall", "", "a spreadsheet's own separator and byte order mark"},
		{"name\tstudent\tcohort\nJane\tS-1\t\n", "2:S-1/", "", "columns nobody asks for"},
		{"# a class\n\nstudent,cohort\n\n# more\nS-1,\"fall, late\"\n,,\nS-2\n", "6:S-1/fall, late 8:S-2/", "", "comments, empty rows, short rows"},
		{"cohort,student,cohort\nfall,S-1,\n", "2:S-1/fall", "", "a column twice that is not needed: the first one that is filled"},
		{"", "", "x.csv:1: the file is empty", "nothing"},
		{"# only this\n", "", "x.csv:1: the file is empty", "a comment"},
		{"cohort\nfall\n", "", `x.csv:1: no column "student"`, "the column that is needed"},
		{"student,student\na,b\n", "", `x.csv:1: column "student" is there twice`, "twice"},
		{"student,cohort\n,fall\n", "", "x.csv:2: no student", "a row without it"},
		{"student,cohort\nS-1,fall,late\n", "", `x.csv:2: more fields than the header has columns, from "late"`, "a comma without quotes"},
		{"student\n\"S-1\n", "", `x.csv:2: extraneous or missing " in quoted-field`, "a quote that does not end"},
		{"student\nS\xe9\n", "", "x.csv:2: the text is not UTF-8", "another encoding"},
		{"\xff\xfes\x00", "", "x.csv:1: this is UTF-16 text", "another encoding"},
	} {
		rows, err := Read(strings.NewReader(c.text), "x.csv", "student")
		var got []string
		for _, r := range rows {
			got = append(got, strings.TrimSpace(string(rune('0'+r.Line)))+":"+r.Get("student")+"/"+r.Get("cohort"))
		}
		if s := strings.Join(got, " "); s != c.want {
			t.Errorf("%s: got %q, want %q", c.reason, s, c.want)
		}
		switch {
		case c.fault == "" && err != nil:
			t.Errorf("%s: %v", c.reason, err)
		case c.fault != "" && (err == nil || !strings.HasPrefix(err.Error(), c.fault)):
			t.Errorf("%s: error %v, want %s", c.reason, err, c.fault)
		}
	}
}

// Bad input gives an error and never panics; what is read has what is needed.
func FuzzRead(f *testing.F) {
	for _, s := range []string{"student,cohort\nS-1,fall\n", "student;cohort\n\"a\"\"b\";c\n", "\ufeffstudent\n#x\n", "student\n\"", ""} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		rows, err := Read(bytes.NewReader(data), "x", "student")
		if err != nil && rows != nil {
			t.Fatal("rows and an error")
		}
		line := 0
		for _, r := range rows {
			if r.Get("student") == "" || r.Line <= line {
				t.Fatalf("row %+v after line %d", r, line)
			}
			line = r.Line
		}
		if again, _ := Read(bytes.NewReader(data), "x", "student"); !reflect.DeepEqual(rows, again) {
			t.Fatal("another result the second time")
		}
	})
}
