package mock

const (
	apogeeHold      = 0.1 // s of downward speed in coast
	apogeeHoldBoost = 0.5 // s, when burnout was never seen
	apogeeFall      = 10  // m below the greatest height
	apogeeFallHold  = 0.3 // s
	apogeeDrag      = -3  // m/s2: a rocket that is braked harder than this flies too fast for a parachute

	stillSamples = 7   // of the barometer without a new greatest height, that the board of standstill-is-apogee takes for it
	oneFall      = 1.5 // m from one sample to the next, that the board of apogee-on-first-fall takes for it

	hardDeceleration = -80 // m/s2, that the board of drogue-on-deceleration takes for apogee
)

// apogee looks for the end of the climb and begins recovery there.
func (c *computer) apogee() {
	if !c.confirmed || !c.climbOver() {
		return
	}
	c.mem.apogee = c.now
	c.enter(descending)
	c.say.logf(c.now, "apogee at ", int64(c.mem.top), " m")
}

// climbOver says that the rocket has stopped climbing: downward speed, or a lost height, each for a
// while and never while the speed upwards is above the lock-out; or the backup timer. Without an attitude, as after
// a restart, the speed is that of the pressure alone, which lies near the speed of sound: then drag must be small too.
func (c *computer) climbOver() bool {
	switch c.defect {
	case timerOnly:
		return c.since(c.mem.liftoff) >= timerApogee
	case waitsForSustainer:
		if !c.relit {
			return false
		}
	case decelerationIsApogee:
		if c.mem.phase == coasting && c.feels() && c.axial < hardDeceleration {
			return true
		}
	case standstillIsApogee:
		if c.mem.phase == coasting && c.rawStill >= stillSamples {
			return true
		}
	case firstFallIsApogee:
		if c.mem.phase == coasting && c.rawFell > oneFall {
			return true
		}
	case countsSamples:
		return c.mem.phase == coasting && c.counted < 0
	case noLockout:
		if c.rawTop-c.raw > 3 && c.rawFalls >= 3 {
			return true
		}
	}
	patience := apogeeHold
	if c.mem.phase == boosting {
		patience = apogeeHoldBoost
	}
	e := &c.est
	known := e.settled() && (e.inertial || e.heard(c.now))
	down := c.down.is(c.now, known && e.v < 0, patience)
	lost := c.lost.is(c.now, known && e.h < c.mem.top-apogeeFall, apogeeFallHold)
	timer := c.set[drogueBackup] > 0 && c.since(c.mem.liftoff) >= c.set[drogueBackup]
	if known && e.v > c.set[apogeeLockoutSpeed] || !c.att.known && c.feels() && c.axial < apogeeDrag {
		return false
	}
	return down || lost || timer
}
