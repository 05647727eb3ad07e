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
		got := g.coriolis(c.v)
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
