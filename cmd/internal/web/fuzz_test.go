package web

import (
	"net/url"
	"strings"
	"testing"
	"unicode"
	"unicode/utf8"
)

// What a browser sends as a file's name is a name and nothing else, and the way
// back is a path of this server.
func FuzzFromOutside(f *testing.F) {
	for _, s := range []string{"", "a.srt", `..\..\a/../b.srt`, "/etc/passwd", "\x00\xff\u2028", "//evil.example", "/\\evil.example", "https://evil.example", "/attempts/1?x=%2f#a", "/%2f/evil.example", "/..//evil.example", "javascript:alert(1)", strings.Repeat("é", 200)} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		name := fileName(s)
		if name == "" || name == "." || name == ".." || strings.ContainsAny(name, `/\`) || strings.ContainsFunc(name, func(r rune) bool { return r < ' ' || r == unicode.MaxASCII }) || !utf8.ValidString(name) || utf8.RuneCountInString(name) > 100 {
			t.Errorf("%q gives the name %q", s, name)
		}
		if name := attemptName(name); name == "" {
			t.Errorf("%q gives an empty attempt", s)
		}
		path := localPath(s)
		u, err := url.Parse(path)
		if err != nil || u.Host != "" || u.Scheme != "" || !strings.HasPrefix(path, "/") || strings.HasPrefix(path, "//") || strings.HasPrefix(path, `/\`) {
			t.Errorf("%q leads to %q", s, path)
		}
	})
}
