package flight

import (
	"math"
	"testing"

	"drystage/sim"
	"drystage/sim/r3"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/num/quat"
	gonum "gonum.org/v1/gonum/spatial/r3"
)

// twoFlights flies a setup without and with a fault, in the world of the closed forms.
func twoFlights(density float64, make func() *sim.Setup, fault sim.Fault) (plain, faulty *Flight) {
	s := make()
	s.Faults = []sim.Fault{fault}
	return plainFlight(density, make()), plainFlight(density, s)
}

// same wants both flights to be the same at an instant, but for where their steps end.
func same(t *testing.T, a, b *Flight, at sim.Time, reason string) {
	a.AdvanceTo(at)
	b.AdvanceTo(at)
	for i, w := range a.States() {
		g := &b.States()[i]
		off := r3.Norm(r3.Sub(w.Position, g.Position)) + r3.Norm(r3.Sub(w.Velocity, g.Velocity)) + r3.Norm(r3.Sub(w.Rates, g.Rates)) +
			r3.Norm(r3.Sub(w.Force, g.Force)) + math.Abs(w.Mass-g.Mass) + math.Abs(w.Tilt()-g.Tilt())
		require.InDelta(t, 0, off, 1e-8, "%s at %s", reason, at)
	}
}

func lit(n int) func() *sim.Setup {
	return func() *sim.Setup {
		s := cluster(n)
		s.Launch = 1
		return s
	}
}

// A motor that chuffs: off at 0.5 s for 1 s, then on where it stopped. No propellant burns while it is off.
func TestChuff(t *testing.T) {
	a, b := twoFlights(0, lit(1), sim.Fault{Kind: sim.Chuff, From: sim.Anchor{Event: "dart.ignition", Offset: 500 * millisecond}, Duration: second})
	same(t, a, b, 499*millisecond, "before it")
	const left = 0.0075 * (1 - 0.1/30.2) // of 10 g, after a quarter of the burn and a slope of 0.1 N s out of 30.2 N s
	for _, r := range []struct {
		reason string
		at     sim.Time
		thrust float64
	}{
		{"burns", 499 * millisecond, 20}, {"is out", 520 * millisecond, 0}, {"still", 1480 * millisecond, 0}, {"again", 1510 * millisecond, 20}, {"to its end", 2990 * millisecond, 20}, {"out for good", 3001 * millisecond, 0},
	} {
		b.AdvanceTo(r.at)
		st := &b.States()[0]
		assert.InDelta(t, r.thrust, st.Thrust, 1e-9, r.reason)
		if r.at == 520*millisecond || r.at == 1480*millisecond {
			assert.InDelta(t, 1+left, st.Mass, 1e-8, "a pause burns nothing, but for its slopes")
		}
	}
	assert.InDelta(t, 3, b.at("dart.burnout"), 1e-5)
	assert.InDelta(t, 1, b.States()[0].Mass, 1e-12, "all is burnt")
	assert.Equal(t, uint64(1), b.FaultActivity())
	// The slopes of 10 ms each add half of 20 N for 20 ms to 40 N s; in space, speed is impulse over mass.
	a.AdvanceTo(4 * second)
	b.AdvanceTo(4 * second)
	assert.InEpsilon(t, 40.2/40, (b.States()[0].Velocity.Z+4*standardG)/(a.States()[0].Velocity.Z+4*standardG), 2e-3, "no impulse is lost")
}

// It repeats, leaves the other motors of a cluster alone, and has no effect on a motor that doesn't burn.
func TestChuffOfWhat(t *testing.T) {
	for _, r := range []struct {
		reason  string
		fault   sim.Fault
		at      sim.Time
		thrust  float64
		burnout float64
		came    bool
	}{
		{"three times", sim.Fault{Times: 3, Every: 300 * millisecond, Duration: 100 * millisecond, From: sim.Anchor{Event: "dart.ignition", Offset: 200 * millisecond}}, 850 * millisecond, 0, 2.3, true},
		{"between them", sim.Fault{Times: 3, Every: 300 * millisecond, Duration: 100 * millisecond, From: sim.Anchor{Event: "dart.ignition", Offset: 200 * millisecond}}, 650 * millisecond, 60, 2.3, true},
		{"one of three", sim.Fault{Motor: 2, Duration: 500 * millisecond, From: sim.Anchor{Event: "dart.ignition", Offset: second}}, 1200 * millisecond, 40, 2.5, true},
		{"from its first instant", sim.Fault{Duration: 500 * millisecond, From: sim.Anchor{Event: "dart.ignition"}}, 300 * millisecond, 0, 2.5, true},
		{"after burnout", sim.Fault{Duration: 500 * millisecond, From: sim.Anchor{Event: "dart.burnout"}}, 300 * millisecond, 60, 2, false},
		{"no time at all", sim.Fault{From: sim.Anchor{Event: "dart.ignition", Offset: second}}, 1200 * millisecond, 60, 2, false},
	} {
		r.fault.Kind = sim.Chuff
		_, f := twoFlights(0, lit(3), r.fault)
		f.AdvanceTo(r.at)
		assert.InDelta(t, r.thrust, f.States()[0].Thrust, 1e-6, r.reason)
		f.AdvanceTo(4 * second)
		assert.InDelta(t, r.burnout, f.at("dart.burnout"), 1e-5, r.reason)
		assert.InDelta(t, 1, f.States()[0].Mass, 1e-12, r.reason)
		assert.Equal(t, r.came, f.FaultActivity() == 1, r.reason)
	}
}

func TestMotorErrors(t *testing.T) {
	for _, r := range []struct {
		reason          string
		fault           sim.Fault
		thrust, burnout float64
		mass            float64 // at half a second
		came            bool
	}{
		{"a tenth less impulse: less thrust, same time, propellant as fast", sim.Fault{Kind: sim.ImpulseError, Value: -0.1}, 54, 2, 1.0225, true},
		{"a quarter longer: less thrust, more time, propellant slower", sim.Fault{Kind: sim.BurnTimeError, Value: 0.25}, 48, 2.5, 1.024, true},
		{"one of three", sim.Fault{Kind: sim.ImpulseError, Motor: 3, Value: 0.5}, 70, 2, 1.0225, true},
		{"over before it lights", sim.Fault{Kind: sim.ImpulseError, Value: 0.5, Duration: 1}, 60, 2, 1.0225, false},
		{"begun after it lit", sim.Fault{Kind: sim.ImpulseError, Value: 0.5, From: sim.Anchor{Event: "dart.ignition", Offset: second}}, 60, 2, 1.0225, false},
		{"by nothing", sim.Fault{Kind: sim.BurnTimeError}, 60, 2, 1.0225, false},
		{"at most a half", sim.Fault{Kind: sim.ImpulseError, Value: -7}, 30, 2, 1.0225, true},
	} {
		_, f := twoFlights(0, func() *sim.Setup {
			s := cluster(3)
			s.Launch = 2
			return s
		}, r.fault)
		f.AdvanceTo(500 * millisecond)
		assert.InDelta(t, r.thrust, f.States()[0].Thrust, 1e-3, r.reason)
		assert.InDelta(t, r.mass, f.States()[0].Mass, 1e-5, r.reason)
		f.AdvanceTo(4 * second)
		assert.InDelta(t, r.burnout, f.at("dart.burnout"), 1e-5, r.reason)
		assert.InDelta(t, 1, f.States()[0].Mass, 1e-12, "%s: all is burnt", r.reason)
		assert.Equal(t, r.came, f.FaultActivity() == 1, r.reason)
	}
}

// thrown flies without and with a fault from a throw into space.
func thrown(fault sim.Fault, velocity, rates r3.Vec) (plain, faulty *Flight) {
	a, b := twoFlights(0, func() *sim.Setup {
		s := cluster(1)
		s.Launch = sim.Never
		return s
	}, fault)
	for _, f := range []*Flight{a, b} {
		f.throw(velocity, rates)
	}
	return a, b
}

// The tip-off fault changes the rate about its axis at once, and nothing else.
func TestTipOffFault(t *testing.T) {
	for axis := sim.AxisX; axis <= sim.AxisZ; axis++ {
		a, b := thrown(sim.Fault{Kind: sim.TipOff, Axis: axis, Value: 0.5, From: sim.Anchor{Offset: second}}, r3.Vec{Z: 50}, r3.Vec{})
		same(t, a, b, second-1, "before it")
		a.AdvanceTo(second)
		b.AdvanceTo(second)
		want := a.States()[0]
		*[]*float64{&want.Rates.X, &want.Rates.Y, &want.Rates.Z}[axis-sim.AxisX] += 0.5
		got := b.States()[0]
		assert.InDelta(t, 0, r3.Norm(r3.Sub(want.Rates, got.Rates)), 1e-12, axis.String())
		assert.InDelta(t, 0, r3.Norm(r3.Sub(want.Velocity, got.Velocity)), 1e-9, "momentum stays")
		assert.InDelta(t, 0, r3.Norm(r3.Sub(want.Position, got.Position)), 1e-9)
		assert.InDelta(t, want.Tilt(), got.Tilt(), 1e-9)
		a.AdvanceTo(2 * second)
		b.AdvanceTo(2 * second)
		nose := func(f *Flight) r3.Vec { return toWorld(f.States()[0].Attitude, r3.Vec{X: 1}) }
		turned := math.Acos(min(1, r3.Dot(nose(a), nose(b))))
		if axis == sim.AxisX {
			assert.InDelta(t, 0, turned, 1e-6, "a roll leaves the nose where it is")
		} else {
			assert.InDelta(t, 0.5, turned, 1e-6, "half a radian in a second")
		}
		assert.InDelta(t, a.States()[0].Position.Z, b.States()[0].Position.Z, 1e-9)
		assert.Equal(t, uint64(1), b.FaultActivity())
	}
	s := dunlin()
	s.Faults = []sim.Fault{{Kind: sim.TipOff, Stage: 1, Axis: sim.AxisY, Value: 0.5, From: sim.Anchor{Event: "liftoff"}}}
	f := fly(s, 6*second)
	assert.Zero(t, f.FaultActivity(), "on the rail nothing turns")
	s.Faults[0].From.Event = "rail_exit"
	f = fly(s, 6*second)
	assert.NotZero(t, f.FaultActivity(), "free of it, at once")
}

// The body and its velocity turn by the angle, about one level axis, away from vertical. The gyro measures the
// turn, and the accelerometer the force that turns the velocity.
func TestHighTilt(t *testing.T) {
	const by = 40 * degree
	fault := sim.Fault{Kind: sim.HighTilt, Value: by, Duration: second, From: sim.Anchor{Offset: second}}
	a, b := thrown(fault, r3.Vec{X: 3, Y: 4, Z: 80}, r3.Vec{X: 0.3})
	for _, f := range []*Flight{a, b} {
		f.gravity = gravity{}
	}
	same(t, a, b, second-1, "before it")
	before := b.States()[0]
	const step = sim.Millisecond / 2
	var last sim.State
	felt, turned := r3.Vec{}, 0.0
	for now := second; now <= 2*second; now += step {
		b.AdvanceTo(now)
		st := b.States()[0]
		if now > second {
			// Differences between states against the derivatives that State gives.
			slope := r3.Scale(1/step.Seconds(), r3.Sub(st.Velocity, last.Velocity))
			mid := r3.Scale(0.5, r3.Add(toWorld(last.Attitude, last.Force), toWorld(st.Attitude, st.Force)))
			require.InDelta(t, 0, r3.Norm(r3.Sub(slope, mid)), 2e-3, "force at %s", now)
			change := r3.Scale(1/step.Seconds(), r3.Sub(st.Rates, last.Rates))
			require.InDelta(t, 0, r3.Norm(r3.Sub(change, r3.Scale(0.5, r3.Add(st.Angular, last.Angular)))), 2e-3, "angular acceleration at %s", now)
			felt = r3.Add(felt, r3.Scale(step.Seconds(), mid))
			turned += step.Seconds() * 0.5 * (math.Hypot(st.Rates.Y, st.Rates.Z) + math.Hypot(last.Rates.Y, last.Rates.Z))
		}
		last = st
	}
	assert.InDelta(t, by, turned, 1e-6, "what a gyro adds up")
	assert.InDelta(t, before.Tilt()+by, last.Tilt(), 1e-7)
	assert.InDelta(t, r3.Norm(before.Velocity), r3.Norm(last.Velocity), 1e-6, "no speed is won or lost")
	assert.InDelta(t, by, math.Acos(gonum.Cos(gonum.Vec(before.Velocity), gonum.Vec(last.Velocity))), 0.02, "the path turns along; exactly so in the plane of the lean")
	assert.InDelta(t, 0.3, last.Rates.X, 1e-9, "its own spin stays")
	assert.InDelta(t, 0, math.Hypot(last.Rates.Y, last.Rates.Z), 1e-9, "and the turn is over")
	assert.InDelta(t, 0, r3.Norm(r3.Sub(r3.Sub(last.Velocity, before.Velocity), felt)), 1e-4, "what an accelerometer adds up")
	b.AdvanceTo(3 * second)
	assert.Equal(t, last.Velocity, b.States()[0].Velocity, "nothing afterwards")
	assert.Equal(t, uint64(1), b.FaultActivity())
}

func TestHighTiltOfOtherBodies(t *testing.T) {
	fault := sim.Fault{Kind: sim.HighTilt, Value: 30 * degree, Duration: second, From: sim.Anchor{Offset: second}}
	_, b := thrown(fault, r3.Vec{Z: 80}, r3.Vec{})
	b.bodies[0].rail.attitude = newRail(&sim.Rail{}).attitude
	b.AdvanceTo(2 * second)
	assert.InDelta(t, 30*degree, b.States()[0].Tilt(), 1e-7, "upright, it falls to where its z axis points")
	s := dunlin()
	s.Faults = []sim.Fault{fault}
	assert.Zero(t, fly(s, 4*second).FaultActivity(), "not on the pad")
	// Stages that separate while they turn both continue to turn.
	s.Faults = []sim.Fault{{Kind: sim.HighTilt, Stage: 1, Value: 30 * degree, Duration: second, From: sim.Anchor{Event: "separation", Offset: -500 * millisecond}}}
	s.Rehearsed = []sim.Event{{Name: "separation", At: 7450 * millisecond}}
	f := fly(s, 7500*millisecond)
	for _, st := range f.States() {
		assert.Greater(t, r3.Norm(st.Rates), 0.9, "30 degrees in a second, just past its middle")
	}
}

// A nose of mass m that flies off at u takes its mass and momentum with it (closed form: the body loses m u / M
// of its speed), and leaves the drag of a flat front.
func TestNoseLost(t *testing.T) {
	const m, u = 0.2, 6.0
	fault := sim.Fault{Kind: sim.NoseLost, Value: m, Speed: u, From: sim.Anchor{Offset: second}}
	a, b := thrown(fault, r3.Vec{Z: 80}, r3.Vec{})
	same(t, a, b, second-1, "before it")
	peak := 0.0
	for now := second; now <= second+12*millisecond; now += millisecond / 4 {
		b.AdvanceTo(now)
		peak = max(peak, -b.States()[0].Force.X)
	}
	a.AdvanceTo(second + 12*millisecond)
	w, g := &a.States()[0], &b.States()[0]
	whole := w.Mass
	assert.InDelta(t, whole-m, g.Mass, 1e-12)
	assert.InDelta(t, whole*w.CG/(whole-m), g.CG, 1e-12, "a dart without a nose loses it at its front end")
	along := toWorld(w.Attitude, r3.Vec{X: 1})
	lost := r3.Dot(r3.Sub(w.Velocity, g.Velocity), along)
	assert.InDelta(t, u*m/whole, lost, 1e-6)
	assert.InEpsilon(t, math.Pi/2*lost/0.010, peak, 1e-3, "half a sine wave of 10 ms")
	assert.InDelta(t, 0, r3.Norm(g.Rates), 1e-12, "along the axis: nothing turns")
	assert.Equal(t, uint64(1), b.FaultActivity())

	air := func(nose float64) (drag float64, f *Flight) {
		s := dart(1, 0.5, 0.1, sim.Motor{})
		s.Launch = sim.Never
		s.Vehicle.Stages[0].Nose = sim.Nose{Length: nose}
		s.Faults = []sim.Fault{{Kind: sim.NoseLost, Value: 1e-9, From: sim.Anchor{Offset: 1}}}
		f = plainFlight(1.2, s)
		f.throw(r3.Vec{Z: 20}, r3.Vec{})
		f.AdvanceTo(2)
		return -f.States()[0].Force.X, f
	}
	area := math.Pi / 4 * 0.01
	drag, _ := air(0.2)
	assert.InEpsilon(t, 0.5*1.2*400*area*(0.5+flatFace), drag, 1e-6, "Cd of the flat front on top")
	drag, _ = air(0)
	assert.InEpsilon(t, 0.5*1.2*400*area*0.5, drag, 1e-6, "one that was flat before")
}

// With the shipped vehicle: the setup of the flight isn't changed, nor is the lower stage, and the rest descends
// slower since it weighs less.
func TestNoseLostOfAStage(t *testing.T) {
	s := dunlin()
	s.Vehicle.Stages[0].Drag.Points = []sim.DragPoint{{Mach: 0, Cd: 0.5}, {Mach: 1, Cd: 0.6, PowerOn: 0.55}}
	whole := fly(s, 25*second, press{16 * second, drogue, true})
	s.Faults = []sim.Fault{{Kind: sim.NoseLost, Value: 0.15, Speed: 5, From: sim.Anchor{Event: "apogee"}}}
	f := fly(s, 25*second, press{16 * second, drogue, true})
	assert.Equal(t, whole.at("apogee"), f.at("apogee"))
	assert.NotZero(t, f.FaultActivity())
	assert.Equal(t, 0.16, s.Vehicle.Stages[0].Nose.Length)
	assert.Equal(t, 0.55, s.Vehicle.Stages[0].Drag.Points[1].PowerOn)
	a, b := &whole.States()[1], &f.States()[1]
	assert.InDelta(t, 0, r3.Norm(r3.Sub(a.Position, b.Position)), 1e-5, "the booster is another body, but for its steps")
	assert.Equal(t, a.Mass, b.Mass)
	ratio := f.States()[0].Velocity.Z / whole.States()[0].Velocity.Z
	assert.Less(t, ratio, 0.95, "it falls slower under its drogue")
	for _, wrong := range []sim.Fault{{Stage: 1, Value: 0.1, From: sim.Anchor{Event: "rail_exit"}}, {Value: 0, From: sim.Anchor{Event: "apogee"}}, {Value: 0.1, From: sim.Anchor{Offset: second}}} {
		wrong.Kind = sim.NoseLost
		s.Faults = []sim.Fault{wrong}
		assert.Zero(t, fly(s, 30*second).FaultActivity(), "%+v", wrong)
	}
}

// toWorld turns body axes into world axes, by gonum.
func toWorld(attitude quat.Number, v r3.Vec) r3.Vec {
	return r3.Vec(gonum.Rotation(attitude).Rotate(gonum.Vec(v)))
}
