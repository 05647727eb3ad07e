package mock

// armed says that outputs may be switched on.
func (c *computer) armed() bool { return c.mem.armed || c.defect == ignoresArming }

// selfTestTime is how long the test on the pad may wait for samples, in s.
const selfTestTime = 1

// runArming carries out the command to arm after a self-test.
func (c *computer) runArming() {
	if !c.arming {
		return
	}
	why, wait := c.selfTest()
	if wait && c.since(c.armAskedAt) < selfTestTime {
		return
	}
	c.arming = false
	if why != "" {
		c.log("not armed: " + why)
		return
	}
	c.mem.armed = true
	c.log("armed")
}

// selfTest gives the reason against arming, empty if there is none; wait says that more samples may remove it.
func (c *computer) selfTest() (why string, wait bool) {
	const steep = 0.8 // the cosine of 37 degrees
	switch {
	case c.mem.phase != phaseStanding:
		return "not on the pad", false
	case c.set.sharedChannel():
		return "two jobs share one channel", false
	case c.noContinuity(stagingChannel) || c.noContinuity(drogueChannel) || c.noContinuity(mainChannel):
		return "no continuity", false
	case c.defect == noSelfTest:
		return "", false
	case !c.est.baroCurrent(c.now) || c.est.n < settleSamples:
		return "no barometer", true
	case c.baro.stuck():
		return "barometer stuck", false
	case c.imuHz == 0:
		return "", false
	case c.accel.stuck():
		return "accelerometer stuck", false
	case c.att.n < minAlignSamples:
		return "accelerometer does not read 1 g", true
	case !c.accelUsable():
		return "accelerometer silent", true
	case c.gyro.stuck():
		return "gyro stuck", false
	case c.gyro[0].samples > 0 && c.since(c.att.t) > gyroGap: // a board without a gyro never stages
		return "gyro silent", true
	case c.att.up.dot(c.nose) < steep && c.defect != axialReversed:
		return "axial accelerometer does not read +1 g", false
	}
	return "", false
}

// noContinuity says that the check finds no load at the output that a setting names. A board that is told nothing
// doesn't know, and goes by its operator.
func (c *computer) noContinuity(channel int) bool {
	ch := int(c.set[channel])
	return ch != 0 && c.bad>>(ch-1)&1 != 0
}

// disarm makes the board safe at once.
func (c *computer) disarm() {
	if c.defect == ignoresDisarm {
		return
	}
	c.arming = false
	if c.defect != disarmsLater {
		c.allOff()
	}
	if c.mem.armed {
		c.mem.armed = false
		c.log("disarmed")
	}
}
