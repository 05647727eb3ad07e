package sensor

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"

	"drystage/sim"
	"drystage/sim/noise"
	"drystage/sim/r3"
)

func TestReceiver(t *testing.T) {
	st := sim.State{Position: r3.Vec{X: 1000, Y: 2000, Z: 3000}, Velocity: r3.Vec{X: 1, Y: 2, Z: 3}}
	f := read(sim.Sensors{GNSS: sim.Receiver{Rate: 10}}, st)
	assert.InDelta(t, 3621, f.GNSS.Height, 1e-3, "its height is the truth's: both are above the ground, which is round")
	assert.Equal(t, st.Velocity, f.GNSS.Velocity)
	assert.Equal(t, sim.Fix3D, f.GNSS.Kind)
	assert.Positive(t, f.GNSS.Satellites)
}

// receive flies a receiver through states and gives the fixes.
func receive(p sim.Receiver, seconds sim.Time, at func(t float64) sim.State) (fixes []sim.Fix) {
	b, f := New(1, setup(sim.Sensors{GNSS: p}), 0), sim.Frame{}
	for ; f.Now <= seconds*sim.Second; f.Now = b.Next() {
		st := at(f.Now.Seconds())
		b.Sample(&st, &f)
		fixes = append(fixes, f.GNSS)
	}
	return fixes
}

func TestLatencyGivesThePast(t *testing.T) {
	cubic := func(t float64) sim.State { // for which the interpolation is exact
		return sim.State{Position: r3.Vec{Z: 10*t + 5*t*t - t*t*t}, Velocity: r3.Vec{Z: 10 + 10*t - 3*t*t}}
	}
	for _, latency := range []float64{0.05, 0.1, 0.25, 1.3} {
		fixes := receive(sim.Receiver{Rate: 10, Latency: latency}, 3, cubic)
		for i, f := range fixes {
			then := float64(i)/10 - latency
			want := cubic(max(then, 0))
			assert.InDelta(t, 621+want.Position.Z, f.Height, 1e-6, "%v s at sample %d", latency, i)
			assert.InDelta(t, want.Velocity.Z, f.Velocity.Z, 0.01, "%v s at sample %d", latency, i)
		}
	}
}

func TestFixesComeAndGo(t *testing.T) {
	kinds := func(p sim.Receiver, at func(t float64) sim.State) string {
		var s []byte
		for _, f := range receive(p, 6, at) {
			s = append(s, '0'+byte(f.Kind))
		}
		return string(s)
	}
	still := func(float64) sim.State { return sim.State{} }
	during := func(a, b float64, st sim.State) func(float64) sim.State {
		return func(t float64) sim.State {
			if t >= a && t < b {
				return st
			}
			return sim.State{}
		}
	}
	for _, c := range []struct {
		reason string
		part   sim.Receiver
		at     func(t float64) sim.State
		want   string // two a second
	}{
		{"always", sim.Receiver{}, still, "3333333333333"},
		{"cold start, then a second of two dimensions", sim.Receiver{ColdStart: 2, Hold: 1}, still, "0000223333333"},
		{"force", sim.Receiver{MostForce: 40, WarmStart: 1, Hold: 1}, during(1, 2, sim.State{Force: r3.Vec{X: 41}}), "3300002233333"},
		{"force within the limit", sim.Receiver{MostForce: 40, WarmStart: 1, Hold: 1}, during(1, 2, sim.State{Force: r3.Vec{X: 39}}), "3333333333333"},
		{"speed", sim.Receiver{MostSpeed: 500, Hold: 1}, during(1, 2, sim.State{Velocity: r3.Vec{Z: 501}}), "3300223333333"},
		{"height above the sea: 621 m at the pad", sim.Receiver{MostHeight: 1000, Hold: 1}, during(1, 2, sim.State{Position: r3.Vec{Z: 380}}), "3300223333333"},
		{"height below the limit", sim.Receiver{MostHeight: 1002}, during(1, 2, sim.State{Position: r3.Vec{Z: 380}}), "3333333333333"},
		{"lost twice", sim.Receiver{MostForce: 40, WarmStart: 1, Hold: 1}, func(t float64) sim.State {
			if t == 1 || t == 2 {
				return sim.State{Force: r3.Vec{Y: -50}}
			}
			return sim.State{}
		}, "3300000223333"},
	} {
		c.part.Rate = 2
		assert.Equal(t, c.want, kinds(c.part, c.at), c.reason)
	}
	fixes := receive(sim.Receiver{Rate: 1, MostForce: 40, WarmStart: 1, Hold: 1}, 4, func(t float64) sim.State {
		st := sim.State{Position: r3.Vec{Z: 100 * t}, Velocity: r3.Vec{Z: 100}}
		if t == 2 {
			st.Force.X = 50
		}
		return st
	})
	assert.Equal(t, fixes[1].Height, fixes[2].Height, "without a fix it repeats its last place")
	assert.Zero(t, fixes[2].Satellites)
	assert.Equal(t, fixes[1].Height, fixes[4].Height, "in two dimensions, its last height")
}

// TestReceiversFilter compares the overshoot after a burnout with that of the continuous filter of three equal poles,
// which follows a step a of the acceleration with the error (a t^2/2) exp(-t/tau): 2 a tau^2 exp(-2) at t = 2 tau.
func TestReceiversFilter(t *testing.T) {
	const a, burn, rate, tau = 60.0, 4.0, 100.0, 0.5
	truth := func(t float64) sim.State {
		on := min(t, burn)
		return sim.State{Position: r3.Vec{Z: a*on*on/2 + a*burn*(t-on)}, Velocity: r3.Vec{Z: a * on}}
	}
	fixes := receive(sim.Receiver{Rate: rate, Filter: tau}, 12, truth)
	for i, f := range fixes {
		now := float64(i) / rate
		error := func(since float64) float64 { return a * since * since / 2 * math.Exp(-since/tau) }
		want := -error(now)
		if now > burn {
			want += error(now - burn)
		}
		assert.InDelta(t, want, f.Height-621-truth(now).Position.Z, 0.15, "after %v s", now)
	}
	assert.InDelta(t, 2*a*tau*tau*math.Exp(-2), fixes[500].Height-621-truth(5).Position.Z, 0.2, "overshoots most after 2 tau")
	assert.Greater(t, fixes[450].Velocity.Z-truth(4.5).Velocity.Z, 4.0, "and so does the speed")
}

func TestReceiverGoesOnWithoutAFix(t *testing.T) {
	truth := func(t float64) sim.State { // thrown up at 100 m/s; a jolt at 2 s
		st := sim.State{Position: r3.Vec{Z: 100*t - 5*t*t}, Velocity: r3.Vec{Z: 100 - 10*t}}
		if t >= 2 && t < 2.1 {
			st.Force.X = 50
		}
		return st
	}
	fixes := receive(sim.Receiver{Rate: 10, MostForce: 40, WarmStart: 3, Coast: 2, Hold: 1}, 8, truth)
	assert.Equal(t, sim.Fix3D, fixes[39].Kind, "it says that it has a fix")
	assert.InDelta(t, 621+truth(1.9).Position.Z+81*2, fixes[39].Height, 1e-6, "at the last velocity, 81 m/s")
	assert.Equal(t, sim.NoFix, fixes[41].Kind, "and gives up after 2 s")
	assert.Equal(t, fixes[39].Height, fixes[41].Height)
	assert.Equal(t, sim.Fix2D, fixes[52].Kind, "back after 3 s, with the old height")
	assert.Equal(t, fixes[39].Height, fixes[52].Height)
	assert.Zero(t, fixes[52].Velocity.Z)
	assert.InDelta(t, 621+truth(6.3).Position.Z, fixes[63].Height, 1e-6, "then with its own")
}

func TestReacquisitionIsExponential(t *testing.T) {
	sum := 0.0
	const n = 2000
	l := newLock(&sim.Receiver{MostForce: 40, Reacquire: 4}, 0, 0, noise.New(1, "x"))
	for range n {
		l.lost = false
		l.kind(&input{st: &sim.State{Force: r3.Vec{X: 50}}})
		sum += l.more.Seconds()
	}
	assert.InDelta(t, 4, sum/n, 4*3.9/math.Sqrt(n), "its mean, within 99.99 %")
}

func TestHeightsAboveTheEllipsoid(t *testing.T) {
	for _, c := range []struct {
		ellipsoid bool
		want      float64
	}{{false, 621 + 100}, {true, 621 + 47 + 100}} {
		s := setup(sim.Sensors{GNSS: sim.Receiver{Rate: 10, Ellipsoid: c.ellipsoid}})
		s.Vehicle.Site.Geoid = 47
		b, f := New(1, s, 0), sim.Frame{}
		b.Sample(&sim.State{Position: r3.Vec{Z: 100}}, &f)
		assert.InDelta(t, c.want, f.GNSS.Height, 1e-3)
	}
}
