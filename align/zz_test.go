package align

import (
	"fmt"
	"markaround/align/damage"
	"markaround/rubric"
	"slices"
	"testing"
)

func TestZZ(t *testing.T) {
	r, _ := rubric.Load("class-a")
	m, _ := New(r)
	texts, _ := corpus(t)
	for _, rate := range []float64{0, .05, .1, .2, .3} {
		fmt.Printf("%.2f: ", rate)
		for _, id := range slices.Sorted(keys(texts)) {
			tr := texts[id]
			if rate > 0 {
				tr, _ = damage.Damage(tr, rate, 1)
			}
			_, l := m.Answers(tr, Options{})
			fmt.Printf("%s %.3f  ", id, l.damage)
		}
		fmt.Println()
	}
}
