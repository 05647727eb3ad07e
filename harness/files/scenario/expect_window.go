package scenario

import (
	"fmt"
	"math"
	"slices"

	"drystage/harness"
	"drystage/sim"
)

// eventOrder orders the whole flight's events that always come one after another.
var eventOrder = []string{sim.EventStart, sim.EventLaunch, sim.EventLiftoff, sim.EventRailExit, sim.EventApogee, sim.EventLanding}

// window reads the ends of a window, and reports one that ends before it starts.
func (s *planBuilder) window(begins, ends value, e *harness.Expectation) {
	e.From, e.HasFrom = s.c.anchor(s.l, begins)
	e.To, e.HasTo = s.c.anchor(s.l, ends)
	if !e.HasFrom || !e.HasTo {
		return
	}
	from, until := e.From, e.To
	a, aKnown := s.c.known(from)
	b, bKnown := s.c.known(until)
	reversed := from.Event == until.Event && until.Offset <= from.Offset || aKnown && bKnown && b <= a
	i, j := slices.Index(eventOrder, from.Event), slices.Index(eventOrder, until.Event)
	reversed = reversed || i > j && j >= 0 && from.Offset >= 0 && until.Offset <= 0
	reversed = reversed || s.heightsReversed(from, until)
	if reversed {
		s.l.report(harness.Problem{Place: ends.at, Found: fmt.Sprintf("a window from %s to %s", from, until), Wanted: "one that ends after it starts", Hint: "swap its ends"})
	}
}

// heightsReversed tells of two heights of one body, crossed the same way in the wrong order.
func (s *planBuilder) heightsReversed(from, to sim.Anchor) bool {
	find := func(name string) sim.Crossing {
		i := slices.IndexFunc(s.c.crossings, func(c sim.Crossing) bool { return c.Name == name })
		if i < 0 {
			return sim.Crossing{Value: math.NaN()}
		}
		return s.c.crossings[i]
	}
	a, b := find(from.Event), find(to.Event)
	if a.Quantity != sim.Height || b.Quantity != sim.Height || a.Stage != b.Stage || a.Falling != b.Falling || from.Offset < to.Offset {
		return false
	}
	return a.Falling && a.Value < b.Value || !a.Falling && a.Value > b.Value
}
