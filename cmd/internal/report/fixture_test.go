package report

import (
	"fmt"
	"strings"

	"markaround/rubric"
	"markaround/speech"
)

// bigSheet is an invented attempt of the size of a real one, with every kind
// of mark and finding, and the transcript that it points into.
func bigSheet() (*rubric.Sheet, *speech.Transcript) {
	b := builder{t: &speech.Transcript{Name: "invented-07.vtt", Format: speech.WebVTT}}
	s := &rubric.Sheet{
		Schema: rubric.SheetSchema, Tool: "markaround test", Attempt: "invented-07",
		Source: "invented-07.vtt", Format: "vtt",
		Rubric: rubric.RubricID{
			ID: "class-a", Title: "Class A combination vehicle", Edition: "modernized test (section 11M)",
			Version: "1", Hash: strings.Repeat("ab", 32), With: []string{"california"},
		},
		Warnings: []string{"cue 41: ends before it starts; the times were swapped"},
		Cautions: []string{
			"Practice marking, not a license decision.",
			"The local authority's current manual and the vehicle maker's figures come first.",
			"Brakes are checked on level ground with wheels chocked, under a qualified instructor.",
		},
	}
	plan := []struct {
		id, title string
		budget    float64
		parts     []string
	}{
		{"cab", "In the cab", 240, []string{"Safe start", "Warning triangles", "Fire extinguisher", "Spare fuses", "Oil pressure gauge", "Temperature gauge", "Ammeter or voltmeter", "Mirrors", "Windshield", "Wipers and washers", "Horn", "Heater and defroster", "Seat belt", "Dash indicators"}},
		{"air", "Air brake check", 300, []string{"Wheels chocked", "Parking brake released", "Governor cut-out", "Applied leakage test", "Loss in one minute", "Low air warning", "Spring brakes pop out", "Parking brake holds", "Service brake check"}},
		{"engine", "Engine compartment", 240, []string{"Oil level", "Coolant level", "Power steering fluid", "Water pump", "Alternator", "Air compressor", "Belts", "Hoses and leaks", "Wiring"}},
		{"steering", "Steering and front axle", 300, []string{"Steering box", "Steering hoses", "Pitman arm", "Drag link", "Tie rod", "Springs and U-bolts", "Shock absorber", "Brake hose", "Brake chamber", "Slack adjuster and pushrod", "Brake drum and linings", "Steer tire tread", "Steer tire inflation", "Rim, lug nuts and hub oil seal"}},
		{"side", "Driver side and under the tractor", 300, []string{"Door and mirror", "Fuel tank and cap", "Battery box", "Exhaust system", "Drive shaft", "Frame", "Drive axle springs", "Torque arm", "Drive tires tread", "Spacers between duals"}},
		{"coupling", "Coupling", 240, []string{"Air and electrical lines", "Catwalk", "Mounting bolts", "Platform", "Locking jaws", "Fifth wheel skid plate", "Release arm", "Kingpin and apron", "Gap", "Sliding pins"}},
		{"trailer", "Trailer", 420, []string{"Header board", "Landing gear", "Clearance lights", "Reflectors and tape", "Side panels", "Tandem release", "Trailer springs", "Trailer brake hoses", "Trailer brake drum", "Trailer tires tread", "Doors and ties", "License plate light", "Tail and brake lights", "Mud flaps"}},
	}
	for si, sec := range plan {
		begin := b.now
		mark := rubric.SectionMark{ID: sec.id, Title: sec.title}
		b.say("Student", "now moving on to the "+strings.ToLower(sec.title))
		for pi, part := range sec.parts {
			it := b.item(sec.id, part, si*7+pi*3)
			switch it.Mark {
			case rubric.Said:
				mark.Said++
			case rubric.Partly:
				mark.Partly++
			case rubric.Wrong:
				mark.Wrong++
			case rubric.Missed:
				mark.Missed++
			}
			mark.Points += it.Points
			mark.Of += it.Of
			s.Items = append(s.Items, it)
		}
		if sec.id == "air" || sec.id == "coupling" {
			s.Pace.DeadAir = append(s.Pace.DeadAir, rubric.Gap{Start: b.now, End: b.now + 31.5})
			b.now += 31.5
		}
		s.Points += mark.Points
		s.Of += mark.Of
		s.Sections = append(s.Sections, mark)
		s.Pace.Visits = append(s.Pace.Visits, rubric.Visit{Section: sec.id, Start: begin, End: b.now})
		s.Pace.Sections = append(s.Pace.Sections, rubric.SectionPace{Section: sec.id, Seconds: b.now - begin, Budget: sec.budget})
	}
	s.Pace.Start, s.Pace.End, s.Pace.Limit, s.Pace.WordsPerMinute = 1, b.now, b.now-60, 128.4
	s.Pace.AfterLimit = []string{"trailer.tail-and-brake-lights", "trailer.mud-flaps"}
	s.Pace.Rushed = []string{"steering.drag-link", "steering.tie-rod"}
	s.Findings = []rubric.Finding{
		{
			Kind: rubric.OrderFinding, ID: "chock-before-release", Critical: true,
			Text:   "Parking brake released before the wheels were chocked",
			Reason: "the vehicle can roll once the brake is off", Start: 190, End: 196,
			Evidence: []rubric.Evidence{b.evidence("i release my parking brake", 190, 0.9, false)},
		},
		{
			Kind: rubric.HoldFinding, ID: "leak-minute", Text: "Applied leakage test held for 24 s; 60 s are asked for",
			Reason: "the loss is counted over one full minute", Start: 214, End: 238,
			Evidence: []rubric.Evidence{
				b.evidence("applying full pressure to the pedal", 214, 0.8, false),
				b.evidence("i lost two pounds", 238, 0.8, false),
			},
		},
		{
			Kind: rubric.ReadingFinding, ID: "leak", Text: "120 psi at the start, 117 psi at the end, but a loss of 2 psi stated",
			Reason: "start less end is the loss", Start: 214, End: 240, Evidence: nil,
		},
		{Kind: rubric.PaceFinding, ID: "over-limit", Text: "Finished 1:00 after the time limit", Start: b.now - 60, End: b.now},
	}
	s.Result = rubric.Result{
		Rule:    "at least 80% of the points, no critical item failed, within the time limit",
		Reasons: []string{"critical: Low air warning", "critical: parking brake released before the wheels were chocked", "over the time limit by 1:00"},
	}
	s.Sources = []rubric.Source{
		{Key: "GA-11M.1.2", Title: "Invented manual, air brake check", Where: "nowhere"},
		{Key: "other", Title: "Invented manual that no number names", Where: "nowhere"},
	}
	s.Words = len(b.t.Words)
	return s, b.t
}

type builder struct {
	t   *speech.Transcript
	now float64
}

// say adds a segment and returns its evidence.
func (b *builder) say(who, text string) rubric.Evidence {
	first, start := len(b.t.Words), b.now
	for _, w := range strings.Fields(text) {
		b.t.Words = append(b.t.Words, speech.Word{Text: w, Start: b.now, End: b.now + 0.4, Confidence: -1, Segment: len(b.t.Segments)})
		b.now += 0.45
	}
	b.t.Segments = append(b.t.Segments, speech.Segment{Start: start, End: b.now, Speaker: who, First: first, Last: len(b.t.Words), Cue: len(b.t.Segments) + 1})
	ev := rubric.Evidence{Words: text, First: first, Last: len(b.t.Words), Start: start, End: b.now, Confidence: 0.93, Reason: "named in full"}
	b.now += 4
	return ev
}

func (b *builder) evidence(words string, start, sure float64, against bool) rubric.Evidence {
	return rubric.Evidence{Words: words, First: 3, Last: 3 + len(strings.Fields(words)), Start: start, End: start + 4, Confidence: sure, Reason: "sounds like it", Contradicts: against}
}

// item makes an invented item; seed only spreads the marks over the sheet.
func (b *builder) item(section, name string, seed int) rubric.ItemMark {
	it := rubric.ItemMark{
		ID: section + "." + slug(name), Title: name, Section: section, Line: section + "-1",
		Mark: rubric.Said, Confidence: 0.95, Points: 1, Of: 1, Start: -1, Reason: "named, with its condition",
	}
	switch {
	case seed%13 == 5:
		it.Mark, it.Reason, it.Points, it.Confidence = rubric.Missed, "no words of the student name it", 0, 0.9
		it.Listen = seed%2 == 0
		it.Critical = name == "Low air warning"
	case seed%11 == 4:
		it.Mark, it.Reason, it.Points = rubric.Partly, "named, without its condition", 0.5
		it.Omitted = []string{"mounted securely", "not cracked, bent or broken"}
	case seed%17 == 6:
		it.Mark, it.Reason, it.Points = rubric.Wrong, "a condition is contradicted", 0
	}
	check := rubric.CheckMark{ID: "secure", Title: "mounted securely", Mark: rubric.Said}
	switch it.Mark {
	case rubric.Missed:
		check.Mark = rubric.Missed
	case rubric.Partly:
		check.Mark = rubric.Missed
		it.Named = []rubric.Evidence{b.say("Student", "this is my "+strings.ToLower(name))}
	case rubric.Wrong:
		check.Mark = rubric.Wrong
		ev := b.say("Student", "my "+strings.ToLower(name)+" is loose")
		it.Named = []rubric.Evidence{ev}
		ev.Contradicts = true
		check.Evidence = []rubric.Evidence{ev}
	default:
		ev := b.say("Student", "here is my "+strings.ToLower(name)+" it is mounted securely not cracked bent or broken and i see no leaks on it or around it")
		it.Named, check.Evidence = []rubric.Evidence{ev}, []rubric.Evidence{ev}
		if seed%19 == 3 {
			it.Confidence, it.Listen = 0.46, true
		}
	}
	it.Checks = []rubric.CheckMark{check, {ID: "clean", Title: "clean", Minor: true, Mark: rubric.Missed}}
	if len(it.Named) > 0 {
		it.Start = it.Named[0].Start
	}
	switch name {
	case "Loss in one minute":
		b.number(&it, "at most 6 psi", "at most 4 psi", "value", "i should not lose more than six pounds in one minute with the engine off and the pedal down")
	case "Steer tire tread":
		b.number(&it, "at most 4/32 inch", "at least 4/32 inch", "direction", "no more than four thirty seconds of tread")
	case "Low air warning":
		it.Critical = true
	case "Dash indicators":
		it.Extra, it.Of, it.Points = true, 0, 0
	}
	return it
}

func (b *builder) number(it *rubric.ItemMark, said, accepted, problem, words string) {
	ev := b.say("Student", words)
	it.Mark, it.Points, it.Critical, it.Reason = rubric.Wrong, 0, true, fmt.Sprintf("%s said, %s accepted", said, accepted)
	it.Measures = []rubric.MeasureMark{{
		ID: "figure", Title: "figure stated", Mark: rubric.Wrong, Said: said, Accepted: accepted, Problem: problem,
		Source: "GA-11M.1.2", Note: "or the maker's level", Unconfirmed: problem == "direction", Evidence: []rubric.Evidence{ev},
	}}
	if it.Start < 0 {
		it.Start = ev.Start
	}
}

func slug(s string) string {
	return strings.Join(strings.FieldsFunc(strings.ToLower(s), func(r rune) bool { return r < 'a' || r > 'z' }), "-")
}
