package mock

import (
	"drystage/harness/board/contract"
	"drystage/sim"
)

var _ contract.Direct = (*Board)(nil)

// samples takes the samples of an instant.
func (c *computer) samples(m *contract.SampleSet) {
	if m.Has&(sim.HasAccel|sim.HasGyro) != 0 && c.usesIMU() {
		var imu contract.IMU
		m.IMU(&imu)
		c.imu(&imu)
	}
	if m.Has&sim.HasBaro != 0 {
		baro := m.Baro()
		c.pressure(&baro)
	}
	if m.Has&sim.HasGNSS != 0 {
		fix := m.GNSS()
		c.fix(&fix)
	}
	if m.Has&sim.HasCircuits != 0 {
		c.continuity(m.Circuits())
	}
	if m.Has&sim.HasMag != 0 {
		field := m.Mag()
		c.magnetic(&field)
	}
}

// Take is Feed with messages instead of bytes, for a host in the same process.
func (g *Board) Take(m *contract.SampleSet, a *contract.Answers) bool {
	if !g.listening || g.realTime {
		return false
	}
	g.silent, g.send.direct = false, a
	if m.Has != 0 {
		g.noteInput()
		if g.timely(m.Tick.Time) {
			g.ram.samples(m)
		}
	}
	g.done(m.Tick.Time, &a.Done)
	g.send.direct = nil
	g.dec.Skip(m.Frames)
	g.send.enc.Skip(a.Frames())
	return true
}
