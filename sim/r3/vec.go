// Package r3 is vectors of three dimensions. It has what the product needs, under the names of gonum's package of this
// name, which brings packages for matrices of any size with it: a tenth of the program.
package r3

import "math"

// Vec is a vector.
type Vec struct{ X, Y, Z float64 }

// Add gives p + q.
func Add(p, q Vec) Vec { return Vec{p.X + q.X, p.Y + q.Y, p.Z + q.Z} }

// Sub gives p - q.
func Sub(p, q Vec) Vec { return Vec{p.X - q.X, p.Y - q.Y, p.Z - q.Z} }

// Scale gives f p.
func Scale(f float64, p Vec) Vec { return Vec{float64(f * p.X), float64(f * p.Y), float64(f * p.Z)} }

// Dot gives the scalar product.
func Dot(p, q Vec) float64 { return float64(p.X*q.X) + float64(p.Y*q.Y) + float64(p.Z*q.Z) }

// Cross gives the vector product.
func Cross(p, q Vec) Vec {
	return Vec{
		float64(p.Y*q.Z) - float64(p.Z*q.Y),
		float64(p.Z*q.X) - float64(p.X*q.Z),
		float64(p.X*q.Y) - float64(p.Y*q.X),
	}
}

// Norm gives the length. Its last bits may differ between processors, as those of math.Hypot.
func Norm(p Vec) float64 { return math.Hypot(p.X, math.Hypot(p.Y, p.Z)) }

// Unit gives the vector of length 1 in the same direction; for the zero vector NaN.
func Unit(p Vec) Vec {
	n := Norm(p)
	if n == 0 {
		return Vec{math.NaN(), math.NaN(), math.NaN()}
	}
	return Scale(1/n, p)
}
