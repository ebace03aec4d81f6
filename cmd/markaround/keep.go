package main

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"regexp"
	"runtime"
	"strconv"
	"strings"
	"time"

	"github.com/spf13/pflag"

	"markaround/cmd/internal/store"
	"markaround/cmd/internal/table"
	"markaround/rubric"
)

// storeFlag says where attempts are kept. All commands that need the store have
// it.
type storeFlag struct{ where string }

func (f *storeFlag) add(fl *pflag.FlagSet) {
	fl.StringVar(&f.where, "store", "", "where attempts are kept: a file or postgres://... (default: $MARKAROUND_STORE, else attempts.db in the folder markaround of your data directory)")
}

// place is the store that the flag, the environment or the user's data directory
// names, and whether nobody named one.
func (f storeFlag) place() (where string, byDefault bool, err error) {
	if f.where != "" {
		return f.where, false, nil
	}
	if env := os.Getenv("MARKAROUND_STORE"); env != "" {
		return env, false, nil
	}
	dir, err := dataDir()
	return filepath.Join(dir, "markaround", "attempts.db"), true, err
}

// open opens the store. The folder of the user's own is made where it is lacking,
// for the user alone.
func (f storeFlag) open(ctx context.Context, create bool) (*store.Store, error) {
	where, byDefault, err := f.place()
	if err != nil {
		return nil, err
	}
	if byDefault && create {
		if err := os.MkdirAll(filepath.Dir(where), 0o700); err != nil {
			return nil, pathError(err)
		}
	}
	return store.Open(ctx, where, store.Options{Create: create})
}

// dataDir is where programs keep the user's data: $XDG_DATA_HOME or .local/share
// by the XDG Base Directory Specification 0.8, and what macOS and Windows have in
// its place (from memory).
func dataDir() (string, error) {
	if dir := os.Getenv("XDG_DATA_HOME"); filepath.IsAbs(dir) { // a relative one is to be ignored
		return dir, nil
	}
	if runtime.GOOS == "windows" {
		if dir := os.Getenv("LocalAppData"); dir != "" {
			return dir, nil
		}
	}
	home, err := os.UserHomeDir()
	switch {
	case err != nil:
		return "", errors.New("there is no home folder to keep attempts in; name a file with --store")
	case runtime.GOOS == "darwin":
		return filepath.Join(home, "Library", "Application Support"), nil
	}
	return filepath.Join(home, ".local", "share"), nil
}

// detailFlags are what a person says of attempts.
type detailFlags struct{ store.Details }

func (f *detailFlags) add(fl *pflag.FlagSet) {
	fl.StringVar(&f.Student, "student", "", "id of the student")
	fl.StringVar(&f.Cohort, "cohort", "", "cohort or class")
	fl.StringVar(&f.Site, "site", "", "site or yard")
	fl.StringVar(&f.Instructor, "instructor", "", "id of the instructor")
	fl.StringVar(&f.Vehicle, "vehicle", "", "vehicle that was inspected")
	fl.StringVar(&f.Day, "date", "", "day of the attempt, as 2026-11-25")
	fl.IntVar(&f.Number, "number", 0, "which of the student's attempts it is, from 1")
}

func (f *detailFlags) names() []string {
	return []string{"student", "cohort", "site", "instructor", "vehicle", "date", "number"}
}

// keepFlags say whether and how grade keeps attempts.
type keepFlags struct {
	storeFlag
	detailFlags
	on    bool
	list  string
	audio bool
}

func (f *keepFlags) add(fl *pflag.FlagSet) {
	fl.BoolVar(&f.on, "keep", false, "keep the attempts in the store, with transcript and sheet")
	f.detailFlags.add(fl)
	fl.StringVar(&f.list, "students", "", "class list: a CSV file with a column student, and file, cohort, site, instructor, vehicle, date, number as known")
	fl.BoolVar(&f.audio, "keep-audio", false, "copy the recordings into the store too")
	f.storeFlag.add(fl)
}

// check refuses flags that do nothing without --keep.
func (f *keepFlags) check(fl *pflag.FlagSet) error {
	for _, name := range append(f.names(), "students", "keep-audio", "store") {
		if !f.on && fl.Changed(name) {
			advice := "add --keep, or leave it out"
			if name == "student" {
				advice = "it is the student's id; the label of a speaker goes with --speaker"
			}
			return fmt.Errorf("--%s is for attempts that are kept; %s", name, advice)
		}
	}
	if f.Day != "" {
		if fault := store.DayFault(f.Day); fault != "" {
			return fmt.Errorf("--date %s: %s", f.Day, fault)
		}
	}
	return nil
}

// details finds what is known of every transcript before any is marked.
func (f *keepFlags) details(inputs []input) ([]store.Details, error) {
	if f.Number != 0 && len(inputs) > 1 {
		return nil, errors.New("--number is that of one attempt; leave it out, each is the student's next")
	}
	var list *classList
	if f.list != "" {
		var err error
		if list, err = readClassList(f.list); err != nil {
			return nil, err
		}
	}
	out := make([]store.Details, len(inputs))
	var errs []error
	for i, in := range inputs {
		d := f.Details
		named := nameParts(in)
		if list != nil {
			row, ok := list.find(in, named.Student)
			if !ok && d.Student == "" {
				errs = append(errs, fmt.Errorf("%s: neither the file nor student %s is in %s; add a row, or name the student with --student", in.path, named.Student, f.list))
				continue
			}
			d = over(row, d)
		}
		if out[i] = over(d, named); out[i].Student == "" {
			errs = append(errs, fmt.Errorf("%s: whose attempt is this? add --student ID", in.path))
		}
	}
	return out, errors.Join(errs...)
}

// over fills in what d does not know.
func over(d, more store.Details) store.Details {
	return store.Details{Student: cmp.Or(d.Student, more.Student), Number: cmp.Or(d.Number, more.Number), Day: cmp.Or(d.Day, more.Day),
		Cohort: cmp.Or(d.Cohort, more.Cohort), Site: cmp.Or(d.Site, more.Site), Instructor: cmp.Or(d.Instructor, more.Instructor),
		Vehicle: cmp.Or(d.Vehicle, more.Vehicle)}
}

var dayInName = regexp.MustCompile(`(?:^|[^0-9])([0-9]{4}-[0-9]{2}-[0-9]{2})(?:[^0-9]|$)`)

// dayOfName is what looks like a day in a name, "" when nothing does.
func dayOfName(name string) string {
	if m := dayInName.FindStringSubmatch(name); m != nil {
		return m[1]
	}
	return ""
}

// dayNotes tell of days that can hardly be meant: one in a name that the calendar
// does not have, where no other was given, and those after today. Of each kind the
// first is named and the others are counted.
func dayNotes(inputs []input, list []store.Details, today string) (notes []string) {
	var none, future []string
	for i, in := range inputs {
		switch day := dayOfName(attemptOf(in.path)); {
		case list[i].Day > today:
			future = append(future, fmt.Sprintf("%s: its day, %s, is yet to come", in.path, list[i].Day))
		case list[i].Day == "" && day != "":
			none = append(none, fmt.Sprintf("%s: kept without a day, since there is none %s", in.path, day))
		}
	}
	for _, of := range [][]string{none, future} {
		if len(of) == 0 {
			continue
		}
		note := of[0]
		if n := len(of) - 1; n > 0 {
			note += fmt.Sprintf(" (and %d more)", n)
		}
		notes = append(notes, note+"; markaround amend ATTEMPT --date changes it")
	}
	return notes
}

// nameParts is what the name of a file says: the student's id up to the first
// underscore or space, and a day. "S-014_2026-11-25.srt" has both.
func nameParts(in input) (d store.Details) {
	if in.path == "-" {
		return d
	}
	name := attemptOf(in.path)
	if strings.EqualFold(filepath.Ext(name), ".wav") { // S-014.wav.srt
		name = strings.TrimSuffix(name, filepath.Ext(name))
	}
	if day := dayOfName(name); store.DayFault(day) == "" {
		d.Day = day
	}
	if i := strings.IndexAny(name, "_ "); i > 0 {
		name = name[:i]
	}
	d.Student = name
	return d
}

// classList is a CSV file that says whose attempts files are.
type classList struct {
	byFile    map[string]store.Details
	byStudent map[string]store.Details
}

func readClassList(path string) (*classList, error) {
	rows, err := readTable(path, "student")
	if err != nil {
		return nil, err
	}
	list := &classList{map[string]store.Details{}, map[string]store.Details{}}
	var faults rubric.Errors
	for _, r := range rows {
		fault := func(advice, format string, args ...any) {
			faults = append(faults, &rubric.Error{Pos: rubric.Pos{File: path, Line: r.Line}, Msg: fmt.Sprintf(format, args...), Advice: advice})
		}
		d := store.Details{Student: r.Get("student"), Cohort: r.Get("cohort"), Site: r.Get("site"), Instructor: r.Get("instructor"), Vehicle: r.Get("vehicle"), Day: r.Get("date")}
		if d.Day != "" {
			if advice := store.DayFault(d.Day); advice != "" {
				fault(advice, "date %q", d.Day)
			}
		}
		if n := r.Get("number"); n != "" {
			if d.Number, err = strconv.Atoi(n); err != nil || d.Number < 1 {
				fault("attempts are counted from 1", "number %q", n)
			}
		}
		into, key := list.byStudent, d.Student
		if file := r.Get("file"); file != "" {
			into, key = list.byFile, filepath.Base(filepath.ToSlash(file))
		}
		if _, twice := into[key]; twice {
			fault("keep one of the rows", "%s has a row already", key)
		}
		into[key] = d
	}
	if len(faults) > 0 {
		return nil, faults
	}
	return list, nil
}

// find looks for the row of a file: by its name, with or without its ending, else
// by the student that it is named by.
func (l *classList) find(in input, student string) (store.Details, bool) {
	for _, name := range []string{filepath.Base(in.path), attemptOf(in.path)} {
		if d, ok := l.byFile[name]; ok {
			return d, true
		}
	}
	d, ok := l.byStudent[student]
	return d, ok
}

func readTable(path string, need ...string) ([]table.Row, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, pathError(err)
	}
	defer f.Close()
	if info, err := f.Stat(); err == nil && info.IsDir() {
		return nil, fmt.Errorf("%s: is a folder; give a CSV file", path)
	}
	return table.Read(f, path, need...)
}

// keeper puts marked attempts into the store, many at a time: a transaction waits
// for the disk, and one for every attempt of a school would be slow.
type keeper struct {
	store  *store.Store
	stderr io.Writer
	quiet  bool
	single bool

	batch       []store.Entry
	since       time.Time
	added, were int
	students    map[string]bool
}

// A batch is kept when it has so many attempts or has waited for so long.
const (
	keepAtOnce = 64
	keepWithin = 2 * time.Second
)

// entry is what is kept of a marked attempt.
func (m *marker) entry(h marked, d store.Details, f markFlags, audio bool) *store.Entry {
	e := &store.Entry{Name: h.in.attempt, Details: d, Transcript: h.raw, Sound: h.sound, Sheet: h.sheet, Rule: m.rule(), Marking: f.marking()}
	if audio {
		e.Recording = h.path
	}
	return e
}

// marking is what it takes to mark a transcript again. Files are named so that
// they are found from another folder.
func (f markFlags) marking() store.Marking {
	m := store.Marking{Rubric: wherever(f.rubric), Only: f.only, Format: f.format, Labels: f.speaker}
	for _, w := range f.with {
		m.With = append(m.With, wherever(w))
	}
	return m
}

// wherever makes the name of a file one that holds from any folder, and leaves
// that of a built-in sheet.
func wherever(name string) string {
	if info, err := os.Stat(name); err != nil || info.IsDir() || filepath.Ext(name) == "" && filepath.Base(name) == name {
		return name
	}
	if abs, err := filepath.Abs(name); err == nil {
		return abs
	}
	return name
}

func (k *keeper) add(ctx context.Context, e *store.Entry) error {
	if len(k.batch) == 0 {
		k.since = time.Now()
	}
	k.batch = append(k.batch, *e)
	if len(k.batch) < keepAtOnce && time.Since(k.since) < keepWithin {
		return nil
	}
	return k.flush(ctx)
}

func (k *keeper) flush(ctx context.Context) error {
	if len(k.batch) == 0 {
		return nil
	}
	list, err := k.store.Keep(ctx, k.batch...)
	k.batch = k.batch[:0]
	if err != nil {
		return err
	}
	for _, a := range list {
		k.students[a.Student] = true
		if a.New {
			k.added++
		} else {
			k.were++
		}
		k.tell(a)
	}
	return nil
}

// tell says what was kept of a single attempt, and of several what is not as it
// was asked for.
func (k *keeper) tell(a store.Kept) {
	if k.single && a.New {
		note(k.stderr, k.quiet, fmt.Sprintf("kept as attempt %d, number %d of student %s", a.ID, a.Number, a.Student))
	}
	if a.New {
		return
	}
	var more []string
	if len(a.Differ) > 0 {
		more = append(more, fmt.Sprintf("its %s; markaround amend %d changes that", strings.Join(a.Differ, ", its "), a.ID))
	}
	if a.Other != "" {
		more = append(more, fmt.Sprintf("it keeps the marks of score sheet %s version %s; markaround regrade %d marks it anew", a.Rubric.ID, a.Rubric.Version, a.ID))
	}
	if k.single || len(more) > 0 {
		note(k.stderr, k.quiet, strings.Join(append([]string{fmt.Sprintf("the same transcript is kept already, as attempt %d (%s) of student %s", a.ID, a.Name, a.Student)}, more...), "; "))
	}
}

// finish keeps the last ones and says how many there were.
func (k *keeper) finish(ctx context.Context) error {
	if err := k.flush(ctx); err != nil {
		return err
	}
	if !k.single && k.added+k.were > 0 {
		text := fmt.Sprintf("kept %s of %s", rubric.Plural(k.added, "attempt"), rubric.Plural(len(k.students), "student"))
		if k.were > 0 {
			text += fmt.Sprintf("; %d were kept before", k.were)
		}
		note(k.stderr, k.quiet, text)
	}
	return nil
}
