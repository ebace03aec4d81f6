package speech

// over32Form says how a denominator of 32 was written.
type over32Form uint8

const (
	formExact   over32Form = iota // 32nds, over thirty two: nothing else it can be
	formSeconds                   // thirty seconds, 30 seconds, thirty two seconds
	formBare                      // thirty two, 32, 30 2
)

// over32 reads a denominator of 32 at k as recognizers write it. "Thirty
// seconds" is both the fraction and a time.
func (p *parser) over32(k int) (end int, form over32Form, ok bool) {
	it := p.at(k)
	second := func(k int) bool {
		n := p.at(k)
		return p.joined(k) && (n.unit == Second || n.class == cOrdinal && n.val == 2 || n.text == "nd" || n.text == "nds")
	}
	switch {
	case it.class == cOrdinal && it.val == 32, it.class == cPlural && it.val == 32:
		return k + 1, formExact, true
	case it.class == cInt && it.val == 32:
		if second(k + 1) {
			return k + 2, formSeconds, true
		}
		return k + 1, formBare, true
	case (it.class == cTens || it.class == cInt) && it.val == 30:
		if second(k + 1) {
			return k + 2, formSeconds, true
		}
		if n := p.at(k + 1); p.joined(k+1) && n.val == 2 && (n.class == cDigit || n.class == cInt) {
			if second(k + 2) {
				return k + 3, formSeconds, true
			}
			return k + 2, formBare, true
		}
	case it.text == "over" && p.joined(k+1) && p.text(k+1) != "over":
		if e, _, ok := p.over32(k + 1); ok {
			return e, formExact, true
		}
	}
	return k, 0, false
}

// spelled32 is the value that the denominator at k has as a number: 30 or 32.
func (p *parser) spelled32(k int) int64 {
	it := p.at(k)
	if it.class != cTens && it.class != cInt {
		return 32
	}
	if n := p.at(k + 1); it.val == 30 && n.val == 2 && (n.class == cDigit || n.class == cInt) {
		return 32
	}
	return it.val
}

// treadNumber reads a tread depth at k in any of the ways a recognizer writes
// it. The readings as a number or a time come along, the likelier first by the
// words around.
func (p *parser) treadNumber(k int) (m number, ok bool) {
	m.first, m.thirty = k, true
	it := p.at(k)
	// Numerator and denominator in one figure.
	n, spell := int64(0), int64(0)
	form := formBare
	e := k + 1
	secondAfter := func(e int) bool {
		u := p.at(e)
		return p.joined(e) && (u.unit == Second || u.text == "nd" || u.text == "nds")
	}
	one := false // the whole is one figure
	switch it.class {
	case cFraction:
		switch {
		case it.den == 32:
			n, form = it.val, formExact
		case it.den == 30 && secondAfter(e):
			n, form = it.val, formExact
		default:
			return m, false
		}
		if secondAfter(e) {
			e++
		}
		one = true
	case cOrdinal, cPlural:
		v, d, ok := splitOrdinal(it.text)
		if !ok || d != 32 {
			return m, false
		}
		n, form, one = v, formExact, true
	case cInt:
		if v := it.val; v >= 130 && v < 2500 && (v%100 == 30 || v%100 == 32) {
			n, spell, one = v/100, v%100, true
		}
	case cClock:
		if it.den == 30 || it.den == 32 {
			n, spell, one = it.val, it.den, true
		}
	case cDecimal: // 4.32
		if cents := it.val % 100; it.den == 100 && it.val >= 100 && (cents == 30 || cents == 32) {
			n, spell, one = it.val/100, cents, true
		}
	}
	if one && spell != 0 {
		if secondAfter(e) {
			form = formSeconds
			e++
		} else if spell == 30 {
			return m, false
		}
	}
	dash := false
	homophone := false
	den := e
	if !one {
		switch {
		case it.flags&fHomophone != 0:
			n, homophone = it.val, true
		case it.class == cArticle:
			n = 1
		default:
			var ok bool
			if n, e, _, ok = p.chunk(k); !ok || n > 31 {
				return m, false
			}
			// "2" before "to 30 seconds" is not a numerator; "twenty two"
			// before "thirty seconds" is.
			if p.class(e) == cDash && p.joined(e) && p.joined(e+1) {
				e, dash = e+1, true
			}
		}
		den = e
		var ok bool
		if e, form, ok = p.over32(den); !ok || !p.near(den) {
			return m, false
		}
		sameWord := p.at(den).word == it.word // "4,32"
		if !p.joined(den) && !sameWord && (form == formBare || p.context(k, e, fTread, fTreadWeak) >= p.context(k, e, fTime, fTimeWeak)) {
			return m, false
		}
		spell = p.spelled32(den)
	}
	if n < 1 {
		return m, false
	}
	inch := frac{n, 32}
	// What follows settles it: of an inch, or a unit that is none of a length.
	if e2, ok := p.ofAnInch(e); ok {
		m.end, m.closed = e2, true
		m.value(inch, Inch)
		return m, true
	}
	m.end = e
	if form == formExact {
		if it.class == cArticle && !p.joined(den) {
			return m, false
		}
		m.closed = true
		m.value(inch, Inch)
		return m, true
	}
	if it.class == cArticle {
		return m, false // a thirty second hold
	}
	tread, hold := p.context(k, e, fTread, fTreadWeak), p.context(k, e, fTime, fTimeWeak)
	joint := whole(n*100 + spell)
	if it.class == cDecimal {
		joint = frac{it.val, it.den}
	}
	if form == formSeconds {
		singular := p.text(e-1) == "second" || p.text(e-1) == "sec"
		m.closed = true
		if homophone {
			m.first = den
			m.value(whole(spell), Second)
			m.value(frac{spell, 60}, Minute)
			m.value(inch, Inch)
			if tread < hold {
				m.first = k
				m.front(Inch)
			}
			return m, true
		}
		m.value(inch, Inch)
		m.value(joint, Second)
		if !one || it.class == cClock {
			m.value(whole(n*60+spell), Second)
		}
		// "one thirty second hold"; "four 30 seconds" may be "for 30 seconds"
		alone := singular && n == 1 || !one && (n == 4 || n == 2)
		if alone {
			m.value(whole(spell), Second)
		}
		if n >= 10 && n < spell && !one {
			m.add(whole(n), whole(spell), Second)
		}
		if hold < tread && hold <= 6 {
			m.front(Second)
			if alone {
				m.frontValue(whole(spell), Second)
			}
		}
		return m, true
	}
	// No word for the denominator: mostly a plain number.
	if u := p.at(e).unit; u != NoUnit && p.near(e) && u != Inch && p.text(e) != "second" {
		return m, false
	}
	if n := p.class(e); p.joined(e) && (n == cHundred || n == cThousand || n == cPart || n == cPoint) {
		return m, false
	}
	if homophone {
		if tread >= hold || tread > 8 {
			return m, false
		}
		m.first = den
		m.value(whole(spell), NoUnit)
		m.value(inch, Inch)
		m.closed = true
		return m, true
	}
	if n > 12 && it.class != cClock {
		return m, false
	}
	m.closed = true
	if it.class == cClock {
		m.value(inch, Inch)
		m.value(whole(n*60+spell), Second)
		if hold < tread {
			m.front(Second)
		}
		return m, true
	}
	if dash {
		m.value(inch, Inch)
		m.add(whole(n), whole(spell), NoUnit)
		return m, true
	}
	m.value(joint, NoUnit)
	m.value(inch, Inch)
	air := p.context(k, e, fPressure, 0)
	if tread < air || n > 1 && tread == air {
		m.front(Inch)
	}
	return m, true
}

// far is the distance of a context that is not there.
const far = 99

// context is the distance in items from [first:end) to the nearest word with
// flag strong; a word with flag weak counts as four further, and a sentence
// between as three. It looks 12 items each way.
func (p *parser) context(first, end int, strong, weak flag) int {
	best := far
	look := func(k, d int) {
		switch {
		case p.is(k, strong):
			best = min(best, d)
		case p.is(k, weak):
			best = min(best, d+4)
		}
	}
	d := 1
	for k := first - 1; k >= 0 && first-k <= 12; k-- {
		if p.w[k].brk == StopBreak {
			d += 3
		}
		look(k, d)
		d++
	}
	d = 1
	for k := end; k < len(p.w) && k-end < 12; k++ {
		if k > 0 && p.w[k-1].brk == StopBreak {
			d += 3
		}
		look(k, d)
		d++
	}
	return best
}
