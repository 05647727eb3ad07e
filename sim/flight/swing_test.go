package flight

import (
	"math"
	"testing"

	"drystage/sim"
	"drystage/sim/r3"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// swinging is dunlin with canopies that swing.
func swinging() *sim.Setup {
	s := dunlin()
	s.Wind = sim.Wind{}
	for i := range s.Vehicle.Stages {
		for k := range s.Vehicle.Stages[i].Recovery {
			s.Vehicle.Stages[i].Recovery[k].Swing = sim.Swing{Angle: 8 * degree, Lines: 3, Spin: 40 * degree, Shake: 0.05}
		}
	}
	return s
}

// timeOf gives the time of an event of an ideal flight.
func timeOf(t *testing.T, s *sim.Setup, event string) sim.Time {
	f := NewIdeal(s)
	f.AdvanceTo(s.Limit)
	at, ok := sim.Anchor{Event: event}.In(f.Events())
	require.True(t, ok, event)
	return at
}

// TestSwingIsOneMotion (whose velocity differs by 2e-4 of itself from the change of the place over the round ground) takes derivatives of what the states say, from before the drogue's line stretch on, in the steady
// descent, and while the main takes over.
func TestSwingIsOneMotion(t *testing.T) {
	s := swinging()
	drogue, main := timeOf(t, s, "sustainer.drogue"), timeOf(t, s, "sustainer.main")
	for _, c := range []struct {
		reason      string
		from, until sim.Time
	}{
		{"the drogue fills", drogue + sim.Second, drogue + 3*sim.Second},
		{"a steady descent", drogue + 20*sim.Second, drogue + 22*sim.Second},
		{"the main takes over", main, main + 3*sim.Second},
		{"below the main", main + 8*sim.Second, main + 10*sim.Second},
	} {
		t.Run(c.reason, func(t *testing.T) {
			f := NewIdeal(s)
			var list []sim.State
			for now := c.from; now < c.until; now += 50 * sim.Microsecond {
				f.AdvanceTo(now)
				b, st := &f.bodies[0], sim.State{}
				b.fillLeaning(b.fraction(now), f.swings[0].lean(now), &st)
				list = append(list, st)
			}
			consistent(t, f, list, 5e-5, [4]float64{2e-3, 3e-3, 1e-5, 1e-3})
		})
	}
}

// TestSwingAddsUp sums up what an accelerometer feels in ticks of 5 ms and compares it with the change of the velocity,
// from the drogue's line stretch to far below the main.
func TestSwingAddsUp(t *testing.T) {
	s := swinging()
	from, main := timeOf(t, s, "sustainer.drogue")+sim.Second, timeOf(t, s, "sustainer.main")
	f := NewIdeal(s)
	list := statesOf(f, 0, from, main+5*sim.Second, 5*sim.Millisecond)
	at := func(st *sim.State) r3.Vec {
		y := vector{6: st.Attitude.Real, 7: st.Attitude.Imag, 8: st.Attitude.Jmag, 9: st.Attitude.Kmag}
		r := y.rotation()
		return plus(r.toWorld(st.Force), plus(upwards(-f.gravity.at(st.Position.Z)), f.gravity.axes(st.Velocity, f.gravity.over(st.Position.Z))))
	}
	sum, worst := list[0].Velocity, 0.0
	for i := 1; i < len(list); i++ {
		sum = plus(sum, scaled(0.5*5e-3, plus(at(&list[i-1]), at(&list[i]))))
		worst = max(worst, norm3(plus(sum, scaled(-1, list[i].Velocity))))
	}
	// 0.06 m/s2 of noise at 200 Hz sum up to 0.06 x root(5 ms x the time)
	assert.Less(t, worst, 0.06*math.Sqrt(5e-3*(main-from).Seconds()))
}

// TestSwingHasItsSize compares what a body does under a drogue, flown from 3 km for long enough, with what was asked for.
func TestSwingHasItsSize(t *testing.T) {
	s := swinging()
	s.Limit = 4000 * sim.Second
	sum, n, shake, spin := 0.0, 0.0, 0.0, 0.0
	for seed := range uint64(40) {
		s.Seed = seed
		f := NewIdeal(s)
		f.AdvanceTo(30 * sim.Second)
		for _, st := range statesOf(f, 0, 40*sim.Second, 58*sim.Second, 100*sim.Millisecond) {
			assert.False(t, st.Landed)
			sum, n = sum+st.Tilt()*st.Tilt(), n+1
			spin += st.Rates.X * st.Rates.X
			shake += (st.Force.X - f.gravity.at(0)) * (st.Force.X - f.gravity.at(0))
		}
	}
	// the tilt has two independent components
	assert.InEpsilon(t, 8*degree*math.Sqrt2, math.Sqrt(sum/n), 0.15)
	assert.InEpsilon(t, 40*degree, math.Sqrt(spin/n), 0.25, "of 40 draws")
	t.Log(math.Sqrt(sum/n)/degree, math.Sqrt(spin/n)/degree, math.Sqrt(shake/n))
	assert.InDelta(t, 0.05*9.81, math.Sqrt(shake/n), 0.25, "the shake, and the centripetal part of the swing")
}

// TestSwingDoesNotDependOnTicks asks for the same instants among others.
func TestSwingDoesNotDependOnTicks(t *testing.T) {
	sameWhateverTicks(t, func() *Flight { return NewIdeal(swinging()) }, 110*sim.Second, 50*sim.Millisecond)
}

// TestSwingLeavesTheFlight compares the events of a flight with and without it.
func TestSwingLeavesTheFlight(t *testing.T) {
	calm := swinging()
	for i := range calm.Vehicle.Stages {
		for k := range calm.Vehicle.Stages[i].Recovery {
			calm.Vehicle.Stages[i].Recovery[k].Swing = sim.Swing{}
		}
	}
	a, b := NewIdeal(calm), NewIdeal(swinging())
	for now := sim.Time(0); now < 200*sim.Second; now += 50 * sim.Millisecond {
		a.AdvanceTo(now)
		b.AdvanceTo(now)
		b.States()
	}
	assert.Equal(t, a.Events(), b.Events())
	assert.True(t, b.Landed())
}

// sameWhateverTicks wants the same states at some instants from a flight that is asked for each 5 ms too.
func sameWhateverTicks(t *testing.T, begin func() *Flight, end, every sim.Time) {
	a, b := begin(), begin()
	for now := sim.Time(0); now < end; now += 5 * sim.Millisecond {
		b.AdvanceTo(now)
		b.States()
		if now%every == 0 {
			a.AdvanceTo(now)
			require.Equal(t, a.States(), b.States(), "%v", now)
		}
	}
}
