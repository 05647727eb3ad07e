package examine

import (
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"drystage/harness/logs/logtest"
	"drystage/sim"
)

// draggy is a light single stage that burns out at about 180 m/s, where its drag brakes it by about
// 100 m/s2; light is the same with a tenth of the drag.
func draggy(t testing.TB, cd float64) sim.Setup {
	s := loaded(t, "")
	v := sim.Vehicle{Name: "thistledown", Rail: s.Vehicle.Rail, Site: s.Vehicle.Site}
	st := s.Vehicle.Stages[0]
	st.Mass, st.CG = 0.35, 0.3
	st.Drag = sim.Drag{Cd: cd}
	m := sim.Motor{Name: "short", Propellant: 0.08, Case: 0.05, Length: 0.1, Diameter: 0.038,
		Thrust: []sim.ThrustPoint{{T: 0, Thrust: 0}, {T: 0.01, Thrust: 140}, {T: 0.75, Thrust: 140}, {T: 0.76, Thrust: 0}}}
	if cd > 0.5 {
		for i := range m.Thrust {
			m.Thrust[i].Thrust *= 0.88
		}
	}
	st.Mount.Motor, st.Mount.Lit = m, sim.Anchor{Event: "launch"}
	st.Separation = sim.Separation{}
	v.Stages = []sim.Stage{st}
	s.Vehicle = v
	s.Wind = sim.Wind{}
	s.Bays[0].Sensors.Accel.Range = 500
	return s
}

// TestDragOrSensor: the same deceleration of 100 m/s2, once by drag at burn-out, once made up by the
// sensor of a slender rocket: told apart, with the numbers.
func TestDragOrSensor(t *testing.T) {
	real := fly(draggy(t, 0.93))
	made := fly(draggy(t, 0.35))
	burnout := func(f *flown) (sim.Time, float64) {
		at, ok := happened(f.events, "sustainer.burnout")
		require.True(t, ok)
		for i := range f.times {
			if f.times[i] >= at {
				return at, f.states[i].Airspeed
			}
		}
		return 0, 0
	}
	_, v := burnout(&real)
	deepest := 0.0
	for i := range real.states {
		deepest = math.Min(deepest, real.states[i].Force.X)
	}
	t.Logf("the draggy one burns out at %.0f m/s and brakes by %.0f m/s2", v, -deepest)
	require.InDelta(t, 180, v, 15)
	require.InDelta(t, -100, deepest, 15)
	at, slow := burnout(&made)
	t.Logf("the slender one burns out at %.0f m/s", slow)
	spike := sim.Fault{Kind: sim.Spike, Part: sim.PartAccel, Axis: sim.AxisX, From: sim.Anchor{Offset: at + 40*sim.Millisecond}, Duration: 150 * sim.Millisecond, Value: deepest}
	for _, c := range []struct {
		reason string
		gnss   bool
	}{{"with GNSS", true}, {"with a barometer only", false}} {
		t.Run(c.reason, func(t *testing.T) {
			for _, f := range []*flown{&real, &made} {
				if !c.gnss {
					f.setup.Bays[0].Sensors.GNSS.Rate = 0
				}
			}
			r, err := Examine(real.log(t, 5), Options{})
			require.NoError(t, err)
			f := hardest(t, r)
			logFinding(t, "real", f)
			assert.Equal(t, Deceleration, f.Kind)
			assert.Equal(t, Drag, f.Explanations[0].Cause)
			assert.Greater(t, f.Explanations[0].Share, 0.9)
			assert.InDelta(t, -deepest, -f.Size, 3)

			r, err = Examine(made.log(t, 5, spike), Options{})
			require.NoError(t, err)
			f = hardest(t, r)
			logFinding(t, "made up", f)
			assert.Equal(t, Spike, f.Kind)
			assert.Equal(t, Sensor, f.Explanations[0].Cause)
			assert.Greater(t, f.Explanations[0].Share, 0.9)
			assert.InDelta(t, deepest, f.Size, 5)
			assert.InDelta(t, 0.15, f.Until-f.From, 0.02)
			assert.NotEmpty(t, f.Explanations[0].For)
		})
	}
}

// TestABrakeBesideTheBurnout: where the burnout is so near that no speed before the deceleration can be taken alone, where
// the two jumps of a short one look rough, and where the vibration of the burn is as large as it, the flight afterwards
// tells a brake from a sensor.
func TestABrakeBesideTheBurnout(t *testing.T) {
	for _, c := range []struct {
		seed uint64
		i, n int
	}{{40000, 0, 24}, {40000, 11, 24}, {64000, 0, 100}, {112000, 0, 100}} {
		for k := range 2 {
			r, after := pairRecipe(c.seed, c.i, c.n, k)
			l := logtest.Fly(r)
			at, _ := l.Truth.When("burnout", 1)
			res, err := Examine(foreignLog(t, l), Options{})
			require.NoError(t, err)
			real, belief, found := saidOf(res, at+after)
			assert.True(t, found, list(res.Findings))
			assert.Equal(t, k == 0, real, list(res.Findings))
			assert.Greater(t, belief, 0.9)
		}
	}
}

func hardest(t testing.TB, r *Result) Finding {
	best := Finding{}
	for _, f := range r.Findings {
		if f.Part == sim.PartAccel && f.Size < best.Size {
			best = f
		}
	}
	require.Less(t, best.Size, -50.0, list(r.Findings))
	return best
}

func logFinding(t testing.TB, name string, f Finding) {
	t.Logf("%s: %s of %.1f m/s2 at %.3f s for %.3f s", name, f.Kind, f.Size, f.From, f.Until-f.From)
	for _, x := range f.Explanations {
		t.Logf("  %.3f %s: for: %s; against: %s", x.Share, x.Cause, strings.Join(x.For, "; "), strings.Join(x.Against, "; "))
	}
}

func scaleThrust(s sim.Setup, by float64) []sim.ThrustPoint {
	var out []sim.ThrustPoint
	for _, p := range s.Vehicle.Stages[0].Mount.Motor.Thrust {
		out = append(out, sim.ThrustPoint{T: p.T, Thrust: p.Thrust * by})
	}
	return out
}
