package page

import (
	"cmp"
	"math"
	"slices"

	"drystage/harness"
	"drystage/harness/show/report"
)

// worstFirst gives the order of verdicts: fail, unsure, pass, and of equal answers the smallest share first; what is
// no pass and has no margin comes before those, a pass without one after.
func worstFirst(vs []harness.Verdict) []int {
	type place struct {
		weight int
		share  float64
	}
	places, order := make([]place, len(vs)), make([]int, len(vs))
	for i := range vs {
		order[i] = i
		p := place{map[harness.Answer]int{harness.Fail: 0, harness.Unsure: 1, harness.Pass: 2}[vs[i].Answer], math.Inf(-1)}
		if vs[i].Answer == harness.Pass {
			p.share = math.Inf(1)
		}
		if f, ok := report.Deciding(&vs[i]); ok && f.HasMargin {
			p.share = f.Share
		}
		places[i] = p
	}
	slices.SortStableFunc(order, func(a, b int) int {
		return cmp.Or(cmp.Compare(places[a].weight, places[b].weight), cmp.Compare(places[a].share, places[b].share))
	})
	return order
}
