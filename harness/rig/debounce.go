package rig

import "time"

// debouncer makes edges from a level that may bounce. A new level counts once it has been stable for hold; its edge
// has the time of the first change. It has no clock: times are passed in, in order.
type debouncer struct {
	hold       time.Duration
	level      bool      // the debounced level
	raw        bool      // the present level
	leftAt     time.Time // of the first change
	lastChange time.Time // of the last change
	unsettled  bool
	glitches   int // changes that did not last for hold
}

// levelChange is an edge: its time, and the level after it.
type levelChange struct {
	at    time.Time
	level bool
}

// edge notes a change of the level.
func (d *debouncer) edge(at time.Time, level bool) {
	if !d.unsettled {
		d.leftAt, d.unsettled = at, true
	}
	d.raw, d.lastChange = level, at
}

// settle gives the edge that has been stable for hold by now.
func (d *debouncer) settle(now time.Time) (c levelChange, ok bool) {
	if !d.unsettled || now.Sub(d.lastChange) < d.hold {
		return c, false
	}
	d.unsettled = false
	if d.raw == d.level {
		d.glitches++
		return c, false
	}
	d.level = d.raw
	return levelChange{d.leftAt, d.level}, true
}

// due is how long until settle may give something.
func (d *debouncer) due(now time.Time) (wait time.Duration, ok bool) {
	return d.hold - now.Sub(d.lastChange), d.unsettled
}
