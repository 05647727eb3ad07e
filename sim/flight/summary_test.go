package flight

import (
	"math"
	"testing"

	"drystage/sim"
	"drystage/sim/r3"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// A summary agrees with what is found by sampling the flight at every tick.
func TestSummary(t *testing.T) {
	s := dunlin()
	f := NewIdeal(s)
	speed, mach, q, height, felt := 0.0, 0.0, 0.0, 0.0, 0.0
	rows := map[string]sim.State{}
	var last sim.State
	for !f.Landed() {
		f.AdvanceTo(f.now + millisecond)
		st := f.States()[0]
		if f.at("apogee") < 0 {
			speed, mach, q, height = max(speed, r3.Norm(st.Velocity)), max(mach, st.Mach), max(q, st.Dynamic), max(height, st.Height())
			if f.at("liftoff") >= 0 {
				felt = max(felt, r3.Norm(st.Force))
			}
		}
		for _, e := range f.Events() {
			if _, known := rows[e.Name]; !known && e.Name != sim.EventMaxQ {
				rows[e.Name] = st
			}
		}
		if !st.Landed {
			last = st
		}
	}
	sum := f.Summary()
	require.Len(t, sum.Rows, len(f.Events()))
	for i, r := range sum.Rows {
		assert.Equal(t, f.Events()[i], r.Event)
		assert.False(t, math.IsNaN(r.Height), r.Name)
		if st := rows[r.Name]; r.Stage == 0 && r.Name != sim.EventMaxQ && r.Name != "sustainer.landing" && r.Name != "landing" {
			assert.InDelta(t, rows[r.Name].Position.Z, r.Height, 0.3, r.Name)
			assert.InDelta(t, r3.Norm(rows[r.Name].Velocity), r.Speed, 0.2, r.Name)
			assert.InDelta(t, st.Tilt(), r.Tilt, 0.01, r.Name)
		}
		if r.Name == sim.EventMaxQ {
			assert.InEpsilon(t, q, r.Dynamic, 1e-4)
		}
	}
	m := sum.Extremes
	assert.InEpsilon(t, speed, m.Speed, 1e-5)
	assert.InEpsilon(t, mach, m.Mach, 1e-5)
	assert.InEpsilon(t, q, m.Dynamic, 1e-5)
	assert.InEpsilon(t, height, m.Height, 1e-6)
	assert.InEpsilon(t, felt, m.Acceleration, 1e-3)
	assert.GreaterOrEqual(t, m.Speed, speed)
	assert.Greater(t, m.Margin, 1.0)
	assert.Less(t, m.Margin, sum.Exit.Stability.Margin+1e-9)

	require.Len(t, sum.Openings, 3)
	require.Len(t, sum.Drifts, 3)
	require.Len(t, sum.Landings, 2)
	l := sum.Landings[1]
	assert.InDelta(t, r3.Norm(last.Velocity), l.Speed, 0.02)
	end := f.States()[0].Position
	assert.Equal(t, end.X, l.East)
	assert.InDelta(t, math.Hypot(end.X, end.Y), l.Distance, 1e-9)
	assert.InDelta(t, math.Mod(math.Atan2(end.X, end.Y)+2*math.Pi, 2*math.Pi), l.Bearing, 1e-9)
	drift := 0.0
	for _, d := range sum.Drifts {
		if d.Stage == 0 {
			drift += d.East
		}
	}
	assert.InDelta(t, end.X-f.record.openingPlaces[1].X, drift, 1e-9, "drogue and main together")
	assert.Positive(t, drift, "with the west wind")
	assert.Len(t, sum.Motors, 2)
	assert.InDelta(t, alder.Figures().Impulse, sum.Motors[0].Impulse, 1e-9)
	assert.Positive(t, sum.Solver.Steps)
	assert.Less(t, sum.Solver.Rejected, sum.Solver.Steps/5)
	assert.GreaterOrEqual(t, sum.Solver.Evaluations, 6*(sum.Solver.Steps+sum.Solver.Rejected))
	assert.Zero(t, sum.Solver.Forced)
	assert.Equal(t, 1e-8, sum.Solver.Tolerance)
}

// The summary doesn't depend on how often AdvanceTo is called.
func TestSummaryOfAnyCadence(t *testing.T) {
	a, b := NewIdeal(dunlin()), NewIdeal(dunlin())
	for !a.Landed() {
		a.AdvanceTo(a.now + 3*millisecond)
		a.States()
	}
	b.AdvanceTo(a.now)
	assert.Equal(t, a.Summary(), b.Summary())
}

// The margin of a body is Barrowman's: own example of three fins and an ogive (aero_test.go).
func TestStability(t *testing.T) {
	s := &sim.Setup{Limit: 9 * second, Launch: sim.Never, Vehicle: sim.Vehicle{Stages: []sim.Stage{{Name: "a", Length: 0.95, Diameter: 0.054, Mass: 1, CG: 0.55,
		Nose: sim.Nose{Length: 0.15}, Fins: []sim.Fins{{Count: 3, Root: 0.1, Tip: 0.05, Span: 0.06, Sweep: 0.05, Station: 0.8}}}}}}
	m := New(s).Stability(0)
	assert.InDelta(t, 0.692613582, m.CP, 2e-4)
	assert.InDelta(t, 0.55, m.CG, 1e-12)
	assert.InDelta(t, (m.CP-0.55)/0.054, m.Margin, 1e-12)
	assert.InEpsilon(t, 10.3555947*math.Pi/4*0.054*0.054, m.Slope, 1e-8)
	assert.Equal(t, Stability{}, New(s).Stability(3), "no such stage")
	s.Vehicle.Stages[0].Nose, s.Vehicle.Stages[0].Fins = sim.Nose{}, nil
	assert.InDelta(t, -0.55/0.054, New(s).Stability(0).Margin, 1e-12, "only the flat front is left")
}

// kinds lists the kinds of warning of a flight.
func kinds(f *Flight) map[sim.WarningKind]sim.Warning {
	out := map[sim.WarningKind]sim.Warning{}
	for _, w := range f.Warnings() {
		out[w.Kind] = w
	}
	return out
}

func TestWarnings(t *testing.T) {
	nominal := func() *sim.Setup { s := dunlin(); s.Wind.Speed = 0; return s }
	for _, r := range []struct {
		reason string
		kind   sim.WarningKind
		change func(s *sim.Setup)
		worst  float64 // about; 0: not checked
	}{
		{"a short rail", sim.SlowExit, func(s *sim.Setup) { s.Vehicle.Rail.Length = 0.5 }, 0},
		{"a rail far off vertical", sim.RailTilt, func(s *sim.Setup) { s.Vehicle.Rail.Tilt = 25 * degree }, 25 * degree},
		{"a gale on the pad", sim.ExitAngle, func(s *sim.Setup) { s.Wind.Speed = 12 }, 0},
		{"small fins", sim.LowMargin, func(s *sim.Setup) { s.Vehicle.Stages[1].Fins[0].Span = 0.025 }, 0},
		{"no drogue, no main", sim.HardLanding, func(s *sim.Setup) { s.Vehicle.Stages[0].Recovery = nil }, 0},
		{"one Cd near the speed of sound", sim.MachBeyond, func(s *sim.Setup) {
			for i := range s.Vehicle.Stages[1].Mount.Motor.Thrust {
				s.Vehicle.Stages[1].Mount.Motor.Thrust[i].Thrust *= 4
			}
		}, 0},
		{"no fins on the sustainer", sim.AngleOfAttack, func(s *sim.Setup) {
			s.Vehicle.Stages[0].Fins = nil
		}, 0},
		{"no fins at all", sim.Unstable, func(s *sim.Setup) { s.Vehicle.Stages[0].Fins, s.Vehicle.Stages[1].Fins = nil, nil }, 0},
		{"a drogue at full speed", sim.CanopySpeed, func(s *sim.Setup) {
			s.Vehicle.Stages[0].Recovery[0].Opens = sim.Anchor{Event: "sustainer.burnout"}
		}, 0},
		{"a drogue that bears little", sim.CanopySpeed, func(s *sim.Setup) { s.Vehicle.Stages[0].Recovery[0].Rated = 1 }, 0},
		{"a canopy that stops it in a millisecond", sim.LoadsSoftened, func(s *sim.Setup) {
			s.Vehicle.Stages[0].Recovery[1].Area, s.Vehicle.Stages[0].Recovery[1].Inflation = 500, 0
		}, 0},
		{"two thousand times the impulse", sim.AirBeyond, func(s *sim.Setup) {
			for i := range s.Vehicle.Stages[1].Mount.Motor.Thrust {
				s.Vehicle.Stages[1].Mount.Motor.Thrust[i].Thrust *= 2000
			}
		}, 0},
	} {
		s := nominal()
		s.Vehicle.Stages[1].Mount.Motor.Thrust = append([]sim.ThrustPoint(nil), s.Vehicle.Stages[1].Mount.Motor.Thrust...)
		calm := NewIdeal(nominal())
		calm.AdvanceTo(200 * second)
		assert.NotContains(t, kinds(calm), r.kind, "not in the nominal flight: %s", r.reason)
		r.change(s)
		f := NewIdeal(s)
		f.AdvanceTo(200 * second)
		w, ok := kinds(f)[r.kind]
		require.True(t, ok, "%s: %v", r.reason, f.Warnings())
		assert.LessOrEqual(t, w.From, w.Until)
		assert.NotEmpty(t, r.kind.String())
		assert.NotEmpty(t, r.kind.Text())
		if r.worst != 0 {
			assert.InDelta(t, r.worst, w.Worst, 1e-9, r.reason)
		}
	}
}

// An error that is NaN or infinite is given as a number that a record can hold.
func TestErrorBeyondIsFinite(t *testing.T) {
	f := NewIdeal(dunlin())
	f.tolerance = 0
	f.AdvanceTo(f.setup.Launch + 300*sim.Millisecond)
	w, ok := kinds(f)[sim.ErrorBeyond]
	require.True(t, ok)
	assert.Equal(t, worstError, w.Worst)
}

// The first of each kind is kept, however many there were of another before it.
func TestManyWarningsHideNoOther(t *testing.T) {
	d := newWarningLog()
	for i := range sim.Time(1000) {
		d.update(sim.Warning{Kind: sim.LowMargin, From: i, Until: i}, i%2 == 0)
	}
	d.update(sim.Warning{Kind: sim.Unstable, Worst: -1}, true)
	assert.Equal(t, sim.Unstable, d.all[len(d.all)-1].Kind)
}

// The list stays short: a warning that doesn't fit extends the last of its kind.
func TestWarningsAreBounded(t *testing.T) {
	var d warningLog
	for i := range 1000 {
		at := sim.Time(i) * second
		d.update(sim.Warning{Kind: sim.AngleOfAttack, From: at, Until: at, Worst: 1 + float64(i), Limit: 1}, i%2 == 0)
	}
	assert.Len(t, d.all, maxWarnings)
	assert.Equal(t, 998*second, d.all[maxWarnings-1].Until)
	assert.Equal(t, 999.0, d.all[maxWarnings-1].Worst)
}
