package rig

import "time"

// debouncer makes edges of a level that may bounce: a new level counts once it has stood for hold,
// and its edge is when the level was left first. It keeps no clock: times come in order.
type debouncer struct {
	hold     time.Duration
	level    bool      // that counts
	now      bool      // as it is
	left     time.Time // when the level that counts was left
	last     time.Time // of the last change
	moving   bool
	glitches int // times that the level was left for less than hold
}

// change is an edge: the level that it leads to, and when.
type change struct {
	at    time.Time
	level bool
}

// edge tells that the level has changed, or was seen to have.
func (d *debouncer) edge(at time.Time, level bool) {
	if !d.moving {
		d.left, d.moving = at, true
	}
	d.now, d.last = level, at
}

// settle gives the edge that has come to stand by now.
func (d *debouncer) settle(now time.Time) (c change, ok bool) {
	if !d.moving || now.Sub(d.last) < d.hold {
		return c, false
	}
	d.moving = false
	if d.now == d.level {
		d.glitches++
		return c, false
	}
	d.level = d.now
	return change{d.left, d.level}, true
}

// due says how long until settle may give something.
func (d *debouncer) due(now time.Time) (wait time.Duration, ok bool) {
	return d.hold - now.Sub(d.last), d.moving
}
