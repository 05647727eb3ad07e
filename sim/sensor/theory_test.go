package sensor

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat"
	"pgregory.net/rapid"

	"drystage/sim"
	"drystage/sim/noise"
)

// sure is how many standard deviations a statistic may lie from theory: 99.9 % of seeds stay within
// them, and the seeds here are fixed.
const sure = 3.29

// allan gives the Allan deviation of averages over m samples, not overlapping (IEEE Std 952-1997 annex
// C, from memory), and how many averages there were.
func allan(xs []float64, m int) (dev float64, n int) {
	n = len(xs) / m
	sum, last := 0.0, 0.0
	for i := range n {
		mean := stat.Mean(xs[i*m:(i+1)*m], nil)
		if i > 0 {
			sum += (mean - last) * (mean - last)
		}
		last = mean
	}
	return math.Sqrt(sum / float64(2*(n-1))), n
}

// NIST Special Publication 1065 (Riley, 2008), tables 30 and 31, as transcribed in test suites of several
// libraries.
func TestAllanAgainstPublishedValues(t *testing.T) {
	small := []float64{892, 809, 823, 798, 671, 644, 883, 903, 677}
	for m, want := range map[int]float64{1: 91.22945, 2: 115.8082} {
		got, _ := allan(small, m)
		assert.InDelta(t, want, got, 5e-5, "table 30, m = %d", m)
	}
	xs, n := make([]float64, 1000), uint64(1234567890)
	for i := range xs {
		xs[i] = float64(n) / 2147483647
		n = 16807 * n % 2147483647
	}
	for m, want := range map[int]float64{1: 0.2922319, 10: 0.09965736, 100: 0.03897804} {
		got, _ := allan(xs, m)
		assert.InDelta(t, want, got, 5e-8, "table 31, m = %d", m)
	}
}

// series gives n values of an axis of an accelerometer at rest in no field.
func series(p sim.Triad, n int) []float64 {
	b, st, f := New(1, setup(sim.Sensors{Accel: p}), 0), sim.State{}, sim.Frame{}
	xs := make([]float64, n)
	for i := range xs {
		f.Now = b.Next()
		b.Sample(&st, &f)
		xs[i] = f.Accel.Y
	}
	return xs
}

// White noise of one-sided density D has the Allan deviation D/sqrt(2 tau): N/sqrt(tau) of IEEE Std
// 952-1997 (from memory), whose N belongs to the two-sided density, N^2 = D^2/2. The squares of
// neighbouring differences have correlation 1/4, so that the estimate's relative standard deviation is
// sqrt(3/n)/2.
func TestWhiteNoiseDensity(t *testing.T) {
	const density, hz, n = 0.002, 200.0, 400_000
	for _, c := range []struct {
		reason    string
		bandwidth float64
	}{{"no filter", 0}, {"a filter leaves what is slower than it", 50}} {
		folded := 1.0 // sum of 1/(1 + (k f/B)^2) over all k: what folds to the frequency 0
		if x := math.Pi * c.bandwidth / hz; x > 0 {
			folded = x / math.Tanh(x)
		}
		xs := series(sim.Triad{Rate: hz, Density: density, Bandwidth: c.bandwidth}, n)
		for _, tau := range []float64{0.5, 5} {
			dev, n := allan(xs, int(tau*hz))
			want := density * math.Sqrt(folded/(2*tau))
			assert.InDelta(t, want, dev, sure*want*math.Sqrt(3/float64(n))/2, "%s, %v s", c.reason, tau)
		}
	}
	xs := series(sim.Triad{Rate: hz, Density: density}, n)
	want := density * math.Sqrt(hz/2) // 100 ug over 200 Hz is 1.414 mg rms: density times the root of the band
	assert.InDelta(t, want, stat.StdDev(xs, nil), sure*want/math.Sqrt(2*n), "over the whole band")
}

// White noise of one-sided density D behind a first-order low-pass of cut-off B has the variance D^2 B pi/2 (its
// noise-equivalent bandwidth, a textbook value), however seldom it is sampled: what is faster than half the rate folds
// in. The spectrum at f is the sum of the continuous one's at f and all f + k times the rate.
func TestWhiteNoiseBehindTheFilterFoldsIn(t *testing.T) {
	const n = 400_000
	for _, c := range []struct {
		reason          string
		hz, cut, spread float64
	}{
		{"a usual part", 200, 80, 0}, {"a filter far below half the rate", 4000, 40, 0}, {"a filter above it", 100, 300, 0},
	} {
		density := 1e-3 * g0
		xs := series(sim.Triad{Rate: c.hz, Density: density, Bandwidth: c.cut}, n)
		e := math.Exp(-2 * math.Pi * c.cut / c.hz)
		want := density * math.Sqrt(math.Pi/2*c.cut)
		spread := math.Sqrt((1 + e*e) / (1 - e*e) / (2 * n)) // relative, of the deviation of an AR(1) process
		assert.InDelta(t, want, stat.StdDev(xs, nil), sure*want*spread, c.reason)
		sameSpectrum(t, c.reason, xs, c.hz, func(f float64) float64 { return density * density / (1 + f*f/(c.cut*c.cut)) })
	}
	assert.InDelta(t, 0.110, stat.StdDev(series(sim.Triad{Rate: 200, Density: 1e-3 * g0, Bandwidth: 80}, n), nil), 5e-4, "1 mg0/rtHz behind 80 Hz; 0.070 without folding")
}

// Variance sigma^2 with relative standard deviation sqrt(2/n (1+phi^2)/(1-phi^2)), correlation exp(-T/Time)
// with that of Bartlett's formula (Box, Jenkins, Time Series Analysis, 2.1.6, from memory).
func TestWanderAgainstTheory(t *testing.T) {
	const sigma, time, hz, n = 0.03, 2.0, 20.0, 400_000
	w := newGaussMarkov(sim.GaussMarkov{Sigma: sigma, Time: time}, 1/hz, noise.New(1, "w"))
	xs := make([]float64, n)
	for i := range xs {
		xs[i] = w.next()
	}
	phi := math.Exp(-1 / (hz * time))
	p2 := phi * phi
	variance := stat.MomentAbout(2, xs, 0, nil)
	assert.InDelta(t, sigma*sigma, variance, sure*sigma*sigma*math.Sqrt(2*(1+p2)/(1-p2)/n))
	for _, lag := range []int{10, int(time * hz)} {
		sum := 0.0
		for i := range n - lag {
			sum += xs[i] * xs[i+lag]
		}
		rho, pk := sum/float64(n-lag)/variance, math.Pow(p2, float64(lag))
		spread := math.Sqrt(((1+p2)*(1-pk)/(1-p2) - 2*float64(lag)*pk) / n)
		assert.InDelta(t, math.Exp(-float64(lag)/(hz*time)), rho, sure*spread, "%d samples apart", lag)
	}
	// Its Allan variance: half the mean square of the difference of two neighbouring averages, summed
	// from the correlation. At long averages it meets the continuous form of IEEE Std 952-1997 (C.1.5,
	// from memory): sigma^2 (2T/tau) (1 - (T/2tau) (3 - 4 exp(-tau/T) + exp(-2 tau/T))).
	for _, tau := range []float64{0.2, 20} {
		dev, k := allan(xs, int(tau*hz))
		want := sigma * math.Sqrt(allanOfGaussMarkov(phi, int(tau*hz)))
		assert.InDelta(t, want, dev, sure*want*math.Sqrt(3/float64(k))/2, "averages of %v s", tau)
	}
	x := 20 / time
	assert.InEpsilon(t, 2/x*(1-(3-4*math.Exp(-x)+math.Exp(-2*x))/(2*x)), allanOfGaussMarkov(phi, int(20*hz)), 1e-3)
}

// allanOfGaussMarkov gives the Allan variance of averages over m samples of variance 1.
func allanOfGaussMarkov(phi float64, m int) (sum float64) {
	for i := range 2 * m {
		for j := range 2 * m {
			sign := 1.0
			if (i < m) != (j < m) {
				sign = -1
			}
			sum += sign * math.Pow(phi, math.Abs(float64(i-j)))
		}
	}
	return sum / float64(2*m*m)
}

func TestWanderIsInItsSteadyStateFromTheStart(t *testing.T) {
	const n = 4000
	xs := make([]float64, n)
	for i := range xs {
		w := newGaussMarkov(sim.GaussMarkov{Sigma: 2, Time: 100}, 0.01, noise.New(uint64(i), "w"))
		xs[i] = w.next()
	}
	assert.InDelta(t, 2, stat.StdDev(xs, nil), sure*2/math.Sqrt(2*n))
}

// The step response of a first-order system is 1 - exp(-t/tau); behind a ramp it stays slope times tau.
func TestLag(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		tau, period := rapid.Float64Range(1e-3, 10).Draw(t, "tau"), rapid.Float64Range(1e-3, 1).Draw(t, "period")
		l := newLag(tau, period)
		require.Equal(t, 5.0, l.next(5), "at rest at first")
		first := l.next(6) // the step is a ramp of one period
		for k := range 20 {
			require.InDelta(t, 6-(6-first)*math.Exp(-period*float64(k+1)/tau), l.next(6), 1e-9)
		}
		l = newLag(tau, period)
		x, y := 0.0, 0.0
		for k := range 20_000 {
			x = float64(k) * period * 3
			y = l.next(x)
		}
		require.InDelta(t, 3*tau*(1-math.Exp(-period*19_999/tau)), x-y, 1e-6*tau+1e-9*x)
	})
}

func TestLowPassHalvesThePowerAtItsFrequency(t *testing.T) {
	const hz, period = 20.0, 1e-4
	l, sum := lowPass(hz, period), 0.0
	for k := range 20_000 {
		if y := l.next(math.Sin(2 * math.Pi * hz * float64(k) * period)); k >= 10_000 {
			sum += y * y
		}
	}
	assert.InDelta(t, 0.25, sum/10_000, 1e-4, "half of a sine's 1/2")
}

func TestNoLag(t *testing.T) {
	for _, l := range []lag{{}, newLag(0, 1), newLag(math.NaN(), 1), newLag(1, 0), lowPass(0, 1), lowPass(-1, 1)} {
		assert.Equal(t, 3.0, l.next(3))
		assert.Equal(t, -4.0, l.next(-4))
	}
}
