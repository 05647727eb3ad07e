package sensor

import (
	"fmt"
	"hash/fnv"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"drystage/sim"
	"drystage/sim/r3"
)

const g0 = 9.80665

// rich is a board with every effect of every part.
func rich() sim.Sensors {
	p := noisySensors()
	p.Accel.ClockError, p.Accel.Bandwidth, p.Accel.Density, p.Accel.Drift = 200e-6, 90, 2e-3, sim.GaussMarkov{Sigma: 0.02, Time: 100}
	p.Accel.Scale, p.Accel.CrossAxis, p.Accel.Thermal = r3.Vec{X: 0.01, Y: -0.01, Z: 0.005}, 0.01, r3.Vec{X: 0.01, Y: 0.01, Z: -0.02}
	p.Accel.Position, p.Accel.Transmissibility, p.Accel.Rectification, p.Accel.Range = r3.Vec{X: 0.01, Y: 0.02, Z: -0.01}, 1, 1e-3, 20
	p.High = p.Accel
	p.High.Range, p.High.Noise = 2000, 0.5
	p.Gyro.ClockError, p.Gyro.Bandwidth, p.Gyro.Density, p.Gyro.Drift = 200e-6, 90, 1e-4, sim.GaussMarkov{Sigma: 1e-3, Time: 100}
	p.Gyro.Scale, p.Gyro.CrossAxis, p.Gyro.Thermal, p.Gyro.GSensitivity, p.Gyro.Transmissibility = r3.Vec{X: 0.01}, 0.01, r3.Vec{Y: 1e-3}, 2e-4, 0.02
	p.Baro.ClockError, p.Baro.Vents, p.Baro.Thermal, p.Baro.Drift = -100e-6, sim.Vents{Count: 3, Diameter: 2e-3, Volume: 1e-3}, 1, sim.GaussMarkov{Sigma: 5, Time: 30}
	p.Baro.Ports, p.Baro.Ejection = []sim.Port{{Mach: 0.8}, {Mach: 1, Cp: 0.05}, {Mach: 1.2, Cp: -0.02}}, sim.Ejection{Peak: 70e3, Time: 0.05, Leak: 1e-3}
	p.Baro.Crossflow = -0.4
	p.GNSS.Latency, p.GNSS.PositionDrift, p.GNSS.HeightDrift = 0.15, sim.GaussMarkov{Sigma: 2, Time: 60}, sim.GaussMarkov{Sigma: 4, Time: 60}
	p.GNSS.Hold, p.GNSS.ColdStart, p.GNSS.WarmStart, p.GNSS.MostForce, p.GNSS.MostSpeed, p.GNSS.MostHeight = 1, 0.5, 1, 40, 500, 18000
	p.GNSS.Filter, p.GNSS.Coast, p.GNSS.Reacquire = 0.3, 1, 2
	p.Battery.Resistance, p.Battery.BrownOut = 0.15, 5
	p.Heating = sim.Heating{Rise: 12, Time: 120}
	return p
}

// moving is a state in which every effect shows.
func moving(now sim.Time) sim.State {
	t := now.Seconds()
	return sim.State{
		Position: r3.Vec{X: 3 * t, Y: -t, Z: 100 * t}, Velocity: r3.Vec{X: 3, Y: -1, Z: 100}, Rates: r3.Vec{X: 5, Y: 0.3, Z: -0.2}, Angular: r3.Vec{X: 1, Y: -2, Z: 3},
		Force: r3.Vec{X: 15 + 10*t, Y: 1, Z: -2}, CG: 0.6, Pressure: 90e3 - 1000*t, Ambient: 280, Mach: 0.9, Dynamic: 5e4, Thrust: 100, Mass: 20, Air: r3.Vec{X: 290, Y: 20, Z: -10},
	}
}

// rough is an airframe whose motor shakes it.
var rough = sim.Vibration{Share: 0.5, Band: 1000, Tones: []sim.Tone{{Frequency: 640, Share: 0.1, Harmonics: 2, Wander: 0.02, Time: 0.2}}}

// fly gives all frames of some seconds.
func fly(p sim.Sensors, seconds sim.Time) (list []sim.Frame) {
	s := setup(p)
	s.Vehicle.Vibration = rough
	b, f := New(1, s, 0), sim.Frame{}
	b.ChargeFired(sim.Second)
	for ; f.Now < seconds*sim.Second; f.Now = b.Next() {
		st := moving(f.Now)
		b.Sample(&st, &f)
		list = append(list, f)
	}
	return list
}

// The bits are pinned: the same on every processor.
func TestAllEffectsHaveTheSameBits(t *testing.T) {
	h := fnv.New64a()
	for _, f := range fly(rich(), 3) {
		for _, x := range [...]float64{f.Accel.X, f.Accel.Y, f.Accel.Z, f.Gyro.X, f.Gyro.Y, f.Gyro.Z, f.Pressure, f.Temperature, f.GNSS.Latitude, f.GNSS.Longitude, f.GNSS.Height, f.GNSS.Velocity.Z, f.Battery} {
			fmt.Fprintf(h, "%d %x ", f.Now, math.Float64bits(x))
		}
	}
	assert.Equal(t, "1d021cb071ef7ce9", fmt.Sprintf("%016x", h.Sum64()))
}

// Adding any one effect to any one part doesn't change any other part, nor the noise of the part itself.
func TestAnEffectMovesNoOtherStream(t *testing.T) {
	plain := noisySensors()
	effects := map[string]func(p *sim.Sensors){
		"density":   func(p *sim.Sensors) { p.Accel.Density = 1e-3 },
		"drift":     func(p *sim.Sensors) { p.Accel.Drift = sim.GaussMarkov{Sigma: 1, Time: 10} },
		"vibration": func(p *sim.Sensors) { p.Accel.Transmissibility = 1 },
		"scale":     func(p *sim.Sensors) { p.Accel.Scale.X = 0.1 },
		"cross":     func(p *sim.Sensors) { p.Accel.CrossAxis = 0.1 },
		"high":      func(p *sim.Sensors) { p.High = sim.Triad{Rate: 1, Noise: 1} },
		"thermal":   func(p *sim.Sensors) { p.Accel.Thermal.X = 1 },
	}
	for name, add := range effects {
		p := plain
		add(&p)
		a, b := fly(plain, 2), fly(p, 2)
		require.Len(t, b, len(a), name)
		changed := false
		for i := range a {
			changed = changed || a[i].Accel != b[i].Accel
			a[i].Accel, b[i].Accel = r3.Vec{}, r3.Vec{}
		}
		assert.Equal(t, a, b, name)
		assert.Equal(t, name != "high", changed, name) // which serves only at the end of the range
	}
	// The part's own noise stays too: without steps the difference is the effect alone.
	p, q := sim.Triad{Rate: 100, Noise: 1}, sim.Triad{Rate: 100, Noise: 1, Scale: r3.Vec{Y: 0.5}, Drift: sim.GaussMarkov{Sigma: 1e-9, Time: 1}}
	x, y := series(p, 100), series(q, 100)
	for i := range x {
		require.InDelta(t, x[i], y[i], 1e-7)
	}
}

func TestErrorsOfATriad(t *testing.T) {
	st := sim.State{Force: r3.Vec{X: 10, Y: 20, Z: -30}, Rates: r3.Vec{X: 1, Y: 2, Z: 3}, Ambient: 308.15, Thrust: 1}
	for _, c := range []struct {
		reason string
		part   sim.Triad
		want   r3.Vec
	}{
		{"scale", sim.Triad{Scale: r3.Vec{X: 0.01, Y: -0.02, Z: 0.1}}, r3.Vec{X: 10.1, Y: 19.6, Z: -33}},
		{"cross-axis: a share of the two others", sim.Triad{CrossAxis: 0.01}, r3.Vec{X: 9.9, Y: 19.8, Z: -29.7}},
		{"10 K above 25 degC", sim.Triad{Thermal: r3.Vec{X: 0.1, Z: -0.2}}, r3.Vec{X: 11, Y: 20, Z: -32}},
		{"a bias on top of the scale", sim.Triad{Scale: r3.Vec{X: 1}, Bias: r3.Vec{X: 5}}, r3.Vec{X: 25, Y: 20, Z: -30}},
		{"clipped after all else", sim.Triad{Scale: r3.Vec{X: 1}, Range: 15}, r3.Vec{X: 15, Y: 15, Z: -15}},
		{"scale along the part's axes", sim.Triad{Scale: r3.Vec{X: 1}, Mounting: [3]r3.Vec{{Y: -1}, {Z: -1}, {X: 1}}}, r3.Vec{X: -40, Y: 30, Z: 10}},
	} {
		c.part.Rate = 1
		got := read(sim.Sensors{Accel: c.part}, st).Accel
		assert.InDelta(t, 0, r3.Norm(r3.Sub(c.want, got)), 1e-9, "%s: %v", c.reason, got)
	}
	f := read(sim.Sensors{Gyro: sim.Triad{Rate: 1, GSensitivity: 0.001}}, sim.State{Force: st.Force, Rates: st.Rates})
	assert.InDelta(t, 0, r3.Norm(r3.Sub(r3.Vec{X: 1.01, Y: 2.02, Z: 2.97}, f.Gyro)), 1e-12, "a gyro under acceleration")
}

func TestTheHighRangeServesWhatClips(t *testing.T) {
	p := sim.Sensors{
		Accel: sim.Triad{Rate: 1, Range: 16 * g0, Resolution: 0.005},
		High:  sim.Triad{Rate: 1, Range: 200 * g0, Resolution: 1, Mounting: [3]r3.Vec{{Y: 1}, {X: -1}, {Z: 1}}},
	}
	f := read(p, sim.State{Force: r3.Vec{X: 300.3, Y: 4.003, Z: -1000}})
	assert.InDelta(t, 300, f.Accel.X, 1e-9, "beyond the low range: the coarse value, turned into the low part's axes")
	assert.InDelta(t, 4.005, f.Accel.Y, 1e-9, "within it: the fine one")
	assert.InDelta(t, -1000, f.Accel.Z, 1e-9)
	p.High = sim.Triad{}
	assert.Equal(t, 16*g0, read(p, sim.State{Force: r3.Vec{X: 300}}).Accel.X, "without it, the end of the range")
}

func TestClockError(t *testing.T) {
	b := New(1, setup(sim.Sensors{Accel: sim.Triad{Rate: 200, ClockError: 250e-6}}), 0)
	f := sim.Frame{}
	for range 200 {
		f.Now = b.Next()
		b.Sample(&sim.State{}, &f)
	}
	assert.Equal(t, sim.Time(999_750_062), b.Next(), "200 samples at 200.05 Hz: 1 s/1.00025 = 0.9997500625 s")
	assert.Equal(t, uint64(200_050_000_000), nanohertz(200, 250e-6))
	assert.Equal(t, uint64(500_000_000), nanohertz(1, -7), "bounded")
}

func TestBoardWarmsUp(t *testing.T) {
	w := boardTemperature{Heating: sim.Heating{Rise: 10, Time: 60}, air: 280}
	st := &sim.State{Ambient: 250}
	assert.Equal(t, 280.0, w.at(0, st))
	assert.InDelta(t, 280+10*(1-math.Exp(-1)), w.at(60*sim.Second, st), 1e-12)
	w.Time = 0
	assert.Equal(t, 250.0, w.at(0, st), "not told: that of the air")
	f := read(sim.Sensors{Baro: sim.Barometer{Rate: 1, Thermal: 2}, Heating: sim.Heating{Rise: 10, Time: 60}}, sim.State{Pressure: 1e5})
	assert.Equal(t, mojave.Temperature, f.Temperature)
	assert.InDelta(t, 1e5+2*(mojave.Temperature-298.15), f.Pressure, 1e-9)
}

// Ohm's law with a source of inner resistance: V R/(R + Ri). Values computed by hand.
func TestRailUnderLoad(t *testing.T) {
	for _, c := range []struct {
		reason                    string
		volts, inner, siemens, is float64
	}{
		{"7.4 V, 0.15 ohm into 1.6 ohm: 4.229 A", 7.4, 0.15, 1 / 1.6, 6.766},
		{"into a shorted match of 0.15 ohm with its leads", 7.4, 0.15, 1 / 0.15, 3.7},
		{"a 9 V block of 2 ohm into 1.6 ohm: 2.5 A", 9, 2, 1 / 1.6, 4},
		{"two igniters at once", 7.4, 0.2, 2, 7.4 / 1.4},
		{"nothing on", 7.4, 0.15, 0, 7.4},
		{"a source without inner resistance", 7.4, 0, 100, 7.4},
	} {
		b := New(1, setup(sim.Sensors{Battery: sim.Battery{Rate: 1, Voltage: c.volts, Resistance: c.inner}}), 0)
		b.SetLoad(c.siemens, 0)
		assert.InDelta(t, c.is, b.SupplyVoltage(0), 1e-3, c.reason)
		f := sim.Frame{}
		b.Sample(&sim.State{}, &f)
		assert.Equal(t, b.SupplyVoltage(0), f.Battery, c.reason)
		b.SetLoad(c.siemens, 2)
		assert.InDelta(t, c.is-2, b.SupplyVoltage(0), 1e-3, c.reason)
	}
}

func TestEveryEffectTogetherDoesNotAllocate(t *testing.T) {
	s := setup(rich())
	s.Vehicle.Vibration = rough
	b, st, f := New(1, s, 0), moving(sim.Second), sim.Frame{}
	assert.Zero(t, testing.AllocsPerRun(1000, func() { b.Sample(&st, &f); f.Now = b.Next() }))
}

// BenchmarkSampleOfRich has every effect of every part on. An op is one instant, at most of them of IMU alone.
func BenchmarkSampleOfRich(b *testing.B) {
	bank, st, f, n := New(1, setup(rich()), 0), moving(sim.Second), sim.Frame{}, 0
	for b.Loop() {
		f.Now = bank.Next()
		bank.Sample(&st, &f)
		for h := f.Has; h != 0; h &= h - 1 {
			n++
		}
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(n), "ns/sample")
}
