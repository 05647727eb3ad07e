package mock

import "math"

// If the board is less than confirmHeight above the pad at confirmTime after a detected liftoff, there was no
// liftoff. After a supply failure low above the pad the board checks once more.
const (
	confirmTime      = 1.5 // s
	confirmTimeAlone = 3   // s, without an accelerometer: the pressure needs longer to correct what it said last
	confirmHeight    = 5   // m
	restTime         = 1   // s at rest, after which a flight that the barometer knows nothing of was none
)

// Liftoff by height: for boards without acceleration samples, or whose supply failed during liftoff. Not while the
// accelerometer feels that the rocket stands: then the barometer is broken.
const (
	liftHeight = 30  // m
	liftSpeed  = 10  // m/s
	liftHold   = 0.3 // s
)

// burnoutTime is how long the acceleration must stay low, in s.
const burnoutTime = 0.1

// zeroThrust is the acceleration above that at power-up that the defect zero-at-power-up takes for thrust, in m/s2.
const zeroThrust = 8

// persistence measures how long a condition has been true without interruption.
type persistence struct {
	since int64
	on    bool
}

// lasts takes the condition now, and says whether it has been true for the given seconds.
func (h *persistence) lasts(now int64, so bool, seconds float64) bool {
	if !so {
		h.on = false
		return false
	}
	if !h.on {
		h.since, h.on = now, true
	}
	return span(now-h.since) >= seconds
}

// span converts microseconds to seconds.
func span(us int64) float64 { return float64(us) / 1e6 }

// detectLiftoff detects liftoff by acceleration or by height. Without a barometer nothing takes back what the
// accelerometer's error adds up to on the pad: the rocket stands.
func (c *computer) detectLiftoff() {
	needed := c.set[liftoffTime]
	if c.defect == bumpIsLiftoff {
		needed = 0
	}
	pushed := c.axial > c.set[liftoffAcceleration]
	if c.defect == zeroAtPowerUp {
		pushed = c.axial-c.zero > zeroThrust
	}
	thrust := c.thrust.lasts(c.now, c.accelUsable() && pushed, needed)
	if !c.est.baroCurrent(c.now) && !c.thrust.on {
		c.est.h, c.est.v = 0, 0
	}
	high := c.high.lasts(c.now, c.est.settled() && c.est.h > liftHeight && math.Abs(c.est.v) > liftSpeed && !(c.rests && c.accelUsable()), liftHold)
	if !thrust && !high {
		return
	}
	c.mem.liftoff = c.now
	if thrust {
		c.mem.liftoff = c.thrust.since
		c.log("liftoff by acceleration")
	} else {
		c.att.known = false
		c.log("liftoff by height; tilt unknown")
	}
	c.att.minTiltCosine, c.heightSeen, c.toldMost = 1, !thrust, c.told
	c.setPhase(phasePowered)
}

// confirmLiftoff goes back to the pad when the rocket has not left it. An accelerometer that dies in
// a knock leaves a height that nobody flies at: then, and while the barometer is refused for that, it waits.
func (c *computer) confirmLiftoff() {
	alone, needed := !c.accelUsable(), float64(confirmTime)
	if alone {
		needed = confirmTimeAlone
	}
	if c.liftoffConfirmed || c.since(max(c.mem.liftoff, c.startedAt)) < needed || alone && c.est.disagrees(c.now) {
		return
	}
	c.liftoffConfirmed = true
	current := !c.baro.stuck() && c.est.baroCurrent(c.now)
	if !current && !c.est.inertial || c.est.h > confirmHeight || c.defect == bumpIsLiftoff {
		return
	}
	c.noLiftoff(current)
}

// onlyFelt says that the accelerometer alone tells of a flight: the barometer, which works, has not told of any height since
// the liftoff. In a coast a vent that is shut does the same.
func (c *computer) onlyFelt() bool {
	return c.defect != bumpIsLiftoff && !c.heightSeen && !c.mem.staged && c.now-c.pressureAt < baroTimeout && !c.baro.stuck() && c.accelUsable() &&
		(c.rests || c.axial > c.set[liftoffAcceleration])
}

// takeBackLiftoff goes back to the pad when an accelerometer that has told of a flight feels that the rocket stands.
func (c *computer) takeBackLiftoff() {
	if c.standing.lasts(c.now, c.rests && c.onlyFelt(), restTime) {
		c.noLiftoff(true)
	}
}

// noLiftoff goes back to the pad. Without a barometer a new estimate would never settle.
func (c *computer) noLiftoff(baro bool) {
	c.log("no height gained: not a liftoff")
	c.mem.burnout, c.mem.maxHeight, c.liftoffConfirmed = 0, 0, false
	if baro {
		c.est.begin(c.now, 0, false)
	}
	c.att.known = false
	c.att.n = 0
	c.setPhase(phaseStanding)
}

// detectBurnout detects the end of thrust.
func (c *computer) detectBurnout() {
	if !c.low.lasts(c.now, c.accelUsable() && c.axial < c.set[burnoutAcceleration], burnoutTime) {
		return
	}
	if !c.mem.staged {
		c.mem.burnout = c.low.since
	}
	c.log("burnout")
	c.setPhase(phaseUnpowered)
}

// detectThrust goes back to powered flight when a motor burns (again): the upper one, or one that chuffed.
func (c *computer) detectThrust() {
	if c.defect == firstBurnoutCounts && !c.mem.staged {
		return
	}
	if c.thrust.lasts(c.now, c.accelUsable() && c.axial > c.set[liftoffAcceleration], c.set[liftoffTime]) {
		c.log("thrust")
		c.setPhase(phasePowered)
	}
}
