// Package rubric says what should be said: the score sheet of a spoken vehicle
// inspection, its reader, and the rule that turns evidence into marks.
//
// It knows nothing of transcripts. Package align finds the evidence; Mark in
// this package turns it into a Sheet. Times are seconds, as float64.
package rubric

// Pos is a place in a rubric file.
type Pos struct {
	File         string
	Line, Column int // from 1; 0 when the value was not read from a file
}

// Rubric is a whole score sheet. A rubric file holds one; an overlay file
// changes or adds to one (see Overlay).
type Rubric struct {
	ID         string
	Title      string
	Edition    string   // which printing of the test it follows
	Version    string   // of this file, changed whenever marks may change
	Sources    []Source // where its figures come from
	Cautions   []string // printed on every sheet
	TimeLimit  float64  // seconds, 0 when there is none
	TimeSource string   // source key or remark for TimeLimit
	Pass       PassRule
	Conditions []Condition // shared by items
	HeardAs    []HeardAs   // what recognizers write for the trade's words
	Alike      [][]string  // groups of single words that stand for each other in any phrase
	Sections   []Section   // in the usual order
	Order      []OrderRule
	Holds      []Hold
	Agreements []Agreement
	With       []string // ids of the overlays composed onto it, in order
	Bases      []string // ids of the rubrics that its file was made from, the nearest first
	Hash       string   // hex SHA-256 over the files it was read from, one after the other

	data   []byte             // those files
	pos    Pos                // where the first begins
	places places             // where values stood, for messages
	within []string           // overlays that its file put onto its base
	set    map[string]setting // what the overlays in With have set
}

// Source is a published document that figures are taken from.
type Source struct {
	Key   string `json:"key"`
	Title string `json:"title"`
	Where string `json:"where"` // address or section; "from memory" and "common practice, no source" are said here
}

// PassRule is the sheet's own rule for its result. A zero share means that
// points do not decide. No rule of the kind is published; the file says so.
type PassRule struct {
	MinShare    float64 // least share of points, 0..1
	Critical    bool    // every critical item must be said
	WithinLimit bool    // finished inside TimeLimit
	Note        string  // who set the rule
}

// Condition is a thing said of many parts, and the ways to say it and to
// contradict it. Good phrases describe the sound state, Bad phrases the defect:
// a good phrase affirmed or a bad phrase denied or looked for is the claim; a
// good phrase denied or a bad phrase affirmed contradicts it.
type Condition struct {
	ID    string
	Title string // what is left out when it is not said: "mounted securely"
	Good  []string
	Bad   []string
	Pos   Pos
}

// HeardAs lists what recognizers write where Means was said.
type HeardAs struct {
	Means string
	Heard []string
}

// Section is a place where the student stands.
type Section struct {
	ID     string
	Title  string
	Place  string   // where the student stands; sections of one place lie close together
	Budget float64  // seconds it usually takes, 0 when not given
	Say    []string // ways to announce it ("moving to the engine compartment")
	Lines  []Line
	Pos    Pos
}

// Line is one line of the printed checklist, with the parts under it.
type Line struct {
	ID     string
	Title  string
	Source string
	Say    []string // ways to name the line as a whole ("my steering linkage"); names no part by itself
	Items  []Item
	Pos    Pos
}

// Item is a part to inspect or a step to do.
type Item struct {
	ID       string // unique in the rubric, section.part
	Title    string
	Say      []string // ways to name it
	Kind     string   // parts of one kind carry over "same as on the other axle"
	Of       string   // kind of the part that it is a detail of: conditions said of it count for that part too
	Points   float64  // default 1
	Critical bool     // failing it fails the test
	Extra    bool     // not on this edition's list: shown when named, never missed, no points
	Checks   []Check
	Measures []Measure
	Pos      Pos
}

// Check is one thing to say of an item.
type Check struct {
	ID        string // unique in the item
	Title     string
	Condition string // id of a shared condition, "" for one of its own
	Good, Bad []string
	Minor     bool // may be left out without losing the mark
	Pos       Pos
}

// Direction is the way a limit must point.
type Direction string

// Directions of a limit. A reading has none.
const (
	AnyDirection Direction = ""
	AtLeast      Direction = "at-least"
	AtMost       Direction = "at-most"
)

// Measure is a number to state for an item.
type Measure struct {
	ID          string // unique in the item
	Title       string
	Unit        string // one of Units
	Kind        string // "limit": the rule as stated; "reading": what the gauge shows; "either"
	Min, Max    string // the figures accepted, both inclusive: exact rationals ("4/32"); "" is open
	Direction   Direction
	Near        []string // words that tie a number to this measure where the item has several
	Optional    bool     // judged when stated, not missed when it is not
	Source      string
	Unconfirmed bool   // the figure was not seen in a published source
	Note        string // said beside the figure ("or the maker's level")
	Pos         Pos
}

// OrderRule says that one item must come before another, and why.
type OrderRule struct {
	Before, After string // item ids
	Reason        string
	Source        string
	Pos           Pos
}

// Hold says that at least Seconds must lie between two items: from the end of
// the first words that say From to the start of the last that say To.
type Hold struct {
	ID       string
	Title    string
	From, To string // item ids
	Seconds  float64
	Reason   string
	Source   string
	Pos      Pos
}

// Agreement says that three stated readings must fit: Start − End = Loss, each
// an "item/measure" reference.
type Agreement struct {
	Start, End, Loss string
	Within           string // tolerance in the measures' unit, exact rational
	Reason           string
	Pos              Pos
}
