package flight

import (
	"math"

	"drystage/sim"
)

// crest is the greatest value of something that is never negative, and when.
type crest struct {
	value float64
	at    sim.Time
}

// through takes account of a square of the value between shares a and z of a body's step.
func (c *crest) through(b *body, a, z float64, square func(float64) float64) {
	now := float64(c.value * c.value)
	at, value := highest(square, a, z, now)
	if value > now {
		c.value, c.at = math.Sqrt(value), b.instant(at)
	}
}

// throughItself does the same with the value.
func (c *crest) throughItself(b *body, a, z float64, value func(float64) float64) {
	if at, v := highest(value, a, z, c.value); v > c.value {
		c.value, c.at = v, b.instant(at)
	}
}

// instant is the time of a share of the step.
func (b *body) instant(x float64) sim.Time {
	return b.from + sim.Time(math.Round(float64(x*float64(b.to-b.from))))
}

// highest looks for the maximum of g between a and z where it exceeds a least value; else it gives
// that value.
func highest(g func(float64) float64, a, z, least float64) (at, value float64) {
	step := float64((z - a) / cuts)
	best, edge := -1.0, float64(step/64)
	at, value = a, least
	for i := 0; i <= cuts; i++ {
		x := a + float64(step*float64(i))
		if i == cuts {
			x = z
		}
		if v := g(x); v > value {
			best, at, value = x, x, v
		}
	}
	// A value that still rises at the end, or falls from the beginning, has its maximum there.
	if best < 0 || (best == z && g(z-edge) <= value) || (best == a && g(a+edge) <= value) {
		return at, value
	}
	return golden(g, max(a, best-step), min(z, best+step))
}

// golden finds a maximum by golden section; the ends count.
func golden(g func(float64) float64, a, z float64) (at, value float64) {
	const section = 0.6180339887498949
	first, last := a, z
	l, r := z-float64(section*(z-a)), a+float64(section*(z-a))
	gl, gr := g(l), g(r)
	for i := 0; i < 40; i++ {
		if gl >= gr {
			z, r, gr = r, l, gl
			l = z - float64(section*(z-a))
			gl = g(l)
		} else {
			a, l, gl = l, r, gr
			r = a + float64(section*(z-a))
			gr = g(r)
		}
	}
	at, value = l, gl
	for _, x := range [...]float64{a, z, first, last} {
		if v := g(x); v > value {
			at, value = x, v
		}
	}
	return at, value
}
