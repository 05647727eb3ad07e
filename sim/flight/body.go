package flight

import (
	"math"

	"drystage/sim"
)

// mode is how a body moves.
type mode uint8

const (
	onPad  mode = iota // held, at rest
	onRail             // along the rail only
	free
	landed // at rest on the ground, for good
)

// body is one rigid body: stages top to low joined together. It is integrated by itself, as far
// ahead of the present as one step reaches; between the step's ends its state is interpolated.
type body struct {
	*surroundings
	top, low int // into Flight.stages
	mode     mode
	left     bool // the rail, at some time
	tipping  bool // on the rail by its aft guide only
	climbing bool // has had upward speed after leaving the rail
	topped   bool // its apogee is behind it

	shape     *shape
	line      int  // of the shape's drag
	lined     bool // it has been set for the next step
	bending   bool // the step comes near an end of the line
	hangStiff float64
	fixed     moments // all that doesn't burn in this step
	burns     []burn
	skewed    bool // some thrust turns the body
	canopies  []canopy
	pulls     []pull
	veers     []veer
	corner    sim.Time // the next corner of a burning motor's curve

	from, to sim.Time // the step
	span     float64  // s, its length
	y        vector   // at its start
	k        vector   // slope at its start
	end      vector   // state at its end
	endSlope vector
	arrival  meeting   // at its end
	dense    [5]vector // coefficients between
	try      float64   // s, for the next step
	sloped   bool      // k is valid
	steps    int
	forced   float64 // the largest error of a step taken all the same, times the tolerance
	flow     flow
	softAt   [2]float64 // flow.soft at the step's ends
	shown    bool       // in Flight.states since its last plan

	gauged sim.Time // the record knows up to here
	whole  bool     // all stages together
	seen   sim.Time // events up to here are found
	found  finding
}

// surroundings are what all bodies fly in.
type surroundings struct {
	air     *Air
	wind    wind
	gravity gravity
	rail    rail

	tolerance float64
	solver    Solver
	ceiling   float64 // m above the pad, of the air that the model knows
}

// load takes stock of a body's mass, burning motors and open devices at the start of a step.
func (f *Flight) load(b *body) {
	t := b.from
	b.fixed = moments{}
	b.burns = b.burns[:0]
	b.canopies, b.pulls = b.canopies[:0], b.pulls[:0]
	b.skewed = false
	b.corner = sim.Never
	front := 0.0
	for i := b.top; i <= b.low; i++ {
		st := &f.stages[i]
		d := st.dry
		d.second += float64(2*front*d.first) + float64(d.mass*float64(front*front))
		d.first += float64(front * d.mass)
		b.fixed.mass += d.mass
		b.fixed.first += d.first
		b.fixed.second += d.second
		b.fixed.axial += d.axial
		g := newGrain(&st.spec.Mount, front)
		for k := range st.motors {
			b.loadMotor(&st.motors[k], &st.spec.Mount, &g, front)
		}
		if t < st.shocked+st.shock.length {
			p := st.shock
			p.since = (t - st.shocked).Seconds()
			b.pulls = append(b.pulls, p)
		}
		for k := range st.devices {
			d := &st.devices[k]
			if d.opened > t {
				continue
			}
			b.canopies = append(b.canopies, d.canopy(t))
			if t < d.opened+d.snatch.length {
				p := d.snatch
				p.since = (t - d.opened).Seconds()
				b.pulls = append(b.pulls, p)
			}
		}
		front += st.spec.Length
	}
	b.weigh(0, &b.flow.properties)
	if !b.sloped && !b.lined {
		b.line = b.shape.line(math.Sqrt(b.pace(0)[1]))
	}
	b.lined = false
}

// loadMotor takes stock of one motor of a mount whose stage begins at front.
func (b *body) loadMotor(o *motor, m *sim.Mount, g *grain, front float64) {
	if !o.burning {
		b.fixed.addGrain(o.propellant, g)
		return
	}
	since := b.from - o.lit
	seg := o.curve.segment(since)
	thrust, slope, burnt := o.curve.line(seg, since)
	b.burns = append(b.burns, burn{
		thrust: thrust, slope: slope, left: m.Motor.Propellant - burnt, perNs: o.curve.perNs,
		grain: *g, nozzle: front + m.Station + m.Motor.Length, y: o.y, z: o.z, along: o.along,
	})
	b.skewed = b.skewed || o.skewed()
	b.corner = min(b.corner, o.lit+o.curve.at[seg+1])
}

// restart ends the running step at t: what was found beyond is forgotten, and the body goes on from
// there with new forces.
func (b *body) restart(t sim.Time) {
	if b.mode == onRail || b.mode == free {
		var y vector
		b.between(t, &y)
		y.normalise()
		b.y, b.end = y, y
	}
	b.from, b.seen = t, t
	b.still()
	b.sloped = false
	b.try = min(b.try, 0.01)
}

// still makes a step of no length.
func (b *body) still() {
	b.to, b.span, b.end = b.from, 0, b.y
	b.dense = [5]vector{b.y}
	b.found = finding{at: sim.Never}
}

// rest puts a body to rest where it is.
func (b *body) rest(m mode) {
	b.mode = m
	for i := atVelocity; i < atAttitude; i++ {
		b.y[i] = 0
	}
	for i := atRates; i < len(b.y); i++ {
		b.y[i] = 0
	}
	b.end = b.y
}
