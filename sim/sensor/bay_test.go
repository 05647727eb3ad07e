package sensor

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"

	"drystage/sim"
)

// behind lets the pressure outside change for some seconds and gives those outside and inside at the end of each sample.
func behind(b sim.Barometer, outside func(t float64) float64, charge sim.Time, seconds float64) (out, in []float64) {
	if b.Rate == 0 {
		b.Rate = 50
	}
	bank, f := New(1, setup(sim.Sensors{Baro: b}), 0), sim.Frame{}
	bank.ChargeFired(charge)
	for f.Now = 0; f.Now.Seconds() <= seconds; f.Now = bank.Next() {
		p := outside(f.Now.Seconds())
		bank.Sample(&sim.State{Pressure: p, Ambient: 288.15}, &f)
		out, in = append(out, p), append(in, f.Pressure)
	}
	return out, in
}

// Three holes of 2 mm, 1 litre, 200 m/s at sea level: 10.8 Pa behind; one hole of 1 mm: 1550 Pa. Both were computed from
// the orifice equation apart from this code. A steady climb leaves the bay behind by the square of its rate: that at
// 460 m/s is 4.6 times further behind, in seconds, than that at 100 m/s.
func TestVentsBehindASteadyClimb(t *testing.T) {
	for _, c := range []struct {
		reason string
		vents  sim.Vents
		climb  float64
		want   float64
	}{
		{"three holes of 2 mm", sim.Vents{Count: 3, Diameter: 2e-3, Volume: 1e-3}, 200, 10.8},
		{"one hole of 1 mm", sim.Vents{Count: 1, Diameter: 1e-3, Volume: 1e-3}, 200, 1550},
		{"at half of the climb a quarter", sim.Vents{Count: 1, Diameter: 1e-3, Volume: 1e-3}, 100, 1550.0 / 4},
	} {
		rate := 1.225 * g0 * c.climb
		begin := 101325 + 10*rate // in which it comes to its steady state, at the density of the sea level
		out, in := behind(sim.Barometer{Vents: c.vents}, func(t float64) float64 { return begin - rate*t }, sim.Never, 10)
		assert.InEpsilon(t, c.want, in[len(in)-1]-out[len(out)-1], 0.05, "%s; the air here is not quite that of the sea level", c.reason)
	}
	late := func(climb float64) float64 {
		rate := 1.225 * g0 * climb
		out, in := behind(sim.Barometer{Rate: 200, Vents: sim.Vents{Count: 3, Diameter: 2e-3, Volume: 1e-3}}, func(t float64) float64 { return 101325 + rate*(1-t) }, sim.Never, 1)
		n := len(in) - 1
		return (in[n] - out[n]) / rate
	}
	assert.InEpsilon(t, 4.6, late(460)/late(100), 0.01)
}

// After a step of the pressure outside the root of the difference falls as a straight line: sqrt(d) = sqrt(d0) - k t/2
// with k = C A/V sqrt(2 R T p), which is the closed form of d' = -k sqrt(d).
func TestAStepDiesInFiniteTime(t *testing.T) {
	v := sim.Vents{Count: 1, Diameter: 1e-3, Volume: 1e-3}
	k := 0.6 * math.Pi / 4 * 1e-6 / 1e-3 * math.Sqrt(2*287.05287*288.15*1e5)
	const step = 2000.0
	whole := 2 * math.Sqrt(step) / k
	_, in := behind(sim.Barometer{Rate: 200, Vents: v}, func(t float64) float64 {
		if t == 0 {
			return 1e5 + step
		}
		return 1e5
	}, sim.Never, 1.3*whole)
	for _, share := range []float64{0.25, 0.5, 0.75} {
		root := math.Sqrt(step) * (1 - share)
		assert.InDelta(t, root*root, in[int(share*whole*200)]-1e5, 0.02*step, "after %v of %v s", share, whole)
	}
	assert.InDelta(t, 0, in[len(in)-1]-1e5, 0.01, "and is over")
}

// Second path: the same equations by the midpoint rule in steps of 20 us.
func TestChargeLeaksIntoTheBay(t *testing.T) {
	const volume, air = 0.4e-3, 287.05287 * 288.15
	for _, c := range []struct {
		reason     string
		vents      sim.Vents
		leak, peak float64
		least      float64 // Pa, of the highest
	}{
		{"a usual bay", sim.Vents{Count: 3, Diameter: 3e-3, Volume: volume}, 0.5e-3, 70e3, 5},
		{"a wide leak and small holes", sim.Vents{Count: 1, Diameter: 1e-3, Volume: volume}, 1e-3, 70e3, 800},
		{"choked", sim.Vents{Count: 3, Diameter: 1e-3, Volume: volume}, 1e-3, 200e3, 800},
	} {
		const at, outside, decay = 0.5012, 9e4, 0.05
		_, in := behind(sim.Barometer{Rate: 200, Vents: c.vents, Ejection: sim.Ejection{Peak: c.peak, Time: decay, Leak: c.leak}},
			func(float64) float64 { return outside }, sim.Seconds(at), 1.5)
		hole := func(d, from, to float64) float64 { // kg/s
			drop := math.Min(math.Abs(from-to), (1-math.Pow(2/2.4, 3.5))*math.Max(from, to))
			return math.Copysign(0.6*math.Pi/4*d*d*math.Sqrt(2*math.Max(from, to)/air*drop), from-to)
		}
		rate := func(t, p float64) float64 {
			excess := 0.0
			if t >= at {
				excess = c.peak * math.Exp(-(t-at)/decay)
			}
			return air / volume * (float64(c.vents.Count)*hole(c.vents.Diameter, outside, p) + hole(c.leak, outside+excess, p))
		}
		want, highest, worst := outside, 0.0, 0.0
		const h, per = 20e-6, 250
		for i := range in {
			if i > 0 {
				for k := range per {
					t := float64((i-1)*per+k) * h
					want += h * rate(t+h/2, want+h/2*rate(t, want))
				}
			}
			highest = math.Max(highest, want-outside)
			worst = math.Max(worst, math.Abs(in[i]-want))
		}
		assert.Greater(t, highest, c.least, c.reason)
		assert.Less(t, worst, 0.1*highest, "%s: %.1f of %.1f Pa", c.reason, worst, highest)
		assert.InDelta(t, outside, in[len(in)-1], 0.01*highest, c.reason)
	}
	_, in := behind(sim.Barometer{Lag: 0.1, Ejection: sim.Ejection{Peak: 70e3, Time: 0.05, Leak: 1e-3}}, func(float64) float64 { return 9e4 }, sim.Seconds(0.5), 1.5)
	assert.Greater(t, in[30]-9e4, 100.0, "a bay told by its lag leaks too")
}

func TestABayWithoutHolesHasThePressureAtItsPorts(t *testing.T) {
	out, in := behind(sim.Barometer{Ejection: sim.Ejection{Peak: 70e3, Time: 0.05, Leak: 1e-3}}, func(t float64) float64 { return 9e4 - 3000*t }, sim.Seconds(0.1), 1)
	assert.Equal(t, out, in)
}
