package examine

import (
	"math"

	"drystage/sim"
)

// move turns what the accelerometer says upright by what the gyro says, and sums it up to speed and
// height. The direction of up, told in body axes, turns against the body: du/dt = -w x u. Without a
// gyro the rocket is taken to stay as it stood.
func (e *examiner) move() {
	a := e.accel[0]
	if a == nil {
		return
	}
	u := [3]float64{1, 0, 0}
	if e.accel[1] != nil && e.accel[2] != nil && !e.begun {
		var sum float64
		for i := range u {
			u[i], _, _ = e.accel[i].mean(0, e.padEnd-0.3)
			sum += u[i] * u[i]
		}
		for i := range u {
			u[i] /= math.Sqrt(sum)
		}
	}
	e.gapV, e.gapH = nil, nil
	e.rise, e.sway = &signal{part: sim.PartAccel, t: a.t}, &signal{part: sim.PartAccel, t: a.t}
	e.rise.x, e.sway.x, e.tilt = make([]float64, len(a.t)), make([]float64, len(a.t)), make([]float64, len(a.t))
	mended := e.mended()
	v, h, last := 0.0, 0.0, 0.0
	e.side = 0
	for i := range a.t {
		dt := 0.0
		if i > 0 {
			dt = a.t[i] - a.t[i-1]
			u = turn(u, e.rates(a.t[i]-dt/2), dt)
		}
		f := (mended[0].at(i) - e.accelOff + e.unfelt(i)) * u[0]
		for k := 1; k < 3; k++ {
			if e.accel[k] != nil && i < len(e.accel[k].x) {
				f += mended[k].at(i) * u[k]
			}
		}
		acc := f - e.g
		if a.t[i] < e.padEnd-0.3 && !e.begun {
			acc = 0
		} else if a.t[i] < e.top {
			e.side += (mended[0].at(i) - e.accelOff) * math.Sqrt(max(1-u[0]*u[0], 0)) * dt
		}
		was := v
		v += (acc + last) / 2 * dt
		h += (v + was) / 2 * dt
		last = acc
		e.rise.x[i], e.sway.x[i], e.tilt[i] = v, h, u[0]
	}
	if e.begun {
		v, h := e.launched()
		for i, t := range a.t {
			e.rise.x[i] += v
			e.sway.x[i] += h + v*(t-e.in.from)
		}
	}
}

// unfelt is what was felt beyond the end of the range at a sample, as far as it is known.
func (e *examiner) unfelt(i int) float64 {
	if e.extra == nil {
		return 0
	}
	if k := e.beyond(i); k >= 0 && k < len(e.extra) {
		return e.extra[k]
	}
	return 0
}

// series is a channel's values, mended or as they are.
type series struct{ x []float64 }

func (s series) at(i int) float64 {
	if i < len(s.x) {
		return s.x[i]
	}
	return 0
}

// mended gives the accelerometer's axes with what is masked joined by straight lines.
func (e *examiner) mended() (out [3]series) {
	for k, a := range e.accel {
		if a != nil {
			out[k] = series{bridge(a)}
		}
	}
	return out
}

// lost says that a sample tells nothing; a bound tells more than that.
func (g *signal) lost(i int) bool { return g.mask[i] && (g.rail == nil || !g.rail[i]) }

// bridge joins masked stretches by straight lines.
func bridge(a *signal) []float64 {
	x := append([]float64(nil), a.x...)
	for i := 0; i < len(x); i++ {
		if !a.lost(i) {
			continue
		}
		j := i
		for j < len(x) && a.lost(j) {
			j++
		}
		for k := i; k < j; k++ {
			switch {
			case i == 0 && j < len(x):
				x[k] = x[j]
			case i > 0 && j == len(x):
				x[k] = x[i-1]
			case i > 0:
				x[k] = x[i-1] + (x[j]-x[i-1])*float64(k-i+1)/float64(j-i+1)
			}
		}
		i = j
	}
	return x
}

// rates gives the body's turning at a time.
func (e *examiner) rates(t float64) (w [3]float64) {
	at := 0
	for k, g := range e.gyro {
		if g == nil {
			return [3]float64{}
		}
		if k == 0 || at >= len(g.t) || g.t[at] < t || at > 0 && g.t[at-1] >= t { // axes share their times as a rule
			at = g.index(t)
		}
		i := min(at, len(g.x)-1)
		for i > 0 && g.mask[i] {
			i--
		}
		w[k] = g.x[i] - e.gyroOff[k]
	}
	return w
}

// turn turns the direction of up for a while: u cos a + (u x n) sin a + n (n.u)(1 - cos a) with
// n the axis of w (Rodrigues' formula for the turn -w dt).
func turn(u, w [3]float64, dt float64) [3]float64 {
	r := math.Sqrt(w[0]*w[0] + w[1]*w[1] + w[2]*w[2])
	if r*dt < 1e-12 {
		return u
	}
	n := [3]float64{w[0] / r, w[1] / r, w[2] / r}
	s, c := math.Sincos(r * dt)
	d := (n[0]*u[0] + n[1]*u[1] + n[2]*u[2]) * (1 - c)
	x := [3]float64{u[1]*n[2] - u[2]*n[1], u[2]*n[0] - u[0]*n[2], u[0]*n[1] - u[1]*n[0]}
	for i := range u {
		u[i] = u[i]*c + x[i]*s + n[i]*d
	}
	return u
}
