package rubric

import (
	"reflect"
	"slices"
	"strings"
	"testing"
)

func TestOnly(t *testing.T) {
	r := mustRead(t, "forklift.yaml", valid(t, "forklift.yaml"))
	tank, err := r.Only("tank")
	if err != nil {
		t.Fatal(err)
	}
	if got := order(tank); got != "tank: gas tires" {
		t.Errorf("got %s", got)
	}
	if len(tank.Order) != 2 || len(tank.Holds) != 1 || len(tank.Agreements) != 1 {
		t.Errorf("rules inside the section must stay: %d %d %d", len(tank.Order), len(tank.Holds), len(tank.Agreements))
	}
	if !slices.Equal(tank.With, []string{"only tank"}) || tank.ID != r.ID || tank.Hash != r.Hash {
		t.Errorf("named %s with %q", tank.ID, tank.With)
	}
	if tank.TimeLimit != 0 || tank.Pass.WithinLimit {
		t.Error("the limit is that of the whole")
	}
	rest, err := r.Only("seat", "mast", "seat")
	if err != nil {
		t.Fatal(err)
	}
	if got := order(rest); got != "mast: forks chains; seat: belt horn" || rest.With[0] != "only mast, seat" {
		t.Errorf("got %s with %q; want the rubric's own order", got, rest.With)
	}
	if len(rest.Order)+len(rest.Holds)+len(rest.Agreements) != 0 {
		t.Error("rules that name other sections must go")
	}
	if !reflect.DeepEqual(r, mustRead(t, "forklift.yaml", valid(t, "forklift.yaml"))) {
		t.Error("the rubric was changed")
	}
	for _, sections := range [][]string{nil, {"mast", "roof"}, {""}} {
		_, err := r.Only(sections...)
		if err == nil || !strings.Contains(err.Error(), "mast, seat, tank") {
			t.Errorf("%q: got %v, want an error that lists the sections", sections, err)
		}
	}
}

// Only after Compose leaves nothing that names an absent item, whatever the
// sections.
func TestOnlyLeavesNoLooseEnds(t *testing.T) {
	for name, whole := range everyRubric(t) {
		for _, id := range whole.sectionIDs() {
			part, err := whole.Only(id)
			if err != nil {
				t.Fatal(err)
			}
			// Dropped items are not counted as faults of details that stay behind.
			if err := part.check(dropped{"": Pos{}}, nil).err(); err != nil {
				t.Errorf("%s only %s: %v", name, id, err)
			}
		}
	}
}

// A sheet of the whole, cut down to a part, keeps the part's marks, findings and
// stays, and nothing else.
func TestPart(t *testing.T) {
	r := mustRead(t, "forklift.yaml", valid(t, "forklift.yaml"))
	named := func(at float64) *Answer { return &Answer{Named: []Evidence{spoken("it", at, 0.9)}} }
	s := &Sheet{
		Items: r.Mark(Answers{"mast.pins": named(5), "tank.valve": named(100), "seat.beacon": named(50)}, Marking{}),
		Findings: []Finding{
			{Kind: OrderFinding, ID: "tank.valve>tank.hose"}, {Kind: OrderFinding, ID: "mast.pins>tank.hose"},
			{Kind: HoldFinding, ID: "settle"}, {Kind: HoldFinding, ID: "other"},
			{Kind: ReadingFinding, ID: "tank.hose"}, {Kind: ReadingFinding, ID: "seat.belt"},
		},
		Pace: Pace{
			Start: 1, End: 200, Limit: 150, AfterLimit: []string{"tank.tires"}, Rushed: []string{"mast.pins", "tank.valve"},
			Sections: []SectionPace{{Section: "mast"}, {Section: "tank"}},
			Visits:   []Visit{{"mast", 1, 90}, {"tank", 90, 120}, {"seat", 120, 130}, {"tank", 130, 180}, {"mast", 180, 200}},
			DeadAir:  []Gap{{20, 40}, {85, 95}, {140, 150}},
		},
	}
	r.Conclude(s)
	whole := s.Items
	tank, err := r.Only("tank")
	if err != nil {
		t.Fatal(err)
	}
	tank.Part(s)
	var items, findings []string
	for _, m := range s.Items {
		items = append(items, m.ID+" "+string(m.Mark))
	}
	for _, f := range s.Findings {
		findings = append(findings, f.ID)
	}
	for _, c := range []struct {
		what      string
		got, want any
	}{
		{"items", items, []string{"tank.valve partly", "tank.hose missed", "tank.tires missed"}},
		{"findings", findings, []string{"tank.valve>tank.hose", "settle", "tank.hose"}},
		{"sections", len(s.Sections), 1},
		{"possible points", s.Of, 3.0},
		{"overlays", s.Rubric.With, []string{"only tank"}},
		{"time", []float64{s.Pace.Start, s.Pace.End, s.Pace.Limit}, []float64{90, 180, 0}},
		{"dead air", s.Pace.DeadAir, []Gap{{85, 95}, {140, 150}}},
		{"rushed", s.Pace.Rushed, []string{"tank.valve"}},
		{"after the limit", s.Pace.AfterLimit, []string{}},
		{"section times", s.Pace.Sections, []SectionPace{{Section: "tank"}}},
	} {
		if !reflect.DeepEqual(c.got, c.want) {
			t.Errorf("%s: got %v, want %v", c.what, c.got, c.want)
		}
	}
	if len(whole) != 9 || whole[0].ID != "mast.blades" {
		t.Error("the list that the sheet had was written into")
	}
}
