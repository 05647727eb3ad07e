package flight

import "math"

// The elementary functions below are plain Go with every product rounded, so that they give the same
// bits on every processor; those of package math may use assembly. Each states its error against
// package math, which a test checks.

const (
	ln2Hi = 6.93147180369123816490e-01 // ln 2 with 32 trailing zero bits
	ln2Lo = 1.90821492927058770002e-10
)

// exp gives e to the x for |x| below 700, within 2e-15 of the value.
func exp(x float64) float64 {
	k := math.Floor(float64(x/math.Ln2) + 0.5)
	r := x - float64(k*ln2Hi) - float64(k*ln2Lo)
	sum := 1.0
	for i := 14; i >= 1; i-- {
		sum = 1 + float64(float64(sum*r)/float64(i))
	}
	return math.Ldexp(sum, int(k))
}

// log gives the natural logarithm of a positive x, within 1e-15 of max(1, its size).
func log(x float64) float64 {
	m, k := math.Frexp(x)
	if m < math.Sqrt2/2 {
		m, k = 2*m, k-1
	}
	s := (m - 1) / (m + 1)
	s2 := float64(s * s)
	sum := 0.0
	for i := 23; i >= 1; i -= 2 {
		sum = float64(sum*s2) + 1/float64(i)
	}
	return float64(float64(k)*ln2Hi) + (float64(2*s*sum) + float64(float64(k)*ln2Lo))
}

// pow gives x to the y for a positive x, within 1e-14 of the value for moderate y log x.
func pow(x, y float64) float64 { return exp(float64(y * log(x))) }

const (
	halfPiHi = 1.57079632673412561417e+00 // pi/2 with 32 trailing zero bits
	halfPiLo = 6.07710050650619224932e-11
)

// sincos gives sine and cosine for |x| below 1e5, within 1e-11 there and 1e-15 below 10.
func sincos(x float64) (sin, cos float64) {
	k := math.Floor(float64(x*(2/math.Pi)) + 0.5)
	r := x - float64(k*halfPiHi) - float64(k*halfPiLo)
	r2 := float64(r * r)
	s, c := 1.0, 1.0
	for i := 18; i >= 2; i -= 2 {
		s = 1 - float64(float64(r2*s)/float64(i*(i+1)))
		c = 1 - float64(float64(r2*c)/float64(i*(i-1)))
	}
	s = float64(s * r)
	switch int64(k) & 3 {
	case 1:
		return c, -s
	case 2:
		return -s, -c
	case 3:
		return -c, s
	}
	return s, c
}

// atanEighths holds atan(k/8).
var atanEighths = [9]float64{
	0, 0.12435499454676143503, 0.24497866312686415417, 0.35877067027057222040, 0.46364760900080611621,
	0.55859931534356243597, 0.64350110879328438680, 0.71882999962162450542, 0.78539816339744830962,
}

// atan2 gives the angle of (x, y) for y >= 0, from 0 to pi, within 5e-16; atan2(0, 0) is 0.
func atan2(y, x float64) float64 {
	ax := math.Abs(x)
	var a float64
	switch {
	case y == 0 && ax == 0:
		return 0
	case y <= ax:
		a = atanBelow1(y, ax)
	default:
		a = math.Pi/2 - atanBelow1(ax, y)
	}
	if x < 0 {
		return math.Pi - a
	}
	return a
}

// atanBelow1 gives atan(y/x) for 0 <= y <= x.
func atanBelow1(y, x float64) float64 {
	k := int(float64(8*(y/x)) + 0.5)
	c := float64(k) / 8
	t := (y - float64(c*x)) / (x + float64(c*y))
	t2 := float64(t * t)
	p := 1.0 / 13
	p = 1.0/11 - float64(p*t2)
	p = 1.0/9 - float64(p*t2)
	p = 1.0/7 - float64(p*t2)
	p = 1.0/5 - float64(p*t2)
	p = 1.0/3 - float64(p*t2)
	p = 1 - float64(p*t2)
	return atanEighths[k] + float64(t*p)
}

// sixteenths gives x to the power 3/16 for x >= 0, by square roots only.
func sixteenths(x float64) float64 {
	eighth := math.Sqrt(math.Sqrt(math.Sqrt(x)))
	return eighth * math.Sqrt(eighth)
}
