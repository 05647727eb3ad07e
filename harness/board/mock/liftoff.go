package mock

import "math"

// A lift-off that leaves the board less than confirmHeight above the pad after confirmTime was none.
// After a supply failure low above the pad the board looks once more.
const (
	confirmTime   = 1.5 // s
	confirmHeight = 5   // m
)

// Lift-off by height: for boards whose acceleration can't be had, or that lost their supply as the
// rocket left.
const (
	liftHeight = 30  // m
	liftSpeed  = 10  // m/s
	liftHold   = 0.3 // s
)

// burnoutTime is how long the acceleration must stay low, in s.
const burnoutTime = 0.1

// hold tells how long something has been so without a break.
type hold struct {
	since int64
	on    bool
}

// is takes whether it is so now, and says if it has been for the given seconds.
func (h *hold) is(now int64, so bool, seconds float64) bool {
	if !so {
		h.on = false
		return false
	}
	if !h.on {
		h.since, h.on = now, true
	}
	return span(now-h.since) >= seconds
}

// span turns a span in microseconds into seconds.
func span(us int64) float64 { return float64(us) / 1e6 }

// liftoff looks for the rocket leaving the pad.
func (c *computer) liftoff() {
	patience := c.set[liftoffTime]
	if c.defect == bumpIsLiftoff {
		patience = 0
	}
	thrust := c.thrust.is(c.now, c.feels() && c.axial > c.set[liftoffAcceleration], patience)
	high := c.high.is(c.now, c.est.settled() && c.est.h > liftHeight && math.Abs(c.est.v) > liftSpeed, liftHold)
	if !thrust && !high {
		return
	}
	c.mem.liftoff = c.now
	if thrust {
		c.mem.liftoff = c.thrust.since
		c.note("liftoff by acceleration")
	} else {
		c.att.known = false
		c.note("liftoff by height; tilt unknown")
	}
	c.enter(boosting)
}

// confirm goes back to the pad when the rocket has not left it.
func (c *computer) confirm() {
	if c.confirmed || c.since(max(c.mem.liftoff, c.woke)) < confirmTime {
		return
	}
	c.confirmed = true
	if c.baro.stuck() || !c.est.heard(c.now) || c.est.h > confirmHeight || c.defect == bumpIsLiftoff {
		return
	}
	c.note("no height gained: not a liftoff")
	c.mem.burnout, c.mem.top, c.confirmed = 0, 0, false
	c.est.begin(c.now, 0, false)
	c.att.known = false
	c.att.n = 0
	c.enter(onPad)
}

// burnout looks for the motor going out.
func (c *computer) burnout() {
	if !c.low.is(c.now, c.feels() && c.axial < c.set[burnoutAcceleration], burnoutTime) {
		return
	}
	if !c.mem.staged {
		c.mem.burnout = c.low.since
	}
	c.note("burnout")
	c.enter(coasting)
}

// relight goes back to boost when a motor burns (again): the upper one, or one that only chuffed.
func (c *computer) relight() {
	if c.defect == firstBurnoutCounts && !c.mem.staged {
		return
	}
	if c.thrust.is(c.now, c.feels() && c.axial > c.set[liftoffAcceleration], c.set[liftoffTime]) {
		c.note("thrust")
		c.enter(boosting)
	}
}
