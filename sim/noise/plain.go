package noise

import "math"

// math.Exp and math.Log are written in assembly on some processors and differ there in the last
// digit. The two below are plain series without fused operations: equal bits everywhere.

// exp gives e^x for x in [-700, 700] to about 1e-15 of its value: x = k ln 2 + r, Taylor series in r.
func exp(x float64) float64 {
	k := math.Floor(x/math.Ln2 + 0.5)
	const high, low = 0x1.62e42feep-1, 0x1.a39ef35793c76p-33 // ln 2 in two parts; k*high is exact
	r := x - float64(k*high)
	r -= float64(k * low)
	sum := 1.0
	for n := 17.0; n > 0; n-- {
		sum = 1 + float64(sum*r)/n
	}
	return math.Ldexp(sum, int(k))
}

// ln gives the natural logarithm of x > 0 to about 1e-15 of its value or 1e-16: x = 2^k m, and
// ln m = 2 artanh((m-1)/(m+1)) as a series.
func ln(x float64) float64 {
	m, k := math.Frexp(x)
	if m < math.Sqrt2/2 {
		m, k = 2*m, k-1
	}
	t := (m - 1) / (m + 1)
	t2, sum := t*t, 0.0
	for n := 25.0; n > 0; n -= 2 {
		sum = float64(sum*t2) + 1/n
	}
	return float64(float64(k)*math.Ln2) + float64(2*t*sum)
}
