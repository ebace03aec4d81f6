package main

import (
	"io/fs"
	"maps"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"runtime"
	"slices"
	"strings"
	"testing"
	"unicode"

	"github.com/spf13/cobra"

	"markaround/speech"
)

const top = "../../"

// fence is a fenced block of a Markdown file: its language, the file name that
// may follow, its lines, and where these lie among the lines of the file.
type fence struct {
	lang, name  string
	lines       []string
	first, last int
}

func fences(lines []string) (list []fence) {
	open := -1
	for i, line := range lines {
		if !strings.HasPrefix(line, "```") {
			continue
		}
		if open < 0 {
			open = i
			continue
		}
		lang, name, _ := strings.Cut(lines[open][3:], " ")
		list = append(list, fence{lang, name, lines[open+1 : i], open + 1, i})
		open = -1
	}
	return list
}

// TestReadme does what README.md says. A block with a file name is saved under
// that name; the commands of a "console" block run in a shell, each must
// succeed, and what it prints is held against what is shown, where a line "..."
// stands for any lines. With -update what is shown is written anew.
func TestReadme(t *testing.T) {
	if runtime.GOOS == "windows" {
		t.Skip("the commands are those of a Unix shell")
	}
	text, err := os.ReadFile(top + "README.md")
	if err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	if err := os.CopyFS(filepath.Join(dir, "testdata"), os.DirFS(top+"testdata")); err != nil {
		t.Fatal(err)
	}
	lines := strings.Split(string(text), "\n")
	out, written := []string{}, 0
	ran := 0
	for _, f := range fences(lines) {
		if f.name != "" {
			if err := os.WriteFile(filepath.Join(dir, f.name), []byte(strings.Join(f.lines, "\n")+"\n"), 0o644); err != nil {
				t.Fatal(err)
			}
		}
		if f.lang != "console" {
			continue
		}
		out = append(out, lines[written:f.first]...)
		written = f.last
		for _, c := range commands(f.lines) {
			ran++
			want := c.prints
			if !strings.HasPrefix(c.line, "go test ") && !strings.HasPrefix(c.line, "go install ") {
				got := runShown(t, dir, c.line)
				if *update {
					want = refresh(want, got)
				}
				if missing := differs(want, got); missing != "" {
					t.Errorf("$ %s\nprints no longer what README.md shows: %s\nIf it should not, run go test ./cmd/markaround -run TestReadme -update and read what changed.\nIt prints:\n%s",
						c.line, missing, strings.Join(got, "\n"))
				}
			}
			out = append(append(out, "$ "+c.line), want...)
		}
	}
	if ran == 0 {
		t.Error("README.md shows no command")
	}
	if *update {
		out = append(out, lines[written:]...)
		if err := os.WriteFile(top+"README.md", []byte(strings.Join(out, "\n")), 0o644); err != nil {
			t.Fatal(err)
		}
	}
}

type shown struct {
	line   string
	prints []string
}

func commands(lines []string) (list []shown) {
	for _, line := range lines {
		if c, ok := strings.CutPrefix(line, "$ "); ok {
			list = append(list, shown{line: c})
		} else if n := len(list); n > 0 {
			list[n-1].prints = append(list[n-1].prints, line)
		}
	}
	return list
}

// runShown gives the lines that a command prints, of both streams.
func runShown(t *testing.T, dir, line string) []string {
	t.Helper()
	// TestMain puts the program under test on the path.
	cmd := exec.Command("sh", "-c", strings.ReplaceAll(line, "go run ./cmd/markaround", "markaround"))
	cmd.Dir = dir
	cmd.Env = append(os.Environ(), "MARKAROUND_STORE=", "XDG_DATA_HOME="+filepath.Join(dir, "data"), "PATH="+programPath(os.Getenv("PATH")))
	got, err := cmd.CombinedOutput()
	if err != nil {
		t.Errorf("$ %s\n%v\n%s", line, err, got)
	}
	var list []string
	for l := range strings.Lines(string(got)) {
		list = append(list, strings.TrimRight(l, " \n"))
	}
	return list
}

// differs gives the first line shown that is not printed, in order and without
// a gap but for "..."; "" when all are. Nothing shown is held against nothing.
func differs(want, got []string) string {
	if len(want) == 0 {
		return ""
	}
	const more = "(it prints more)"
	var tight []string // a "..." between two blank lines may stand for nothing
	for i, l := range want {
		if l == "" && i+1 < len(want) && want[i+1] == "..." && (i+2 == len(want) || want[i+2] == "") {
			continue
		}
		tight = append(tight, l)
	}
	want = tight
	for loose := false; len(want) > 0; loose = true {
		if want[0] == "..." {
			loose, want = true, want[1:]
		}
		n := slices.Index(want, "...")
		end := n < 0
		if end {
			n = len(want)
		}
		if n == 0 {
			return "" // ends with "..."
		}
		// Where the part is printed, or most of its beginning.
		best, at := -1, 0
		for i := 0; i+best < len(got) && (loose || i == 0); i++ {
			same := 0
			for same < n && i+same < len(got) && got[i+same] == want[same] {
				same++
			}
			if same > best {
				best, at = same, i
			}
		}
		switch {
		case best < n:
			return want[max(best, 0)]
		case end && at+n < len(got):
			return more
		}
		got, want = got[at+n:], want[n:]
	}
	return ""
}

// refresh writes what is shown of an output anew: the same paragraphs, told by
// the words that they begin with. One that "..." cuts short keeps its number
// of lines; one that is printed no more is left out.
func refresh(want, got []string) []string {
	if !slices.Contains(want, "...") {
		if len(want) == 0 {
			return want
		}
		return got
	}
	var out []string
	printed := paragraphs(got)
	for _, p := range paragraphs(want) {
		cut := slices.Index(p, "...")
		if cut < 0 {
			cut = len(p)
		}
		head, rest := p[:cut], p[cut:]
		if len(head) > 0 {
			k := slices.IndexFunc(printed, func(q []string) bool { return opening(q[0]) == opening(head[0]) })
			switch {
			case k < 0:
				head = nil
			case len(rest) > 0:
				head = printed[k][:min(cut, len(printed[k]))]
			default:
				head = printed[k]
			}
		}
		if len(head)+len(rest) == 0 || len(head) == 0 && out != nil && out[len(out)-1] == "..." {
			continue
		}
		if out != nil {
			out = append(out, "")
		}
		out = append(append(out, head...), rest...)
	}
	return out
}

func paragraphs(lines []string) (list [][]string) {
	var p []string
	for _, l := range append(slices.Clone(lines), "") {
		if l != "" {
			p = append(p, l)
		} else if p != nil {
			list, p = append(list, p), nil
		}
	}
	return list
}

// opening is the first words of a line, up to a figure, a mark or a wide gap.
func opening(line string) string {
	line, _, _ = strings.Cut(strings.TrimLeft(line, " "), "  ")
	if i := strings.IndexFunc(line, func(r rune) bool { return !unicode.IsLetter(r) && r != ' ' }); i >= 0 {
		line = line[:i]
	}
	return strings.TrimSpace(line)
}

func TestShownAndPrinted(t *testing.T) {
	got := strings.Split("Class A\n\nAttempt   a1, from x\nResult    PASS\nRule      r\n\nMISSED (2)\n  one\n  two\n\nPACE\n  t", "\n")
	for _, c := range []struct{ want, missing, fresh, why string }{
		{"Class A\n...", "", "Class A\n...", "a head"},
		{"Class A\n\n...\n\nMISSED (2)\n  one\n  two\n\n...", "", "Class A\n\n...\n\nMISSED (2)\n  one\n  two\n\n...", "paragraphs"},
		{"Class A\n\n...\n\nAttempt   a1, from x\nResult    PASS\nRule      r\n\n...", "", "", "a gap of nothing"},
		{"Class B\n...", "Class B", "...", "another head"},
		{"...\n\nMISSED (3)\n  one\n  six\n  two\n\n...", "MISSED (3)", "...\n\nMISSED (2)\n  one\n  two\n\n...", "another count"},
		{"...\n\nMISSED (2)\n  one\n  six\n\n...", "  six", "...\n\nMISSED (2)\n  one\n  two\n\n...", "another line"},
		{"...\nRule      r\n\nMISSED (2)\n  one\n...", "", "", "cut short"},
		{"...\n\nPACE", "(it prints more)", "...\n\nPACE\n  t", "no end"},
		{"Class A", "(it prints more)", strings.Join(got, "\n"), "whole output"},
		{"", "", "", "nothing shown"},
	} {
		var want []string
		if c.want != "" {
			want = strings.Split(c.want, "\n")
		}
		if m := differs(want, got); m != c.missing {
			t.Errorf("%s: differs at %q, want %q", c.why, m, c.missing)
		}
		if c.fresh == "" {
			continue
		}
		if f := strings.Join(refresh(want, got), "\n"); f != c.fresh {
			t.Errorf("%s: written anew as\n%s\nwant\n%s", c.why, f, c.fresh)
		}
	}
}

// The tables of README.md have every command, format and package, and no other.
func TestReadmeTables(t *testing.T) {
	text, err := os.ReadFile(top + "README.md")
	if err != nil {
		t.Fatal(err)
	}
	row := regexp.MustCompile("(?m)^\\| `([^`]+)`")
	listed := map[string][]string{} // heading → first cells in code type
	for part := range strings.SplitSeq("\n"+string(text), "\n## ") {
		heading, body, _ := strings.Cut(part, "\n")
		for _, m := range row.FindAllStringSubmatch(body, -1) {
			listed[heading] = append(listed[heading], m[1])
		}
	}
	check := func(heading string, want []string) {
		t.Helper()
		got := slices.Sorted(slices.Values(listed[heading]))
		slices.Sort(want)
		if !slices.Equal(got, want) {
			t.Errorf("README.md, %s: the table has %q, want %q", heading, got, want)
		}
	}

	var names []string
	var walk func(*cobra.Command)
	walk = func(c *cobra.Command) {
		for _, sub := range c.Commands() {
			if sub.Hidden || sub.Name() == "completion" || sub.Name() == "help" {
				continue
			}
			if sub.HasSubCommands() {
				walk(sub)
				continue
			}
			names = append(names, strings.TrimPrefix(sub.CommandPath(), "markaround "))
		}
	}
	walk(newRoot())
	check("Commands", names)

	var formats []string
	for _, f := range speech.Formats() {
		formats = append(formats, string(f))
	}
	check("Transcript formats", formats)

	packages := map[string]bool{}
	err = filepath.WalkDir(top, func(path string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if name := d.Name(); d.IsDir() && path != top && (strings.HasPrefix(name, ".") || name == "tmp") {
			return filepath.SkipDir
		}
		if strings.HasSuffix(path, ".go") && !d.IsDir() {
			rel, err := filepath.Rel(top, filepath.Dir(path))
			packages[filepath.ToSlash(rel)] = true
			return err
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	check("Packages", slices.Collect(maps.Keys(packages)))
}

// The files, tests and variables that DEVELOPERS.md names are there.
func TestDevelopers(t *testing.T) {
	text, err := os.ReadFile(top + "DEVELOPERS.md")
	if err != nil {
		t.Fatal(err)
	}
	var code strings.Builder
	folders := map[string]bool{}
	err = filepath.WalkDir(top, func(path string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if d.IsDir() {
			if strings.HasPrefix(d.Name(), ".git") {
				return filepath.SkipDir
			}
			rel, err := filepath.Rel(top, path)
			folders[strings.SplitN(filepath.ToSlash(rel), "/", 2)[0]] = true
			return err
		}
		if strings.HasSuffix(path, ".go") {
			data, err := os.ReadFile(path)
			code.Write(data)
			return err
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	named := 0
	for _, m := range regexp.MustCompile("`([^`\n]+)`").FindAllStringSubmatch(string(text), -1) {
		if first, _, ok := strings.Cut(m[1], "/"); !ok || !folders[first] {
			continue
		}
		named++
		if found, err := filepath.Glob(top + m[1]); err != nil || len(found) == 0 {
			t.Errorf("DEVELOPERS.md names %s, which is not there", m[1])
		}
	}
	for _, name := range regexp.MustCompile(`\b(?:MARKAROUND_[A-Z]+|(?:Test|Fuzz|Benchmark)[A-Z]\w+)`).FindAllString(string(text), -1) {
		named++
		define := "func " + name + "("
		if strings.HasPrefix(name, "MARKAROUND_") {
			define = `Getenv("` + name + `")`
		}
		if !strings.Contains(code.String(), define) {
			t.Errorf("DEVELOPERS.md names %s, which is not there", name)
		}
	}
	if named < 30 {
		t.Errorf("only %d names were found in DEVELOPERS.md", named)
	}
}
