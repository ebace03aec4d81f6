package rubric

import (
	"fmt"
	"math/big"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

func rat(t testing.TB, s string) *big.Rat {
	t.Helper()
	v, err := ParseRational(s)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

// stating makes the statement of a figure ("4/32") or, with two dots, of a range
// ("55..75").
func stating(t testing.TB, p Pointing, figure string) Statement {
	t.Helper()
	low, high, ranged := strings.Cut(figure, "..")
	if !ranged {
		high = low
	}
	return Statement{Low: rat(t, low), High: rat(t, high), Pointing: p, Said: figure}
}

// Measures of vehicles that the embedded sheet is not for.
var (
	// 3 psi for a single vehicle, 4 for two: Georgia CDL manual, modernized,
	// 11M.1.2; 6 for three: California handbook, section 5.
	singleLeak = &Measure{ID: "single", Unit: "psi", Kind: LimitKind, Min: "3", Max: "3", Direction: AtMost}
	tripleLeak = &Measure{ID: "triple", Unit: "psi", Kind: LimitKind, Min: "6", Max: "6", Direction: AtMost}
	// 49 CFR 570.60, manual steering: 2 inches at a 16-inch wheel, 2 1/4 at 18,
	// 2 1/2 at 20, 2 3/4 at 22.
	lash16 = &Measure{ID: "lash16", Unit: "inch", Kind: EitherKind, Max: "2", Direction: AtMost}
	lash18 = &Measure{ID: "lash18", Unit: "inch", Kind: EitherKind, Max: "2 1/4", Direction: AtMost}
	lash20 = &Measure{ID: "lash20", Unit: "inch", Kind: EitherKind, Max: "2 1/2", Direction: AtMost}
	lash22 = &Measure{ID: "lash22", Unit: "inch", Kind: EitherKind, Max: "2 3/4", Direction: AtMost}
	// California handbook, section 5, and Vehicle Code 26506: the warning works
	// between 55 and 75, both ends spoken.
	warningBetween = &Measure{ID: "between", Unit: "psi", Kind: LimitKind, Min: "55", Max: "75"}
)

const (
	srcGA   = "Georgia CDL manual, modernized, 11M.1.2"
	srcNC   = "North Carolina CDL handbook, July 2017"
	srcGA20 = "Georgia CDL manual 2020, section 5"
	srcCA   = "California handbook, section 5"
	src393  = "49 CFR 393.75, figures as in the draft 2023-2024 manual, page 102"
	src570  = "49 CFR 570.60"
	srcNone = "common practice, no source"
	srcOurs = "our rule for spoken bounds"
)

// TestJudge holds the one place where a number is called right or wrong against
// the published figures, measures of the embedded sheet and others.
func TestJudge(t *testing.T) {
	r, err := Load("class-a")
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		measure any // "item/measure" of the embedded sheet, or a *Measure
		how     Pointing
		figure  string
		want    string
		reason  string
		source  string
	}{
		// The applied leak test.
		{"air.leak/loss", Downward, "4", "", "no more than 4 for a combination", srcGA},
		{"air.leak/loss", Flat, "4", "", "the figure alone is taken", srcOurs},
		{"air.leak/loss", Range, "2..4", "", "between 2 and 4: the upper end is the limit", srcOurs},
		{"air.leak/loss", Downward, "6", WrongValue, "6 is for three vehicles", srcGA},
		{"air.leak/loss", Downward, "3", WrongValue, "3 is for a single vehicle", srcGA},
		{"air.leak/loss", Downward, "5", WrongValue, "one over", srcGA},
		{"air.leak/loss", Upward, "4", WrongDirection, "at least 4 is the opposite", srcGA},
		{"air.leak/loss", Upward, "9", WrongDirection, "where both are wrong the direction is named", srcOurs},
		{"air.leak/loss", Range, "4..6", WrongValue, "between 4 and 6: the upper end is the limit", srcOurs},
		{"air.leak/loss", Flat, "4.1", WrongValue, "just over", srcGA},
		{"air.leak/loss", Flat, "3.9", WrongValue, "just under: the limit is asked for", srcGA},
		{singleLeak, Downward, "3", "", "no more than 3 for a single vehicle", srcGA},
		{singleLeak, Downward, "4", WrongValue, "4 is for a combination", srcGA},
		{"air.leak/single", Downward, "3", "", "3 for a single vehicle", srcNC},
		{tripleLeak, Downward, "6", "", "6 for three vehicles", srcCA},
		{"air.leak/static", Downward, "3", "", "static, combination", srcCA},
		{"air.leak/static", Flat, "2", "", "static, single", srcCA},
		{"air.leak/static", Flat, "5", WrongValue, "5 is for three vehicles or more", srcCA},
		{"air.leak/lost", Flat, "0", "", "nothing lost at all", srcNone},
		{"air.leak/lost", Flat, "4", "", "exactly at the limit: 4 or less", srcGA},
		{"air.leak/lost", Flat, "2.5", "", "a half pound", srcGA},
		{"air.leak/lost", Flat, "5", WrongValue, "over 4 fails", srcGA},
		{"air.leak/lost", Flat, "-1", WrongValue, "the gauge cannot rise with the engine off", srcNone},
		{"air.apply/time", Flat, "1", "", "one minute", srcGA},
		{"air.apply/time", Upward, "1", "", "at least one minute", srcGA},
		{"air.apply/time", Flat, "2", "", "longer does no harm", srcOurs},
		{"air.apply/time", Flat, "1/2", WrongValue, "thirty seconds", srcGA},
		{"air.apply/time", Downward, "1", WrongDirection, "at most one minute", srcGA},

		// The governor.
		{"air.cut-out/pressure", Flat, "120", "", "lower end", srcGA},
		{"air.cut-out/pressure", Flat, "125", "", "the usual reading", srcNone},
		{"air.cut-out/pressure", Flat, "140", "", "upper end", srcGA},
		{"air.cut-out/pressure", Range, "120..125", "", "what gauges mostly show", srcNone},
		{"air.cut-out/pressure", Range, "120..140", "", "the published range, both ends", srcGA},
		{"air.cut-out/pressure", Range, "100..125", WrongValue, "an older wording, from memory", srcGA},
		{"air.cut-out/pressure", Range, "130..145", WrongValue, "the upper end is out", srcGA},
		{"air.cut-out/pressure", Flat, "119", WrongValue, "just below", srcGA},
		{"air.cut-out/pressure", Flat, "141", WrongValue, "just above", srcGA},
		{"air.cut-out/pressure", Flat, "90", WrongValue, "far below", srcGA},
		{"air.cut-out/pressure", Downward, "140", "", "no more than 140: no direction is asked", srcNC},
		{"air.cut-out/pressure", Upward, "120", "", "at least 120: no direction is asked", srcNC},
		{"air.cut-out/build-time", Downward, "45", "", "85 to 100 within 45 seconds", srcGA20},
		{"air.cut-out/build-time", Flat, "30", "", "faster", srcGA20},
		{"air.cut-out/build-time", Flat, "46", WrongValue, "slower", srcGA20},
		{"air.cut-out/build-range", Range, "85..100", "", "the pressures it is timed between", srcGA20},
		{"air.cut-out/build-range", Range, "50..90", WrongValue, "those are for a single system", srcGA20},

		// The low air warning.
		{"air.warning/pressure", Upward, "55", "", "before it falls below 55", srcGA},
		{"air.warning/pressure", Flat, "55", "", "at 55 exactly", srcGA},
		{"air.warning/pressure", Flat, "60", "", "at 60", srcNone},
		{"air.warning/pressure", Upward, "60", "", "before 60, the older printing", "Augusta staff manual reprint of section 5"},
		{"air.warning/pressure", Flat, "75", "", "upper end", srcCA},
		{"air.warning/pressure", Range, "55..75", "", "between 55 and 75", srcCA},
		{"air.warning/pressure", Flat, "54", WrongValue, "just below", srcGA},
		{"air.warning/pressure", Flat, "40", WrongValue, "that is where the valves pop", srcGA},
		{"air.warning/pressure", Upward, "45", WrongValue, "before 45 is too late", srcGA},
		{"air.warning/pressure", Downward, "55", WrongDirection, "below 55 is too late", srcGA},
		{"air.warning/pressure", Range, "50..60", WrongValue, "a range that begins too low", srcGA},
		{"air.warning/pressure", Range, "60..80", WrongValue, "a range that ends too high", srcCA},
		{"air.warning/pressure", Flat, "100", WrongValue, "far above", srcCA},
		{warningBetween, Range, "55..75", "", "both ends", srcCA},
		{warningBetween, Range, "55..76", WrongValue, "the end just over", srcCA},

		// The valves.
		{"air.pop-out/pressure", Flat, "40", "", "about 40", srcNC},
		{"air.pop-out/pressure", Flat, "20", "", "lower end", srcGA20},
		{"air.pop-out/pressure", Flat, "45", "", "upper end", srcGA20},
		{"air.pop-out/pressure", Range, "20..45", "", "the range, both ends", srcGA20},
		{"air.pop-out/pressure", Range, "20..40", "", "the older range", "from memory"},
		{"air.pop-out/pressure", Flat, "19", WrongValue, "20 or above", srcNone},
		{"air.pop-out/pressure", Flat, "46", WrongValue, "just above", srcGA20},
		{"air.pop-out/pressure", Flat, "60", WrongValue, "that is the warning", srcGA20},
		{"air.pop-out/pressure", Range, "20..60", WrongValue, "the upper end is the warning's", srcGA20},

		// Tread.
		{"steer.tread/depth", Upward, "4/32", "", "at least 4/32 on the steer axle", src393},
		{"steer.tread/depth", Flat, "1/8", "", "the same figure in lowest terms", src393},
		{"steer.tread/depth", Flat, "0.125", "", "the same figure as a decimal", src393},
		{"steer.tread/depth", Upward, "2/32", WrongValue, "that is for the others", src393},
		{"steer.tread/depth", Upward, "5/32", WrongValue, "the limit is asked for", src393},
		{"steer.tread/depth", Downward, "4/32", WrongDirection, "at most 4/32 is the opposite", src393},
		{"steer.tread/depth", Range, "4/32..6/32", "", "the lower end is the limit", srcOurs},
		{"steer.tread/depth", Range, "2/32..4/32", WrongValue, "the lower end is the limit", srcOurs},
		{"steer.tread/measured", Flat, "4/32", "", "a steer tire just good", srcNone},
		{"steer.tread/measured", Flat, "12/32", "", "a new tire: a reading has no upper end", srcNone},
		{"steer.tread/measured", Flat, "3/32", WrongValue, "a worn steer tire", src393},
		{"steer.tread/other", Upward, "2/32", "", "at least 2/32 elsewhere", src393},
		{"side.drive-tires/depth", Upward, "2/32", "", "drive tires", src393},
		{"side.drive-tires/depth", Upward, "4/32", WrongValue, "that is for the steer axle", src393},
		{"trailer.tires/depth", Flat, "1/16", "", "2/32 in lowest terms", src393},
		{"trailer.tires/depth", Downward, "2/32", WrongDirection, "at most", src393},

		// Steering.
		{lash16, Flat, "2", "", "at the limit of a 16-inch wheel", src570},
		{lash16, Flat, "2 1/4", WrongValue, "that is for 18 inches", src570},
		{lash18, Downward, "2 1/4", "", "at the limit of an 18-inch wheel", src570},
		{lash20, Downward, "2 1/2", "", "at the limit of a 20-inch wheel", src570},
		{lash20, Flat, "2 3/4", WrongValue, "that is for 22 inches", src570},
		{lash22, Downward, "2 3/4", "", "at the limit of a 22-inch wheel", src570},
		{lash22, Upward, "2 3/4", WrongDirection, "at least is the opposite", src570},
		{lash22, Flat, "0", "", "no play at all: an open end accepts it", src570},
		{"cab.steering-play/angle", Downward, "10", "", "no more than 10 degrees", "from memory: section 2"},
		{"cab.steering-play/angle", Flat, "15", WrongValue, "more", "from memory: section 2"},
		{"cab.steering-play/travel", Downward, "2", "", "2 inches on a 20-inch wheel", "from memory: section 2"},

		// Engine, tanks, brakes.
		{"engine.belts/play", Range, "1/2..3/4", "", "both ends of the belt play", srcNC},
		{"engine.belts/play", Flat, "3/4", "", "upper end", srcNC},
		{"engine.belts/play", Flat, "1/2", "", "lower end", srcNC},
		{"engine.belts/play", Downward, "3/4", "", "no more than 3/4", srcNC},
		{"engine.belts/play", Flat, "1", WrongValue, "an inch", srcNC},
		{"engine.belts/play", Range, "1/2..1", WrongValue, "a range that runs over", srcNC},
		{"side.def-tank/level", Upward, "1/8", "", "more than an eighth", "Indiana BMV notice of the July 2017 edition"},
		{"side.def-tank/level", Downward, "1/8", WrongDirection, "less than an eighth", "Indiana BMV notice of the July 2017 edition"},
		{"side.def-tank/level", Upward, "1/4", WrongValue, "another figure", "Indiana BMV notice of the July 2017 edition"},
		{"steer.slack/travel", Downward, "1", "", "an inch by hand", srcGA20},
		{"steer.slack/travel", Downward, "2", WrongValue, "that is the stroke with the brakes applied", srcGA20},
		{"steer.slack/stroke", Downward, "2", "", "two inches applied", "California handbook (about 2012), section 11"},
		{"cab.service-brake/speed", Flat, "5", "", "about five miles an hour", srcNC},
		{"cab.service-brake/speed", Flat, "15", WrongValue, "too fast", srcNC},

		// Counts.
		{"cab.triangles/count", Flat, "3", "", "three triangles", "49 CFR 393.95"},
		{"cab.triangles/count", Upward, "3", "", "at least three", "49 CFR 393.95"},
		{"cab.triangles/count", Flat, "2", WrongValue, "one short", "49 CFR 393.95"},
		{"cab.triangles/count", Flat, "4", WrongValue, "one too many", "49 CFR 393.95"},
		{"cab.triangles/fusees", Flat, "6", "", "six fusees instead", "49 CFR 393.95"},
		{"cab.triangles/fusees", Flat, "3", WrongValue, "three are liquid-burning flares", "49 CFR 393.95"},
		{"cab.extinguisher/rating", Flat, "5", "", "5 B:C", "49 CFR 393.95"},
		{"cab.extinguisher/rating", Flat, "10", "", "10 B:C is more", "49 CFR 393.95"},
		{"cab.extinguisher/rating", Flat, "4", WrongValue, "one of 4 B:C is too little", "49 CFR 393.95"},
	} {
		m, ok := c.measure.(*Measure)
		if !ok {
			item, id, _ := strings.Cut(c.measure.(string), "/")
			it := r.Item(item)
			if it == nil || it.Measure(id) == nil {
				t.Errorf("the sheet has no measure %v", c.measure)
				continue
			}
			m = it.Measure(id)
		}
		if got := m.Judge(stating(t, c.how, c.figure)); got != c.want {
			t.Errorf("%v of %v, pointing %d: problem %q, want %q: %s (%s)", c.figure, c.measure, c.how, got, c.want, c.reason, c.source)
		}
	}
}

// The problem names are part of the sheet's form.
func TestProblemNames(t *testing.T) {
	if WrongValue != "value" || WrongDirection != "direction" {
		t.Errorf("problems are called %q and %q", WrongValue, WrongDirection)
	}
}

func TestAccepted(t *testing.T) {
	for _, c := range []struct {
		m            Measure
		want, reason string
	}{
		{Measure{Unit: "psi", Min: "4", Max: "4", Direction: AtMost}, "at most 4 psi", "a limit"},
		{Measure{Unit: "psi", Max: "4", Direction: AtMost}, "at most 4 psi", "a limit with an open end"},
		{Measure{Unit: "inch", Min: "4/32", Max: "4/32", Direction: AtLeast}, "at least 4/32 inch", "the figure as spoken, not in lowest terms"},
		{Measure{Unit: "inch", Min: "1 3/8", Direction: AtLeast}, "at least 1 3/8 inches", "a mixed figure, more than one"},
		{Measure{Unit: "psi", Min: "55", Max: "75", Direction: AtLeast}, "at least 55 to 75 psi", "several limits are accepted"},
		{Measure{Unit: "psi", Min: "120", Max: "140"}, "120 to 140 psi", "a range"},
		{Measure{Unit: "mph", Min: "5", Max: "5"}, "5 mph", "one figure"},
		{Measure{Unit: "second", Max: "45"}, "at most 45 seconds", "open below"},
		{Measure{Unit: "inch", Min: "4/32"}, "at least 4/32 inch", "open above"},
		{Measure{Unit: "count", Min: "3", Max: "3"}, "3", "a count has no unit"},
		{Measure{Unit: "fraction", Min: "1/8", Max: "1/8", Direction: AtLeast}, "at least 1/8", "nor has a fraction"},
		{Measure{Unit: "minute", Min: "1", Direction: AtLeast}, "at least 1 minute", "one of a unit"},
		{Measure{Unit: "minute", Min: "1/2", Max: "3/4"}, "30 to 45 seconds", "nobody says half a minute to three quarters"},
		{Measure{Unit: "foot", Min: "10"}, "at least 10 feet", "a plural of its own"},
	} {
		if got := c.m.Accepted(); got != c.want {
			t.Errorf("%s: %q, want %q", c.reason, got, c.want)
		}
	}
}

// everyRubric is every embedded rubric, alone and with every overlay that fits.
func everyRubric(t testing.TB) map[string]*Rubric {
	t.Helper()
	out := map[string]*Rubric{}
	rubrics, overlays := Names()
	for _, name := range rubrics {
		r, err := Load(name)
		if err != nil {
			t.Fatal(err)
		}
		out[name] = r
		for _, o := range overlays {
			with, err := Load(name, o)
			if err != nil {
				continue // for another rubric; TestLibrary tells the rest
			}
			out[name+" with "+o] = with
		}
	}
	if len(out) < 2 {
		t.Fatal("no rubric with an overlay")
	}
	return out
}

// meetable reports whether some statement is accepted by the measure: a figure
// of its own range, said flat or pointing as the measure asks.
func meetable(t testing.TB, m *Measure) bool {
	low, high, err := m.Range()
	if err != nil {
		t.Fatal(err)
	}
	for _, figure := range []*big.Rat{low, high} {
		if figure == nil {
			continue
		}
		if m.Judge(Statement{Low: figure, High: figure}) == "" {
			return true
		}
	}
	return false
}

// Of every embedded rubric every number has a source that the file lists or
// remarks on, a range that a statement can meet, and a title.
func TestLibraryFigures(t *testing.T) {
	n := 0
	for name, r := range everyRubric(t) {
		keys := map[string]bool{}
		for _, s := range r.Sources {
			keys[s.Key] = true
			if s.Title == "" || s.Where == "" {
				t.Errorf("%s: source %q does not say what or where it is", name, s.Key)
			}
		}
		known := func(what, source string) {
			if source == "" {
				t.Errorf("%s: %s has no source", name, what)
			}
			for _, k := range SourceKeys(source) {
				if !keys[k] {
					t.Errorf("%s: %s names the source %q, which is not listed", name, what, k)
				}
			}
		}
		if r.TimeLimit > 0 {
			known("the time limit", r.TimeSource)
		}
		if r.Pass.Note == "" {
			t.Errorf("%s: the pass rule does not say who set it", name)
		}
		for e := range r.All() {
			if e.Section.Title == "" || e.Line.Title == "" || e.Item.Title == "" {
				t.Errorf("%s: %s has no title, or its line or section has none", name, e.Item.ID)
			}
			for i := range e.Item.Checks {
				if e.Item.Checks[i].Title == "" {
					t.Errorf("%s: check %s of %s has no title", name, e.Item.Checks[i].ID, e.Item.ID)
				}
			}
			for i := range e.Item.Measures {
				m := &e.Item.Measures[i]
				what := e.Item.ID + "/" + m.ID
				n++
				known(what, m.Source)
				if m.Title == "" {
					t.Errorf("%s: %s has no title", name, what)
				}
				if !meetable(t, m) {
					t.Errorf("%s: no statement can satisfy %s (%s)", name, what, m.Accepted())
				}
				if !slices.Contains(Units(), m.Unit) || !slices.Contains(Kinds(), m.Kind) {
					t.Errorf("%s: %s is a %q in %q", name, what, m.Kind, m.Unit)
				}
				// "from memory" alone was not seen in a source.
				if strings.HasPrefix(strings.ToLower(m.Source), "from memory") && !m.Unconfirmed {
					t.Errorf("%s: %s is from memory and not marked unconfirmed", name, what)
				}
			}
		}
		for _, o := range r.Order {
			if o.Reason == "" {
				t.Errorf("%s: %s before %s has no reason", name, o.Before, o.After)
			}
			known("order "+o.Before+" before "+o.After, o.Source)
		}
		for _, h := range r.Holds {
			known("hold "+h.ID, h.Source)
		}
	}
	if n < 20 {
		t.Errorf("only %d numbers looked at", n)
	}
}

// The walk above must be able to fail.
func TestMeetable(t *testing.T) {
	if !meetable(t, &Measure{ID: "m", Min: "1", Max: "2"}) || meetable(t, &Measure{ID: "m", Min: "2", Max: "1"}) {
		t.Error("a range from 1 to 2 can be met, one from 2 to 1 cannot")
	}
}

// measures draws a measure as the reader admits them.
func measures() *rapid.Generator[Measure] {
	return rapid.Custom(func(t *rapid.T) Measure {
		figure := func(label string, from int) int { return rapid.IntRange(from, 40).Draw(t, label) }
		m := Measure{ID: "m", Title: "M", Unit: "inch", Kind: LimitKind, Optional: rapid.Bool().Draw(t, "optional")}
		low := figure("low", 0)
		high := figure("high", low)
		switch rapid.IntRange(0, 3).Draw(t, "form") {
		case 0:
			m.Min = fmt.Sprintf("%d/32", low)
		case 1:
			m.Max = fmt.Sprintf("%d/32", high)
		default:
			m.Min, m.Max = fmt.Sprintf("%d/32", low), fmt.Sprintf("%d/32", high)
		}
		m.Direction = rapid.SampledFrom([]Direction{AnyDirection, AtLeast, AtMost}).Draw(t, "direction")
		if m.Direction != AnyDirection && m.Min != "" && m.Max != "" {
			m.Max = m.Min
		}
		return m
	})
}

func TestJudgeProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m := measures().Draw(t, "measure")
		low, high, err := m.Range()
		if err != nil {
			t.Fatal(err)
		}
		v := big.NewRat(rapid.Int64Range(-10, 50).Draw(t, "figure"), 32)
		w := new(big.Rat).Add(v, big.NewRat(rapid.Int64Range(1, 20).Draw(t, "width"), 32))
		flat := m.Judge(Statement{Low: v, High: v})
		// By hand: inside the range, both ends included.
		inside := (low == nil || v.Cmp(low) >= 0) && (high == nil || v.Cmp(high) <= 0)
		if (flat == "") != inside || flat == WrongDirection {
			t.Fatalf("%s in %s: %q", v.RatString(), m.Accepted(), flat)
		}
		for p, against := range map[Pointing]Direction{Upward: AtMost, Downward: AtLeast} {
			got := m.Judge(Statement{Low: v, High: v, Pointing: p})
			if m.Direction == against {
				if got != WrongDirection {
					t.Fatalf("pointing %d of %s: %q", p, m.Accepted(), got)
				}
			} else if got != flat {
				t.Fatalf("pointing %d of %s: %q, flat %q", p, m.Accepted(), got, flat)
			}
		}
		one := Statement{Low: v, High: v, Pointing: Range}
		if got := m.Judge(one); got != flat {
			t.Fatalf("a range of one figure is judged %q, the figure %q", got, flat)
		}
		if got := m.Judge(Statement{Low: v, High: w, Pointing: Range}); got == "" {
			// An accepted range has an accepted end, and both where there is room.
			other := m.Judge(Statement{Low: w, High: w})
			if flat != "" && other != "" {
				t.Fatalf("%s to %s accepted by %s, neither end is", v.RatString(), w.RatString(), m.Accepted())
			}
			if m.Direction == AnyDirection && (flat != "" || other != "") {
				t.Fatalf("%s to %s accepted by %s, not both ends are", v.RatString(), w.RatString(), m.Accepted())
			}
		}
	})
}
