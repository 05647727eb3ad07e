package flight

import "drystage/sim"

// device is a parachute or streamer in a flight.
type device struct {
	spec    *sim.Device
	trigger trigger
	opened  sim.Time // line stretch; sim.Never before
}

// canopy is an open device during one step.
type canopy struct {
	area  float64 // m2, fully open
	x     float64 // share of the inflation time that has passed at the step's start
	perS  float64
	still bool // fully open
}

// at gives the drag area in m2, s seconds after the step's start. It grows as the smooth cubic
// x*x*(3 - 2x) of the inflation time; common practice, no source.
func (c *canopy) at(s float64) float64 {
	x := c.x + float64(c.perS*s)
	if c.still || x >= 1 {
		return c.area
	}
	return float64(c.area * float64(x*x) * (3 - float64(2*x)))
}

// canopy gives the device as it is at t.
func (d *device) canopy(t sim.Time) canopy {
	c := canopy{area: d.spec.Area}
	if t-d.opened >= d.spec.Inflation {
		c.still = true
		return c
	}
	c.perS = 1 / d.spec.Inflation.Seconds()
	c.x = float64((t - d.opened).Seconds() * c.perS)
	return c
}

// How a body hangs below its devices. Their pull acts through the centre of gravity; the attitude is
// that of a pendulum hung at the nose end: it swings about the line of pull at the natural frequency
// of a uniform rod of the body's length under one g, with a fifth of critical damping, and its spin
// dies away within a second. The pull of a hard opening doesn't stiffen the pendulum, so that the
// motion stays slow enough for any step. As the devices' drag outgrows the body's own, this takes over
// from the airframe's moments and side forces. Common practice, no source.
const (
	hangDamping = 0.2
	hangSpin    = 1.0 // 1/s
)

// hangStiffness gives the square of the pendulum's natural frequency, 3 g/(2 L), at most that of a
// rod of 5 cm.
func hangStiffness(length float64) float64 { return 1.5 * standardG / max(length, 0.05) }
