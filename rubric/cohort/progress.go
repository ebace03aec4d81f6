package cohort

import (
	"cmp"
	"errors"
	"fmt"
	"slices"
	"strings"

	"markaround/rubric"
)

// ReadyRule says when a student is ready for the test. It is data: Words is how
// reports print it.
type ReadyRule struct {
	Last           int     `json:"last" yaml:"last"`                       // latest attempts that are looked at
	Passed         int     `json:"passed" yaml:"passed"`                   // of these, at least
	CriticalMissed int     `json:"critical_missed" yaml:"critical_missed"` // critical items missed or wrong in these together, at most
	InTime         bool    `json:"in_time" yaml:"in_time"`                 // each within the time allowed
	Minutes        float64 `json:"minutes" yaml:"minutes"`                 // allowed where an attempt's score sheet has no limit; 0 for none
}

// DefaultReadyRule is our own choice, without a source.
var DefaultReadyRule = ReadyRule{Last: 2, Passed: 2, CriticalMissed: 0, InTime: true}

// DrillCleared is in how many latest attempts an item must have been said right
// to be no longer among what to drill.
const DrillCleared = 2

// Words is the rule in words: "the last 2 attempts passed, ...".
func (r ReadyRule) Words() string {
	var list []string
	for _, c := range r.conditions() {
		list = append(list, c.Words)
	}
	return "ready when of the last " + rubric.Plural(r.Last, "attempt") + ": " + strings.Join(list, "; ")
}

func (r ReadyRule) valid() error {
	if r.Last < 1 || r.Passed < 0 || r.Passed > r.Last || r.CriticalMissed < 0 || !(r.Minutes >= 0) {
		return fmt.Errorf("rule %+v: last is 1 or more, passed no more than that, no number below 0", r)
	}
	return nil
}

// Condition is one part of the rule, and whether a student meets it.
type Condition struct {
	Words string `json:"words"` // of the rule
	Met   bool   `json:"met"`
	Seen  string `json:"seen"` // what was seen, in words
}

func (r ReadyRule) conditions() []Condition {
	list := []Condition{{Words: fmt.Sprintf("%d passed", r.Passed)}}
	if r.Passed == r.Last {
		list[0].Words = "all passed"
	}
	critical := "no critical item missed or wrong"
	if r.CriticalMissed > 0 {
		critical = "no more than " + rubric.Plural(r.CriticalMissed, "critical item") + " missed or wrong"
	}
	list = append(list, Condition{Words: critical})
	if r.InTime {
		words := "each within the time limit"
		if r.Minutes > 0 {
			words += " (" + amount(r.Minutes) + " minutes where the score sheet has none)"
		}
		list = append(list, Condition{Words: words})
	}
	return list
}

// ProgressAttempt is one attempt on the way.
type ProgressAttempt struct {
	Name    string  `json:"name"`
	Number  int     `json:"number"` // 0 when not known
	Day     string  `json:"day"`    // "" when not known
	Points  float64 `json:"points"`
	Of      float64 `json:"of"` // 0 when not known
	Pass    bool    `json:"pass"`
	Minutes float64 `json:"minutes"` // 0 when not known
	Limit   float64 `json:"limit"`   // minutes; 0 without one
	// Items marked, extra ones left out.
	Said   int `json:"said"`
	Partly int `json:"partly"`
	Missed int `json:"missed"`
	Wrong  int `json:"wrong"`
	// Gained are items said now and not in the attempt before, Lost the reverse,
	// Compared how many are marked in both.
	Gained   []Column      `json:"gained"`
	Lost     []Column      `json:"lost"`
	Compared int           `json:"compared"`
	Numbers  []WrongNumber `json:"wrong_numbers"`
	// Details is false when wrong numbers are not known.
	Details bool `json:"details"`
}

// Drill is an item to practice.
type Drill struct {
	Column
	Attempts int           `json:"attempts"` // in which it is marked
	Missed   int           `json:"missed"`
	Wrong    int           `json:"wrong"`
	Partly   int           `json:"partly"`
	Last     int           `json:"last"`          // index into Progress.Attempts of the latest attempt without it
	Numbers  []WrongNumber `json:"wrong_numbers"` // latest first
	Why      string        `json:"why"`           // in words: "critical; missed in 2 of 3 attempts, last on 2026-11-03"
}

// Progress is one student's attempts over time.
type Progress struct {
	Student    string            `json:"student"`
	Attempts   []ProgressAttempt `json:"attempts"` // first to last
	Drill      []Drill           `json:"drill"`    // first things first
	Ready      bool              `json:"ready"`
	Rule       ReadyRule         `json:"rule"`
	RuleWords  string            `json:"rule_words"`
	Conditions []Condition       `json:"conditions"`
	Titles     map[string]string `json:"-"` // of items by id, the latest ones
}

// ProgressOf follows one student. What to drill are the items that were not
// right in one of the last DrillCleared attempts with them: critical ones first,
// then those most often missed or wrong, then most often said in part, then most
// recently. It fails on no records, on those of several students, and on a rule
// that makes no sense.
func ProgressOf(records []Record, rule ReadyRule) (*Progress, error) {
	if err := rule.valid(); err != nil {
		return nil, err
	}
	if err := checkRecords(records); err != nil {
		return nil, err
	}
	if len(records) == 0 {
		return nil, errors.New("no attempts to follow")
	}
	p := &Progress{Student: records[0].Student, Rule: rule, RuleWords: rule.Words(), Titles: map[string]string{}}
	list := make([]*Record, len(records))
	for i := range records {
		if list[i] = &records[i]; records[i].Student != p.Student {
			return nil, fmt.Errorf("attempts of students %s and %s; follow one", p.Student, records[i].Student)
		}
	}
	slices.SortStableFunc(list, earlier)
	for i, r := range list {
		if r.Form != nil {
			for _, col := range r.Form.Items {
				p.Titles[col.ID] = col.Title
			}
		}
		a := ProgressAttempt{Name: r.Name, Number: r.Number, Day: r.Day, Points: r.Points, Of: r.Of, Pass: r.Pass, Minutes: r.Seconds / 60, Limit: r.Limit / 60}
		if r.Details != nil {
			a.Details, a.Numbers = true, r.Details.Wrong
		}
		var before map[string]byte
		if i > 0 {
			before = marksByItem(list[i-1])
		}
		r.items(func(col Column, m byte) {
			switch m {
			case 's':
				a.Said++
			case 'p':
				a.Partly++
			case 'm':
				a.Missed++
			case 'w':
				a.Wrong++
			}
			was := before[col.ID]
			if was == 0 {
				return
			}
			a.Compared++
			switch {
			case m == 's' && was != 's':
				a.Gained = append(a.Gained, col)
			case m != 's' && was == 's':
				a.Lost = append(a.Lost, col)
			}
		})
		p.Attempts = append(p.Attempts, a)
	}
	p.drill(list)
	p.ready(list)
	return p, nil
}

// items calls f with every marked item that is on the edition's list.
func (r *Record) items(f func(Column, byte)) {
	if r.Form == nil {
		return
	}
	for i, col := range r.Form.Items {
		if m := r.mark(i); m != 0 && !col.Extra {
			f(col, m)
		}
	}
}

func marksByItem(r *Record) map[string]byte {
	out := map[string]byte{}
	r.items(func(col Column, m byte) { out[col.ID] = m })
	return out
}

func (p *Progress) drill(list []*Record) {
	at := map[string]int{}
	var all []Drill
	var right []int // attempts in a row, the latest ones, in which it was right
	for k, r := range list {
		r.items(func(col Column, m byte) {
			i, ok := at[col.ID]
			if !ok {
				i = len(all)
				at[col.ID] = i
				all, right = append(all, Drill{}), append(right, 0)
			}
			d := &all[i]
			d.Column = col // the latest title
			d.Attempts++
			if right[i]++; m == 's' {
				return
			}
			right[i], d.Last = 0, k
			switch m {
			case 'p':
				d.Partly++
			case 'm':
				d.Missed++
			case 'w':
				d.Wrong++
			}
			if r.Details != nil {
				for _, w := range r.Details.Wrong {
					if itemOf(w.Item) == col.ID {
						d.Numbers = slices.Insert(d.Numbers, 0, w)
					}
				}
			}
		})
	}
	for i, d := range all {
		if d.Missed+d.Wrong+d.Partly == 0 || right[i] >= DrillCleared {
			continue
		}
		d.Why = d.why(p.Attempts[d.Last])
		p.Drill = append(p.Drill, d)
	}
	critical := func(d Drill) int {
		if d.Critical {
			return 0
		}
		return 1
	}
	slices.SortStableFunc(p.Drill, func(a, b Drill) int {
		return cmp.Or(cmp.Compare(critical(a), critical(b)), cmp.Compare(b.Missed+b.Wrong, a.Missed+a.Wrong),
			cmp.Compare(b.Partly, a.Partly), cmp.Compare(b.Last, a.Last))
	})
}

func (d Drill) why(last ProgressAttempt) string {
	var parts []string
	for _, c := range []struct {
		n    int
		what string
	}{{d.Missed, "missed"}, {d.Wrong, "wrong"}, {d.Partly, "said in part"}} {
		if c.n > 0 {
			parts = append(parts, fmt.Sprintf("%s in %d", c.what, c.n))
		}
	}
	when := "on " + last.Day
	if last.Day == "" {
		when = "in " + last.Name
	}
	words := strings.Join(parts, ", ") + " of " + rubric.Plural(d.Attempts, "attempt") + ", last " + when
	if d.Critical {
		words = "critical; " + words
	}
	return words
}

func (p *Progress) ready(list []*Record) {
	p.Conditions = p.Rule.conditions()
	last := list[max(0, len(list)-p.Rule.Last):]
	short := ""
	if len(last) < p.Rule.Last {
		short = fmt.Sprintf(", of only %s so far", rubric.Plural(len(last), "attempt"))
	}
	passed, unmarked, over, timeless := 0, 0, 0, 0
	var critical []string
	for _, r := range last {
		if r.Pass {
			passed++
		}
		if r.Form == nil {
			unmarked++
		}
		r.items(func(col Column, m byte) {
			if col.Critical && (m == 'm' || m == 'w') {
				critical = append(critical, col.Title)
			}
		})
		limit := r.Limit
		if limit == 0 {
			limit = 60 * p.Rule.Minutes
		}
		switch {
		case r.Seconds <= 0 && limit > 0:
			timeless++
		case limit > 0 && r.Seconds > limit:
			over++
		}
	}
	c := &p.Conditions[0]
	c.Met, c.Seen = passed >= p.Rule.Passed && short == "", fmt.Sprintf("%d passed", passed)+short
	c = &p.Conditions[1]
	c.Met, c.Seen = len(critical) <= p.Rule.CriticalMissed && unmarked == 0 && short == "", "none"+short
	switch {
	case len(critical) > 0:
		c.Seen = some(critical) + short
	case unmarked > 0:
		c.Seen = "items not known in " + rubric.Plural(unmarked, "attempt") + short
	}
	if p.Rule.InTime {
		c = &p.Conditions[2]
		c.Met, c.Seen = over == 0 && timeless == 0 && short == "", "none over time"+short
		switch {
		case over > 0:
			c.Seen = rubric.Plural(over, "attempt") + " over time" + short
		case timeless > 0:
			c.Seen = "time not known in " + rubric.Plural(timeless, "attempt") + short
		}
	}
	p.Ready = !slices.ContainsFunc(p.Conditions, func(c Condition) bool { return !c.Met })
}
