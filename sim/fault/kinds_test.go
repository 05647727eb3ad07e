package fault

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"drystage/sim"
	"drystage/sim/r3"
)

// pressures gives what a barometer sampled every 5 ms says in instants 0 to n-1 under a fault, the true
// pressure falling by 200 Pa a second from 90 kPa, without noise.
func pressures(f sim.Fault, n int) (list []float64) {
	s := setup(f)
	s.Bays[0].Sensors.Baro.Rate = 200
	x := New(s)
	for k := range n {
		now := sim.Time(k) * 5 * ms
		st := sim.State{Pressure: 9e4 - float64(k), Dynamic: 1000}
		g := clean(0, now)
		g.Pressure = st.Pressure
		x.Apply(&g, &st, nil)
		if g.Has&sim.HasBaro == 0 {
			g.Pressure = -1
		}
		list = append(list, g.Pressure-9e4)
	}
	return list
}

func TestTimingOfSamples(t *testing.T) {
	for _, c := range []struct {
		reason string
		fault  sim.Fault
		want   []float64
	}{
		{"one of three is fresh", sim.Fault{Kind: sim.Stale, Value: 3, From: from(10 * ms), Duration: 30 * ms}, []float64{0, -1, -2, -2, -2, -5, -5, -5, -8, -9}},
		{"10 ms old", sim.Fault{Kind: sim.Delayed, Value: 0.01, From: from(20 * ms), Duration: 20 * ms}, []float64{0, -1, -2, -3, -2, -3, -4, -5, -8, -9}},
		{"12 ms old: the sample before that", sim.Fault{Kind: sim.Delayed, Value: 0.012, From: from(20 * ms)}, []float64{0, -1, -2, -3, -1, -2, -3, -4, -5, -6}},
		{"older than the run: the first", sim.Fault{Kind: sim.Delayed, Value: 1, From: from(20 * ms)}, []float64{0, -1, -2, -3, 0, 0, 0, 0, 0, 0}},
		{"pairs change places: 3 2, 5 4, 7 6", sim.Fault{Kind: sim.Reordered, From: from(20 * ms), Duration: 30 * ms}, []float64{0, -1, -2, -3, -2, -5, -4, -7, -6, -9}},
		{"twice, 20 ms apart", sim.Fault{Kind: sim.Step, Value: 100, From: from(10 * ms), Duration: 10 * ms, Times: 2, Every: 20 * ms}, []float64{0, -1, 98, 97, -4, -5, 94, 93, -8, -9}},
	} {
		c.fault.Part = sim.PartBaro
		assert.Equal(t, c.want, pressures(c.fault, 10), c.reason)
	}
	jittered := pressures(sim.Fault{Kind: sim.Jittered, Part: sim.PartBaro, Value: 0.01, From: from(50 * ms)}, 2000)
	least, most, sum := 9.0, 0.0, 0.0
	for k := 20; k < 2000; k++ {
		early := (float64(k) + jittered[k]) * 5 // ms
		least, most, sum = min(least, early), max(most, early), sum+early
	}
	assert.InDelta(t, 0, least, 0.05)
	assert.InDelta(t, 10, most, 0.05)
	assert.InDelta(t, 5, sum/1980, 3.89*10/math.Sqrt(12*1980), "uniform: 99.99 %")
}

// A sealed bay keeps its pressure; a bay that follows with tau lags behind a steady fall by rate times tau.
func TestBay(t *testing.T) {
	sealed := pressures(sim.Fault{Kind: sim.VentBlocked, Part: sim.PartBaro, From: from(20 * ms), Duration: 25 * ms}, 10)
	assert.InDeltaSlice(t, []float64{0, -1, -2, -3, -3, -3, -3, -3, -3, -9}, sealed, 1e-9, "the air of the last sample before it")
	slow := pressures(sim.Fault{Kind: sim.VentBlocked, Part: sim.PartBaro, Value: 0.5}, 2000)
	assert.InDelta(t, 100, slow[1999]+1999, 1.1, "200 Pa/s times 0.5 s, and less than a step of 1 Pa")
	leak := pressures(sim.Fault{Kind: sim.BayLeak, Part: sim.PartBaro, Value: -0.05, From: from(10 * ms), Duration: 10 * ms}, 5)
	assert.InDeltaSlice(t, []float64{0, -1, -52, -53, -4}, leak, 1e-9, "5 % of 1000 Pa, sucked")
}

func TestTwists(t *testing.T) {
	now := 100 * ms
	c := clean(0, now)
	for _, x := range []struct {
		reason string
		fault  sim.Fault
		want   func(f *sim.Frame)
	}{
		{"y and z change places", sim.Fault{Kind: sim.Swapped, Part: sim.PartAccel, Axis: sim.AxisX}, func(f *sim.Frame) { f.Accel.Y, f.Accel.Z = f.Accel.Z, f.Accel.Y }},
		{"x and z", sim.Fault{Kind: sim.Swapped, Part: sim.PartGyro, Axis: sim.AxisY}, func(f *sim.Frame) { f.Gyro.X, f.Gyro.Z = f.Gyro.Z, f.Gyro.X }},
		{"x and y", sim.Fault{Kind: sim.Swapped, Part: sim.PartAccel, Axis: sim.AxisZ}, func(f *sim.Frame) { f.Accel.X, f.Accel.Y = f.Accel.Y, f.Accel.X }},
		{"one axis", sim.Fault{Kind: sim.Reversed, Part: sim.PartAccel, Axis: sim.AxisY}, func(f *sim.Frame) { f.Accel.Y = -f.Accel.Y }},
		{"all axes", sim.Fault{Kind: sim.Reversed, Part: sim.PartGyro}, func(f *sim.Frame) { f.Gyro = r3.Scale(-1, f.Gyro) }},
		{"half as much again", sim.Fault{Kind: sim.Scaled, Part: sim.PartAccel, Axis: sim.AxisX, Value: 0.5}, func(f *sim.Frame) { f.Accel.X *= 1.5 }},
		{"a pressure", sim.Fault{Kind: sim.Scaled, Part: sim.PartBaro, Value: -0.5}, func(f *sim.Frame) { f.Pressure /= 2 }},
		{"a range", sim.Fault{Kind: sim.Clipped, Part: sim.PartAccel, Value: 2}, func(f *sim.Frame) { f.Accel.X, f.Accel.Z = 2, 2 }},
		{"a barometer's lower end", sim.Fault{Kind: sim.Clipped, Part: sim.PartBaro, Value: 95e3}, func(f *sim.Frame) { f.Pressure = 95e3 }},
		{"a battery's upper end", sim.Fault{Kind: sim.Clipped, Part: sim.PartBattery, Value: 5}, func(f *sim.Frame) { f.Battery = 5 }},
		{"greatest", sim.Fault{Kind: sim.Extreme, Part: sim.PartGyro, Axis: sim.AxisZ, Value: 1}, func(f *sim.Frame) { f.Gyro.Z = 1e12 }},
		{"least of what can't be negative", sim.Fault{Kind: sim.Extreme, Part: sim.PartBaro, Value: -1}, func(f *sim.Frame) { f.Pressure = 0 }},
		{"a height", sim.Fault{Kind: sim.Extreme, Part: sim.PartGNSS, Axis: sim.AxisZ, Value: -1}, func(f *sim.Frame) { f.GNSS.Height = -1e12 }},
		{"sent twice", sim.Fault{Kind: sim.Duplicated, Part: sim.PartGyro}, func(f *sim.Frame) { f.Twice = sim.HasGyro }},
	} {
		want := c
		x.want(&want)
		got, changed := at(x.fault, now)
		assert.Equal(t, want, got, x.reason)
		assert.Equal(t, uint64(1), changed, x.reason)
	}
}

func TestFixes(t *testing.T) {
	for _, c := range []struct {
		reason string
		fault  sim.Fault
		now    sim.Time
		from   sim.Time // the place is that of then
		kind   sim.FixKind
	}{
		{"before it", sim.Fault{Kind: sim.FixLost, From: from(50 * ms), Duration: 50 * ms}, 45 * ms, 45 * ms, sim.Fix3D},
		{"the last place, but no fix", sim.Fault{Kind: sim.FixLost, From: from(50 * ms), Duration: 50 * ms}, 95 * ms, 45 * ms, sim.NoFix},
		{"back", sim.Fault{Kind: sim.FixLost, From: from(50 * ms), Duration: 50 * ms}, 100 * ms, 100 * ms, sim.Fix3D},
		{"below the limit", sim.Fault{Kind: sim.HeightLimit, Value: 500.1}, 95 * ms, 95 * ms, sim.Fix3D},
		{"above it", sim.Fault{Kind: sim.HeightLimit, Value: 500.1}, 200 * ms, 100 * ms, sim.NoFix},
	} {
		c.fault.Part = sim.PartGNSS
		want := clean(0, c.from).GNSS
		if want.Kind = c.kind; c.kind == sim.NoFix {
			want.Satellites = 0
		}
		got, changed := at(c.fault, c.now)
		assert.Equal(t, want, got.GNSS, c.reason)
		assert.Equal(t, c.kind == sim.NoFix, changed == 1, c.reason)
	}
}

func TestRestart(t *testing.T) {
	x, got := New(setup(sim.Fault{Kind: sim.Restart, From: from(11 * ms), Times: 2, Every: 15 * ms})), ""
	for now := sim.Time(0); now < 40*ms; now += 5 * ms {
		on, _ := x.Powered(0, now, nil)
		got += map[bool]string{true: ".", false: "0"}[on]
	}
	assert.Equal(t, "...0..0.", got, "off for one instant each time")
}

func TestBrownOut(t *testing.T) {
	x := New(setup(sim.Fault{Kind: sim.BrownOut, Bay: 1, Value: 2.5, From: from(10 * ms), Duration: 10 * ms}, sim.Fault{Kind: sim.BrownOut, Bay: 1, Value: 1, From: from(15 * ms)}))
	for _, c := range []struct {
		bay     int
		now     sim.Time
		volts   float64
		changed uint64
	}{{1, 5 * ms, 0, 0}, {1, 10 * ms, 2.5, 1}, {1, 15 * ms, 3.5, 3}, {0, 15 * ms, 0, 0}, {1, 20 * ms, 1, 2}} {
		volts, changed := x.VoltageDrop(c.bay, c.now, nil)
		assert.Equal(t, c.volts, volts)
		assert.Equal(t, c.changed, changed)
	}
}

func TestClock(t *testing.T) {
	x := New(setup(sim.Fault{Kind: sim.ClockError, Value: 200e-6, From: from(sim.Second), Duration: 10 * sim.Second}))
	for _, c := range []struct {
		now, ahead sim.Time
		reason     string
	}{
		{sim.Second, 0, "begins at nothing"},
		{6 * sim.Second, ms, "200 us a second"},
		{11 * sim.Second, 2 * ms, "at its end"},
		{60 * sim.Second, 2 * ms, "it stays where it got to"},
	} {
		ahead, changed := x.ClockOffset(0, c.now, nil)
		assert.Equal(t, c.ahead, ahead, c.reason)
		assert.Equal(t, c.ahead != 0, changed == 1, c.reason)
		other, _ := x.ClockOffset(1, c.now, nil)
		assert.Zero(t, other)
	}
}

// Each injection gives the sample before and after the fault.
func TestInjections(t *testing.T) {
	s := setup(sim.Fault{Kind: sim.PowerCut}, sim.Fault{Kind: sim.Step, Part: sim.PartBaro, Value: 100}, sim.Fault{Kind: sim.Scaled, Part: sim.PartBaro, Value: 1},
		sim.Fault{Kind: sim.Dropout, Part: sim.PartGyro}, sim.Fault{Kind: sim.Step, Part: sim.PartAccel, Axis: sim.AxisY, Value: -3, From: from(10 * ms)})
	x, g := New(s), clean(0, 5*ms)
	c := g
	_, did := x.Apply(&g, &sim.State{}, nil)
	require.Equal(t, []sim.Injection{
		{At: 5 * ms, Fault: 1, Part: sim.PartBaro, Was: r3.Vec{X: c.Pressure}, Is: r3.Vec{X: c.Pressure + 100}},
		{At: 5 * ms, Fault: 2, Part: sim.PartBaro, Was: r3.Vec{X: c.Pressure + 100}, Is: r3.Vec{X: 2 * (c.Pressure + 100)}},
		{At: 5 * ms, Fault: 3, Part: sim.PartGyro, Dropped: true, Was: c.Gyro, Is: c.Gyro},
	}, did)
	g = clean(0, 10*ms)
	_, did = x.Apply(&g, &sim.State{}, nil)
	require.Len(t, did, 4)
	assert.Equal(t, -3.0, did[3].Is.Y-did[3].Was.Y)
	g.Has = 0
	_, did = x.Apply(&g, &sim.State{}, nil)
	assert.Empty(t, did)
}

func TestLine(t *testing.T) {
	x := New(setup(
		sim.Fault{Kind: sim.BitsFlipped, Bay: 1, Value: 0.25, From: from(10 * ms), Duration: 10 * ms},
		sim.Fault{Kind: sim.LinkStalled, Bay: 1, From: from(15 * ms), Duration: 10 * ms},
		sim.Fault{Kind: sim.FramesCut, Bay: 1, Value: 2, From: from(25 * ms)},
		sim.Fault{Kind: sim.BytesLost, Bay: 1, Value: 0.5, From: from(25 * ms)}))
	var seeds []uint64
	for _, c := range []struct {
		bay     int
		now     sim.Time
		want    sim.Line
		changed uint64
	}{
		{1, 5 * ms, sim.Line{}, 0}, {1, 10 * ms, sim.Line{Flip: 0.25}, 1}, {1, 15 * ms, sim.Line{Flip: 0.25, Stall: true}, 3},
		{1, 20 * ms, sim.Line{Stall: true}, 2}, {1, 25 * ms, sim.Line{Cut: 1, Lose: 0.5}, 12}, {0, 25 * ms, sim.Line{}, 0},
	} {
		line, changed := x.Line(c.bay, c.now, nil)
		if line.Random != 0 {
			seeds = append(seeds, line.Random)
		}
		line.Random = 0
		assert.Equal(t, c.want, line)
		assert.Equal(t, c.changed, changed)
	}
	require.Len(t, seeds, 3)
	assert.NotEqual(t, seeds[0], seeds[1], "another seed in each frame")
}
