package rubric

// Mark is what an item, check or measure earned.
type Mark string

// The marks. Items use all four; checks and measures have no Partly.
const (
	Said   Mark = "said"   // named, and the substance of its checks stated rightly
	Partly Mark = "partly" // named, but a main part of its checks is absent
	Wrong  Mark = "wrong"  // the last statement contradicts the check or the number
	Missed Mark = "missed" // no evidence from the student
)

// Evidence is the words behind a mark.
type Evidence struct {
	Words       string  `json:"words"`       // as transcribed
	First       int     `json:"first"`       // index of the first transcript word
	Last        int     `json:"last"`        // index after the last
	Start       float64 `json:"start"`       // seconds
	End         float64 `json:"end"`         // seconds
	Confidence  float64 `json:"confidence"`  // 0..1, how sure that these words answer it
	Reason      string  `json:"reason"`      // short, for a person
	Contradicts bool    `json:"contradicts"` // the words say the opposite
}

// CheckMark is the mark of one check of an item.
type CheckMark struct {
	ID       string     `json:"id"`
	Title    string     `json:"title"`
	Minor    bool       `json:"minor"`
	Mark     Mark       `json:"mark"`
	Evidence []Evidence `json:"evidence"`
}

// MeasureMark is the mark of one number of an item.
type MeasureMark struct {
	ID          string     `json:"id"`
	Title       string     `json:"title"`
	Optional    bool       `json:"optional"`
	Mark        Mark       `json:"mark"`
	Said        string     `json:"said"`     // what was said, normal form ("at most 6 psi"); "" if nothing
	Accepted    string     `json:"accepted"` // what is accepted ("at most 4 psi")
	Source      string     `json:"source"`
	Unconfirmed bool       `json:"unconfirmed"`
	Note        string     `json:"note"`
	Problem     string     `json:"problem"` // why it is wrong: "value", "direction"; "" otherwise
	Evidence    []Evidence `json:"evidence"`
}

// ItemMark is the mark of one item with all that is behind it.
type ItemMark struct {
	ID         string        `json:"id"`
	Title      string        `json:"title"`
	Section    string        `json:"section"` // section id
	Line       string        `json:"line"`    // line id
	Mark       Mark          `json:"mark"`
	Confidence float64       `json:"confidence"` // 0..1 that the mark is right
	Listen     bool          `json:"listen"`     // doubtful: the instructor should hear it
	Critical   bool          `json:"critical"`
	Extra      bool          `json:"extra"`
	Points     float64       `json:"points"`  // earned
	Of         float64       `json:"of"`      // possible
	Start      float64       `json:"start"`   // seconds of the first evidence, -1 if none
	Reason     string        `json:"reason"`  // one line: why this mark
	Omitted    []string      `json:"omitted"` // titles of main checks and numbers left out
	Named      []Evidence    `json:"named"`
	Near       []Evidence    `json:"near"` // what came near and was not counted: one or none
	Checks     []CheckMark   `json:"checks"`
	Measures   []MeasureMark `json:"measures"`
	Corrected  *Corrected    `json:"corrected,omitempty"` // left out unless a person corrected the mark
}

// SectionMark sums one section.
type SectionMark struct {
	ID     string  `json:"id"`
	Title  string  `json:"title"`
	Points float64 `json:"points"`
	Of     float64 `json:"of"`
	Said   int     `json:"said"`
	Partly int     `json:"partly"`
	Wrong  int     `json:"wrong"`
	Missed int     `json:"missed"`
}

// FindingKind groups findings.
type FindingKind string

// Kinds of finding.
const (
	OrderFinding   FindingKind = "order"   // a step before one that it depends on
	HoldFinding    FindingKind = "hold"    // two moments too close together
	ReadingFinding FindingKind = "reading" // stated readings that do not fit each other
	PaceFinding    FindingKind = "pace"    // over the limit, dead air, rushed
)

// Finding is something noticed about the attempt as a whole.
type Finding struct {
	Kind     FindingKind `json:"kind"`
	ID       string      `json:"id"` // rule it comes from, stable
	Text     string      `json:"text"`
	Reason   string      `json:"reason"`
	Start    float64     `json:"start"` // seconds
	End      float64     `json:"end"`
	Critical bool        `json:"critical"` // fails the test where critical items decide
	Evidence []Evidence  `json:"evidence"`

	Corrected *Corrected `json:"corrected,omitempty"` // only on those set aside
}

// Visit is one stay in a section.
type Visit struct {
	Section string  `json:"section"`
	Start   float64 `json:"start"`
	End     float64 `json:"end"`
}

// Gap is a stretch without words.
type Gap struct {
	Start float64 `json:"start"`
	End   float64 `json:"end"`
}

// SectionPace is the time spent in one section.
type SectionPace struct {
	Section string  `json:"section"`
	Seconds float64 `json:"seconds"`
	Budget  float64 `json:"budget"` // 0 when the rubric gives none
}

// Pace is where the time went. All times in seconds.
type Pace struct {
	Start          float64       `json:"start"` // first word of the student
	End            float64       `json:"end"`   // last word
	Limit          float64       `json:"limit"` // 0 when there is none
	WordsPerMinute float64       `json:"words_per_minute"`
	DeadAir        []Gap         `json:"dead_air"` // gaps of at least 10 s outside holds, longest first; silent ones where there is a recording
	Sections       []SectionPace `json:"sections"`
	Visits         []Visit       `json:"visits"`      // the path, in time order
	AfterLimit     []string      `json:"after_limit"` // item ids first said after the limit
	Rushed         []string      `json:"rushed"`      // item ids named in a list faster than the student's own pace allows
}

// Recording is what the recording shows beyond its transcript. With one, all
// times of the sheet are on the recording's clock, unless a warning says that
// the transcript could not be put onto it.
type Recording struct {
	File     string  `json:"file"`     // no folder
	Seconds  float64 `json:"seconds"`  // length
	Speech   float64 `json:"speech"`   // seconds in which somebody speaks
	Offset   float64 `json:"offset"`   // the transcript's times were moved: recording = transcript * (1 + drift) + offset, seconds
	Drift    float64 `json:"drift"`    // share, 0.01 for a transcript whose clock runs 1% slow
	Unheard  []Gap   `json:"unheard"`  // speech that the transcript has no words for
	Unspoken []Gap   `json:"unspoken"` // words where nobody speaks
}

// Result is the outcome by the rubric's own rule.
type Result struct {
	Pass    bool     `json:"pass"`
	Rule    string   `json:"rule"`    // the rule in words
	Reasons []string `json:"reasons"` // why it did not pass, empty when it did
}

// RubricID says which rubric marked the sheet.
type RubricID struct {
	ID      string   `json:"id"`
	Title   string   `json:"title"`
	Edition string   `json:"edition"`
	Version string   `json:"version"`
	Hash    string   `json:"hash"`
	With    []string `json:"with"` // overlays and add-ons, in order
}

// Sheet is all marks of one attempt. Items are in rubric order.
type Sheet struct {
	Schema    int           `json:"schema"` // version of this form, see SheetSchema
	Tool      string        `json:"tool"`
	Attempt   string        `json:"attempt"` // id, from the file name unless given
	Source    string        `json:"source"`  // transcript file name, no folder
	Format    string        `json:"format"`
	Words     int           `json:"words"` // student's words
	Rubric    RubricID      `json:"rubric"`
	Result    Result        `json:"result"`
	Points    float64       `json:"points"`
	Of        float64       `json:"of"`
	Sections  []SectionMark `json:"sections"`
	Items     []ItemMark    `json:"items"`
	Findings  []Finding     `json:"findings"`
	Rejected  []Finding     `json:"rejected,omitempty"` // findings that a person set aside
	Pace      Pace          `json:"pace"`
	Recording *Recording    `json:"recording,omitempty"` // left out without one
	Sources   []Source      `json:"sources"`             // those that the measures of the items name, in rubric order
	Warnings  []string      `json:"warnings"`
	Cautions  []string      `json:"cautions"`
}

// SheetSchema is the version of the sheet's JSON form.
const SheetSchema = 1
