// Package school makes invented driving schools: students who grow from attempt
// to attempt, cohorts and instructors with gaps that are planted and known, and
// what each student says at each attempt, as a transcript with its true marks.
//
// Everything comes from a seed. The model of the students (model.go) draws the
// marks; the speech (sentence.go) says what they mean in phrases of the score
// sheet itself, with the small talk of talk.yaml. No trade is in the code. All
// arithmetic is in whole numbers, so that a seed gives the same school on every
// machine.
//
// Make gives the school with its transcripts, Marks the same school with its
// marks alone, some thousand times faster, for statistics over many seeds.
package school

import (
	"errors"
	"fmt"
	"runtime"
	"sync"
	"time"

	"markaround/rubric"
	"markaround/speech"
)

// Options say which school to make.
type Options struct {
	Seed     uint64
	Students int            // 90 when 0; each has two or three attempts, 2.8 on average
	Rubric   *rubric.Rubric // the score sheet; needed
	Errors   float64        // word error rate put into the transcripts, 0 to damage.MaxRate
	Null     bool           // plant no differences: all groups are alike
}

// Default and largest number of students.
const (
	DefaultStudents = 90
	MostStudents    = 10_000
)

// School is an invented school. Students and attempts are sorted by id.
type School struct {
	Seed     uint64
	Errors   float64 // word error rate asked for
	Rubric   *rubric.Rubric
	Items    []*rubric.Item // of the score sheet, in order, without its extra items
	Students []Student
	Attempts []Attempt
	Planted  []Planted // empty for a null school

	voice func() *voice
}

// Student is one invented student.
type Student struct {
	ID         string
	Cohort     string
	Site       string
	Instructor string
	ability    int // hundredths of a logit
	pace       int // words a minute
}

// Attempt is one invented attempt.
type Attempt struct {
	ID         string
	Student    int           // index into School.Students
	Number     int           // of the student's attempts, from 1
	Date       string        // 2006-01-02
	Vehicle    string        //
	Seconds    float64       // from the first word to the last; an estimate without a transcript
	Marks      []rubric.Mark // the truth, one for each of School.Items
	Parts      []Part        // the truth of conditions and numbers; nil without a transcript
	Findings   []string      // the truth: "hold:ID" and "reading:ID"
	Transcript *speech.Transcript
	texts      map[string]string // what is said of an item, for tests
}

// Part is the true mark of one condition or number of an item.
type Part struct {
	Item    int // index into School.Items
	ID      string
	Measure bool
	Mark    rubric.Mark
	Said    string // the words of a number, "" for others
}

// Planted is a difference that was put into the school.
type Planted struct {
	Kind    string      // "cohort" or "instructor"
	Group   string      // its id
	Item    string      // item id
	Mark    rubric.Mark // Missed: left out more often; Wrong: its number said wrong more often
	Measure string      // id of the number that is said wrong
	Figure  string      // what is said instead, as in the score sheet ("2/32")
}

// Pass reports whether the attempt passes by the score sheet's share of points
// and critical items. Time and findings do not count here.
func (s *School) Pass(a *Attempt) bool {
	points, of := 0.0, 0.0
	for i, it := range s.Items {
		of += it.Points
		if a.Marks[i] == rubric.Said {
			points += it.Points
		} else if it.Critical && s.Rubric.Pass.Critical {
			return false
		}
	}
	return of == 0 || points/of >= s.Rubric.Pass.MinShare-1e-9
}

// Points are the points earned and possible.
func (s *School) Points(a *Attempt) (points, of float64) {
	for i, it := range s.Items {
		of += it.Points
		if a.Marks[i] == rubric.Said {
			points += it.Points
		}
	}
	return points, of
}

// Of is the student of an attempt.
func (s *School) Of(a *Attempt) *Student { return &s.Students[a.Student] }

// Make makes the school with its transcripts.
func Make(o Options) (*School, error) {
	s, err := Marks(o)
	if err != nil {
		return nil, err
	}
	v := s.voice()
	var wait sync.WaitGroup
	next := make(chan *Attempt)
	for range runtime.GOMAXPROCS(0) {
		wait.Go(func() {
			for a := range next {
				v.speak(a) // draws from streams of the attempt's own
			}
		})
	}
	for i := range s.Attempts {
		next <- &s.Attempts[i]
	}
	close(next)
	wait.Wait()
	return s, nil
}

// Marks makes the same school without transcripts: the marks of all attempts
// are those that Make gives for the same options.
func Marks(o Options) (*School, error) {
	if o.Rubric == nil {
		return nil, errors.New("a school needs a score sheet")
	}
	if o.Students == 0 {
		o.Students = DefaultStudents
	}
	if o.Students < 1 || o.Students > MostStudents {
		return nil, fmt.Errorf("%d students: a school has 1 to %d", o.Students, MostStudents)
	}
	s := &School{Seed: o.Seed, Errors: o.Errors, Rubric: o.Rubric}
	for e := range o.Rubric.All() {
		if !e.Item.Extra {
			s.Items = append(s.Items, e.Item)
		}
	}
	if len(s.Items) == 0 {
		return nil, fmt.Errorf("score sheet %s has no items that count", o.Rubric.ID)
	}
	m := newModel(s, o.Null)
	s.enroll(o.Students)
	for i := range s.Students {
		m.attempts(i)
	}
	s.voice = sync.OnceValue(func() *voice { return newVoice(s, m) })
	return s, nil
}

// enroll makes the students. Cohort, site and instructor go round so that none
// of them tells anything of another.
func (s *School) enroll(n int) {
	for i := range n {
		rng := random(s.Seed, useStudent, i, 0)
		round := i / len(talk().Cohorts)
		cohort := i % len(talk().Cohorts)
		s.Students = append(s.Students, Student{
			ID:         fmt.Sprintf("S-%03d", i+1),
			Cohort:     talk().Cohorts[cohort],
			Site:       talk().Sites[round%len(talk().Sites)],
			Instructor: talk().Instructors[(round+cohort)%len(talk().Instructors)],
			ability:    rng.normal(spreadAbility),
			pace:       slowest + rng.IntN(fastest-slowest+1),
		})
	}
}

// Pace of the students in words a minute, pauses of a breath counted. About
// that of people who explain what they do; common practice, no source.
const (
	slowest = 132
	fastest = 168
)

// date is a day of the school's calendar, counted from its first.
func date(days int) string {
	day, _ := time.Parse(time.DateOnly, talk().FirstDay) // checked when the talk is read
	return day.AddDate(0, 0, days).Format(time.DateOnly)
}
