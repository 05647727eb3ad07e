package sensor

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/num/quat"
	gonum "gonum.org/v1/gonum/spatial/r3"
	"gonum.org/v1/gonum/stat"
	"pgregory.net/rapid"

	"drystage/sim"
	"drystage/sim/r3"
)

// read gives the first sample of a board with the given sensors.
func read(p sim.Sensors, st sim.State) (f sim.Frame) {
	New(1, setup(p), 0).Sample(&st, &f)
	return f
}

func TestMounting(t *testing.T) {
	body := r3.Vec{X: 1, Y: 2, Z: 3}
	for _, c := range []struct {
		mounting [3]r3.Vec
		want     r3.Vec
		reason   string
	}{
		{[3]r3.Vec{}, body, "not told: along the body"},
		{[3]r3.Vec{{X: 1}, {Y: 1}, {Z: 1}}, body, "x up, y left, z back"},
		{[3]r3.Vec{{Y: -1}, {Z: -1}, {X: 1}}, r3.Vec{X: -2, Y: -3, Z: 1}, "x right, y front, z up"},
		{[3]r3.Vec{{X: -1}, {Y: -1}, {Z: 1}}, r3.Vec{X: -1, Y: -2, Z: 3}, "upside down"},
	} {
		p := sim.Sensors{Accel: sim.Triad{Rate: 1, Mounting: c.mounting}, Gyro: sim.Triad{Rate: 1, Mounting: c.mounting}}
		f := read(p, sim.State{Force: body, Rates: body})
		assert.Equal(t, c.want, f.Gyro, c.reason)
		assert.Equal(t, c.want.X, r3.Dot(r3.Sub(f.Accel, read(p, sim.State{Rates: body}).Accel), r3.Vec{X: 1}), c.reason)
	}
}

// Published checks as collected by us (computed from omega^2 r): a spin of 5 Hz is 1800 deg/s; at an
// arm of 20 mm it is 2.013 g0, at 50 mm 5.032 g0; 2 Hz at 50 mm 0.805 g0.
func TestCentripetalForce(t *testing.T) {
	const g0 = 9.80665
	for _, c := range []struct{ hz, arm, want float64 }{{5, 0.02, 2.013}, {5, 0.05, 5.032}, {2, 0.05, 0.805}} {
		st := sim.State{Rates: r3.Vec{Z: 2 * math.Pi * c.hz}, CG: 1, Front: 0.3}
		ahead := specificForceAt(&st, 0.7-c.arm, r3.Vec{})
		assert.InDelta(t, -c.want, ahead.X/g0, 5e-4, "ahead of the centre of gravity it is pulled back to it")
		behind := specificForceAt(&st, 0.7+c.arm, r3.Vec{})
		assert.InDelta(t, c.want, behind.X/g0, 5e-4, "behind it, forward")
		assert.Equal(t, r3.Vec{}, specificForceAt(&sim.State{Rates: r3.Vec{X: 2 * math.Pi * c.hz}, CG: 1}, 0.2, r3.Vec{}), "on the axis, roll is not felt")
	}
}

// Independent computation: the position of the sensor differentiated twice in an inertial frame, with the body turning
// about its centre of gravity by separate quaternions.
func TestForceAtAgreesWithMotionOfThePlace(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		draw := func(name string) r3.Vec {
			g := rapid.Float64Range(-5, 5)
			return r3.Vec{X: g.Draw(t, name+"x"), Y: g.Draw(t, name+"y"), Z: g.Draw(t, name+"z")}
		}
		rates, angular := draw("rates"), draw("angular")
		station := rapid.Float64Range(0, 2).Draw(t, "station")
		st := sim.State{Rates: rates, Angular: angular, CG: 1.1, Front: 0.2}
		by := draw("by")
		place := r3.Add(r3.Vec{X: st.CG - st.Front - station}, by)
		// Attitude near time 0 with body rates w + a t: exp of half the rotation vector w t + a t^2/2 (the
		// commutator term a x w t^3/12 vanishes in the second difference at 0).
		at := func(h float64) r3.Vec {
			v := r3.Add(r3.Scale(h/2, rates), r3.Scale(h*h/4, angular))
			q := quat.Exp(quat.Number{Imag: v.X, Jmag: v.Y, Kmag: v.Z})
			return r3.Vec(gonum.Rotation(q).Rotate(gonum.Vec(place)))
		}
		const h = 1e-4
		want := r3.Scale(1/(h*h), r3.Add(r3.Sub(at(h), place), r3.Sub(at(-h), place)))
		got := specificForceAt(&st, station, by)
		require.InDelta(t, want.X, got.X, 1e-3)
		require.InDelta(t, want.Y, got.Y, 1e-3)
		require.InDelta(t, want.Z, got.Z, 1e-3)
	})
}

func TestAxisOfATriad(t *testing.T) {
	for _, c := range []struct {
		part     sim.Triad
		in, want float64
		reason   string
	}{
		{sim.Triad{Range: 157}, 500, 157, "clips above"},
		{sim.Triad{Range: 157}, -500, -157, "clips below"},
		{sim.Triad{}, 500, 500, "no limit given"},
		{sim.Triad{Resolution: 0.5}, 1.2, 1, "steps down"},
		{sim.Triad{Resolution: 0.5}, 1.3, 1.5, "steps up"},
		{sim.Triad{Resolution: 0.5}, -1.3, -1.5, "steps on the other side"},
		{sim.Triad{Bias: r3.Vec{X: 0.25}}, 1, 1.25, "bias"},
		{sim.Triad{Bias: r3.Vec{X: 9}, Range: 10}, 5, 10, "bias counts toward the range"},
		{sim.Triad{Resolution: 0.4, Range: 1}, 1.1, 1, "a step beyond the range is clipped"},
	} {
		c.part.Rate = 1
		f := read(sim.Sensors{Accel: c.part}, sim.State{Force: r3.Vec{X: c.in}})
		assert.Equal(t, c.want, f.Accel.X, c.reason)
		if c.part.Bias == (r3.Vec{}) {
			f = read(sim.Sensors{Gyro: c.part}, sim.State{Rates: r3.Vec{Z: c.in}})
			assert.Equal(t, c.want, f.Gyro.Z, c.reason)
		}
	}
}

func TestBarometer(t *testing.T) {
	for _, c := range []struct {
		part     sim.Barometer
		in, want float64
		reason   string
	}{
		{sim.Barometer{}, 90_123.4, 90_123.4, "perfect"},
		{sim.Barometer{Bias: -120}, 90_000, 89_880, "bias"},
		{sim.Barometer{Resolution: 2}, 90_001.2, 90_002, "steps"},
		{sim.Barometer{Min: 30e3, Max: 110e3}, 25e3, 30e3, "too high for the part"},
		{sim.Barometer{Min: 30e3, Max: 110e3}, 120e3, 110e3, "too much for the part"},
		{sim.Barometer{Bias: -10}, 3, 0, "no pressure below vacuum"},
	} {
		c.part.Rate = 1
		f := read(sim.Sensors{Baro: c.part}, sim.State{Pressure: c.in, Ambient: 268.15})
		assert.Equal(t, c.want, f.Pressure, c.reason)
		assert.Equal(t, 268.15, f.Temperature)
	}
}

func TestBatterySags(t *testing.T) {
	for _, c := range []struct {
		part   sim.Battery
		now    sim.Time
		want   float64
		reason string
	}{
		{sim.Battery{Voltage: 7.4, Sag: 0.2}, 0, 7.4, "fresh"},
		{sim.Battery{Voltage: 7.4, Sag: 0.2}, 1800 * sim.Second, 7.3, "half an hour"},
		{sim.Battery{Voltage: 7.4, Sag: 0.2}, 3600 * sim.Second, 7.2, "an hour"},
		{sim.Battery{Voltage: 7.4, Sag: 14.8}, 3600 * sim.Second, 0, "flat, not negative"},
		{sim.Battery{Voltage: 7.433, Resolution: 0.01}, 0, 7.43, "steps"},
	} {
		c.part.Rate = 1
		f := sim.Frame{Now: c.now}
		New(1, setup(sim.Sensors{Battery: c.part}), 0).Sample(&sim.State{}, &f)
		assert.InDelta(t, c.want, f.Battery, 1e-12, c.reason)
	}
}

// n samples of standard deviation s have a mean within 3.89 s/sqrt(n) and a deviation within
// 3.89 s/sqrt(2n) of s in 99.99 % of cases. Steps q add q/sqrt(12) (IEEE Std 1057, from memory).
func TestNoiseHasTheDeviationAskedFor(t *testing.T) {
	const n = 20_000
	p := sim.Sensors{
		Accel:   sim.Triad{Rate: 1000, Noise: 0.05},
		Gyro:    sim.Triad{Rate: 1000, Noise: 0.002},
		Baro:    sim.Barometer{Rate: 1000, Noise: 3, Resolution: 3},
		GNSS:    sim.Receiver{Rate: 1000, PositionNoise: 1.5, HeightNoise: 3, VelocityNoise: 0.1},
		Battery: sim.Battery{Rate: 1000, Voltage: 7, Noise: 0.01},
	}
	b, st, f := New(1, setup(p), 0), sim.State{Pressure: 90_000}, sim.Frame{}
	columns := []struct {
		of          func() float64
		mean, sigma float64
		xs          []float64
	}{
		{of: func() float64 { return f.Accel.X }, sigma: 0.05},
		{of: func() float64 { return f.Accel.Z }, sigma: 0.05},
		{of: func() float64 { return f.Gyro.Y }, sigma: 0.002},
		{of: func() float64 { return f.Pressure }, mean: 90_000, sigma: math.Sqrt(9 + 9.0/12)},
		{of: func() float64 { return f.GNSS.Height }, mean: 621, sigma: 3},
		{of: func() float64 { return f.GNSS.Velocity.Y }, sigma: 0.1},
		{of: func() float64 { return (f.GNSS.Latitude - mojave.Latitude) * 6.3569e6 }, sigma: 1.5},
		{of: func() float64 { return f.Battery }, mean: 7, sigma: 0.01},
	}
	for range n {
		f.Now = b.Next()
		b.Sample(&st, &f)
		for i := range columns {
			columns[i].xs = append(columns[i].xs, columns[i].of())
		}
	}
	for i, c := range columns {
		mean, sigma := stat.MeanStdDev(c.xs, nil)
		assert.InDelta(t, c.mean, mean, 3.89*c.sigma/math.Sqrt(n), "column %d", i)
		assert.InDelta(t, c.sigma, sigma, 3.89*c.sigma/math.Sqrt(2*n), "column %d", i)
	}
}
