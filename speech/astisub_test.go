package speech

import (
	"bytes"
	"fmt"
	"io"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/asticode/go-astisub"
)

// A second opinion: on well-formed files go-astisub, which reads all three
// formats in its own way, must find the same cues, times and words.
func TestAgreesWithAstisub(t *testing.T) {
	for name, c := range map[string]struct {
		write func(*astisub.Subtitles, io.Writer) error
		read  func(io.Reader) (*astisub.Subtitles, error)
	}{
		"srt":  {func(s *astisub.Subtitles, w io.Writer) error { return s.WriteToSRT(w) }, astisub.ReadFromSRT},
		"vtt":  {func(s *astisub.Subtitles, w io.Writer) error { return s.WriteToWebVTT(w) }, func(r io.Reader) (*astisub.Subtitles, error) { return astisub.ReadFromWebVTT(r) }},
		"ttml": {func(s *astisub.Subtitles, w io.Writer) error { return s.WriteToTTML(w) }, astisub.ReadFromTTML},
	} {
		t.Run(name, func(t *testing.T) {
			for seed := range uint64(20) {
				made := inventSRT(rand.New(rand.NewPCG(seed, 1)))
				subs, err := astisub.ReadFromSRT(strings.NewReader(made))
				if err != nil {
					t.Fatal(err)
				}
				var file bytes.Buffer
				if err := c.write(subs, &file); err != nil {
					t.Fatal(err)
				}
				in := file.String()
				theirs, err := c.read(strings.NewReader(in))
				if err != nil {
					t.Fatal(err)
				}
				ours, err := Read(strings.NewReader(in), Options{})
				if err != nil {
					t.Fatal(err)
				}
				checkTranscript(t, ours)
				if string(ours.Format) != name || len(ours.Warnings) > 0 {
					t.Errorf("read as %s with %v", ours.Format, ours.Warnings)
				}
				if got, want := cues(ours), astisubCues(theirs); got != want {
					t.Fatalf("we read\n%sgo-astisub\n%s", got, want)
				}
			}
		})
	}
}

// inventSRT makes a well-formed SRT file of nonsense from the trade.
func inventSRT(r *rand.Rand) string {
	words := strings.Fields("air brake hose coupler glad hand slack adjuster is not bent cut or leaking at 125 psi 4/32 twenty-five no, cracks. Okay don't")
	var b strings.Builder
	at := 0
	for i := range 30 {
		at += 1 + r.IntN(5000)
		end := at + 500 + r.IntN(4000)
		fmt.Fprintf(&b, "%d\n%s --> %s\n", i+1, srtClock(at), srtClock(end))
		for range 1 + r.IntN(2) {
			for k := range 1 + r.IntN(7) {
				if k > 0 {
					b.WriteByte(' ')
				}
				b.WriteString(words[r.IntN(len(words))])
			}
			b.WriteByte('\n')
		}
		b.WriteByte('\n')
		at = end
	}
	return b.String()
}

func srtClock(ms int) string {
	return fmt.Sprintf("%02d:%02d:%02d,%03d", ms/3_600_000, ms/60_000%60, ms/1000%60, ms%1000)
}

func cues(t *Transcript) string {
	var b strings.Builder
	for _, s := range t.Segments {
		fmt.Fprintf(&b, "%.3f %.3f %s\n", s.Start, s.End, t.Text(s.First, s.Last))
	}
	return b.String()
}

func astisubCues(subs *astisub.Subtitles) string {
	var b strings.Builder
	for _, item := range subs.Items {
		var words []string
		for _, l := range item.Lines {
			for _, part := range l.Items {
				words = append(words, strings.Fields(part.Text)...)
			}
		}
		fmt.Fprintf(&b, "%.3f %.3f %s\n", item.StartAt.Seconds(), item.EndAt.Seconds(), strings.Join(words, " "))
	}
	return b.String()
}
