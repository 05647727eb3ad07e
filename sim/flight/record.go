package flight

import (
	"math"

	"drystage/sim"
	"drystage/sim/r3"
)

// record is what a Flight keeps for its Summary. It grows only at events, and it doesn't depend on how often
// AdvanceTo is called.
type record struct {
	rows           []Row
	unfilled       int // how many of the last rows have no state yet
	exit           Exit
	openings       []Opening
	openingPlaces  []r3.Vec // where the bodies were at the openings
	landings       []Landing
	speed          peak
	q              peak
	qState         vector    // then
	lastTerms      peakTerms // at the end of the last step
	maxQEmitted    bool      // max_q is an event
	mach           peak
	acceleration   float64
	accelerationAt sim.Time
	height         float64
	heightAt       sim.Time
	margin         float64
	marginAt       sim.Time
}

func newRecord(events, devices, stages int) record {
	return record{
		rows: make([]Row, 0, events), openings: make([]Opening, 0, devices), openingPlaces: make([]r3.Vec, 0, devices),
		landings: make([]Landing, 0, stages), margin: math.NaN(),
	}
}

// event inserts a row in order of time; fill gives it its state.
func (r *record) event(stage int, e sim.Event) {
	i := len(r.rows)
	for i > 0 && r.rows[i-1].At > e.At {
		i--
	}
	r.rows = append(r.rows, Row{})
	copy(r.rows[i+1:], r.rows[i:])
	r.rows[i] = Row{Event: e, Stage: stage, Height: math.NaN()}
	r.unfilled++
}

// fill gives rows of stages top to low that have no state yet this state.
func (r *record) fill(top, low int, st *sim.State) {
	for i := len(r.rows) - 1; i >= 0 && r.unfilled > 0; i-- {
		o := &r.rows[i]
		if !math.IsNaN(o.Height) || o.Stage < top || o.Stage > low {
			continue
		}
		r.unfilled--
		o.Height, o.Climb, o.Speed = st.Height(), st.Velocity.Z, math.Sqrt(dot(st.Velocity, st.Velocity))
		o.Airspeed, o.Mach, o.Dynamic, o.Tilt, o.Alpha = st.Airspeed, st.Mach, st.Dynamic, st.Tilt(), st.Alpha()
	}
}

// recordRailExit notes how the rocket leaves the rail.
func (r *record) recordRailExit(b *body, g float64, at sim.Time) {
	var st sim.State
	b.fillState(0, &st)
	r.exit = Exit{
		Left: true, At: at, Speed: math.Sqrt(dot(st.Velocity, st.Velocity)), Airspeed: st.Airspeed, Alpha: st.Alpha(), Tilt: st.Tilt(),
		Rate:      math.Sqrt(float64(st.Rates.Y*st.Rates.Y) + float64(st.Rates.Z*st.Rates.Z)),
		Stability: b.stability(st.Mach, 0), ThrustWeight: st.Thrust / float64(st.Mass*g),
	}
}

func (r *record) leastMargin(m float64, at sim.Time) {
	if !(m >= r.margin) {
		r.margin, r.marginAt = m, at
	}
}

// extremes gives the extremes so far.
func (r *record) extremes() Extremes {
	return Extremes{
		Height: r.height, HeightAt: r.heightAt, Speed: r.speed.value, SpeedAt: r.speed.at, Mach: r.mach.value, MachAt: r.mach.at,
		Dynamic: r.q.value, QAt: r.q.at, Acceleration: r.acceleration, AccelerationAt: r.accelerationAt, Margin: r.margin, MarginAt: r.marginAt,
	}
}

// fillLast gives the last row, the end of the flight, the state of the last landing.
func (r *record) fillLast() {
	n := len(r.rows) - 1
	if n < 1 || !math.IsNaN(r.rows[n].Height) || math.IsNaN(r.rows[n-1].Height) {
		return
	}
	e := r.rows[n].Event
	r.rows[n] = r.rows[n-1]
	r.rows[n].Event = e
	r.unfilled--
}

// recordTo updates the record with a body's step up to t: extremes, loads, warnings about the model.
func (f *Flight) recordTo(b *body, t sim.Time) {
	from := max(b.recordedTo, b.from)
	if (b.mode != free && b.mode != onRail) || t <= from {
		return
	}
	b.recordedTo = t
	a, z := b.fraction(from), b.fraction(t)
	if b.top == 0 && !b.pastApogee {
		r := &f.record
		r.updatePeaks(b, a, z)
		r.recordAcceleration(b, t)
		if h := b.interpolateOne(z, 2); h > r.height {
			r.height, r.heightAt = h, t
		}
	}
	if len(b.canopies) > 0 {
		f.recordOpeningLoads(b, a, z)
	}
	if b.mode == free {
		f.checkModelLimits(b, from, t)
	}
}

// recordAcceleration updates the greatest specific force with those at the ends of a step.
func (r *record) recordAcceleration(b *body, t sim.Time) {
	at := [...]sim.Time{b.from, b.to}
	for i, k := range [...]*vector{&b.k, &b.endDerivative} {
		if at[i] > t {
			return
		}
		a, x := k.vec(atVelocity), float64(i)
		a.Z += b.gravity.at(b.interpolateOne(x, 2))
		if !b.heldByRail() {
			v := r3.Vec{X: b.interpolateOne(x, 3), Y: b.interpolateOne(x, 4), Z: b.interpolateOne(x, 5)}
			a = plus(a, scaled(-1, b.gravity.axes(v, b.gravity.over(b.interpolateOne(x, 2)))))
		}
		if acceleration := math.Sqrt(dot(a, a)); acceleration > r.acceleration {
			r.acceleration, r.accelerationAt = acceleration, at[i]
		}
	}
}

// airspeed2 is the square of the speed through the air.
func (b *body) airspeed2(x float64) float64 {
	east, north, up := b.wind.at(b.interpolateOne(x, 2))
	vx, vy, vz := b.interpolateOne(x, 3)-east, b.interpolateOne(x, 4)-north, b.interpolateOne(x, 5)-up
	return float64(vx*vx) + float64(vy*vy) + float64(vz*vz)
}

// recordOpeningLoads updates the greatest drag of the devices that are filling between fractions a and z of the
// step.
func (f *Flight) recordOpeningLoads(b *body, a, z float64) {
	for i := range b.canopies {
		c := &b.canopies[i]
		if c.full {
			continue
		}
		o := &f.record.openings[c.opening]
		pull := func(x float64) float64 { return float64(b.dynamicPressure(x) * c.at(float64(b.span*x))) }
		best, value := maximum(pull, a, z, o.Load)
		if value > o.Load {
			o.Load, o.LoadAt = value, b.timeAt(best)
		}
	}
}
