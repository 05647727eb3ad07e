package sensor

import (
	"math"
	"math/big"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"drystage/sim"
	"drystage/sim/r3"
)

// setup has one bay named "top" with the given sensors.
func setup(p sim.Sensors) *sim.Setup {
	return &sim.Setup{Vehicle: sim.Vehicle{Site: mojave}, Bays: []sim.Bay{{Name: "top", Sensors: p}}}
}

var mojave = sim.Site{Latitude: 35.347 * math.Pi / 180, Longitude: -117.808 * math.Pi / 180, Elevation: 621}

// noisySensors is a board with every part fitted, and noise in each.
func noisySensors() sim.Sensors {
	return sim.Sensors{
		Accel:   sim.Triad{Rate: 200, Range: 160, Resolution: 0.005, Noise: 0.05},
		Gyro:    sim.Triad{Rate: 200, Range: 35, Resolution: 0.001, Noise: 0.002},
		Baro:    sim.Barometer{Rate: 50, Min: 30e3, Max: 110e3, Resolution: 1, Noise: 3},
		GNSS:    sim.Receiver{Rate: 10, PositionNoise: 1.5, HeightNoise: 3, VelocityNoise: 0.1},
		Battery: sim.Battery{Rate: 10, Voltage: 7.4, Sag: 0.2, Noise: 0.01, Resolution: 0.01},
	}
}

func TestSamplesAreDueAtWholeMultiples(t *testing.T) {
	for _, c := range []struct {
		rate   float64
		k      int
		want   sim.Time
		reason string
	}{
		{200, 1, 5_000_000, "5 ms"},
		{3, 1, 333_333_333, "a third, rounded down"},
		{3, 2, 666_666_667, "two thirds, rounded up"},
		{3, 3, 1_000_000_000, "no drift"},
		{12.5, 3, 240_000_000, "not a whole number of hertz"},
		{1024, 1, 976_563, "976562.5 ns: the half goes up"},
	} {
		b := New(1, setup(sim.Sensors{Baro: sim.Barometer{Rate: c.rate}}), 0)
		for range c.k {
			b.Sample(&sim.State{}, &sim.Frame{Now: b.Next()})
		}
		assert.Equal(t, c.want, b.Next(), c.reason)
	}
}

// Independent computation with rational numbers of any size.
func TestInstantIsExact(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		k, rate := rapid.Uint64Range(0, 1<<32).Draw(t, "k"), 1_000_000*rapid.Uint64Range(1, 1e9).Draw(t, "rate")
		x := new(big.Int).Mul(new(big.Int).SetUint64(k), big.NewInt(2e18))
		x.Add(x, new(big.Int).SetUint64(rate)).Div(x, new(big.Int).SetUint64(2*rate))
		want := sim.Never
		if x.IsInt64() {
			want = sim.Time(x.Int64())
		}
		require.Equal(t, want, instant(k, rate))
	})
}

func TestPartsNotFitted(t *testing.T) {
	for _, rate := range []float64{0, -1, math.NaN(), math.Inf(-1)} {
		b := New(1, setup(sim.Sensors{Baro: sim.Barometer{Rate: rate}}), 0)
		f := sim.Frame{Now: sim.Second, Has: sim.HasBaro}
		b.Sample(&sim.State{Pressure: 1e5}, &f)
		assert.Equal(t, sim.Never, b.Next(), "rate %v", rate)
		assert.Zero(t, f.Has, "rate %v", rate)
	}
}

func TestEachPartAtItsOwnRate(t *testing.T) {
	b := New(1, setup(noisySensors()), 0)
	var count [5]int
	f := sim.Frame{}
	for f.Now = 0; f.Now < sim.Second; f.Now = b.Next() {
		before := f
		b.Sample(&sim.State{Pressure: 9e4}, &f)
		for i := range count {
			count[i] += int(f.Has >> i & 1)
		}
		if f.Has&sim.HasBaro == 0 {
			require.Equal(t, before.Pressure, f.Pressure, "what isn't due keeps its value")
		}
	}
	assert.Equal(t, [5]int{200, 200, 50, 10, 10}, count)
}

func TestInstantsPassedOverAreNotMadeUpFor(t *testing.T) {
	b, f := New(1, setup(noisySensors()), 0), sim.Frame{Now: 52 * sim.Millisecond}
	b.Sample(&sim.State{}, &f)
	assert.Equal(t, 55*sim.Millisecond, b.Next())
	f.Now = 53 * sim.Millisecond
	b.Sample(&sim.State{}, &f)
	assert.Zero(t, f.Has)
}

// Changing or removing one part doesn't change one bit of the samples of all others.
func TestPartsAreIndependent(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		part := rapid.IntRange(0, 4).Draw(t, "part")
		p, q := noisySensors(), noisySensors()
		rates := [...]*float64{&q.Accel.Rate, &q.Gyro.Rate, &q.Baro.Rate, &q.GNSS.Rate, &q.Battery.Rate}
		*rates[part] = rapid.SampledFrom([]float64{0, 7, 400}).Draw(t, "rate")
		seed := rapid.Uint64().Draw(t, "seed")
		require.Equal(t, samples(seed, p, part), samples(seed, q, part))
	})
}

// samples lists all frames with a fresh sample of any part but one, that one blanked out.
func samples(seed uint64, p sim.Sensors, but int) (list []sim.Frame) {
	b, st := New(seed, setup(p), 0), sim.State{Pressure: 9e4, Force: r3.Vec{X: 9.8}}
	for f := (sim.Frame{}); f.Now < sim.Second; f.Now = b.Next() {
		b.Sample(&st, &f)
		g := f
		switch g.Has &^= 1 << but; but {
		case 0:
			g.Accel = r3.Vec{}
		case 1:
			g.Gyro = r3.Vec{}
		case 2:
			g.Pressure = 0
		case 3:
			g.GNSS = sim.Fix{}
		case 4:
			g.Battery = 0
		}
		if g.Has != 0 {
			list = append(list, g)
		}
	}
	return list
}

func TestStreamsBelongToBayAndSeed(t *testing.T) {
	p := sim.Sensors{Baro: sim.Barometer{Rate: 50, Noise: 3}}
	s := setup(p)
	s.Bays = append(s.Bays, sim.Bay{Name: "low", Sensors: p})
	first := func(seed uint64, bay int) float64 {
		f := sim.Frame{}
		New(seed, s, bay).Sample(&sim.State{Pressure: 1e5}, &f)
		return f.Pressure
	}
	assert.Equal(t, first(1, 0), first(1, 0))
	assert.NotEqual(t, first(1, 0), first(1, 1), "another bay")
	assert.NotEqual(t, first(1, 0), first(2, 0), "another seed")
}

func TestSamplingDoesNotAllocate(t *testing.T) {
	b, st, f := New(1, setup(noisySensors()), 0), sim.State{}, sim.Frame{}
	assert.Zero(t, testing.AllocsPerRun(1000, func() { b.Sample(&st, &f); f.Now = b.Next() }))
}

func BenchmarkSample(b *testing.B) {
	bank, st, f := New(1, setup(noisySensors()), 0), sim.State{Pressure: 9e4}, sim.Frame{}
	for b.Loop() {
		f.Now = bank.Next()
		bank.Sample(&st, &f)
	}
}
