package align

import (
	"fmt"
	"maps"
	"math"
	"os"
	"slices"
	"strings"
	"testing"

	"markaround/align/damage"
	"markaround/rubric"
)

var clueNames = [numClues]string{"clueBias", "clueHeard", "clueSure", "clueDamage", "clueSection", "clueBetween", "clueOrphans", "clueUntold", "clueLate",
	"clueList", "clueAway", "clueBoth", "clueSound", "clueOmitted", "clueChecks", "clueNumber", "clueNear", "clueSpread", "clueExtra"}

// marked is one mark of the matcher with a person's.
type marked struct {
	attempt string
	mark    rubric.Mark
	clues   clues
	right   bool
}

// TestSure fits the tables of sure.go on the open attempts. It runs only when
// asked, with MARKAROUND_SURE set to the number of seeds a rate.
func TestSure(t *testing.T) {
	seeds := 0
	fmt.Sscan(os.Getenv("MARKAROUND_SURE"), &seeds)
	if seeds == 0 || os.Getenv("MARKAROUND_ASIDE") != "" {
		t.Skip("set MARKAROUND_SURE to the number of seeds")
	}
	texts, gold := corpus(t)
	with := matchers(t, gold)
	type key struct{ attempt, item string }
	marks := map[key]rubric.Mark{}
	for _, j := range gold.All() {
		marks[key{j.Attempt, j.Item}] = j.Mark
	}
	var all []marked
	for _, id := range slices.Sorted(maps.Keys(texts)) {
		for _, rate := range []float64{0, 0.05, 0.1, 0.2, 0.3} {
			for seed := range seeds {
				tr := texts[id]
				if rate > 0 {
					tr, _ = damage.Damage(tr, rate, uint64(seed)+31)
				}
				m := with(id)
				answers, l := m.hear(tr, Options{})
				items := m.rubric.Mark(answers, rubric.Marking{})
				for i, x := range l.clues(items, l.places(items), l.understood()) {
					if g, ok := marks[key{id, items[i].ID}]; ok {
						all = append(all, marked{id, items[i].Mark, x, g == items[i].Mark})
					}
				}
			}
		}
	}
	for _, mark := range []rubric.Mark{rubric.Said, rubric.Partly, rubric.Missed, rubric.Wrong} {
		var list []marked
		for _, x := range all {
			if x.mark == mark {
				list = append(list, x)
			}
		}
		w := fitMarks(list)
		out := ""
		for i, v := range w {
			if math.Abs(float64(v)) >= 0.005 {
				out += fmt.Sprintf("%s: %.2f, ", clueNames[i], v)
			}
		}
		right := 0
		for _, x := range list {
			if x.right {
				right++
			}
		}
		t.Logf("%s: %d of %d right, log loss %.3f of %.3f, on attempts not fitted on %.3f", mark, right, len(list), loss(list, w), loss(list, base(right, len(list))), crossLoss(list))
		t.Logf("rubric.%s%s: {%s},", strings.ToUpper(string(mark[:1])), mark[1:], strings.TrimSuffix(out, ", "))
	}
}

func fitMarks(list []marked) clues {
	xs, ys := make([][]float32, len(list)), make([]bool, len(list))
	for i := range list {
		xs[i], ys[i] = list[i].clues[:], list[i].right
	}
	var out clues
	copy(out[:], logistic(xs, ys, numClues))
	return out
}

// base is the model that knows the share of right marks only.
func base(right, n int) (w clues) {
	p := (float64(right) + 1) / (float64(n) + 2)
	w[clueBias] = float32(math.Log(p / (1 - p)))
	return w
}

// loss is the mean log loss of a model.
func loss(list []marked, w clues) float64 {
	sum := 0.0
	for _, x := range list {
		z := 0.0
		for k := range w {
			z += float64(w[k]) * float64(x.clues[k])
		}
		p := 1 / (1 + math.Exp(-z))
		if !x.right {
			p = 1 - p
		}
		sum -= math.Log(max(p, 1e-6))
	}
	return sum / float64(max(1, len(list)))
}

// crossLoss is the loss on attempts that the model was not fitted on, in five
// parts.
func crossLoss(list []marked) float64 {
	ids := map[string]int{}
	for _, x := range list {
		if _, ok := ids[x.attempt]; !ok {
			ids[x.attempt] = len(ids) % 5
		}
	}
	sum, n := 0.0, 0
	for fold := range 5 {
		var train, test []marked
		for _, x := range list {
			if ids[x.attempt] == fold {
				test = append(test, x)
			} else {
				train = append(train, x)
			}
		}
		if len(test) > 0 {
			sum += loss(test, fitMarks(train)) * float64(len(test))
			n += len(test)
		}
	}
	return sum / float64(max(1, n))
}
