// Package plain gives elementary functions with the same bits on every processor, for everything that goes into a
// record. Package math has assembly on some processors, with other last digits, and a compiler may fuse a product
// with a sum. Here all functions are plain series, and a product in a sum is rounded first, as float64(x*y).
//
// Each function states its range and its error in ulp (units in the last place) against package math, and a test
// checks it. Outside its range the value is undefined. The functions never panic, don't allocate and keep no
// state; they only call functions of package math that are exact.
package plain

import "math"

// ln 2 in two parts: a product of the first with an integer below 2^20 is exact.
const (
	ln2High = 6.93147180369123816490e-01
	ln2Low  = 1.90821492927058770002e-10
)

// Exp gives e^x for x in [-700, 700], within 2 ulp: x = k ln 2 + r, Taylor series in r.
func Exp(x float64) float64 {
	k := math.Floor(float64(x/math.Ln2) + 0.5)
	r := x - float64(k*ln2High) - float64(k*ln2Low)
	sum := 1.0
	for i := 14; i >= 1; i-- {
		sum = 1 + float64(float64(sum*r)/float64(i))
	}
	return math.Ldexp(sum, int(k))
}

// Decay gives e^(-t/tau), what is left of a decay with time constant tau > 0 after t >= 0, within 2 ulp;
// 0 after 700 tau.
func Decay(t, tau float64) float64 {
	if x := t / tau; x < 700 {
		return Exp(-x)
	}
	return 0
}

// Log gives the natural logarithm of a positive, finite x, within 3 ulp: x = 2^k m, and
// ln m = 2 artanh((m-1)/(m+1)) as a series.
func Log(x float64) float64 {
	m, k := math.Frexp(x)
	if m < math.Sqrt2/2 {
		m, k = float64(2*m), k-1
	}
	t := (m - 1) / (m + 1)
	t2, sum := float64(t*t), 0.0
	for n := 25.0; n > 0; n -= 2 {
		sum = float64(sum*t2) + 1/n
	}
	return float64(float64(k)*math.Ln2) + float64(2*t*sum)
}

// Pow gives x^y for a positive, finite x and y ln x in [-700, 700], within 3 + 7 |y ln x| ulp:
// the product carries the error of the logarithm.
func Pow(x, y float64) float64 { return Exp(float64(y * Log(x))) }
