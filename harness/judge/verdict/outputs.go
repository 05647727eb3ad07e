package verdict

import (
	"cmp"
	"fmt"
	"slices"

	"drystage/harness"
	"drystage/sim"
)

// maxEdges is how often one output may switch within one tick. The end of a pulse and the next pulse are three edges,
// and a restart of the board in between adds one. A tick is shorter than the time to fire an igniter or to move a relay
// (some milliseconds; common practice, no source), and the simulated flight takes outputs once a tick, so faster
// switching has no effect here.
const maxEdges = 4

// outputs doubts a run in which an undeclared output switched on, for which there are no expectations, and one in which
// an output switched too often within a tick.
func (j *judge) outputs(doubt func(text, reason string)) {
	for _, c := range j.channels() {
		if on := j.onIntervals(c); len(on) > 0 && !j.declared(c) {
			doubt(c.Name+": an output that no file declares stays dark", fmt.Sprintf("it was %s%s; declare channel %d under `outputs` in the board's file and say what it may do, or find out why the board switches it",
				on[0], more(len(on)-1), c.Channel))
		}
		if at, n := j.busiest(c); n > maxEdges {
			doubt(c.Name+": it switches no faster than can be told", fmt.Sprintf("it switched %d times within the tick at %s, at most %d can be right: nothing at an output follows so fast; look at what drives it",
				n, at, maxEdges))
		}
	}
}

// more says how many more there were.
func more(n int) string {
	if n == 0 {
		return ""
	}
	return fmt.Sprintf(", and %s more", times(n))
}

// declared says that a board's file declares an output.
func (j *judge) declared(c harness.Channel) bool {
	return slices.ContainsFunc(j.rec.Plan.Setup.Bays[c.Bay].Wires, func(w sim.Wire) bool { return w.Channel == c.Channel })
}

// busiest gives the tick within which an output switched most often, and how often. An edge belongs to the last tick
// at or before it.
func (j *judge) busiest(c harness.Channel) (at sim.Time, most int) {
	var es []harness.Edge
	for _, e := range j.rec.Outputs {
		if e.Bay == c.Bay && e.Channel == c.Channel {
			es = append(es, e)
		}
	}
	if len(es) <= maxEdges || len(j.rec.Times) == 0 {
		return 0, len(es)
	}
	slices.SortStableFunc(es, func(a, b harness.Edge) int { return cmp.Compare(a.At, b.At) })
	tick, n := -2, 0
	for _, e := range es {
		if t := j.tick(e.At); t != tick {
			tick, n = t, 0
		}
		if n++; n > most {
			at, most = j.rec.Times[max(tick, 0)], n
		}
	}
	return at, most
}
