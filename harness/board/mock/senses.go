package mock

import "drystage/harness/board/contract"

// lowestPressure is below what any barometer of the trade reads, in Pa.
const lowestPressure = 1000

// imu takes a sample of the inertial sensor.
func (c *computer) imu(m *contract.IMU) {
	t := int64(m.Time)
	if m.Has&contract.FreshGyro != 0 {
		c.gyro.take(m.GyroX, m.GyroY, m.GyroZ)
		w := vector{micro(m.GyroX), micro(m.GyroY), micro(m.GyroZ)}
		c.att.turn(t, w, c.resting(w))
	}
	if m.Has&contract.FreshAccel == 0 {
		return
	}
	c.accel.take(m.AccelX, m.AccelY, m.AccelZ)
	f := vector{milli(m.AccelX), milli(m.AccelY), milli(m.AccelZ)}
	c.axial, c.felt, c.everFelt = f.dot(c.nose), t, true
	if c.mem.phase == onPad {
		c.att.rest(f)
	}
	if c.defect == countsSamples && c.mem.flying() {
		c.counted += (f.dot(c.att.up) - standardGravity) / float64(max(c.imuHz, 1))
	}
	usable := c.defect != trustsGNSS && c.mem.phase <= coasting && c.att.known && !c.accel.stuck() && !c.est.overruled(t)
	if usable || c.defect == inertialOnly && c.mem.phase <= coasting {
		c.est.accelerate(t, f.dot(c.att.up)-standardGravity)
	}
}

// resting says that the rocket stands on the pad and does not turn.
func (c *computer) resting(w vector) bool {
	return c.mem.phase == onPad && w.dot(w) < 0.04 && c.axial < c.set[liftoffAcceleration]/2
}

// pressure takes a sample of the barometer.
func (c *computer) pressure(m *contract.Baro) {
	t, p := int64(m.Time), float64(m.Pressure)/1000
	c.baro.take(int64(m.Pressure))
	if c.defect == standstillIsApogee && p >= lowestPressure && c.mem.ground > 0 {
		c.believe(heightAbove(p, c.padHeight(), c.set[siteTemperature]))
	}
	if p < lowestPressure || c.baro.same > 0 && c.baro.live() { // a repeat may be the first of many
		return
	}
	if c.mem.phase == onPad && (!c.att.known || c.axial < c.set[liftoffAcceleration]/2) && !c.leaving() {
		c.mem.learn(p)
	}
	if c.mem.ground == 0 {
		c.mem.ground = p
	}
	z := heightAbove(p, c.padHeight(), c.set[siteTemperature])
	if c.defect != standstillIsApogee { // which has believed it above, repeats too
		c.believe(z)
	}
	switch {
	case c.defect == trustsGNSS:
	case c.defect == inertialOnly && (c.mem.phase == boosting || c.mem.phase == coasting):
		c.est.accepted = t
	case !c.est.started:
		c.est.begin(t, z, c.mem.valid && c.mem.weight > 1)
	default:
		c.est.correct(t, z)
	}
}

// padHeight is pressureHeight at the pad, computed anew when the pressure there is another.
func (c *computer) padHeight() float64 {
	if c.pad.pressure != c.mem.ground {
		c.pad.pressure, c.pad.height = c.mem.ground, pressureHeight(c.mem.ground)
	}
	return c.pad.height
}

// leaving says that the height has begun to leave the pad, so that it must not become the pad's.
func (c *computer) leaving() bool { return c.est.settled() && c.est.h > confirmHeight }

// believe keeps the bare height by pressure, for the defects that go by it.
func (c *computer) believe(z float64) {
	if z < c.raw {
		c.rawFalls++
	} else {
		c.rawFalls = 0
	}
	c.rawFell = c.raw - z
	if c.rawStill++; z > c.rawTop {
		c.rawStill = 0
	}
	c.raw, c.rawTop = z, max(c.rawTop, z)
}

// fix takes a GNSS fix. The honest board has no use for it: heights by satellite come late and jump.
func (c *computer) fix(m *contract.GNSS) {
	if m.Fix < 3 || c.defect != trustsGNSS {
		return
	}
	h, s := milli(m.Height), &c.satellite
	if c.mem.phase == onPad {
		s.n = min(s.n+1, 50)
		s.ground += (h - s.ground) / s.n
	}
	e := &c.est
	e.t, e.accepted = int64(m.Time), int64(m.Time)
	e.h, e.v, e.u, e.b, e.started, e.n = h-s.ground, milli(m.Up), 0, 0, true, e.n+1
}

func milli(v int32) float64 { return float64(v) / 1e3 }
func micro(v int32) float64 { return float64(v) / 1e6 }
