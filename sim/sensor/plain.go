package sensor

import "math"

// Sine, cosine and arc tangent of package math may be fused or in assembly on some processors and
// differ there in the last digit. These are plain series: equal bits everywhere.

// sincos is good to 1e-15 for x in [-2 pi, 2 pi]: Taylor series at a quarter of x, doubled twice.
func sincos(x float64) (sin, cos float64) {
	r := x / 4
	r2, s, c := float64(r*r), 1.0, 1.0
	for n := 20.0; n >= 2; n -= 2 {
		s = 1 - float64(r2*s)/(n*(n+1))
		c = 1 - float64(r2*c)/(n*(n-1))
	}
	s = float64(s * r)
	for range 2 {
		s, c = float64(2*s*c), 1-float64(2*float64(s*s))
	}
	return s, c
}

// atan2 gives the angle of (x, y), good to 1e-15: the half angle by geometry, halved twice more, then
// the series of the arc tangent.
func atan2(y, x float64) float64 {
	if x < 0 {
		return math.Copysign(math.Pi, y) - atan2(y, -x)
	}
	r := math.Sqrt(float64(x*x) + float64(y*y))
	if r == 0 {
		return 0
	}
	t := y / (r + x)
	for range 2 {
		t /= 1 + math.Sqrt(1+float64(t*t))
	}
	t2, sum := float64(t*t), 0.0
	for n := 25.0; n > 0; n -= 2 {
		sum = 1/n - float64(t2*sum)
	}
	return float64(8 * float64(t*sum))
}
