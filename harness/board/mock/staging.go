package mock

// reason is why the upper motor must not be lit.
type reason uint8

const (
	nothing reason = iota
	notArmed
	notCoasting
	tooEarly
	tooLate
	tiltUnknown
	tilted
	inDoubt
	tooLow
	tooSlow
)

var reasons = [...]string{"", "not armed", "not coasting before apogee", "too early", "too late", "tilt unknown",
	"tilt has been above its limit", "barometer not believed", "too low", "too slow"}

// unlitAfter is when a staged motor that gives no thrust is called unlit, in s.
const unlitAfter = 2

// staging lights the upper motor, once, when everything allows it.
func (c *computer) staging() {
	asked := c.asked
	c.asked = false
	switch {
	case c.set[stagingChannel] == 0:
		return
	case c.mem.staged:
		c.afterStaging()
		return
	case asked && c.defect == stagesUnarmed && !c.armed():
		c.stage(true)
		return
	}
	byCommand := c.set[stagingByCommand] == 1
	why := c.forbidden()
	switch {
	case why == nothing && (asked || !byCommand):
		c.stage(false)
	case asked && why != nothing:
		c.note("stage command refused: " + reasons[why])
	case !byCommand && why != c.told && why > tooEarly && c.mem.phase == coasting:
		c.told = why
		c.note("no staging: " + reasons[why])
	}
}

// forbidden gives the first reason against lighting the upper motor now.
func (c *computer) forbidden() reason {
	if c.defect == timerOnly {
		if c.armed() && c.mem.flying() && c.since(c.mem.liftoff) >= c.set[stagingDelay]+timerBurn {
			return nothing
		}
		return tooEarly
	}
	latest := c.mem.liftoff + int64(c.set[stagingLatest]*1e6)
	switch {
	case !c.armed():
		return notArmed
	case c.mem.phase != coasting || c.mem.burnout == 0:
		return notCoasting
	case c.since(c.mem.burnout) < c.set[stagingDelay]:
		return tooEarly
	case c.now > latest && c.defect != noLatest:
		return tooLate
	}
	if why := c.tiltForbids(); why != nothing {
		return why
	}
	switch {
	case !c.est.settled() || !c.est.heard(c.now):
		return inDoubt
	case c.defect == noFloor:
		return nothing
	case c.height() < c.set[stagingMinHeight]:
		return tooLow
	case c.est.v < c.set[stagingMinSpeed]:
		return tooSlow
	}
	return nothing
}

// tiltForbids looks at the greatest tilt since liftoff: a tumbling rocket that happens to point up
// stays forbidden.
func (c *computer) tiltForbids() reason {
	tilt := c.att.least
	switch c.defect {
	case ignoresTilt:
		return nothing
	case tiltOfTheMoment:
		tilt = c.att.up.dot(c.nose)
	}
	switch {
	case !c.att.known:
		return tiltUnknown
	case tilt >= c.steepest: // false for what is no number
		return nothing
	}
	return tilted
}

func (c *computer) stage(force bool) {
	if c.fire(c.set[stagingChannel], force) {
		c.mem.staged, c.mem.stagedAt = true, c.now
		c.note("staging")
	}
}

// afterStaging says it when the upper motor gives no thrust. There is no second try: a motor that
// lights late lights somewhere else.
func (c *computer) afterStaging() {
	if c.defect == stagesTwice && !c.again && c.since(c.mem.stagedAt) >= c.set[pulse]+0.5 {
		c.again = true
		c.fire(c.set[stagingChannel], false)
	}
	if !c.relit && !c.unlit && c.mem.phase == coasting && c.since(c.mem.stagedAt) >= unlitAfter {
		c.unlit = true
		c.note("no thrust after staging")
	}
}
