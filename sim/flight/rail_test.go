package flight

import (
	"math"
	"testing"

	"drystage/sim"
	"drystage/sim/r3"

	"github.com/stretchr/testify/assert"
)

// leaning is a dart of 1 kg on a tilted rail of 2 m, without air.
func leaning(tilt, friction float64) *sim.Setup {
	s := dart(1, 0, 0.1, box(60, 3, 0))
	st := &s.Vehicle.Stages[0]
	st.Name, st.Inertia = "dart", sim.Inertia{Axial: 1e-3, Transverse: 0.08}
	s.Vehicle.Rail = sim.Rail{Length: 2, Tilt: tilt, Friction: friction}
	s.Launch = 1
	return s
}

// Constant force along an incline: v = sqrt(2 a L) with a = T/m - g (cos + mu sin) (textbook mechanics).
// Upright, 14.1694531 m/s (mpmath).
func TestRailExitSpeed(t *testing.T) {
	for _, r := range []struct{ tilt, friction float64 }{{0, 0}, {0, 0.3}, {10 * degree, 0}, {10 * degree, 0.2}, {45 * degree, 0.5}} {
		f := plainFlight(0, leaning(r.tilt, r.friction))
		f.AdvanceTo(second)
		a := 60 - standardG*(math.Cos(r.tilt)+r.friction*math.Sin(r.tilt))
		e := f.Summary().Exit
		assert.True(t, e.Left)
		assert.InEpsilon(t, math.Sqrt(4*a), e.Speed, 1e-7, "%+v", r)
		assert.InDelta(t, r.tilt, e.Tilt, 1e-9)
		assert.InEpsilon(t, 60/standardG, e.ThrustWeight, 1e-9)
		assert.Zero(t, e.Rate, "no guides, no tip-off")
		if r.tilt == 0 {
			assert.InDelta(t, 14.1694531, e.Speed, 1e-6)
		}
	}
}

// A body that is held at one point and accelerates along the rail turns about it like an inverted pendulum in an
// accelerating lift: theta” = m l (g sin(theta) + a sin(theta - lean))/(I + m l^2), a the acceleration along the
// rail. The test integrates that equation with constant a.
func TestTipOff(t *testing.T) {
	s := leaning(10*degree, 0)
	s.Vehicle.Rail.Guides = [2]float64{0.4, 0.9}
	s.Vehicle.Stages[0].Mount.Motor.Case = 0
	f := plainFlight(0, s)
	f.AdvanceTo(second)
	e := f.Summary().Exit
	a := 60 - standardG*math.Cos(10*degree)
	begin, end := math.Sqrt(2*1.5/a), math.Sqrt(2*2/a)
	l := 0.4
	theta, rate := 10*degree, 0.0
	const steps = 20000
	h := (end - begin) / steps
	for range steps { // midpoint rule
		push := func(x float64) float64 { return (standardG*math.Sin(x) + a*math.Sin(x-10*degree)) * l / (0.08 + l*l) }
		mid, at := rate+h/2*push(theta), theta+h/2*rate
		theta, rate = theta+h*mid, rate+h*push(at)
	}
	assert.InEpsilon(t, rate, e.Rate, 2e-3, "tip-off rate")
	assert.InDelta(t, theta, e.Tilt, 1e-4)
	assert.Greater(t, e.Rate, 5*degree, "and it can be felt: %v rad/s", e.Rate)
	assert.InEpsilon(t, math.Sqrt(4*a), e.Speed, 5e-3, "hardly slower along the rail")

	f = plainFlight(0, s)
	f.AdvanceTo(sim.Seconds((begin + end) / 2))
	b := &f.bodies[0]
	assert.True(t, b.onAftGuide)
	st := &f.States()[0]
	turn := b.flow.rotation
	point := plus(st.Position, turn.toWorld(r3.Vec{X: st.CG - 0.9}))
	start := plus(scaled(-0.4, b.rail.axis), r3.Vec{})
	off := plus(point, scaled(-1, start))
	off = plus(off, scaled(-dot(off, b.rail.axis), b.rail.axis))
	assert.Less(t, r3.Norm(off), 1e-7, "the aft guide is on the rail's line")
	assert.Zero(t, st.Rates.X, "and the rail keeps it from rolling")
}

// The thrust ends while only the aft guide holds: the body leaves the rail instead of swinging on it.
func TestBurnoutOnTheAftGuide(t *testing.T) {
	s := leaning(10*degree, 0)
	s.Vehicle.Rail.Guides = [2]float64{0.1, 0.95}
	s.Vehicle.Stages[0].Mount.Motor = box(30, 0.36, 0)
	f := plainFlight(0, s)
	f.AdvanceTo(10 * second)
	assert.Equal(t, "launch dart.ignition liftoff dart.burnout rail_exit dart.apogee apogee dart.landing landing", withoutPeak(f))
}

func withoutPeak(f *Flight) string {
	var out string
	for _, e := range f.events {
		if e.Name == sim.EventMaxQ {
			continue
		}
		if out != "" {
			out += " "
		}
		out += e.Name
	}
	return out
}
