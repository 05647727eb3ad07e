package scenario_test

import (
	"fmt"
	"math"
	"strings"
	"testing"
	"testing/fstest"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"drystage/harness"
	"drystage/harness/files/scenario"
	"drystage/harness/reference"
	"drystage/harness/vary"
	"drystage/scenarios"
	"drystage/sim"
)

func degree(x float64) float64 { return x * math.Pi / 180 }

func TestVaryInSI(t *testing.T) {
	plan := full(t)
	require.Len(t, plan.Vary, 16)
	by := map[string]harness.Vary{}
	for i, v := range plan.Vary {
		assert.Equal(t, "good/full.yaml", v.Place.File)
		assert.Equal(t, plan.Vary[0].Place.Line+i, v.Place.Line, v.Name)
		v.Place = harness.Place{}
		by[v.Name] = v
	}
	rows := []struct {
		want   harness.Vary
		reason string
	}{
		{harness.Vary{What: harness.WindSpeed, Name: "wind.speed", Unit: "m/s", Low: 1, High: 6}, "even"},
		{harness.Vary{What: harness.Temperature, Name: "weather.temperature", Unit: "K", Law: harness.Normal, Low: 213.14999999999998, High: 333.15, Mean: 268.15, Sigma: 4}, "cut at the key's own range"},
		{harness.Vary{What: harness.StageMass, Name: "sustainer.mass", Unit: "kg", Low: 0.46, High: 0.5}, "by stage"},
		{harness.Vary{What: harness.CGShift, Name: "booster.cg_shift", Unit: "m", Index: 1, Low: -0.01, High: 0.01}, "by stage"},
		{harness.Vary{What: harness.DragScale, Name: "booster.drag", Index: 1, Law: harness.Normal, Low: 0.5, High: 1.5, Mean: 1, Sigma: 0.05}, "a percentage"},
		{harness.Vary{What: harness.DragScale, Name: "vehicle.drag", Index: harness.AllStages, Low: 0.9, High: 1.1}, "all stages"},
		{harness.Vary{What: harness.BurnTimeScale, Name: "sustainer.burn_time", Low: 0.95, High: 1.05}, "percentages"},
		{harness.Vary{What: harness.IgniterDelay, Name: "sustainer.igniter_delay", Unit: "s", Low: 0.1, High: 0.4}, "two units"},
		{harness.Vary{What: harness.FaultFrom, Name: "spike.from", Unit: "s", From: sim.Anchor{Event: "booster.burnout"}, Low: -0.05, High: 0.05}, "around its event"},
		{harness.Vary{What: harness.RailAzimuth, Name: "rail.azimuth", Unit: "rad", Law: harness.Triangular, Low: degree(80), Mode: degree(92), High: degree(100)}, "a likeliest value"},
		{harness.Vary{What: harness.BatteryVoltage, Name: "sustainer.battery", Unit: "V", Law: harness.Discrete, Low: 7, High: 8.4, Of: []float64{7, 7.4, 8.4}, Shares: []float64{0.25, 0.25, 0.5}}, "three batches, sorted"},
		{harness.Vary{What: harness.FaultBy, Name: "drift.2.by", Unit: "rad/s2", Index: 10, Low: degree(1), High: degree(3)}, "the second drift, in its part's unit"},
	}
	for _, row := range rows {
		assert.Equal(t, row.want, by[row.want.Name], row.reason)
	}
	require.Len(t, plan.Correlated, 2)
	assert.Equal(t, [2]string{"sustainer.battery", "booster.impulse"}, plan.Correlated[1].Pair)
	assert.InDelta(t, 0.3, plan.Correlated[1].Rho, 0)
	wind, heat := by["wind.from"], by["weather.temperature"]
	low, high := wind.Likely()
	assert.InDelta(t, 210*math.Pi/180, low, 1e-12)
	assert.InDelta(t, 330*math.Pi/180, high, 1e-12)
	heat.Sigma = 30
	low, high = heat.Likely()
	assert.Equal(t, []float64{heat.Low, 333.15}, []float64{low, high}, "cut before three sigma")
}

// Every value that is set lands where it belongs, and nothing else changes.
func TestSetChangesWhatItNames(t *testing.T) {
	tree := goodTree(t)
	base := load(t, tree, "full.yaml")
	got := load(t, tree, "vary.yaml")
	require.Len(t, got.Set, 11)
	assert.Equal(t, harness.Value{Name: "drift.2.by", Value: degree(3), Unit: "rad/s2"}, got.Set[9])

	want := load(t, tree, "full.yaml").Setup // a copy of its own
	turned := degree(300) - want.Wind.From
	want.Wind.Speed, want.Wind.From = 2, degree(300)
	for i := range want.Wind.Gusts {
		want.Wind.Gusts[i].From += turned
	}
	s, b := &want.Vehicle.Stages[0], &want.Vehicle.Stages[1]
	by := 0.6 / s.Mass
	s.Mass = 0.6
	s.Inertia.Axial *= by
	s.Inertia.Transverse *= by
	b.CG += -0.02
	b.Drag.Scale, b.Stacked.Scale = 0.8*1.25, 0.8*1.25
	s.Drag.Scale, s.Stacked.Scale = 0.8, 0.8
	for i := range b.Mount.Motor.Thrust {
		p := &b.Mount.Motor.Thrust[i]
		p.Thrust = p.Thrust * 0.9 * (1 / 1.25)
		p.T *= 1.25
	}
	want.Faults[0].From = sim.Anchor{Event: "booster.burnout", Offset: -50 * sim.Millisecond}
	want.Faults[10].Value = degree(3)
	want.Faults[len(want.Faults)-1].Value = 0.05
	want.Rehearsed = nil
	assert.Equal(t, want, got.Setup)

	var names []string
	for _, v := range got.Vary {
		names = append(names, v.Name)
	}
	assert.Equal(t, "weather.temperature weather.pressure rail.tilt rail.azimuth sustainer.burn_time sustainer.igniter_delay sustainer.battery", strings.Join(names, " "), "what is set doesn't vary")
	assert.Len(t, base.Vary, 16)
}

// One flight of a sweep, told as text and read again, is the same flight to the last bit.
func TestAFlightOfASweepComesBackFromItsText(t *testing.T) {
	tree := goodTree(t)
	sweep := load(t, tree, "full.yaml")
	for i := 1; i <= 50; i++ {
		flight := vary.Plan(&sweep, i, harness.Random)
		require.Len(t, flight.Set, 16)
		tree["again.yaml"] = &fstest.MapFile{Data: fmt.Appendf(nil, "drystage: scenario\nlike: full.yaml\nseed: %d\nset: %s\n", flight.Setup.Seed, vary.Texts(flight.Set))}
		again := load(t, tree, "again.yaml")
		require.Equal(t, flight.Setup, again.Setup, i)
		require.Equal(t, flight.Set, again.Set)
		require.Empty(t, again.Vary)
	}
}

// A scenario like a sweep varies what it has of it, and no fault that it doesn't have.
func TestLikeASweepVariesWhatIsThere(t *testing.T) {
	tree := goodTree(t)
	got := load(t, tree, "like.yaml")
	for _, v := range got.Vary {
		assert.NotContains(t, []harness.Varied{harness.FaultFrom, harness.FaultBy}, v.What, v.Name)
	}
	assert.Len(t, got.Vary, 14)
	assert.Len(t, got.Correlated, 2)
	assert.Empty(t, load(t, tree, "vary.yaml").Correlated, "of what is set there")
}

// A scenario without some faults of another one has the others, which vary by the names that they had.
func TestWithout(t *testing.T) {
	tree := goodTree(t)
	faults := "  - {spike: sustainer.barometer, from: liftoff, for: 1 s, by: 10 Pa}\n  - {dropout: sustainer.barometer, from: apogee, for: 1 s}\n  - {spike: sustainer.barometer, from: apogee, for: 1 s, by: 20 Pa}\n"
	varied := "  - {of: spike.1.by, between: [1 Pa, 2 Pa]}\n  - {of: spike.2.by, between: [3 Pa, 4 Pa]}\n"
	tree["many.yaml"] = &fstest.MapFile{Data: []byte("drystage: scenario\nlike: full.yaml\nfaults:\n" + faults + "vary:\n" + varied)}
	write := func(keys string) {
		tree["few.yaml"] = &fstest.MapFile{Data: []byte("drystage: scenario\nlike: many.yaml\n" + keys)}
	}
	write("without: [spike.1, dropout]\nset:\n  - {of: wind.speed, is: 2 m/s}\n")
	got := load(t, tree, "few.yaml")
	require.Len(t, got.Setup.Faults, 1)
	require.Equal(t, 20.0, got.Setup.Faults[0].Value)
	require.Equal(t, []string{"spike.1", "dropout"}, got.Without)
	require.Len(t, got.Vary, 1)
	require.Equal(t, "spike.2.by", got.Vary[0].Name)
	require.Equal(t, 3.5, vary.Apply(&got, got.Vary, []harness.Value{{Name: "spike.2.by", Value: 3.5, Unit: "Pa"}}).Setup.Faults[0].Value)
	for _, c := range []struct{ keys, want string }{
		{"without: [spike]", `few.yaml:3:11: found unknown fault "spike", wanted a fault of this scenario, or of the one that it is like`},
		{"without: [dropuot]", `did you mean "dropout"`},
		{"without: [wind]", "the names are spike.1, dropout or spike.2"},
		{"without: [dropout, dropout]", `few.yaml:3:20: found "dropout" again`},
		{"without: dropout", "few.yaml:3:10: "},
		{"without: [spike.1]\nset: [{of: spike.1.by, is: 1 Pa}]", "`without` leaves this fault out"},
	} {
		write(c.keys)
		_, problems := scenario.Load(tree, "few.yaml")
		require.Len(t, problems, 1, c.keys)
		require.Contains(t, problems[0].Error(), c.want)
	}
}

// A fault's time is told from its event; around the launch, whose time is known, on both sides of it.
func TestVariedFaultsKeepTheirEvent(t *testing.T) {
	rows := []struct {
		from, event, low, high string
		written                float64
		reason                 string
	}{
		{"launch + 1 s", "start", "-2 s", "3 s", 1, "after the launch"},
		{"launch - 1 s", "start", "-2 s", "3 s", -1, "before it"},
		{"3 s", "start", "0 s", "5 s", 3, "counted from the start"},
		{"booster.burnout - 0.5 s", "booster.burnout", "-1 s", "1 s", -0.5, "from a rehearsal, or after it"},
		{"max_q - 0.5 s", "max_q", "-1 s", "-0.1 s", -0.5, "known from a rehearsal only"},
		{"output sustainer.ignite + 1 s", "output sustainer.ignite", "0 s", "2 s", 1, "what a board does"},
		{"sustainer height rising through 100 m", "sustainer height rising through 100 m", "-1 s", "2 s", 0, "a crossing"},
	}
	for _, row := range rows {
		tree := goodTree(t)
		tree["x.yaml"] = &fstest.MapFile{Data: fmt.Appendf(nil, "drystage: scenario\nlike: full.yaml\nfaults:\n  - {dropout: sustainer.barometer, from: %s, for: 1 s}\nvary:\n  - {of: dropout.from, between: [%s, %s]}\n", row.from, row.low, row.high)}
		plan := load(t, tree, "x.yaml")
		require.Len(t, plan.Vary, 1, row.reason)
		v := plan.Vary[0]
		assert.Equal(t, row.event, v.From.Event, row.reason)
		assert.InDelta(t, row.written, vary.Written(&plan, &v).Value, 1e-12, row.reason)
		late := vary.Apply(&plan, plan.Vary, []harness.Value{{Name: v.Name, Value: v.High, Unit: v.Unit}})
		assert.Equal(t, v.From.Offset+sim.Seconds(v.High), late.Setup.Faults[0].From.Offset, row.reason)
	}
}

func TestVaryIsExplained(t *testing.T) {
	found, _ := reference.Find(scenario.Reference(scenarios.Files, "."), "scenario.vary")
	text := strings.ReplaceAll(reference.Text(found, nil, false), "\n  ", "\n")
	for _, w := range []string{
		"between: a list of 2, each a quantity", "wind.speed\n  a speed from 0 m/s to 60 m/s", "STAGE.cg_shift\n", "FAULT.by\n  its size",
		"vehicle.drag\n  a number from 0.5 to 1.5", "BOARD.battery\n  a voltage from 0.5 V", "STAGE.igniter_delay\n  a time from 0 s to 30 s",
	} {
		assert.Contains(t, text, w)
	}
}
