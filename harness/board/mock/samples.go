package mock

import (
	"math"

	"drystage/harness/board/contract"
)

// lowestPressure is below the range of usual barometers, in Pa.
const lowestPressure = 1000

// usesIMU says that the inertial sensor counts: after apogee the barometer alone does.
func (c *computer) usesIMU() bool {
	return c.mem.phase <= phaseUnpowered || c.defect.inertialAfterApogee()
}

// imu takes a sample of the inertial sensor.
func (c *computer) imu(m *contract.IMU) {
	if !c.usesIMU() {
		return
	}
	t := c.extend(m.Time)
	if m.Has&contract.FreshGyro != 0 {
		c.gyro.add(m.GyroX, m.GyroY, m.GyroZ)
		w := vector{micro(m.GyroX), micro(m.GyroY), micro(m.GyroZ)}
		if c.defect == oneAxisTilt {
			w.y = 0
		}
		if c.defect == swingIsTumble {
			c.tumbling = c.tumble.lasts(t, w.dot(w) > tumbleRate*tumbleRate, 0.5)
		}
		c.att.rotate(t, w, c.standsStill(w))
		if c.defect == alignsOnce && c.att.known {
			c.att.bias = vector{}
		}
	}
	if m.Has&contract.FreshAccel == 0 {
		return
	}
	c.accel.add(m.AccelX, m.AccelY, m.AccelZ)
	f := vector{milli(m.AccelX), milli(m.AccelY), milli(m.AccelZ)}
	if c.defect == gapIsNoNumber && c.accelAt != 0 && span(t-c.accelAt) > 1 {
		c.est.v = math.NaN()
	}
	c.axial, c.rests, c.accelAt = f.dot(c.nose), atRest(f), t
	if c.defect == joltIsLanding {
		c.misreadJolt(f)
	}
	if c.defect == zeroAtPowerUp && c.zeroSamples < 40 {
		c.zeroSamples++
		c.zero += (c.axial - c.zero) / float64(c.zeroSamples)
	}
	if c.mem.phase == phaseStanding && !(c.defect == alignsOnce && c.att.known) {
		c.att.alignOnPad(f)
	}
	if c.defect == countsSamples && c.mem.inFlight() {
		c.countedSpeed += (f.dot(c.att.up) - standardGravity) / float64(max(c.imuHz, 1))
	}
	if c.defect == clippingByRepeats {
		c.summed.add(t, c.axial, f.dot(c.att.up)-standardGravity, c.mem.inFlight())
	}
	c.reckon(t, f.dot(c.att.up)-standardGravity)
	usable := c.defect != trustsGNSS && c.defect != pressureOnly && c.mem.phase <= phaseUnpowered && c.att.known && !c.accel.stuck() && !c.est.accelRejected(t)
	if usable || c.defect == inertialOnly && c.mem.phase <= phaseUnpowered {
		up := f.dot(c.att.up) - standardGravity
		if c.defect == gravityLeft {
			up += standardGravity
		}
		c.est.addAcceleration(t, up)
	}
}

// reckoning is the speed and the height that the accelerometer alone tells of, by dead reckoning from the pad.
type reckoning struct {
	t    int64
	v, h float64
	good bool // without a gap, with an attitude
}

// reckon adds up the upward acceleration from the first push on.
func (c *computer) reckon(t int64, up float64) {
	r := &c.felt
	dt := span(t - r.t)
	r.t = t
	if c.mem.phase == phaseStanding && !c.thrust.on {
		r.v, r.h, r.good = 0, 0, true
		return
	}
	r.good = r.good && c.att.known && dt <= gyroGap && !c.accel.stuck()
	r.v += float64(up * dt)
	r.h += float64(r.v * dt)
}

// standsStill says that the rocket is on the pad and does not turn.
func (c *computer) standsStill(w vector) bool {
	return c.mem.phase == phaseStanding && w.dot(w) < 0.04 && c.axial < c.set[liftoffAcceleration]/2
}

// pressure takes a sample of the barometer.
func (c *computer) pressure(m *contract.Baro) {
	t, p := c.extend(m.Time), float64(m.Pressure)/1000
	c.baro.add(int64(m.Pressure))
	if c.defect == standstillIsApogee && p >= lowestPressure && c.mem.groundPressure > 0 {
		c.keepRawHeight(heightAbove(p, c.groundHeight(), c.set[siteTemperature]))
	}
	if p < lowestPressure || c.baro.same > 0 && c.baro.hasNoise() { // a repeat may be the first of many
		return
	}
	if c.mem.phase == phaseStanding && (!c.att.known || c.axial < c.set[liftoffAcceleration]/2) && !c.leavingPad() {
		c.mem.averageGround(p)
	}
	if c.mem.groundPressure == 0 {
		c.mem.groundPressure = p
	}
	z := heightAbove(p, c.groundHeight(), c.set[siteTemperature])
	c.heightSeen, c.pressureAt, c.told, c.toldMost = c.heightSeen || z > confirmHeight, t, z, max(c.toldMost, z)
	if c.defect != noDefect && c.defect != standstillIsApogee { // that one has taken it above, and repeats too
		c.keepRawHeight(z)
	}
	switch {
	case c.defect == trustsGNSS:
	case c.defect == inertialOnly && (c.mem.phase == phasePowered || c.mem.phase == phaseUnpowered):
		c.est.accepted = t
	case !c.est.started:
		c.est.begin(t, z, c.mem.valid && c.mem.groundSamples > 1)
	default:
		c.est.correct(t, z)
	}
}

// groundHeight is pressureHeight at the pad, computed again only when the pressure there changes.
func (c *computer) groundHeight() float64 {
	if c.groundCache.pressure != c.mem.groundPressure {
		c.groundCache.pressure, c.groundCache.decisionHeight = c.mem.groundPressure, pressureHeight(c.mem.groundPressure)
	}
	return c.groundCache.decisionHeight
}

// leavingPad says that the rocket may have left the pad, so that the pressure is no longer that of the pad.
func (c *computer) leavingPad() bool { return c.est.settled() && c.est.h > confirmHeight }

// keepRawHeight stores the unfiltered pressure height, for the defects that use it.
func (c *computer) keepRawHeight(z float64) {
	if z < c.rawHeight {
		c.rawFalls++
	} else {
		c.rawFalls = 0
	}
	c.lastFall = c.rawHeight - z
	if math.Abs(c.lastFall) > smoothStep {
		c.smoothMax = z
	}
	c.smoothMax = max(c.smoothMax, z)
	if c.samplesSinceMax++; z > c.rawMax {
		c.samplesSinceMax = 0
	}
	c.rawHeight, c.rawMax = z, max(c.rawMax, z)
}

// continuity takes what the continuity check reads.
func (c *computer) continuity(m contract.Circuits) { c.bad = m.Open | m.Shorted }

// fix takes a GNSS fix. Only boards with the defects trusts-gnss and apogee-on-a-held-height use it: GNSS heights come
// late and jump.
func (c *computer) fix(m *contract.GNSS) {
	if c.stillFixes++; m.Fix < 2 || m.Up < -500 || m.Up > 500 || c.mem.phase != phaseUnpowered {
		c.stillFixes = 0
	}
	if m.Fix < 3 || c.defect != trustsGNSS {
		return
	}
	h, s := milli(m.Height), &c.gnss
	if c.mem.phase == phaseStanding {
		s.n = min(s.n+1, 50)
		s.ground += (h - s.ground) / s.n
	}
	e := &c.est
	e.t = c.extend(m.Time)
	e.accepted = e.t
	e.h, e.v, e.u, e.b, e.started, e.n = h-s.ground, milli(m.Up), 0, 0, true, e.n+1
}

func milli(v int32) float64 { return float64(v) / 1e3 }
func micro(v int32) float64 { return float64(v) / 1e6 }
