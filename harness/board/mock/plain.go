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
	z := float64(s * s)
	z2 := float64(z * z)
	z4 := float64(z2 * z2)
	sum := joined(z, z2, quadratic(z4, 1./17, 1./9, 1), quadratic(z4, 1./19, 1./11, 1./3), quadratic(z4, 1./21, 1./13, 1./5), quadratic(z4, 1./23, 1./15, 1./7))
	return float64(2*s*sum) + float64(float64(e)*math.Ln2)
}

// exponential gives e to the power x for x between -3 and 1: the fourth power of the power series at x/4.
func exponential(x float64) float64 {
	y := x / 4
	y2 := float64(y * y)
	y4 := float64(y2 * y2)
	r := joined(y, y2, cubic(y4, 1./479001600, 1./40320, 1./24, 1), cubic(y4, 1./6227020800, 1./362880, 1./120, 1),
		cubic(y4, 1./87178291200, 1./3628800, 1./720, 1./2), cubic(y4, 1./1307674368000, 1./39916800, 1./5040, 1./6))
	r = float64(r * r)
	return float64(r * r)
}

// A long series is four short ones, of every fourth term, which a processor can compute at the same time.

// joined gives a + b x + c x2 + d x x2, where x2 is the square of x.
func joined(x, x2, a, b, c, d float64) float64 {
	return (a + float64(x*b)) + float64(x2*(c+float64(x*d)))
}

// quadratic gives a x2 + b x + c.
func quadratic(x, a, b, c float64) float64 { return float64((float64(a*x)+b)*x) + c }

// cubic gives a x3 + b x2 + c x + d.
func cubic(x, a, b, c, d float64) float64 { return float64(quadratic(x, a, b, c)*x) + d }

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
