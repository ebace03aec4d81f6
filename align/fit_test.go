package align

import (
	"cmp"
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

// sample is one guess in a damaged attempt whose truth is known.
type sample struct {
	attempt string
	about   string // rate, item and check: of these one guess at most is taken
	signs   signs
	right   bool
}

// TestFit fits the tables of guess.go on the open attempts. It runs only when
// asked, with MARKAROUND_FIT set to the number of seeds a rate; the seeds are
// others than TestNoise measures with. A guess is right when the person's mark
// says that the part was named, and the clean transcript has it named (or the
// check claimed) at about the same time. Guesses below leastKept are not seen:
// when the signs change, begin from empty tables, and fit until they stay.
func TestFit(t *testing.T) {
	seeds := 0
	fmt.Sscan(os.Getenv("MARKAROUND_FIT"), &seeds)
	if seeds == 0 || os.Getenv("MARKAROUND_ASIDE") != "" {
		t.Skip("set MARKAROUND_FIT to the number of seeds")
	}
	texts, gold := corpus(t)
	with := matchers(t, gold)
	type key struct{ attempt, item string }
	marks := map[key]rubric.Mark{}
	for _, j := range gold.All() {
		marks[key{j.Attempt, j.Item}] = j.Mark
	}
	var names, checks []sample
	for _, id := range slices.Sorted(maps.Keys(texts)) {
		m := with(id)
		clean := m.Grade(texts[id], Options{})
		at := map[string][]float64{} // item, or item/check → when it was said
		truth := map[string]rubric.Mark{}
		for _, it := range clean.Items {
			g, ok := marks[key{id, it.ID}]
			if !ok {
				continue
			}
			for _, e := range it.Named {
				at[it.ID] = append(at[it.ID], e.Start)
			}
			if g != rubric.Missed && len(it.Named) > 0 || g == rubric.Missed {
				truth[it.ID] = g
			}
			for _, c := range it.Checks {
				for _, e := range c.Evidence {
					at[it.ID+"/"+c.ID] = append(at[it.ID+"/"+c.ID], e.Start)
				}
				if g == it.Mark {
					truth[it.ID+"/"+c.ID] = c.Mark
				}
			}
		}
		near := func(what string, start, within float64) bool {
			return slices.ContainsFunc(at[what], func(x float64) bool { return math.Abs(x-start) <= within })
		}
		for _, rate := range []float64{0, 0.05, 0.1, 0.15, 0.2, 0.3} {
			for seed := range seeds {
				if rate == 0 && seed > 0 {
					continue
				}
				tr, _ := damage.Damage(texts[id], rate, uint64(seed)+11)
				_, l := m.hear(tr, Options{})
				for _, g := range l.guessed {
					it := m.items[g.item].item
					about := fmt.Sprintf("%s %.2f %d %s", id, rate, seed, it.ID)
					start := l.toks[g.first].Start
					if g.check < 0 {
						if mark, ok := truth[it.ID]; ok {
							names = append(names, sample{id, about, g.signs, mark != rubric.Missed && near(it.ID, start, 3)})
						}
						continue
					}
					what := it.ID + "/" + it.Checks[g.check].ID
					if mark, ok := truth[what]; ok {
						checks = append(checks, sample{id, about + what, g.signs, mark == rubric.Said && near(what, start, 4)})
					}
				}
			}
		}
	}
	report(t, "nameWeights", names)
	report(t, "checkWeights", checks)
}

// report fits a model, prints its table and what it is worth on attempts that
// it was not fitted on.
func report(t *testing.T, name string, all []sample) {
	ids := map[string]int{}
	for _, s := range all {
		if _, ok := ids[s.attempt]; !ok {
			ids[s.attempt] = len(ids) % 5
		}
	}
	best := map[string]float32{}
	right := map[string]bool{}
	could := map[string]bool{}
	for fold := range 5 {
		var train []sample
		for _, s := range all {
			if ids[s.attempt] != fold {
				train = append(train, s)
			}
		}
		w := fitBest(train)
		for _, s := range all {
			if ids[s.attempt] == fold {
				if p := chanceOf(&w, &s.signs); p > best[s.about] {
					best[s.about], right[s.about] = p, s.right
				}
				could[s.about] = could[s.about] || s.right
			}
		}
	}
	n := 0
	for _, c := range could {
		if c {
			n++
		}
	}
	t.Logf("%s: %d samples, %d asked, %d could be found", name, len(all), len(best), n)
	for _, least := range []float32{0.3, 0.4, 0.5, 0.6, 0.7} {
		tp, fp := 0, 0
		for k, p := range best {
			if p >= least {
				if right[k] {
					tp++
				} else {
					fp++
				}
			}
		}
		t.Logf("  at %.1f: %d right, %d wrong", least, tp, fp)
	}
	w := fitBest(all)
	out := ""
	for i, x := range w {
		if math.Abs(float64(x)) >= 0.005 {
			out += fmt.Sprintf("%s: %.2f, ", signNames[i], x)
		}
	}
	t.Logf("%s = signs{%s}", name, strings.TrimSuffix(out, ", "))
}

var signNames = [numSigns]string{"signBias", "signLike", "signWeight", "signLikeWeight", "signClear", "signOdd", "signStrange", "signOwn",
	"signEveryday", "signDamage", "signHabit", "signFollows", "signPrecedes", "signFits", "signUnfit", "signAgain",
	"signFar", "signDenied", "signPlainBad", "signOthers", "signSet", "signAt"}

// fitBest fits on all guesses, then on the likest few of each question: only
// between those does it matter.
func fitBest(all []sample) signs {
	w := fit(all)
	for range 3 {
		by := map[string][]sample{}
		for _, s := range all {
			by[s.about] = append(by[s.about], s)
		}
		var top []sample
		for _, list := range by {
			slices.SortFunc(list, func(a, b sample) int { return cmp.Compare(chanceOf(&w, &b.signs), chanceOf(&w, &a.signs)) })
			top = append(top, list[:min(len(list), 4)]...)
		}
		w = fit(top)
	}
	return w
}

// fit finds the weights of a logistic model of guesses.
func fit(all []sample) signs {
	xs, ys := make([][]float32, len(all)), make([]bool, len(all))
	for i := range all {
		xs[i], ys[i] = all[i].signs[:], all[i].right
	}
	var out signs
	copy(out[:], logistic(xs, ys, numSigns))
	return out
}

// logistic finds the n weights of a logistic model by Newton's method, with a
// little shrinking so that an input that never varies has none.
func logistic(xs [][]float32, ys []bool, n int) []float32 {
	const shrink = 1.0
	w := make([]float64, n)
	for range 25 {
		grad := make([]float64, n)
		hess := make([][]float64, n)
		for i := range w {
			grad[i] = -shrink * w[i]
			hess[i] = make([]float64, n+1)
			hess[i][i] = shrink
		}
		for k, x := range xs {
			z := 0.0
			for i := range w {
				z += w[i] * float64(x[i])
			}
			p := 1 / (1 + math.Exp(-z))
			y := 0.0
			if ys[k] {
				y = 1
			}
			for i := range w {
				if x[i] == 0 {
					continue
				}
				grad[i] += (y - p) * float64(x[i])
				for j := range w {
					hess[i][j] += p * (1 - p) * float64(x[i]) * float64(x[j])
				}
			}
		}
		for i := range w {
			hess[i][n] = grad[i]
		}
		// Gauss and Jordan; the shrinking keeps the pivots away from zero.
		for i := range w {
			for j := range w {
				if j == i {
					continue
				}
				f := hess[j][i] / hess[i][i]
				for c := i; c <= n; c++ {
					hess[j][c] -= f * hess[i][c]
				}
			}
		}
		most := 0.0
		for i := range w {
			d := hess[i][n] / hess[i][i]
			w[i] += d
			most = max(most, math.Abs(d))
		}
		if most < 1e-4 {
			break
		}
	}
	out := make([]float32, n)
	for i, x := range w {
		out[i] = float32(x)
	}
	return out
}
