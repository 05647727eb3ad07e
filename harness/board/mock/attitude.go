package mock

import "math"

// standardGravity is 9.80665 m/s2, ISO 80000-3.
const standardGravity = 9.80665

const (
	restBand        = 1.5  // m/s2 from 1 g: below it the rocket stands still
	alignSamples    = 400  // samples in the mean on the pad
	minAlignSamples = 40   // samples before the mean is used
	gyroGap         = 0.05 // s without gyro samples after which the attitude is lost
)

// attitude is the direction of up in the inertial sensor's axes: on the pad from gravity, in flight from the gyro
// alone.
type attitude struct {
	up            vector
	bias          vector // rad/s, of the gyro
	known         bool
	n             int     // samples in the mean on the pad
	rates         int     // the same for the bias
	t             int64   // of the last gyro sample
	minTiltCosine float64 // smallest cosine of the tilt since liftoff
}

// atRest says that a specific force is that of a rocket that stands still.
func atRest(f vector) bool { return math.Abs(f.norm()-standardGravity) <= restBand }

// alignOnPad averages the specific force on the pad.
func (a *attitude) alignOnPad(f vector) {
	if !atRest(f) {
		return
	}
	a.n = min(a.n+1, alignSamples)
	mean := a.up.plus(1/float64(a.n), f.unit().plus(-1, a.up))
	if mean.norm() < 1e-3 { // the first samples cancel each other
		a.n = 0
		return
	}
	a.up = mean.unit()
	a.known = a.known || a.n >= minAlignSamples && a.rates >= minAlignSamples
}

// rotate takes a rate; still says that the rocket stands still, so that the mean of the rates is the gyro's bias.
// The rotation is Cayley's: exact in direction, too small by a twelfth of the angle's cube.
func (a *attitude) rotate(t int64, w vector, still bool) {
	dt := span(t - a.t)
	if dt > gyroGap && !still {
		a.known = false
	}
	if still {
		a.rates = min(a.rates+1, alignSamples)
		a.bias = a.bias.plus(1/float64(a.rates), w.plus(-1, a.bias))
	}
	if a.n > 0 && dt > 0 && dt <= gyroGap {
		b := w.plus(-1, a.bias)
		b = vector{}.plus(dt/2, b)
		s := a.up.cross(b)
		s = a.up.plus(1, s).cross(b)
		a.up = a.up.plus(2/(1+b.dot(b)), s).unit()
	}
	a.t = t
}

// keepMaxTilt keeps the greatest tilt.
func (a *attitude) keepMaxTilt(axis vector) { a.minTiltCosine = min(a.minTiltCosine, a.up.dot(axis)) }
