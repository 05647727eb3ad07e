package mock

import "drystage/harness/board/contract"

// computer is the flight logic with its volatile state, which is lost when the supply fails.
type computer struct {
	set    settings
	mem    *memory
	send   *sender
	defect defect

	now           int64 // us
	startedAt     int64 // us, when this run began or continued after a restart
	restarted     bool  // it continued
	imuHz         uint16
	est           estimator
	att           attitude
	out           outputs
	bad           uint16 // outputs that the continuity check finds open or shorted; bit c-1: channel c
	accel, gyro   triadDetector
	baro          stuckDetector
	nose          vector  // in the inertial sensor's axes
	minTiltCosine float64 // cosine of staging_max_tilt
	axial         float64 // m/s2, specific force towards the nose
	rests         bool    // the last acceleration is that of a rocket that stands still
	accelAt       int64   // time of the last acceleration

	arming     bool
	armAskedAt int64
	stageAsked bool // the operator has commanded staging
	lastReason reason
	nextReport int64 // report

	heightSeen     bool    // the barometer has told of a height above the pad since liftoff
	pressureAt     int64   // time of the last pressure
	told, toldMost float64 // m, its height, and the greatest since liftoff
	felt           reckoning
	feltDown, fell persistence

	liftoffConfirmed, upperBurned, noThrustReported, defectDone bool

	thrust, high, low, down, below, noHeight, still, standing persistence

	rawHeight, rawMax float64 // m, the last unfiltered pressure height and the greatest, for the defects that use them
	rawFalls          int
	samplesSinceMax   int     // samples since the greatest
	lastFall          float64 // m, from the sample before to the last one
	smoothMax         float64 // m, the greatest since the last step of the pressure
	smoothFall        persistence
	summed            speedSum
	countedSpeed      float64                                    // m/s upwards, summed sample by sample
	groundCache       struct{ pressure, decisionHeight float64 } // of padHeight
	zero              float64                                    // m/s2, axial at power-up, the mean of zeroSamples
	zeroSamples       int
	tumble            persistence // of fast turning
	tumbling          bool
	compass           compass
	stillFixes        int // GNSS fixes in a row without a speed upwards
	gnss              struct {
		ground float64
		n      float64
	}
}

// start begins a run, or continues one after the supply has failed.
func (c *computer) start(m *contract.Hello, now int64) {
	c.set = defaults()
	c.now = now
	c.imuHz = m.IMUHz
	c.est.tune(float64(m.BaroHz))
	c.est.noGate = c.defect == noGate
	c.accel, c.gyro, c.baro = newTriadDetector(40), newTriadDetector(40), stuckDetector{limit: 12}
	c.nextReport, c.startedAt, c.restarted = c.now, c.now, c.mem.valid
	c.configure()
	c.corruptMemory()
	if c.mem.inFlight() {
		c.heightSeen = true // it isn't known
		c.liftoffConfirmed = c.mem.phase > phaseUnpowered || c.mem.maxHeight > liftHeight
		c.noThrustReported = c.mem.staged // it isn't known
		c.est.falling = c.mem.phase >= phaseFalling
		c.send.log(c.now, "restart in flight: recovery goes on, no staging")
	}
}

// corruptMemory applies the defects of the memory at a restart.
func (c *computer) corruptMemory() {
	switch {
	case !c.mem.valid:
	case c.defect == armedByRestart:
		c.mem.armed = true
	case c.defect == firesAgain:
		c.mem.drogue, c.mem.main, c.mem.phase = false, false, min(c.mem.phase, phaseFalling)
	case c.defect == mainOnPadRestart && c.mem.armed && c.mem.phase == phaseStanding:
		c.mem.phase, c.mem.apogee, c.mem.drogue, c.mem.drogueAt = phaseFalling, c.now, true, c.now-int64(c.set[mainLockout]*1e6)
	}
}

// configure computes values that depend on settings.
func (c *computer) configure() {
	c.nose = c.set.axis()
	if c.defect == axialReversed {
		c.nose = vector{}.plus(-1, c.nose)
	}
	c.minTiltCosine = cosine(c.set[stagingMaxTilt])
}

// advance goes on to now and runs the flight logic.
func (c *computer) advance(now int64) {
	c.now = max(c.now, now)
	c.mem.clock = c.now
	c.chooseSource()
	if c.defect != trustsGNSS {
		c.est.predict(c.now)
	}
	c.runArming()
	if c.outputDelay() != 0 {
		c.beginPulses()
	}
	c.endPulses()
	if c.defect == firesAtPowerUp && !c.defectDone && c.set[drogueChannel] != 0 {
		c.beginPulse(c.set[drogueChannel])
		c.defectDone = true
	}
	if c.defect == sideIsFlight {
		c.misreadAxis()
	}
	c.openMainOnLostWire()
	switch c.mem.phase {
	case phaseStanding:
		c.detectLiftoff()
	case phasePowered, phaseUnpowered:
		c.climb()
	case phaseFalling, phaseSlowed:
		c.runRecovery()
	}
	c.runStaging()
	c.reportWhenDue()
}

// reportEvery is the time between reports, in us.
const reportEvery = 100_000

// climb runs the phases from liftoff to apogee.
func (c *computer) climb() {
	if c.est.settled() {
		c.mem.maxHeight = max(c.mem.maxHeight, c.est.h)
	}
	c.att.keepMaxTilt(c.nose)
	c.confirmLiftoff()
	c.takeBackLiftoff()
	switch c.mem.phase {
	case phasePowered:
		c.detectBurnout()
	case phaseUnpowered:
		c.detectThrust()
	}
	if c.mem.phase != phaseStanding {
		c.detectApogee()
	}
}

// chooseSource decides whether the filter uses the accelerometer: only while it works, the attitude is known and the
// rocket climbs.
func (c *computer) chooseSource() {
	if c.mem.phase > phaseUnpowered {
		if c.defect != inertialOnly {
			c.est.dropInertial(true)
		}
		return
	}
	frozen := c.gyro.stuck() && c.defect != frozenGyro
	lost := c.since(c.att.t) > gyroGap && c.mem.phase != phaseStanding && c.defect != lostGyro
	if frozen || lost {
		c.att.known = false
	}
	if c.defect != inertialOnly && (!c.accelUsable() || !c.att.known || c.est.accelRejected(c.now)) {
		c.est.dropInertial(false)
	}
}

// accelUsable says that the accelerometer gives recent samples and isn't stuck.
func (c *computer) accelUsable() bool {
	return c.since(c.accelAt) <= gyroGap && !c.accel.stuck()
}

// setPhase changes the phase and reports it.
func (c *computer) setPhase(p phase) {
	c.upperBurned = c.upperBurned || p == phasePowered && c.mem.staged
	c.mem.phase = p
	c.thrust = persistence{}
	c.report()
}

// reportWhenDue reports every tenth of a second.
func (c *computer) reportWhenDue() {
	if c.now >= c.nextReport {
		c.nextReport += (c.now-c.nextReport)/reportEvery*reportEvery + reportEvery
		c.report()
	}
}

func (c *computer) report() {
	c.send.report(c.now, c.mem.phase, c.decisionHeight(), c.est.v, c.mem.maxHeight)
}

func (c *computer) log(text string) { c.send.log(c.now, text) }

// extend gives the time nearest to now that is t modulo 2^32.
func (c *computer) extend(t uint32) int64 { return c.now + int64(int32(t-uint32(c.now))) }

// since gives the seconds since t.
func (c *computer) since(t int64) float64 {
	if c.defect == shortClock {
		return float64(int64(uint16(c.now/1000))-int64(uint16(t/1000))) / 1000
	}
	return span(c.now - t)
}

// decisionHeight is the height used for decisions.
func (c *computer) decisionHeight() float64 {
	if c.defect == seaLevel && c.mem.groundPressure > 0 {
		return c.est.h + c.groundHeight()
	}
	return c.est.h
}
