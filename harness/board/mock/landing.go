package mock

const (
	jolt     = 40  // m/s2 that the defect landed-on-a-jolt takes for the touch of the ground
	axisTime = 0.2 // s after a restart at which the defect on-its-side-is-flight looks at the axis
)

// inertialAfterApogee says that a defect lies in what becomes of inertial samples after apogee.
func (d defect) inertialAfterApogee() bool {
	return d == gapIsNoNumber || d == joltIsLanding || d == sideIsFlight || d == swingIsTumble
}

// misreadJolt is the defect landed-on-a-jolt: under the drogue one sample of a shock ends the flight.
func (c *computer) misreadJolt(f vector) {
	if c.mem.phase != phaseFalling || f.norm() < jolt {
		return
	}
	c.log("landed")
	c.setPhase(phaseDown)
}

// misreadAxis is the defect on-its-side-is-flight: after a restart late in the flight the axis is to say whether the
// rocket hangs or stands; if it does neither, recovery begins anew.
func (c *computer) misreadAxis() {
	if !c.restarted || c.defectDone || !c.accelUsable() || c.since(c.startedAt) < axisTime {
		return
	}
	c.defectDone = true
	if c.mem.phase >= phaseSlowed && c.axial < standardGravity/2 {
		c.mem.drogue, c.mem.main, c.mem.apogee = false, false, c.now
		c.setPhase(phaseFalling)
	}
}
