package examine

import (
	"math"
	"slices"

	"drystage/sim"
)

// guided is the height by the accelerometer, led by the speed of GNSS where there is one: what the
// two speeds differ by, smoothed over a second, is summed up and added.
func (e *examiner) guided() *signal {
	gap := e.speedGap()
	if gap == nil || e.sway == nil {
		return e.sway
	}
	lead := &signal{t: gap.t, x: make([]float64, len(gap.t))}
	way, last := 0.0, 0.0
	for i, t := range gap.t {
		if t > e.lift-1 {
			m, _, n := gap.mean(t-0.55, t+0.55)
			if n < 3 {
				m = last
			}
			if i > 0 {
				way += (m + last) / 2 * (t - gap.t[i-1])
			}
			last = m
		}
		lead.x[i] = way
	}
	out := &signal{t: e.sway.t, x: slices.Clone(e.sway.x)}
	for i := range out.x {
		out.x[i] += lead.at(out.t[i])
	}
	return out
}

// summed is the way that a speed makes; nil without one.
func summed(v *signal) *signal {
	if v == nil {
		return nil
	}
	way := &signal{t: v.t, x: make([]float64, len(v.t))}
	for i := 1; i < len(v.t); i++ {
		way.x[i] = way.x[i-1] + (v.x[i]+v.x[i-1])/2*(v.t[i]-v.t[i-1])
	}
	return way
}

// misguided says that a soft break of the height is one that the accelerometer's own height may have, which it is held against:
// on the way up vibration and the edges of burns leave something of the speed between two samples, and on the way down
// nobody knows which way a body hung when a canopy pulled.
func (e *examiner) misguided(r *signal, f fitted) bool {
	if r.part != sim.PartBaro || e.accel[0] == nil || e.rise == nil {
		return false
	}
	size, d := math.Abs(f.size), min(f.b, f.a+2*r.margin)-f.a
	if f.kind == Spike {
		d = f.b - f.a
	}
	switch f.kind {
	case Step:
		if r.sharp(f.a, f.size) || !math.IsInf(f.b, 1) && r.sharp(f.b, f.size) {
			return false
		}
	case Drift:
		if d = f.b - f.a; r.sharp(f.b, f.size*d) {
			return false
		}
		size *= d
	}
	if f.a > e.top-turnsOver {
		return size < e.pulled(f.a, f.a+d)*d/2 // twice the kink that so much speed makes in the height
	}
	return size < guideSigmas*e.unsummed(f.a, d)
}

// unsummed is the standard deviation of what the height by the accelerometer misses over a stretch of the way up, beyond what
// bends it slowly: a random walk of the speed by vibration between samples, kinks at the edges of burns, and what was felt
// beyond the end of the range.
func (e *examiner) unsummed(from, d float64) float64 {
	a := e.accel[0]
	shaken := a.loudest(from, from+d) * math.Sqrt(a.step)
	sd := shaken * math.Pow(d, 1.5) / math.Sqrt(12)
	for _, m := range e.marks {
		if m > from-d/2 && m < from+d {
			sd = math.Hypot(sd, e.edgeError(m)*d/4)
		}
	}
	cut := 0.0 // s that were felt beyond the end of the range
	for i, j := a.between(from-d/2, from+d); i < j; i++ {
		if e.beyond(i) >= 0 {
			cut += a.step
		}
	}
	return math.Hypot(sd, beyondSD*cut*d/4)
}

// pulled is the speed that what is felt in a stretch makes beyond what is usual around it.
func (e *examiner) pulled(from, until float64) (v float64) {
	a := e.accel[0]
	felt := e.felt()
	around, last := a.between(from-a.margin, until+a.margin)
	usual := median(felt.X[around:last])
	for i, j := a.between(from, until); i < j; i++ {
		v += max(felt.X[i]-usual, 0) * a.step
	}
	return v
}

const guideSigmas = 3.0 // standard deviations of the accelerometer's height that a break may be its own
