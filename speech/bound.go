package speech

// lookBack is how many items before a number its bound words may lie.
const lookBack = 8

// bounds finds which way the measure m points and the items that say so. No
// word before item limit is looked at: it belongs to an earlier quantity.
func (p *parser) bounds(m *measure, limit int) (b Bound, first, end int) {
	limit = max(limit, m.first-lookBack)
	for k := m.first - 1; k >= limit; k-- {
		if p.w[k].brk == StopBreak {
			limit = k + 1
			break
		}
	}
	if m.isRange {
		return p.rangeBound(m, limit)
	}
	b, first = p.before(m, limit)
	after, end := p.after(m)
	switch {
	case after == Exact || b != Exact && b != About:
		// Words before the figure go first: "no more than 4 or less".
	case after == About:
		b = About
	default:
		b = after
		takenBack := first == limit+1 && limit > 0 && p.text(limit) == "no" && p.class(limit-1) != cNone // "three, no, four max"
		if n, ok := p.negated(first, limit, b, m); ok && !takenBack {
			b, first = opposite(b), n
		}
	}
	if b == Below || b == Above {
		if p.ruledOut(first, limit, end) {
			b = opposite(b)
		}
	}
	return b, first, end
}

// opposite is what a negation makes of a bound.
func opposite(b Bound) Bound {
	switch b {
	case Above:
		return AtMost
	case Below:
		return AtLeast
	case AtLeast:
		return Below
	case AtMost:
		return Above
	}
	return b
}

// rangeBound takes in the words before a range: from, between, anywhere.
func (p *parser) rangeBound(m *measure, limit int) (b Bound, first, end int) {
	first = m.first
	for first > limit {
		t := p.text(first - 1)
		if t != "from" && t != "between" && t != "anywhere" && t != "somewhere" && t != "within" && !p.is(first-1, fAbout) {
			break
		}
		first--
	}
	return Between, first, m.end
}

// before reads the bound words ahead of m: right before it, or further back
// where the words between allow it.
func (p *parser) before(m *measure, limit int) (Bound, int) {
	k := m.first // items [limit:k) are still to be read
	about := false
	for k > limit && p.is(k-1, fSoft|fAbout) && !p.is(k-1, fAbove|fBelow|fNegation) {
		about = about || p.is(k-1, fAbout)
		k--
	}
	first := m.first
	if about {
		first = k
		for first < m.first && !p.is(first, fAbout) {
			first++
		}
	}
	b, start, ok := p.phrase(k, limit, m)
	if !ok {
		b, start, ok = p.distant(k, limit, m)
	}
	switch {
	case !ok && about:
		return About, first
	case !ok:
		return Exact, m.first
	case b == Exact: // "exactly 4", or a reading: "up to 120"
		return b, start
	}
	if b == Below || b == Above {
		if start > limit && start == k-1 && nearly[p.text(start-1)] {
			return About, start - 1 // "just under seventy"
		}
		if k, ok := p.beforeIt(start, limit); ok {
			if b == Above {
				return AtMost, k
			}
			return Before, k
		}
		if n, ok := p.negated(start, limit, b, m); ok {
			if p.text(start) == "later" {
				return Before, n
			}
			return opposite(b), n
		}
	}
	return b, start
}

// nearly are words that make a bound a reading: "just under seventy".
var nearly = map[string]bool{"just": true, "little": true, "hair": true, "bit": true, "tad": true, "slightly": true, "barely": true, "right": true}

// phrase reads a bound phrase that ends right before item k.
func (p *parser) phrase(k, limit int, m *measure) (b Bound, start int, ok bool) {
	if k <= limit {
		return Exact, k, false
	}
	t := p.text
	in := func(n int) bool { return k-n >= limit } // n items back are there
	last := p.at(k - 1)
	switch last.text {
	case "than", "then": // recognizers write one for the other
		for n := 2; n <= 5 && in(n); n++ { // no greater pressure loss than
			if b, start, ok := p.comparison(k-n, limit); ok {
				return b, start, true
			}
			if last.text == "then" || !p.is(k-n, fPressure|fTread|fMeasured) {
				break
			}
		}
		return Exact, k, false
	case "less", "more", "lower", "greater", "higher": // "no less 4/32", a lost "than"
		if in(2) && (t(k-2) == "no" || t(k-2) == "not" || t(k-2) == "any") {
			return p.comparison(k-1, limit)
		}
	case "to":
		switch {
		case in(2) && t(k-2) == "up":
			if in(3) && p.is(k-3, fRise) {
				return Exact, k, false // pumped up to 120: a reading
			}
			return AtMost, k - 2, true
		case in(3) && t(k-2) == "equal" && t(k-3) == "or":
			if in(5) && t(k-4) == "than" {
				switch {
				case p.is(k-5, fMore):
					return AtLeast, k - 5, true
				case p.is(k-5, fLess):
					return AtMost, k - 5, true
				}
			}
		case in(2) && t(k-2) == "equal":
			return Exact, k - 2, true
		}
		return Exact, k, false
	case "least", "lease", "lest", "most", "maximum", "max", "minimum", "min":
		b = AtLeast
		if last.text == "most" || last.flags&fMaximum != 0 {
			b = AtMost
		}
		start = k - 1
		for start > limit && (t(start-1) == "the" || t(start-1) == "very" || t(start-1) == "a" || t(start-1) == "absolute") {
			start--
		}
		switch {
		case start > limit && t(start-1) == "at":
			return b, start - 1, true
		case last.text[0] == 'l' || last.text == "most":
			return Exact, k, false
		}
		if p.endsPrevious(k-1, limit) {
			return Exact, k, false
		}
		return b, k - 1, true
	case "exactly", "precisely":
		return Exact, k - 1, true
	case "within":
		return AtMost, k - 1, true
	case "of":
		if in(2) && t(k-2) == "inside" {
			return AtMost, k - 2, true
		}
		if in(3) && t(k-3) == "in" && t(k-2) == "excess" {
			return Above, k - 3, true
		}
	case "as":
		if in(3) && t(k-3) == "as" {
			switch t(k - 2) {
			case "much", "many", "high":
				return AtMost, k - 3, true
			case "little", "low", "few":
				return AtLeast, k - 3, true
			}
		}
	case "by":
		return p.by(k-1, limit, m)
	case "atleast":
		return AtLeast, k - 1, true
	case "before":
		if in(3) && t(k-2) == "or" && (t(k-3) == "at" || t(k-3) == "on") {
			return Before, k - 3, true
		}
		return Before, k - 1, true
	}
	if last.flags&(fAbove|fBelow) != 0 {
		b = Above
		if last.flags&fBelow != 0 {
			b = Below
		}
		start = k - 1
		if in(3) && t(k-2) == "or" && (t(k-3) == "at" || t(k-3) == "on") {
			return orEqual(b), k - 3, true
		}
		return b, start, true
	}
	if last.text == "at" && in(3) && t(k-2) == "or" && p.is(k-3, fAbove|fBelow) { // above or at
		b = AtLeast
		if p.is(k-3, fBelow) {
			b = AtMost
		}
		return b, k - 3, true
	}
	return Exact, k, false
}

func orEqual(b Bound) Bound {
	if b == Below {
		return AtMost
	}
	return AtLeast
}

// comparison reads "more", "less" and the like at k, before "than".
func (p *parser) comparison(k, limit int) (b Bound, start int, ok bool) {
	it := p.at(k)
	switch {
	case it.flags&fMore != 0:
		b = Above
	case it.flags&fLess != 0:
		b = Below
	default:
		return Exact, k, false
	}
	// "equal to or less than"
	if k-3 >= limit && p.text(k-1) == "or" && p.text(k-2) == "to" && p.text(k-3) == "equal" {
		return orEqual(b), k - 3, true
	}
	if k-2 >= limit && p.text(k-1) == "or" && p.text(k-2) == "at" {
		return orEqual(b), k - 2, true
	}
	return b, k, true
}

// by reads "by" at k: "on by 55" is Before, "drops by 4" is an amount.
func (p *parser) by(k, limit int, m *measure) (Bound, int, bool) {
	for n := 1; n <= 3 && k-n >= limit; n++ {
		if p.is(k-n, fChange) {
			return Exact, k, false
		}
	}
	if k > 0 && p.class(k-1) != cNone {
		return Exact, k, false // 4 by 4
	}
	if u := m.cands[0].unit; u == PSI || u == NoUnit && !m.cands[0].lo.less(whole(10)) {
		return Before, k, true
	}
	return Exact, k, false
}

// endsPrevious reports whether "minimum" at k was said of the figure before it:
// "4/32 minimum 2/32 minimum".
func (p *parser) endsPrevious(k, limit int) bool {
	return k == limit && k > 0 && p.class(k-1) != cNone
}

// distant reads a bound that stands further back than right before item k:
// "before the pressure drops to 55", "the minimum on the steers is 4/32", "at
// least have 4/32".
func (p *parser) distant(k, limit int, m *measure) (b Bound, start int, ok bool) {
	links := p.is(k-1, fLinks) && k > limit
	fell := false
	only := true // nothing but words of pressure and tread so far: "maximum air loss 4"
	for j := k - 1; j >= limit; j-- {
		it := p.at(j)
		switch {
		case it.text == "before" || it.text == "to" && j > limit && p.text(j-1) == "prior":
			if fell {
				if it.text == "to" {
					j--
				}
				return Before, j, true
			}
			return Exact, k, false
		case it.text == "time" && fell && j-2 >= limit && p.text(j-1) == "the" && p.text(j-2) == "by":
			return Before, j - 2, true // by the time it reaches 55
		case it.flags&fMinimum != 0 && (links || only):
			return AtLeast, j, true
		case it.flags&fMaximum != 0 && (links || only):
			return AtMost, j, true
		case (it.text == "most" || it.text == "least") && j < k-1:
			b = AtLeast
			if it.text == "most" {
				b = AtMost
			}
			if j > limit && p.text(j-1) == "at" && k-j <= 5 {
				return b, j - 1, true
			}
			if j > limit && p.text(j-1) == "the" && links { // the most I can lose is 4
				return b, j - 1, true
			}
		case (it.text == "exceed" || it.text == "exceeds" || it.text == "exceeding") && k-j <= 4:
			if n, ok := p.negated(j, limit, Above, m); ok {
				return AtMost, n, true
			}
			return Above, j, true
		}
		fell = fell || it.flags&fFall != 0
		only = only && it.flags&(fPressure|fTread|fLength|fReach) != 0
	}
	return Exact, k, false
}

// beforeIt looks for the "before" of "before it drops below", with below at
// start.
func (p *parser) beforeIt(start, limit int) (int, bool) {
	for j := start - 1; j >= limit; j-- {
		switch p.text(j) {
		case "before":
			return j, true
		case "prior":
			if p.text(j+1) == "to" {
				return j, true
			}
		}
		if p.is(j, fNegation) {
			return 0, false
		}
	}
	return 0, false
}

// negated looks for the negation that turns the bound b whose words begin at
// start: next to it, or past words that only carry it ("should not lose any more
// than"). A clause of its own in between ("not leaking, it has more than") ends
// the search.
func (p *parser) negated(start, limit int, b Bound, m *measure) (first int, ok bool) {
	tread := false
	ofLoss := start > limit && p.text(start-1) == "of" || b == Above
	for j := start - 1; j >= limit; j-- {
		it := p.at(j)
		switch {
		case it.text == "no":
			// "no" turns what follows at once, or a loss: "no drop of more than 4".
			if j == start-1 || ofLoss && !tread && p.lossBetween(j+1, start, m.cands[0].unit == PSI) {
				return j, true
			}
			return 0, false
		case it.flags&fNegation != 0:
			return j, true
		case it.text == "leak" || it.text == "leaking" || it.text == "leaks" || it.text == "leaked":
			if tread || start-j > 3 {
				return 0, false
			}
		case it.flags&fReach == 0 && it.flags&(fAbove|fBelow) == 0 || it.brk >= CommaBreak && it.flags&fReach != 0 && j < start-1:
			return 0, false
		}
		tread = tread || it.flags&fTread != 0
	}
	return 0, false
}

// lossBetween reports whether items [a:b) name a loss, as in "no pressure drop
// of".
func (p *parser) lossBetween(a, b int, psi bool) bool {
	loss := false
	for ; a < b; a++ {
		switch p.text(a) {
		case "loss", "leak", "leakage", "drop", "decrease", "losing":
			loss = true
		case "leaks", "drops": // mostly a defect; before a pressure a loss
			if !psi {
				return false
			}
			loss = true
		case "air", "pressure", "of", "any", "rate":
		default:
			return false
		}
	}
	return loss
}

// ruledOut reports whether a strict bound names the values that are refused:
// "anything below 4/32 is out of service" asks for at least 4/32.
func (p *parser) ruledOut(first, limit, end int) bool {
	subject := false
	for j := first - 1; j >= max(limit, first-6) && !subject; j-- {
		switch p.text(j) {
		case "anything", "if", "once", "anywhere":
			subject = true
		}
	}
	if !subject {
		return false
	}
	for j := end; j < len(p.w) && j < end+8; j++ {
		if !p.near(j) {
			return false
		}
		if p.class(j) != cNone && p.class(j) != cAnd {
			if p.at(j+1).unit == Minute || p.at(j+1).unit == Second {
				continue // "in one minute" only says how long
			}
			if p.class(j) == cInt || p.class(j) == cFraction {
				return false
			}
		}
		negation := p.is(j-1, fNegation) || p.text(j-1) == "no"
		switch t := p.text(j); {
		case t == "legal":
			return negation
		case p.is(j, fReject):
			return !negation
		case t == "out" && p.text(j+1) == "of" && p.text(j+2) == "service":
			return true
		case negation && (t == "good" || t == "acceptable" || t == "safe" || t == "allowed" || t == "pass" || t == "okay" || t == "ok"):
			return true
		}
	}
	return false
}

// after reads the bound words behind m: "or less", "and up", "max", "at least".
func (p *parser) after(m *measure) (b Bound, end int) {
	k := m.end
	for n := 0; n < 4 && k < len(p.w); n++ {
		if !p.near(k) {
			return Exact, m.end
		}
		if b, e, ok := p.afterAt(k); ok {
			return b, e
		}
		if !p.is(k, fMeasured) {
			break
		}
		k++
	}
	return Exact, m.end
}

// opensClause reports whether a clause that comes to a figure of its own begins
// at k: "it can be is 4".
func (p *parser) opensClause(k int) bool {
	switch p.text(k) {
	case "it", "i", "you", "we", "they", "he", "she", "that", "this":
	default:
		return false
	}
	for e := k + 1; e < k+8 && p.near(e); e++ {
		if m, ok := p.measure(e); ok && !m.drop && !m.weak && p.class(e) != cArticle {
			return true
		}
	}
	return false
}

func (p *parser) afterAt(k int) (b Bound, end int, ok bool) {
	last := func(e int) bool { // no number follows that the words may belong to
		if p.near(e) {
			if p.text(e) == "of" { // "maximum of 4", but "or more of tread"
				e++
			}
			if _, ok := p.measure(e); ok && p.class(e) != cArticle {
				return false
			}
		}
		return true
	}
	switch t := p.text(k); t {
	case "or", "and":
		n := p.at(k + 1)
		e := k + 2
		if t == "or" {
			switch n.text {
			case "so":
				return About, e, true
			case "before", "sooner", "earlier":
				return Before, e, last(e)
			}
		}
		if t == "or" && n.text == "better" {
			return AtLeast, e, true
		}
		if p.text(e) == "than" { // 4 or less than that
			if p.text(e+1) != "that" {
				return Exact, k, false
			}
			e += 2
		}
		if n.text == "up" && t == "and" {
			return AtLeast, e, true
		}
		switch {
		case n.flags&fMore != 0 && n.text != "wider" && last(e):
			if t == "and" && n.text == "further" {
				return Exact, k, false
			}
			return AtLeast, e, true
		case n.flags&fLess != 0 && last(e):
			return AtMost, e, true
		}
	case "max", "maximum", "tops", "min", "minimum":
		b = AtLeast
		if p.is(k, fMaximum) {
			b = AtMost
		}
		e := k + 1
		if t := p.text(e); p.near(e) && (t == "of" || t == "is") {
			return Exact, k, false
		}
		if p.near(e) {
			// "4/32 minimum 2/32": of the first if the second has its own.
			if n, ok := p.measure(e); ok && !p.is(n.end, fMinimum|fMaximum) && !n.drop {
				return Exact, k, false
			}
		}
		return b, e, true
	case "at":
		e := k + 1
		for p.text(e) == "the" || p.text(e) == "very" || p.text(e) == "a" {
			if e++; e > k+3 {
				return Exact, k, false
			}
		}
		switch {
		case p.text(e) == "least" || p.is(e, fMinimum):
			b = AtLeast
		case p.text(e) == "most" || p.is(e, fMaximum):
			b = AtMost
		default:
			return Exact, k, false
		}
		return b, e + 1, last(e + 1)
	case "is", "being", "as", "would", "that's", "the", "was":
		// 4/32 is the minimum
		e := k
		for n := 0; n < 4; n++ {
			switch p.text(e) {
			case "is", "being", "as", "would", "be", "that's", "the", "my", "a", "our", "your", "was", "absolute":
				e++
				continue
			}
			break
		}
		switch {
		case e == k:
			return Exact, k, false
		case p.is(e, fMinimum):
			b = AtLeast
		case p.is(e, fMaximum) || p.text(e) == "most" && p.text(e-1) == "the":
			b = AtMost
		default:
			return Exact, k, false
		}
		// "... is the maximum loss": still said of this figure unless one follows,
		// also at the end of a clause: "in a minute, the most it can be is 4".
		if p.text(e) == "most" && p.opensClause(e+1) {
			return Exact, k, false
		}
		return b, e + 1, last(e + 1)
	case "ish":
		return About, k + 1, true
	case "give":
		if p.text(k+1) == "or" && p.text(k+2) == "take" {
			return About, k + 3, true
		}
	case "plus":
		if p.text(k+1) == "or" && p.text(k+2) == "minus" {
			if m, ok := p.measure(k + 3); ok {
				return About, m.end, true
			}
			return About, k + 3, true
		}
		return AtLeast, k + 1, last(k + 1)
	}
	return Exact, k, false
}
