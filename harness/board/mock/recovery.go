package mock

import "math"

const (
	mainHold     = 0.2 // s below the main's height before it opens
	mainNoHeight = 5   // s without a usable height, after which the main opens: better too high than not at all
	stillHold    = 5   // s without vertical speed after which it has landed
	stillSpeed   = 1   // m/s

	tumbleRate  = 0.17 // rad/s that the defect main-on-a-swing takes for tumbling
	tumbleAfter = 10   // s after the drogue
)

// runRecovery opens the drogue, then the main, then detects the landing.
func (c *computer) runRecovery() {
	first, second := c.set[drogueChannel], c.set[mainChannel]
	if c.defect == mainFirst {
		first, second = second, first
	}
	c.openDrogue(first)
	c.openMain(second)
	if c.still.lasts(c.now, c.est.settled() && c.est.baroCurrent(c.now) && math.Abs(c.est.v) < stillSpeed, stillHold) {
		c.log("landed")
		c.setPhase(phaseDown)
	}
}

func (c *computer) openDrogue(channel float64) {
	if c.mem.drogue || channel == 0 || c.since(c.mem.apogee) < c.set[drogueDelay] {
		return
	}
	if c.fire(channel) {
		c.mem.drogue, c.mem.drogueAt = true, c.now
		c.log("drogue")
	}
}

func (c *computer) openMain(channel float64) {
	if c.mem.main || channel == 0 || !c.mainDue() {
		return
	}
	if c.fire(channel) {
		c.mem.main = true
		c.mem.mainAt = c.now
		c.send.logf(c.now, "main at ", int64(c.decisionHeight()), " m")
		c.setPhase(phaseSlowed)
	}
}

// openMainOnLostWire is the defect of a board that takes a drogue without continuity for one that has fired.
func (c *computer) openMainOnLostWire() {
	if c.defect == lostWire && c.mem.inFlight() && !c.mem.drogue && !c.mem.main && c.noContinuity(drogueChannel) && c.fire(c.set[mainChannel]) {
		c.mem.main, c.mem.mainAt = true, c.now
	}
}

// mainDue says that the main may open: after the drogue, if there is one, and after the pressure pulse of its charge;
// and either low enough for a while, or without a usable height, or by the backup timer.
func (c *computer) mainDue() bool {
	from := c.mem.apogee
	if c.set[drogueChannel] != 0 {
		if !c.mem.drogue {
			return false
		}
		from = c.mem.drogueAt
		if c.defect == mainOnSpike && c.rawHeight <= c.set[mainHeight] {
			return true
		}
		if c.since(from) < c.set[mainLockout] {
			return false
		}
		if c.tumbling && c.since(from) >= tumbleAfter {
			return true
		}
	}
	if c.set[mainHeight] == 0 {
		return true
	}
	known := c.est.settled() && c.est.baroCurrent(c.now) || c.defect == trustsGNSS
	low := c.below.lasts(c.now, known && c.decisionHeight() <= c.set[mainHeight], mainHold)
	blind := c.noHeight.lasts(c.now, !known && c.defect != noHeightNoMain, mainNoHeight)
	return low || blind || c.set[mainBackup] > 0 && c.since(from) >= c.set[mainBackup]
}
