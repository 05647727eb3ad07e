package mock

import "math"

// standardGravity is 9.80665 m/s2, ISO 80000-3.
const standardGravity = 9.80665

const (
	quiet     = 1.5  // m/s2 from 1 g: the rocket stands still
	alignTime = 400  // samples that the mean on the pad looks back
	aligned   = 40   // samples before it counts
	gap       = 0.05 // s without gyro samples that lose the attitude
)

// attitude keeps where up is, in the inertial sensor's axes: on the pad from gravity, in flight from
// the gyro alone.
type attitude struct {
	up    vector
	bias  vector // rad/s, of the gyro
	known bool
	n     int // samples of the mean on the pad
	rates int // the same for the bias
	heard bool
	t     int64   // of the last gyro sample
	least float64 // smallest cosine of the tilt since liftoff
}

// rest takes a specific force on the pad.
func (a *attitude) rest(f vector) {
	if math.Abs(f.norm()-standardGravity) > quiet {
		return
	}
	a.n = min(a.n+1, alignTime)
	if a.n == 1 {
		a.up = f.unit()
	}
	mean := a.up.plus(1/float64(a.n), f.unit().plus(-1, a.up))
	if mean.norm() < 1e-3 { // first samples that cancel have no mean
		a.n = 0
		return
	}
	a.up = mean.unit()
	a.known = a.known || a.n >= aligned && a.rates >= aligned
}

// turn takes a rate; still says that the rocket stands and the mean of the rates is the gyro's bias.
// The rotation is that of Cayley: exact in direction, short by a twelfth of the angle's cube.
func (a *attitude) turn(t int64, w vector, still bool) {
	dt := span(t - a.t)
	if a.heard && dt > gap && !still {
		a.known = false
	}
	if still {
		a.rates = min(a.rates+1, alignTime)
		a.bias = a.bias.plus(1/float64(a.rates), w.plus(-1, a.bias))
	}
	if a.heard && a.n > 0 && dt > 0 && dt <= gap {
		b := w.plus(-1, a.bias)
		b = vector{}.plus(dt/2, b)
		s := a.up.cross(b)
		s = a.up.plus(1, s).cross(b)
		a.up = a.up.plus(2/(1+b.dot(b)), s).unit()
	}
	a.t, a.heard = t, true
}

// latch keeps the greatest tilt.
func (a *attitude) latch(axis vector) { a.least = min(a.least, a.up.dot(axis)) }
