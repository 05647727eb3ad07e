package scenario_test

import (
	"bytes"
	"io/fs"
	"math"
	"os"
	"slices"
	"strings"
	"testing"
	"testing/fstest"

	"github.com/goccy/go-yaml"
	"github.com/santhosh-tekuri/jsonschema/v6"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"drystage/harness"
	"drystage/harness/files/scenario"
	"drystage/sim"
	"drystage/sim/r3"
)

func load(t testing.TB, fsys fs.FS, name string) harness.Plan {
	plan, found := scenario.Load(fsys, name)
	for _, p := range found {
		t.Error(p.Error())
	}
	require.Empty(t, found)
	return plan
}

func full(t testing.TB) harness.Plan { return load(t, os.DirFS("testdata"), "good/full.yaml") }

func TestGoodFilesHaveNoFindings(t *testing.T) {
	tree := os.DirFS("testdata")
	files, err := fs.Glob(tree, "good/*")
	require.NoError(t, err)
	require.Len(t, files, 13)
	for _, name := range files {
		assert.Empty(t, scenario.Lint(tree, name), name)
	}
}

func TestVehicleInSI(t *testing.T) {
	plan := full(t)
	assert.Equal(t, "full", plan.Name)
	assert.Equal(t, "good/full.yaml", plan.File)
	assert.Equal(t, "Everything at once", plan.Title)
	assert.Equal(t, "Shows each key of a scenario on one page.", plan.Story)
	v := plan.Setup.Vehicle
	require.Len(t, v.Stages, 2)
	s, b := v.Stages[0], v.Stages[1]

	assert.Equal(t, "Teal", v.Name)
	assert.Equal(t, sim.Inertia{Axial: 2.2e-4, Transverse: 1.4e-2}, s.Inertia)
	assert.Equal(t, sim.Nose{Shape: sim.Ogive, Length: 0.16, Diameter: 0.052}, s.Nose)
	assert.Equal(t, []sim.Transition{{Station: 0.5, Length: 0.05, Front: 0.054, Rear: 0.038}}, s.Transitions)
	assert.Equal(t, []sim.Fins{{Count: 3, Root: 0.09, Tip: 0.045, Span: 0.055, Sweep: 0.045, Thickness: 0.003, Station: 0.52, Cant: math.Pi / 180}}, s.Fins)
	assert.Equal(t, sim.Drag{Points: []sim.DragPoint{{Mach: 0, Cd: 0.5}, {Mach: 0.9, Cd: 0.6}}}, s.Drag)
	assert.Equal(t, s.Drag, s.Stacked, "default")
	assert.Equal(t, 0.6, b.Stacked.Cd)
	assert.Equal(t, sim.Igniter{Pulse: 10 * sim.Millisecond, Delay: 200 * sim.Millisecond, Scatter: 20 * sim.Millisecond}, s.Mount.Igniter)
	assert.Equal(t, sim.Anchor{Event: "booster.burnout", Offset: 2 * sim.Second}, s.Mount.Lit)
	assert.Equal(t, sim.Anchor{Event: "launch"}, b.Mount.Lit, "the lowest stage")
	assert.Equal(t, sim.Motor{
		Name: "Alder", Propellant: 0.062, Case: 0.07, Length: 0.15, Diameter: 0.029,
		Thrust: []sim.ThrustPoint{{T: 0, Thrust: 0}, {T: 0.05, Thrust: 90}, {T: 1.2, Thrust: 70}, {T: 1.5, Thrust: 0}},
	}, s.Mount.Motor)
	assert.Equal(t, sim.Separation{Mode: sim.ByCharge, Delay: 50 * sim.Millisecond, Speed: 2, Shock: sim.Pyroshock{
		Push: 10 * sim.Millisecond, Peak: 400, Ring: 170, Decay: 8 * sim.Millisecond, Offset: 0.002}}, b.Separation, "a charge pushes and rings")
	assert.Equal(t, sim.Snatch{Mass: 0.08 * s.Recovery[1].Area, Speed: 8, Stiffness: 600}, s.Recovery[1].Snatch, "default, by the drag area")
	assert.Equal(t, 3*sim.Millisecond, s.Recovery[1].Shock.Push, "default")
	assert.Equal(t, sim.Ground{Stiffness: 50000, Friction: 0.5}, v.Site.Ground, "default")
	assert.InDelta(t, 1.5*math.Pi*0.45*0.45, s.Recovery[1].Area, 1e-15, "cd times the area of the flat canopy")
	assert.Equal(t, "sustainer height falling through 152.4 m", s.Recovery[1].Opens.Event, "500 ft")
	assert.Equal(t, sim.Anchor{Event: "booster.apogee", Offset: sim.Second / 2}, b.Recovery[0].Opens)

	// 0.4 kg, 27 mm radius, 0.5 m: m r2/2 and m (3 r2 + l2)/12 by hand.
	assert.InDelta(t, 1.458e-4, b.Inertia.Axial, 1e-12)
	assert.InDelta(t, 8.406233333e-3, b.Inertia.Transverse, 1e-12)
	assert.True(t, b.Inertia.Estimated)

	assert.Equal(t, 2.0, v.Rail.Length)
	assert.InDelta(t, 12*math.Pi/180, v.Rail.Tilt, 1e-15, "the scenario's over the vehicle's")
	assert.Equal(t, math.Pi/2, v.Rail.Azimuth)
	assert.Equal(t, 268.15, v.Site.Temperature)
	assert.Equal(t, 95000.0, v.Site.Pressure)
}

// Printed values: U.S. Standard Atmosphere, 1976, table I (geometric altitude): temperature and
// pressure at 0, 500, 1000, 2000 and 5000 m.
func TestStandardDayIsTheDefault(t *testing.T) {
	rows := []struct{ z, kelvin, pascal string }{
		{"0 m", "288.150", "101325"}, {"500 m", "284.900", "95461"}, {"1000 m", "281.651", "89876"}, {"2000 m", "275.154", "79501"}, {"5000 m", "255.676", "54048"},
	}
	for _, row := range rows {
		tree := goodTree(t)
		replace(t, tree, "vehicle.yaml", "450 m", row.z)
		replace(t, tree, "full.yaml", "  temperature: -5 degC\n  pressure: 950 hPa\n", "")
		site := load(t, tree, "full.yaml").Setup.Vehicle.Site
		assert.InDelta(t, parse(t, row.kelvin), site.Temperature, 6e-4, row.z)
		assert.InDelta(t, parse(t, row.pascal), site.Pressure, 1, row.z)
	}
}

func TestBoards(t *testing.T) {
	plan := full(t)
	require.Len(t, plan.Setup.Bays, 2)
	s, b := plan.Setup.Bays[0], plan.Setup.Bays[1]
	assert.Equal(t, "sustainer", s.Name)
	assert.Equal(t, 1, b.Stage, "by its role")
	assert.Equal(t, 0.2, s.Station)
	assert.Equal(t, 250*sim.Millisecond, s.Boot)
	assert.Equal(t, 300*sim.Millisecond, b.Boot, "default")
	a := s.Sensors.Accel
	assert.Equal(t, 200.0, a.Rate)
	assert.Equal(t, 156.9064, a.Range)
	assert.InDelta(t, 0.00980665, -a.Bias.Z, 1e-15)
	assert.Equal(t, [3]r3.Vec{{Y: 1}, {Z: 1}, {X: 1}}, a.Mounting, "z up, x left, so y back")
	assert.Equal(t, [3]r3.Vec{{X: -1}, {Y: 1}, {Z: -1}}, s.Sensors.Gyro.Mounting)
	assert.Equal(t, sim.Barometer{Rate: 50, Min: 30000, Max: 110000, Resolution: 1, Noise: 3, Bias: -40, Crossflow: -0.4,
		Vents: sim.Vents{Count: 3, Diameter: 3e-3, Volume: 4e-4}, Ejection: sim.Ejection{Peak: 70e3, Time: 0.05, Leak: 5e-4},
		Ports: []sim.Port{{Mach: 0.8}, {Mach: 1, Cp: 0.05}, {Mach: 1.1, Cp: -0.03}, {Mach: 1.4}}}, s.Sensors.Baro, "what every bay has is there without a key")
	assert.Equal(t, sim.Receiver{Rate: 10, PositionNoise: 1.5, HeightNoise: 3, VelocityNoise: 0.1, Hold: 1}, s.Sensors.GNSS)
	assert.Equal(t, sim.Battery{Rate: 10, Voltage: 7.4, Sag: 0.2, Noise: 0.01, Resolution: 0.01}, s.Sensors.Battery)
	assert.Zero(t, b.Sensors.Accel, "not fitted")
	assert.Equal(t, []sim.Wire{
		{Channel: 1, Name: "ignite", Effect: sim.Effect{Kind: sim.Ignite}},
		{Channel: 2, Name: "drogue", Effect: sim.Effect{Kind: sim.Deploy}},
		{Channel: 3, Name: "main", Effect: sim.Effect{Kind: sim.Deploy, Device: 1}},
		{Channel: 4, Name: "lamp"},
	}, s.Wires)
	assert.Equal(t, sim.Effect{Kind: sim.Separate, Stage: 1}, b.Wires[0].Effect)
	assert.Equal(t, []harness.Board{
		{Role: "sustainer", Baud: 57600, Answer: 50 * sim.Millisecond, Settings: []harness.Setting{
			{Name: "staging_delay", Value: 1.8}, {Name: "staging_channel", Value: 1}, {Name: "quiet", Value: 1},
			{Name: "main_height", Value: 152.4}, {Name: "extra", Value: 0.125},
		}, NMEA: harness.NMEA{Baud: 19200, Rate: 5, Talker: "GN", Sentences: []string{"GGA", "RMC"}, Start: "2026-06-21T09:30:00Z"}},
		{Role: "booster", Baud: 115200, Lockstep: true},
	}, plan.Boards)
}

func TestFaults(t *testing.T) {
	ms := sim.Millisecond
	at := func(event string, offset sim.Time) sim.Anchor { return sim.Anchor{Event: event, Offset: offset} }
	want := []sim.Fault{
		{Kind: sim.Spike, Part: sim.PartAccel, Axis: sim.AxisX, From: at("booster.burnout", 10*ms), Duration: 60 * ms, Value: -100},
		{Kind: sim.Step, Part: sim.PartBaro, From: at("apogee", -3000*ms), Duration: 1000 * ms, Value: 2500},
		{Kind: sim.Stuck, Part: sim.PartGyro, From: at("max_q", -ms)},
		{Kind: sim.Dropout, Part: sim.PartGNSS, From: at("liftoff", 0), Duration: 2000 * ms},
		{Kind: sim.Drift, Bay: 1, Part: sim.PartBaro, From: at("start", 0), Value: 5},
		{Kind: sim.NoiseBurst, Part: sim.PartBattery, From: at("start", 5000*ms), Value: 0.3},
		{Kind: sim.DeadIgniter, From: at("start", 0)},
		{Kind: sim.LateIgniter, From: at("start", 0), Value: 1.5},
		{Kind: sim.EarlyBurnout, Stage: 1, From: at("booster.ignition", 1000*ms)},
		{Kind: sim.PowerCut, From: at("sustainer.ignition", 0), Duration: 400 * ms},
		{Kind: sim.Drift, Part: sim.PartGyro, Axis: sim.AxisZ, From: at("sustainer tilt rising through 10 deg", 0), Value: 2 * math.Pi / 180},
		{Kind: sim.Stale, Part: sim.PartBaro, From: at("sustainer speed falling through 50 m/s", 0), Duration: 2000 * ms, Value: 5},
		{Kind: sim.Clipped, Part: sim.PartAccel, Axis: sim.AxisX, From: at("liftoff", 0), Value: 78.4532},
		{Kind: sim.Swapped, Part: sim.PartGyro, Axis: sim.AxisZ, From: at("start", 0)},
		{Kind: sim.Reversed, Part: sim.PartAccel, Axis: sim.AxisY, From: at("output sustainer.ignite", 20*ms)},
		{Kind: sim.Scaled, Part: sim.PartBattery, From: at("start", 0), Value: -0.1},
		{Kind: sim.Delayed, Part: sim.PartGNSS, From: at("start", 0), Value: 0.5},
		{Kind: sim.Jittered, Part: sim.PartAccel, From: at("command arm", 0), Value: 0.002},
		{Kind: sim.Duplicated, Part: sim.PartBaro, From: at("start", 0)},
		{Kind: sim.Reordered, Part: sim.PartAccel, From: at("start", 0), Duration: 1000 * ms},
		{Kind: sim.Extreme, Part: sim.PartGNSS, Axis: sim.AxisZ, From: at("apogee", 0), Value: -1},
		{Kind: sim.VentBlocked, Part: sim.PartBaro, From: at("start", 0)},
		{Kind: sim.BayLeak, Bay: 1, Part: sim.PartBaro, From: at("start", 0), Value: 0.05},
		{Kind: sim.FixLost, Part: sim.PartGNSS, From: at("liftoff", 0), Duration: 1000 * ms, Times: 3, Every: 4000 * ms},
		{Kind: sim.HeightLimit, Part: sim.PartGNSS, From: at("start", 0), Value: 1000},
		{Kind: sim.Restart, From: at("apogee", 0), Times: 2, Every: 1000 * ms},
		{Kind: sim.BrownOut, From: at("sustainer.ignition", 0), Duration: 30 * ms, Value: 3},
		{Kind: sim.ClockError, Bay: 1, From: at("start", 0), Value: 100e-6},
		{Kind: sim.BitsFlipped, From: at("liftoff", 0), Duration: 2000 * ms, Value: 0.001},
		{Kind: sim.BytesLost, From: at("liftoff", 0), Duration: 2000 * ms, Value: 0.01},
		{Kind: sim.FramesCut, From: at("liftoff", 0), Duration: 2000 * ms, Value: 0.5},
		{Kind: sim.LinkStalled, From: at("apogee", 0), Duration: 1000 * ms},
		{Kind: sim.SelfIgnition, From: at("booster.burnout", 1000*ms)},
		{Kind: sim.SeparationStuck, Stage: 1, From: at("start", 0), Duration: 9000 * ms},
		{Kind: sim.SeparationEarly, Stage: 1, From: at("booster.burnout", 0)},
		{Kind: sim.DeviceDead, Device: 1, From: at("start", 0)},
		{Kind: sim.DeviceEarly, Device: 1, From: at("sustainer.drogue", 0)},
		{Kind: sim.Chuff, From: at("sustainer.ignition", 100*ms), Duration: 400 * ms, Times: 2, Every: 600 * ms},
		{Kind: sim.ImpulseError, Stage: 1, From: at("start", 0), Value: -0.1},
		{Kind: sim.BurnTimeError, Stage: 1, Motor: 1, From: at("start", 0), Value: 0.05},
		{Kind: sim.TipOff, Stage: 1, Axis: sim.AxisY, From: at("rail_exit", 0), Value: 20 * math.Pi / 180},
		{Kind: sim.HighTilt, Stage: 1, From: at("booster.burnout", 500*ms), Duration: 1000 * ms, Value: 0.5},
		{Kind: sim.WireLost, Channel: 3, From: at("booster.burnout", 0), Duration: 2000 * ms},
		{Kind: sim.WireShorted, Bay: 1, Channel: 2, From: at("liftoff", 0)},
		{Kind: sim.NoseLost, From: at("apogee", 0), Value: 0.1, Speed: 8},
	}
	assert.Equal(t, []sim.Mark{{Name: "output sustainer.ignite", Channel: 1}, {Name: "command arm", Command: sim.CommandArm}}, full(t).Setup.Marks)
	assert.Equal(t, want, full(t).Setup.Faults)
	seen := map[sim.FaultKind]bool{}
	for _, f := range want {
		seen[f.Kind] = true
	}
	assert.Len(t, seen, len(sim.FaultKinds()), "every kind is shown")
}

func TestExpectations(t *testing.T) {
	want := []string{
		"sustainer.drogue fires from apogee - 0.5 s to apogee + 1.5 s",
		"sustainer.main fires from sustainer height falling through 180 m to sustainer height falling through 120 m",
		"sustainer.ignite never fires",
		"sustainer.ignite never fires from liftoff to booster.burnout + 1 s",
		"sustainer.ignite never fires before apogee",
		"sustainer.ignite never fires after sustainer.drogue",
		"sustainer.ignite never fires while sustainer tilt above 20 deg",
		"sustainer.drogue never fires while sustainer height below 50 m",
		"sustainer.drogue fires at most once",
		"sustainer.drogue pulse lasts from 0.5 s to 2 s",
		"sustainer.drogue fires before sustainer.main, at least 1 s apart",
		"booster.part fires before booster.main",
		"booster tilt at most 20 deg when booster.main fires",
		"booster airspeed at least 40 m/s when sustainer.ignite fires",
		"sustainer descent at most 9 m/s at landing",
		"sustainer mach at most 0.1 at sustainer height falling through 30 m",
		"sustainer reports the apogee height within 25 m",
		"sustainer stays alive",
		"sustainer.drogue switches on within 0.5 s after apogee",
		"sustainer.ignite switches off within 0.02 s after apogee",
		"sustainer reports the height within 10 m from liftoff to sustainer.landing",
		"sustainer reports the speed within 5 m/s",
	}
	es := full(t).Expect
	text, err := os.ReadFile("testdata/good/full.yaml")
	require.NoError(t, err)
	before, _, _ := strings.Cut(string(text), "  - {fires:")
	first := 1 + strings.Count(before, "\n")
	var got []string
	kinds := map[harness.ExpectationKind]bool{}
	for i, e := range es {
		got = append(got, e.Text)
		kinds[e.Kind] = true
		assert.Equal(t, harness.Place{File: "good/full.yaml", Line: first + i, Column: 5}, e.Place)
	}
	assert.Equal(t, want, got)
	assert.Len(t, kinds, int(harness.Reaction), "every kind is shown")

	drogue := harness.Channel{Channel: 2, Name: "sustainer.drogue"}
	assert.Equal(t, harness.Expectation{
		Kind: harness.Fires, Text: want[0], Place: es[0].Place, Output: drogue, HasFrom: true, HasTo: true,
		From: sim.Anchor{Event: "apogee", Offset: -500 * sim.Millisecond}, To: sim.Anchor{Event: "apogee", Offset: 1500 * sim.Millisecond},
	}, es[0])
	assert.Equal(t, [2]bool{false, true}, [2]bool{es[4].HasFrom, es[4].HasTo}, "before")
	assert.Equal(t, [2]bool{true, false}, [2]bool{es[5].HasFrom, es[5].HasTo}, "after")
	assert.True(t, es[6].HasMost && !es[6].HasLeast && es[6].Quantity == sim.Tilt, "above 20 deg: at most 20 deg is right")
	assert.Equal(t, 20*math.Pi/180, es[6].Most)
	assert.True(t, es[7].HasLeast && !es[7].HasMost && es[7].Least == 50, "below 50 m: at least 50 m is right")
	assert.Equal(t, "sustainer.main", es[10].Then.Name)
	assert.Equal(t, [2]float64{0.5, 2}, [2]float64{es[9].Least, es[9].Most})
	assert.Equal(t, 1, es[12].Stage, "of the output's board")
	assert.Equal(t, 1, es[13].Stage, "as named")
	assert.Equal(t, "sustainer height falling through 30 m", es[15].Event)
	assert.Equal(t, harness.ApogeeHeight, es[16].Report)
	assert.Equal(t, 25.0, es[16].Most)
	assert.Equal(t, [2]harness.ReportKind{harness.ReportedHeight, harness.ReportedSpeed}, [2]harness.ReportKind{es[20].Report, es[21].Report})
}

func TestSetup(t *testing.T) {
	set := full(t).Setup
	assert.Equal(t, uint64(math.MaxUint64), set.Seed)
	assert.Equal(t, 6*sim.Second, set.Launch)
	assert.Equal(t, 200*sim.Second, set.Limit)
	assert.Equal(t, sim.Anchor{Event: "landing", Offset: 2 * sim.Second}, set.Until)
	assert.Equal(t, sim.Wind{Speed: 4, From: 1.5 * math.Pi, Height: 10, Exponent: 0.143, Gusts: []sim.Gust{
		{Base: 100, Length: 60, Peak: 6, From: 1.5 * math.Pi}, {Base: 300, Length: 60, Peak: -6, From: math.Pi / 2},
	}}, set.Wind)
	assert.Equal(t, []sim.Command{
		{At: sim.Anchor{Event: "start", Offset: 2 * sim.Second}, Bay: -1, What: sim.CommandArm},
		{At: sim.Anchor{Event: "start", Offset: 3 * sim.Second}, Bay: 1, What: sim.CommandDisarm},
		{At: sim.Anchor{Event: "sustainer height rising through 200 m", Offset: sim.Second}, What: sim.CommandStage},
	}, set.Commands)
	var names []string
	for _, c := range set.Crossings {
		names = append(names, c.Name)
	}
	assert.Equal(t, []string{
		"sustainer height falling through 152.4 m", "sustainer height rising through 200 m", "sustainer tilt rising through 10 deg", "sustainer speed falling through 50 m/s",
		"sustainer height falling through 180 m", "sustainer height falling through 120 m", "sustainer height falling through 30 m",
	}, names, "each once, the vehicle's first")
	assert.Equal(t, sim.Crossing{Name: names[0], Quantity: sim.Height, Falling: true, Value: 152.4}, set.Crossings[0])
}

func TestDefaultsOfAScenario(t *testing.T) {
	tree := goodTree(t)
	tree["x.yaml"] = &fstest.MapFile{Data: []byte("---\ndrystage: scenario\ntitle: x\nvehicle: vehicle.yaml\nboards: {booster: {file: booster.yaml}}\nexpect: [{alive: booster}]\n")}
	set := load(t, tree, "x.yaml").Setup
	assert.Equal(t, uint64(1), set.Seed)
	assert.Equal(t, 5*sim.Second, set.Launch)
	assert.Equal(t, 600*sim.Second, set.Limit)
	assert.Equal(t, sim.Anchor{Event: "landing", Offset: sim.Second}, set.Until)
	assert.Zero(t, set.Wind.Speed)
	assert.InDelta(t, 3*math.Pi/180, set.Vehicle.Rail.Tilt, 1e-15, "the vehicle's")
}

func TestWinds(t *testing.T) {
	const degree = math.Pi / 180
	for _, c := range []struct {
		wind   string
		want   sim.Wind
		reason string
	}{
		{"{speed: 4 m/s, from: 90 deg, exponent: 0.2}", sim.Wind{Speed: 4, From: 90 * degree, Height: 10, Exponent: 0.2}, "power law"},
		{"{speed: 4 m/s, from: 90 deg, roughness: 3 cm}", sim.Wind{Speed: 4, From: 90 * degree, Height: 10, Roughness: 0.03}, "logarithmic law: no exponent, not even the default"},
		{"{aloft: [{height: 10 m, speed: 4 m/s, from: 90 deg}, {height: 1 km, speed: 20 kn, from: 180 deg}], gusts: [{base: 1 m, length: 2 m, peak: 3 m/s, from: 45 deg}]}",
			sim.Wind{Height: 10, Aloft: []sim.WindLevel{{Height: 10, Speed: 4, From: 90 * degree}, {Height: 1000, Speed: 20 * 1852 / 3600.0, From: math.Pi}},
				Gusts: []sim.Gust{{Base: 1, Length: 2, Peak: 3, From: 45 * degree}}}, "winds aloft"},
		{"{speed: 4 m/s, from: 90 deg, roughness: 3 cm, turbulence: {}}", sim.Wind{Speed: 4, From: 90 * degree, Height: 10, Roughness: 0.03, Turbulence: sim.Turbulence{On: true}}, "turbulence of that wind"},
		{"{speed: 0 m/s, from: 90 deg, exponent: 0, turbulence: {w20: 36 km/h, aloft: 2 m/s}}", sim.Wind{From: 90 * degree, Height: 10, Turbulence: sim.Turbulence{On: true, W20: 10, Aloft: 2}}, "turbulence of its own"},
	} {
		tree := goodTree(t)
		tree["x.yaml"] = &fstest.MapFile{Data: []byte("drystage: scenario\nlike: full.yaml\nweather: {wind: " + c.wind + "}\n")}
		assert.Equal(t, c.want, load(t, tree, "x.yaml").Setup.Wind, c.reason)
	}
}

func TestLikeTakesWhatIsNotGiven(t *testing.T) {
	plan := load(t, os.DirFS("testdata"), "good/like.yaml")
	assert.Equal(t, "The same without faults", plan.Title)
	assert.Equal(t, "like", plan.Name)
	assert.Empty(t, plan.Setup.Faults, "an empty list is given")
	assert.Equal(t, uint64(7), plan.Setup.Seed)
	assert.Equal(t, 6*sim.Second, plan.Setup.Launch, "taken")
	assert.Len(t, plan.Setup.Bays, 2)
	require.Len(t, plan.Expect, 1)
	assert.Equal(t, 1, plan.Expect[0].Bay)
}

func TestDigestCoversEveryFileAndNothingElse(t *testing.T) {
	tree := goodTree(t)
	before := load(t, tree, "full.yaml").Digest
	require.Len(t, before, 64)
	assert.Equal(t, before, full(t).Digest, "folders don't count")
	assert.NotEqual(t, before, load(t, tree, "like.yaml").Digest)
	for name := range tree {
		old := tree[name].Data
		tree[name] = &fstest.MapFile{Data: append(bytes.Clone(old), '\n')}
		if slices.Contains([]string{"like.yaml", "vary.yaml", "rig.yaml", "silent.yaml", "wiring.yaml", "drystage.yaml"}, name) {
			assert.Equal(t, before, load(t, tree, "full.yaml").Digest, "not one of its files")
		} else {
			assert.NotEqual(t, before, load(t, tree, "full.yaml").Digest, name)
		}
		tree[name] = &fstest.MapFile{Data: old}
	}
}

// A flight log is not read with the scenario, and counts all the same.
func TestDigestCoversALog(t *testing.T) {
	digest := func(log, mapping string) string {
		tree := goodTree(t)
		tree["flight.csv"] = &fstest.MapFile{Data: []byte(log)}
		tree["mapping.yaml"] = &fstest.MapFile{Data: []byte(mapping)}
		tree["replay.yaml"] = &fstest.MapFile{Data: []byte(`drystage: scenario
title: A log
vehicle: vehicle.yaml
boards: {sustainer: {file: sustainer.yaml, stage: sustainer}}
log: {file: flight.csv, mapping: mapping.yaml}
expect: [{alive: sustainer}]
`)}
		plan := load(t, tree, "replay.yaml")
		require.Equal(t, "flight.csv", plan.Log.File)
		return plan.Digest
	}
	before := digest("time,x\n", "m")
	assert.Equal(t, before, digest("time,x\n", "m"))
	assert.NotEqual(t, before, digest("time,y\n", "m"))
	assert.NotEqual(t, before, digest("time,x\n", "n"))
}

func TestLineEndsAndByteOrderMark(t *testing.T) {
	tree := goodTree(t)
	for name, f := range tree {
		tree[name] = &fstest.MapFile{Data: []byte("\ufeff" + strings.ReplaceAll(string(f.Data), "\n", "\r\n"))}
	}
	got, want := load(t, tree, "full.yaml"), load(t, goodTree(t), "full.yaml")
	assert.NotEqual(t, want.Digest, got.Digest, "other bytes")
	assert.Equal(t, want.Expect, got.Expect, "with their places")
	assert.Equal(t, want.Setup, got.Setup)
}

func TestLoadIsTheSameEachTime(t *testing.T) { assert.Equal(t, full(t), full(t)) }

// The schema is checked by an implementation that isn't ours.
func TestSchemaTakesGoodFilesAndRefusesWrongOnes(t *testing.T) {
	rows := []struct {
		kind, file string
		wrong      []string // old, new: refused by the schema
	}{
		{"vehicle", "vehicle.yaml", []string{"mass: 480 g", "mass: 480", "mass: 480 g", "mass: 480 mm", "shape: ogive", "shape: round", "name: Teal", "nmae: Teal", "count: 3", "count: 2.5"}},
		{"board", "sustainer.yaml", []string{"channel: 1,", "channel: 17,", "does: nothing", "does: ignite", "z up x left", "z up", "lockstep: false", "lockstep: maybe"}},
		{"board", "booster.yaml", []string{"50 Hz", "50 V"}},
		{"scenario", "full.yaml", []string{"give: arm", "give: fire", "seed: 18446744073709551615", "seed: -1", "limit: 200 s", "limit: 200", "once:", "twice:", "axis: x", "axis: w"}},
		{"scenario", "like.yaml", []string{"drystage: scenario", "drystage: board"}},
		{"settings", "firmware.yaml", []string{"is: flag", "is: flags", "name:", "nmae:", "0 m", "0 furlong"}},
		{"wiring", "wiring.yaml", []string{"pin: PA0", "pin: A0", "address: 0x68", "address: 0x468", "does: arm", "does: fire"}},
		{"project", "drystage.yaml", []string{"sustainer: mock", "sustainer: ftp:x", "records: flown", "records: /etc", "page: out/page.html", "page: page.txt", "jobs: 2", "jobs: 0", "rig:", "rigs:", "booster: serial", "booster: mock"}},
		{"rig", "rig.yaml", []string{"10 ohm", "10 V", "does: power sustainer", "does: blow sustainer", "active: low", "active: maybe", "board: serial:", "board: exec:"}},
	}
	for _, row := range rows {
		text, err := os.ReadFile("testdata/good/" + row.file)
		require.NoError(t, err)
		require.NoError(t, validate(t, row.kind, string(text)), row.file)
		for i := 0; i < len(row.wrong); i += 2 {
			bad := strings.Replace(string(text), row.wrong[i], row.wrong[i+1], 1)
			require.NotEqual(t, string(text), bad)
			assert.Error(t, validate(t, row.kind, bad), "%s with %s", row.file, row.wrong[i+1])
		}
	}
	require.NoError(t, validate(t, "motor", "name: A\npropellant: 5 g\ncase: 5 g\nlength: 5 cm\ndiameter: 1 in\n"))
	require.Error(t, validate(t, "motor", "name: A\n"))
	_, err := scenario.Schema("rocket")
	assert.EqualError(t, err, `scenario: no schema of "rocket": the kinds are vehicle, motor, board, scenario, rig, settings, wiring or project`)
}

func validate(t *testing.T, kind, text string) error {
	b, err := scenario.Schema(kind)
	require.NoError(t, err)
	doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(b))
	require.NoError(t, err)
	c := jsonschema.NewCompiler()
	c.DefaultDraft(jsonschema.Draft2020)
	require.NoError(t, c.AddResource(kind+".json", doc))
	s, err := c.Compile(kind + ".json")
	require.NoError(t, err)
	j, err := yaml.YAMLToJSON([]byte(text))
	require.NoError(t, err)
	v, err := jsonschema.UnmarshalJSON(bytes.NewReader(j))
	require.NoError(t, err)
	return s.Validate(v)
}

func replace(t *testing.T, tree fstest.MapFS, name, old, new string) {
	require.Contains(t, string(tree[name].Data), old)
	tree[name] = &fstest.MapFile{Data: []byte(strings.Replace(string(tree[name].Data), old, new, 1))}
}

func parse(t *testing.T, s string) float64 {
	var x float64
	require.NoError(t, yaml.Unmarshal([]byte(s), &x))
	return x
}

// What a plan has kept of its files makes the same plan again, and other files make another.
func TestAPlanKeepsItsFiles(t *testing.T) {
	tree := goodTree(t)
	tree["flight.csv"] = &fstest.MapFile{Data: []byte("time,x\n")}
	tree["replay.yaml"] = &fstest.MapFile{Data: []byte(`drystage: scenario
title: A log
vehicle: vehicle.yaml
boards: {sustainer: {file: sustainer.yaml, stage: sustainer}}
log: {file: flight.csv}
expect: [{alive: sustainer}]
`)}
	tree["sustainer.yaml"].Data = []byte("\ufeff" + strings.ReplaceAll(string(tree["sustainer.yaml"].Data), "\n", "\r\n"))
	for _, name := range []string{"full.yaml", "like.yaml", "replay.yaml"} {
		plan := load(t, tree, name)
		again, problems := scenario.Again(plan.Files, plan.File)
		require.Empty(t, problems, name)
		require.Equal(t, plan, again, name)
		for i, f := range plan.Files {
			files := slices.Clone(plan.Files)
			files[i] = harness.File{Name: f.Name, Text: f.Text + "\n"}
			if f.Sum != "" {
				files[i].Text, files[i].Sum = "", strings.Repeat("0", len(f.Sum))
			}
			again, problems = scenario.Again(files, plan.File)
			require.Empty(t, problems, f.Name)
			require.NotEqual(t, plan.Digest, again.Digest, f.Name)
			_, problems = scenario.Again(slices.Delete(slices.Clone(plan.Files), i, i+1), plan.File)
			require.NotEmpty(t, problems, "%s without %s", name, f.Name)
		}
		if name == "replay.yaml" {
			files := slices.Clone(plan.Files)
			files[len(files)-1].Sum = "00"
			_, problems = scenario.Again(files, plan.File)
			require.NotEmpty(t, problems, "a digest that is none")
		}
	}
}
