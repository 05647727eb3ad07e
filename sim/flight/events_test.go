package flight

import (
	"math"
	"strings"
	"testing"

	"drystage/sim"
	"drystage/sim/r3"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// press is an output edge of a scripted board.
type press struct {
	at     sim.Time
	effect sim.Effect
	on     bool
}

// fly flies to the end with scripted outputs.
func fly(s *sim.Setup, until sim.Time, presses ...press) *Flight {
	f := New(s)
	for _, p := range presses {
		f.AdvanceTo(p.at)
		f.SetOutput(p.effect, p.on)
	}
	f.AdvanceTo(until)
	return f
}

var (
	ignite   = sim.Effect{Kind: sim.Ignite}
	separate = sim.Effect{Kind: sim.Separate, Stage: 1}
	drogue   = sim.Effect{Kind: sim.Deploy}
	streamer = sim.Effect{Kind: sim.Deploy, Stage: 1}
)

// names lists the events with one of the words in them, in order.
func (f *Flight) names(words ...string) string {
	var out []string
	for _, e := range f.events {
		for _, w := range words {
			if strings.Contains(e.Name, w) {
				out = append(out, e.Name)
				break
			}
		}
	}
	return strings.Join(out, " ")
}

const millisecond, second = sim.Millisecond, sim.Second

// What outputs do to igniters, charges and devices.
func TestOutputs(t *testing.T) {
	charge := func(s *sim.Setup) { s.Vehicle.Stages[1].Separation.Mode = sim.ByCharge }
	motor := func(s *sim.Setup) { s.Vehicle.Stages[1].Separation.Mode = sim.ByMotor }
	rows := []struct {
		reason  string
		change  func(*sim.Setup)
		presses []press
		words   []string
		want    string
		event   string
		at      float64 // s, when it happened; 0: not checked
	}{
		{"a full pulse lights the motor after its delay", nil, []press{{9 * second, ignite, true}, {9020 * millisecond, ignite, false}},
			[]string{"sustainer.ignition"}, "sustainer.ignition", "sustainer.ignition", 9.17},
		{"a pulse one millisecond short lights nothing", nil, []press{{9 * second, ignite, true}, {9019 * millisecond, ignite, false}},
			[]string{"sustainer.ignition"}, "", "", 0},
		{"two short pulses don't add up", nil, []press{{9 * second, ignite, true}, {9015 * millisecond, ignite, false}, {9030 * millisecond, ignite, true}, {9045 * millisecond, ignite, false}},
			[]string{"sustainer.ignition"}, "", "", 0},
		{"a second full pulse may follow a short one", nil, []press{{9 * second, ignite, true}, {9015 * millisecond, ignite, false}, {9500 * millisecond, ignite, true}},
			[]string{"sustainer.ignition"}, "sustainer.ignition", "sustainer.ignition", 9.67},
		{"an igniter fires once", nil, []press{{9 * second, ignite, true}, {9100 * millisecond, ignite, false}, {14 * second, ignite, true}},
			[]string{"sustainer.ignition"}, "sustainer.ignition", "sustainer.ignition", 9.17},
		{"the launch controller finds the igniter spent", nil, []press{{4 * second, sim.Effect{Kind: sim.Ignite, Stage: 1}, true}},
			[]string{"booster.ignition", "launch"}, "booster.ignition launch", "booster.ignition", 4.17},
		{"a device opens after pulse and delay", nil, []press{{21 * second, drogue, true}}, []string{"drogue"}, "sustainer.drogue", "sustainer.drogue", 21.12},
		{"a device on the stack opens on the stack", func(s *sim.Setup) { motor(s) }, []press{{7500 * millisecond, drogue, true}},
			[]string{"drogue", "separation"}, "sustainer.drogue", "sustainer.drogue", 7.62},
		{"an upper motor that lights blows the stage off", motor, []press{{8 * second, ignite, true}},
			[]string{"ignition", "separation"}, "booster.ignition sustainer.ignition separation booster.separation", "separation", 8.17},
		{"held until the motor lights", motor, nil, []string{"separation"}, "", "", 0},
		{"a charge parts the stages after its delay", charge, []press{{8 * second, separate, true}},
			[]string{"separation"}, "separation booster.separation", "separation", 8.3},
		{"no charge, no burnout parting", charge, nil, []string{"separation"}, "", "", 0},
		{"stages that part by drag have no charge", nil, []press{{5500 * millisecond, separate, true}},
			[]string{"separation"}, "separation booster.separation", "separation", 7.45},
		{"unknown stages and devices are left alone", nil, []press{{8 * second, sim.Effect{Kind: sim.Deploy, Device: 9}, true}, {8 * second, sim.Effect{Kind: sim.Ignite, Stage: -1}, true}, {8 * second, sim.Effect{}, true}},
			[]string{"sustainer.ignition", "drogue"}, "", "", 0},
	}
	for _, r := range rows {
		s := dunlin()
		for i := range s.Vehicle.Stages {
			s.Vehicle.Stages[i].Mount.Igniter.Scatter = 0
		}
		if r.change != nil {
			r.change(s)
		}
		f := fly(s, 18*second, r.presses...)
		if strings.Contains(r.reason, "device opens after") {
			f.AdvanceTo(22 * second)
		}
		assert.Equal(t, r.want, f.names(r.words...), r.reason)
		if r.event != "" {
			assert.InDelta(t, r.at, f.at(r.event), 1e-9, r.reason)
		}
	}
}

func TestPadAndRail(t *testing.T) {
	weak := func(thrust, seconds float64) *sim.Setup {
		s := dart(1, 0, 0.054, box(thrust, seconds, 0))
		s.Vehicle.Stages[0].Name = "dart"
		s.Vehicle.Rail.Tilt = 10 * degree
		s.Vehicle.Site = sim.Site{Latitude: 45 * degree}
		return s
	}
	f := New(weak(9, 1))
	st := f.States()[0]
	assert.True(t, st.OnPad)
	assert.InDelta(t, 9.8061978, r3.Norm(st.Force), 1e-6, "at rest it feels one g")
	up := f.bodies[0].y.rotation()
	assert.InDelta(t, 1, up.toWorld(st.Force).Z/9.8061978, 1e-7, "upwards")
	f.AdvanceTo(10 * second)
	assert.Equal(t, "launch dart.ignition dart.burnout", f.names(""), "too weak a motor lifts nothing")
	assert.True(t, f.States()[0].OnPad)

	f = New(weak(20, 0.3))
	f.AdvanceTo(200 * millisecond)
	assert.False(t, f.States()[0].OnPad)
	assert.InDelta(t, 20, r3.Norm(r3.Vec{X: f.States()[0].Force.X}), 1e-6, "on the rail it feels its thrust along its axis")
	f.AdvanceTo(10 * second)
	assert.Equal(t, "launch dart.ignition liftoff dart.burnout", f.names(""), "thrust that dies on the rail: back to the pad, no apogee, no landing")
	assert.True(t, f.States()[0].OnPad)
	assert.Zero(t, f.States()[0].Position)
	assert.False(t, f.Landed())

	ramp := weak(0, 1)
	ramp.Vehicle.Stages[0].Mount.Motor.Thrust = []sim.ThrustPoint{{T: 0, Thrust: 0}, {T: 2, Thrust: 40}, {T: 2.5, Thrust: 0}}
	f = New(ramp)
	f.AdvanceTo(2 * second)
	c := f.rail.axis.Z
	assert.InDelta(t, 9.8061977*c/20, f.at("liftoff"), 1e-6, "it moves when thrust exceeds weight along the rail")
}

func TestUpperMotorOnThePad(t *testing.T) {
	s := dunlin()
	f := fly(s, 60*second, press{3 * second, ignite, true})
	assert.Equal(t, "sustainer.ignition separation booster.separation liftoff rail_exit launch", f.names("sustainer.ignition", "separation", "liftoff", "rail_exit", "launch"))
	assert.False(t, f.States()[0].OnPad)
	assert.Contains(t, f.names(""), "booster.landing", "the booster's own motor is lit at launch all the same")

	s.Launch = 200 * second
	f = fly(s, 100*second, press{3 * second, ignite, true})
	assert.True(t, f.States()[1].OnPad, "the booster stays on the pad")
	assert.True(t, f.States()[0].Landed)
	assert.True(t, f.Landed(), "and does not keep the flight from ending")
	s = dunlin()
	s.Vehicle.Stages[1].Separation.Mode = sim.ByCharge
	f = fly(s, 4*second, press{3 * second, separate, true})
	assert.Equal(t, "separation booster.separation liftoff", f.names(""), "a charge on the pad lifts the upper stage a little")
	assert.True(t, f.States()[0].OnPad && f.States()[1].OnPad, "and it comes to rest again")
}

func TestSeparation(t *testing.T) {
	s := dunlin()
	s.Wind = sim.Wind{}
	f := New(s)
	f.AdvanceTo(8 * second)
	at := sim.Seconds(f.at("separation"))
	require.Positive(t, at)
	f = New(s)
	f.AdvanceTo(at - 1)
	before := f.States()[0]
	f.AdvanceTo(at)
	a, b := f.States()[0], f.States()[1]
	assert.InDelta(t, before.Mass, a.Mass+b.Mass, 1e-12)
	momentum := plus(scaled(a.Mass, a.Velocity), scaled(b.Mass, b.Velocity))
	assert.InDelta(t, 0, r3.Norm(r3.Sub(momentum, scaled(before.Mass, before.Velocity))), 1e-6, "momentum is kept")
	middle := plus(scaled(a.Mass/before.Mass, a.Position), scaled(b.Mass/before.Mass, b.Position))
	assert.InDelta(t, 0, r3.Norm(r3.Sub(middle, before.Position)), 1e-6, "so is the centre of gravity")
	turn := f.bodies[0].y.rotation()
	apart := turn.toBody(r3.Sub(a.Velocity, b.Velocity))
	gap := before.Front + 0.78 + b.CG - a.CG
	assert.InDelta(t, 1, apart.X, 1e-6, "they part at the separation speed along the axis")
	assert.InDelta(t, gap*before.Rates.Z, apart.Y, 1e-6, "and each moves with the turning body across")
	assert.InDelta(t, gap, turn.toBody(r3.Sub(a.Position, b.Position)).X, 1e-6)
	assert.InDelta(t, before.Rates.Z, a.Rates.Z, 1e-6)
	assert.InDelta(t, before.Rates.Z, b.Rates.Z, 1e-6)
	assert.Equal(t, 1, strings.Count(f.names("separation"), "booster.separation"))
}

func TestMassOfJoinedStages(t *testing.T) {
	s := dunlin()
	f := New(s)
	st := f.States()
	assert.Equal(t, st[0].Mass, st[1].Mass, "joined stages are one body")
	assert.InDelta(t, 0, st[0].Front, 0)
	assert.InDelta(t, s.Vehicle.Stages[0].Length, st[1].Front, 1e-15)
	// Point for point: mass, first moment and inertia about the common centre of gravity.
	var mass, first, turn float64
	type lump struct{ m, x, own float64 }
	var lumps []lump
	front := 0.0
	for _, g := range s.Vehicle.Stages {
		m, r := g.Mount.Motor, g.Mount.Motor.Diameter/2
		x := front + g.Mount.Station + m.Length/2
		lumps = append(lumps, lump{g.Mass, front + g.CG, g.Inertia.Transverse}, lump{m.Case, x, m.Case * (6*r*r + m.Length*m.Length) / 12},
			lump{m.Propellant, x, m.Propellant * (3*r*r + m.Length*m.Length) / 12})
		front += g.Length
	}
	for _, l := range lumps {
		mass, first = mass+l.m, first+l.m*l.x
	}
	for _, l := range lumps {
		turn += l.own + l.m*(l.x-first/mass)*(l.x-first/mass)
	}
	assert.InDelta(t, mass, st[0].Mass, 1e-12)
	assert.InDelta(t, first/mass, st[0].CG, 1e-12)
	assert.InDelta(t, turn, f.bodies[0].flow.transverse, 1e-12, "parallel axes")
	f.AdvanceTo(8 * second)
	assert.InDelta(t, alder.Propellant+alder.Case+s.Vehicle.Stages[0].Mass, f.States()[0].Mass, 1e-12, "the booster's propellant is gone, its own is there")
}

func TestCrossings(t *testing.T) {
	rows := []struct {
		crossing sim.Crossing
		want     float64 // s; -1: never
	}{ // thrown straight up at 50 m/s in vacuum, g 9.80665: closed forms
		{sim.Crossing{Quantity: sim.Height, Value: 100}, (50 - math.Sqrt(2500-200*standardG)) / standardG},
		{sim.Crossing{Quantity: sim.Height, Value: 100, Falling: true}, (50 + math.Sqrt(2500-200*standardG)) / standardG},
		{sim.Crossing{Quantity: sim.Height, Value: 200}, -1},
		{sim.Crossing{Quantity: sim.Climb, Value: 20, Falling: true}, 30 / standardG},
		{sim.Crossing{Quantity: sim.Descent, Value: 20}, 70 / standardG},
		{sim.Crossing{Quantity: sim.Speed, Value: 10, Falling: true}, 40 / standardG},
		{sim.Crossing{Quantity: sim.Speed, Value: 10}, 60 / standardG},
		{sim.Crossing{Quantity: sim.Airspeed, Value: 49.999}, 99.999 / standardG},
		{sim.Crossing{Quantity: sim.Height, Value: 0.5, Falling: true}, (50 + math.Sqrt(2500-standardG)) / standardG},
		{sim.Crossing{Quantity: sim.Acceleration, Value: 5}, 100 / standardG}, // one g once more at rest
		{sim.Crossing{Stage: 7, Quantity: sim.Height, Value: 100}, -1},
	}
	s := dart(1, 0, 0.1, sim.Motor{})
	for i, r := range rows {
		r.crossing.Name = string(rune('a' + i))
		s.Crossings = append(s.Crossings, r.crossing)
	}
	f := plainFlight(0, s)
	f.throw(r3.Vec{Z: 50}, r3.Vec{})
	f.AdvanceTo(20 * second)
	for i, r := range rows {
		assert.InDelta(t, r.want, f.at(string(rune('a'+i))), 1e-6, "%+v", r.crossing)
	}
	for i := range f.events[1:] {
		assert.LessOrEqual(t, f.events[i].At, f.events[i+1].At, "in order of time")
	}
}

func TestADeadDeviceDoesNotOpen(t *testing.T) {
	early := sim.Fault{Kind: sim.DeviceEarly, Device: 1, From: sim.Anchor{Event: "sustainer.burnout", Offset: second}}
	for _, c := range []struct {
		reason  string
		dead    sim.Fault
		main    float64
		faulted uint64
	}{
		{"dead", sim.Fault{Kind: sim.DeviceDead, Device: 1}, -1, 0b01},
		{"another device is dead", sim.Fault{Kind: sim.DeviceDead, Device: 0}, 11.77, 0b10},
		{"another stage's device is dead", sim.Fault{Kind: sim.DeviceDead, Stage: 1, Device: 1}, 11.77, 0b10},
		{"dead only before", sim.Fault{Kind: sim.DeviceDead, Device: 1, Duration: second}, 11.77, 0b10},
	} {
		s := dunlin()
		for i := range s.Vehicle.Stages {
			s.Vehicle.Stages[i].Mount.Igniter.Scatter = 0
		}
		s.Faults = []sim.Fault{c.dead, early}
		f := fly(s, 15*second, press{9 * second, ignite, true})
		assert.InDelta(t, c.main, f.at("sustainer.main"), 1e-6, c.reason)
		assert.Equal(t, c.faulted, f.FaultActivity(), c.reason)
	}
}

func TestFaults(t *testing.T) {
	fire := press{9 * second, ignite, true}
	rows := []struct {
		reason   string
		fault    sim.Fault
		rehearse []sim.Event
		event    string
		at       float64 // -1: never
		changed  bool
	}{
		{"no fault", sim.Fault{}, nil, "sustainer.ignition", 9.17, false},
		{"a dead igniter", sim.Fault{Kind: sim.DeadIgniter}, nil, "sustainer.ignition", -1, true},
		{"dead only later", sim.Fault{Kind: sim.DeadIgniter, From: sim.Anchor{Offset: 10 * second}}, nil, "sustainer.ignition", 9.17, false},
		{"dead only earlier", sim.Fault{Kind: sim.DeadIgniter, Duration: 9 * second}, nil, "sustainer.ignition", 9.17, false},
		{"dead from an event on", sim.Fault{Kind: sim.DeadIgniter, From: sim.Anchor{Event: "booster.burnout", Offset: second}}, nil, "sustainer.ignition", -1, true},
		{"dead from an event that never comes", sim.Fault{Kind: sim.DeadIgniter, From: sim.Anchor{Event: "sustainer.main"}}, nil, "sustainer.ignition", 9.17, false},
		{"a late igniter", sim.Fault{Kind: sim.LateIgniter, Value: 1.5}, nil, "sustainer.ignition", 10.67, true},
		{"the booster's igniter is dead too", sim.Fault{Kind: sim.DeadIgniter, Stage: 1}, nil, "booster.ignition", -1, true},
		{"a motor that dies", sim.Fault{Kind: sim.EarlyBurnout, Stage: 1, From: sim.Anchor{Event: "booster.ignition", Offset: second}}, nil, "booster.burnout", 6.15, true},
		{"a motor that dies before an event", sim.Fault{Kind: sim.EarlyBurnout, Stage: 1, From: sim.Anchor{Event: "booster.burnout", Offset: -second}},
			[]sim.Event{{Name: "booster.burnout", At: 7150 * millisecond}}, "booster.burnout", 6.15, true},
		{"the same without a rehearsal", sim.Fault{Kind: sim.EarlyBurnout, Stage: 1, From: sim.Anchor{Event: "booster.burnout", Offset: -second}}, nil, "booster.burnout", 7.15, false},
		{"a motor that isn't lit can't die", sim.Fault{Kind: sim.EarlyBurnout, From: sim.Anchor{Offset: second}}, nil, "sustainer.burnout", 10.77, false},
		{"a motor that lights by itself", sim.Fault{Kind: sim.SelfIgnition, From: sim.Anchor{Event: "booster.burnout", Offset: second}}, nil, "sustainer.ignition", 8.15, true},
		{"and blows its stage off", sim.Fault{Kind: sim.SelfIgnition, From: sim.Anchor{Event: "booster.burnout", Offset: 100 * millisecond}}, nil, "separation", 7.25, true},
		{"a motor that has burnt can't light by itself", sim.Fault{Kind: sim.SelfIgnition, Stage: 1, From: sim.Anchor{Event: "booster.burnout", Offset: second}}, nil, "booster.ignition", 5.15, false},
		{"stages that part too early", sim.Fault{Kind: sim.SeparationEarly, Stage: 1, From: sim.Anchor{Event: "booster.burnout", Offset: 50 * millisecond}}, nil, "separation", 7.2, true},
		{"they can't part twice", sim.Fault{Kind: sim.SeparationEarly, Stage: 1, From: sim.Anchor{Event: "separation", Offset: second}}, nil, "separation", 7.45, false},
		{"nor on the pad", sim.Fault{Kind: sim.SeparationEarly, Stage: 1, From: sim.Anchor{Offset: second}}, nil, "separation", 7.45, false},
		{"stuck until the upper motor blows them apart", sim.Fault{Kind: sim.SeparationStuck, Stage: 1}, nil, "separation", 9.17, true},
		{"stuck for a while", sim.Fault{Kind: sim.SeparationStuck, Stage: 1, From: sim.Anchor{Event: "booster.burnout"}, Duration: second}, nil, "separation", 8.15, true},
		{"stuck long before", sim.Fault{Kind: sim.SeparationStuck, Stage: 1, Duration: second}, nil, "separation", 7.45, false},
		{"a device opens by itself", sim.Fault{Kind: sim.DeviceEarly, Device: 1, From: sim.Anchor{Event: "sustainer.burnout", Offset: second}}, nil, "sustainer.main", 11.77, true},
		{"a device that the stage does not have", sim.Fault{Kind: sim.DeviceEarly, Device: 9, From: sim.Anchor{Offset: second}}, nil, "sustainer.main", -1, false},
		{"a sensor's fault is not the vehicle's", sim.Fault{Kind: sim.Step}, nil, "sustainer.ignition", 9.17, false},
	}
	for _, r := range rows {
		s := dunlin()
		for i := range s.Vehicle.Stages {
			s.Vehicle.Stages[i].Mount.Igniter.Scatter = 0
		}
		s.Rehearsed = r.rehearse
		s.Faults = []sim.Fault{{Kind: sim.Step}, r.fault}
		f := fly(s, 15*second, fire)
		assert.InDelta(t, r.at, f.at(r.event), 1e-6, r.reason)
		want := uint64(0)
		if r.changed {
			want = 2
		}
		assert.Equal(t, want, f.FaultActivity(), r.reason)
	}
	s := dunlin()
	s.Faults = []sim.Fault{{Kind: sim.EarlyBurnout, Stage: 1, From: sim.Anchor{Event: "liftoff", Offset: second}}}
	f := fly(s, 30*second)
	burnt := s.Vehicle.Stages[1].Mass + rowan.Case
	assert.Greater(t, f.States()[1].Mass, burnt+0.3*rowan.Propellant, "the rest of the propellant stays aboard")
	assert.Less(t, f.States()[1].Mass, burnt+0.6*rowan.Propellant)
}

// Igniter delays scatter by seed and stage, and no motor ignites before its igniter is fired.
func TestIgniterScatter(t *testing.T) {
	s := dunlin()
	s.Vehicle.Stages[1].Mount.Igniter.Scatter = 10 * second
	seen := map[sim.Time]bool{}
	for seed := range uint64(40) {
		s.Seed = seed
		d := New(s).stages[1].motors[0].delay
		assert.GreaterOrEqual(t, d, sim.Time(0))
		assert.Equal(t, d, New(s).stages[1].motors[0].delay, "same seed, same delay")
		seen[d] = true
	}
	assert.Greater(t, len(seen), 15)
	assert.Less(t, len(seen), 38, "about half are cut at zero")
}

// A gust thinner than a step isn't skipped.
func TestThinGustIsMet(t *testing.T) {
	drift := func(gusts ...sim.Gust) float64 {
		s := dart(1, 0.5, 0.054, sim.Motor{})
		s.Vehicle.Stages[0].Fins = []sim.Fins{{Count: 3, Root: 0.1, Tip: 0.05, Span: 0.06, Sweep: 0.05, Station: 0.9}}
		s.Wind.Gusts = gusts
		f := plainFlight(1.225, s)
		f.throw(r3.Vec{Z: 90}, r3.Vec{})
		f.AdvanceTo(5 * second)
		return f.States()[0].Position.Y
	}
	assert.Zero(t, drift())
	thin := drift(sim.Gust{Base: 203, Length: 2, Peak: 10})
	assert.Greater(t, math.Abs(thin), 0.01, "it kicks the rocket")
	assert.InEpsilon(t, thin, drift(sim.Gust{Base: 203, Length: 2, Peak: 10}, sim.Gust{Base: 900, Length: 0.5, Peak: 1}), 1e-3, "with shorter steps as well")
}

// Landed bodies stay at rest, even if a motor ignites or a charge fires on the ground.
func TestLandedStaysDown(t *testing.T) {
	s := dunlin()
	s.Vehicle.Stages[1].Separation.Mode = sim.ByCharge
	f := fly(s, 60*second)
	require.True(t, f.Landed(), "the stack came in ballistic")
	assert.Contains(t, f.names("landing"), "sustainer.landing booster.landing landing", "joined stages land together")
	f.SetOutput(ignite, true)
	f.SetOutput(separate, true)
	where := f.States()[0].Position
	f.AdvanceTo(70 * second)
	assert.Equal(t, "sustainer.ignition sustainer.burnout", f.names("sustainer.ignition", "sustainer.burnout"))
	assert.Equal(t, "separation booster.separation", f.names("separation"))
	for _, st := range f.States() {
		assert.True(t, st.Landed)
		assert.Equal(t, where, st.Position)
		assert.InDelta(t, f.gravity.at(0), r3.Norm(st.Force), 1e-9, "it feels one g")
		assert.Zero(t, st.Position.Z)
	}
	assert.Equal(t, 1, strings.Count(f.names("landing"), " landing"), "and the flight ends once")
}
