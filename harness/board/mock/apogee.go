package mock

const (
	apogeeHold      = 0.1 // s of downward speed without thrust
	apogeeHoldBoost = 0.5 // s, when burnout was never detected
	ventHeight      = 50  // m that are felt, above which a barometer that tells of less than half has its vent shut
	apogeeFall      = 10  // m that a barometer with a shut vent falls after all
	apogeeFallHold  = 0.3 // s
	apogeeDrag      = -3  // m/s2: with more drag than this the rocket is too fast for a parachute

	stillSamples = 7   // barometer samples without a new greatest height that the defect standstill-is-apogee takes for apogee
	singleFall   = 1.5 // m from one sample to the next that the defect apogee-on-first-fall takes for apogee

	smoothStep     = 60  // m from one sample to the next that the defect transonic-fall-is-apogee takes for a step, not a fall
	smoothFall     = 200 // m that it takes for apogee
	smoothFallHold = 0.3 // s

	hardDeceleration = -80 // m/s2 that the defect drogue-on-deceleration takes for apogee
)

// detectApogee detects the end of the climb and begins recovery.
func (c *computer) detectApogee() {
	if !c.liftoffConfirmed || !c.climbOver() {
		return
	}
	c.mem.apogee = c.now
	c.setPhase(phaseFalling)
	c.send.logf(c.now, "apogee at ", int64(c.mem.maxHeight), " m")
}

// ventShut says that the barometer tells of less than half of the height that is felt, as one does whose vent is shut with tape
// or paint: then apogee is when the speed that is felt ends, unless the barometer falls after all.
func (c *computer) ventShut() bool {
	return c.felt.good && c.accelUsable() && c.felt.h > ventHeight && c.told < c.felt.h/2 && c.now-c.pressureAt < baroTimeout
}

// climbOver says that the rocket has stopped climbing: downward speed for a while, or the backup timer. It is never so
// while the upward speed is above the lock-out. Without an attitude, as after a restart, the speed comes from pressure
// alone, which is wrong near the speed of sound: then drag must be small too. What only an accelerometer tells of is no
// flight while it feels thrust or rest.
func (c *computer) climbOver() bool {
	switch c.defect {
	case timerOnly:
		return c.since(c.mem.liftoff) >= timerApogee
	case waitsForSustainer:
		if !c.upperBurned {
			return false
		}
	case decelerationIsApogee:
		if c.mem.phase == phaseUnpowered && c.accelUsable() && c.axial < hardDeceleration {
			return true
		}
	case standstillIsApogee:
		if c.mem.phase == phaseUnpowered && c.samplesSinceMax >= stillSamples {
			return true
		}
	case heldIsApogee:
		if c.mem.phase == phaseUnpowered && c.stillFixes >= 3 {
			return true
		}
	case firstFallIsApogee:
		if c.mem.phase == phaseUnpowered && c.lastFall > singleFall {
			return true
		}
	case smoothFallIsApogee:
		if c.smoothFall.lasts(c.now, c.mem.phase == phaseUnpowered && c.smoothMax-c.rawHeight > smoothFall, smoothFallHold) {
			return true
		}
	case countsSamples:
		return c.mem.phase == phaseUnpowered && c.countedSpeed < 0
	case noLockout:
		if c.rawMax-c.rawHeight > 3 && c.rawFalls >= 3 {
			return true
		}
	}
	needed := apogeeHold
	if c.mem.phase == phasePowered {
		needed = apogeeHoldBoost
	}
	e := &c.est
	known := e.settled() && (e.inertial || e.baroCurrent(c.now))
	speed := e.v
	switch c.defect {
	case tiltNeeded:
		known = known && c.att.known
	case accelNeeded:
		known = known && e.inertial
	case shortNumbers:
		speed = float64(int16(int64(e.v*100))) / 100
	}
	down := c.down.lasts(c.now, known && speed < 0, needed)
	feltDown := c.feltDown.lasts(c.now, c.felt.v < 0, needed)
	fell := c.fell.lasts(c.now, c.told < c.toldMost-apogeeFall, apogeeFallHold)
	timer := c.set[drogueBackup] > 0 && c.since(c.mem.liftoff) >= c.set[drogueBackup]
	if c.ventShut() && (feltDown || !fell) {
		return feltDown
	}
	if c.onlyFelt() || known && speed > c.set[apogeeLockoutSpeed] || !c.att.known && c.accelUsable() && c.axial < apogeeDrag {
		return false
	}
	return down || timer
}
