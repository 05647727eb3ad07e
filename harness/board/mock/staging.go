package mock

// reason is a reason not to ignite the upper motor.
type reason uint8

const (
	noReason reason = iota
	notArmed
	notCoasting
	tooEarly
	tooLate
	tiltUnknown
	tiltExceeded
	baroNotBelieved
	tooLow
	tooSlow
)

var reasons = [...]string{"", "not armed", "not coasting before apogee", "too early", "too late", "tilt unknown",
	"tilt has been above its limit", "barometer not believed", "too low", "too slow"}

// noThrustAfter is how long after staging a missing thrust is reported, in s.
const noThrustAfter = 2

// runStaging ignites the upper motor once, when no reason is against it.
func (c *computer) runStaging() {
	asked := c.stageAsked
	c.stageAsked = false
	switch {
	case c.set[stagingChannel] == 0:
		return
	case c.mem.staged:
		c.watchUpperMotor()
		return
	case asked && c.defect == stagesUnarmed && !c.armed():
		c.beginPulse(c.set[stagingChannel])
		c.noteStaging()
		return
	}
	byCommand := c.set[stagingByCommand] == 1 && c.defect != commandIgnored
	why := c.stagingRefusal()
	if why == noReason && (asked || !byCommand) {
		if c.fire(c.set[stagingChannel]) {
			c.noteStaging()
		}
		return
	}
	c.noteRefusal(why, asked, byCommand)
}

// noteRefusal says why the upper motor is not ignited: each time when it was asked for, else once.
func (c *computer) noteRefusal(why reason, asked, byCommand bool) {
	switch {
	case why == noReason:
	case asked:
		c.log("stage command refused: " + reasons[why])
	case !byCommand && why != c.lastReason && why > tooEarly && c.mem.phase == phaseUnpowered:
		c.lastReason = why
		c.log("no staging: " + reasons[why])
	}
}

// stagingRefusal gives the first reason not to ignite the upper motor now.
func (c *computer) stagingRefusal() reason {
	if c.defect == timerOnly {
		if c.armed() && c.mem.inFlight() && c.since(c.mem.liftoff) >= c.set[stagingDelay]+timerBurn {
			return noReason
		}
		return tooEarly
	}
	latest := c.mem.liftoff + int64(c.set[stagingLatest]*1e6)
	switch {
	case !c.armed():
		return notArmed
	case c.mem.phase != phaseUnpowered || c.mem.burnout == 0:
		return notCoasting
	case c.since(c.mem.burnout) < c.set[stagingDelay]:
		return tooEarly
	case c.now > latest && c.defect != noLatest:
		return tooLate
	}
	if why := c.tiltRefusal(); why != noReason {
		return why
	}
	switch {
	case !c.est.settled() || !c.est.baroCurrent(c.now):
		return baroNotBelieved
	case c.defect == noFloor:
		return noReason
	case c.decisionHeight() < c.set[stagingMinHeight]:
		return tooLow
	case c.est.v < c.set[stagingMinSpeed], c.defect == clippingByRepeats && c.summed.usable() && c.summed.speed < c.set[stagingMinSpeed]:
		return tooSlow
	}
	return noReason
}

// tiltRefusal checks the greatest tilt since liftoff, so a tumbling rocket that points up for a moment is refused.
func (c *computer) tiltRefusal() reason {
	tilt := c.att.minTiltCosine
	switch c.defect {
	case ignoresTilt:
		return noReason
	case tiltFromField:
		if c.compass.n > 0 {
			tilt = c.compass.minTiltCosine
		}
	case tiltOfTheMoment:
		tilt = c.att.up.dot(c.nose)
	}
	switch {
	case !c.att.known:
		return tiltUnknown
	case tilt >= c.minTiltCosine: // false for NaN
		return noReason
	}
	return tiltExceeded
}

func (c *computer) noteStaging() {
	c.mem.staged = true
	c.mem.stagedAt = c.now
	c.log("staging")
}

// watchUpperMotor reports when the upper motor gives no thrust. There is no second attempt: a motor that ignites late
// may point anywhere.
func (c *computer) watchUpperMotor() {
	if c.defect == stagesTwice && !c.defectDone && c.since(c.mem.stagedAt) >= c.set[pulse]+0.5 {
		c.defectDone = true
		c.fire(c.set[stagingChannel])
	}
	if !c.upperBurned && !c.noThrustReported && c.mem.phase == phaseUnpowered && c.since(c.mem.stagedAt) >= noThrustAfter {
		c.noThrustReported = true
		c.log("no thrust after staging")
	}
}
