package report

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"flag"
	"io"
	"math"
	"os"
	"reflect"
	"slices"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/santhosh-tekuri/jsonschema/v6"
	"pgregory.net/rapid"

	"markaround/rubric"
)

var update = flag.Bool("update", false, "rewrite the golden files")

func golden(t *testing.T, name string, got []byte) {
	t.Helper()
	path := "testdata/" + name
	if *update {
		if err := os.WriteFile(path, got, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(got, want) {
		t.Errorf("%s differs; see the difference after go test -update and git diff", path)
	}
}

func TestTextGolden(t *testing.T) {
	s, _ := bigSheet()
	var b bytes.Buffer
	if err := Text(&b, s, TextOptions{}); err != nil {
		t.Fatal(err)
	}
	golden(t, "big.txt", b.Bytes())
}

func TestTextWidth(t *testing.T) {
	s, _ := bigSheet()
	s.Items[3].Title = strings.Repeat("long title ", 30)
	s.Sections[1].Title = strings.Repeat("W", 200)
	for _, width := range []int{0, 40, 60, 77, 100, 500} {
		most := 100
		if width > 0 {
			most = min(max(width, 60), 100)
		}
		var b bytes.Buffer
		if err := Text(&b, s, TextOptions{Width: width, All: true}); err != nil {
			t.Fatal(err)
		}
		for i, line := range strings.Split(b.String(), "\n") {
			if n := utf8.RuneCountInString(line); n > most {
				t.Errorf("width %d, line %d has %d columns: %s", width, i+1, n, line)
			}
		}
	}
}

// Without color the text must be the same but for the escape codes: color adds
// nothing that the words do not say.
func TestColorCarriesNothingAlone(t *testing.T) {
	s, _ := bigSheet()
	var plain, colored bytes.Buffer
	Text(&plain, s, TextOptions{All: true})
	Text(&colored, s, TextOptions{All: true, Color: true})
	if bytes.Equal(plain.Bytes(), colored.Bytes()) {
		t.Fatal("no color at all")
	}
	stripped := colored.String()
	for {
		i := strings.Index(stripped, "\x1b[")
		if i < 0 {
			break
		}
		stripped = stripped[:i] + stripped[i+strings.IndexByte(stripped[i:], 'm')+1:]
	}
	if stripped != plain.String() {
		t.Error("colored text says something that plain text does not")
	}
	if strings.Contains(plain.String(), "\x1b") {
		t.Error("plain text has escape codes")
	}
}

func TestTextOrder(t *testing.T) {
	s, _ := bigSheet()
	var b bytes.Buffer
	Text(&b, s, TextOptions{All: true})
	at := -1
	for _, part := range []string{"NO PASS", "Section ", "CRITICAL FAILURES", "WRONG NUMBERS", "CONTRADICTED", "MISSED", "PARTLY SAID", "ORDER, HOLDS", "PACE", "LISTEN TO", "SAID (", "CAUTIONS"} {
		// "SAID (" is also the end of "PARTLY SAID (", so search on from the part before.
		i := strings.Index(b.String()[at+1:], part)
		if i < 0 {
			t.Fatalf("%q is absent or out of place", part)
		}
		at += 1 + i
	}
}

// Nothing in a transcript may steer the terminal.
func TestTextIsCleanOfControls(t *testing.T) {
	s, _ := bigSheet()
	evil := "a\x1b[2Jb\x07c\u202ed\ne\x9bf"
	s.Attempt, s.Source, s.Rubric.Title = evil, evil, evil
	for i := range s.Items {
		s.Items[i].Title, s.Items[i].Reason = evil, evil
		for j := range s.Items[i].Named {
			s.Items[i].Named[j].Words = evil
		}
	}
	s.Warnings = append(s.Warnings, evil)
	s.Result.Reasons = append(s.Result.Reasons, evil)
	for i := range s.Findings {
		s.Findings[i].Text = evil
	}
	var b bytes.Buffer
	Text(&b, s, TextOptions{All: true})
	Summary(&b, []Row{NewRow(s)}, TextOptions{})
	for _, r := range b.String() {
		if r != '\n' && (r < ' ' || r == 0x7f || r == 0x202e || r == 0x9b) {
			t.Fatalf("control character %U in the text", r)
		}
	}
}

func TestEmptySheet(t *testing.T) {
	s := &rubric.Sheet{Schema: rubric.SheetSchema}
	var b bytes.Buffer
	if err := Text(&b, s, TextOptions{All: true}); err != nil {
		t.Error(err)
	}
	if err := CSV(&b, s); err != nil {
		t.Error(err)
	}
	if err := HTML(&b, s, HTMLOptions{}); err != nil {
		t.Error(err)
	}
	b.Reset()
	if err := JSON(&b, s); err != nil {
		t.Error(err)
	}
	validate(t, b.Bytes())
}

func schema(t *testing.T) *jsonschema.Schema {
	t.Helper()
	doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(Schema))
	if err != nil {
		t.Fatal(err)
	}
	c := jsonschema.NewCompiler()
	c.AssertFormat()
	if err := c.AddResource("sheet.json", doc); err != nil {
		t.Fatal(err)
	}
	sch, err := c.Compile("sheet.json")
	if err != nil {
		t.Fatal(err)
	}
	return sch
}

func validate(t *testing.T, data []byte) {
	t.Helper()
	doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(data))
	if err != nil {
		t.Fatal(err)
	}
	if err := schema(t).Validate(doc); err != nil {
		t.Error(err)
	}
}

func TestJSONValidates(t *testing.T) {
	s, _ := bigSheet()
	var b bytes.Buffer
	if err := JSON(&b, s); err != nil {
		t.Fatal(err)
	}
	validate(t, b.Bytes())
	b.Reset()
	if err := JSONLine(&b, s); err != nil {
		t.Fatal(err)
	}
	if n := bytes.Count(b.Bytes(), []byte("\n")); n != 1 {
		t.Errorf("JSONLine wrote %d lines", n)
	}
	validate(t, b.Bytes())

	var back rubric.Sheet
	if err := json.Unmarshal(b.Bytes(), &back); err != nil {
		t.Fatal(err)
	}
	if len(back.Items) != len(s.Items) || back.Points != s.Points || back.Pace.End != s.Pace.End {
		t.Error("the sheet does not survive the round trip")
	}
}

// The schema must reject what is not a sheet, or it checks nothing.
func TestSchemaRejects(t *testing.T) {
	for _, c := range []struct {
		reason string
		change func(map[string]any)
	}{
		{"a null list", func(m map[string]any) { m["items"] = nil }},
		{"an unknown key", func(m map[string]any) { m["grade"] = "A" }},
		{"a key left out", func(m map[string]any) { delete(m, "pace") }},
		{"an unknown mark", func(m map[string]any) { m["items"].([]any)[0].(map[string]any)["mark"] = "maybe" }},
		{"confidence above 1", func(m map[string]any) { m["items"].([]any)[0].(map[string]any)["confidence"] = 1.5 }},
		{"another version", func(m map[string]any) { m["schema"] = 2 }},
	} {
		s, _ := bigSheet()
		var b bytes.Buffer
		JSON(&b, s)
		var m map[string]any
		if err := json.Unmarshal(b.Bytes(), &m); err != nil {
			t.Fatal(err)
		}
		c.change(m)
		if schema(t).Validate(any(m)) == nil {
			t.Errorf("accepted %s", c.reason)
		}
	}
}

// Every field of the sheet is in the schema, described and of the right type, and
// required unless the sheet may leave it out; and the schema lists nothing else.
func TestSchemaListsEveryField(t *testing.T) {
	var root map[string]any
	if err := json.Unmarshal(Schema, &root); err != nil {
		t.Fatal(err)
	}
	defs := root["$defs"].(map[string]any)
	resolve := func(n map[string]any) map[string]any {
		if ref, ok := n["$ref"].(string); ok {
			return defs[strings.TrimPrefix(ref, "#/$defs/")].(map[string]any)
		}
		return n
	}
	var walk func(path string, typ reflect.Type, node map[string]any)
	walk = func(path string, typ reflect.Type, node map[string]any) {
		node = resolve(node)
		if typ.Kind() == reflect.Pointer {
			typ = typ.Elem()
		}
		if node["description"] == nil && node["type"] == "object" {
			t.Errorf("%s has no description", path)
		}
		want := map[reflect.Kind]string{
			reflect.Struct: "object", reflect.Slice: "array", reflect.String: "string",
			reflect.Bool: "boolean", reflect.Float64: "number", reflect.Int: "integer",
		}[typ.Kind()]
		if node["const"] == nil && node["type"] != want {
			t.Errorf("%s is %v in the schema, %s in the sheet", path, node["type"], want)
		}
		switch typ.Kind() {
		case reflect.Slice:
			walk(path+"[]", typ.Elem(), node["items"].(map[string]any))
		case reflect.Struct:
			props := node["properties"].(map[string]any)
			var required []string
			for _, r := range node["required"].([]any) {
				required = append(required, r.(string))
			}
			if node["additionalProperties"] != false {
				t.Errorf("%s admits unknown keys", path)
			}
			if len(props) != typ.NumField() {
				t.Errorf("%s has %d keys in the schema, %d in the sheet", path, len(props), typ.NumField())
			}
			for i := range typ.NumField() {
				name, option, _ := strings.Cut(typ.Field(i).Tag.Get("json"), ",")
				sub, ok := props[name].(map[string]any)
				if !ok {
					t.Errorf("%s.%s is not in the schema", path, name)
					continue
				}
				if slices.Contains(required, name) == (option == "omitempty") {
					t.Errorf("%s.%s: required is %t, the sheet says %q", path, name, slices.Contains(required, name), option)
				}
				if sub["description"] == nil && resolve(sub)["description"] == nil {
					t.Errorf("%s.%s has no description", path, name)
				}
				walk(path+"."+name, typ.Field(i).Type, sub)
			}
		}
	}
	walk("sheet", reflect.TypeFor[rubric.Sheet](), root)
}

func TestJSONRefusesNaN(t *testing.T) {
	s, _ := bigSheet()
	s.Items[0].Confidence = math.NaN()
	if err := JSON(&bytes.Buffer{}, s); err == nil || !strings.Contains(err.Error(), "invented-07") {
		t.Errorf("got %v, want an error that names the attempt", err)
	}
}

func TestCSV(t *testing.T) {
	s, _ := bigSheet()
	s.Items[0].Named[0].Words = `=1+2,"quoted"`
	var b bytes.Buffer
	if err := CSV(&b, s, s); err != nil {
		t.Fatal(err)
	}
	rows, err := csv.NewReader(&b).ReadAll() // also checks that all rows are equally long
	if err != nil {
		t.Fatal(err)
	}
	if !slices.Equal(rows[0], Columns) {
		t.Errorf("header %v", rows[0])
	}
	want := 0
	for _, it := range s.Items {
		want += 1 + len(it.Checks) + len(it.Measures)
	}
	for _, f := range s.Findings {
		if f.Kind != rubric.PaceFinding {
			want++
		}
	}
	if len(rows) != 1+2*want {
		t.Errorf("%d rows, want %d", len(rows), 1+2*want)
	}
	col := func(row []string, name string) string { return row[slices.Index(Columns, name)] }
	if got := col(rows[1], "words"); got != `'=1+2,"quoted"` {
		t.Errorf("formula cell is %q", got)
	}
	i := slices.IndexFunc(rows, func(r []string) bool { return col(r, "item") == "air.loss-in-one-minute/figure" })
	if i < 0 || col(rows[i], "said") != "at most 6 psi" || col(rows[i], "accepted") != "at most 4 psi" || col(rows[i], "mark") != "wrong" {
		t.Errorf("the wrong number is not in the rows as it should be")
	}
}

func TestSummary(t *testing.T) {
	s, _ := bigSheet()
	var b bytes.Buffer
	if err := Summary(&b, []Row{NewRow(s), {Attempt: strings.Repeat("x", 80), Pass: true, Points: 80, Of: 80, Seconds: 3700}}, TextOptions{}); err != nil {
		t.Fatal(err)
	}
	golden(t, "summary.txt", b.Bytes())
	for line := range strings.SplitSeq(b.String(), "\n") {
		if utf8.RuneCountInString(line) > 100 {
			t.Errorf("too long: %s", line)
		}
	}
}

func TestClock(t *testing.T) {
	for _, c := range []struct {
		in     float64
		want   string
		reason string
	}{
		{0, "0:00", "start"},
		{59.99, "0:59", "cut down, not rounded up"},
		{60, "1:00", "minute"},
		{3599.9, "59:59", "below an hour"},
		{3600, "1:00:00", "hour"},
		{36061, "10:01:01", "ten hours"},
		{-1, "-", "no time"},
		{math.NaN(), "-", "undefined"},
		{math.Inf(1), "-", "infinite"},
	} {
		if got := Clock(c.in); got != c.want {
			t.Errorf("Clock(%v) = %q, want %q: %s", c.in, got, c.want, c.reason)
		}
	}
}

func TestShorten(t *testing.T) {
	for _, c := range []struct {
		in     string
		width  int
		want   string
		reason string
	}{
		{"no leaks", 20, "no leaks", "fits"},
		{"i should not lose more than six pounds in one minute", 40, "i should not lose more ... in one minute", "cut at words, both ends kept"},
		{strings.Repeat("x", 50), 15, "xxxxxxx ... xxx", "one long word"},
		{"ñandú über café", 6, "ñandú ", "counts characters, not bytes"},
	} {
		got := Shorten(c.in, c.width)
		if got != c.want {
			t.Errorf("Shorten(%q, %d) = %q, want %q: %s", c.in, c.width, got, c.want, c.reason)
		}
		if utf8.RuneCountInString(got) > c.width {
			t.Errorf("Shorten(%q, %d) is too long", c.in, c.width)
		}
	}
}

// A share just under the pass mark must not read as the pass mark.
func TestPercent(t *testing.T) {
	for _, c := range []struct {
		part, of     float64
		want, reason string
	}{
		{17, 19, "89.5%", "89.47 rounded"},
		{9, 19, "47.4%", "47.37 rounded"},
		{1, 3, "33.3%", "33.33 rounded"},
		{1, 16, "6.3%", "half up"},
		{79.96, 100, "79.9%", "below 80"},
		{9999, 10000, "99.9%", "not all"},
		{80, 100, "80.0%", "whole"},
		{64, 80, "80.0%", "whole, of a quotient"},
		{7, 7, "100.0%", "all"},
		{0, 9, "0.0%", "none"},
		{0, 0, "-", "of nothing"},
	} {
		if got := percent(c.part, c.of); got != c.want {
			t.Errorf("%s: percent(%v, %v) = %s, want %s", c.reason, c.part, c.of, got, c.want)
		}
	}
}

// Wrapping loses no word and makes no line too long.
func TestWrapKeepsEveryWord(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := clean(rapid.String().Draw(t, "text"))
		width := rapid.IntRange(8, 120).Draw(t, "width")
		lines := Wrap(s, width)
		for _, l := range lines {
			if n := utf8.RuneCountInString(l); n > width || n == 0 {
				t.Fatalf("a line of %d at width %d", n, width)
			}
		}
		if got, want := strings.ReplaceAll(strings.Join(lines, ""), " ", ""), strings.ReplaceAll(s, " ", ""); got != want {
			t.Fatalf("got %q, want %q", got, want)
		}
	})
}

// Shortened text fits, and what stands before and after the cut is the text's
// own beginning and end.
func TestShortenKeepsTheEnds(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := clean(rapid.String().Draw(t, "text"))
		width := rapid.IntRange(0, 60).Draw(t, "width")
		got := Shorten(s, width)
		if utf8.RuneCountInString(got) > width {
			t.Fatalf("%q is wider than %d", got, width)
		}
		if head, tail, cut := strings.Cut(got, " ... "); cut && utf8.RuneCountInString(s) > width &&
			(!strings.HasPrefix(s, head) || !strings.HasSuffix(s, tail)) && strings.Count(got, " ... ") == 1 {
			t.Fatalf("%q is not the ends of %q", got, s)
		}
	})
}

func BenchmarkText(b *testing.B) {
	s, words := bigSheet()
	for b.Loop() {
		Text(io.Discard, s, TextOptions{All: true, Transcript: words})
	}
}

func BenchmarkHTML(b *testing.B) {
	s, words := bigSheet()
	for b.Loop() {
		HTML(io.Discard, s, HTMLOptions{Transcript: words})
	}
}

// What a person corrected stands on the sheet in every form, with the program's
// mark, who and why.
func TestCorrectedSheet(t *testing.T) {
	s, _ := bigSheet()
	i := slices.IndexFunc(s.Items, func(m rubric.ItemMark) bool { return m.Mark == rubric.Missed })
	id, title := s.Items[i].ID, s.Items[i].Title
	left := rubric.Rule{}.Correct(s, []rubric.Correction{
		{Item: id, Mark: rubric.Said, Why: "heard <it> at 2:10", Who: "I-03", When: "2026-11-25T10:00:00Z"},
		{Item: s.Items[0].ID, Mark: s.Items[0].Mark, Who: "I-03", When: "2026-11-25T10:00:00Z"},
	})
	if len(left) > 0 {
		t.Fatal(left)
	}
	for _, c := range []struct {
		form string
		to   func(io.Writer) error
		want []string
	}{
		{"text", func(w io.Writer) error { return Text(w, s, TextOptions{}) },
			[]string{"CORRECTED (2)", title + ": said, was missed", "by I-03, 2026-11-25: heard <it> at 2:10", ", confirmed"}},
		{"page", func(w io.Writer) error { return HTML(w, s, HTMLOptions{}) },
			[]string{`id="h-corrected"`, "was missed", "by I-03, 2026-11-25: heard &lt;it&gt; at 2:10", "confirmed"}},
		{"csv", func(w io.Writer) error { return CSV(w, s) }, []string{id + ",said,item", "missed,I-03,heard <it> at 2:10"}},
		{"json", func(w io.Writer) error { return JSON(w, s) }, []string{`"from": "missed"`, `"who": "I-03"`}},
	} {
		var b bytes.Buffer
		if err := c.to(&b); err != nil {
			t.Fatal(err)
		}
		for _, want := range c.want {
			if !strings.Contains(b.String(), want) {
				t.Errorf("%s: no %q", c.form, want)
			}
		}
	}
}
