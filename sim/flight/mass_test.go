package flight

import (
	"math"
	"testing"

	"drystage/sim"

	"drystage/sim/r3"
	"github.com/stretchr/testify/assert"
)

// burning is a turning dart of 2 kg and 0.1 kg m2 in a world without air and gravity, burning 1 kg in 2 s.
func burning(station, length, diameter float64) *Flight {
	s := dart(2, 0, 0.1, box(500, 2, 1))
	st := &s.Vehicle.Stages[0]
	st.Inertia = sim.Inertia{Axial: 0.01, Transverse: 0.1}
	st.Mount.Station, st.Mount.Motor.Length, st.Mount.Motor.Diameter = station, length, diameter
	f := plainFlight(0, s)
	f.gravity = gravity{}
	f.throw(r3.Vec{Z: 10}, r3.Vec{Y: 0.2, Z: -0.1})
	f.ignite(0, allMotors)
	f.computeStep(&f.bodies[0])
	f.findHorizon()
	return f
}

// Thomson, Introduction to Space Dynamics (1961): I dw/dt = -m'(l^2 - k^2) w, with the distance l of the nozzle from
// the centre of gravity and the radius of gyration k of the propellant about it. With the propellant at the centre of
// gravity, I falls by m' k^2 each second, and w = w0 (I/I0)^((l^2-k^2)/k^2).
func TestJetDamping(t *testing.T) {
	for _, r := range []struct {
		reason           string
		length, diameter float64
	}{
		{"a long motor damps", 0.8, 0.05},
		{"a flat one drives: its moment of inertia falls faster than the jet brakes", 0.05, 0.4},
	} {
		f := burning(0.5-r.length/2, r.length, r.diameter)
		f.AdvanceTo(1900 * millisecond)
		k2 := (3*r.diameter*r.diameter/4 + r.length*r.length) / 12
		l2 := r.length * r.length / 4
		start, now := 0.1+k2, 0.1+k2*0.05
		want := math.Pow(now/start, (l2-k2)/k2)
		rates := f.States()[0].Rates
		assert.InEpsilon(t, 0.2*want, rates.Y, 1e-6, r.reason)
		assert.InEpsilon(t, -0.1*want, rates.Z, 1e-6, r.reason)
	}
}

// With the motor at the rear the centre of gravity moves. The body keeps what angular momentum the jet doesn't carry
// off: d(I w)/dt = -m' l^2 w, integrated here over lumps of mass by Simpson's rule.
func TestJetTakesAngularMomentum(t *testing.T) {
	f := burning(0.7, 0.3, 0.06)
	const end = 1.9
	f.AdvanceTo(sim.Seconds(end))
	at := func(s float64) (inertia, perInertia float64) {
		fuel := 1 - s/2
		cg := (2*0.5 + fuel*0.85) / (2 + fuel)
		inertia = 0.1 + 2*(cg-0.5)*(cg-0.5) + fuel*((3*0.03*0.03+0.3*0.3)/12+(0.85-cg)*(0.85-cg))
		return inertia, 0.5 * (1 - cg) * (1 - cg) / inertia
	}
	const cuts = 1000
	sum := 0.0
	for i := range cuts {
		_, a := at(end * float64(i) / cuts)
		_, b := at(end * (float64(i) + 0.5) / cuts)
		_, c := at(end * float64(i+1) / cuts)
		sum += (a + 4*b + c) / 6 * end / cuts
	}
	start, _ := at(0)
	last, _ := at(end)
	want := start / last * math.Exp(-sum)
	assert.InEpsilon(t, 0.2*want, f.States()[0].Rates.Y, 1e-6)
	assert.Greater(t, math.Abs(want-1), 0.05, "an effect to see")
}
