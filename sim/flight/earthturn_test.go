package flight

import (
	"math"
	"testing"

	"drystage/sim"
	"drystage/sim/r3"

	"github.com/stretchr/testify/assert"
)

// Classical mechanics, first order in the earth's rate: what falls from rest by h in time t lands
// omega cos(latitude) g t^3/3 to the east (100 m at the equator: 2.2 cm, textbook value from memory); what is
// thrown up lands to the west, four times as far as it would fall to the east from its top.
func TestFallingBodiesDriftEast(t *testing.T) {
	fly := func(latitude, height, up float64) (east, seconds float64) {
		s := dart(1, 0.8, 0.08, sim.Motor{})
		f := plainFlight(0, s)
		turn := newGravity(sim.Site{Latitude: latitude})
		f.gravity.north, f.gravity.up = turn.north, turn.up
		f.bodies[0].y[2] = height
		f.throw(r3.Vec{Z: up}, r3.Vec{})
		for !f.Landed() {
			f.AdvanceTo(f.now + second)
		}
		return f.Summary().Landings[0].East, f.Summary().Landings[0].At.Seconds()
	}
	east, _ := fly(0, 100, 0)
	assert.InDelta(t, 0.022, east, 0.0005, "100 m at the equator")
	for _, latitude := range []float64{0, 47 * degree, -47 * degree, 80 * degree} {
		east, seconds := fly(latitude, 2000, 0)
		want := earthRate * math.Cos(latitude) * standardG * math.Pow(seconds, 3) / 3
		assert.InEpsilon(t, want, east, 1e-3, "a fall at %v", latitude)
		half := 200 / standardG
		east, _ = fly(latitude, 0, 200)
		assert.InEpsilon(t, -4*earthRate*math.Cos(latitude)*standardG*math.Pow(half, 3)/3, east, 3e-3, "a throw at %v", latitude)
	}
}

// Moving things turn right on the northern hemisphere and left on the southern, at f = 2 omega sin(latitude);
// at 45 degrees 1.0313e-4 per s (meteorology, from memory).
func TestCoriolisTurns(t *testing.T) {
	for _, c := range []struct {
		latitude float64
		v, want  r3.Vec
		reason   string
	}{
		{45 * degree, r3.Vec{Y: 10}, r3.Vec{X: 1.0313e-3}, "northward turns east"},
		{45 * degree, r3.Vec{X: 10}, r3.Vec{Y: -1.0313e-3, Z: 1.0313e-3}, "eastward turns south, and is lighter"},
		{-45 * degree, r3.Vec{Y: 10}, r3.Vec{X: -1.0313e-3}, "on the southern hemisphere to the left"},
		{0, r3.Vec{Z: 10}, r3.Vec{X: -1.4584e-3}, "upward turns west"},
		{90 * degree, r3.Vec{Z: 10}, r3.Vec{}, "along the axis not at all"},
	} {
		g := newGravity(sim.Site{Latitude: c.latitude})
		g.curvature = 0
		got := g.axes(c.v, 1)
		assert.InDelta(t, 0, r3.Norm(r3.Sub(c.want, got)), 6e-8, c.reason)
		assert.InDelta(t, 0, dot(c.v, got), 1e-15, "it does no work")
	}
}

// turnEarth flies on in pieces of 20 ms without the term in the equations, and after each gives every free
// body the velocity that Coriolis acceleration has given it in that time.
func turnEarth(f *Flight, rate float64) {
	const piece = 20 * millisecond
	s, c := math.Sincos(f.setup.Vehicle.Site.Latitude)
	omega := r3.Vec{Y: rate * c, Z: rate * s}
	f.gravity.north, f.gravity.up = 0, 0
	for !f.Landed() {
		f.AdvanceTo(f.now + piece)
		for i := range f.bodies {
			b := &f.bodies[i]
			if b.mode != free {
				continue
			}
			f.endStepNow(b)
			v := b.y.vec(atVelocity)
			b.y.setVec(atVelocity, r3.Add(v, r3.Scale(-2*piece.Seconds(), r3.Cross(omega, v))))
			b.emptyStep()
			f.computeStep(b)
		}
		f.findHorizon()
	}
}

// The earth's rotation moves a flight of 1 km by as much as an independent computation says, and by what the
// package comment says.
func TestEarthTurnsUnderTheFlight(t *testing.T) {
	still, kicked, f := NewIdeal(dunlin()), NewIdeal(dunlin()), NewIdeal(dunlin())
	turnEarth(still, 0)
	turnEarth(kicked, earthRate)
	f.AdvanceTo(200 * second)
	a, k, b := still.Summary(), kicked.Summary(), f.Summary()
	assert.InDelta(t, k.Extremes.Height, b.Extremes.Height, 0.02, "apogee, by both ways")
	assert.InDelta(t, 0, math.Abs(a.Extremes.Height-b.Extremes.Height)/a.Extremes.Height, 0.001, "below 0.1 %% of the apogee")
	assert.InDelta(t, a.Extremes.HeightAt.Seconds(), b.Extremes.HeightAt.Seconds(), 0.001*a.Extremes.HeightAt.Seconds())
	assert.Greater(t, math.Abs(a.Extremes.Height-b.Extremes.Height), 0.1, "it is there")
	for i := range b.Landings {
		assert.InDelta(t, k.Landings[i].East, b.Landings[i].East, 0.05, "landing, by both ways")
		assert.InDelta(t, k.Landings[i].North, b.Landings[i].North, 0.05)
		moved := math.Hypot(a.Landings[i].East-b.Landings[i].East, a.Landings[i].North-b.Landings[i].North)
		assert.True(t, moved > 0.1 && moved < 1.5, "a metre for a kilometre of height: %v", moved)
	}
	assert.InDelta(t, a.Extremes.Acceleration, b.Extremes.Acceleration, 1e-3, "nobody feels it")
}

// A throw without air over a round earth that doesn't turn is an ellipse (Kepler): with p = h^2/(g R^2), e from the
// energy, the apogee is p/(1-e) - R, and the range 2 R (pi - acos((p/R - 1)/e)). On a flat earth both are shorter.
func TestRoundEarth(t *testing.T) {
	const radius, g = 6.371e6, 9.82
	for _, v := range []r3.Vec{{X: 500, Z: 866}, {X: 300, Y: -400, Z: 600}, {Y: 150, Z: 700}} {
		f := plainFlight(0, dart(1, 0, 0.1, sim.Motor{}))
		f.gravity = gravity{ground: g, first: 2 / radius, twice: 3 / (radius * radius), curvature: 1 / radius}
		f.throw(v, r3.Vec{})
		for !f.Landed() {
			f.AdvanceTo(f.now + second)
		}
		across := math.Hypot(v.X, v.Y)
		p := square(across) / g
		e := math.Sqrt(1 + (dot(v, v)-2*g*radius)*square(across/(g*radius)))
		sum := f.Summary()
		assert.InEpsilon(t, p/(1-e)-radius, sum.Extremes.Height, 2e-5, "%v: apogee", v)
		l := sum.Landings[0]
		assert.InEpsilon(t, 2*radius*(math.Pi-math.Acos((p/radius-1)/e)), l.Distance, 2e-5, "%v: range", v)
		assert.InDelta(t, math.Atan2(v.X, v.Y), math.Remainder(l.Bearing, 2*math.Pi), 1e-9, "%v: straight on", v)
		assert.InEpsilon(t, r3.Norm(v), l.Speed, 1e-6, "%v: as fast as it was thrown", v)
	}
}

// The mean radius of the WGS 84 ellipsoid at 45 degrees, sqrt(M N) of the radii 6367381.81562 m and 6388838.29012 m, and
// the turn of the local axes as the centrifugal acceleration v^2/r.
func TestCurvature(t *testing.T) {
	g := newGravity(sim.Site{Latitude: 45 * degree, Elevation: 1000})
	assert.InDelta(t, math.Sqrt(6367381.81562*6388838.29012)+1000, 1/g.curvature, 1e-3)
	g.north, g.up = 0, 0
	over := g.over(30000)
	assert.InEpsilon(t, 1/(1+30000*g.curvature), over, 1e-6, "the ground below is shorter")
	v := r3.Vec{X: 300, Y: 400, Z: 50}
	a := g.axes(v, over)
	assert.InEpsilon(t, 500*500/(1/g.curvature+30000), a.Z, 1e-6)
	assert.InDelta(t, 0, dot(v, a), 1e-12, "it does no work")
}
