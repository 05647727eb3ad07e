package mock

import "math"

// The functions below use rounded products, divisions and square roots only, which give the same bits on every
// processor; functions of package math don't. Tests check them against package math.

// naturalLog gives the natural logarithm of x > 0, by the series of the inverse hyperbolic tangent.
func naturalLog(x float64) float64 {
	f, e := math.Frexp(x)
	if f < math.Sqrt2/2 {
		f, e = 2*f, e-1
	}
	s := (f - 1) / (f + 1)
	z, sum := float64(s*s), 0.0
	for _, part := range oddParts {
		sum = float64(sum*z) + part
	}
	return float64(2*s*sum) + float64(float64(e)*math.Ln2)
}

var oddParts = [...]float64{1. / 23, 1. / 21, 1. / 19, 1. / 17, 1. / 15, 1. / 13, 1. / 11, 1. / 9, 1. / 7, 1. / 5, 1. / 3, 1}

// exponential gives e to the power x for x between -3 and 1, by its power series.
func exponential(x float64) float64 {
	sum := 1.0
	for k := 26.0; k >= 1; k-- {
		sum = 1 + float64(x/k*sum)
	}
	return sum
}

// cosine gives the cosine of x between 0 and pi, by its power series.
func cosine(x float64) float64 {
	z, sum := float64(x*x), 1.0
	for k := 30; k >= 2; k -= 2 {
		sum = 1 - float64(z/float64(k*(k-1))*sum)
	}
	return sum
}

// vector is a vector in the axes of the board's inertial sensor.
type vector struct{ x, y, z float64 }

func (a vector) dot(b vector) float64 {
	return float64(a.x*b.x) + float64(a.y*b.y) + float64(a.z*b.z)
}

func (a vector) cross(b vector) vector {
	return vector{
		float64(a.y*b.z) - float64(a.z*b.y),
		float64(a.z*b.x) - float64(a.x*b.z),
		float64(a.x*b.y) - float64(a.y*b.x),
	}
}

// plus gives a + k b.
func (a vector) plus(k float64, b vector) vector {
	return vector{a.x + float64(k*b.x), a.y + float64(k*b.y), a.z + float64(k*b.z)}
}

func (a vector) norm() float64 { return math.Sqrt(a.dot(a)) }

// unit gives a scaled to length 1; a must not be zero.
func (a vector) unit() vector {
	n := a.norm()
	return vector{a.x / n, a.y / n, a.z / n}
}
