package geodesy

import (
	"math"

	"drystage/sim/plain"
	"drystage/sim/r3"
)

// Frame is a local Cartesian frame: X east, Y north, Z up from an origin. Make one with NewFrame.
type Frame struct {
	sin, cos  float64 // of the origin's latitude
	longitude float64 // rad
	x, z      float64 // m, the origin in earth-fixed axes turned to its meridian
	radius    float64 // m, Gauss' mean radius of the ellipsoid there, plus its height
}

// NewFrame gives the frame of an origin.
func NewFrame(origin Place) Frame {
	f := Frame{longitude: origin.Longitude}
	f.sin, f.cos = plain.Sincos(origin.Latitude)
	f.x, f.z = meridian(f.sin, f.cos, origin.Height)
	f.radius = equatorial*math.Sqrt(1-first2)/(1-float64(first2*float64(f.sin*f.sin))) + origin.Height
	return f
}

// OverGround gives the geodetic position of distances east and north over the ground at the origin's height, and of the
// height above it, on a sphere of the ellipsoid's mean radius at the origin. That height is right within 0.4 % of how
// far the ground falls off from the frame's plane: 3 cm at 10 km.
func (f *Frame) OverGround(at r3.Vec) Place {
	d := math.Sqrt(float64(at.X*at.X) + float64(at.Y*at.Y))
	sin, _ := plain.Sincos(d / f.radius)
	half, _ := plain.Sincos(d / (2 * f.radius))
	out := 1.0 // from the ground's distance to the plane's
	if d > 0 {
		out = (f.radius + at.Z) * sin / d
	}
	drop := 2 * float64(half*half) // 1 - cos
	return f.Place(r3.Vec{X: float64(out * at.X), Y: float64(out * at.Y), Z: at.Z - float64(drop*(f.radius+at.Z))})
}

// Place gives the geodetic position of a place in the frame. Its longitude is above -pi and at most pi.
func (f *Frame) Place(at r3.Vec) Place {
	v := f.turned(at)
	r := math.Sqrt(float64(v.X*v.X) + float64(v.Y*v.Y))
	p := Place{Longitude: wrap(f.longitude + plain.Atan2(v.Y, v.X))}
	p.Latitude, p.Height = above(r, v.Z)
	return p
}

// Local gives a geodetic position in the frame.
func (f *Frame) Local(p Place) r3.Vec {
	sin, cos := plain.Sincos(p.Latitude)
	east, prime := plain.Sincos(p.Longitude - f.longitude)
	r, z := meridian(sin, cos, p.Height)
	return f.local(r3.Vec{X: float64(r * prime), Y: float64(r * east), Z: z})
}

// ECEF gives the earth-fixed coordinates in m of a place in the frame.
func (f *Frame) ECEF(at r3.Vec) r3.Vec {
	s, c := plain.Sincos(f.longitude)
	v := f.turned(at)
	return r3.Vec{X: float64(c*v.X) - float64(s*v.Y), Y: float64(s*v.X) + float64(c*v.Y), Z: v.Z}
}

// FromECEF gives earth-fixed coordinates in m in the frame.
func (f *Frame) FromECEF(v r3.Vec) r3.Vec {
	s, c := plain.Sincos(f.longitude)
	return f.local(r3.Vec{X: float64(c*v.X) + float64(s*v.Y), Y: float64(c*v.Y) - float64(s*v.X), Z: v.Z})
}

// turned gives earth-fixed coordinates in axes turned to the origin's meridian: Y is east there.
func (f *Frame) turned(at r3.Vec) r3.Vec {
	return r3.Vec{
		X: f.x - float64(f.sin*at.Y) + float64(f.cos*at.Z),
		Y: at.X,
		Z: f.z + float64(f.cos*at.Y) + float64(f.sin*at.Z),
	}
}

// local is the inverse of turned.
func (f *Frame) local(v r3.Vec) r3.Vec {
	x, z := v.X-f.x, v.Z-f.z
	return r3.Vec{X: v.Y, Y: float64(f.cos*z) - float64(f.sin*x), Z: float64(f.cos*x) + float64(f.sin*z)}
}
