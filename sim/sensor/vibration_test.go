package sensor

import (
	"math"
	"math/cmplx"
	"testing"

	"drystage/sim/r3"
	"github.com/stretchr/testify/assert"
	"gonum.org/v1/gonum/stat"

	"drystage/sim"
	"drystage/sim/noise"
)

// burning is a state in which the motor gives 100 m/s2.
var burning = sim.State{Thrust: 500, Mass: 5}

// shaken gives n samples of an accelerometer's axes x and y under a motor that shakes.
func shaken(p sim.Triad, v sim.Vibration, st sim.State, n int) (x, y []float64) {
	if p.Transmissibility == 0 {
		p.Transmissibility = 1
	}
	s := setup(sim.Sensors{Accel: p})
	s.Vehicle.Vibration = v
	b, f := New(1, s, 0), sim.Frame{}
	for range n {
		f.Now = b.Next()
		b.Sample(&st, &f)
		x, y = append(x, f.Accel.X), append(y, f.Accel.Y)
	}
	return x, y
}

// A first-order process of variance s^2 and half-power frequency b has the density 2 s^2/(pi b)/(1 + (f/b)^2), and
// behind a low-pass of cut-off B 1/(1 + (f/B)^2) of that, with the variance s^2 B/(B + b). Sampled, it folds.
func TestBroadbandVibrationAgainstTheory(t *testing.T) {
	const n, share, push = 400_000, 0.05, 100.0
	for _, c := range []struct {
		reason        string
		hz, band, cut float64
	}{
		{"no filter: all of it folds in", 200, 1000, 0},
		{"a filter of a usual part", 200, 1000, 80},
		{"as slow as the filter", 400, 80, 80},
		{"slower than the filter", 1000, 30, 200},
	} {
		_, y := shaken(sim.Triad{Rate: c.hz, Bandwidth: c.cut}, sim.Vibration{Share: share, Band: c.band}, burning, n)
		sigma, gain := share*push, func(float64) float64 { return 1 }
		want := sigma
		if c.cut > 0 {
			want *= math.Sqrt(c.cut / (c.cut + c.band))
			gain = func(f float64) float64 { return 1 / (1 + f*f/(c.cut*c.cut)) }
		}
		assert.InEpsilon(t, want, stat.StdDev(y, nil), 0.01, c.reason)
		sameSpectrum(t, c.reason, y, c.hz, func(f float64) float64 {
			return 2 * sigma * sigma / (math.Pi * c.band) / (1 + f*f/(c.band*c.band)) * gain(f)
		})
	}
}

func TestVibrationFollowsThrustOverMass(t *testing.T) {
	v := sim.Vibration{Share: 0.05, Band: 1000}
	for _, c := range []struct {
		reason string
		part   sim.Triad
		st     sim.State
		want   float64
	}{
		{"100 m/s2", sim.Triad{}, burning, 5},
		{"half of the thrust", sim.Triad{}, sim.State{Thrust: 250, Mass: 5}, 2.5},
		{"twice the mass", sim.Triad{}, sim.State{Thrust: 500, Mass: 10}, 2.5},
		{"soft foam", sim.Triad{Transmissibility: 0.2}, burning, 1},
		{"burnt out", sim.Triad{}, sim.State{Mass: 5}, 0},
	} {
		c.part.Rate = 200
		_, y := shaken(c.part, v, c.st, 20_000)
		assert.InDelta(t, c.want, stat.StdDev(y, nil), sure*c.want/math.Sqrt(2*20_000)+1e-12, c.reason)
	}
}

// line gives the amplitude of a sine of a frequency in a series of whole periods.
func line(xs []float64, f, hz float64) float64 {
	sum := 0i
	for k, x := range xs {
		sum += complex(x, 0) * cmplx.Exp(complex(0, -2*math.Pi*f*float64(k)/hz))
	}
	return 2 * cmplx.Abs(sum) / float64(len(xs))
}

// A tone of 330 Hz, sampled at 200 Hz, shows at |330 - 2 200| = 70 Hz, its second harmonic of 660 Hz at 60 Hz with half
// of the amplitude, both behind the filter's 1/sqrt(1 + (f/B)^2).
func TestTonesFoldIn(t *testing.T) {
	v := sim.Vibration{Band: 1000, Tones: []sim.Tone{{Frequency: 330, Share: 0.02, Harmonics: 2}}}
	for _, c := range []struct {
		reason        string
		cut           float64
		part          sim.Triad
		first, second float64
	}{
		{"no filter", 0, sim.Triad{}, 2 * math.Sqrt2, math.Sqrt2},
		{"behind 80 Hz", 80, sim.Triad{Bandwidth: 80}, 2 * math.Sqrt2 / math.Hypot(1, 330.0/80), math.Sqrt2 / math.Hypot(1, 660.0/80)},
		{"the same in steps, as it is felt near the end of the range", 80, sim.Triad{Bandwidth: 80, Range: 4.3}, 2 * math.Sqrt2 / math.Hypot(1, 330.0/80), math.Sqrt2 / math.Hypot(1, 660.0/80)},
	} {
		c.part.Rate = 200
		x, y := shaken(c.part, v, burning, 4200)
		x = x[200:]
		assert.InEpsilon(t, c.first, line(x, 70, 200), 0.02, c.reason)
		assert.InEpsilon(t, c.second, line(x, 60, 200), 0.04, c.reason)
		assert.Less(t, line(x, 33, 200), 0.01, c.reason)
		assert.Zero(t, stat.StdDev(y, nil), "%s: a push along the rocket", c.reason)
	}
}

func TestToneWanders(t *testing.T) {
	w := newTone(&sim.Tone{Frequency: 500, Share: 1, Wander: 0.03, Time: 0.2}, 0, 0.005, noise.New(1, "tone"))
	xs := make([]float64, 100_000)
	for i := range xs {
		w.advance()
		xs[i] = w.turn / (2 * math.Pi * 0.005)
	}
	mean, sigma := stat.MeanStdDev(xs, nil)
	assert.InDelta(t, 500, mean, 1)
	assert.InEpsilon(t, 15, sigma, 0.03)
}

// The mean of a normal number m + s x that is clipped at r is m - s (phi(a) - a (1 - Phi(a))) with a = (r - m)/s, a
// textbook value of the rectified normal distribution. A low-pass behind the clipping keeps the mean; one in front of
// it, as parts don't have it, would lose the shift.
func TestClippedVibrationShiftsTheMean(t *testing.T) {
	const r, share, push, n = 157.0, 0.5, 100.0, 40_000
	for _, c := range []struct {
		force, cut float64
	}{{120, 80}, {150, 80}, {100, 40}, {170, 80}} {
		st := burning
		st.Force.X = c.force
		x, y := shaken(sim.Triad{Rate: 200, Range: r, Bandwidth: c.cut}, sim.Vibration{Share: share, Band: 1000}, st, n)
		s := share * push
		a := (r - c.force) / s
		want := c.force - s*(math.Exp(-a*a/2)/math.Sqrt(2*math.Pi)-a*math.Erfc(a/math.Sqrt2)/2)
		assert.InDelta(t, want, stat.Mean(x, nil), 0.4, "%v m/s2 behind %v Hz; unclipped by %v", c.force, c.cut, c.force-want)
		assert.InDelta(t, 0, stat.Mean(y, nil), 0.4, "an axis in the middle of its range has no shift")
		assert.InEpsilon(t, s*math.Sqrt(c.cut/(c.cut+1000)), stat.StdDev(y, nil), 0.05, "and shakes as much as theory says, in steps too")
	}
}

// What clipping has added dies away behind the low-pass as exp(-2 pi B t).
func TestClippingEndsWithTheMotor(t *testing.T) {
	p := sim.Triad{Rate: 200, Range: 157, Bandwidth: 20, Transmissibility: 1}
	s := setup(sim.Sensors{Accel: p})
	s.Vehicle.Vibration = sim.Vibration{Share: 0.5, Band: 1000}
	b, f, st := New(1, s, 0), sim.Frame{}, burning
	st.Force.X = 140
	for f.Now = 0; f.Now < sim.Second; f.Now = b.Next() {
		b.Sample(&st, &f)
	}
	st.Thrust = 0
	b.Sample(&st, &f)
	first := f.Accel.X - 140
	assert.Less(t, first, -1.0)
	for range 4 {
		f.Now = b.Next()
		b.Sample(&st, &f)
	}
	assert.InEpsilon(t, first*math.Exp(-2*math.Pi*20*0.02), f.Accel.X-140, 1e-6)
}

// Rectification is a coefficient times the mean square: 2 mg0/g0^2 and 1 g0 rms make 2 mg0.
func TestVibrationRectification(t *testing.T) {
	const n = 100_000
	st := sim.State{Thrust: 100 * g0, Mass: 5} // 20 g0
	p := sim.Triad{Rate: 1000, Rectification: 2e-3 / g0}
	_, y := shaken(p, sim.Vibration{Share: 0.05, Band: 1000}, st, n)
	spread := g0 / math.Sqrt(n)
	assert.InDelta(t, 2e-3*g0, stat.Mean(y, nil), sure*spread*1.1)
	p.Rectification = 2 / g0
	_, y = shaken(p, sim.Vibration{Share: 0.05, Band: 1000}, st, n)
	assert.InDelta(t, 2*g0, stat.Mean(y, nil), sure*spread*1.1)
	x, _ := shaken(p, sim.Vibration{Band: 1000, Tones: []sim.Tone{{Frequency: 123.4, Share: 0.05}}}, st, n)
	assert.InDelta(t, 2*g0, stat.Mean(x, nil), 0.01, "a tone's too")
}

func TestAGyroFeelsVibrationAsRate(t *testing.T) {
	s := setup(sim.Sensors{Gyro: sim.Triad{Rate: 200, Transmissibility: 0.002, Rectification: 1e-3}})
	s.Vehicle.Vibration = sim.Vibration{Share: 0.05, Band: 1000, Tones: []sim.Tone{{Frequency: 300, Share: 1}}}
	b, f := New(1, s, 0), sim.Frame{}
	var xs []float64
	for range 40_000 {
		f.Now = b.Next()
		b.Sample(&burning, &f)
		xs = append(xs, f.Gyro.X)
	}
	mean, sigma := stat.MeanStdDev(xs, nil)
	assert.InEpsilon(t, 0.01, sigma, 0.02, "5 m/s2 rms; a tone along the axis doesn't turn it")
	assert.InDelta(t, 1e-3*25, mean, 2e-4, "for each square of m/s2 of the airframe")
	assert.Equal(t, r3.Vec{}, read(sim.Sensors{Gyro: sim.Triad{Rate: 1}}, burning).Gyro)
}
