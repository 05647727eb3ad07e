package verdict

import (
	"fmt"

	"drystage/harness"
	"drystage/sim"
)

// window is the interval between two anchors. If the event of an anchor isn't in the record, its name is in noFrom or
// noTo, and from or to is the earliest possible time of the anchor.
type window struct {
	from, to     sim.Time
	noFrom, noTo string
}

// window finds the window of an expectation. Fires always has both bounds; an absent one of Never is
// open.
func (j *judge) window(e *harness.Expectation) window {
	w := window{from: -sim.Never, to: sim.Never}
	if e.HasFrom || e.Kind == harness.Fires {
		w.from, w.noFrom = j.anchor(e.From)
	}
	if e.HasTo || e.Kind == harness.Fires {
		w.to, w.noTo = j.anchor(e.To)
	}
	return w
}

// anchor gives the time of an anchor. If its event is missing, it can't be earlier than the end of the record plus its
// offset, except for max_q, which is found afterwards.
func (j *judge) anchor(a sim.Anchor) (t sim.Time, missing string) {
	if _, ok := (sim.Anchor{Event: a.Event}).In(j.rec.Events); !ok {
		if a.Event == sim.EventMaxQ {
			return -sim.Never, a.Event
		}
		return add(j.end, a.Offset), a.Event
	}
	event, _ := sim.Anchor{Event: a.Event}.In(j.rec.Events)
	return add(event, a.Offset), ""
}

// windowOutside says which given bound of a window is outside of a complete run, and what to do about it; it is empty if
// the run covers the whole window. Incomplete records are handled elsewhere.
func (j *judge) windowOutside(e *harness.Expectation, w *window) string {
	late := func(bound string, t sim.Time, a sim.Anchor) string {
		next := "set `until: " + a.String() + "` or later"
		if limit := j.rec.Plan.Setup.Limit; limit > 0 && t > limit {
			next += fmt.Sprintf(", and `limit`, which is %s, beyond it", limit)
		}
		return fmt.Sprintf("the window %s at %s, and %s; %s", bound, t, j.endWord(), next)
	}
	opens, closes := w.from > -sim.Never && w.noFrom == "", w.to < sim.Never && w.noTo == ""
	switch {
	case opens && w.from > j.end:
		return late("opens", w.from, e.From)
	case closes && w.to > j.end:
		return late("closes", w.to, e.To)
	case closes && w.to < j.rec.Times[0]:
		return fmt.Sprintf("the window closes at %s, before the record begins at %s; set a later `to`, or a later `launch`", w.to, j.rec.Times[0])
	case opens && w.from < 0:
		return fmt.Sprintf("the window opens at %s, before the run began; set a later `from`, leave it out, or set a later `launch`", w.from)
	}
	return ""
}

// empty says that the window ended before it started.
func (w *window) empty() bool { return w.noFrom == "" && w.noTo == "" && w.from > w.to }

// String prints the window in seconds of the run.
func (w window) String() string {
	from, to := w.from, w.to
	if w.noFrom != "" {
		return "a window that opens with " + w.noFrom
	}
	if w.noTo != "" {
		return between(from, sim.Never) + ", until " + w.noTo
	}
	return between(from, to)
}

// overlaps says that [a, b] and the window have an instant in common.
func (w *window) overlaps(a, b sim.Time) bool { return a <= b && a <= w.to && w.from <= b }

// contains says that all of [a, b] lies inside the window.
func (w *window) contains(a, b sim.Time) bool { return w.from <= a && b <= w.to }
