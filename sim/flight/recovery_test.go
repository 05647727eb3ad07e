package flight

import (
	"math"
	"testing"

	"drystage/sim"
	"drystage/sim/r3"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// falling is a dart of mass kg, thrown at a speed with one device that opens at once.
func falling(mass, speed float64, d sim.Device) *Flight {
	s := dart(mass, 0, 0.1, sim.Motor{})
	s.Vehicle.Stages[0].Name = "dart"
	s.Vehicle.Stages[0].Inertia = sim.Inertia{Axial: 0.01, Transverse: 1}
	s.Vehicle.Stages[0].Recovery = []sim.Device{d}
	f := plainFlight(1.225, s)
	f.bodies[0].shape.parts = nil
	f.gravity = gravity{}
	f.bodies[0].y[2] = 1e4
	f.throw(r3.Vec{Z: -speed}, r3.Vec{})
	f.SetOutput(sim.Effect{Kind: sim.Deploy}, true)
	f.AdvanceTo(20 * second)
	return f
}

// Opening load without gravity, drag area growing with the power j of time over the filling time tf: with
// A = 2 m/(rho CdS v tf) the speed is v/(1 + x^(j+1)/(A (j+1))), and the load over the steady drag at line
// stretch is greatest at x = 1 or, before, where x^(j+1) = A j (j+1)/(j+2). Pflanz's method, as the
// handbooks of parachute design (Knacke, NWC TP 6575) give it; derived again here.
func TestOpeningLoad(t *testing.T) {
	for _, r := range []struct {
		reason             string
		mass, speed        float64
		growth             int
		area, diameter, in float64 // m2, m, canopy diameters of travel
	}{
		{"finite mass, solid cloth", 5, 40, 2, 0.6, 1, 8},
		{"finite mass, slotted", 5, 40, 1, 0.6, 1, 14},
		{"heavy: hardly slowed before it is open", 5000, 40, 2, 0.6, 1, 8},
		{"light: all over before it is open", 0.2, 30, 2, 2, 1.5, 8},
		{"cube", 3, 25, 3, 0.6, 1, 8},
	} {
		f := falling(r.mass, r.speed, sim.Device{Name: "main", Area: r.area, Diameter: r.diameter, Fill: r.in, Growth: r.growth})
		s := f.Summary()
		require.Len(t, s.Openings, 1, r.reason)
		o := s.Openings[0]
		tf := r.in * r.diameter / r.speed
		assert.InDelta(t, tf, o.Filling.Seconds(), 1e-8, "%s: filling time n D/v", r.reason)
		assert.InDelta(t, r.speed, o.Speed, 1e-9, r.reason)
		j := float64(r.growth)
		a := 2 * r.mass / (1.225 * r.area * r.speed * tf)
		x := math.Min(1, math.Pow(a*j*(j+1)/(j+2), 1/(j+1)))
		v := 1 / (1 + math.Pow(x, j+1)/(a*(j+1)))
		want := 0.5 * 1.225 * r.speed * r.speed * r.area * math.Pow(x, j) * v * v
		assert.InEpsilon(t, want, o.Load, 1e-6, r.reason)
		if x < 1 {
			assert.InEpsilon(t, x*tf, o.LoadAt.Seconds(), 1e-2, r.reason)
		}
	}
	f := falling(1, 10, sim.Device{Name: "main", Area: 2})
	assert.InDelta(t, 0.5*1.225*100*2, f.Summary().Openings[0].Load, 1e-9, "open at once: all of the steady drag")
}

// Knacke's opening force coefficient (NWC TP 6575; from memory): a canopy that hardly slows its load while it fills has
// Cx times the steady drag; one that slows it before it is full (Cx = 1 there) has the load of Pflanz's method as without.
func TestOvershoot(t *testing.T) {
	d := sim.Device{Name: "main", Area: 0.6, Diameter: 1, Fill: 8, Growth: 2, OpeningForce: 1.7}
	steady := 0.5 * 1.225 * 40 * 40 * 0.6
	for _, r := range []struct {
		reason     string
		mass, load float64
	}{
		{"infinite mass", 1e7, 1.7 * steady},
		{"500 kg: 0.8 % less, by the impulse until then", 500, 1.687 * steady},
	} {
		assert.InEpsilon(t, r.load, falling(r.mass, 40, d).Summary().Openings[0].Load, 1e-3, r.reason)
	}
	light := falling(0.5, 40, d).Summary().Openings[0]
	d.OpeningForce = 0
	without := falling(0.5, 40, d).Summary().Openings[0]
	assert.Less(t, without.LoadAt.Seconds(), 0.9*without.Filling.Seconds(), "slowed before it is full")
	assert.InEpsilon(t, without.Load, light.Load, 1e-9, "finite mass")

	open := device{spec: &sim.Device{Area: 2, Growth: 1, OpeningForce: 1.7}, inflation: second}
	area := func(seconds float64) float64 { c := open.canopy(sim.Seconds(seconds)); return c.at(0) }
	for _, r := range []struct{ after, area float64 }{{0.5, 1}, {1, 2}, {1.25, 3.4}, {1.5, 2}, {1.6, 2}, {9, 2}} {
		assert.InDelta(t, r.area, area(r.after), 1e-9, "after %v s", r.after)
	}
	for x := 0.0; x < 2; x += 0.01 {
		assert.InDelta(t, area(x), area(x+1e-4), 1e-3, "no jump at %v s", x)
		c := open.canopy(sim.Seconds(x))
		assert.InDelta(t, area(x+0.05), c.at(0.05), 1e-9, "within a step from %v s", x)
	}
}

// Line stretch: two masses and a spring. Peak speed*sqrt(k mu) (textbook); the momentum is that of a
// perfectly inelastic meeting, mu*speed; an accelerometer sees peak/mass and the pulse's length.
func TestSnatch(t *testing.T) {
	s := dart(5, 0, 0.1, sim.Motor{})
	s.Vehicle.Stages[0].Name, s.Vehicle.Stages[0].Inertia = "dart", sim.Inertia{Axial: 0.01, Transverse: 1}
	s.Vehicle.Stages[0].Recovery = []sim.Device{{Name: "main", Area: 1, Inflation: second, Snatch: sim.Snatch{Mass: 0.3, Speed: 15, Stiffness: 20000}}}
	f := plainFlight(0, s)
	f.gravity = gravity{}
	f.throw(r3.Vec{Z: 20}, r3.Vec{})
	f.AdvanceTo(second)
	f.SetOutput(sim.Effect{Kind: sim.Deploy}, true)
	mu := 0.3 * 5 / 5.3
	peak := 15 * math.Sqrt(20000*mu)
	length := math.Pi / 2 * math.Sqrt(mu/20000)
	f.AdvanceTo(second + sim.Seconds(length/2))
	st := &f.States()[0]
	assert.InEpsilon(t, peak/5, st.Force.X, 1e-5, "felt at the peak")
	assert.InEpsilon(t, peak, f.Summary().Openings[0].Snatch, 1e-9)
	f.AdvanceTo(second + sim.Seconds(length) + 1)
	assert.InEpsilon(t, 20+mu*15/5, f.States()[0].Velocity.Z, 1e-7, "momentum")
	assert.Zero(t, f.States()[0].Force.X, "and over")
	assert.InDelta(t, 0.0063, length, 0.003, "some milliseconds")

	_, none := springPulse(0.5, 1, 0)
	assert.Zero(t, none, "no stiffness, no snatch")
	hard, short := springPulse(0.01/1.01, 10, 1e9)
	assert.Equal(t, minPulse, short, "never too short for a step")
	assert.InEpsilon(t, 0.01/1.01*10, 2/math.Pi*hard*short.Seconds(), 1e-3, "its momentum kept")
}

// A booster without a chute that tumbles flat comes down at the terminal speed of its side area,
// sqrt(2 m g/(rho Cd d L)), Cd 1.2 times 0.700, the factor of a cylinder of fineness 11.7 (0.683 at 10, 0.758 at 20).
func TestTumblingBooster(t *testing.T) {
	s := dart(0.5, 0.9, 0.06, sim.Motor{})
	s.Vehicle.Stages[0].Name = "dart"
	s.Vehicle.Stages[0].Length, s.Vehicle.Stages[0].CG = 0.7, 0.35
	s.Vehicle.Rail.Tilt = 90 * degree // lies flat
	f := plainFlight(1.225, s)
	f.bodies[0].y[2] = 300
	f.throw(r3.Vec{Z: -5}, r3.Vec{X: 2})
	f.AdvanceTo(200 * second)
	l := f.Summary().Landings[0]
	want := math.Sqrt(2 * 0.5 * standardG / (1.225 * 1.2 * 0.7000 * 0.06 * 0.7))
	assert.InEpsilon(t, want, l.Descent, 2e-4)
	assert.InEpsilon(t, 0.5*0.5*l.Speed*l.Speed, l.Energy, 1e-12)
}
