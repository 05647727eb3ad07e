package defects

import "slices"

// Cover gives a small set of scenarios that together catch all defects that the suite catches, in their order.
// The search is greedy: each step takes the scenario that catches the most remaining defects, the first of equals; at
// the end those that later ones made unnecessary are removed. The smallest set may be smaller: finding it is NP-hard,
// and the greedy one has at most 1 + ln n times as many for n defects (V. Chvatal, A greedy heuristic for the
// set-covering problem, Mathematics of Operations Research 4(3), 1979).
func (m *Matrix) Cover() []int {
	var taken []int
	left := m.uncaught(nil)
	for len(left) > 0 {
		best, most := 0, 0
		for s := range m.Scenarios {
			n := len(filter(len(left), func(i int) bool { return m.caught(left[i], s) }))
			if n > most {
				best, most = s, n
			}
		}
		taken = append(taken, best)
		left = m.uncaught(taken)
	}
	for i := 0; i < len(taken); {
		if fewer := slices.Delete(slices.Clone(taken), i, i+1); len(m.uncaught(fewer)) == 0 {
			taken = fewer
			continue
		}
		i++
	}
	slices.Sort(taken)
	return taken
}

// uncaught gives the defects that the suite catches, but none of the given scenarios.
func (m *Matrix) uncaught(scenarios []int) []int {
	return filter(len(m.Defects), func(d int) bool {
		return len(m.CaughtBy(d)) > 0 && !slices.ContainsFunc(scenarios, func(s int) bool { return m.caught(d, s) })
	})
}
