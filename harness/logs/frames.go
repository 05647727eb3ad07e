package logs

import (
	"drystage/sim"
	"drystage/sim/r3"
)

// cursor walks through the samples of all parts in order of time.
type cursor struct {
	log  *Log
	next [sim.PartBattery + 1]int
	out  int
	cmd  int
}

// due gives the time of the next sample, edge or command; sim.Never when there is none.
func (c *cursor) due() sim.Time {
	t := sim.Never
	for p := range c.next {
		if s := &c.log.Streams[p]; c.next[p] < s.Len() {
			t = min(t, s.Times[c.next[p]])
		}
	}
	if c.out < len(c.log.Outputs) {
		t = min(t, c.log.Outputs[c.out].At)
	}
	if c.cmd < len(c.log.Commands) {
		t = min(t, c.log.Commands[c.cmd].At)
	}
	return t
}

// take gives all that happens at a time, and goes on.
func (c *cursor) take(t sim.Time, f *sim.Frame) (edges []Output) {
	f.Now, f.Has, f.Commands = t, 0, 0
	for p := range c.next {
		if s := &c.log.Streams[p]; c.next[p] < s.Len() && s.Times[c.next[p]] == t {
			s.into(c.next[p], f)
			c.next[p]++
		}
	}
	from := c.out
	for c.out < len(c.log.Outputs) && c.log.Outputs[c.out].At <= t {
		c.out++
	}
	for ; c.cmd < len(c.log.Commands) && c.log.Commands[c.cmd].At <= t; c.cmd++ {
		f.Commands |= c.log.Commands[c.cmd].What
	}
	return c.log.Outputs[from:c.out]
}

// into puts a sample into a frame. Values that the log lacks are 0; a pressure that it lacks leaves
// the barometer out.
func (s *Stream) into(i int, f *sim.Frame) {
	v := func(ch int) float64 { x, _ := s.Value(i, ch); return x }
	switch s.Part {
	case sim.PartAccel:
		f.Accel, f.Has = r3.Vec{X: v(X), Y: v(Y), Z: v(Z)}, f.Has|sim.HasAccel
	case sim.PartGyro:
		f.Gyro, f.Has = r3.Vec{X: v(X), Y: v(Y), Z: v(Z)}, f.Has|sim.HasGyro
	case sim.PartBaro:
		p, ok := s.Value(i, Pressure)
		if !ok {
			return
		}
		f.Pressure, f.Has, f.Temperature = p, f.Has|sim.HasBaro, 288.15
		if t, ok := s.Value(i, Temperature); ok {
			f.Temperature = t
		}
	case sim.PartGNSS:
		f.GNSS = sim.Fix{Latitude: v(Latitude), Longitude: v(Longitude), Height: v(Altitude), Velocity: r3.Vec{X: v(East), Y: v(North), Z: v(Up)}, Kind: sim.Fix3D, Satellites: int(v(Satellites))}
		if k, ok := s.Value(i, Fix); ok {
			f.GNSS.Kind = sim.FixKind(k)
		}
		f.Has |= sim.HasGNSS
	case sim.PartBattery:
		f.Battery, f.Has = v(Voltage), f.Has|sim.HasBattery
	}
}
