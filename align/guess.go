package align

import (
	"math"
	"slices"
)

// This file weighs what words may have been before a recognizer garbled them:
// sound alone finds as many parts that were left out as garbled ones.

// A guess is what words may have been before the recognizer garbled them, with
// what speaks for it and against it.
type guess struct {
	phrase      *phrase
	item        int32
	check       int // of the item, -1 for its name
	mention     int // of the part that the check is of
	first, last int // tokens [first:last)
	like        float32
	signs       signs
	chance      float32
}

// signs are the inputs of the model, in the order of its table.
type signs [numSigns]float32

const (
	signBias       = iota // 1
	signLike              // how like it sounds, 0 to 1
	signWeight            // how much sound the phrase has, 1 from eight consonants on
	signLikeWeight        // both multiplied
	signClear             // how far likeness is above clearLike, 1 for the very sounds
	signOdd               // share of the words that make no sense here
	signStrange           // share that are other words of the trade
	signOwn               // share of the phrase's meaning words that stand there
	signEveryday          // share that people say all day
	signDamage            // estimated word error rate times five
	signHabit             // share of the section's parts named, or of all checks found

	// Of a name.
	signFollows  // the part comes next on the list after the one named before
	signPrecedes // and right before the one named after
	signFits     // share of its checks that the words after speak of
	signUnfit    // share of these words that the part before has no check for
	signAgain    // share of these checks that were said of the part before already

	// Of a check.
	signFar      // from the part's name, in 20 tokens
	signDenied   // a defect after a denial
	signPlainBad // a defect without one
	signOthers   // share of the part's other checks found
	signSet      // share found of the same check of other parts
	signAt       // how sure the part was named
	numSigns
)

// chanceOf is the logistic model: how likely the guess is right.
func chanceOf(weights *signs, x *signs) float32 {
	z := 0.0
	for i, w := range weights {
		z += float64(w) * float64(x[i])
	}
	return float32(1 / (1 + math.Exp(-z)))
}

// makeSense looks every word up once, since many guesses look at each.
func (l *listening) makeSense() {
	l.senses = make([]sense, len(l.toks))
	known := make(map[string]sense, 512)
	for i, t := range l.toks {
		x, ok := known[t.Text]
		if !ok {
			x = l.m.finder.lex.sense(t.Text)
			known[t.Text] = x
		}
		l.senses[i] = x
	}
}

// wordSigns sets the signs of the words themselves: whether they make sense as
// they stand and what of the phrase is in them. Small words at either end are
// left off; it is false when nothing is left: small words were heard for what
// they are.
func (l *listening) wordSigns(g *guess, w *weakPhrase) bool {
	for g.first < g.last && l.senses[g.first].kind == senseSmall {
		g.first++
	}
	for g.first < g.last && l.senses[g.last-1].kind == senseSmall {
		g.last--
	}
	var n, odd, strange, everydays, own float32
	for _, t := range l.senses[g.first:g.last] {
		if t.kind == senseSmall {
			continue
		}
		n++
		switch t.kind {
		case senseOdd:
			odd++
		case senseEveryday:
			everydays++
		case senseTrade:
			if !slices.Contains(w.stems, t.stem) {
				strange++
			}
		}
	}
	if n == 0 {
		return false
	}
	for _, s := range w.stems {
		for _, t := range l.senses[g.first:g.last] {
			if t.stem == s {
				own++
				break
			}
		}
	}
	x := &g.signs
	x[signBias], x[signLike], x[signWeight], x[signDamage] = 1, g.like, min(float32(w.weight)/8/weightConsonant, 1), l.damage*5
	x[signLikeWeight], x[signClear] = x[signLike]*x[signWeight], max(0, g.like-clearLike)*5
	x[signOdd], x[signStrange], x[signEveryday], x[signOwn] = odd/n, strange/n, everydays/n, own/float32(max(1, len(w.stems)))
	return true
}

// Least chances.
const (
	leastKept  = 0.05 // below, a guess is forgotten at once
	leastName  = 0.5
	leastCheck = 0.6 // what a student left out is not to be read into the noise
)

// nameWeights and checkWeights are the tables of the model, as TestFit prints
// them: fitted on the open attempts damaged at 0 to 30% of their words.
var (
	nameWeights = signs{signBias: -8.93, signLike: 2.49, signWeight: -7.64, signLikeWeight: 10.89, signClear: 0.58, signOdd: 1.48, signStrange: 0.85, signOwn: 2.84, signEveryday: -0.40, signDamage: 0.52, signHabit: 0.66, signFollows: 1.52, signPrecedes: 1.39, signFits: 0.89, signUnfit: 1.46, signAgain: 0.94}

	checkWeights = signs{signBias: -8.25, signLike: 0.66, signWeight: -4.96, signLikeWeight: 7.64, signClear: 1.12, signOdd: 1.50, signStrange: 1.19, signOwn: 2.28, signEveryday: 0.18, signDamage: 0.58, signHabit: 2.54, signFar: -1.74, signDenied: 1.03, signPlainBad: -1.68, signOthers: 0.21, signSet: 1.06, signAt: 1.98}
)
