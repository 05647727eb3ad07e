package flight

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"drystage/sim"
)

// handled is a rocket that is carried, raised, dropped, knocked twice and rocked by a wind.
func handled() *sim.Setup {
	s := dunlin()
	s.Launch = 16 * sim.Second
	s.Vehicle.Rail.Azimuth = 250 * degree
	s.Wind = sim.Wind{Speed: 9, From: 200 * degree, Height: 10, Exponent: 0.143}
	s.Pad = sim.Pad{
		Carried: sim.Carried{Until: 3 * sim.Second, Pace: 2, Bounce: 3, Sway: 5 * degree},
		Raised:  sim.Span{From: 4 * sim.Second, Until: 7 * sim.Second},
		Drops:   []sim.Drop{{At: 9 * sim.Second, Height: 0.02, Stop: 5 * sim.Millisecond}},
		Knocks:  []sim.Knock{{At: 10 * sim.Second, Speed: 0.4, Length: 10 * sim.Millisecond, Toward: 30 * degree}, {At: 10500 * sim.Millisecond, Speed: 0.2, Length: 30 * sim.Millisecond, Toward: 200 * degree}},
		Rocking: sim.Rocking{Frequency: 3, Damping: 0.04},
	}
	return s
}

// statesOf flies a stage in steps and gives its states.
func statesOf(f *Flight, stage int, from, until, step sim.Time) (list []sim.State) {
	for t := from; t <= until; t += step {
		f.AdvanceTo(t)
		list = append(list, f.States()[stage])
	}
	return list
}

// consistent compares the states of one body, step seconds apart, with each other: positions with velocities, velocities
// with specific forces, attitudes with rates, rates with angular accelerations, by central differences.
func consistent(t *testing.T, f *Flight, list []sim.State, step float64, limit [4]float64) {
	t.Helper()
	var worst [4]float64
	for i := 1; i+1 < len(list); i++ {
		a, s, b := &list[i-1], &list[i], &list[i+1]
		y := vector{6: s.Attitude.Real, 7: s.Attitude.Imag, 8: s.Attitude.Jmag, 9: s.Attitude.Kmag}
		r := y.rotation()
		for k, x := range [...]float64{
			norm3(plus(scaled(0.5/step, plus(b.Position, scaled(-1, a.Position))), scaled(-1, s.Velocity))),
			norm3(plus(scaled(0.5/step, plus(b.Velocity, scaled(-1, a.Velocity))), scaled(-1, plus(r.toWorld(s.Force), upwards(-f.gravity.at(s.Position.Z)))))),
			math.Abs(turnBetween(a, b)/(2*step) - math.Sqrt(dot(s.Rates, s.Rates))),
			norm3(plus(scaled(0.5/step, plus(b.Rates, scaled(-1, a.Rates))), scaled(-1, s.Angular))),
		} {
			worst[k] = max(worst[k], x)
		}
	}
	for k, what := range [...]string{"velocity, m/s", "specific force, m/s2", "rate, rad/s", "angular acceleration, rad/s2"} {
		assert.Less(t, worst[k], limit[k], what)
	}
}

// TestPadMotionIsOneMotion takes derivatives of what the states say, between the instants at which a drop hits its stop
// or lets go.
func TestPadMotionIsOneMotion(t *testing.T) {
	for _, c := range []struct {
		reason      string
		from, until sim.Time
	}{
		{"carried", 0, 3 * sim.Second},
		{"raised", 3 * sim.Second, 7 * sim.Second},
		{"lifted before the drop", 7 * sim.Second, 9 * sim.Second},
		{"falls: 0.02 m take 61 ms", 9001 * sim.Millisecond, 9060 * sim.Millisecond},
		{"rocked", 9080 * sim.Millisecond, 10 * sim.Second},
		{"knocked", 10001 * sim.Millisecond, 10009 * sim.Millisecond},
		{"swings", 10011 * sim.Millisecond, 10499 * sim.Millisecond},
		{"swings and fades", 10531 * sim.Millisecond, 16 * sim.Second},
	} {
		t.Run(c.reason, func(t *testing.T) {
			f := New(handled())
			list := statesOf(f, 0, c.from, c.until, 50*sim.Microsecond)
			consistent(t, f, list, 5e-5, [4]float64{1e-5, 1e-2, 1e-4, 2e-2})
		})
	}
}

func TestHandling(t *testing.T) {
	f := New(handled())
	at := func(seconds float64) *sim.State {
		f.AdvanceTo(sim.Seconds(seconds))
		return &f.States()[0]
	}
	s := at(3.5)
	assert.InDelta(t, 90*degree, s.Tilt(), 1e-9, "lies")
	assert.InDelta(t, 0, s.Force.X, 1e-9, "no weight along the axis")
	assert.Less(t, s.Position.Z, -0.4, "lower than on the rail")
	s = at(7)
	assert.InDelta(t, 3*degree, s.Tilt(), 1e-9, "stands as the rail leans")
	assert.InDelta(t, s.Force.X, f.gravity.at(0)*math.Cos(3*degree), 1e-9)
	assert.Less(t, math.Abs(at(9.03).Force.X), 0.2, "falls freely, but for the wind")
	// v = 9.80 cos 3 deg x 61 ms = 0.60 m/s; pi v/(2 x 5 ms) = 188 m/s2 above gravity
	greatest := 0.0
	for _, s := range statesOf(f, 0, 9055*sim.Millisecond, 9075*sim.Millisecond, 100*sim.Microsecond) {
		greatest = max(greatest, s.Force.X)
	}
	assert.InDelta(t, 188+9.8, greatest, 2, "the stop")
	s = at(16)
	assert.InDelta(t, 3*degree, s.Tilt(), 1e-12)
	assert.Zero(t, s.Rates.X+s.Rates.Y+s.Rates.Z, "still at the launch")
	assert.Zero(t, s.Position.X+s.Position.Y+s.Position.Z)
	f.AdvanceTo(20 * sim.Second)
	assert.True(t, f.hasEvent(sim.EventLiftoff), "and flies")
	assert.Equal(t, "booster.ignition", f.Events()[1].Name, "nothing of it is a liftoff")
}

// TestKnock compares the swing after a blow with the oscillator's equation, integrated in small steps.
func TestKnock(t *testing.T) {
	p := padMotion{spec: &sim.Pad{Rocking: sim.Rocking{Frequency: 3, Damping: 0.04}}, omega: 6 * math.Pi, arm: 0.6}
	k := sim.Knock{Speed: 0.5, Length: 10 * sim.Millisecond}
	const h = 1e-6
	x, v := 0.0, 0.0
	for i := range 600_000 {
		s := float64(i) * h
		push := 0.0
		if s < 0.01 {
			push = math.Pi * 0.5 / (2 * 0.01) / 0.6 / 2 * math.Sin(math.Pi*s/0.01)
		}
		a := push - 2*0.04*p.omega*v - p.omega*p.omega*x
		if i%10_000 == 0 && i > 0 {
			m := p.knock(&k, s)
			require.InDelta(t, x, m.x, 1e-6, "after %v s", s)
			require.InDelta(t, v, m.v, 2e-4, "after %v s", s)
			require.InDelta(t, a, m.a, 5e-2, "after %v s", s)
		}
		v += h * a
		x += h * v
	}
}

// TestRocking compares the rms of the swing with the integral of Dryden's spectrum through the oscillator, which also
// has the slow gusts that the closed form leaves out below half of the resonance.
func TestRocking(t *testing.T) {
	s := handled()
	s.Pad = sim.Pad{Rocking: sim.Rocking{Frequency: 3, Damping: 0.04}}
	s.Launch = 400 * sim.Second
	f := New(s)
	b := &f.bodies[0]
	const height = 0.62
	u, w20 := 9*math.Pow(height/10, 0.143), 9*math.Pow(6.096/10, 0.143)
	level := drydenAt(height, w20, 0)
	moment := 0.5 * f.air.At(0).Density * u * u * 1.2 * 0.054 * 1.24 * height
	omega := 6 * math.Pi
	arm := b.shape.size - b.flow.cg
	stiffness := omega * omega * (b.flow.transverse + b.flow.mass*arm*arm)
	variance := 0.0
	const dw = 0.001
	for w := omega / 2; w < 20*omega; w += dw {
		spectrum := 2 * level.horizontalScale / (math.Pi * u) / (1 + math.Pow(level.horizontalScale*w/u, 2))
		z := 1 - w*w/omega/omega
		variance += spectrum / (z*z + math.Pow(2*0.04*w/omega, 2)) * dw
	}
	want := 2 * moment / stiffness * level.horizontalRMS / u * math.Sqrt(variance)
	rms := 2 * f.pad.rocking[0].size * math.Sqrt(toneCount/2.0)
	assert.InEpsilon(t, want, rms, 0.15)
	sum, n := 0.0, 0.0
	for _, st := range statesOf(f, 0, 0, 398*sim.Second, 20*sim.Millisecond) {
		// the wind goes to bearing 20 degrees: lean along it, from the position of the centre of gravity
		lean := (st.Position.X*math.Sin(20*degree) + st.Position.Y*math.Cos(20*degree)) / arm
		sum, n = sum+lean*lean, n+1
	}
	assert.InEpsilon(t, rms, math.Sqrt(sum/n), 0.15, "of one draw of 400 s")
}

// TestRockingDoesNotDependOnTicks asks for the same instants among others.
func TestRockingDoesNotDependOnTicks(t *testing.T) {
	sameWhateverTicks(t, func() *Flight { return New(handled()) }, 16*sim.Second, 500*sim.Millisecond)
}
