package flight

import (
	"math"
	"testing"

	"drystage/sim"
	"drystage/sim/r3"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// cluster is a dart with n motors of 20 N for 2 s on a circle of 30 mm radius, in a world without air.
func cluster(n int) *sim.Setup {
	s := dart(1, 0, 0.1, box(20, 2, 0.01))
	st := &s.Vehicle.Stages[0]
	st.Name, st.Inertia = "dart", sim.Inertia{Axial: 1e-3, Transverse: 0.08}
	st.Mount.Station, st.Mount.Count, st.Mount.Radius = 0.9, n, 0.03
	return s
}

// Equal motors at equal radii: thrust adds up and nothing turns (statics).
func TestClusterIsStraight(t *testing.T) {
	s := cluster(3)
	s.Launch = 1
	f := plainFlight(0, s)
	f.AdvanceTo(500 * millisecond)
	st := &f.States()[0]
	assert.InDelta(t, 60, st.Thrust, 1e-3)
	assert.InDelta(t, 1+3*0.01*0.75, st.Mass, 1e-4, "three motors' propellant, a quarter of it gone")
	f.AdvanceTo(1500 * millisecond)
	assert.InDelta(t, 0, r3.Norm(f.States()[0].Rates), 1e-10, "in balance")
	f.AdvanceTo(4 * second)
	assert.Equal(t, "launch dart.ignition liftoff rail_exit dart.burnout", f.names(""), "one ignition, one burnout")
}

// When one motor of a cluster doesn't ignite, the missing moment T r over the transverse inertia turns the body
// (statics); a motor that fails later does the same from then on.
func TestClusterWithOneFailing(t *testing.T) {
	for _, r := range []struct {
		reason string
		fault  sim.Fault
		after  sim.Time
	}{
		{"motor 1 never lights", sim.Fault{Kind: sim.DeadIgniter, Motor: 1}, 300 * millisecond},
		{"motor 1 dies after a second", sim.Fault{Kind: sim.EarlyBurnout, Motor: 1, From: sim.Anchor{Event: "dart.ignition", Offset: second}}, 1200 * millisecond},
	} {
		s := cluster(3)
		s.Faults = []sim.Fault{r.fault}
		s.Launch, s.Vehicle.Stages[0].Mount.Motor.Propellant = 1, 0 // without jet damping
		f := plainFlight(0, s)
		f.bodies[0].rail.length = 1e-6
		f.AdvanceTo(r.after)
		st := &f.States()[0]
		assert.InDelta(t, 40, st.Thrust, 1e-3, r.reason)
		want := -20 * 0.03 // thrust at +y is missing: the other two push at -15 mm each, about z as -y*F
		assert.InDelta(t, math.Abs(want), math.Abs(st.Angular.Z)*f.bodies[0].flow.transverse, 1e-3, r.reason)
		assert.Positive(t, st.Angular.Z, "%s: thrust left on the -y side turns the nose towards y", r.reason)
		f.AdvanceTo(4 * second)
		assert.Contains(t, f.names(""), "dart.burnout", r.reason)
		assert.EqualValues(t, 1, f.FaultActivity(), r.reason)
	}
}

// A thrust line turned by an angle at the nozzle has the moment T sin(angle) (nozzle - cg) (statics).
func TestMisalignment(t *testing.T) {
	s := cluster(1)
	s.Vehicle.Stages[0].Mount.Misalignment = sim.Misalignment{Angle: 2 * degree, Clock: 90 * degree}
	s.Launch, s.Vehicle.Stages[0].Mount.Motor.Propellant = 1, 0 // without jet damping
	f := plainFlight(0, s)
	f.bodies[0].rail.length = 1e-9
	f.AdvanceTo(5 * millisecond)
	st := &f.States()[0]
	arm := 1.0 - st.CG
	assert.InEpsilon(t, 20*math.Sin(2*degree)*arm, st.Angular.Y*f.bodies[0].flow.transverse, 1e-6, "pushed to z behind: nose turns to -z, about +y")
	assert.InEpsilon(t, 20*math.Sin(2*degree)/st.Mass, st.Force.Z, 1e-6)
	assert.InEpsilon(t, 20*math.Cos(2*degree)/st.Mass, st.Force.X, 1e-6)
}

// What differs from motor to motor: the drawn figures have the spread asked for, the seed repeats them,
// and the curve's total is the stretched one.
func TestMotorScatter(t *testing.T) {
	st := sim.Stage{Name: "a", Mount: sim.Mount{Motor: rowan, Igniter: sim.Igniter{Delay: second, Scatter: 100 * millisecond}, Misalignment: sim.Misalignment{Scatter: 0.01}}}
	st.Mount.Motor.ImpulseScatter, st.Mount.Motor.BurnScatter = 0.03, 0.05
	data := rowan.Figures()
	var impulse, burn, delay, turn moment
	const runs = 4000
	for seed := range uint64(runs) {
		m := newMotors(&st, seed)[0]
		n := len(m.curve.at) - 1
		impulse.add(m.curve.impulse[n]/data.Impulse - 1)
		burn.add(m.curve.at[n].Seconds()/data.Whole.Seconds() - 1)
		delay.add(m.delay.Seconds() - 1)
		turn.add(m.thrustAxis.Y)
		require.InDelta(t, rowan.Propellant, m.curve.massPerImpulse*m.curve.impulse[n], 1e-12, "the propellant stays the same")
	}
	for _, r := range []struct {
		reason string
		got    moment
		sigma  float64
	}{{"impulse", impulse, 0.03}, {"burn time", burn, 0.05}, {"ignition delay", delay, 0.1}, {"thrust line", turn, 0.01}} {
		// 4 standard errors: mean sigma/sqrt(n), sd sigma/sqrt(2n).
		assert.InDelta(t, 0, r.got.mean(), 4*r.sigma/math.Sqrt(runs), r.reason)
		assert.InDelta(t, r.sigma, r.got.sd(), 4*r.sigma/math.Sqrt(2*runs), r.reason)
	}
	assert.Equal(t, newMotors(&st, 7), newMotors(&st, 7), "same seed, same motor")
}

type moment struct{ n, sum, squares float64 }

func (m *moment) add(x float64) { m.n++; m.sum += x; m.squares += x * x }
func (m *moment) mean() float64 { return m.sum / m.n }
func (m *moment) sd() float64   { return math.Sqrt(m.squares/m.n - m.mean()*m.mean()) }

// A motor that chuffs: off at 0.5 s for 1 s, then on where it stopped; all its propellant burns.
func TestPauses(t *testing.T) {
	s := cluster(1)
	s.Vehicle.Stages[0].Mount.Pauses = []sim.Pause{{At: 500 * millisecond, For: second}, {At: 1500 * millisecond, For: 300 * millisecond}}
	s.Launch = 1
	f := plainFlight(0, s)
	for _, r := range []struct {
		reason string
		at     sim.Time
		thrust float64
	}{
		{"burns", 499 * millisecond, 20}, {"is out", 700 * millisecond, 0}, {"still", 1480 * millisecond, 0}, {"again", 1510 * millisecond, 20},
		{"the second pause comes after 1.5 s of burning", 2490 * millisecond, 20}, {"out again", 2600 * millisecond, 0}, {"and on", 2900 * millisecond, 20}, {"to its end", 3301 * millisecond, 0},
	} {
		f.AdvanceTo(r.at)
		assert.InDelta(t, r.thrust, f.States()[0].Thrust, 1e-9, r.reason)
	}
	assert.InDelta(t, 3.3, f.at("dart.burnout"), 1e-5)
	assert.InDelta(t, 1, f.States()[0].Mass, 1e-12)
	var empty curve
	empty.pause(second, second)
	assert.True(t, empty.empty(), "nothing to interrupt")
}

// Gap staging: the booster's burnout ignites the sustainer without a board and forces the separation; a booster
// that failed early ignites nothing.
func TestGapStaging(t *testing.T) {
	s := dunlin()
	s.Vehicle.Stages[1].Separation = sim.Separation{Mode: sim.ByGap, Delay: 40 * millisecond, Speed: 1}
	f := fly(s, 20*second)
	assert.Equal(t, "booster.ignition booster.burnout sustainer.ignition separation booster.separation sustainer.burnout",
		f.names("ignition", "burnout", "separation"))
	assert.InDelta(t, f.at("booster.burnout")+0.04, f.at("sustainer.ignition"), 1e-9)
	s.Faults = []sim.Fault{{Kind: sim.EarlyBurnout, Stage: 1, From: sim.Anchor{Event: "liftoff", Offset: second}}}
	f = fly(s, 20*second)
	assert.Equal(t, "booster.ignition booster.burnout", f.names("ignition", "burnout", "separation"))
}
