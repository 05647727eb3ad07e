package scenario

import (
	"fmt"
	"slices"

	"drystage/harness"
	"drystage/harness/vary"
)

// amounts reads a list of values of a parameter; ok is false if one is wrong, which was reported.
func (s *planBuilder) amounts(t *parameter, list []value) (out []float64, ok bool) {
	for _, v := range list {
		x, fine := s.l.amount(v, t.is)
		if !fine {
			return nil, false
		}
		out = append(out, x)
	}
	return out, len(out) > 0
}

// triangular reads a triangular law.
func (s *planBuilder) triangular(t *parameter, v value) bool {
	list := v.list()
	x, ok := s.amounts(t, list)
	if !ok {
		return false
	}
	if !(x[0] <= x[1] && x[1] <= x[2] && x[0] < x[2]) {
		s.l.report(harness.Problem{Place: list[0].at, Found: fmt.Sprintf("a triangle over %s, %s and %s", list[0].text(), list[1].text(), list[2].text()), Wanted: "the least value, the likeliest and the greatest, in this order"})
		return false
	}
	t.Law, t.Low, t.Mode, t.High = harness.Triangular, x[0], x[1], x[2]
	return true
}

// discrete reads a list of values, which rise in the plan, and their weights.
func (s *planBuilder) discrete(t *parameter, of, weights value) bool {
	list, ws := of.list(), weights.list()
	x, ok := s.amounts(t, list)
	switch {
	case !ok || weights.given && len(ws) == 0:
		return false
	case weights.given && len(ws) != len(x):
		s.l.report(harness.Problem{Place: weights.at, Found: fmt.Sprintf("%d weights of %d values", len(ws), len(x)), Wanted: "one for each"})
		return false
	}
	sum := 0.0
	order := make([]int, len(x))
	share := make([]float64, len(x))
	for i := range x {
		order[i], share[i] = i, 1
		if weights.given {
			if share[i] = ws[i].num(); !ws[i].ok() {
				return false
			}
		}
		sum += share[i]
	}
	slices.SortFunc(order, func(a, b int) int {
		if x[a] < x[b] {
			return -1
		}
		return 1
	})
	for k, i := range order {
		if k > 0 && x[i] == x[order[k-1]] {
			s.l.report(harness.Problem{Place: list[i].at, Found: list[i].text() + " again", Wanted: "each value once", Hint: "weights make one likelier"})
			return false
		}
	}
	if !(sum > 0) {
		s.l.report(harness.Problem{Place: weights.at, Found: "weights of 0 only", Wanted: "at least one above 0"})
		return false
	}
	t.Law, t.Of, t.Shares = harness.Discrete, nil, nil
	for _, i := range order {
		if share[i] > 0 {
			t.Of, t.Shares = append(t.Of, x[i]), append(t.Shares, share[i]/sum)
		}
	}
	t.Low, t.High = t.Of[0], t.Of[len(t.Of)-1]
	return true
}

// correlations reads which of what varies doesn't vary independently.
func (s *planBuilder) correlations(v value) {
	seen := map[[2]string]harness.Place{}
	for _, e := range v.objects() {
		if c, ok := s.correlation(e, seen); ok {
			s.plan.Correlated = append(s.plan.Correlated, c)
		}
	}
	if list := s.plan.Correlated; !vary.Joint(s.plan.Vary, list) {
		s.l.report(harness.Problem{Place: list[len(list)-1].Place, Found: fmt.Sprintf("%d correlations that can't all be", len(list)), Wanted: "a positive definite matrix, in which a pair that isn't listed has 0",
			Hint: "if A goes with B and B with C, A goes with C, too: give that pair its number"})
	}
}

// correlation reads one. A pair that came by `like` is left out where one of the two doesn't vary.
func (s *planBuilder) correlation(e *object, seen map[[2]string]harness.Place) (c harness.Correlated, ok bool) {
	pair := e.get("pair").list()
	if len(pair) != 2 || !pair[0].ok() || !pair[1].ok() || !e.get("rho").ok() {
		return c, false
	}
	c = harness.Correlated{Pair: [2]string{pair[0].text(), pair[1].text()}, Rho: e.get("rho").num(), Place: e.at}
	names := variedNames(s.plan.Vary)
	missing := slices.IndexFunc(c.Pair[:], func(name string) bool { return !slices.Contains(names, name) })
	sorted := c.Pair
	slices.Sort(sorted[:])
	first, twice := seen[sorted]
	seen[sorted] = e.at
	switch {
	case missing >= 0 && e.at.File != s.plan.File:
	case missing >= 0:
		s.l.report(harness.Problem{Place: pair[missing].at, Found: quote(c.Pair[missing]) + " in a correlation", Wanted: "something that `vary` lists, and nothing sets", Hint: nearest(c.Pair[missing], names)})
	case c.Pair[0] == c.Pair[1]:
		s.l.report(harness.Problem{Place: pair[1].at, Found: quote(c.Pair[1]) + " correlated with itself", Wanted: "two different things"})
	case twice:
		s.l.report(harness.Problem{Place: e.at, Found: c.Pair[0] + " and " + c.Pair[1] + " again", Wanted: "each pair once", Hint: fmt.Sprintf("the first is on line %d", first.Line)})
	default:
		return c, true
	}
	return c, false
}

func variedNames(list []harness.Vary) (names []string) {
	for i := range list {
		names = append(names, list[i].Name)
	}
	return names
}
