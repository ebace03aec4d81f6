package speech

// ofAnInch reads "of an inch", "of inch" or "inches" at k.
func (p *parser) ofAnInch(k int) (end int, ok bool) {
	if !p.near(k) {
		return k, false
	}
	e := k
	if p.text(e) == "of" {
		e++
		if p.class(e) == cArticle || p.text(e) == "one" {
			e++
		}
	}
	if p.at(e).unit == Inch {
		return e + 1, true
	}
	return k, false
}

// unit reads a unit at k. value times factor is in it; second is another unit
// that the word may mean, NoUnit if there is none.
func (p *parser) unit(k int) (u, second Unit, factor int64, end int, ok bool) {
	if !p.near(k) {
		return NoUnit, NoUnit, 1, k, false
	}
	for p.text(k) == "full" || p.text(k) == "more" || p.text(k) == "whole" || p.text(k) == "solid" || p.text(k) == "complete" {
		if p.at(k+1).unit == NoUnit || !p.joined(k+1) {
			break
		}
		k++
	}
	it := p.at(k)
	switch it.text {
	case "of": // of an inch
		if e, ok := p.ofAnInch(k); ok {
			return Inch, NoUnit, 1, e, true
		}
		return NoUnit, NoUnit, 1, k, false
	case "in": // 2in is a unit, "20 in the tank" is not
		if k > 0 && it.word == p.w[k-1].word {
			return Inch, NoUnit, 1, k + 1, true
		}
	case "v":
		return Volt, NoUnit, 1, k + 1, true
	case "a", "an": // half an inch
		if n, c := p.at(k+1), p.class(k-1); p.joined(k+1) && (c == cPart || c == cFraction) && n.unit != NoUnit {
			return p.unit(k + 1)
		}
	case "per":
		if p.text(k+1) == "cent" {
			return Percent, NoUnit, 1, k + 2, true
		}
	}
	if it.unit == NoUnit {
		return NoUnit, NoUnit, 1, k, false
	}
	end = k + 1
	per := func(what string) bool { // per minute, an hour, a square inch
		e := end
		if t := p.text(e); t != "per" && t != "a" && t != "an" {
			return false
		}
		e++
		if what == "inch" {
			if p.text(e) != "square" {
				return false
			}
			e++
		}
		if p.text(e) != what {
			return false
		}
		end = e + 1
		return true
	}
	ofAir := func() bool { // of air, of air pressure
		if p.text(end) != "of" || p.text(end+1) != "air" && p.text(end+1) != "pressure" {
			return false
		}
		if end += 2; p.text(end) == "pressure" {
			end++
		}
		return true
	}
	switch it.text {
	case "pounds", "pound", "lbs", "lb":
		switch {
		case per("inch"), ofAir():
			return PSI, NoUnit, 1, end, true
		case p.text(end) == "of" && p.text(end+1) == "torque":
			return NoUnit, NoUnit, 1, k, false
		}
		if d := p.context(k, end, fWeight, 0); d <= 6 && d < p.context(k, end, fPressure, 0) {
			return Pound, PSI, 1, end, true
		}
		return PSI, Pound, 1, end, true
	case "psi", "psig":
		ofAir()
	case "foot", "feet":
		switch p.text(end) {
		case "brake", "valve", "pedal", "on", "pounds", "pound", "lbs":
			return NoUnit, NoUnit, 1, k, false
		}
	case "mile", "miles":
		if !per("hour") {
			return NoUnit, NoUnit, 1, k, false
		}
	case "revolutions", "revs":
		per("minute")
	case "hour", "hours":
		return Minute, NoUnit, 60, end, true
	case "min": // 4 psi min
		if p.class(k-1) != cInt && it.word != p.w[k-1].word {
			return NoUnit, NoUnit, 1, k, false
		}
	}
	return it.unit, NoUnit, 1, end, true
}
