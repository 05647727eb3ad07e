package mock

import "math"

const (
	mainHold   = 0.2 // s below the main's height
	mainBlind  = 5   // s without a height, after which the main opens: high is better than never
	stillHold  = 5   // s without vertical speed: landed
	stillSpeed = 1   // m/s
)

// recover opens the drogue, then the main, then sees the landing.
func (c *computer) recover() {
	first, second := c.set[drogueChannel], c.set[mainChannel]
	if c.defect == mainFirst {
		first, second = second, first
	}
	c.openDrogue(first)
	c.openMain(second)
	if c.still.is(c.now, c.est.settled() && c.est.heard(c.now) && math.Abs(c.est.v) < stillSpeed, stillHold) {
		c.dark()
		c.note("landed")
		c.enter(landed)
	}
}

func (c *computer) openDrogue(channel float64) {
	if c.mem.drogue || channel == 0 || c.since(c.mem.apogee) < c.set[drogueDelay] {
		return
	}
	if c.fire(channel, false) {
		c.mem.drogue, c.mem.drogueAt = true, c.now
		c.note("drogue")
	}
}

func (c *computer) openMain(channel float64) {
	if c.mem.main || channel == 0 || !c.mainDue() {
		return
	}
	if c.fire(channel, false) {
		c.mem.main, c.mem.mainAt = true, c.now
		c.say.logf(c.now, "main at ", int64(c.height()), " m")
		c.enter(underMain)
	}
}

// mainDue says that the main may open: after the drogue, if there is one, not inside the pressure
// pulse of its charge, and low enough for a while, or with no height to go by.
func (c *computer) mainDue() bool {
	from := c.mem.apogee
	if c.set[drogueChannel] != 0 {
		if !c.mem.drogue {
			return false
		}
		from = c.mem.drogueAt
		if c.defect == mainOnSpike && c.raw <= c.set[mainHeight] {
			return true
		}
		if c.since(from) < c.set[mainLockout] {
			return false
		}
	}
	if c.set[mainHeight] == 0 {
		return true
	}
	known := c.est.settled() && c.est.heard(c.now) || c.defect == trustsGNSS
	low := c.below.is(c.now, known && c.height() <= c.set[mainHeight], mainHold)
	blind := c.blind.is(c.now, !known, mainBlind)
	return low || blind || c.set[mainBackup] > 0 && c.since(from) >= c.set[mainBackup]
}
