package flight

import (
	"math"

	"drystage/sim"
)

// peak is the greatest value of something that is never negative, and when.
type peak struct {
	value float64
	at    sim.Time
}

// peakTerms are the quantities whose peaks are recorded: the square of the speed over the ground (m2/s2), the
// square of the Mach number, and the dynamic pressure (Pa).
type peakTerms [3]float64

// peakTermsAt gives them at a fraction of the step.
func (b *body) peakTermsAt(x float64) peakTerms {
	height, vx, vy, vz := b.interpolateOne(x, 2), b.interpolateOne(x, 3), b.interpolateOne(x, 4), b.interpolateOne(x, 5)
	c, in := b.air.cell(height)
	east, north, up := b.wind.at(height)
	over := float64(vx*vx) + float64(vy*vy) + float64(vz*vz)
	vx, vy, vz = vx-east, vy-north, vz-up
	through := float64(vx*vx) + float64(vy*vy) + float64(vz*vz)
	return peakTerms{over, float64(through * square(cubic(&c.slowness, in))), float64(0.5 * cubic(&c.density, in) * through)}
}

// peakScreen: in steady wind a step has no new peak inside when both its ends are below this share of the
// greatest value so far. No step is long enough for a value to rise and fall by the rest.
const peakScreen = 0.75

// updatePeaks updates the peaks with the part of a step between fractions a and z.
func (r *record) updatePeaks(b *body, a, z float64) {
	most := peakTerms{square(r.speed.value), square(r.mach.value), r.q.value}
	end := b.peakTermsAt(z)
	look := b.wind.unsteady()
	for k := range most {
		look = look || max(end[k], r.lastTerms[k]) >= peakScreen*most[k]
	}
	r.lastTerms = end
	if !look {
		return
	}
	// A value that still rises at the end, or falls from the start, has its maximum there. A step is too short
	// for two maxima.
	edge := float64((z - a) * (1.0 / 256))
	before, start, after := b.peakTermsAt(z-edge), end, end
	for k := range end {
		if before[k] > end[k] {
			start, after = b.peakTermsAt(a), b.peakTermsAt(a+edge)
			break
		}
	}
	for k, one := range [...]*peak{&r.speed, &r.mach, &r.q} {
		at, best := z, end[k]
		if before[k] > end[k] {
			at, best = a, start[k]
			if after[k] > start[k] {
				at, best = goldenMaximum(func(x float64) float64 { return b.peakTermsAt(x)[k] }, a, z)
			}
		}
		if !(best > most[k]) {
			continue
		}
		one.value, one.at = best, b.timeAt(at)
		if one == &r.q {
			b.interpolate(at, &r.qState)
		} else {
			one.value = math.Sqrt(best)
		}
	}
}

// timeAt is the time of a fraction of the step.
func (b *body) timeAt(x float64) sim.Time {
	return b.from + sim.Time(math.Round(float64(x*float64(b.to-b.from))))
}

// maximum finds the maximum of g between a and z if it is above least; else it gives least.
func maximum(g func(float64) float64, a, z, least float64) (at, value float64) {
	step := float64((z - a) / searchParts)
	best, edge := -1.0, float64(step/64)
	at, value = a, least
	for i := 0; i <= searchParts; i++ {
		x := a + float64(step*float64(i))
		if i == searchParts {
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
	return goldenMaximum(g, max(a, best-step), min(z, best+step))
}

// goldenMaximum finds a maximum by golden section search, both ends included.
func goldenMaximum(g func(float64) float64, a, z float64) (at, value float64) {
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
