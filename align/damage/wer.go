package damage

import (
	"strings"
	"unicode"
)

// Report counts word errors of a recognition against its reference.
type Report struct {
	Words int // reference words
	Sub   int // words taken for another
	Ins   int // words that were not said
	Del   int // words that were lost
	// Rate is (Sub+Ins+Del)/Words; it may exceed 1. With no reference words it
	// is 0 when nothing was inserted and 1 otherwise.
	Rate float64
	// Kinds tells, for a report of Damage, how many pieces of damage of each
	// kind were done. It is nil in a report of WER.
	Kinds map[Kind]int
}

// Errors is the sum of the three kinds of word error.
func (r Report) Errors() int { return r.Sub + r.Ins + r.Del }

// Costs of the alignment that WER counts on. With them one substitution is
// cheaper than an insertion and a deletion. Source: NIST SCTK, doc/sclite.htm,
// "correct words 0, insertions 3, deletions 3, substitutions 4".
const (
	subCost = 4
	insCost = 3
	delCost = 3
)

// WER aligns the recognized words hyp to the reference words ref and counts the
// word errors as the scoring tool sclite does: a cheapest alignment at the
// costs above. Case and punctuation do not count: see Normalize. Time is
// proportional to the product of the lengths, memory to the length of hyp.
func WER(ref, hyp []string) Report {
	ids := make(map[string]int32)
	intern := func(words []string) []int32 {
		out := make([]int32, 0, len(words))
		for _, w := range Normalize(words) {
			id, ok := ids[w]
			if !ok {
				id = int32(len(ids))
				ids[w] = id
			}
			out = append(out, id)
		}
		return out
	}
	r, h := intern(ref), intern(hyp)

	// A cell keeps the counts of its best path, so no way back is stored.
	type cell struct{ cost, sub, ins, del int32 }
	row := make([]cell, len(h)+1)
	for j := range h {
		row[j+1] = cell{cost: row[j].cost + insCost, ins: row[j].ins + 1}
	}
	for _, want := range r {
		diagonal := row[0]
		row[0].cost += delCost
		row[0].del++
		for j, got := range h {
			best := diagonal
			if want != got {
				best.cost += subCost
				best.sub++
			}
			// At equal cost the reference scorer prefers the diagonal.
			if ins := row[j]; ins.cost+insCost < best.cost {
				best = ins
				best.cost += insCost
				best.ins++
			}
			if del := row[j+1]; del.cost+delCost < best.cost {
				best = del
				best.cost += delCost
				best.del++
			}
			diagonal = row[j+1]
			row[j+1] = best
		}
	}
	last := row[len(h)]
	rep := Report{Words: len(r), Sub: int(last.sub), Ins: int(last.ins), Del: int(last.del)}
	switch {
	case rep.Words > 0:
		rep.Rate = float64(rep.Errors()) / float64(rep.Words)
	case rep.Ins > 0:
		rep.Rate = 1
	}
	return rep
}

// Normalize folds case, strips the punctuation around words, parts words at
// hyphens, ellipses and spaces, and leaves out what is punctuation only. Nothing else
// changes: "125" and "one twenty five" stay different.
func Normalize(words []string) []string {
	out := make([]string, 0, len(words))
	for _, w := range words {
		w = strings.ToLower(strings.ReplaceAll(w, "’", "'"))
		for _, part := range strings.FieldsFunc(w, isSplit) {
			if part = strings.TrimFunc(part, isOuter); part != "" {
				out = append(out, part)
			}
		}
	}
	return out
}

func isSplit(r rune) bool {
	return unicode.IsSpace(r) || r == '-' || r == '–' || r == '—' || r == '‑' || r == '…'
}

func isOuter(r rune) bool {
	return !unicode.IsLetter(r) && !unicode.IsNumber(r) && !unicode.IsMark(r) && r != '%' && r != '°'
}
