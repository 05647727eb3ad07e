package mock

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"pgregory.net/rapid"
)

func TestPressureHeight(t *testing.T) {
	// Geopotential altitudes and pressures of ISO 2533:1975, table 1, as transcribed in the public
	// library metanorma/atmospheric; they print six digits.
	for _, c := range []struct{ p, want, within float64 }{
		{101325, 0, 1e-6}, {95460.8, 500, 0.01}, {89874.6, 1000, 0.01}, {79495.2, 2000, 0.01}, {54019.9, 5000, 0.01}, {26436.2, 10000, 0.02},
	} {
		assert.InDelta(t, c.want, pressureHeight(c.p), c.within, "%g Pa", c.p)
	}
}

func TestHeightAbove(t *testing.T) {
	for _, c := range []struct {
		reason            string
		p, ground, kelvin float64
		want              float64
	}{
		{"the pad itself", 96000, 96000, 0, 0},
		{"from sea level, standard day", 89874.6, 101325, 0, 1000},
		{"from a pad at 500 m", 79495.2, 95460.8, 0, 1500},
		// Hydrostatics by hand, 268.15 K on the ground and the standard lapse rate: 150 m up it is
		// 101325 (1 - 0.0065 150/268.15)^5.25588 = 99403.6 Pa, and a standard altimeter shows 161.19 m.
		{"a cold day, by the standard day's height", 99403.6, 101325, 0, 161.19},
		{"a cold day, mended", 99403.6, 101325, 268.15, 150},
	} {
		assert.InDelta(t, c.want, heightAbove(c.p, pressureHeight(c.ground), c.kelvin), 0.05, c.reason)
	}
}

func TestPlainFunctionsAgreeWithMath(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		x := rapid.Float64Range(1e-3, 1e3).Draw(t, "x")
		assert.InDelta(t, math.Log(x), naturalLog(x), 4e-15*max(1, math.Abs(math.Log(x))))
		y := rapid.Float64Range(-3, 1).Draw(t, "y")
		assert.InEpsilon(t, math.Exp(y), exponential(y), 1e-13)
		z := rapid.Float64Range(0, math.Pi).Draw(t, "z")
		assert.InDelta(t, math.Cos(z), cosine(z), 1e-14)
	})
}

func TestHold(t *testing.T) {
	var h persistence
	for _, c := range []struct {
		now    int64
		so     bool
		want   bool
		reason string
	}{
		{0, true, false, "just begun"},
		{99_000, true, false, "not long enough"},
		{100_000, true, true, "long enough"},
		{101_000, false, false, "over"},
		{102_000, true, false, "counts anew"},
		{202_000, true, true, "long enough again"},
	} {
		assert.Equal(t, c.want, h.lasts(c.now, c.so, 0.1), c.reason)
	}
}

func TestWatch(t *testing.T) {
	feed := func(w *stuckDetector, n int, f func(i int) int64) *stuckDetector {
		for i := range n {
			w.add(f(i))
		}
		return w
	}
	noisy := func(i int) int64 { return int64(i*7919) % 13 }
	constant := func(int) int64 { return 5 }
	coarse := func(i int) int64 { return int64(i / 10 % 2) }
	for _, c := range []struct {
		reason string
		w      *stuckDetector
		want   bool
	}{
		{"a new part", &stuckDetector{limit: 10}, false},
		{"noise", feed(&stuckDetector{limit: 10}, 200, noisy), false},
		{"noise, then nothing", feed(feed(&stuckDetector{limit: 10}, 200, noisy), 20, constant), true},
		{"stays stuck however long", feed(feed(&stuckDetector{limit: 10}, 200, noisy), 100000, constant), true},
		{"lives again", feed(feed(feed(&stuckDetector{limit: 10}, 200, noisy), 50, constant), 2, noisy), false},
		{"never had noise", feed(&stuckDetector{limit: 10}, 500, constant), false},
		{"too coarse to judge", feed(&stuckDetector{limit: 10}, 500, coarse), false},
	} {
		assert.Equal(t, c.want, c.w.stuck(), c.reason)
	}
}

func TestMemoryLearnsTheGround(t *testing.T) {
	var m memory
	for range 100 {
		m.averageGround(96000)
	}
	assert.InDelta(t, 96000, m.groundPressure, 1e-6, "steady")
	m.averageGround(80000)
	assert.InDelta(t, 96000, m.groundPressure, 1, "a single wild sample hardly counts")
	for range 5000 {
		m.averageGround(96100)
	}
	assert.InDelta(t, 96100, m.groundPressure, 1, "weather is followed")
}

// TestAttitudeTurns checks the integration against the closed form: a steady turn about z takes up
// from the nose by exactly the angle turned.
func TestAttitudeTurns(t *testing.T) {
	for _, c := range []struct {
		rate, seconds float64
		reason        string
	}{
		{0.1, 5, "slow"}, {-0.1, 5, "the other way"}, {6, 3, "a tumble of one turn a second"}, {20, 1, "fast"},
	} {
		a := attitude{up: vector{1, 0, 0}, n: 1, known: true}
		n := int(math.Round(c.seconds / 0.005))
		for i := range n {
			a.rotate(int64(i+1)*5000, vector{0, 0, c.rate}, false)
		}
		angle := c.rate * c.seconds
		within := 1e-9 + math.Abs(angle)*math.Pow(c.rate*0.005, 2)/12*1.1 // the method's own error
		assert.InDelta(t, math.Cos(angle), a.up.x, within, c.reason)
		assert.InDelta(t, -math.Sin(angle), a.up.y, within, c.reason)
		assert.InDelta(t, 1, a.up.norm(), 1e-12, c.reason)
		assert.True(t, a.known, c.reason)
	}
}

func TestAttitudeAligns(t *testing.T) {
	a := attitude{}
	for i := range 400 {
		a.alignOnPad(vector{9.8 * math.Cos(0.2), 9.8 * math.Sin(0.2), 0})
		a.rotate(int64(i)*5000, vector{0.01, 0, 0}, true)
	}
	assert.True(t, a.known)
	assert.InDelta(t, 0.01, a.bias.x, 1e-6, "gyro bias")
	assert.InDelta(t, math.Cos(0.2), a.up.x, 1e-3, "the rail's lean")
	up := a.up
	a.alignOnPad(vector{60, 20, 0})
	assert.Equal(t, up, a.up, "thrust is not gravity")
	a.rotate(400*5000+200_000, vector{2, 0, 0}, false)
	assert.Equal(t, up, a.up, "nobody knows how it has turned in a gap")
}

// TestEstimatorTracksAParabola: in free flight the filter without accelerometer has no lag, since its
// third state is a constant acceleration.
func TestEstimatorTracksAParabola(t *testing.T) {
	var e estimator
	e.tune(50)
	h := func(s float64) float64 { return 200 + 100*s - standardGravity/2*s*s }
	e.begin(0, h(0), true)
	for i := 1; i <= 500; i++ {
		s := float64(i) / 50
		e.correct(int64(i)*20_000, h(s))
		if s < 0.5 {
			continue
		}
		within := 0.3 // the start dies away
		if s > 4 {
			within = 0.01
		}
		assert.InDelta(t, h(s), e.h, within, "at %g s", s)
		assert.InDelta(t, 100-standardGravity*s, e.v, within, "at %g s", s)
	}
}

func TestEstimatorGate(t *testing.T) {
	fresh := func() *estimator {
		var e estimator
		e.tune(50)
		e.begin(0, 100, false)
		for i := 1; i <= 100; i++ {
			e.correct(int64(i)*20_000, 100)
		}
		return &e
	}
	for _, c := range []struct {
		reason string
		z      float64
		n      int // samples
		want   float64
	}{
		{"a spike of 0.2 s is refused", 500, 10, 100},
		{"downwards too", -300, 10, 100},
		{"a step that stays is believed after 2 s", 500, 400, 500},
		{"a small step is followed", 103, 200, 103},
	} {
		e := fresh()
		for i := 1; i <= c.n; i++ {
			e.correct(int64(100+i)*20_000, c.z)
		}
		assert.InDelta(t, c.want, e.h, 0.5, c.reason)
		assert.InDelta(t, 0, e.v, 0.5, c.reason)
		assert.Equal(t, c.n == 400, e.accelWrong, "%s: the accelerometer is overruled", c.reason)
	}
}

func TestEstimatorWithoutSensors(t *testing.T) {
	for _, c := range []struct {
		falling bool
		want    float64 // m/s after 2 s
		reason  string
	}{
		{false, 50 - 1.7*standardGravity, "climbing: as thrown, the acceleration of the motor forgotten"},
		{true, 50, "after apogee: steady"},
	} {
		e := estimator{started: true, v: 50, falling: c.falling}
		for i := 1; i <= 200; i++ {
			e.predict(int64(i) * 10_000)
		}
		assert.InDelta(t, c.want, e.v, 0.2, c.reason)
	}
}

// The last correction of the accelerometer by pressure, which includes the lag of a vent hole, isn't used for half a minute.
func TestEstimatorWithoutPressure(t *testing.T) {
	for _, c := range []struct{ last, want float64 }{{4, maxAccelError}, {-4, -maxAccelError}, {0.05, 0.05}} {
		e := estimator{started: true, n: 100, inertial: true, v: 300, b: c.last, u: -standardGravity, accelWrong: true}
		for i := 1; i <= 3000; i++ {
			e.predict(int64(i) * 10_000)
		}
		assert.InDelta(t, 300+30*(c.want-standardGravity), e.v, 0.5*4, "an error of %g m/s2", c.last)
		assert.False(t, e.accelRejected(30e6), "of two sensors one that is left")
		assert.True(t, e.accelRejected(0.1e6))
	}
}

func TestSettingsTable(t *testing.T) {
	seen := map[string]bool{}
	for _, s := range Settings() {
		assert.Regexp(t, `^[a-z][a-z0-9_]{2,23}$`, s.Name)
		assert.NotEmpty(t, s.Meaning, s.Name)
		assert.True(t, s.Default >= s.Min && s.Default <= s.Max && s.Min < s.Max, s.Name)
		assert.Less(t, s.Max, 2e6, "%s: the contract carries thousandths in 32 bits", s.Name)
		assert.False(t, seen[s.Name], s.Name)
		seen[s.Name] = true
	}
}

func TestAccept(t *testing.T) {
	name := func(s string) (n [24]byte) { copy(n[:], s); return n }
	for _, c := range []struct {
		name   string
		value  int32
		now    int32
		known  bool
		reason string
	}{
		{"staging_delay", 2500, 2500, true, "in range"},
		{"staging_delay", -1, 1500, true, "below: the default stays"},
		{"staging_delay", 60001, 1500, true, "above: the default stays"},
		{"drogue_channel", 2000, 2000, true, "a channel"},
		{"drogue_channel", 2500, 0, true, "half a channel is none"},
		{"drogue_channel", 17000, 0, true, "no such channel"},
		{"axial_axis", -3000, -3000, true, "towards the tail"},
		{"axial_axis", 0, 1000, true, "no axis"},
		{"stagingdelay", 2500, 2500, false, "no such setting"},
		{"", 1, 1, false, "no name"},
	} {
		s := defaults()
		now, known := s.accept(name(c.name), c.value)
		assert.Equal(t, c.now, now, c.reason)
		assert.Equal(t, c.known, known, c.reason)
	}
}

func TestThousandths(t *testing.T) {
	for _, c := range []struct {
		v    float64
		want int32
	}{{0, 0}, {1.2346, 1235}, {-1.2346, -1235}, {1e12, 2e9}, {-1e12, -2e9}, {0.0005, 1}} {
		assert.Equal(t, c.want, thousandths(c.v), "%g", c.v)
	}
}
