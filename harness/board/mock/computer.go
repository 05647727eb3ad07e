package mock

import "drystage/harness/board/contract"

// computer is all that the board forgets when its supply fails, and the flight logic on top of it.
type computer struct {
	set    settings
	mem    *memory
	say    *voice
	defect defect

	now          int64 // us
	woke         int64 // us, when this run or its rest began
	imuHz, barHz uint16
	est          estimator
	att          attitude
	out          outputs
	accel, gyro  triad
	baro         watch
	nose         vector  // in the inertial sensor's axes
	steepest     float64 // cosine of staging_max_tilt
	axial        float64 // m/s2, specific force towards the nose
	felt         int64   // time of the last acceleration
	everFelt     bool

	arming   bool
	armAsked int64
	asked    bool // the operator asks for staging
	told     reason
	next     int64 // report

	confirmed, relit, unlit, again bool

	thrust, high, low, down, lost, below, blind, still hold

	raw, rawTop float64 // m, the last height by pressure and the greatest, for defects that believe it
	rawFalls    int
	rawStill    int                                // samples since the greatest
	rawFell     float64                            // m, from the sample before to the last one
	counted     float64                            // m/s upwards, summed sample by sample
	pad         struct{ pressure, height float64 } // of padHeight
	satellite   struct {
		ground float64
		n      float64
	}
}

// start begins a run, or goes on with one after the supply has failed.
func (c *computer) start(m *contract.Hello) {
	c.set = defaults()
	c.now = int64(m.Time)
	c.imuHz, c.barHz = m.IMUHz, m.BaroHz
	c.est.tune(float64(m.BaroHz))
	c.accel, c.gyro, c.baro = newTriad(40), newTriad(40), watch{patience: 12}
	c.next, c.woke = c.now, c.now
	c.configure()
	if c.mem.flying() {
		c.confirmed = c.mem.phase > coasting || c.mem.top > liftHeight
		c.unlit = c.mem.staged // nobody knows
		c.est.falling = c.mem.phase >= descending
		c.say.log(c.now, "restart in flight: recovery goes on, no staging")
	}
}

// configure takes over settings that are kept in another form.
func (c *computer) configure() {
	c.nose = c.set.axis()
	if c.defect == axialReversed {
		c.nose = vector{}.plus(-1, c.nose)
	}
	c.steepest = cosine(c.set[stagingMaxTilt])
}

// advance goes on to now and decides.
func (c *computer) advance(now int64) {
	c.now = max(c.now, now)
	c.mem.clock = c.now
	c.trust()
	if c.defect != trustsGNSS {
		c.est.predict(c.now)
	}
	c.arm()
	c.endPulses()
	if c.defect == firesAtPowerUp && !c.again && c.set[drogueChannel] != 0 {
		c.again = c.fire(c.set[drogueChannel], true)
	}
	switch c.mem.phase {
	case onPad:
		c.liftoff()
	case boosting, coasting:
		c.climb()
	case descending, underMain:
		c.recover()
	}
	c.staging()
	if c.now >= c.next {
		c.next += (c.now-c.next)/reportEvery*reportEvery + reportEvery
		c.report()
	}
}

// reportEvery is the time between reports, in us.
const reportEvery = 100_000

// climb is boost and coast.
func (c *computer) climb() {
	if c.est.settled() {
		c.mem.top = max(c.mem.top, c.est.h)
	}
	c.att.latch(c.nose)
	c.confirm()
	switch c.mem.phase {
	case boosting:
		c.burnout()
	case coasting:
		c.relight()
	}
	if c.mem.phase != onPad {
		c.apogee()
	}
}

// trust chooses what the filter goes by: the accelerometer only while it lives, the attitude is
// known, and the rocket climbs.
func (c *computer) trust() {
	climbs := c.mem.phase <= coasting
	if c.gyro.stuck() || c.since(c.att.t) > gap && c.mem.phase != onPad {
		c.att.known = false
	}
	if c.defect != inertialOnly && (!climbs || !c.feels() || !c.att.known || c.est.overruled(c.now)) {
		c.est.blind(!climbs)
	}
}

// feels says that the accelerometer can be believed.
func (c *computer) feels() bool {
	return c.everFelt && c.since(c.felt) <= gap && !c.accel.stuck()
}

// enter goes to a phase and reports it.
func (c *computer) enter(p phase) {
	c.relit = c.relit || p == boosting && c.mem.staged
	if p == boosting && c.mem.phase == onPad {
		c.att.least = 1
	}
	c.mem.phase = p
	c.thrust, c.low, c.high, c.down, c.lost, c.still = hold{}, hold{}, hold{}, hold{}, hold{}, hold{}
	c.report()
}

func (c *computer) report() {
	c.say.report(c.now, c.mem.phase, c.height(), c.est.v, c.mem.top)
}

func (c *computer) note(text string) { c.say.log(c.now, text) }

// since gives the seconds since t.
func (c *computer) since(t int64) float64 { return span(c.now - t) }

// height is the height that decisions look at.
func (c *computer) height() float64 {
	if c.defect == seaLevel && c.mem.ground > 0 {
		return c.est.h + c.padHeight()
	}
	return c.est.h
}
