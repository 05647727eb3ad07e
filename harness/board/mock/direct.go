package mock

import (
	"drystage/harness/board/contract"
	"drystage/sim"
)

var _ contract.Direct = (*Board)(nil)

// Take is Feed with messages instead of bytes, for a host in the same process.
func (g *Board) Take(m *contract.SampleSet, a *contract.Answers) bool {
	if !g.listening || g.realTime {
		return false
	}
	g.silent, g.send.direct = false, a
	if m.Has != 0 {
		g.noteInput()
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
	g.send.direct = nil
	g.dec.Skip(m.Frames)
	g.send.enc.Skip(a.Frames())
	return true
}
