package speech

import "strings"

// class is what a token can be in a spoken number.
type class uint8

const (
	cNone     class = iota
	cDigit          // one to nine
	cZero           // zero
	cOh             // "oh" between digits
	cTeen           // ten to nineteen
	cTens           // twenty, thirty ... ninety
	cHundred        // hundred
	cThousand       // thousand
	cPart           // half, quarters, eighths: val is the denominator
	cPoint          // point
	cArticle        // a, an
	cAnd            // and
	cDash           // the dash between figures
	cCouple         // couple
	cOften          // once, twice
	cInt            // 120
	cDecimal        // 3.5
	cFraction       // 4/32
	cClock          // 4:32: val is 4, den is 32
	cOrdinal        // 32nd, 8ths
	cPlural         // 32s
)

// flag is what a token can be to the numbers near it.
type flag uint64

const (
	fPlural    flag = 1 << iota // a part in the plural: eighths
	fFiller                     // uh: passed over
	fHomophone                  // for, to: may be a number before a unit
	fTread                      // speaks of tread depth
	fTreadWeak                  // may speak of it
	fTime                       // speaks of holding and waiting
	fTimeWeak                   // may speak of it
	fPressure                   // speaks of air pressure
	fLength                     // speaks of a length: belt play, stroke
	fTank                       // speaks of a level
	fWeight                     // speaks of a weight
	fNegation                   // not, never, without
	fReach                      // may stand between a negation and the bound it turns
	fFall                       // drops, reaches: after "before"
	fChange                     // drops, up: "by" after it is an amount
	fRise                       // builds, pump: "up to" after it is a reading
	fAbout                      // about, roughly
	fSoft                       // may stand between a bound word and its number
	fMore                       // greater, higher: with "than", or after "or"
	fLess                       // less, lower
	fAbove                      // above, over, exceed
	fBelow                      // below, under
	fMinimum                    // minimum
	fMaximum                    // maximum
	fLinks                      // is, of: between "minimum" and its number
	fMeasured                   // of tread, of air: between a number and "or more"
	fCue                        // no, actually: takes back with nothing but fillers round it
	fStrongCue                  // sorry, correction: takes back over other words
	fGap                        // says nothing between a number and its correction
	fReject                     // illegal, fail: said of the values ruled out
	fPronounOf                  // this, each: "one" after it is a pronoun
	fPronounBy                  // of, is: "one" before it is a pronoun
	fLabel                      // step, axle: the number after it is a name
	fNotPart                    // wheel, axle: an ordinal before it is no fraction
)

type entry struct {
	class    class
	flags    flag
	val, den int64
	unit     Unit
}

// lexicon holds every word that numbers and their bounds are made of. It is
// grammar, not trade: what parts are called and which figures are right is a
// rubric's affair.
var lexicon = buildLexicon()

func buildLexicon() map[string]entry {
	m := make(map[string]entry, 700)
	each := func(words string, set func(e *entry)) {
		for w := range strings.FieldsSeq(words) {
			e := m[w]
			set(&e)
			m[w] = e
		}
	}
	count := func(c class, from, step int64, words string) {
		for w := range strings.FieldsSeq(words) {
			v := from
			each(strings.ReplaceAll(w, "|", " "), func(e *entry) { e.class, e.val = c, v })
			from += step
		}
	}
	count(cDigit, 1, 1, "one two|twos|two's three|threes four|fours five|fives six|sixes seven|sevens eight|eights nine|nines")
	count(cZero, 0, 1, "zero|zeros|nought")
	count(cOh, 0, 1, "oh|o")
	count(cTeen, 10, 1, "ten eleven twelve thirteen fourteen fifteen sixteen seventeen eighteen nineteen")
	count(cTens, 20, 10, "twenty thirty forty|fourty fifty sixty seventy eighty ninety|ninty")
	count(cHundred, 100, 1, "hundred|hundreds|buck") // a buck twenty
	count(cThousand, 1000, 1, "thousand")
	count(cPart, 2, 1, "half|halves third|thirds fourth|fourths fifth|fifths sixth|sixths seventh|sevenths eighth|eighths|eigth|eigths ninth|ninths tenth|tenths")
	count(cPart, 4, 1, "quarter|quarters")
	count(cPart, 16, 1, "sixteenth|sixteenths")
	count(cPart, 100, 1, "hundredth|hundredths")
	count(cPoint, 0, 1, "point")
	count(cArticle, 1, 1, "a|an")
	count(cAnd, 0, 1, "and")
	count(cDash, 0, 1, "-")
	count(cCouple, 2, 1, "couple")
	count(cOften, 1, 1, "once twice")
	each("halves thirds fourths fifths sixths sevenths eighths eigths ninths tenths quarters sixteenths hundredths", func(e *entry) { e.flags |= fPlural })

	homophone := func(v int64, words string) {
		each(words, func(e *entry) { e.flags |= fHomophone; e.val = v })
	}
	homophone(1, "won")
	homophone(2, "to too")
	homophone(4, "for fore")
	homophone(8, "ate")

	units := func(u Unit, words string) { each(words, func(e *entry) { e.unit = u }) }
	units(PSI, "psi psig pounds pound lbs lb")
	units(Inch, "inch inches")
	units(Foot, "foot feet ft")
	units(Degree, "degree degrees deg")
	units(Second, "second seconds sec secs seconds'")
	units(Minute, "minute minutes min mins hour hours")
	units(MPH, "mph mile miles")
	units(RPM, "rpm rpms revs revolutions")
	units(Percent, "percent")
	units(Volt, "volt volts")

	mark := func(f flag, words string) { each(words, func(e *entry) { e.flags |= f }) }
	mark(fFiller, "uh um er erm ah hmm mm uhm umm uhh")
	mark(fTread, "tread treads depth groove grooves rubber 32nds 32nd thirty-seconds wear-bars")
	mark(fTreadWeak, "tire tires tyre tyres steer steers steering inch inches duals dual sidewall axle axles")
	mark(fTime, "hold holding held holds wait waiting waited waits watch watching count counting timer time timing minute minutes pump listen")
	mark(fTimeWeak, "brake brakes pedal pressed press apply applied release released key engine leak leaking air psi pressure buzzer build bleed")
	mark(fPressure, "psi pressure air pounds governor cut gauge gauges tank tanks compressor leak loss lose")
	mark(fLength, "play slack belt belts stroke pushrod pushrods deflection lining linings pad pads lash give movement free tread treads depth groove grooves gap inch inches clearance thick thickness crack long wide")
	mark(fTank, "tank tanks fuel def full fluid level coolant reservoir oil diesel exhaust")
	mark(fWeight, "weight weigh weighs weighing gross capacity rated rating load heavy cargo ton tons gvwr extinguisher extinguishers")
	mark(fNegation, "not never without nothing cannot nor neither dont cant wont shouldnt isnt doesnt mustnt couldnt wouldnt aint arent hasnt havent wasnt didnt")
	mark(fReach, `be been being get gets getting go goes going gone lose loses losing lost loose loosing drop drops dropping dropped fall falls falling fallen
		exceed exceeds exceeding move moves moving read reads reading show shows showing measure measures measuring wear worn wearing decrease decreases decreasing come comes
		coming bleed bleeds bleeding have having had see seeing want let allow allowed supposed able permitted take use need of by at down to it them that any anything
		much even ever a an the my this your our pressure air tread depth loss rate leakage leakdown needle gauge tire tires steer steers either in on all really there
		off away out further back dip dips dipping sink reach reaching run rise rising turn turning play travel accept find stay remain ride more do doing i we you us me they
		supposed legally allowably possibly possible total any`)
	mark(fFall, "drop drops dropped dropping fall falls falling fell get gets getting got go goes going went reach reaches reached reaching hit hits hitting dip dips below under to at down lower")
	mark(fChange, "drop drops dropped dropping fall falls fell falling go goes went going gone down lose lost loses losing decrease decreased decreases increase increased up off change changed move moved moves leak leaked leaks")
	mark(fRise, "build builds built building get gets got getting go goes went going gone come comes came coming pump pumps pumped pumping bring brings brought bringing run runs ran running charge charges charged fill fills filled filling back way aired air pressure rise rises rose rising climb climbs climbed read reads reading warm it them that all")
	mark(fAbout, "about around approximately roughly approx nearly almost circa")
	mark(fSoft, "a an the like say maybe probably that my just right your our only somewhere anywhere something another total i believe think guess say somewhere's")
	mark(fMore, "more greater higher bigger deeper longer better farther further larger later faster thicker above over up wider")
	mark(fLess, "less lower fewer smaller shallower shorter slower thinner lesser under below earlier")
	mark(fAbove, "above over exceed exceeds exceeding past beyond exceeded")
	mark(fBelow, "below under beneath underneath")
	mark(fMinimum, "minimum min minimums")
	mark(fMaximum, "maximum max maximums tops")
	mark(fLinks, "is of be at are was would being it's minimum maximum max min to lose have drop been leak with for should must")
	mark(fMeasured, "of tread depth air pressure an inch left remaining loss play on it for a movement there")
	mark(fCue, "no nope wait actually rather")
	mark(fStrongCue, "sorry correction oops whoops")
	mark(fGap, "no nope wait actually rather sorry correction oops whoops i mean meant make that it it's its is uh um excuse me scratch let correct my bad should be was say said hold on or the and well oh one's i'm im that's thats not to second have has at take back wrong you know must needs need to before drops below of strike")
	mark(fReject, "bad fail fails failed failing failure illegal replace replaced replacing replacement unsafe defective unacceptable violation unserviceable legal")
	mark(fPronounOf, `this that the each every which another any no some other next last first second third same only whole big small good new old right left
		front rear back top bottom outside inside these those number what my your his her its our their either both single day long short upper lower red amber middle nice such yet spare driver's passenger`)
	mark(fPronounBy, `of is on by at in here there that which and or was has more another side to for with as over up down thing time way right just also too
		should will can looks the i it we they you this my end day again goes are be if but so needs does last single isn't hasn't doesn't i'm it's we're too
		than then when where because not a an same would could must might who after before while until from into onto all looking going coming`)
	mark(fLabel, "number numbers step axle item section part class type grade gear page route highway interstate exit chapter rule option phase schedule unit bay lane row position form figure group")
	mark(fNotPart, "wheel wheels axle axles gear gears step door")
	return m
}

// item is a token that is not a filler, with what the lexicon knows of it.
type item struct {
	entry
	text string
	tok  int // index of the token
	word int // index of its word
	brk  Break
}

// Limits on figures, so that sums of int64 stay exact. A longer figure (a
// telephone number, a plate) is no quantity.
const (
	maxIntDigits      = 7
	maxFractionDigits = 4
)

// items looks up all tokens and leaves the fillers out; a filler's break moves
// to the word before it.
func items(toks []Token) []item {
	out := make([]item, 0, len(toks))
	for i := range toks {
		t := &toks[i]
		e, known := lexicon[t.Text]
		if base, ok := strings.CutSuffix(t.Text, "'s"); ok && !known {
			// "four's the limit"; "one's loose" counts nothing
			if b, ok := lexicon[base]; ok && base != "one" && (b.class == cDigit || b.class == cTeen || b.class == cTens) {
				e, known = b, ok
			}
		}
		if e.flags&fFiller != 0 {
			if n := len(out); n > 0 {
				out[n-1].brk = max(out[n-1].brk, t.Break)
			}
			continue
		}
		switch {
		case known && e.class != cNone:
		case t.Text != "" && isDigit(t.Text[0]):
			figure(t.Text, &e)
		case strings.HasSuffix(t.Text, "n't"):
			e.flags |= fNegation
		}
		out = append(out, item{entry: e, text: t.Text, tok: i, word: t.Word, brk: t.Break})
	}
	return out
}

// figure reads a token that begins with a digit.
func figure(s string, e *entry) {
	n, k := digitsAt(s, 0)
	if k > maxIntDigits {
		return
	}
	rest := s[k:]
	switch {
	case rest == "":
		e.class, e.val = cInt, n
	case rest[0] == '.':
		m, j := digitsAt(s, k+1)
		if j == len(s) && j > k+1 && j-k-1 <= maxFractionDigits {
			e.class, e.den = cDecimal, 1
			for range j - k - 1 {
				e.den *= 10
			}
			e.val = n*e.den + m
		}
	case rest[0] == '/' || rest[0] == ':':
		m, j := digitsAt(s, k+1)
		if j != len(s) || j == k+1 || j-k-1 > maxFractionDigits || k > maxFractionDigits {
			return
		}
		switch {
		case rest[0] == ':':
			e.class, e.val, e.den = cClock, n, m
		case m > 0:
			e.class, e.val, e.den = cFraction, n, m
		}
	case rest == "s" || rest == "'s":
		e.class, e.val = cPlural, n
	case rest == "st" || rest == "nd" || rest == "rd" || rest == "th":
		e.class, e.val = cOrdinal, n
	case rest == "nds" || rest == "rds" || rest == "ths":
		e.class, e.val = cOrdinal, n
		e.flags |= fPlural
	}
}

// digitsAt reads the digits of s from k: their value (of the first sixteen;
// callers limit the count) and where they end.
func digitsAt(s string, k int) (v int64, end int) {
	for ; k < len(s) && isDigit(s[k]); k++ {
		if v < 1e15 {
			v = v*10 + int64(s[k]-'0')
		}
	}
	return v, k
}
