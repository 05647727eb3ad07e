package flight

import (
	"encoding/binary"
	"hash/crc32"
	"io"
	"math"
	"reflect"
	"slices"
	"testing"

	"drystage/sim"
	"drystage/sim/r3"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// finite says if all numbers of a state are.
func finite(st *sim.State) bool {
	v := reflect.ValueOf(*st)
	sum := 0.0
	var add func(v reflect.Value)
	add = func(v reflect.Value) {
		switch v.Kind() {
		case reflect.Float64:
			sum += 0 * v.Float()
		case reflect.Struct:
			for i := range v.NumField() {
				add(v.Field(i))
			}
		}
	}
	add(v)
	return sum == 0
}

// drawStage makes any stage that a file could describe, realistic or not.
func drawStage(t *rapid.T, name string) sim.Stage {
	f := func(low, high float64, what string) float64 {
		return rapid.Float64Range(low, high).Draw(t, name+" "+what)
	}
	d := f(0.005, 0.3, "diameter")
	length := f(0.02, 3, "length")
	st := sim.Stage{
		Name: name, Length: length, Diameter: d, Mass: f(0.01, 20, "mass"), CG: f(0, 1, "cg") * length,
		Drag: sim.Drag{Cd: f(0, 3, "cd")}, Stacked: sim.Drag{Cd: f(0, 3, "stacked cd")},
		Nose: sim.Nose{Shape: sim.Shape(rapid.IntRange(0, 3).Draw(t, "shape")), Length: f(0, 0.5, "nose")},
	}
	if rapid.Bool().Draw(t, name+" inertia") {
		st.Inertia = sim.Inertia{Axial: f(1e-8, 1, "axial"), Transverse: f(1e-8, 5, "transverse")}
	}
	if n := rapid.IntRange(0, 6).Draw(t, name+" fins"); n > 0 {
		st.Fins = []sim.Fins{{Count: n, Root: f(0.001, 0.5, "root"), Tip: f(0, 0.5, "tip"), Span: f(0.001, 0.5, "span"), Sweep: f(-0.2, 0.4, "sweep"), Station: f(0, 1, "fin") * length, Cant: f(-0.1, 0.1, "cant")}}
	}
	if rapid.Bool().Draw(t, name+" built") {
		st.Drag = sim.Drag{Built: true, Roughness: f(0, 0.002, "roughness")}
		st.Stacked = st.Drag
	} else {
		mach := 0.0
		for range rapid.IntRange(0, 6).Draw(t, name+" rows") {
			mach += f(0.001, 0.5, "row")
			st.Drag.Points = append(st.Drag.Points, sim.DragPoint{Mach: mach, Cd: f(0, 3, "cd of a row"), PowerOn: f(0, 3, "cd with power")})
		}
	}
	if rapid.Bool().Draw(t, name+" motor") {
		st.Mount = sim.Mount{Station: f(0, 1, "motor") * length, Lit: sim.Anchor{Event: "liftoff", Offset: sim.Seconds(f(0, 8, "lit"))},
			Motor: sim.Motor{Propellant: f(0.001, 5, "propellant"), Case: f(0, 2, "case"), Length: f(0.01, 1, "motor length"), Diameter: 0.02,
				Thrust: []sim.ThrustPoint{{T: 0.1, Thrust: f(1, 3000, "thrust")}, {T: f(0.2, 6, "burn")}}}}
	}
	if rapid.Bool().Draw(t, name+" cluster") {
		st.Mount.Count, st.Mount.Radius = rapid.IntRange(2, 7).Draw(t, name+" count"), f(0, 0.2, "radius")
		st.Mount.Misalignment = sim.Misalignment{Angle: f(0, 0.2, "misalignment"), Clock: f(-7, 7, "clock"), Scatter: f(0, 0.05, "turn scatter")}
		st.Mount.Motor.ImpulseScatter, st.Mount.Motor.BurnScatter = f(0, 0.2, "impulse scatter"), f(0, 0.2, "burn scatter")
		st.Mount.Igniter.Scatter = sim.Seconds(f(0, 1, "delay scatter"))
		st.Mount.Pauses = []sim.Pause{{At: sim.Seconds(f(0, 3, "pause at")), For: sim.Seconds(f(0, 2, "pause for"))}}
	}
	st.Separation = sim.Separation{Mode: sim.SeparationMode(rapid.IntRange(0, 3).Draw(t, "mode")), Delay: second, Speed: f(0, 20, "speed")}
	if rapid.Bool().Draw(t, name+" device") {
		st.Recovery = []sim.Device{{Name: "d", Area: f(0.0001, 50, "area"), Inflation: sim.Seconds(f(0, 2, "inflation")), Opens: sim.Anchor{Event: "liftoff", Offset: sim.Seconds(f(0, 20, "opens"))}}}
		if rapid.Bool().Draw(t, name+" fill") {
			d := &st.Recovery[0]
			d.Diameter, d.Fill, d.Growth = f(0.02, 30, "canopy"), f(0.5, 50, "fill"), rapid.IntRange(0, 3).Draw(t, name+" growth")
			d.Snatch = sim.Snatch{Mass: f(0, 5, "snatch mass"), Speed: f(0, 50, "snatch speed"), Stiffness: f(0, 1e6, "stiffness")}
		}
	}
	return st
}

// For any vehicle all numbers stay finite, the flight ends, and events stay in order.
func TestAnyVehicleFliesFinite(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := &sim.Setup{Launch: second, Limit: 40 * second}
		for i := range rapid.IntRange(1, sim.MaxStages).Draw(t, "stages") {
			s.Vehicle.Stages = append(s.Vehicle.Stages, drawStage(t, string(rune('a'+i))))
		}
		s.Vehicle.Rail = sim.Rail{Length: rapid.Float64Range(0, 5).Draw(t, "rail"), Tilt: rapid.Float64Range(0, 1.6).Draw(t, "tilt")}
		if rapid.Bool().Draw(t, "guides") {
			s.Vehicle.Rail.Friction = rapid.Float64Range(0, 0.5).Draw(t, "friction")
			s.Vehicle.Rail.Guides = [2]float64{rapid.Float64Range(0, 4).Draw(t, "fore"), rapid.Float64Range(0, 8).Draw(t, "aft")}
		}
		s.Wind = sim.Wind{Speed: rapid.Float64Range(0, 40).Draw(t, "wind"), Height: 10, Exponent: 0.2}
		if rapid.Bool().Draw(t, "gust") {
			s.Wind.Gusts = []sim.Gust{{Base: 20, Length: 10, Peak: 20, From: 1}}
		}
		s.Crossings = []sim.Crossing{{Name: "tilted", Quantity: sim.Tilt, Value: 0.5}, {Name: "hard", Quantity: sim.Acceleration, Value: 20, Falling: true}}
		f := NewIdeal(s)
		mass := make([]float64, len(f.stages))
		for i := range mass {
			mass[i] = f.States()[i].Mass
		}
		for f.now < s.Limit && !f.Landed() {
			f.AdvanceTo(f.now + 50*millisecond)
			for i := range f.States() {
				require.True(t, finite(&f.states[i]), "state of stage %d at %s: %+v", i, f.now, f.states[i])
				require.LessOrEqual(t, f.states[i].Mass, mass[i]*(1+1e-12), "mass of stage %d at %s", i, f.now)
				mass[i] = f.states[i].Mass
			}
		}
		sum := f.Summary()
		for _, r := range sum.Rows {
			require.False(t, math.IsNaN(r.Height) && r.Name != sim.EventMaxQ, "row of %s", r.Name)
		}
		for i := range f.bodies {
			assert.Less(t, f.bodies[i].steps, fineSteps+60_000, "not for ever")
		}
		for i := 1; i < len(f.events); i++ {
			assert.LessOrEqual(t, f.events[i-1].At, f.events[i].At)
		}
	})
}

// More drag or more mass lowers the apogee, more impulse raises it. Mass lowers it only while weight is larger
// than drag, as here. A finer tolerance changes it by less than the coarser one allows.
func TestApogeeFollowsWhatMakesIt(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		draw := func(n string, low, high float64) float64 { return rapid.Float64Range(low, high).Draw(t, n) }
		mass, cd, impulse := draw("mass", 1, 3), draw("cd", 0.2, 0.8), draw("impulse", 70, 110)
		tilt, wind, more := draw("tilt", 0, 10*degree), draw("wind", 0, 8), draw("more", 1.02, 1.2)
		apogee := func(mass, cd, impulse, tolerance float64) float64 {
			s := wren()
			s.Vehicle.Rail.Tilt, s.Wind.Speed = tilt, wind
			st := &s.Vehicle.Stages[0]
			st.Mass, st.Drag.Cd = mass, cd
			m := &st.Mount.Motor
			m.Thrust = slices.Clone(m.Thrust)
			for i := range m.Thrust {
				m.Thrust[i].Thrust *= impulse / 83
			}
			return untilApogee(s, tolerance).Summary().Extremes.Height
		}
		plain := apogee(mass, cd, impulse, tolerance)
		assert.Less(t, apogee(mass*more, cd, impulse, tolerance), plain, "mass")
		assert.Less(t, apogee(mass, cd*more, impulse, tolerance), plain, "drag")
		assert.Greater(t, apogee(mass, cd, impulse*more, tolerance), plain, "impulse")
		assert.InEpsilon(t, plain, apogee(mass, cd, impulse, tolerance/100), 1e-6, "tolerance")
	})
}

// A mirrored rail and wind give the mirrored flight.
func TestMirror(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := dunlin()
		s.Vehicle.Rail.Tilt = rapid.Float64Range(0, 0.3).Draw(t, "tilt")
		s.Vehicle.Rail.Azimuth = rapid.Float64Range(0, 6).Draw(t, "azimuth")
		s.Wind.Speed = rapid.Float64Range(0, 8).Draw(t, "wind")
		s.Wind.From = rapid.Float64Range(0, 6).Draw(t, "from")
		m := dunlin()
		m.Vehicle.Rail.Tilt, m.Wind.Speed = s.Vehicle.Rail.Tilt, s.Wind.Speed
		m.Vehicle.Rail.Azimuth, m.Wind.From = -s.Vehicle.Rail.Azimuth, -s.Wind.From
		a, b := NewIdeal(s), NewIdeal(m)
		for _, f := range []*Flight{a, b} { // the earth's rotation isn't symmetric
			f.gravity.north, f.gravity.up = 0, 0
		}
		a.AdvanceTo(18 * second)
		b.AdvanceTo(18 * second)
		for i := range a.States() {
			p, q := a.States()[i], b.States()[i]
			assert.InDelta(t, p.Position.X, -q.Position.X, 2e-3)
			assert.InDelta(t, p.Position.Y, q.Position.Y, 2e-3)
			assert.InDelta(t, p.Position.Z, q.Position.Z, 2e-3)
		}
	})
}

// Calm air only takes energy from a body without nose, canted fins and thrust, however it tumbles.
func TestAirTakesEnergy(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := dart(1, 0.8, 0.08, sim.Motor{})
		st := &s.Vehicle.Stages[0]
		st.CG = rapid.Float64Range(0.2, 0.8).Draw(t, "cg")
		st.Fins = []sim.Fins{{Count: 3, Root: 0.1, Tip: 0.05, Span: 0.07, Sweep: 0.04, Station: 0.88}}
		f := plainFlight(rapid.Float64Range(0, 1.3).Draw(t, "density"), s)
		f.bodies[0].y[2] = 1e4
		v := func(n string, x float64) float64 { return rapid.Float64Range(-x, x).Draw(t, n) }
		f.throw(r3.Vec{X: v("east", 100), Y: v("north", 100), Z: v("up", 100)}, r3.Vec{X: v("p", 20), Y: v("q", 10), Z: v("r", 10)})
		energy := func() float64 {
			x := &f.States()[0]
			p := &f.bodies[0].flow
			w := x.Rates
			return 0.5*x.Mass*dot(x.Velocity, x.Velocity) + x.Mass*standardG*x.Height() +
				0.5*p.axial*w.X*w.X + 0.5*p.transverse*(w.Y*w.Y+w.Z*w.Z)
		}
		last := energy()
		for range 100 {
			f.AdvanceTo(f.now + 50*millisecond)
			now := energy()
			require.LessOrEqual(t, now, last+2e-4, "at %s", f.now)
			last = now
		}
	})
}

// How often AdvanceTo is called doesn't change one bit of a flight, with outputs between steps too.
func TestCadenceChangesNothing(t *testing.T) {
	run := func(step sim.Time, look bool) ([]sim.Event, []sim.State) {
		s := dunlin()
		s.Crossings = append(s.Crossings, sim.Crossing{Name: "felt", Quantity: sim.Acceleration, Value: 15, Falling: true})
		f := New(s)
		outs := []press{{8700 * millisecond, ignite, true}, {9 * second, ignite, false}, {14 * second, streamer, true}, {20 * second, drogue, true}}
		for f.now < 40*second {
			next := f.now + step
			if len(outs) > 0 && outs[0].at <= next {
				f.AdvanceTo(outs[0].at)
				f.SetOutput(outs[0].effect, outs[0].on)
				outs = outs[1:]
				continue
			}
			f.AdvanceTo(min(next, 40*second))
			if look {
				f.States()
			}
		}
		return f.Events(), f.States()
	}
	events, states := run(5*millisecond, true)
	require.Greater(t, len(events), 10)
	for _, r := range []struct {
		reason string
		step   sim.Time
		look   bool
	}{{"the same again", 5 * millisecond, true}, {"five times as often", millisecond, true}, {"odd steps", 7_777_777, false}, {"only at the outputs", 100 * second, false}} {
		e, st := run(r.step, r.look)
		assert.Equal(t, events, e, r.reason)
		assert.Equal(t, states, st, r.reason)
	}
}

// Flights have these bits on every processor. When the model changes on purpose, the numbers change with
// it. The last time: the normal force of a flat front.
func TestSameBitsEverywhere(t *testing.T) {
	built := func() *sim.Setup {
		s := dunlin()
		for i := range s.Vehicle.Stages {
			st := &s.Vehicle.Stages[i]
			st.Drag = sim.Drag{Built: true, Roughness: 6e-5}
			st.Stacked = st.Drag
			st.Fins[0].Profile = sim.Streamlined
		}
		return s
	}
	for _, r := range []struct {
		reason string
		setup  func() *sim.Setup
		want   uint32
	}{
		{"two stages", dunlin, 0x0aff0e9c},
		{"a table of drag, through Mach 1", swift, 0x5cc38d42},
		{"drag built up from the shape", built, 0x44b73707},
	} {
		h := crc32.NewIEEE()
		sumUp(t, h, NewIdeal(r.setup()))
		assert.Equal(t, r.want, h.Sum32(), r.reason)
	}
}

// sumUp writes the states of a flight, each half second until all is down.
func sumUp(t *testing.T, w io.Writer, f *Flight) {
	for !f.Landed() {
		f.AdvanceTo(f.now + 500*millisecond)
		for i := range f.States() {
			require.NoError(t, binary.Write(w, binary.LittleEndian, f.states[i]))
		}
	}
}

// AdvanceTo and States don't allocate.
func TestNoAllocation(t *testing.T) {
	f := NewIdeal(dunlin())
	n := testing.AllocsPerRun(3000, func() {
		f.AdvanceTo(f.now + 5*millisecond)
		f.States()
	})
	assert.Zero(t, n)
	assert.Greater(t, f.now, 15*second)
}

// Common practice, no source: how a flight of a small two-stage model looks. About 1.5 kg, 54 mm,
// stages ignited about 4 s apart.
func TestTwoStageModelIsPlausible(t *testing.T) {
	s := dunlin()
	f := NewIdeal(s)
	assert.InDelta(t, 1.5, f.States()[0].Mass, 0.1)
	fastest, top := 0.0, 0.0
	var felt []float64 // every 10 ms from liftoff, along the axis
	for !f.Landed() && f.now < s.Limit {
		f.AdvanceTo(f.now + 10*millisecond)
		st := &f.States()[0]
		top = max(top, st.Height())
		if f.at("apogee") < 0 {
			fastest = max(fastest, r3.Norm(st.Velocity))
		}
		if f.at("liftoff") >= 0 {
			felt = append(felt, st.Force.X)
		}
		if at := f.at("rail_exit"); at > 0 && f.now.Seconds()-at < 0.01 {
			assert.Greater(t, r3.Norm(st.Velocity), 14.0, "fast enough off the rail")
		}
	}
	at := func(name string) float64 { return f.at(name) - f.at("liftoff") }
	assert.InDelta(t, 2, at("booster.burnout"), 0.3)
	assert.InDelta(t, 4, at("sustainer.ignition"), 0.3)
	assert.Greater(t, felt[100], 40.0, "boost")
	assert.Less(t, felt[int(at("booster.burnout")*100)+3], -5.0, "a hard deceleration at first burnout")
	assert.Greater(t, felt[int(at("sustainer.ignition")*100)+30], 40.0, "a second acceleration")
	assert.True(t, top > 700 && top < 1200, "tops out at %.0f m", top)
	assert.True(t, fastest > 130 && fastest < 220, "peaks at %.0f m/s", fastest)
	assert.Equal(t, "launch booster.ignition liftoff rail_exit booster.burnout separation booster.separation sustainer.ignition max_q sustainer.burnout "+
		"booster.apogee booster.streamer sustainer.apogee apogee sustainer.drogue booster.landing sustainer height falling through 150 m sustainer.main "+
		"sustainer.landing landing", f.names(""))
	t.Logf("apogee %.0f m, fastest %.0f m/s", top, fastest)
}
