package cohort

import (
	"cmp"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"time"

	"markaround/rubric"
)

// By is what parts attempts into groups.
type By string

// What groups are made of.
const (
	ByCohort     By = "cohort"
	BySite       By = "site"
	ByInstructor By = "instructor"
	ByVehicle    By = "vehicle"
	ByDate       By = "date" // before a day, and from it on
)

// Matters is how large a difference must be to matter to a school. What lies
// surely below is called alike; where less was seen, numbers of students needed
// are those that would show this much.
type Matters struct {
	Share   float64 `json:"share"`   // of passes and missed items; 0.1 is 10 percentage points
	Points  float64 `json:"points"`  // percent of the points possible
	Minutes float64 `json:"minutes"` // of an attempt
}

// DefaultMatters is our own choice, without a source.
var DefaultMatters = Matters{Share: 0.10, Points: 5, Minutes: 3}

// GroupOptions say what is compared, and how.
type GroupOptions struct {
	By     By
	Date   string   // 2006-01-02, the first day of the second group of ByDate
	Groups []string // only these; nil for all that there are
	// Base is the group that every other is compared with. "" compares each with
	// all others together, or the second of two with the first.
	Base string
	// Count is FirstAttempt when "".
	Count Count
	// Paired compares two groups on the students who are in both, by the Count
	// attempt in each. First or last only.
	Paired  bool
	Matters Matters // DefaultMatters when zero
	Seed    uint64  // of what is drawn at random; the same seed gives the same result

	draws int // of students for the interval of an item; 0 for itemReplicates
}

// Outcome is what groups are compared on.
type Outcome string

// Outcomes and their units.
const (
	Passed        Outcome = "passed"  // share of attempts, 0..1
	PointsEarned  Outcome = "points"  // percent of the points possible
	MinutesTaken  Outcome = "minutes" // of the attempt
	ItemNotSaid   Outcome = "missed"  // share of attempts that missed the item, 0..1
	ItemSaidWrong Outcome = "wrong"   // share of attempts that got it wrong, 0..1
)

// Figure is an outcome in one group, in the unit of the outcome.
type Figure struct {
	N        int       `json:"n"`        // attempts counted: one a student, unless all count
	Students int       `json:"students"` // among them
	Hits     int       `json:"hits"`     // of N; 0 for points and minutes
	Value    float64   `json:"value"`    // share or mean; only with N above 0
	Median   float64   `json:"median"`   // of points and minutes, one attempt a student
	SD       float64   `json:"sd"`       // of points and minutes, one attempt a student
	Interval *Interval `json:"interval"`
	Method   string    `json:"method"` // of the interval
	// Undefined says why there is no interval, "" when there is one.
	Undefined string `json:"undefined"`
}

// MarshalJSON writes null for the value of nobody.
func (f Figure) MarshalJSON() ([]byte, error) {
	type plain Figure
	out := struct {
		plain
		Value  *float64 `json:"value"`
		Median *float64 `json:"median"`
		SD     *float64 `json:"sd"`
	}{plain: plain(f)}
	if f.N > 0 {
		out.Value = &f.Value
	}
	if f.SD > 0 || f.Median != 0 {
		out.Median, out.SD = &f.Median, &f.SD
	}
	return json.Marshal(out)
}

// Verdict says what a difference comes to.
type Verdict string

// Verdicts.
const (
	Differs     Verdict = "differs"      // the adjusted p is at most Alpha
	Alike       Verdict = "alike"        // no difference found, and one that matters is outside of the interval
	TooFew      Verdict = "too few"      // neither
	NotCompared Verdict = "not compared" // nobody in one group
)

// Difference is an outcome in two groups, A minus B, in the unit of the outcome.
type Difference struct {
	Outcome  Outcome   `json:"outcome"`
	Item     string    `json:"item"` // id, "" for a whole attempt
	A        Figure    `json:"a"`
	B        Figure    `json:"b"`
	Pairs    *Fourfold `json:"pairs"` // of paired shares: so in A and B, in A only, in B only, in neither
	Value    float64   `json:"value"` // only if compared
	Interval *Interval `json:"interval"`
	Method   string    `json:"method"` // of the interval
	Test     string    `json:"test"`
	P        float64   `json:"p"`
	// Tested is false when no outcome with these numbers could have been found
	// (nobody missed the item, say). Such ones do not count as tests.
	Tested bool `json:"tested"`
	// Adjusted is p for the number of tests in the comparison: see
	// GroupComparison.
	Adjusted float64 `json:"adjusted_p"`
	Verdict  Verdict `json:"verdict"`
	Words    string  `json:"words"` // the verdict in a sentence without its subject
	// Needed is about how many students a group (paired: how many students) show
	// this difference, or one that matters when that is larger; 0 when it differs,
	// is alike or cannot be told.
	Needed int `json:"needed"`

	least  float64 // smallest p that was possible
	sd     [2]float64
	paired bool
	wide   Interval // must be within what matters too, to be alike
}

// MarshalJSON writes null for the value of what was not compared.
func (d Difference) MarshalJSON() ([]byte, error) {
	type plain Difference
	out := struct {
		plain
		Value    *float64 `json:"value"`
		P        *float64 `json:"p"`
		Adjusted *float64 `json:"adjusted_p"`
	}{plain: plain(d)}
	if d.Verdict != NotCompared {
		out.Value, out.P, out.Adjusted = &d.Value, &d.P, &d.Adjusted
	}
	return json.Marshal(out)
}

// ItemFigures are the shares that missed an item and got it wrong.
type ItemFigures struct {
	Missed Figure `json:"missed"`
	Wrong  Figure `json:"wrong"`
}

// Group is one group with its figures.
type Group struct {
	Name     string        `json:"name"`
	Students int           `json:"students"`
	Attempts int           `json:"attempts"` // counted
	Passed   Figure        `json:"passed"`
	Points   Figure        `json:"points"`
	Minutes  Figure        `json:"minutes"`
	Items    []ItemFigures `json:"items"` // as GroupComparison.Items
}

// ItemDifferences are the differences of one item.
type ItemDifferences struct {
	Missed Difference `json:"missed"`
	Wrong  Difference `json:"wrong"`
}

// Contrast is one group against another, or against all others.
type Contrast struct {
	A       string            `json:"a"`
	B       string            `json:"b"` // Others when against all others
	Passed  Difference        `json:"passed"`
	Points  Difference        `json:"points"`
	Minutes Difference        `json:"minutes"`
	Items   []ItemDifferences `json:"items"` // as GroupComparison.Items
}

// Others is the name of all other groups together.
const Others = "all others"

// All calls f with every difference of the contrast.
func (c *Contrast) All(f func(*Difference)) {
	c.overall(f)
	for i := range c.Items {
		f(&c.Items[i].Missed)
		f(&c.Items[i].Wrong)
	}
}

func (c *Contrast) overall(f func(*Difference)) {
	f(&c.Passed)
	f(&c.Points)
	f(&c.Minutes)
}

// Found lists the differences that were found, those of whole attempts first,
// then items by adjusted p.
func (c *Contrast) Found() []*Difference {
	var out []*Difference
	c.All(func(d *Difference) {
		if d.Verdict == Differs {
			out = append(out, d)
		}
	})
	slices.SortStableFunc(out, func(a, b *Difference) int {
		if (a.Item == "") != (b.Item == "") {
			return cmp.Compare(a.Item, b.Item) // "" is first
		}
		if a.Item == "" {
			return 0
		}
		return cmp.Compare(a.Adjusted, b.Adjusted)
	})
	return out
}

// GroupComparison compares groups of attempts.
//
// The adjusted p of all differences hold for the comparison as a whole: those
// of whole attempts and those of items are each adjusted by Benjamini and
// Hochberg over all contrasts, then doubled, since these are two families. So a
// comparison of groups without any difference finds one in at most 5% of cases.
type GroupComparison struct {
	By        By         `json:"by"`
	Date      string     `json:"date"`
	Count     Count      `json:"count"`
	Paired    bool       `json:"paired"`
	Base      string     `json:"base"`
	Level     float64    `json:"interval_level"`
	Matters   Matters    `json:"matters"`
	Items     []Column   `json:"item_list"` // of all score sheets, extra ones left out
	Groups    []Group    `json:"groups"`
	Contrasts []Contrast `json:"contrasts"`
	Tests     int        `json:"tests"`      // that the adjustment counts for whole attempts
	ItemTests int        `json:"item_tests"` // and for items
	Left      []LeftOut  `json:"left_out"`
}

// LeftOut is what was not counted.
type LeftOut struct {
	N   int    `json:"n"`
	Why string `json:"why"` // with the number: "3 attempts without a student id"
}

// CompareGroups compares groups of students on passes, points, minutes and
// items. Extra items, and items that are not marked or not on an attempt's score
// sheet, are left out there; every figure has its own n.
//
// One attempt a student: Wilson and Newcombe intervals, Fisher's exact test;
// Student's and Welch's intervals, permutation test. All attempts: intervals by
// drawing students, tests by parting students, and students in more than one
// group are left out. Paired: Newcombe's paired interval, McNemar's exact test;
// Student's interval of the differences, sign-flip test.
//
// The error tells of options that make no sense and of records whose marks do
// not fit their form. Fewer than two groups with students are an error too.
func CompareGroups(records []Record, o GroupOptions) (*GroupComparison, error) {
	if o.Count == "" {
		o.Count = FirstAttempt
	}
	if o.Matters == (Matters{}) {
		o.Matters = DefaultMatters
	}
	if err := o.check(); err != nil {
		return nil, err
	}
	if err := checkRecords(records); err != nil {
		return nil, err
	}
	c := &GroupComparison{By: o.By, Date: o.Date, Count: o.Count, Paired: o.Paired, Base: o.Base, Level: Level, Matters: o.Matters}
	s, err := c.sort(records, o)
	if err != nil {
		return nil, err
	}
	c.columns(s)
	switch {
	case o.Paired:
		c.comparePaired(s, o)
	case o.Count == AllAttempts:
		c.compareClusters(s, o)
	default:
		c.compareStudents(s, o)
	}
	c.judge()
	return c, nil
}

func (o GroupOptions) check() error {
	switch o.By {
	case ByCohort, BySite, ByInstructor, ByVehicle:
	case ByDate:
		if _, err := time.Parse(time.DateOnly, o.Date); err != nil {
			return fmt.Errorf("date %q: write it as 2026-11-25", o.Date)
		}
	default:
		return fmt.Errorf("groups by %q: use cohort, site, instructor, vehicle or date", string(o.By))
	}
	if o.Paired && o.Count == AllAttempts {
		return errors.New("paired: one attempt a student in each group; count the first or the last")
	}
	if m := o.Matters; !(m.Share > 0 && m.Share < 1 && m.Points > 0 && m.Minutes > 0) {
		return fmt.Errorf("differences that matter are above 0, shares below 1; got %v", m)
	}
	return o.Count.valid()
}

// group is the name of a record's group, "" when it is not known.
func (o GroupOptions) group(r *Record) string {
	switch o.By {
	case ByCohort:
		return r.Cohort
	case BySite:
		return r.Site
	case ByInstructor:
		return r.Instructor
	case ByVehicle:
		return r.Vehicle
	}
	switch {
	case r.Day == "":
		return ""
	case r.Day < o.Date:
		return o.before()
	}
	return o.after()
}

func (o GroupOptions) before() string { return "before " + o.Date }
func (o GroupOptions) after() string  { return "from " + o.Date }

// sorted is the records that count, by group and student.
type sorted struct {
	records []Record
	names   []string          // of groups
	members [][][]int32       // group, student: indexes of records; paired: the same student in both
	index   map[*Form][]int32 // items of a form to those of the comparison, -1 for extra ones
}

// each calls f with every record of a group.
func (s *sorted) each(group int, f func(*Record)) {
	for _, list := range s.members[group] {
		for _, i := range list {
			f(&s.records[i])
		}
	}
}

func (c *GroupComparison) left(n int, one, rest string) {
	if n > 0 {
		c.Left = append(c.Left, LeftOut{n, rubric.Plural(n, one) + " " + rest})
	}
}

// sort picks the attempts that count.
func (c *GroupComparison) sort(records []Record, o GroupOptions) (*sorted, error) {
	s := &sorted{records: records}
	// Students and their groups by number: names are looked up once a record.
	students, groups := map[string]int32{}, map[string]int32{}
	var names []string
	studentOf, groupOf := make([]int32, len(records)), make([]int32, len(records))
	noStudent := 0
	const none = -1
	for i := range records {
		r := &records[i]
		studentOf[i], groupOf[i] = none, none
		if r.Student == "" {
			noStudent++
			continue
		}
		n, ok := students[r.Student]
		if !ok {
			n = int32(len(students))
			students[r.Student] = n
		}
		studentOf[i] = n
		if name := o.group(r); name != "" {
			g, ok := groups[name]
			if !ok {
				g = int32(len(names))
				groups[name] = g
				names = append(names, name)
			}
			groupOf[i] = g
		}
	}
	c.left(noStudent, "attempt", "without a student id")
	// Groups in the order of their names, or as asked for.
	if o.By == ByDate {
		s.names = []string{o.before(), o.after()}
	} else if s.names = o.Groups; s.names == nil {
		s.names = slices.Sorted(slices.Values(names))
	}
	place := make([]int32, len(names)) // group number to its place, or none
	for i := range place {
		place[i] = int32(slices.Index(s.names, names[i]))
	}
	for _, name := range s.names {
		if _, ok := groups[name]; !ok {
			return nil, fmt.Errorf("%s %q: no attempt of a known student; there are: %s", o.By, name, some(slices.Sorted(slices.Values(names))))
		}
	}
	if len(slices.Compact(slices.Sorted(slices.Values(s.names)))) < max(2, len(s.names)) {
		return nil, fmt.Errorf("%s %s: two groups or more are compared, each named once", o.By, some(s.names))
	}
	if o.Base != "" && !slices.Contains(s.names, o.Base) {
		return nil, fmt.Errorf("base %q: is not among the groups: %s", o.Base, some(s.names))
	}
	if o.Paired && len(s.names) != 2 {
		return nil, fmt.Errorf("paired: compares two groups, not %d; name two", len(s.names))
	}
	// The attempts of each student, in the order given.
	start := make([]int32, len(students)+1)
	for _, n := range studentOf {
		if n >= 0 {
			start[n+1]++
		}
	}
	for i := 1; i < len(start); i++ {
		start[i] += start[i-1]
	}
	order, next := make([]int32, len(records)-noStudent), slices.Clone(start)
	for i, n := range studentOf {
		if n >= 0 {
			order[next[n]] = int32(i)
			next[n]++
		}
	}
	where := func(i int32) int32 {
		if groupOf[i] < 0 {
			return none
		}
		return place[groupOf[i]]
	}
	// pick moves the first or last of a list that is in the group, or in any, to
	// the front.
	pick := func(list []int32, group int32) []int32 {
		best := -1
		for k, i := range list {
			if group != none && where(i) != group {
				continue
			}
			if best < 0 {
				best = k
				continue
			}
			e := earlier(&records[i], &records[list[best]])
			if o.Count == FirstAttempt && e < 0 || o.Count == LastAttempt && e >= 0 {
				best = k
			}
		}
		if best < 0 {
			return nil
		}
		return list[best : best+1]
	}
	s.members = make([][][]int32, len(s.names))
	noGroup, other, several, once, notFirst := 0, 0, 0, 0, 0
	for n := range len(students) {
		list := order[start[n]:start[n+1]]
		switch {
		case o.Paired:
			a, b := pick(list, 0), pick(list, 1)
			if a == nil || b == nil {
				once++
				continue
			}
			s.members[0] = append(s.members[0], a)
			s.members[1] = append(s.members[1], b)
		case o.Count == AllAttempts:
			group, kept, mixed := int32(none), list[:0], false
			for _, i := range list {
				switch g := where(i); {
				case groupOf[i] < 0:
					noGroup++
				case g < 0:
					other++
				default:
					mixed = mixed || group >= 0 && group != g
					group = g
					kept = append(kept, i)
				}
			}
			switch {
			case mixed:
				several++
			case group >= 0:
				s.members[group] = append(s.members[group], kept)
			}
		default:
			one := pick(list, none)
			switch g := where(one[0]); {
			case groupOf[one[0]] < 0:
				noGroup++
			case g < 0:
				other++
			default:
				s.members[g] = append(s.members[g], one)
				if o.Count == FirstAttempt && records[one[0]].Number > 1 {
					notFirst++
				}
			}
		}
	}
	what := "student"
	if o.Count == AllAttempts {
		what = "attempt"
	}
	known := "a known " + string(o.By)
	c.left(noGroup, what, "without "+known)
	c.left(other, what, "in other groups")
	c.left(several, "student", "in more than one group, who would count on both sides; compare these paired")
	c.left(once, "student", "not in both groups")
	if notFirst > 0 {
		c.Left = append(c.Left, LeftOut{notFirst, rubric.Plural(notFirst, "student") + " counted by a later attempt, since the first was not kept"})
	}
	for g, list := range s.members {
		if len(list) == 0 {
			if o.Paired {
				return nil, fmt.Errorf("paired: no student is in both %s and %s", s.names[0], s.names[1])
			}
			return nil, fmt.Errorf("%s %q: no student to count there", o.By, s.names[g])
		}
	}
	for g, name := range s.names {
		group := Group{Name: name, Students: len(s.members[g])}
		for _, list := range s.members[g] {
			group.Attempts += len(list)
		}
		c.Groups = append(c.Groups, group)
	}
	return s, nil
}

// columns lists the items of all forms of the records that count.
func (c *GroupComparison) columns(s *sorted) {
	s.index = map[*Form][]int32{}
	at := map[string]int32{}
	extra := map[string]bool{}
	var last *Form
	for g := range s.members {
		s.each(g, func(r *Record) {
			if r.Form == nil || r.Form == last {
				return
			}
			last = r.Form
			if _, ok := s.index[last]; ok {
				return
			}
			index := make([]int32, len(last.Items))
			for i, col := range last.Items {
				if index[i] = -1; col.Extra {
					extra[col.ID] = true
					continue
				}
				n, ok := at[col.ID]
				if !ok {
					n = int32(len(c.Items))
					at[col.ID] = n
					c.Items = append(c.Items, col)
				}
				index[i] = n
			}
			s.index[last] = index
		})
	}
	c.left(len(extra), "item", "not on the edition's list")
}

// against lists the pairs of groups to compare; b is -1 for all others.
func (c *GroupComparison) against() (list [][2]int) {
	base := slices.IndexFunc(c.Groups, func(g Group) bool { return g.Name == c.Base })
	if base < 0 && len(c.Groups) == 2 {
		base = 0
	}
	for g := range c.Groups {
		if g != base {
			list = append(list, [2]int{g, base})
		}
	}
	return list
}

func (c *GroupComparison) contrast(pair [2]int) *Contrast {
	k := Contrast{A: c.Groups[pair[0]].Name, B: Others, Items: make([]ItemDifferences, len(c.Items))}
	if pair[1] >= 0 {
		k.B = c.Groups[pair[1]].Name
	}
	c.Contrasts = append(c.Contrasts, k)
	return &c.Contrasts[len(c.Contrasts)-1]
}

// pool calls add with every group that makes up b of a pair.
func (c *GroupComparison) pool(pair [2]int, add func(g int)) {
	for g := range c.Groups {
		if g == pair[1] || pair[1] < 0 && g != pair[0] {
			add(g)
		}
	}
}
