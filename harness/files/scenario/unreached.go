package scenario

import (
	"fmt"
	"io/fs"
	"path"
	"slices"

	"drystage/harness"
	"drystage/sim"
	"drystage/sim/quantity"
)

// awaited is an event that a file names, or a quantity that it bounds.
type awaited struct {
	at    harness.Place
	event string

	of      sim.Quantity // of a bound; none: an event
	stage   int
	below   bool
	bounded float64
}

// Unreached warns of what a scenario and its vehicle wait for and what never comes in the flight as its builder
// means it, without boards and faults: an event, a height that it doesn't reach, a speed that it never has.
// It is no finding, since faults and boards can change a flight. rehearse flies a setup that way and gives its
// events. A scenario with findings, or that plays a log, has no warnings.
func Unreached(fsys fs.FS, name string, rehearse func(*sim.Setup) []sim.Event) []harness.Problem {
	l := &loader{fsys: fsys}
	s := l.builder(path.Clean(name))
	if len(l.problems) > 0 || s == nil || s.plan.Log.File != "" {
		return nil
	}
	set := s.plan.Setup
	set.Crossings = slices.Clone(set.Crossings)
	for _, h := range s.c.awaited {
		if h.of != sim.NoQuantity {
			set.Crossings = append(set.Crossings, h.crossing(true), h.crossing(false))
		}
	}
	set.Rehearsed = rehearse(&set)
	events := rehearse(&set)
	for _, h := range s.c.awaited {
		if what := h.missing(s.c, &set, events); what != "" {
			l.report(harness.Problem{Place: h.at, Found: "warning: " + what, Wanted: "what comes in the flight as it is meant", Hint: "only a fault or a board could bring it"})
		}
	}
	return l.sorted()
}

// crossing is that of a bound, either way; its name is no event of files.
func (h *awaited) crossing(falling bool) sim.Crossing {
	return sim.Crossing{Name: fmt.Sprintf("bound %d %s %t %g", h.stage, h.of, falling, h.bounded), Stage: h.stage, Quantity: h.of, Falling: falling, Value: h.bounded}
}

// missing says what never comes; empty if it comes, or if it depends on boards or the operator.
func (h *awaited) missing(c *eventCatalogue, set *sim.Setup, events []sim.Event) string {
	happened := func(name string) bool {
		_, ok := sim.Anchor{Event: name}.In(events)
		return ok
	}
	if h.of == sim.NoQuantity {
		ours := slices.ContainsFunc(c.actions, func(m sim.Mark) bool { return m.Name == h.event })
		if ours || happened(h.event) {
			return ""
		}
		return quote(h.event) + ", which never comes"
	}
	onPad := map[sim.Quantity]float64{sim.Tilt: set.Vehicle.Rail.Tilt, sim.Acceleration: 9.8, sim.Airspeed: set.Wind.Speed}[h.of]
	out := onPad > h.bounded
	word := "above"
	if h.below {
		out, word = onPad < h.bounded, "below"
	}
	if out || happened(h.crossing(true).Name) || happened(h.crossing(false).Name) {
		return ""
	}
	return fmt.Sprintf("%s %s %s %s, which it never is", c.stages[h.stage], h.of, word, quantity.Text(h.bounded, dimension(h.of)))
}
