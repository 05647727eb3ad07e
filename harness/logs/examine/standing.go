package examine

import (
	"math"

	"drystage/harness/logs"
	"drystage/sim"
)

// standing says that a run of equal values lasts from the log's first row until the rocket leaves, or from its landing to the
// log's end: the steps of the part are greater than its noise, and nothing moves it.
func (e *examiner) standing(g *signal, r run) bool {
	from, until := r.from-g.step, r.until-g.step // runs are told from their second sample on
	n := len(g.t)
	first, last := from <= g.t[min(standRows, n-1)], until >= g.t[max(n-1-standRows, 0)]
	h := e.witness(g)
	switch {
	case first == last:
		return false
	case h == nil:
		return true
	case first:
		return h.moved(max(from, until-standLook), until) < standStill && h.moved(until, until+standGoes) > standMoves
	}
	return h.moved(from, min(until, from+standLook)) < standStill && h.moved(from-standGoes, from) > standMoves
}

const (
	standRows  = 2    // at the log's ends that may differ
	standLook  = 20.0 // s of a run that its witness is asked about: the weather moves a pressure meanwhile by less than
	standStill = 4.0  // m that a rocket which stands seems to move by
	standGoes  = 3.0  // s before or after a run in which a rocket that flies moves by
	standMoves = 8.0  // m at least: less than one weight beyond its own lifts it, or a parachute lets it down
)

// witness is a height of another part, in m; nil when there is none.
func (e *examiner) witness(g *signal) *signal {
	for _, h := range []*signal{e.baro, e.gnss[2]} {
		if h == nil || h.part == g.part || len(h.x) < 20 {
			continue
		}
		if h == e.baro && h.part == sim.PartBaro && e.stream(sim.PartBaro).Has(logs.Pressure) {
			m := *h
			m.x = make([]float64, len(h.x))
			for i, p := range h.x {
				m.x[i] = logHeight(p)
			}
			return &m
		}
		return h
	}
	return nil
}

// moved is by how much a signal differs between the beginning and the end of a stretch, by medians of a few samples.
func (g *signal) moved(from, until float64) float64 {
	i, j := g.between(from, until)
	if j-i < 2 {
		return 0
	}
	k := min(max((j-i)/4, 1), 9)
	return math.Abs(median(g.x[j-k:j]) - median(g.x[i:i+k]))
}
