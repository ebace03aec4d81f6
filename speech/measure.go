package speech

// measure is a number with its unit, or a range of two.
type measure struct {
	number
	isRange bool
	drop    bool // a pronoun, a name or a part of a word: no quantity
}

// measure reads the quantity that begins at item k, without its bound.
func (p *parser) measure(k int) (m measure, ok bool) {
	if !p.starts(k) {
		return m, false
	}
	if p.afterBetween(k) {
		if m, ok := p.betweenAnd(k); ok {
			return m, true
		}
	}
	a, ok := p.withUnit(k, true)
	if !ok {
		return m, false
	}
	m.number = a
	if r, ok := p.rangeTo(a); ok {
		return measure{number: r, isRange: true}, true
	}
	p.timeParts(&m.number)
	m.drop = p.noQuantity(&m.number)
	return m, true
}

// afterBetween reports whether "between" stands before k, or before a soft word
// or two there: "between about 20 and 45".
func (p *parser) afterBetween(k int) bool {
	for n := 1; n <= 3; n++ {
		if p.text(k-n) == "between" {
			return true
		}
		if !p.is(k-n, fSoft|fAbout) {
			break
		}
	}
	return false
}

// starts reports whether a number can begin at k: most items end here.
func (p *parser) starts(k int) bool {
	it := p.at(k)
	return it.class != cNone && it.class != cAnd && it.class != cDash && it.class != cOh || it.flags&fHomophone != 0
}

// withUnit reads a number and its unit at k and settles the readings.
func (p *parser) withUnit(k int, joinAnd bool) (number, bool) {
	if m, ok := p.treadNumber(k); ok {
		if m.cands[0].unit == Second {
			m.inMinutes()
		}
		return m, true
	}
	it := p.at(k)
	switch {
	case it.flags&fHomophone != 0:
		return p.homophone(k)
	case it.class == cArticle && p.class(k+1) != cHundred && p.class(k+1) != cThousand:
		if m, ok := p.articleUnit(k); ok {
			return m, true
		}
	case it.class == cClock:
		m := number{first: k, end: k + 1, closed: true}
		if it.den > 59 {
			return m, false
		}
		m.value(whole(it.val*60+it.den), Second)
		if p.at(m.end).unit == Second || p.at(m.end).unit == Minute {
			m.end++
		}
		return m, true
	}
	m, ok := p.general(k, joinAnd)
	if !ok {
		return m, false
	}
	if p.ordinalAfter(m.end) {
		m.end++
		m.closed, m.ordinal = true, true
		return m, true
	}
	if m.closed {
		return m, true
	}
	return m, p.addUnit(&m)
}

// ordinalAfter reports whether the number that ends at k is the beginning of an
// ordinal: twenty | first, one hundred | fifth. "Thirty second" is left to be a
// time.
func (p *parser) ordinalAfter(k int) bool {
	switch p.class(k - 1) {
	case cTens, cHundred, cThousand, cAnd:
	default:
		return false
	}
	it := p.at(k)
	return p.joined(k) && (it.text == "first" || it.class == cPart && it.val > 2 && it.flags&fPlural == 0 && it.text != "quarter")
}

// addUnit reads the unit after a number. It reports false where the number is
// none without one: a bare "half".
func (p *parser) addUnit(m *number) bool {
	u, second, factor, end, ok := p.unit(m.end)
	if !ok {
		switch t := p.text(m.end); {
		case t == "times" && p.joined(m.end):
			m.end++
			m.closed = true
			return true
		case m.bare:
			return p.bareHalf(m)
		}
		p.impliedInch(m)
		return true
	}
	m.end, m.closed = end, true
	if f, e, ok := p.andPart(end); ok && p.at(e).unit == NoUnit && m.cands[0].lo.isInt() { // an inch and a half
		m.end, m.n = e, 1
		m.cands[0].lo = m.cands[0].lo.add(f)
		m.cands[0].hi = m.cands[0].lo
	}
	n := m.n
	for i := range m.cands[:n] {
		c := &m.cands[i]
		c.lo, c.hi, c.unit = c.lo.scale(factor), c.hi.scale(factor), u
	}
	if second != NoUnit {
		for _, c := range m.cands[:n] {
			m.add(c.lo, c.hi, second)
		}
	}
	m.inMinutes()
	return true
}

// inMinutes adds to a time the same in the other unit of time; seconds below 30
// are never spoken of as minutes.
func (m *number) inMinutes() {
	for _, c := range m.cands[:m.n] {
		switch c.unit {
		case Second:
			if !c.lo.less(whole(30)) {
				m.add(frac{c.lo.n, c.lo.d * 60}, frac{c.hi.n, c.hi.d * 60}, Minute)
			}
		case Minute:
			m.add(c.lo.scale(60), c.hi.scale(60), Second)
		}
	}
}

// impliedInch gives a fraction without a unit its reading as a length.
func (p *parser) impliedInch(m *number) {
	c := m.cands[0]
	if c.lo.isInt() || m.n != 1 {
		return
	}
	switch c.lo.d {
	case 2, 4, 8, 16, 32, 64:
	default:
		return
	}
	e := m.end
	if p.text(e) == "of" {
		e++
	}
	if p.class(e) == cArticle {
		e++
	}
	if p.text(e) == "tank" && p.near(m.end) {
		return
	}
	m.add(c.lo, c.hi, Inch)
	if c.lo.d >= 16 || p.context(m.first, m.end, fLength, 0) < p.context(m.first, m.end, fTank, 0) {
		m.front(Inch)
	}
}

// bareHalf accepts "half" without a numerator or unit where it is a fraction:
// half a tank, half to three quarters.
func (p *parser) bareHalf(m *number) bool {
	e := m.end
	t := p.text(e)
	if !p.joined(e) {
		return false
	}
	if t == "a" || t == "of" {
		if t == "of" && p.text(e+1) == "a" {
			e++
		}
		if p.text(e+1) == "tank" {
			m.closed = true
			return true
		}
		return false
	}
	if t == "tank" {
		m.closed = true
		return true
	}
	if t == "to" || t == "-" || p.text(m.first-1) == "between" {
		_, _, _, ok := p.part(e + 1)
		return ok
	}
	return false
}

// homophone reads a figure that was written as a word which sounds alike, right
// before a unit: "more than for psi". "for" and "to" are figures only after a
// bound word, or every "checked for pounds" would be one.
func (p *parser) homophone(k int) (m number, ok bool) {
	it := p.at(k)
	m = number{first: k, end: k + 1}
	u := p.at(k + 1)
	if u.unit == NoUnit || u.unit == Second || u.unit == Minute || !p.joined(k+1) || it.text == "won" && u.unit != PSI {
		return m, false
	}
	if it.text != "ate" && it.text != "won" {
		prev := p.at(k - 1)
		bound := prev.text == "than" || prev.text == "least" || prev.text == "most" || prev.flags&(fAbove|fBelow|fMaximum|fMinimum) != 0
		if !p.joined(k) || !bound || it.text == "to" && prev.flags&(fAbove|fBelow) != 0 && prev.flags&fSoft != 0 {
			return m, false
		}
	}
	m.value(whole(it.val), NoUnit)
	return m, p.addUnit(&m)
}

// articleUnit reads "an inch", "a minute", "a full minute". Other units after an
// article are mostly names ("a foot brake", "a second axle").
func (p *parser) articleUnit(k int) (m number, ok bool) {
	m = number{first: k, end: k + 1}
	if _, _, _, ok := p.part(k); ok {
		return m, false
	}
	e := k + 1
	for p.text(e) == "full" || p.text(e) == "whole" || p.text(e) == "solid" || p.text(e) == "complete" {
		e++
	}
	u := p.at(e)
	if !p.joined(k+1) || u.text != "inch" && u.text != "minute" && u.text != "hour" {
		return m, false
	}
	if prev := p.text(k - 1); u.text != "inch" && (prev == "just" || prev == "me" || prev == "on" || prev == "take" || prev == "miles" || prev == "times") {
		return m, false // just a minute, give me a minute
	}
	if p.text(e+1) == "ago" || p.text(e+1) == "later" {
		return m, false
	}
	m.value(whole(1), NoUnit)
	m.weak = p.text(k-1) == "in"
	return m, p.addUnit(&m)
}

// timeParts joins "two minutes and thirty seconds".
func (p *parser) timeParts(m *number) {
	if m.cands[0].unit != Minute || !p.near(m.end) {
		return
	}
	k := m.end
	if p.class(k) == cAnd {
		k++
	}
	if p.class(k) == cNone || !p.near(k) {
		return
	}
	s, ok := p.scalar(k, false)
	if !ok || s.v >= 60 || p.at(s.end).unit != Second || !p.joined(s.end) || p.is(k, fHomophone) {
		return
	}
	v := m.cands[0].lo.scale(60).add(whole(s.v))
	m.end, m.n = s.end+1, 0
	m.value(v, Second)
	m.value(frac{v.n, v.d * 60}, Minute)
}

// rangeTo reads the rest of a range after the number a: "20 to 45".
func (p *parser) rangeTo(a number) (number, bool) {
	k := a.end
	if a.ordinal {
		return a, false
	}
	if a.bare && !a.closed && p.class(k) == cNone && p.text(k) != "to" {
		return a, false
	}
	switch p.text(k) {
	case "to", "-", "through", "thru":
	case "up":
		if p.text(k+1) != "to" || !p.near(k) {
			return a, false
		}
		k++
	default:
		return a, false
	}
	if !p.near(k) || !p.near(k+1) {
		return a, false
	}
	k++
	if p.text(k) == "a" && p.class(k+1) != cHundred && p.class(k+1) != cPart || p.text(k) == "about" {
		k++
	}
	if p.is(k, fHomophone) {
		return a, false
	}
	b, ok := p.withUnit(k, true)
	if !ok {
		return a, false
	}
	return combine(a, b)
}

// betweenAnd reads "between 20 and 45" after "between". The numbers may hold an
// "and" of their own, so the first is read without one before it is tried with.
func (p *parser) betweenAnd(k int) (measure, bool) {
	var a, b number
	for _, joinAnd := range [...]bool{false, true} {
		a1, ok := p.withUnit(k, joinAnd)
		if !ok || p.class(a1.end) != cAnd && p.text(a1.end) != "or" || !p.near(a1.end) {
			continue
		}
		a = a1
		e := a.end + 1
		if p.is(e, fHomophone) {
			continue
		}
		if b, ok = p.withUnit(e, true); !ok {
			continue
		}
		if r, ok := combine(a, b); ok {
			return measure{number: r, isRange: true}, true
		}
	}
	if a.n > 0 && b.n > 0 && b.first >= a.end { // between 45 and 20
		if r, ok := combine(b, a); ok {
			r.first, r.end = a.first, b.end
			return measure{number: r, isRange: true}, true
		}
	}
	return measure{}, false
}

// combine makes the range a to b of the readings that fit: a has b's unit or
// none, and lies below it.
func combine(a, b number) (number, bool) {
	if a.ordinal || b.ordinal {
		return a, false
	}
	r := number{first: a.first, end: b.end, closed: true, thirty: b.thirty}
	for _, cb := range b.cands[:b.n] {
		for _, ca := range a.cands[:a.n] {
			lo := ca.lo
			switch {
			case ca.unit == cb.unit:
			case ca.unit == NoUnit && b.thirty && cb.unit == Inch && lo.isInt(): // two to four 32nds
				lo = frac{lo.n, lo.d * 32}
			case ca.unit == NoUnit && b.thirty && cb.unit == Second:
				continue
			case ca.unit == NoUnit:
			case cb.unit == NoUnit && !a.thirty: // 120 psi to 140
				r.pair(lo, cb.hi, ca.unit)
				continue
			default:
				continue
			}
			r.pair(lo, cb.hi, cb.unit)
		}
	}
	return r, r.n > 0
}

// pair adds the range from lo to hi if it is one.
func (m *number) pair(lo, hi frac, u Unit) {
	if lo.less(hi) {
		m.add(lo, hi, u)
	}
}

// noQuantity reports whether a number that was read is a pronoun, a name or a
// part of a word after all, and notes one that may be as weak.
func (p *parser) noQuantity(m *number) bool {
	next, prev := p.at(m.end), p.at(m.first-1)
	nextJoined, prevJoined := p.joined(m.end), p.joined(m.first)
	first := p.at(m.first)
	c := m.cands[0]
	if m.thirty {
		return false
	}
	if m.ordinal {
		return true
	}
	if c.unit == Second && c.lo.equal(whole(1)) && prevJoined {
		switch prev.text { // give me one second
		case "me", "just", "on", "for":
			return true
		}
	}
	if c.unit != NoUnit || !c.lo.isInt() {
		return false
	}
	if nextJoined {
		switch next.text {
		case "way", "ways", "wheeler", "wheelers", "o'clock", "am", "pm", "ply", "point":
			return true
		}
	}
	if m.closed {
		return false
	}
	single := m.end == m.first+1
	small := c.lo.less(whole(100))
	if small && prevJoined && prev.flags&fLabel != 0 && !(nextJoined && next.flags&(fMaximum|fMinimum) != 0) {
		return true
	}
	if c.lo.equal(whole(10)) && nextJoined && next.text == "four" || c.lo.equal(whole(4)) && prevJoined && prev.text == "ten" {
		return true // ten four: understood
	}
	if !single || !c.lo.equal(whole(1)) {
		return false
	}
	if first.text == "1" {
		return nextJoined && next.text == "of"
	}
	// The word "one" alone is mostly a pronoun.
	m.weak = true
	return prevJoined && prev.flags&fPronounOf != 0 || nextJoined && next.flags&fPronounBy != 0
}
