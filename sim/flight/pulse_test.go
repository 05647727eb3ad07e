package flight

import (
	"encoding/binary"
	"hash/crc32"
	"math"
	"testing"

	"drystage/sim"
	"drystage/sim/r3"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

var firm = sim.Ground{Stiffness: 50000, Friction: 0.5}

// shaken is dunlin with all that pushes for milliseconds.
func shaken() *sim.Setup {
	s := dunlin()
	shock := sim.Pyroshock{Push: 4 * millisecond, Peak: 400, Ring: 200, Decay: 8 * millisecond, Offset: 0.002}
	for i := range s.Vehicle.Stages {
		st := &s.Vehicle.Stages[i]
		for k := range st.Recovery {
			st.Recovery[k].Shock, st.Recovery[k].Snatch = shock, sim.Snatch{Mass: 0.05, Speed: 8, Stiffness: 600}
		}
	}
	s.Vehicle.Stages[1].Separation.Shock = sim.Pyroshock{Push: 50 * millisecond}
	s.Vehicle.Site.Ground = firm
	return s
}

// pair is two stages thrown into empty space, to be parted by a charge.
func pair(speed float64, shock sim.Pyroshock, rates r3.Vec) *Flight {
	s := dunlin()
	s.Launch, s.Wind = sim.Never, sim.Wind{}
	s.Vehicle.Stages[1].Separation = sim.Separation{Mode: sim.ByCharge, Speed: speed, Shock: shock}
	f := plainFlight(0, s)
	f.gravity = gravity{}
	f.throw(r3.Vec{X: 20, Y: -5, Z: 80}, rates)
	f.AdvanceTo(second)
	f.SetOutput(separate, true)
	return f
}

// Newton's third law: what parts two bodies leaves the sum of their momentum as it was, at any instant.
func TestPartingKeepsMomentum(t *testing.T) {
	for _, r := range []struct {
		reason string
		speed  float64
		shock  sim.Pyroshock
	}{
		{"at once", 3, sim.Pyroshock{}},
		{"a charge", 3, sim.Pyroshock{Push: 10 * millisecond, Peak: 1000, Ring: 300, Decay: 10 * millisecond}},
		{"a charge beside the axis", 6, sim.Pyroshock{Push: 10 * millisecond, Offset: 0.01}},
		{"a slow push", 1, sim.Pyroshock{Push: 300 * millisecond}},
	} {
		f := pair(r.speed, r.shock, r3.Vec{X: 1, Y: 0.4, Z: -0.7})
		for _, after := range []sim.Time{0, r.shock.Push / 3, r.shock.Push / 2, r.shock.Push, r.shock.Push + second} {
			f.AdvanceTo(second + after)
			a, b := f.States()[0], f.States()[1]
			sum := r3.Sub(plus(scaled(a.Mass, a.Velocity), scaled(b.Mass, b.Velocity)), scaled(a.Mass+b.Mass, r3.Vec{X: 20, Y: -5, Z: 80}))
			assert.LessOrEqual(t, r3.Norm(sum), 1e-9*r.speed, "%s, %s after", r.reason, after)
		}
		f = pair(r.speed, r.shock, r3.Vec{})
		f.AdvanceTo(3 * second)
		a, b := f.States()[0], f.States()[1]
		assert.InDelta(t, r.speed, r3.Norm(r3.Sub(a.Velocity, b.Velocity)), 1e-8*r.speed, "%s: they part at the speed", r.reason)
		twist := r.shock.Offset * r.speed * a.Mass * b.Mass / (a.Mass + b.Mass)
		assert.InDelta(t, twist, -a.Rates.Z*f.bodies[0].flow.transverse, 1e-9, "%s: the offset turns the upper one", r.reason)
		assert.InDelta(t, twist, b.Rates.Z*f.bodies[1].flow.transverse, 1e-9, "%s: and the lower one the other way", r.reason)
	}
}

// What a charge takes the lines give back: after both, a body in empty space has its velocity again.
func TestChargeAndSnatchCancel(t *testing.T) {
	s := shaken()
	s.Launch = sim.Never
	f := plainFlight(0, s)
	f.gravity = gravity{}
	f.throw(r3.Vec{Z: 30}, r3.Vec{})
	f.AdvanceTo(second)
	f.SetOutput(drogue, true)
	d := &s.Vehicle.Stages[0].Recovery[0]
	fired := second + d.Pulse
	m := f.States()[0].Mass
	kick := 8 * 0.05 / (m + 0.05)
	f.AdvanceTo(fired + d.Shock.Push)
	st := f.States()[0]
	assert.InDelta(t, kick, r3.Norm(r3.Sub(r3.Vec{Z: 30}, st.Velocity)), 1e-9, "the pack's momentum, the other way")
	assert.InDelta(t, d.Shock.Offset*kick*m/f.bodies[0].flow.transverse, st.Rates.Z, 1e-6, "beside the axis")
	assert.InDelta(t, -kick, f.Shocks()[0].Velocity.X, 0.3, "and felt, beneath the ringing")
	f.AdvanceTo(fired + d.Delay + second/2)
	assert.InDelta(t, 0, f.Shocks()[0].Velocity.X, 1e-5, "nothing is left of the three")
	assert.InDelta(t, 0, f.Shocks()[0].Angle.Y, 1e-7)
}

// A structure that rings at first with the peak's acceleration, and moves nothing in the end.
func TestRing(t *testing.T) {
	s := shaken()
	f := plainFlight(0, s)
	f.addRing(&f.bodies[0], &sim.Pyroshock{Peak: 500, Ring: 250, Decay: 10 * millisecond})
	at := func(x sim.Time) r3.Vec { f.AdvanceTo(x); f.statesCurrent = false; return f.Shocks()[0].Velocity }
	v := at(sim.Microsecond)
	assert.InEpsilon(t, 500, v.X/1e-6, 1e-3, "the peak along the axis")
	assert.InEpsilon(t, 250, v.Y/1e-6, 1e-3, "half of it across")
	assert.InDelta(t, 500/(2*math.Pi*250)*math.Exp(-0.1), at(millisecond).X, 1e-9, "a quarter of a period: the damped sine")
	assert.Zero(t, at(second), "over")
	assert.Len(t, f.queue, 1, "without a step of the integrator: only the launch is due")
}

// The lines pull at the front of the stage, along the air's flow when it is fast, and turn the body over.
func TestSnatchTurnsTheBodyOver(t *testing.T) {
	s := dart(2, 0.5, 0.1, sim.Motor{})
	s.Vehicle.Stages[0].Name, s.Vehicle.Stages[0].Length, s.Vehicle.Stages[0].CG = "dart", 1, 0.6
	s.Vehicle.Stages[0].Inertia = sim.Inertia{Axial: 0.01, Transverse: 0.2}
	s.Vehicle.Stages[0].Recovery = []sim.Device{{Name: "main", Area: 1e-6, Snatch: sim.Snatch{Mass: 0.1, Speed: 10, Stiffness: 5000}}}
	f := plainFlight(1.2, s)
	f.bodies[0].shape.parts = nil
	f.bodies[0].y[2] = 1e4
	f.gravity = gravity{}
	f.throw(r3.Vec{X: 40}, r3.Vec{}) // upright, and the air comes from the side
	f.SetOutput(drogue, true)
	f.AdvanceTo(100 * millisecond)
	st := f.States()[0]
	impulse := 0.1 * 2 / 2.1 * 10.0
	q := 0.5 * 1.2 * 40 * 40
	pull := r3.Unit(r3.Vec{X: -40 * q / (q + 20), Z: 10})
	assert.InDelta(t, impulse*-pull.X*0.6/0.2, r3.Norm(st.Rates), 0.05, "0.6 m ahead of the centre of gravity")
	assert.Less(t, math.Abs(st.Rates.X), 1e-9)
	assert.InDelta(t, impulse/2, r3.Norm(f.Shocks()[0].Velocity), 1e-6, "felt")
}

// Flights with pulses have these bits on every processor.
func TestSameBitsWithPulses(t *testing.T) {
	f := New(shaken())
	h := crc32.NewIEEE()
	for _, p := range []press{{at: 9 * second, effect: ignite, on: true}, {at: 20 * second, effect: drogue, on: true}, {at: 21 * second, effect: streamer, on: true}, {at: 120 * second}} {
		for f.now < p.at {
			f.AdvanceTo(f.now + 50*millisecond)
			require.NoError(t, binary.Write(h, binary.LittleEndian, f.States()))
			require.NoError(t, binary.Write(h, binary.LittleEndian, f.Shocks()))
		}
		f.SetOutput(p.effect, p.on)
	}
	require.True(t, f.Landed())
	assert.Equal(t, uint32(0x90336cb9), h.Sum32())
}
