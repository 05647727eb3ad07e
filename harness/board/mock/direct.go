package mock

import (
	"drystage/harness/board/contract"
	"drystage/sim"
)

var _ contract.Direct = (*Guest)(nil)

// Take is Feed for a host in the same process that needs no bytes.
func (g *Guest) Take(m *contract.SampleSet, a *contract.Answers) bool {
	if !g.listening || g.realTime {
		return false
	}
	g.hushed, g.say.direct = false, a
	if m.Has != 0 {
		g.touch()
	}
	c := &g.ram
	if m.Has&(sim.HasAccel|sim.HasGyro) != 0 && g.timely(m.IMU.Time) {
		c.imu(&m.IMU)
	}
	if m.Has&sim.HasBaro != 0 && g.timely(m.Baro.Time) {
		c.pressure(&m.Baro)
	}
	if m.Has&sim.HasGNSS != 0 && g.timely(m.GNSS.Time) {
		c.fix(&m.GNSS)
	}
	a.Done = g.done(m.Tick.Time)
	g.say.direct = nil
	g.dec.Skip(m.Frames())
	g.say.enc.Skip(a.Frames())
	return true
}
