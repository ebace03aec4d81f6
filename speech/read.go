package speech

import (
	"fmt"
	"io"
	"os"
	"regexp"
	"slices"
	"strconv"
	"strings"
)

// reader takes a format's cues out of a source, as they stand there.
type reader struct {
	name Format
	read func(*source) ([]cue, error)
}

// DefaultMaxBytes is the largest transcript that Read accepts unless Options
// says otherwise: 32 MiB. The wordiest format, one JSON object for every part
// of a word, takes about 4 MB an hour.
const DefaultMaxBytes = 32 << 20

// Limits that stop a file which is all words, or all JSON, from filling the
// memory. An hour of steady speech is about 9,000 words; the wordiest JSON has
// about 100,000 values an hour.
const (
	maxWords  = 1_000_000
	maxValues = 1_000_000
)

// Options tells Read what it cannot see from the content.
type Options struct {
	Name     string // for messages, usually the file's path
	Format   Format // Auto detects it from the content
	MaxBytes int64  // larger input is refused; 0 means DefaultMaxBytes
}

// formats lists every format with the function that reads it.
var formats = []reader{
	{SRT, readSRT},
	{WebVTT, readWebVTT},
	{TTML, readTTML},
	{Whisper, readWhisper},
	{WhisperCPP, readWhisperCPP},
	{Vosk, readVosk},
	{Cloud, readCloud},
	{CTM, readCTM},
	{Text, readText},
}

// Formats lists the formats that Read knows, Auto left out.
func Formats() []Format {
	out := make([]Format, len(formats))
	for i, f := range formats {
		out[i] = f.name
	}
	return out
}

// ParseFormat turns a name as a user types it ("vtt", ".srt", "WebVTT") into a
// Format; "" and "auto" give Auto. The error lists the names.
func ParseFormat(s string) (Format, error) {
	name := strings.TrimPrefix(strings.ToLower(strings.TrimSpace(s)), ".")
	switch name {
	case "", "auto":
		return Auto, nil
	case "webvtt":
		return WebVTT, nil
	case "whisper.cpp", "whisper-cpp":
		return WhisperCPP, nil
	case "txt", "plain":
		return Text, nil
	case "dfxp":
		return TTML, nil
	}
	names := make([]string, len(formats))
	for i, f := range formats {
		if string(f.name) == name {
			return f.name, nil
		}
		names[i] = string(f.name)
	}
	return Auto, fmt.Errorf("unknown transcript format %q; use one of %s, or leave it out to detect it", s, strings.Join(names, ", "))
}

// ReadFile reads the transcript in the file at path. Options.Name defaults to
// path. Errors are those of Read and of opening the file.
func ReadFile(path string, opt Options) (*Transcript, error) {
	if opt.Name == "" {
		opt.Name = path
	}
	f, err := os.Open(path)
	if err != nil {
		return nil, fmt.Errorf("open transcript: %w", err)
	}
	defer f.Close()
	return Read(f, opt)
}

// Read reads one transcript. What could be repaired or had to be left out is
// in the result's Warnings, of which like ones are counted together beyond a
// few. An error in the content is a *SyntaxError; input larger than
// Options.MaxBytes is an error too, found without reading on. A transcript
// without a single word is an error, so that silence is never marked.
func Read(r io.Reader, opt Options) (*Transcript, error) {
	limit := opt.MaxBytes
	if limit <= 0 {
		limit = DefaultMaxBytes
	}
	data, err := io.ReadAll(io.LimitReader(r, limit+1))
	if err != nil {
		return nil, fmt.Errorf("read transcript %q: %w", opt.Name, err)
	}
	src := &source{name: opt.Name}
	if int64(len(data)) > limit {
		return nil, src.errorf(0, "give the transcript of one recording", "larger than the limit of %s", byteSize(limit))
	}
	if src.text, err = src.decode(data); err != nil {
		return nil, err
	}
	if err := src.checkSize(); err != nil {
		return nil, err
	}
	format := opt.Format
	if format == Auto {
		if format, err = src.detect(); err != nil {
			return nil, err
		}
	}
	i := slices.IndexFunc(formats, func(f reader) bool { return f.name == format })
	if i < 0 {
		return nil, fmt.Errorf("unknown transcript format %q", format)
	}
	cues, err := formats[i].read(src)
	if err != nil {
		return nil, err
	}
	t, err := src.assemble(cues)
	if err != nil {
		return nil, err
	}
	t.Format = format
	return t, nil
}

// checkSize refuses a text of more words or JSON values than a recording can
// have, before they are made. Times and markup may be four fields a word.
func (s *source) checkSize() error {
	const advice = "give the transcript of one recording"
	fields, inField := 0, false
	for i := 0; i < len(s.text); i++ {
		c := s.text[i]
		space := c == ' ' || c == '\n' || c == '\t'
		if !space && !inField {
			fields++
		}
		inField = !space
	}
	if fields > 4*maxWords {
		return s.errorf(0, advice, "%d words, more than the limit of %d", fields, 4*maxWords)
	}
	if !jsonStart.MatchString(strings.TrimLeft(s.text, " \t\n\f")) {
		return nil
	}
	// A comma parts two values, be they objects or not.
	if n := max(strings.Count(s.text, "{"), strings.Count(s.text, ",")); n > maxValues {
		return s.errorf(0, advice, "%d JSON values, more than the limit of %d", n, maxValues)
	}
	return nil
}

// Detect tells the format of a transcript by its content alone. The error is
// a *SyntaxError that says what the content looks like instead.
func Detect(data []byte) (Format, error) {
	src := new(source)
	var err error
	if src.text, err = src.decode(data); err != nil {
		return Auto, err
	}
	return src.detect()
}

var (
	ttRoot     = regexp.MustCompile(`<([\w-]+:)?tt[\s>]`)
	markupRoot = regexp.MustCompile(`(?i)^<(\?xml|!doctype|html|[\w-]+(:[\w-]+)?(\s+[\w:-]+\s*=|>\s*<))`)
)

func (s *source) detect() (Format, error) {
	text := strings.TrimLeft(s.text, " \t\n\f")
	if text == "" {
		return Auto, s.errorf(0, "run the speech-to-text again, or check which file was saved", "the transcript is empty")
	}
	head := text[:min(len(text), 64<<10)]
	switch {
	case webVTTSignature(s.text):
		return WebVTT, nil
	case jsonStart.MatchString(head):
		return s.detectJSON()
	case text[0] == '<' && ttRoot.MatchString(head):
		return TTML, nil
	case markupRoot.MatchString(head):
		return Auto, s.errorf(0, "save it as SRT, WebVTT or plain text", "a web page or other XML, not a TTML transcript")
	case hasTimingLine(text):
		return SRT, nil
	case looksLikeCTM(head):
		return CTM, nil
	case hasTimeMarks(text):
		return Text, nil
	}
	return Auto, s.noTimes()
}

// source is a transcript's text on its way through a reader, with the warnings
// gathered so far.
type source struct {
	name  string
	text  string // UTF-8, lines ended by \n only
	notes []note
}

// note gathers the warnings of one kind.
type note struct {
	few  []Warning // the first of them
	last Warning   // the last of those after
	more int       // how many came after
	noun string    // what the others are, as in "and 37 more NOUN"
}

const keptWarnings = 3

// warn records a warning. Warnings with the same plural noun are of one kind:
// the first few are kept, the rest counted.
func (s *source) warn(line, cue int, noun, format string, args ...any) {
	i := slices.IndexFunc(s.notes, func(n note) bool { return n.noun == noun })
	if i < 0 {
		i = len(s.notes)
		s.notes = append(s.notes, note{noun: noun})
	}
	n := &s.notes[i]
	w := Warning{Line: line, Cue: cue, Text: fmt.Sprintf(format, args...)}
	if len(n.few) == keptWarnings {
		n.last = w
		n.more++
		return
	}
	n.few = append(n.few, w)
}

// warnings lists what was recorded, in order of the first of each kind.
func (s *source) warnings() []Warning {
	var out []Warning
	for _, n := range s.notes {
		out = append(out, n.few...)
		switch {
		case n.more == 1:
			out = append(out, n.last)
		case n.more > 1:
			out = append(out, Warning{Text: fmt.Sprintf("and %d more %s", n.more, n.noun)})
		}
	}
	return out
}

func (s *source) errorf(line int, advice, format string, args ...any) error {
	return &SyntaxError{Name: s.name, Line: line, Msg: fmt.Sprintf(format, args...), Advice: advice}
}

// lineAt is the line, from 1, that holds the byte at offset.
func (s *source) lineAt(offset int64) int {
	offset = max(0, min(offset, int64(len(s.text))))
	return 1 + strings.Count(s.text[:offset], "\n")
}

// quote shortens text for a message.
func quote(text string) string {
	text = strings.Join(strings.Fields(text), " ")
	if r := []rune(text); len(r) > 40 {
		text = string(r[:37]) + "..."
	}
	return strconv.Quote(text)
}

func byteSize(n int64) string {
	if n >= 1<<20 {
		return fmt.Sprintf("%d MiB", n>>20)
	}
	return fmt.Sprintf("%d bytes", n)
}
