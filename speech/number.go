package speech

import (
	"math/big"
	"slices"
)

// frac is an exact value while it is being read; d > 0.
type frac struct{ n, d int64 }

func whole(v int64) frac          { return frac{v, 1} }
func (a frac) add(b frac) frac    { return frac{a.n*b.d + b.n*a.d, a.d * b.d} }
func (a frac) scale(k int64) frac { return frac{a.n * k, a.d} }
func (a frac) less(b frac) bool   { return a.n*b.d < b.n*a.d }
func (a frac) equal(b frac) bool  { return a.n*b.d == b.n*a.d }
func (a frac) rat() *big.Rat      { return big.NewRat(a.n, a.d) }
func (a frac) isInt() bool        { return a.n%a.d == 0 }

// cand is a candidate reading: a value or a range, with its unit.
type cand struct {
	lo, hi frac
	unit   Unit
}

// number is a spoken number, before or after its unit was read.
type number struct {
	first, end int // items [first:end)
	cands      [6]cand
	n          int
	closed     bool // the unit is settled: do not look for one
	thirty     bool // a fraction over 32 is among the readings
	bare       bool // half or quarter without a numerator
	ordinal    bool // twenty first: no quantity
	weak       bool
}

func (m *number) add(lo, hi frac, u Unit) {
	for _, c := range m.cands[:m.n] {
		if c.unit == u && c.lo.equal(lo) && c.hi.equal(hi) {
			return
		}
	}
	if m.n < len(m.cands) {
		m.cands[m.n] = cand{lo, hi, u}
		m.n++
	}
}

func (m *number) value(v frac, u Unit) { m.add(v, v, u) }

// front moves the first candidate of unit u to the front.
func (m *number) front(u Unit) {
	m.toFront(slices.IndexFunc(m.cands[:m.n], func(c cand) bool { return c.unit == u }))
}

// frontValue moves the candidate of that value and unit to the front.
func (m *number) frontValue(v frac, u Unit) {
	m.toFront(slices.IndexFunc(m.cands[:m.n], func(c cand) bool { return c.unit == u && c.lo.equal(v) && c.hi.equal(v) }))
}

// toFront moves candidate i to the front; -1 is none.
func (m *number) toFront(i int) {
	if i > 0 {
		c := m.cands[i]
		copy(m.cands[1:i+1], m.cands[:i])
		m.cands[0] = c
	}
}

// parser reads numbers from items.
type parser struct{ w []item }

var nowhere = item{}

func (p *parser) at(k int) *item {
	if k < 0 || k >= len(p.w) {
		return &nowhere
	}
	return &p.w[k]
}

func (p *parser) class(k int) class     { return p.at(k).class }
func (p *parser) is(k int, f flag) bool { return p.at(k).flags&f != 0 }
func (p *parser) text(k int) string     { return p.at(k).text }

// joined reports whether item k follows item k-1 with no break.
func (p *parser) joined(k int) bool {
	return k > 0 && k < len(p.w) && p.w[k-1].brk == NoBreak
}

// near reports whether item k follows item k-1 within a sentence.
func (p *parser) near(k int) bool {
	return k > 0 && k < len(p.w) && p.w[k-1].brk < StopBreak
}

// chunk reads a number below 100 said in one breath: five, fifteen, twenty,
// twenty five, or a figure of one or two digits. two reports that it has two
// digits.
func (p *parser) chunk(k int) (v int64, end int, two, ok bool) {
	switch it := p.at(k); it.class {
	case cDigit:
		return it.val, k + 1, false, true
	case cTeen:
		return it.val, k + 1, true, true
	case cTens:
		if n := p.at(k + 1); p.joined(k+1) && (n.class == cDigit || n.class == cInt && len(n.text) == 1 && n.val > 0) {
			return it.val + n.val, k + 2, true, true
		}
		return it.val, k + 1, true, true
	case cInt:
		if len(it.text) <= 2 && (len(it.text) == 1 || it.val >= 10) && it.val > 0 {
			return it.val, k + 1, len(it.text) == 2, true
		}
	}
	return 0, k, false, false
}

// digit reads one spoken digit, zero and "oh" among them.
func (p *parser) digit(k int) (v int64, ok bool) {
	switch it := p.at(k); {
	case it.class == cDigit, it.class == cZero, it.class == cOh:
		return it.val, true
	case it.class == cInt && len(it.text) == 1:
		return it.val, true
	}
	return 0, false
}

// scalar is a whole number with its other readings.
type scalar struct {
	v     int64
	end   int
	other int64 // another value it may stand for, -1 if none
	lo    int64 // "twenty forty five" may be a range that lost its "to": lo to hi
	hi    int64 // 0 if not
}

// scalar reads a whole number at k: a cardinal ("a hundred and five"), digits
// ("one two five"), a pair ("one twenty", "nineteen fifty") or a figure. With
// joinAnd false it ends before any "and".
func (p *parser) scalar(k int, joinAnd bool) (s scalar, ok bool) {
	s = scalar{other: -1}
	it := p.at(k)
	v, end, two, ok := p.chunk(k)
	switch {
	case ok:
	case it.class == cInt && it.val >= 100, it.class == cInt && it.val == 0:
		v, end = it.val, k+1
	case it.class == cZero:
		return scalar{v: 0, end: k + 1, other: -1}, true
	case it.class == cArticle && p.joined(k+1) && (p.class(k+1) == cHundred || p.class(k+1) == cThousand):
		v, end = 1, k+1
	case it.class == cHundred || it.class == cThousand:
		if !p.bareHundred(k) {
			return s, false
		}
		v, end = 1, k
	default:
		return s, false
	}
	next := p.class(end)
	if end > k && !p.joined(end) {
		next = cNone
	}
	switch {
	case next == cThousand && v < 1000:
		s.v, s.end = p.thousands(v, end, joinAnd)
		return s, true
	case next == cHundred && v < 100:
		s.v, s.end = p.hundreds(v, end, joinAnd)
		return s, true
	case it.class == cInt && v >= 100 && v%100 == 0 && v < 10000 && joinAnd:
		s.v, s.end = v, end
		if r, e, ok := p.andRest(end, true); ok {
			s.v, s.end = v+r, e
		}
		return s, true
	case !two && v > 0 && v < 10 && (it.class == cDigit || it.class == cInt):
		return p.digitFirst(k, v, end), true
	case two:
		return p.pair(k, v, end), true
	}
	s.v, s.end = v, end
	return s, true
}

// bareHundred reports whether "hundred" without a number before it is 100:
// "about hundred psi", "hundred and twenty".
func (p *parser) bareHundred(k int) bool {
	if !p.near(k + 1) {
		return false
	}
	if _, _, ok := p.andRest(k+1, true); ok {
		return true
	}
	return p.at(k+1).unit != NoUnit
}

// thousands reads on after "v thousand", with thousand at k.
func (p *parser) thousands(v int64, k int, joinAnd bool) (int64, int) {
	v, k = v*1000, k+1
	if !p.near(k) { // "one thousand, two hundred" has a comma in print
		return v, k
	}
	if c, e, _, ok := p.chunk(k); ok && p.class(e) == cHundred && p.joined(e) && c < 10 {
		h, e2 := p.hundreds(c, e, joinAnd)
		return v + h, e2
	}
	if r, e, ok := p.andRest(k, joinAnd); ok {
		return v + r, e
	}
	return v, k
}

// hundreds reads on after "v hundred", with hundred at k.
func (p *parser) hundreds(v int64, k int, joinAnd bool) (int64, int) {
	v, k = v*100, k+1
	if r, e, ok := p.andRest(k, joinAnd); ok {
		return v + r, e
	}
	return v, k
}

// andRest reads the part below 100 after a hundred or thousand, with its "and".
func (p *parser) andRest(k int, joinAnd bool) (v int64, end int, ok bool) {
	and := p.class(k) == cAnd && p.near(k)
	switch {
	case and && !joinAnd:
		return 0, k, false
	case and:
		k++
	}
	c := p.class(k)
	// A pause after "hundred" does not end the number: "one hundred ... twenty".
	slow := (c == cTens || c == cTeen) && p.class(k-1) == cHundred
	if !p.joined(k) && !(slow && p.near(k)) {
		return 0, k, false
	}
	if c == cInt && !and && p.class(k-1) == cInt {
		return 0, k, false // "100 20" is two figures
	}
	v, end, two, ok := p.chunk(k)
	if !ok {
		return 0, k, false
	}
	if p.joined(end) {
		// "one hundred one twenty", "one hundred two hundred": another number.
		n := p.class(end)
		if n == cHundred || !two && (n == cTens || n == cTeen || n == cOh) {
			return 0, k, false
		}
		// "a hundred and three quarters"; also a thirty-second of its own
		if n == cPart || n == cOrdinal {
			return 0, k, false
		}
		if _, _, ok := p.over32(end); ok && v < 32 {
			return 0, k, false
		}
	}
	return v, end, true
}

// digitFirst reads a number that begins with the digit v: one twenty, one oh
// five, one two five, or the digit alone.
func (p *parser) digitFirst(k int, v int64, end int) scalar {
	s := scalar{v: v, end: end, other: -1}
	if !p.joined(end) {
		return s
	}
	c, e, two, ok := p.chunk(end)
	if ok && two {
		// "one twenty one forty" is two numbers that both begin with one.
		if e == end+2 && p.class(end) == cTens && p.at(end+1).val == v && p.joined(e) &&
			(p.class(e) == cTens || p.class(e) == cTeen) {
			c, e = p.at(end).val, end+1
		}
		if n := p.class(e); p.joined(e) && (n == cHundred || n == cThousand) {
			return s // "four thirty hundred" is nothing; "one | twenty hundred"
		}
		s.v, s.end = v*100+c, e
		return s
	}
	if _, _, ok := p.over32(end); ok {
		return s
	}
	digits := [4]int64{v}
	n := 1
	for n < 4 && p.joined(end) {
		d, ok := p.digit(end)
		if !ok {
			break
		}
		if _, _, over := p.over32(end + 1); over && p.joined(end+1) && d > 0 {
			break // the digit is the numerator of a fraction
		}
		if nx := p.class(end + 1); p.joined(end+1) && (nx == cHundred || nx == cThousand || nx == cPart || nx == cPoint || nx == cTens || nx == cTeen) {
			break // it begins another number
		}
		digits[n] = d
		n++
		end++
	}
	if n == 1 || n == 2 && p.class(s.end) == cOh {
		return s
	}
	last := digits[n-1]
	counting := true // "one two three" may be someone who counts
	run := int64(0)  // how far the last digits count from one: "three, one two three"
	same := true     // "four four" may be a stutter
	var all int64
	for i, d := range digits[:n] {
		all = all*10 + d
		counting = counting && (i == 0 || d == digits[i-1]+1)
		same = same && d == v
		if d == run+1 {
			run = d
		} else if run = 0; d == 1 {
			run = 1
		}
	}
	s.v, s.end = all, end
	if n == 2 || counting || same || run >= 3 {
		s.other = last
	}
	return s
}

// pair reads a number that begins with the two-digit v: nineteen fifty,
// nineteen oh five, or v alone.
func (p *parser) pair(k int, v int64, end int) scalar {
	s := scalar{v: v, end: end, other: -1}
	if !p.joined(end) {
		return s
	}
	figures := p.class(k) == cInt
	if (p.class(end) == cOh || p.class(end) == cZero) && !figures && v < 30 {
		if d, ok := p.digit(end + 1); ok && d > 0 && p.joined(end+1) {
			s.v, s.end = v*100+d, end+2
		}
		return s
	}
	c, e, two, ok := p.chunk(end)
	if !ok || !two {
		return s
	}
	if n := p.class(e); p.joined(e) && (n == cHundred || n == cThousand || n == cPart) {
		return s
	}
	if _, _, over := p.over32(e); over && p.joined(e) && c < 32 {
		return s
	}
	switch {
	case c > v:
		s.v, s.end, s.lo, s.hi = v*100+c, e, v, c
	case !figures && v < 30: // a year or an engine speed; "sixty fifty five" is two numbers
		s.v, s.end = v*100+c, e
	}
	return s
}

// part reads a fraction at k: 4/32, three quarters, an eighth, half, 3 16ths.
// bare reports a half or quarter without a numerator.
func (p *parser) part(k int) (f frac, end int, bare, ok bool) {
	it := p.at(k)
	switch {
	case it.class == cFraction:
		if n := p.at(k + 1); it.den == 30 && n.unit == Second && p.joined(k+1) {
			return frac{}, k, false, false // over32 reads it
		}
		return frac{it.val, it.den}, k + 1, false, true
	case it.class == cPart && (it.val == 2 || it.val == 4) && it.flags&fPlural == 0 && it.text != "fourth":
		return frac{1, it.val}, k + 1, true, true
	case (it.class == cPart || it.class == cOrdinal && (it.val == 8 || it.val == 16)) && it.flags&fPlural == 0 && p.class(k-1) == cNone && p.text(k+1) == "of" && p.inchAfter(k+1):
		return frac{1, it.val}, k + 1, true, true // "eighth of an inch"
	case it.class == cOrdinal && it.flags&fPlural != 0 || it.class == cOrdinal && p.inchAfter(k+1):
		// Numerator and denominator run together: 316ths.
		if n, d, ok := splitOrdinal(it.text); ok {
			return frac{n, d}, k + 1, false, true
		}
	}
	var n int64
	e := k + 1
	switch it.class {
	case cArticle:
		n = 1
	default:
		var ok bool
		if n, e, _, ok = p.chunk(k); !ok {
			return frac{}, k, false, false
		}
	}
	if !p.joined(e) {
		return frac{}, k, false, false
	}
	d := p.at(e)
	den := d.val
	switch {
	case d.class == cPart:
	case d.class == cOrdinal && (den == 8 || den == 16 || den == 4 || den == 64 || den == 10 || den == 3):
	default:
		return frac{}, k, false, false
	}
	after := e + 1
	if d.text == "fourth" || d.text == "fourths" {
		if tens := p.at(e - 1); tens.class == cTens && tens.val == 60 { // sixty fourths
			return frac{}, k, false, false
		}
	}
	if d.flags&fPlural != 0 {
		return frac{n, den}, after, false, true
	}
	if p.is(after, fNotPart) && p.joined(after) {
		return frac{}, k, false, false // a fifth wheel
	}
	if p.class(e-1) == cTens {
		return frac{}, k, false, false // twenty eighth
	}
	switch den {
	case 2, 4, 8, 16, 64:
		if d.text == "fourth" && n == 1 && !p.partOf(after) {
			return frac{}, k, false, false
		}
		return frac{n, den}, after, false, true
	}
	if n == 1 && p.partOf(after) {
		return frac{n, den}, after, false, true
	}
	return frac{}, k, false, false
}

// partOf reports whether what follows shows that an ordinal was a fraction.
func (p *parser) partOf(k int) bool {
	if !p.near(k) {
		return false
	}
	switch t := p.text(k); {
	case t == "of" || t == "tank" || t == "gone" || t == "missing" || p.at(k).unit == Inch:
		return true
	case t == "or": // "one fourth or more"
		return p.is(k+1, fMore|fLess)
	}
	return false
}

func (p *parser) inchAfter(k int) bool {
	if !p.near(k) {
		return false
	}
	return p.at(k).unit == Inch || p.text(k) == "of" && p.near(k+1) && (p.at(k+1).unit == Inch || p.class(k+1) == cArticle && p.at(k+2).unit == Inch)
}

// splitOrdinal parts 316ths into 3 and 16, 432nds into 4 and 32.
func splitOrdinal(s string) (n, d int64, ok bool) {
	_, k := digitsAt(s, 0)
	for _, den := range [...]string{"32", "16", "64", "8"} {
		cut := k - len(den)
		if cut < 1 || cut > 2 || s[cut:k] != den {
			continue
		}
		n, _ = digitsAt(s[:cut], 0)
		d, _ = digitsAt(den, 0)
		if n > 0 && n < d {
			return n, d, true
		}
	}
	return 0, 0, false
}

// general reads any number at k but those over 32: whole, decimal, fraction or
// mixed.
func (p *parser) general(k int, joinAnd bool) (m number, ok bool) {
	m.first = k
	it := p.at(k)
	if f, e, bare, ok := p.part(k); ok {
		m.end, m.bare = e, bare
		m.value(f, NoUnit)
		return m, true
	}
	switch it.class {
	case cDecimal:
		m.end = k + 1
		m.value(frac{it.val, it.den}, NoUnit)
		return m, true
	case cPoint:
		if k > 0 && p.w[k-1].brk == NoBreak && (p.is(k-1, fPronounOf) || p.class(k-1) == cArticle) {
			return m, false // "at this point five ..."
		}
		if f, e, ok := p.decimals(k+1, 0); ok {
			m.end = e
			m.value(f, NoUnit)
			return m, true
		}
		return m, false
	case cCouple:
		m.end, m.weak = k+1, true
		if p.text(k+1) == "of" && p.joined(k+1) {
			m.end++
		}
		m.value(whole(2), NoUnit)
		return m, true
	case cOften:
		m.end, m.weak = k+1, true
		v := int64(1)
		if it.text == "twice" {
			v = 2
		} else if !p.onceCounts(k) {
			return m, false
		}
		m.value(whole(v), NoUnit)
		m.closed = true
		return m, true
	}
	s, ok := p.scalar(k, joinAnd)
	if !ok {
		return m, false
	}
	m.end = s.end
	e := s.end
	if p.joined(e) {
		switch {
		case p.class(e) == cPoint:
			if f, e2, ok := p.decimals(e+1, s.v); ok {
				m.end = e2
				m.value(f, NoUnit)
				return m, true
			}
		case p.class(e) == cFraction || p.class(e) == cDash && p.class(e+1) == cFraction:
			if p.class(e) == cDash {
				e++
			}
			// "axle 2 4/32" is no mixed number
			if f, e2, _, ok := p.part(e); ok && f.n < f.d && (f.d != 32 || p.at(e2).unit == Inch) && s.v < 100 {
				m.end = e2
				m.value(whole(s.v).add(f), NoUnit)
				return m, true
			}
		case p.text(e) == "over" && s.v < 100:
			if d, ok := p.scalar(e+1, false); ok && p.joined(e+1) && d.v > s.v && d.v <= 100 && p.at(d.end).unit != PSI {
				m.end = d.end
				m.value(frac{s.v, d.v}, NoUnit)
				return m, true
			}
		}
	}
	if f, e2, ok := p.andPart(e); ok && joinAnd {
		m.end = e2
		m.value(whole(s.v).add(f), NoUnit)
		return m, true
	}
	v := whole(s.v)
	u := p.at(s.end).unit
	if s.hi > 0 && (p.class(k) == cInt || u != NoUnit && u != RPM) {
		m.add(whole(s.lo), whole(s.hi), NoUnit)
		m.value(v, NoUnit)
	} else {
		m.value(v, NoUnit)
		if s.hi > 0 {
			m.add(whole(s.lo), whole(s.hi), NoUnit)
		}
	}
	if s.other >= 0 {
		m.value(whole(s.other), NoUnit)
	}
	return m, true
}

// andPart reads "and a half" at k.
func (p *parser) andPart(k int) (f frac, end int, ok bool) {
	if p.class(k) != cAnd || !p.near(k) || !p.joined(k+1) {
		return frac{}, k, false
	}
	f, end, bare, ok := p.part(k + 1)
	if bare && p.text(k+1) == "half" && p.at(end).unit != NoUnit {
		bare = false // two and half inches
	}
	if !ok || bare || f.n >= f.d || p.is(end, fTank) {
		return frac{}, k, false
	}
	return f, end, true
}

// decimals reads the digits after "point", with v before it.
func (p *parser) decimals(k int, v int64) (f frac, end int, ok bool) {
	if !p.joined(k) || v >= 1e6 {
		return frac{}, k, false
	}
	n, d := int64(0), int64(1)
	for p.joined(k) && d < 1e4 {
		if c, e, two, ok := p.chunk(k); ok && two {
			n, d, k = n*100+c, d*100, e
			break
		}
		g, ok := p.digit(k)
		if !ok {
			break
		}
		n, d, k = n*10+g, d*10, k+1
	}
	if d == 1 || d > 1e4 {
		return frac{}, k, false
	}
	return frac{v*d + n, d}, k, true
}

// onceCounts reports whether "once" at k counts ("pump it once") and does not
// begin a clause ("once I get to 120").
func (p *parser) onceCounts(k int) bool {
	if p.text(k-1) == "at" {
		return false
	}
	return k+1 == len(p.w) || p.w[k].brk == StopBreak
}
