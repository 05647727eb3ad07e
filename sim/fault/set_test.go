package fault

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat"
	"pgregory.net/rapid"

	"drystage/sim"
	"drystage/sim/r3"
)

const ms = sim.Millisecond

// setup has the two bays "sustainer" and "booster" and some faults.
func setup(faults ...sim.Fault) *sim.Setup {
	return &sim.Setup{
		Seed:    3,
		Vehicle: sim.Vehicle{Stages: []sim.Stage{{Name: "sustainer", Recovery: []sim.Device{{Name: "drogue"}, {Name: "main"}}}, {Name: "booster"}}},
		Bays:    []sim.Bay{{Name: "sustainer"}, {Name: "booster"}},
		Faults:  faults,
	}
}

const everything = sim.HasAccel | sim.HasGyro | sim.HasBaro | sim.HasGNSS | sim.HasBattery | sim.HasMag

// clean is a frame with every sample fresh; all change with time.
func clean(bay int, now sim.Time) sim.Frame {
	x := now.Seconds()
	return sim.Frame{
		Now: now, Bay: bay, Due: true, Powered: true, Has: everything,
		Accel: r3.Vec{X: 10 + x, Y: 1 + x, Z: 2 + x}, Gyro: r3.Vec{X: x, Y: 1 + x, Z: 2 + x},
		Pressure: 9e4 - x, Temperature: 288 - x, Battery: 7.4 - x/100,
		GNSS: sim.Fix{Latitude: 0.8 + x/1e6, Longitude: 0.1 + x/1e6, Height: 500 + x, Velocity: r3.Vec{Z: x}, Kind: sim.Fix3D, Satellites: 9},
	}
}

// at gives the frame of bay 0 at an instant after the fault has seen every 5 ms before it.
func at(f sim.Fault, now sim.Time, events ...sim.Event) (sim.Frame, uint64) {
	x := New(setup(f))
	for t := sim.Time(0); t < now; t += 5 * ms {
		g := clean(0, t)
		x.sense(&g, events)
	}
	g := clean(0, now)
	changed := x.sense(&g, events)
	return g, changed
}

func from(t sim.Time) sim.Anchor { return sim.Anchor{Offset: t} }

func TestKinds(t *testing.T) {
	accel := sim.Fault{Part: sim.PartAccel, Axis: sim.AxisX, From: from(100 * ms), Duration: 60 * ms, Value: -100}
	for _, c := range []struct {
		kind   sim.FaultKind
		now    sim.Time
		add    float64 // to x, beyond the clean sample
		reason string
	}{
		{sim.Spike, 95 * ms, 0, "not yet"},
		{sim.Spike, 100 * ms, 0, "a bump begins at nothing"},
		{sim.Spike, 110 * ms, -50, "sin 30 deg"},
		{sim.Spike, 130 * ms, -100, "top of the bump"},
		{sim.Spike, 150 * ms, -50, "sin 150 deg"},
		{sim.Spike, 160 * ms, 0, "over"},
		{sim.Step, 95 * ms, 0, "not yet"},
		{sim.Step, 100 * ms, -100, "at once"},
		{sim.Step, 155 * ms, -100, "to the last"},
		{sim.Step, 160 * ms, 0, "over: the end is not in it"},
		{sim.Drift, 100 * ms, 0, "grows from nothing"},
		{sim.Drift, 150 * ms, -5, "100 a second for 50 ms"},
		{sim.Drift, 160 * ms, 0, "over"},
		{sim.Stuck, 95 * ms, 0, "not yet"},
		{sim.Stuck, 100 * ms, -0.005, "the sample of 95 ms"},
		{sim.Stuck, 150 * ms, -0.055, "still the sample of 95 ms"},
		{sim.Stuck, 160 * ms, 0, "over"},
	} {
		f := accel
		f.Kind = c.kind
		got, changed := at(f, c.now)
		want := clean(0, c.now)
		want.Accel.X += c.add
		assert.InDelta(t, want.Accel.X, got.Accel.X, 1e-12, "%s at %s: %s", c.kind, c.now, c.reason)
		assert.Equal(t, c.add != 0, changed == 1, "%s at %s counts only if it changed something", c.kind, c.now)
		want.Accel.X = got.Accel.X
		assert.Equal(t, want, got, "%s leaves all else, and the sample fresh", c.kind)
	}
}

func TestDropoutTakesTheSampleAway(t *testing.T) {
	f := sim.Fault{Kind: sim.Dropout, Part: sim.PartGNSS, From: from(100 * ms), Duration: 50 * ms}
	for _, c := range []struct {
		now  sim.Time
		gone bool
	}{{95 * ms, false}, {100 * ms, true}, {145 * ms, true}, {150 * ms, false}} {
		got, changed := at(f, c.now)
		assert.Equal(t, c.gone, got.Has&sim.HasGNSS == 0, "%s", c.now)
		assert.Equal(t, c.gone, changed == 1)
		assert.Equal(t, everything&^sim.HasGNSS, got.Has&^sim.HasGNSS)
	}
	x, g := New(setup(f)), clean(0, 110*ms)
	g.Has = sim.HasAccel
	assert.Zero(t, x.sense(&g, nil), "nothing was there to take away")
}

func TestDurationZeroLastsToTheEnd(t *testing.T) {
	_, changed := at(sim.Fault{Kind: sim.Step, Part: sim.PartBaro, Value: 5}, 100*sim.Second)
	assert.Equal(t, uint64(1), changed)
	_, changed = at(sim.Fault{Kind: sim.Spike, Part: sim.PartBaro, Value: 5}, sim.Second)
	assert.Zero(t, changed, "a bump without length is none, and does not count")
}

func TestStaleSamplesAreLeftAlone(t *testing.T) {
	x, g := New(setup(sim.Fault{Kind: sim.Step, Part: sim.PartAccel, Value: 5})), clean(0, 0)
	g.Has = everything &^ sim.HasAccel
	want := g
	assert.Zero(t, x.sense(&g, nil))
	assert.Equal(t, want, g)
}

func TestStuckFromTheFirstSampleKeepsThat(t *testing.T) {
	got, changed := at(sim.Fault{Kind: sim.Stuck, Part: sim.PartBaro}, 500*ms)
	assert.Equal(t, clean(0, 0).Pressure, got.Pressure)
	assert.Equal(t, uint64(1), changed)
	_, changed = at(sim.Fault{Kind: sim.Stuck, Part: sim.PartBaro}, 0)
	assert.Zero(t, changed, "the first sample is what it was")
}

func TestStuckOnTheSameValueDoesNotCount(t *testing.T) {
	x := New(setup(sim.Fault{Kind: sim.Stuck, Part: sim.PartBattery, From: from(5 * ms)}))
	for now := sim.Time(0); now < 100*ms; now += 5 * ms {
		g := clean(0, 0)
		g.Now = now
		assert.Zero(t, x.sense(&g, nil), "a steady value hides a stuck part")
	}
}

func TestStuckFix(t *testing.T) {
	f := sim.Fault{Kind: sim.Stuck, Part: sim.PartGNSS, From: from(100 * ms)}
	old, now := clean(0, 95*ms).GNSS, clean(0, 200*ms).GNSS
	for _, c := range []struct {
		axis sim.Axis
		want func(*sim.Fix)
	}{
		{sim.AllAxes, func(x *sim.Fix) { *x = old }},
		{sim.AxisX, func(x *sim.Fix) { x.Longitude = old.Longitude }},
		{sim.AxisY, func(x *sim.Fix) { x.Latitude = old.Latitude }},
		{sim.AxisZ, func(x *sim.Fix) { x.Height = old.Height }},
	} {
		f.Axis = c.axis
		want := now
		c.want(&want)
		got, _ := at(f, 200*ms)
		assert.Equal(t, want, got.GNSS, "axis %s", c.axis)
	}
}

func TestAnchors(t *testing.T) {
	step := sim.Fault{Kind: sim.Step, Part: sim.PartBaro, Value: 5, Duration: 100 * ms}
	burnout := sim.Event{Name: "booster.burnout", At: sim.Second}
	for _, c := range []struct {
		from   sim.Anchor
		events []sim.Event
		now    sim.Time
		fires  bool
		reason string
	}{
		{sim.Anchor{Event: "booster.burnout"}, nil, sim.Second, false, "the event has not happened"},
		{sim.Anchor{Event: "booster.burnout"}, []sim.Event{burnout}, sim.Second, true, "it has"},
		{sim.Anchor{Event: "booster.burnout", Offset: 50 * ms}, []sim.Event{burnout}, 1045 * ms, false, "not yet"},
		{sim.Anchor{Event: "booster.burnout", Offset: 50 * ms}, []sim.Event{burnout}, 1050 * ms, true, "offset after the event"},
		{sim.Anchor{Event: "apogee", Offset: -500 * ms}, nil, 8500 * ms, true, "before an event: by the rehearsal"},
		{sim.Anchor{Event: "apogee", Offset: -500 * ms}, []sim.Event{{Name: "apogee", At: sim.Second}}, 500 * ms, false, "and by that alone"},
		{sim.Anchor{Event: "landing", Offset: -500 * ms}, nil, 8500 * ms, false, "not in the rehearsal: never"},
		{sim.Anchor{Event: "start", Offset: 50 * ms}, nil, 50 * ms, true, "the start by name"},
	} {
		step.From = c.from
		s := setup(step)
		s.Rehearsed = []sim.Event{{Name: "apogee", At: 9 * sim.Second}}
		x, g := New(s), clean(0, c.now)
		assert.Equal(t, c.fires, x.sense(&g, c.events) == 1, c.reason)
	}
}

func TestEventsAreSeenWhenTheyCome(t *testing.T) {
	x := New(setup(sim.Fault{Kind: sim.Step, Part: sim.PartBaro, Value: 5, From: sim.Anchor{Event: "apogee"}}))
	events := []sim.Event{{Name: "liftoff"}}
	g := clean(0, 10*ms)
	assert.Zero(t, x.sense(&g, events))
	events = append(events, sim.Event{Name: "apogee", At: 12 * ms})
	g = clean(0, 15*ms)
	assert.Equal(t, uint64(1), x.sense(&g, events))
}

func TestPowerCut(t *testing.T) {
	cut := func(from_, long sim.Time) sim.Fault {
		return sim.Fault{Kind: sim.PowerCut, Bay: 1, From: from(from_), Duration: long}
	}
	for _, c := range []struct {
		faults []sim.Fault
		bay    int
		want   string // per instant of 0, 5 ... 35 ms: '.' is on, else the number of the fault
		reason string
	}{
		{[]sim.Fault{cut(10*ms, 10*ms)}, 1, "..00....", "off for two instants"},
		{[]sim.Fault{cut(10*ms, 10*ms)}, 0, "........", "the other board"},
		{[]sim.Fault{cut(12*ms, 10*ms)}, 1, "...00...", "between instants"},
		{[]sim.Fault{cut(11*ms, 2*ms)}, 1, "...0....", "shorter than a step: seen once"},
		{[]sim.Fault{cut(10*ms, 15*ms), cut(15*ms, 15*ms)}, 1, "..0001..", "who began first has it"},
		{[]sim.Fault{cut(15*ms, 5*ms), cut(10*ms, 15*ms)}, 1, "..111...", "a cut within a cut changes nothing"},
		{[]sim.Fault{cut(20*ms, 0)}, 1, "....0000", "to the end"},
		{[]sim.Fault{cut(0, 5*ms)}, 1, "0.......", "from the start"},
		{[]sim.Fault{{Kind: sim.Dropout, Bay: 1}}, 1, "........", "another kind"},
	} {
		x, got := New(setup(c.faults...)), ""
		for now := sim.Time(0); now < 40*ms; now += 5 * ms {
			on, bits := x.Powered(c.bay, now, nil)
			require.Equal(t, on, bits == 0)
			if on {
				got += "."
			} else {
				got += string(rune('0' + int(math.Log2(float64(bits)))))
			}
		}
		assert.Equal(t, c.want, got, c.reason)
	}
	on, bits := New(setup()).Powered(7, 0, nil)
	assert.True(t, on && bits == 0, "no such bay")
}

func TestNoiseBurst(t *testing.T) {
	const n = 20_000
	f := sim.Fault{Kind: sim.NoiseBurst, Part: sim.PartGyro, Axis: sim.AxisY, Value: 0.5}
	x, y := New(setup(f)), New(setup(f, f))
	var xs, ys []float64
	for i := range n {
		g, h := clean(0, sim.Time(i)*ms), clean(0, sim.Time(i)*ms)
		want := g.Gyro
		x.sense(&g, nil)
		y.sense(&h, nil)
		xs, ys = append(xs, g.Gyro.Y-want.Y), append(ys, h.Gyro.Y-g.Gyro.Y)
		require.Equal(t, r3.Vec{X: want.X, Y: g.Gyro.Y, Z: want.Z}, g.Gyro)
	}
	mean, sigma := stat.MeanStdDev(xs, nil)
	assert.InDelta(t, 0, mean, 3.89*0.5/math.Sqrt(n), "99.99 %")
	assert.InDelta(t, 0.5, sigma, 3.89*0.5/math.Sqrt(2*n), "99.99 %")
	assert.InDelta(t, 0.5, stat.StdDev(ys, nil), 3.89*0.5/math.Sqrt(2*n), "twins are independent of each other")
	assert.Less(t, math.Abs(stat.Correlation(xs, ys, nil)), 3.89/math.Sqrt(n))
}

func TestMetresOfAFix(t *testing.T) {
	// Radii of curvature at 45 deg: N = 6388838.29012 m, M = 6367381.81562 m, from WGS 84 (NIMA TR8350.2).
	start := clean(0, 0)
	start.GNSS.Latitude, start.GNSS.Height = math.Pi/4, 0
	for _, c := range []struct {
		axis             sim.Axis
		dLat, dLon, dZed float64
	}{
		{sim.AxisX, 0, 100 / (6388838.29012 * math.Sqrt2 / 2), 0},
		{sim.AxisY, 100 / 6367381.81562, 0, 0},
		{sim.AxisZ, 0, 0, 100},
		{sim.AllAxes, 100 / 6367381.81562, 100 / (6388838.29012 * math.Sqrt2 / 2), 100},
	} {
		g := start
		New(setup(sim.Fault{Kind: sim.Step, Part: sim.PartGNSS, Axis: c.axis, Value: 100})).sense(&g, nil)
		assert.InDelta(t, c.dLat, g.GNSS.Latitude-start.GNSS.Latitude, 1e-14, "axis %s", c.axis)
		assert.InDelta(t, c.dLon, g.GNSS.Longitude-start.GNSS.Longitude, 1e-14, "axis %s", c.axis)
		assert.InDelta(t, c.dZed, g.GNSS.Height, 1e-12, "axis %s", c.axis)
		assert.Equal(t, start.GNSS.Velocity, g.GNSS.Velocity)
	}
	far := moved(sim.Fix{Latitude: math.Pi / 2, Longitude: math.Pi}, r3.Vec{X: 100, Y: 100})
	assert.Equal(t, sim.Fix{Latitude: math.Pi / 2, Longitude: math.Pi}, far, "at the pole")
	assert.Less(t, moved(sim.Fix{Longitude: math.Pi}, r3.Vec{X: 1}).Longitude, 0.0, "over the date line")
}

func TestNoNegativePressureOrVoltage(t *testing.T) {
	for _, part := range []sim.Part{sim.PartBaro, sim.PartBattery} {
		g, _ := at(sim.Fault{Kind: sim.Step, Part: part, Value: -1e6}, 0)
		assert.True(t, g.Pressure == 0 || g.Battery == 0)
		assert.True(t, g.Pressure >= 0 && g.Battery >= 0)
	}
}

// drawn is any sensor or power fault, realistic or not.
var drawn = rapid.Custom(func(t *rapid.T) sim.Fault {
	return sim.Fault{
		Kind:     rapid.SampledFrom(kinds).Draw(t, "kind"),
		Bay:      rapid.IntRange(0, 1).Draw(t, "bay"),
		Part:     sim.Part(rapid.IntRange(0, 5).Draw(t, "part")),
		Axis:     sim.Axis(rapid.IntRange(0, 3).Draw(t, "axis")),
		From:     sim.Anchor{Offset: sim.Time(rapid.IntRange(0, 150).Draw(t, "from")) * ms},
		Duration: sim.Time(rapid.IntRange(0, 100).Draw(t, "for")) * ms,
		Value:    rapid.Float64Range(-10, 10).Draw(t, "by"),
		Times:    rapid.IntRange(0, 3).Draw(t, "times"),
		Every:    sim.Time(rapid.IntRange(0, 60).Draw(t, "every")) * ms,
	}
})

// kinds are all of sensors, supply and clock.
var kinds = func() (list []sim.FaultKind) {
	for i := range sim.FaultKinds() {
		if k := sim.FaultKind(i + 1); k.Layer() != sim.OnVehicle {
			list = append(list, k)
		}
	}
	return list
}()

// One more fault, anywhere in the list, doesn't change one bit of any other part of any bay; and a fault reports a change
// exactly if the frame differs from the one without it.
func TestLaws(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		list := rapid.SliceOfN(drawn, 0, 4).Draw(t, "faults")
		extra := drawn.Draw(t, "extra")
		first := rapid.Bool().Draw(t, "first")
		more := append(list[:len(list):len(list)], extra)
		if first {
			more = append([]sim.Fault{extra}, list...)
		}
		a, b, alone := New(setup(list...)), New(setup(more...)), New(setup(extra))
		for now := sim.Time(0); now < 200*ms; now += 5 * ms {
			for bay := range 2 {
				f, g, h, raw := clean(bay, now), clean(bay, now), clean(bay, now), clean(bay, now)
				a.sense(&f, nil)
				b.sense(&g, nil)
				bit := alone.sense(&h, nil)
				require.Equal(t, h != raw, bit == 1, "counted exactly when changed")
				if bay == extra.Bay && extra.Kind.Layer() == sim.OnSensor {
					blank(&f, extra.Part)
					blank(&g, extra.Part)
				}
				require.Equal(t, f, g, "other channels of bay %d at %s", bay, now)
			}
		}
	})
}

// blank takes one part out of a frame.
func blank(f *sim.Frame, p sim.Part) {
	f.Has &^= partBit(p)
	f.Twice &^= partBit(p)
	switch p {
	case sim.PartAccel:
		f.Accel = r3.Vec{}
	case sim.PartGyro:
		f.Gyro = r3.Vec{}
	case sim.PartBaro:
		f.Pressure, f.Temperature = 0, 0
	case sim.PartGNSS:
		f.GNSS = sim.Fix{}
	case sim.PartBattery:
		f.Battery = 0
	case sim.PartMag:
		f.Mag = r3.Vec{}
	}
}

func TestSensingDoesNotAllocate(t *testing.T) {
	x := New(setup(sim.Fault{Kind: sim.NoiseBurst, Part: sim.PartAccel, Value: 1}, sim.Fault{Kind: sim.Stuck, Part: sim.PartGNSS}, sim.Fault{Kind: sim.PowerCut},
		sim.Fault{Kind: sim.Delayed, Part: sim.PartBaro, Value: 1}, sim.Fault{Kind: sim.Jittered, Part: sim.PartBattery, Value: 1}))
	g := clean(0, 0)
	assert.Zero(t, testing.AllocsPerRun(1000, func() { x.sense(&g, nil); x.Powered(0, g.Now, nil); g.Now += ms }))
}

func BenchmarkSense(b *testing.B) {
	x := New(setup(sim.Fault{Kind: sim.Spike, Part: sim.PartAccel, Value: 1, Duration: sim.Second}, sim.Fault{Kind: sim.Dropout, Bay: 1}))
	for g := clean(0, 0); b.Loop(); g.Now += ms {
		x.sense(&g, nil)
	}
}

// sense applies the faults to a frame at rest on the ground, and gives the bits of what changed it.
func (x *Set) sense(f *sim.Frame, events []sim.Event) uint64 {
	changed, _ := x.Apply(f, &sim.State{}, events)
	return changed
}
