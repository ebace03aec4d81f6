package speech

import (
	"math/big"
	"strings"
)

// Break says how strongly a token is parted from the one after it.
type Break uint8

// Breaks, weak to strong. A recognizer without punctuation gives NoBreak
// throughout, but for long pauses.
const (
	NoBreak    Break = iota
	CommaBreak       // comma, dash, or a pause of at least 0.6 s where word times are measured
	StopBreak        // full stop, question mark, semicolon, colon, or a pause of at least 1.5 s
)

// Token is one normal-form token. A word gives one token or several
// ("twenty-five", "5psi"); tokens of one word share its index and its times.
type Token struct {
	Text       string  // lower case, no outer punctuation; "don't" stays "don't", "p.s.i." is "psi", "4/32" stays whole
	Word       int     // index into Transcript.Words
	Start, End float64 // seconds
	Break      Break   // after this token
	Segment    int     // index into Transcript.Segments
}

// Unit of a quantity.
type Unit string

// Units that spoken quantities carry. NoUnit is a bare number.
const (
	NoUnit  Unit = ""
	PSI     Unit = "psi"
	Inch    Unit = "inch"
	Foot    Unit = "foot"
	Degree  Unit = "degree"
	Second  Unit = "second"
	Minute  Unit = "minute"
	MPH     Unit = "mph"
	RPM     Unit = "rpm"
	Percent Unit = "percent"
	Volt    Unit = "volt"
	Pound   Unit = "pound" // weight, only where the words say so; "pounds" alone reads as psi first
)

// Bound says which way a quantity points.
type Bound uint8

// Bounds. "not below 55" and "no less than 55" are AtLeast; "before it drops
// below 55" is Before; "between 20 and 45" is Between.
const (
	Exact   Bound = iota // a bare figure, or "exactly"
	About                // about, around, roughly, approximately
	AtLeast              // at least, no less than, not below, minimum, or more
	Above                // more than, above, over (strict)
	AtMost               // at most, no more than, not exceed, within, maximum, or less
	Below                // less than, under, below (strict)
	Before               // before (it drops to), by, no later than: the falling value has not passed it
	Between              // a range: Low to High
)

// Reading is one way to understand a spoken number.
type Reading struct {
	Low, High *big.Rat // the same value but for a range
	Unit      Unit
}

// Quantity is a number as spoken, with every plausible reading, best first:
// "2 30 seconds" is 2/32 inch and also 2 minutes 30... which one is meant is
// told by what it is said of.
type Quantity struct {
	Readings    []Reading // at least one
	Bound       Bound
	First, Last int    // the tokens [First:Last) that the number, its unit and its bound words cover
	NumberFirst int    // first token of the number itself
	Text        string // the covered words in normal form
	Replaces    int    // index, in the list returned, of the quantity that this one corrects; -1 if none
	Replaced    bool   // taken back by a later one ("sixty, no, fifty-five") or denied ("fifty-five, not sixty")
	Weak        bool   // may be no stated figure at all: "one" alone, "a couple", "once"
}

// Quantities finds the quantities in tokens, in order and without overlap, in
// linear time.
//
// Every plausible reading is given, the best by the words around first: in "430
// seconds" near "tread" that is 4/32 inch, then 430 seconds. A time comes in
// seconds and in minutes, below 30 seconds in seconds only, "pounds" as psi and as weight, a fraction without a
// unit as a bare number and as inches. A reading whose Low and High differ is a
// range even where Bound is not Between: "twenty forty five psi", which lost its
// "to". Values must not be modified.
//
// Figures are never matched by likeness: fifteen is not fifty. Words that sound
// like a figure ("for", "to") are read as one only before a unit or a
// denominator. Not quantities: pronouns ("this one"), names ("number 3", "the
// second axle", "four-way flashers"), ordinals, figures of more than seven
// digits.
func Quantities(toks []Token) []Quantity {
	p := parser{items(toks)}
	var qs []Quantity
	var spans []span
	limit := 0
	for k := 0; k < len(p.w); {
		m, ok := p.measure(k)
		if !ok {
			k++
			continue
		}
		k = m.end
		if m.drop {
			continue
		}
		b, first, end := p.bounds(&m, limit)
		if m.weak && b != Exact && b != About {
			m.weak = false
		}
		k, limit = end, end
		qs = append(qs, p.quantity(toks, &m, b, first, end))
		spans = append(spans, span{first, end})
	}
	p.alternatives(qs, spans)
	p.carryOver32(qs, spans)
	p.corrections(qs, spans)
	p.counted(qs, spans)
	return qs
}

// quantity makes the exported form of a measure.
func (p *parser) quantity(toks []Token, m *measure, b Bound, first, end int) Quantity {
	q := Quantity{
		Readings:    make([]Reading, m.n),
		Bound:       b,
		First:       p.w[first].tok,
		Last:        p.w[end-1].tok + 1,
		NumberFirst: p.w[m.first].tok,
		Replaces:    -1,
		Weak:        m.weak,
	}
	for i, c := range m.cands[:m.n] {
		r := Reading{Low: c.lo.rat(), Unit: c.unit}
		r.High = r.Low
		if !c.lo.equal(c.hi) {
			r.High = c.hi.rat()
		}
		q.Readings[i] = r
	}
	var text strings.Builder
	for i := q.First; i < q.Last; i++ {
		if i > q.First {
			text.WriteByte(' ')
		}
		text.WriteString(toks[i].Text)
	}
	q.Text = text.String()
	return q
}
