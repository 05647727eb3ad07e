package mock

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/num/quat"
	"pgregory.net/rapid"
)

// ready is a computer in unpowered climb, 5 s into the run and 4 s after liftoff, that ignites its upper motor at the next
// tick: all conditions are met with margin.
func ready(t require.TestingT) *computer {
	c := newComputer(t, map[string]float64{"staging_channel": 1})
	c.now = 5e6
	*c.mem = memory{valid: true, armed: true, phase: phaseUnpowered, groundPressure: 96000, groundSamples: 500, liftoff: 1e6, burnout: 3e6, maxHeight: 300}
	c.est = estimator{started: true, n: 200, t: c.now, accepted: c.now, h: 300, v: 120, inertial: true}
	c.att = attitude{up: vector{1, 0, 0}, known: true, t: c.now, minTiltCosine: 1}
	c.lastReason = noReason
	return c
}

// TestStagingGates violates each condition alone; its limit is tested from both sides.
func TestStagingGates(t *testing.T) {
	for _, r := range []struct {
		reason string
		shut   func(c *computer)
		log    string // empty: silent; "staging": it lights
	}{
		{"all open", func(*computer) {}, "staging"},
		{"no channel for it", func(c *computer) { c.set[stagingChannel] = 0 }, ""},
		{"not armed", func(c *computer) { c.mem.armed = false }, ""},
		{"on the pad", func(c *computer) { c.mem.phase = phaseStanding }, ""},
		{"the booster burns", func(c *computer) { c.mem.phase = phasePowered }, ""},
		{"past apogee", func(c *computer) { c.mem.phase = phaseFalling }, ""},
		{"under the main", func(c *computer) { c.mem.phase = phaseSlowed }, ""},
		{"landed", func(c *computer) { c.mem.phase = phaseDown }, ""},
		{"burnout never seen", func(c *computer) { c.mem.burnout = 0 }, ""},
		{"lit before", func(c *computer) { c.mem.staged, c.mem.stagedAt = true, 4.9e6 }, ""},

		{"1 us before the delay", func(c *computer) { c.mem.burnout = c.now - 1.5e6 + 1 }, ""},
		{"at the delay", func(c *computer) { c.mem.burnout = c.now - 1.5e6 }, "staging"},
		{"at the latest", func(c *computer) { c.mem.liftoff = c.now - 6e6 }, "staging"},
		{"1 us past the latest", func(c *computer) { c.mem.liftoff = c.now - 6e6 - 1 }, "no staging: too late"},

		{"no attitude", func(c *computer) { c.att.known = false }, "no staging: tilt unknown"},
		{"has leaned 19.9 deg", func(c *computer) { c.att.minTiltCosine = math.Cos(19.9 * math.Pi / 180) }, "staging"},
		{"has leaned 20.1 deg", func(c *computer) { c.att.minTiltCosine = math.Cos(20.1 * math.Pi / 180) }, "no staging: tilt has been above its limit"},
		{"has been upside down", func(c *computer) { c.att.minTiltCosine = -1 }, "no staging: tilt has been above its limit"},

		{"height not settled", func(c *computer) { c.est.n = settleSamples - 1 }, "no staging: barometer not believed"},
		{"began a moment ago", func(c *computer) { c.est.begun = c.now - 0.4e6 }, "no staging: barometer not believed"},
		{"no barometer for 0.49 s", func(c *computer) { c.est.accepted = c.now - 0.49e6 }, "staging"},
		{"no barometer for 0.5 s", func(c *computer) { c.est.accepted = c.now - 0.5e6 }, "no staging: barometer not believed"},
		{"at the least height", func(c *computer) { c.est.h = 100 }, "staging"},
		{"just below it", func(c *computer) { c.est.h = 99.999 }, "no staging: too low"},
		{"at the least speed", func(c *computer) { c.est.v = 40 }, "staging"},
		{"just slower", func(c *computer) { c.est.v = 39.999 }, "no staging: too slow"},
		{"falling fast", func(c *computer) { c.est.v = -120 }, "no staging: too slow"},

		{"waits for the operator", func(c *computer) { c.set[stagingByCommand] = 1 }, ""},
		{"the operator asks", func(c *computer) { c.set[stagingByCommand] = 1; c.stageAsked = true }, "staging"},
		{"and is refused aloud", func(c *computer) { c.set[stagingByCommand] = 1; c.stageAsked = true; c.est.v = 39 }, "stage command refused: too slow"},
		{"asked too soon", func(c *computer) { c.stageAsked = true; c.mem.burnout = c.now - 1 }, "stage command refused: too early"},
		{"asked unarmed", func(c *computer) { c.stageAsked = true; c.mem.armed = false }, "stage command refused: not armed"},
	} {
		t.Run(r.reason, func(t *testing.T) {
			c := ready(t)
			r.shut(c)
			before := c.mem.staged
			c.runStaging()
			want := []string{r.log}
			if r.log == "" {
				want = nil
			}
			assert.Equal(t, want, c.logs(t))
			assert.Equal(t, r.log == "staging", c.out.on == 1, "output 1")
			assert.Equal(t, r.log == "staging" || before, c.mem.staged)
			assert.False(t, c.stageAsked, "a command counts once")
			c.runStaging()
			assert.Empty(t, c.logs(t), "nothing is said or done twice")
		})
	}
}

// TestGatesOnlyForbid: one more violated condition never makes a board ignite a motor.
func TestGatesOnlyForbid(t *testing.T) {
	shut := []func(c *computer){
		func(c *computer) { c.mem.armed = false }, func(c *computer) { c.mem.phase = phasePowered }, func(c *computer) { c.mem.burnout = c.now },
		func(c *computer) { c.mem.liftoff = c.now - 7e6 }, func(c *computer) { c.att.known = false }, func(c *computer) { c.att.minTiltCosine = 0 },
		func(c *computer) { c.est.n = 1 }, func(c *computer) { c.est.h = 1 }, func(c *computer) { c.est.v = 1 },
	}
	rapid.Check(t, func(t *rapid.T) {
		c := ready(t)
		some := rapid.SliceOfNDistinct(rapid.IntRange(0, len(shut)-1), 1, -1, func(i int) int { return i }).Draw(t, "shut")
		c.stageAsked = rapid.Bool().Draw(t, "asked")
		for _, i := range some {
			shut[i](c)
		}
		c.runStaging()
		assert.Zero(t, c.out.on)
	})
}

// TestStagingIsAtTheDelay: staging is never before burnout plus the delay, for any period of the ticks.
func TestStagingIsAtTheDelay(t *testing.T) {
	for _, period := range []int64{500, 1000, 5000, 7001, 20000} {
		c := ready(t)
		c.now, c.mem.burnout = 3e6, 3e6
		for c.out.on == 0 && c.now < 6e6 {
			c.now += period
			c.est.t, c.est.accepted = c.now, c.now
			c.runStaging()
		}
		late := c.now - 4.5e6
		assert.True(t, late >= 0 && late < period, "period %d us: lit %d us after the delay", period, late)
	}
}

// turned rotates v by the closed form q v q*, with a unit quaternion of gonum for an angle about an
// axis.
func turned(v, axis vector, angle float64) vector {
	s := math.Sin(angle/2) / axis.norm()
	q := quat.Number{Real: math.Cos(angle / 2), Imag: s * axis.x, Jmag: s * axis.y, Kmag: s * axis.z}
	p := quat.Mul(quat.Mul(q, quat.Number{Imag: v.x, Jmag: v.y, Kmag: v.z}), quat.Conj(q))
	return vector{p.Imag, p.Jmag, p.Kmag}
}

// TestTiltOfAnyTurn: a steady rate about any axis of the body turns the direction of up, in body axes, the other way about
// that axis.
func TestTiltOfAnyTurn(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		part := rapid.Float64Range(-1, 1)
		axis := vector{part.Draw(t, "x"), part.Draw(t, "y"), part.Draw(t, "z")}
		if axis.norm() < 0.1 {
			t.Skip("no axis")
		}
		rate := rapid.Float64Range(0.01, 20).Draw(t, "rate")
		const dt, n = 0.005, 400
		w := vector{}.plus(rate, axis.unit())
		a := attitude{up: vector{0.6, 0, 0.8}, n: 1, known: true}
		for i := range int64(n) {
			a.rotate((i+1)*5000, w, false)
		}
		want := turned(vector{0.6, 0, 0.8}, axis, -rate*dt*n)
		off := a.up.plus(-1, want).norm()
		assert.LessOrEqual(t, off, 1e-9+rate*dt*n*math.Pow(rate*dt, 2)/12*1.1, "Cayley is short by a twelfth of the angle's cube in each step")
	})
}

// TestTiltOfACone: a body that spins while its rate circles: up stays a unit vector and agrees with
// the same steps done by quaternions.
func TestTiltOfACone(t *testing.T) {
	a := attitude{up: vector{1, 0, 0}, n: 1, known: true}
	want := a.up
	for i := range int64(2000) {
		s := float64(i) * 0.005
		w := vector{6, 0.5 * math.Cos(6*s), 0.5 * math.Sin(6*s)}
		a.rotate((i+1)*5000, w, false)
		want = turned(want, w, -w.norm()*0.005)
	}
	assert.InDelta(t, 1, a.up.norm(), 1e-12)
	assert.LessOrEqual(t, a.up.plus(-1, want).norm(), 1e-2)
}

// TestLatch: the greatest tilt since liftoff is kept, wherever the rocket points now; a new liftoff resets it.
func TestLatch(t *testing.T) {
	axis := vector{1, 0, 0}
	lean := func(deg float64) vector {
		return vector{math.Cos(deg * math.Pi / 180), math.Sin(deg * math.Pi / 180), 0}
	}
	a := attitude{minTiltCosine: 1}
	for _, c := range []struct {
		now, greatest float64 // deg
		reason        string
	}{
		{0, 0, "upright"}, {10, 10, "leans"}, {5, 10, "comes back: stays latched"}, {170, 170, "tumbles"}, {0, 170, "upright again: stays latched"},
	} {
		a.up = lean(c.now)
		a.keepMaxTilt(axis)
		assert.InDelta(t, math.Cos(c.greatest*math.Pi/180), a.minTiltCosine, 1e-12, c.reason)
	}
	c := newComputer(t, nil)
	c.att.minTiltCosine = -1
	c.axial, c.set[liftoffTime] = 100, 0
	c.detectLiftoff()
	assert.Equal(t, phasePowered, c.mem.phase)
	assert.InDelta(t, 1, c.att.minTiltCosine, 0, "liftoff begins anew")
	c.att.minTiltCosine = -1
	c.setPhase(phaseUnpowered)
	c.setPhase(phasePowered)
	assert.InDelta(t, -1, c.att.minTiltCosine, 0, "the upper motor's thrust does not")
}
