package flight

import (
	"math"

	"drystage/sim"
)

// device is a parachute or streamer in a flight.
type device struct {
	spec          *sim.Device
	trigger       trigger
	lineStretchAt sim.Time // line stretch; sim.Never before
	inflation     sim.Time // until fully open
	opening       int      // in Flight.record.openings
}

// canopy is an open device during one step.
type canopy struct {
	area    float64 // m2, fully open
	x       float64 // fraction of the inflation time that has passed at the step's start
	perS    float64
	growth  int
	over    float64 // m2, 16 times the area by which it overshoots
	full    bool    // it has its steady area
	opening int
}

// overshootTime is how long a canopy overshoots, in filling times. Common practice, no source.
const overshootTime = 0.5

// at gives the drag area in m2, s seconds after the step's start. It grows with a power of time
// (Knacke, Parachute Recovery Systems Design Manual, NWC TP 6575, 1991; from memory), or else as the
// smooth cubic x*x*(3 - 2x); common practice, no source. Once full it overshoots: at its greatest it has the area times
// Knacke's opening force coefficient, so that a canopy that hardly slows its load has that load, and one that has
// slowed it by then has none of it. The overshoot's shape is 16 y^2 (1-y)^2; common practice, no source.
func (c *canopy) at(s float64) float64 {
	if c.full {
		return c.area
	}
	x := c.x + float64(c.perS*s)
	if x >= 1 {
		y := float64((x - 1) * (1 / overshootTime))
		if y >= 1 {
			return c.area
		}
		return c.area + float64(c.over*square(float64(y*(1-y))))
	}
	x = max(x, 0)
	switch c.growth {
	case 0:
		return float64(c.area * float64(x*x) * (3 - float64(2*x)))
	case 1:
		return float64(c.area * x)
	case 2:
		return float64(c.area * float64(x*x))
	}
	return float64(c.area * float64(x*float64(x*x)))
}

// canopy gives the device as it is at t.
func (d *device) canopy(t sim.Time) canopy {
	c := canopy{area: d.spec.Area, growth: d.spec.Growth, opening: d.opening}
	since, steady := t-d.lineStretchAt, d.inflation
	if most := d.spec.Overshoot(); most > 1 {
		c.over = float64(16 * (most - 1) * c.area)
		steady = sim.Seconds(float64((1 + overshootTime) * d.inflation.Seconds()))
	}
	if since >= steady {
		c.full = true
		return c
	}
	c.perS = 1 / d.inflation.Seconds()
	c.x = float64(since.Seconds() * c.perS)
	return c
}

// openDevice computes how a device will open on a body, at its line stretch, and adds it to the record.
func (f *Flight) openDevice(b *body, stage, which int) {
	d := &f.stages[stage].devices[which]
	o := Opening{Stage: stage, Device: which, At: f.now, Speed: math.Sqrt(b.airspeed2(0)), Dynamic: b.dynamicPressure(0)}
	if limit := d.spec.SafeSpeed(); o.Speed > limit {
		f.warnings.addSeparate(sim.CanopySpeed, b.top, f.now, o.Speed, limit)
	}
	d.inflation = d.fillTime(o.Speed)
	o.Filling, o.Snatch = d.inflation, f.snatch(b, stage, &d.spec.Snatch)
	if o.Filling == 0 {
		o.Load, o.LoadAt = float64(o.Dynamic*d.spec.Area), f.now
	}
	f.swings[b.top].open(f, d.spec, b.flow.mass)
	d.opening = len(f.record.openings)
	f.record.openings = append(f.record.openings, o)
	f.record.openingPlaces = append(f.record.openingPlaces, b.y.vec(atPosition))
}

// Limits of the speed used for the fill time, and of the fill time.
const (
	minFillSpeed = 1.0 // m/s
	maxFillTime  = 30.0
)

// fillTime is the time until fully open at a speed: Fill diameters of travel (Knacke, as above).
func (d *device) fillTime(speed float64) sim.Time {
	if d.spec.Fill <= 0 || d.spec.Diameter <= 0 {
		return d.spec.Inflation
	}
	return sim.Seconds(min(maxFillTime, d.spec.Fill*d.spec.Diameter/max(speed, minFillSpeed)))
}

// The model of a body below its devices. Their drag acts through the centre of gravity. The attitude is that
// of a pendulum hung at the nose end: it swings about the direction of the drag at the natural frequency of a
// uniform rod of the body's length under one g, with a fifth of critical damping, and its spin decays with a
// time constant of one second. The load of a hard opening doesn't make the pendulum stiffer, so that steps
// can stay long. As the devices' drag becomes larger than the body's own, this model replaces the airframe's
// moments and side forces. Common practice, no source.
const (
	pendulumDamping = 0.2
	spinDecay       = 1.0 // 1/s
)

// pendulumStiffness gives the square of the pendulum's natural frequency, 3 g/(2 L); rods shorter than 5 cm
// count as 5 cm.
func pendulumStiffness(length float64) float64 { return 1.5 * standardG / max(length, 0.05) }
