package flight

import (
	"math"

	"drystage/sim"
	"drystage/sim/plain"
	"drystage/sim/r3"

	"gonum.org/v1/gonum/num/quat"
)

// rail is the launch rail: it leaves the rocket one degree of freedom.
type rail struct {
	axis            r3.Vec // unit, world axes, the way up
	length          float64
	attitude        quat.Number
	friction        float64
	foreGuideTravel float64 // m of travel at which the fore guide leaves
	aftGuide        float64 // m from the nose to the aft guide
}

// newRail tilts the rocket straight towards the azimuth, from a vertical attitude in which its y axis points
// west and its z axis south.
func newRail(r *sim.Rail) rail {
	sinTilt, cosTilt := plain.Sincos(r.Tilt)
	sinAz, cosAz := plain.Sincos(r.Azimuth)
	sinHalf, cosHalf := plain.Sincos(r.Tilt / 2)
	upright := quat.Number{Real: 0.5, Imag: 0.5, Jmag: -0.5, Kmag: 0.5}
	lean := quat.Number{Real: cosHalf, Imag: -cosAz * sinHalf, Jmag: sinAz * sinHalf}
	return rail{
		axis:            r3.Vec{X: sinTilt * sinAz, Y: sinTilt * cosAz, Z: cosTilt},
		length:          r.Length,
		attitude:        quatProduct(lean, upright),
		friction:        r.Friction,
		foreGuideTravel: max(0, r.Length-max(0, r.Guides[1]-r.Guides[0])),
		aftGuide:        r.Guides[1],
	}
}

// constrain gives the acceleration of a body on the rail, in world axes: the component along the rail, less
// friction, which is a share of the component that the rail takes. up is the speed along the rail.
func (r *rail) constrain(acceleration r3.Vec, up float64) r3.Vec {
	along := dot(acceleration, r.axis)
	if r.friction > 0 {
		across := plus(acceleration, scaled(-along, r.axis))
		brake := float64(r.friction * math.Sqrt(dot(across, across)))
		if up < 0 {
			brake = -brake
		}
		along -= brake
	}
	return scaled(along, r.axis)
}

// constrainToAftGuide changes the derivative k of a body whose fore guide has left the rail. The aft guide
// keeps one point of the body on the rail's line; the body can move along the rail and turn about that point.
// The guide's force N is normal to the rail. It gives the point the acceleration D N, with D diagonal in body
// axes (1/m along, 1/m + l^2/I across). Together with the point's acceleration a without the guide, the result
// must be along the rail n: a + D N = c n, N n = 0.
func (b *body) constrainToAftGuide(y, k *vector) {
	fl := &b.flow
	l := b.rail.aftGuide - fl.cg
	n := fl.rotation.toBody(b.rail.axis)
	p, q, r := y[10], y[11], y[12]
	a := fl.rotation.toBody(k.vec(atVelocity))
	a.X += float64(l * (float64(q*q) + float64(r*r)))
	a.Y -= float64(l * (k[12] + float64(p*q)))
	a.Z += float64(l * (k[11] - float64(p*r)))
	side := 1 / (1/fl.mass + float64(l*l)/fl.transverse)
	timesMass := func(v r3.Vec) r3.Vec {
		return r3.Vec{X: float64(v.X * fl.mass), Y: float64(v.Y * side), Z: float64(v.Z * side)}
	}
	c := dot(n, timesMass(a)) / dot(n, timesMass(n))
	force := timesMass(plus(scaled(c, n), scaled(-1, a)))
	k[10] = 0
	k[11] += float64(l*force.Z) / fl.transverse
	k[12] -= float64(l*force.Y) / fl.transverse
	force = plus(force, scaled(-b.rail.friction*math.Sqrt(dot(force, force)), n))
	felt := scaled(1/fl.mass, force)
	fl.force = plus(fl.force, felt)
	k.setVec(atVelocity, plus(k.vec(atVelocity), fl.rotation.toWorld(felt)))
}

// liftoffExcess is the acceleration along the rail that a body on the pad would have without the pad, s seconds
// after the step's start. Above zero it lifts off.
func (b *body) liftoffExcess(s float64) float64 {
	var k vector
	b.mode = onRail
	b.derivative(s, &b.y, &k)
	b.mode = onPad
	return dot(k.vec(atVelocity), b.rail.axis)
}
