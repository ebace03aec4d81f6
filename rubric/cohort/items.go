package cohort

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
)

// ItemStatistics tells how one item fares in the attempts of a score sheet.
type ItemStatistics struct {
	Column
	Difficulty Share `json:"difficulty"` // right, of the attempts where it is marked
	Partly     int   `json:"partly"`     // of the same
	Missed     int   `json:"missed"`
	Wrong      int   `json:"wrong"`
	// Discrimination is its correlation with the rest of the sheet, over the
	// attempts that ItemStudy.Reliability counts. N is their number.
	Discrimination ItemRest `json:"discrimination"`
	// Sleeps tells that all got it right, or none did, in AsleepFrom attempts or
	// more: it no longer tells students apart.
	Sleeps bool `json:"sleeps"`
}

// AsleepFrom is how many attempts it takes to call an item asleep. Our own
// choice: with 20, Wilson's interval of all leaves out less than 17%.
const AsleepFrom = 20

// CheckCount is a check or number that the item asks for and that was left out.
type CheckCount struct {
	Check
	Left Share `json:"left"` // of the attempts that have details and where the item is marked
}

// NumberCount is a wrong number with what it was said for.
type NumberCount struct {
	WrongNumber
	Times    int `json:"times"`
	Students int `json:"students"`
}

// SectionMinutes is where the time goes.
type SectionMinutes struct {
	Section string  `json:"section"` // id
	Minutes Figure  `json:"minutes"` // of the attempts that were there
	Share   float64 `json:"share"`   // of the minutes of all sections together, 0..1
}

// ItemStudy is the item analysis of the attempts on one score sheet.
type ItemStudy struct {
	Form     *Form `json:"form"`
	Count    Count `json:"count"`
	Students int   `json:"students"`
	Attempts int   `json:"attempts"`
	// Items are those of the form in its order, extra ones left out.
	Items []ItemStatistics `json:"items"`
	// Reliability is of right (1) or not (0), so KR-20, over the attempts in which
	// every item is marked.
	Reliability Reliability      `json:"reliability"`
	Unmarked    int              `json:"unmarked"`  // attempts left out of it
	LeftOut     []CheckCount     `json:"left_out"`  // most often first
	Numbers     []NumberCount    `json:"numbers"`   // most often first
	Sections    []SectionMinutes `json:"sections"`  // longest first
	NoDetails   int              `json:"no_detail"` // attempts without checks, numbers and sections
	// Dependent tells that several attempts of a student count, so that
	// intervals, which take attempts for independent, are too narrow.
	Dependent bool `json:"dependent"`
}

// Analyze is the classical item analysis of attempts, one study for each score
// sheet among them, the one with most attempts first. Records without a student
// or form are left out. Count is FirstAttempt when "".
//
// Sources: see CronbachAlpha and ItemRests.
func Analyze(records []Record, count Count) ([]ItemStudy, error) {
	if count == "" {
		count = FirstAttempt
	}
	if err := count.valid(); err != nil {
		return nil, err
	}
	if err := checkRecords(records); err != nil {
		return nil, err
	}
	// Attempts by form: forms are one when their ids are.
	type key struct {
		id   string
		form *Form
	}
	at := map[key]int{}
	var forms []*Form
	var lists [][]*Record
	var last *Form
	n := 0
	for i := range records {
		r := &records[i]
		if r.Form == nil || r.Student == "" {
			continue
		}
		if r.Form != last {
			k := key{id: r.Form.ID}
			if k.id == "" {
				k.form = r.Form
			}
			var ok bool
			if n, ok = at[k]; !ok {
				n = len(forms)
				at[k] = n
				forms, lists = append(forms, r.Form), append(lists, nil)
			}
			last = r.Form
		}
		lists[n] = append(lists[n], r)
	}
	var out []ItemStudy
	for i, form := range forms {
		out = append(out, study(form, pickOne(lists[i], count), count))
	}
	slices.SortStableFunc(out, func(a, b ItemStudy) int { return cmp.Compare(b.Attempts, a.Attempts) })
	return out, nil
}

// pickOne gives the first or last attempt of each student, or all.
func pickOne(list []*Record, count Count) []*Record {
	if count == AllAttempts {
		return list
	}
	at := map[string]int{}
	var out []*Record
	for _, r := range list {
		i, ok := at[r.Student]
		if !ok {
			at[r.Student] = len(out)
			out = append(out, r)
			continue
		}
		if e := earlier(r, out[i]); count == FirstAttempt && e < 0 || count == LastAttempt && e >= 0 {
			out[i] = r
		}
	}
	return out
}

func study(form *Form, list []*Record, count Count) ItemStudy {
	s := ItemStudy{Form: form, Count: count, Attempts: len(list)}
	var place []int // of the items that count in the form
	for i, col := range form.Items {
		if !col.Extra {
			place = append(place, i)
			s.Items = append(s.Items, ItemStatistics{Column: col})
		}
	}
	students := map[string]bool{}
	sums, row := newScores(len(place)), make([]float64, len(place))
	for _, r := range list {
		students[r.Student] = true
		full := len(place) > 0
		for n, i := range place {
			it := &s.Items[n]
			m := r.mark(i)
			if m == 0 {
				full = false
				continue
			}
			it.Difficulty.Of++
			row[n] = 0
			switch m {
			case 's':
				it.Difficulty.Hits++
				row[n] = 1
			case 'p':
				it.Partly++
			case 'm':
				it.Missed++
			case 'w':
				it.Wrong++
			}
		}
		if full {
			sums.add(row)
		} else {
			s.Unmarked++
		}
	}
	s.Students = len(students)
	s.Dependent = s.Students < s.Attempts
	if sums.n == 0 {
		s.Reliability.Undefined = "no attempt has a mark for every item"
		for i := range s.Items {
			s.Items[i].Discrimination.Undefined = s.Reliability.Undefined
		}
	} else {
		s.Reliability = sums.reliability()
		for i, r := range sums.itemRests() {
			s.Items[i].Discrimination = r
		}
	}
	for i := range s.Items {
		d := s.Items[i].Difficulty
		s.Items[i].Sleeps = d.Of >= AsleepFrom && (d.Hits == 0 || d.Hits == d.Of)
	}
	s.details(list)
	return s
}

// details counts what marks do not tell.
func (s *ItemStudy) details(list []*Record) {
	left := map[string]*CheckCount{}
	type said struct {
		item, said, accepted string
	}
	numbers := map[said]*NumberCount{}
	who := map[said]map[string]bool{}
	minutes := map[string][]float64{}
	var sections []string
	place, asked := map[string]int{}, make([]int, len(s.Form.Items)) // attempts with details in which an item is marked
	for i, col := range s.Form.Items {
		if !col.Extra {
			place[col.ID] = i
		}
	}
	for _, r := range list {
		if r.Details == nil {
			s.NoDetails++
			continue
		}
		for i := range asked {
			if r.mark(i) != 0 {
				asked[i]++
			}
		}
		for _, c := range r.Details.LeftOut {
			if i, ok := place[itemOf(c.ID)]; !ok || r.mark(i) == 0 {
				continue // extra, or not marked
			}
			n := left[c.ID]
			if n == nil {
				n = &CheckCount{Check: c}
				left[c.ID] = n
			}
			n.Left.Hits++
		}
		for _, w := range r.Details.Wrong {
			k := said{w.Item, w.Said, w.Accepted}
			if numbers[k] == nil {
				numbers[k], who[k] = &NumberCount{WrongNumber: w}, map[string]bool{}
			}
			numbers[k].Times++
			who[k][r.Student] = true
		}
		for _, t := range r.Details.Sections {
			if !(t.Seconds > 0) || !finite(t.Seconds) {
				continue
			}
			if minutes[t.Section] == nil {
				sections = append(sections, t.Section)
			}
			minutes[t.Section] = append(minutes[t.Section], t.Seconds/60)
		}
	}
	for _, n := range left {
		n.Left.Of = asked[place[itemOf(n.ID)]]
		s.LeftOut = append(s.LeftOut, *n)
	}
	slices.SortFunc(s.LeftOut, func(a, b CheckCount) int {
		x, _ := a.Left.Value()
		y, _ := b.Left.Value()
		return cmp.Or(cmp.Compare(y, x), cmp.Compare(b.Left.Of, a.Left.Of), cmp.Compare(a.ID, b.ID))
	})
	for k, n := range numbers {
		n.Students = len(who[k])
		s.Numbers = append(s.Numbers, *n)
	}
	slices.SortFunc(s.Numbers, func(a, b NumberCount) int {
		return cmp.Or(cmp.Compare(b.Times, a.Times), cmp.Compare(b.Students, a.Students), cmp.Compare(a.Item, b.Item), cmp.Compare(a.Said, b.Said), cmp.Compare(a.Accepted, b.Accepted))
	})
	var total float64
	for _, id := range sections {
		f := numberFigure(minutes[id])
		s.Sections = append(s.Sections, SectionMinutes{Section: id, Minutes: f})
		total += f.Value * float64(f.N)
	}
	for i := range s.Sections {
		m := s.Sections[i].Minutes
		s.Sections[i].Share = m.Value * float64(m.N) / total
	}
	slices.SortStableFunc(s.Sections, func(a, b SectionMinutes) int { return cmp.Compare(b.Share, a.Share) })
}

// itemOf is the item of "section.part/check".
func itemOf(check string) string {
	item, _, _ := strings.Cut(check, "/")
	return item
}

// MarkerPair is the agreement of two people on the attempts that both marked.
type MarkerPair struct {
	A        string      `json:"a"`
	B        string      `json:"b"`
	Attempts int         `json:"attempts"`
	Alike    Share       `json:"alike"` // items with the same mark
	Kappa    KappaResult `json:"kappa"` // over the items of these attempts
}

// AgreeByPair compares the marks of items of every two markers who share an
// attempt, in the order given; the name of each is its Marks' own. It fails on
// two with one name.
func AgreeByPair(markers []*Marks) ([]MarkerPair, error) {
	var out []MarkerPair
	for i, a := range markers {
		for _, b := range markers[:i] {
			if a.Name == b.Name {
				return nil, fmt.Errorf("marker %q: is there twice", a.Name)
			}
		}
	}
	for i, a := range markers {
		for _, b := range markers[i+1:] {
			if c := Compare(a, b, ByItem); c.Attempts > 0 {
				out = append(out, MarkerPair{a.Name, b.Name, c.Attempts, c.Alike, c.Kappa})
			}
		}
	}
	return out, nil
}
