package flight

import (
	"drystage/sim"
	"drystage/sim/r3"
)

// motor is one motor of a stage in a flight.
type motor struct {
	curve            curve    // as drawn for this run
	propellant       float64  // kg left while it doesn't burn
	burning, ignited bool     // ignited stays true after the burn
	ignitedAt        sim.Time // when the burn began
	delay            sim.Time // of the igniter, as drawn for this run
	y, z             float64  // m, its place across the body
	thrustAxis       r3.Vec   // unit, body axes, the line of its thrust
}

// shutDown ends a motor's burn at t; the rest of its propellant stays unburnt.
func (m *motor) shutDown(t sim.Time, full float64) {
	since := t - m.ignitedAt
	_, _, burnt := m.curve.evaluate(m.curve.segment(since), since)
	m.burning, m.propellant = false, max(0, full-burnt)
}

// offAxis says that its thrust has a side force or a moment.
func (m *motor) offAxis() bool {
	return m.y != 0 || m.z != 0 || m.thrustAxis.Y != 0 || m.thrustAxis.Z != 0
}

// curve is a motor's thrust curve: points at whole nanoseconds from 0 to burnout, joined by straight lines,
// with the impulse up to each point.
type curve struct {
	at             []sim.Time // since ignition
	thrust         []float64  // N
	impulse        []float64  // N s
	massPerImpulse float64    // kg of propellant for each N s
}

// newCurve makes the curve, with impulse and burn time multiplied by factors. A motor without impulse gives an
// empty one. A curve that doesn't begin at 0 rises from zero thrust at ignition.
func newCurve(m *sim.Motor, impulse, burn float64) curve {
	var c curve
	points := m.Thrust
	for len(points) > 1 && points[len(points)-2].Thrust <= 0 {
		points = points[:len(points)-1]
	}
	if len(points) < 2 {
		return c
	}
	if points[0].T > 0 {
		c.add(0, 0)
	}
	for _, p := range points {
		c.add(sim.Seconds(float64(p.T*burn)), float64(p.Thrust*(impulse/burn)))
	}
	total := c.impulse[len(c.impulse)-1]
	if !(total > 0) {
		return curve{}
	}
	c.massPerImpulse = m.Propellant / total
	return c
}

// add appends a point; one that isn't later than the last is left out.
func (c *curve) add(at sim.Time, thrust float64) {
	n := len(c.at)
	if n == 0 {
		c.at, c.thrust, c.impulse = append(c.at, at), append(c.thrust, thrust), append(c.impulse, 0)
		return
	}
	if at <= c.at[n-1] {
		return
	}
	half := 0.5 * (at - c.at[n-1]).Seconds()
	more := float64(half * (thrust + c.thrust[n-1]))
	c.at, c.thrust, c.impulse = append(c.at, at), append(c.thrust, thrust), append(c.impulse, c.impulse[n-1]+more)
}

func (c *curve) empty() bool { return len(c.at) == 0 }

// burnout is the length of the burn.
func (c *curve) burnout() sim.Time { return c.at[len(c.at)-1] }

// chuffRamp is how long the thrust of a chuffing motor takes to fall and to rise. Common practice, no source.
const chuffRamp = 10 * sim.Millisecond

// pause interrupts the curve at t for a time; then it goes on where it stopped. The thrust falls and rises
// within chuffRamp. The impulse of the two ramps is added, so the propellant per impulse is corrected to keep
// the propellant's mass.
func (c *curve) pause(t, pause sim.Time) {
	if c.empty() || t <= 0 || t >= c.burnout() || pause <= 0 {
		return
	}
	i := c.segment(t)
	total := c.impulse[len(c.impulse)-1]
	var n curve
	for k := 0; k <= i; k++ {
		n.add(c.at[k], c.thrust[k])
	}
	n.resumeAfter(c, i, t, pause)
	n.massPerImpulse = float64(c.massPerImpulse*total) / n.impulse[len(n.impulse)-1]
	*c = n
}

// resumeAfter adds the rest of a curve from t on segment i, with a pause at t.
func (c *curve) resumeAfter(from *curve, i int, t, pause sim.Time) {
	thrust, _, _ := from.evaluate(i, t)
	slope := min(chuffRamp, pause/3)
	c.add(t, thrust)
	c.add(t+slope, 0)
	c.add(t+pause-slope, 0)
	c.add(t+pause, thrust)
	for k := i + 1; k < len(from.at); k++ {
		c.add(from.at[k]+pause, from.thrust[k])
	}
}

// segment finds the segment that begins at or before t; t is before the burnout.
func (c *curve) segment(t sim.Time) int {
	i := 0
	for i+2 < len(c.at) && t >= c.at[i+1] {
		i++
	}
	return i
}

// evaluate gives thrust (N), its slope (N/s) and the propellant burnt (kg) at t, on segment i.
func (c *curve) evaluate(i int, t sim.Time) (thrust, slope, burnt float64) {
	slope = (c.thrust[i+1] - c.thrust[i]) / (c.at[i+1] - c.at[i]).Seconds()
	s := (t - c.at[i]).Seconds()
	thrust = c.thrust[i] + float64(slope*s)
	burnt = float64(c.massPerImpulse * (c.impulse[i] + float64(0.5*s*(thrust+c.thrust[i]))))
	return thrust, slope, burnt
}

// burn is a burning motor during one step.
type burn struct {
	thrust, slope        float64 // N, N/s
	left, massPerImpulse float64 // kg of propellant at the start, kg burnt for each N s
	grain                grain
	nozzle               float64 // m from the body's front end
	y, z                 float64 // m across the body
	thrustAxis           r3.Vec  // unit, body axes
	exitArea, measuredAt float64 // m2, of the nozzle; Pa, of the air in which the curve was measured
}

// at gives thrust (N) and propellant left (kg).
func (b *burn) at(s float64) (thrust, left float64) {
	thrust = b.thrust + float64(b.slope*s)
	return thrust, b.left - float64(b.massPerImpulse*float64(0.5*s*(thrust+b.thrust)))
}

// pressureGain gives the thrust in N that a motor gains over its curve in air of another pressure: the nozzle's exit
// area times the difference (Sutton, Rocket Propulsion Elements; from memory). A nozzle that doesn't flow full has
// less: where the curve is below exit area times test pressure, the gain falls with it to 0 (common practice, no source).
func (b *burn) pressureGain(s, pressure float64) float64 {
	gain := float64(b.exitArea * (b.measuredAt - pressure))
	thrust, _ := b.at(s)
	if full := float64(b.exitArea * b.measuredAt); thrust < full {
		gain = float64(gain * max(0, thrust/full))
	}
	return gain
}

// addPressureGain adds the gain of all burning motors to the thrust in a flow whose air data are set.
func (b *body) addPressureGain(s float64, fl *flow) {
	pressure := cubic(&fl.cell.pressure, fl.cellFraction)
	for i := range b.burns {
		n := &b.burns[i]
		if n.exitArea > 0 {
			gain := n.pressureGain(s, pressure)
			fl.thrust += float64(gain * n.thrustAxis.X)
			if b.thrustOffAxis {
				fl.addSideThrust(n, gain)
			}
		}
	}
}
