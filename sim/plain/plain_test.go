package plain

import (
	"fmt"
	"math"
	"math/big"
	"testing"

	"github.com/stretchr/testify/assert"
)

// grid calls f with 100,001 arguments from low to high, the same ones on every processor.
func grid(low, high float64, f func(x float64)) {
	const n = 100_000
	for i := range n + 1 {
		f(low + float64((high-low)*float64(i))/n)
	}
}

// ulps gives the distance of got from want in units of want's last place.
func ulps(got, want float64) float64 {
	if got == want {
		return 0
	}
	return math.Abs(got-want) / (math.Nextafter(math.Abs(want), math.Inf(1)) - math.Abs(want))
}

func sin(x float64) float64 { s, _ := Sincos(x); return s }
func cos(x float64) float64 { _, c := Sincos(x); return c }

// direction hands a function of (y, x) the points of a circle, given by their angle.
func direction(f func(y, x float64) float64) func(angle float64) float64 {
	return func(angle float64) float64 { return f(3*math.Sin(angle), 3*math.Cos(angle)) }
}

// ofPower hands a function of x the powers of e, so that all sizes come up alike.
func ofPower(f func(float64) float64) func(float64) float64 {
	return func(x float64) float64 { return f(math.Exp(x)) }
}

func TestErrorAgainstPackageMath(t *testing.T) {
	for _, r := range []struct {
		reason    string
		low, high float64
		ours, std func(float64) float64
		ulp, tiny float64 // either will do
	}{
		{"exp, its whole range", -700, 700, Exp, math.Exp, 2, 0},
		{"exp, pressure ratios and densities of noise", -40, 5, Exp, math.Exp, 2, 0},
		{"exp, around 0", -1, 1, Exp, math.Exp, 2, 0},
		{"log, its whole range", -700, 700, ofPower(Log), ofPower(math.Log), 3, 0},
		{"log, temperature ratios", -1, 1, ofPower(Log), ofPower(math.Log), 3, 0},
		{"log, close to 1", 0.999, 1.001, Log, math.Log, 3, 0},
		{"sine, turns of a body", -10, 10, sin, math.Sin, 1, 1e-21},
		{"sine, its whole range", -1e5, 1e5, sin, math.Sin, 1, 1e-21},
		{"sine, its zeros", -50_000 * math.Pi / 2, 50_000 * math.Pi / 2, sin, math.Sin, 1, 1e-21},
		{"cosine, turns of a body", -10, 10, cos, math.Cos, 1, 1e-21},
		{"cosine, its whole range", -1e5, 1e5, cos, math.Cos, 1, 1e-21},
		{"cosine, its zeros", -50_000 * math.Pi / 2, 50_000 * math.Pi / 2, cos, math.Cos, 1, 1e-21},
		{"angle, all around", -math.Pi, math.Pi, direction(Atan2), direction(math.Atan2), 2, 0},
		{"angle, close to the x axis", -1e-6, 1e-6, direction(Atan2), direction(math.Atan2), 2, 0},
		{"angle, small sides", 0, 1e-290, func(x float64) float64 { return Atan2(x, 1e-290) }, func(x float64) float64 { return math.Atan2(x, 1e-290) }, 2, 0},
		{"angle, large sides", 0, 1e300, func(x float64) float64 { return Atan2(x, -1e300) }, func(x float64) float64 { return math.Atan2(x, -1e300) }, 2, 0},
	} {
		worst, where := 0.0, 0.0
		grid(r.low, r.high, func(x float64) {
			got, want := r.ours(x), r.std(x)
			if off := ulps(got, want); math.IsNaN(off) || off > worst && math.Abs(got-want) > r.tiny {
				worst, where = off, x
			}
		})
		assert.LessOrEqual(t, worst, r.ulp, "%s: at %v", r.reason, where)
	}
}

// power128 gives x^128 by math/big, rounded once: math.Pow multiplies and rounds each time.
func power128(x, _ float64) float64 {
	p := big.NewFloat(x).SetPrec(300)
	for range 7 {
		p.Mul(p, p)
	}
	want, _ := p.Float64()
	return want
}

func TestErrorOfPow(t *testing.T) {
	for _, r := range []struct {
		reason    string
		low, high float64 // of the base
		exponent  float64
		std       func(x, y float64) float64
	}{
		{"wind power law", 0.001, 2000, 0.143, math.Pow},
		{"pressure by temperature", 0.5, 2, 5.2558, math.Pow},
		{"inverse", 1e-6, 1e6, -1, math.Pow},
		{"large exponent, around 1", 0.99, 1.01, 128, power128},
		{"large exponent, its whole range", 0.01, 100, 128, power128},
	} {
		worst, where := 0.0, 0.0 // in parts of what is allowed
		grid(r.low, r.high, func(x float64) {
			allowed := 3 + 7*math.Abs(r.exponent*math.Log(x))
			if off := ulps(Pow(x, r.exponent), r.std(x, r.exponent)) / allowed; !(off <= worst) {
				worst, where = off, x
			}
		})
		assert.LessOrEqual(t, worst, 1.0, "%s: at %v", r.reason, where)
	}
}

func TestExactValues(t *testing.T) {
	for _, r := range []struct {
		reason    string
		got, want float64
	}{
		{"e^0", Exp(0), 1},
		{"ln 1", Log(1), 0},
		{"the least number there is", Log(0x1p-1074), -1074 * math.Ln2},
		{"any power of 1", Pow(1, 123), 1},
		{"sine of 0", sin(0), 0},
		{"cosine of 0", cos(0), 1},
		{"a quarter turn", sin(math.Pi / 2), 1},
		{"no direction at all", Atan2(0, 0), 0},
		{"no direction, all signs", Atan2(0, math.Copysign(0, -1)), 0},
		{"backwards", Atan2(0, -1), math.Pi},
		{"backwards from below", Atan2(math.Copysign(0, -1), -1), -math.Pi},
		{"straight down", Atan2(-2, 0), -math.Pi / 2},
	} {
		assert.Equal(t, r.want, r.got, r.reason)
	}
}

func TestOutOfRangeNeverPanics(t *testing.T) {
	odd := []float64{math.NaN(), math.Inf(1), math.Inf(-1), math.MaxFloat64, -math.MaxFloat64, 5e-324, 0, math.Copysign(0, -1), -1}
	for _, x := range odd {
		for _, y := range odd {
			assert.NotPanics(t, func() { Exp(x); Log(x); Sincos(x); Atan2(y, x); Pow(x, y) }, "%v %v", x, y)
		}
		assert.True(t, math.IsNaN(Atan2(x, math.NaN())) && math.IsNaN(Atan2(math.NaN(), x)), "%v", x)
	}
}

// Records of all processors rest on these bits. They change only with a function, on purpose.
func TestBitsArePinned(t *testing.T) {
	for _, r := range []struct {
		name      string
		low, high float64
		f         func(float64) float64
		want      string
	}{
		{"Exp", -700, 700, Exp, "41120e7f321ac67a"},
		{"Log", 1e-6, 50, Log, "0938a136d7068e2e"},
		{"Pow", 0.001, 300, func(x float64) float64 { return Pow(x, 0.143) }, "d4487605d92c6be3"},
		{"sine", -1e5, 1e5, sin, "33bf3318f2b5f9f8"},
		{"cosine", -10, 10, cos, "863d66327db0acfe"},
		{"Atan2", -10, 10, func(x float64) float64 { return Atan2(x, 3-x) }, "61b9c8d1a8b68be7"},
	} {
		sum := uint64(0)
		grid(r.low, r.high, func(x float64) { sum = sum*31 + math.Float64bits(r.f(x)) })
		assert.Equal(t, r.want, fmt.Sprintf("%016x", sum), r.name)
	}
}

var sink float64

func BenchmarkPlain(b *testing.B) {
	for _, r := range []struct {
		name string
		f    func(float64) float64
	}{
		{"Exp", Exp},
		{"Log", Log},
		{"Sincos", sin},
		{"Atan2", func(x float64) float64 { return Atan2(x, 3) }},
	} {
		b.Run(r.name, func(b *testing.B) {
			for x := 0.1; b.Loop(); x = math.Mod(x+1.0/64, 6) + 0.1 {
				sink = r.f(x)
			}
		})
	}
}

func TestDecay(t *testing.T) {
	for _, c := range []struct{ t, tau, want float64 }{{0, 1, 1}, {3, 3, math.Exp(-1)}, {1, 0.01, math.Exp(-100)}, {699, 1, math.Exp(-699)}, {700, 1, 0}, {1, 5e-324, 0}, {1e300, 1e-300, 0}, {0, 5e-324, 1}} {
		assert.InEpsilon(t, 1+c.want, 1+Decay(c.t, c.tau), 1e-15, "%v / %v", c.t, c.tau)
	}
}

func TestSincosTurns(t *testing.T) {
	for i := range 200_001 {
		turns := (float64(i) - 100_000) * 1.00037e-4
		sin, cos := SincosTurns(turns)
		assert.InDelta(t, math.Sin(2*math.Pi*turns), sin, 1e-10, "%v turns", turns)
		assert.InDelta(t, math.Cos(2*math.Pi*turns), cos, 1e-10, "%v turns", turns)
	}
	for _, c := range []struct{ turns, sin, cos float64 }{{0, 0, 1}, {0.25, 1, 0}, {0.5, 0, -1}, {0.75, -1, 0}, {1e6 + 0.25, 1, 0}, {-0.25, -1, 0}} {
		sin, cos := SincosTurns(c.turns)
		assert.Equal(t, [2]float64{c.sin, c.cos}, [2]float64{sin + 0, cos + 0}, "%v turns", c.turns)
	}
	sin, cos := SincosTurns(math.NaN())
	assert.True(t, math.IsNaN(sin) && math.IsNaN(cos))
}
