package align

import (
	"fmt"
	"markaround/align/damage"
	"markaround/rubric"
	"os"
	"slices"
	"testing"
)

func TestZZ(t *testing.T) {
	r, _ := rubric.Load("class-a")
	m, _ := New(r)
	texts, gold := corpus(t)
	rate := 0.0
	fmt.Sscan(os.Getenv("RATE"), &rate)
	cm := map[string]int{}
	for _, id := range slices.Sorted(keys(texts)) {
		tr, _ := damage.Damage(texts[id], rate, 1)
		s := m.Grade(tr, Options{})
		s0 := m.Grade(texts[id], Options{})
		g := map[string]string{}
		for _, j := range gold.All() {
			if j.Attempt == id {
				g[j.Item] = string(j.Mark)
			}
		}
		for i, it := range s.Items {
			if it.Extra {
				continue
			}
			if g[it.ID] == "said" && it.Mark != "said" && s0.Items[i].Mark == "said" {
				ev := s0.Items[i].Named
				near := ""
				if len(ev) > 0 {
					for _, w := range tr.Words {
						if w.Start > ev[0].Start-2.5 && w.Start < ev[0].End+5 {
							near += w.Text + " "
						}
					}
					near = ev[0].Words + "  ==> " + near
				}
				fmt.Printf("%s %s %s: %s | %s\n", id, it.ID, it.Mark, near, it.Reason)
				cm[string(it.Mark)]++
			}
		}
	}
	fmt.Println(cm)
}
