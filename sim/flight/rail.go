package flight

import (
	"drystage/sim"
	"drystage/sim/plain"

	"gonum.org/v1/gonum/num/quat"
	"gonum.org/v1/gonum/spatial/r3"
)

// rail is the launch rail: the rocket hangs on it by one degree of freedom.
type rail struct {
	along    r3.Vec // unit, world axes, the way up
	length   float64
	attitude quat.Number
}

// newRail leans the rocket from upright, where its y axis points west and its z axis south, straight
// towards the azimuth.
func newRail(r *sim.Rail) rail {
	sinTilt, cosTilt := plain.Sincos(r.Tilt)
	sinAz, cosAz := plain.Sincos(r.Azimuth)
	sinHalf, cosHalf := plain.Sincos(r.Tilt / 2)
	upright := quat.Number{Real: 0.5, Imag: 0.5, Jmag: -0.5, Kmag: 0.5}
	lean := quat.Number{Real: cosHalf, Imag: -cosAz * sinHalf, Jmag: sinAz * sinHalf}
	return rail{
		along:    r3.Vec{X: sinTilt * sinAz, Y: sinTilt * cosAz, Z: cosTilt},
		length:   r.Length,
		attitude: times(lean, upright),
	}
}

// grip changes the forces on a body that hangs on the rail: only what acts along the rail moves it,
// the rail takes the rest. It gives the acceleration in world axes.
func (r *rail) grip(acceleration r3.Vec) r3.Vec {
	return scaled(dot(acceleration, r.along), r.along)
}

// excess is the acceleration along the rail that a body on the pad would have, s seconds after the
// step's start: above zero it lifts off.
func (b *body) excess(s float64) float64 {
	var k vector
	b.mode = onRail
	b.slope(s, &b.y, &k)
	b.mode = onPad
	return dot(k.vec(atVelocity), b.rail.along)
}
