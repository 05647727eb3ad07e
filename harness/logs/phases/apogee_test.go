package phases

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
)

// brakedHeight is a height that drag in proportion to the square of the speed bends, with the speed sideways in it: 2 m/s2 too much of
// gravity, too, as of a warm day's pressure. It gives the time of its top.
func brakedHeight(k, side float64, rng *rand.Rand) (s Series, top float64) {
	h, v, x := 0.0, 62.0, side
	const dt = 0.001
	for i := range 9000 {
		t := float64(i) * dt
		if i%50 == 0 {
			s.T, s.X = append(s.T, t), append(s.X, h*0.95+0.3*rng.NormFloat64())
		}
		speed := math.Hypot(v, x)
		v, x = v-dt*(9.81+k*speed*v), x-dt*k*speed*x
		if h += v * dt; v > 0 {
			top = t
		}
	}
	return s, top
}

// TestApogeeOfABrakedBody: a booster that tumbles brakes hard before its apogee, and one that flies sideways brakes in another way. What
// tells the apogee is told by both, as well as it says.
func TestApogeeOfABrakedBody(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 3))
	for _, c := range []struct{ k, side float64 }{{0, 0}, {0.0005, 0}, {0.0005, 60}, {0.004, 10}, {0.014, 0}, {0.014, 15}} {
		within := 0
		for range 10 {
			s, top := brakedHeight(c.k, c.side, rng)
			e, ok := parabola(s, &Log{Height: s, Gravity: 9.81}, top+0.1, -10)
			assert.True(t, ok)
			if math.Abs(e.At-top) < 2*e.SD+0.01 && e.SD < 0.06 {
				within++
			}
		}
		assert.GreaterOrEqual(t, within, 9, "drag %g /m, %g m/s sideways", c.k, c.side)
	}
}

// TestLiftBeforeATumble: an accelerometer that a tumbling booster's turning pushes for seconds adds up to a speed greater than the
// rocket's own; the height says which came first.
func TestLiftBeforeATumble(t *testing.T) {
	var l Log
	l.Gravity = 9.81
	h, v := 0.0, 0.0
	for i := range 2000 {
		at := float64(i) / 100
		felt, a := 9.81, 0.0
		switch {
		case at >= 5 && at < 6: // beyond the end of the part's range
			felt, a = 40, 70
		case at >= 6 && at < 8:
			felt, a = -6, -15.8
		case at >= 8 && h >= 0:
			felt, a = 45, -12
		}
		v += a / 100
		if h += v / 100; h < 0 {
			h, v = 0, 0
		}
		l.Accel.T, l.Accel.X = append(l.Accel.T, at), append(l.Accel.X, felt)
		l.Height.T, l.Height.X = append(l.Height.T, at), append(l.Height.X, h)
	}
	lift, ok := Lift(l, 20)
	assert.True(t, ok)
	assert.InDelta(t, 5, lift, 0.2)
}
