package files

import (
	"fmt"
	"io/fs"
	"os"
	"strings"
	"testing"
	"testing/fstest"

	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/spatial/r3"

	"drystage/harness"
	"drystage/sim"
)

// withLines loads the nominal scenario with some keys written anew.
func withLines(t *testing.T, lines string) (harness.Plan, []harness.Problem) {
	text := "drystage: scenario\nlike: scenarios/nominal.yaml\ntitle: t\n" + lines
	return Load(overlay{fstest.MapFS{"x.yaml": {Data: []byte(text)}}}, "x.yaml")
}

// overlay is a file system of a few files over the repository.
type overlay struct{ fstest.MapFS }

func (o overlay) Open(name string) (fs.File, error) {
	if _, ok := o.MapFS[name]; ok {
		return o.MapFS.Open(name)
	}
	return os.DirFS("../..").Open(name)
}

func TestAnchors(t *testing.T) {
	for _, c := range []struct {
		text, event string
		offset      sim.Time
	}{
		{"apogee", "apogee", 0},
		{"apogee - 0.5 s", "apogee", -500 * sim.Millisecond},
		{"booster.burnout + 10 ms", "booster.burnout", 10 * sim.Millisecond},
		{"2 s", "start", 2 * sim.Second},
		{"start + 2 s", "start", 2 * sim.Second},
		{"sustainer.drogue", "sustainer.drogue", 0},
		{"separation", "separation", 0},
		{"height falling through 500 ft", "sustainer height falling through 152.4 m", 0},
		{"booster height rising through 100 m + 1 s", "booster height rising through 100 m", sim.Second},
		{"climb falling through -5 m/s", "sustainer climb falling through -5 m/s", 0},
		{"tilt rising through 20 deg", "sustainer tilt rising through 20 deg", 0},
		{"mach falling through 0.4", "sustainer mach falling through 0.4", 0},
	} {
		t.Run(c.text, func(t *testing.T) {
			p, ps := withLines(t, fmt.Sprintf("until: %s\n", c.text))
			require.Empty(t, ps)
			require.Equal(t, sim.Anchor{Event: c.event, Offset: c.offset}, p.Setup.Until)
			if strings.Contains(c.event, "through") {
				found := false
				for _, x := range p.Setup.Crossings {
					found = found || x.Name == c.event
				}
				require.True(t, found, "a crossing is an event to look for")
			}
		})
	}
}

func TestAnchorsRefused(t *testing.T) {
	for _, c := range []struct{ reason, text, words string }{
		{"a stage without the event", "sustainer.separation", "can't happen here"},
		{"a span without a unit", "apogee + 3", "has no unit"},
		{"a crossing of an unknown quantity", "hight falling through 3 m", "did you mean `height`?"},
		{"a crossing of another dimension", "height falling through 3 s", "is a time"},
		{"a crossing of an unknown stage", "upper height falling through 3 m", "unknown stage"},
		{"a misspelt event", "apoge", "did you mean `apogee`?"},
	} {
		t.Run(c.reason, func(t *testing.T) {
			_, ps := withLines(t, fmt.Sprintf("until: %s\n", c.text))
			require.Len(t, ps, 1)
			require.Contains(t, ps[0].Error(), c.words)
			require.Equal(t, "x.yaml:4:8", ps[0].Place.String())
		})
	}
}

func TestFaults(t *testing.T) {
	from := sim.Anchor{Event: "liftoff"}
	for _, c := range []struct {
		text string
		want sim.Fault
	}{
		{"{spike: sustainer.accelerometer, axis: x, from: liftoff, for: 60 ms, by: -10 g0}", sim.Fault{Kind: sim.Spike, Part: sim.PartAccel, Axis: sim.AxisX, From: from, Duration: 60 * sim.Millisecond, Value: -98.0665}},
		{"{step: booster.barometer, from: liftoff, by: 2 hPa}", sim.Fault{Kind: sim.Step, Bay: 1, Part: sim.PartBaro, From: from, Value: 200}},
		{"{drift: sustainer.barometer, from: liftoff, by: -3 Pa/s}", sim.Fault{Kind: sim.Drift, Part: sim.PartBaro, From: from, Value: -3}},
		{"{stuck: sustainer.gyro, from: liftoff}", sim.Fault{Kind: sim.Stuck, Part: sim.PartGyro, From: from}},
		{"{dropout: sustainer.gnss, from: liftoff, for: 2 s}", sim.Fault{Kind: sim.Dropout, Part: sim.PartGNSS, From: from, Duration: 2 * sim.Second}},
		{"{noise_burst: sustainer.battery, from: liftoff, by: 50 mV}", sim.Fault{Kind: sim.NoiseBurst, Part: sim.PartBattery, From: from, Value: 0.05}},
		{"{igniter_dead: sustainer}", sim.Fault{Kind: sim.DeadIgniter}},
		{"{igniter_late: sustainer, by: 1.5 s}", sim.Fault{Kind: sim.LateIgniter, Value: 1.5}},
		{"{early_burnout: booster, from: liftoff}", sim.Fault{Kind: sim.EarlyBurnout, Stage: 1, From: from}},
		{"{power_cut: booster, from: liftoff, for: 400 ms}", sim.Fault{Kind: sim.PowerCut, Bay: 1, From: from, Duration: 400 * sim.Millisecond}},
	} {
		t.Run(c.text, func(t *testing.T) {
			p, ps := withLines(t, "faults:\n  - "+c.text+"\n")
			require.Empty(t, ps)
			require.Equal(t, []sim.Fault{c.want}, p.Setup.Faults)
		})
	}
	require.Len(t, faultBlocks, len(sim.FaultKinds()), "every kind of fault can be written")
}

func TestExpectations(t *testing.T) {
	drogue := harness.Channel{Channel: 2, Name: "sustainer.drogue"}
	for _, c := range []struct {
		text string
		want harness.Expectation
	}{
		{"{never: sustainer.drogue}", harness.Expectation{Kind: harness.Never, Output: drogue}},
		{"{never: sustainer.drogue, before: apogee}", harness.Expectation{Kind: harness.Never, Output: drogue, To: sim.Anchor{Event: "apogee"}, HasTo: true}},
		{"{never: sustainer.drogue, while: airspeed above 50 m/s}", harness.Expectation{Kind: harness.Never, Output: drogue, Quantity: sim.Airspeed, Most: 50, HasMost: true}},
		{"{never: sustainer.drogue, while: booster height below 10 m}", harness.Expectation{Kind: harness.Never, Output: drogue, Quantity: sim.Height, Stage: 1, Least: 10, HasLeast: true}},
		{"{once: sustainer.drogue}", harness.Expectation{Kind: harness.Once, Output: drogue}},
		{"{pulse: sustainer.drogue, at_most: 2 s}", harness.Expectation{Kind: harness.Pulse, Output: drogue, Most: 2, HasMost: true}},
		{"{order: [sustainer.drogue, booster.main]}", harness.Expectation{Kind: harness.Order, Output: drogue, Then: harness.Channel{Bay: 1, Channel: 1, Name: "booster.main"}}},
		{"{firing: booster.main, quantity: climb, at_most: 5 m/s}", harness.Expectation{Kind: harness.AtFiring, Output: harness.Channel{Bay: 1, Channel: 1, Name: "booster.main"}, Quantity: sim.Climb, Stage: 1, Most: 5, HasMost: true}},
		{"{event: booster.landing, quantity: descent, at_most: 9 m/s}", harness.Expectation{Kind: harness.AtEvent, Event: "booster.landing", Quantity: sim.Descent, Stage: 1, Most: 9, HasMost: true}},
		{"{report: apogee_height, board: booster, within: 20 m}", harness.Expectation{Kind: harness.Reports, Bay: 1, Report: harness.ApogeeHeight, Most: 20, HasMost: true}},
		{"{alive: booster}", harness.Expectation{Kind: harness.Alive, Bay: 1}},
	} {
		t.Run(c.text, func(t *testing.T) {
			p, ps := withLines(t, "expect:\n  - "+c.text+"\n")
			require.Empty(t, ps)
			got := p.Expect[0]
			require.Equal(t, "x.yaml:5:5", got.Place.String())
			require.NotEmpty(t, got.Text)
			got.Place, got.Text = harness.Place{}, ""
			require.Equal(t, c.want, got)
		})
	}
}

func TestMounting(t *testing.T) {
	up, left, back := r3.Vec{X: 1}, r3.Vec{Y: 1}, r3.Vec{Z: 1}
	neg := func(v r3.Vec) r3.Vec { return r3.Scale(-1, v) }
	for _, c := range []struct {
		text string
		want [3]r3.Vec
	}{
		{"x up y left", [3]r3.Vec{up, left, back}},
		{"x up, y left, z back", [3]r3.Vec{up, left, back}},
		{"z up x right", [3]r3.Vec{neg(left), neg(back), up}},
		{"y down z left", [3]r3.Vec{neg(back), neg(up), left}},
	} {
		got, why := mounting(c.text)
		require.Empty(t, why, c.text)
		for i := range got {
			require.InDelta(t, 0, r3.Norm(r3.Sub(c.want[i], got[i])), 1e-15, "%s axis %d: %v", c.text, i, got[i])
		}
	}
	for text, words := range map[string]string{
		"x up": "neither two axes nor three", "x up y up": "right-handed", "x up y left z front": "right-handed",
		"x up x left": "twice", "w up x left": "no axis", "x upwards y left": "no direction",
	} {
		_, why := mounting(text)
		require.Contains(t, why, words, text)
	}
}
