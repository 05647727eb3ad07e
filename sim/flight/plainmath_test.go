package flight

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
)

func TestPlainMathAgreesWithPackageMath(t *testing.T) {
	rows := []struct {
		reason    string
		low, high float64
		ours, std func(float64) float64
		within    float64 // of max(1, size)
	}{
		{"pressure ratios", -40, 5, exp, math.Exp, 2e-15},
		{"temperature ratios", 1e-6, 1e6, log, math.Log, 1e-15},
		{"wind power law", 0.001, 2000, func(x float64) float64 { return pow(x, 0.143) }, func(x float64) float64 { return math.Pow(x, 0.143) }, 1e-14},
		{"sine of angles", -10, 10, func(x float64) float64 { s, _ := sincos(x); return s }, math.Sin, 1e-15},
		{"cosine of angles", -10, 10, func(x float64) float64 { _, c := sincos(x); return c }, math.Cos, 1e-15},
		{"sine of large angles", -1e5, 1e5, func(x float64) float64 { s, _ := sincos(x); return s }, math.Sin, 1e-11},
		{"tilt and angle of attack", -math.Pi, math.Pi, func(x float64) float64 { return atan2(math.Abs(math.Sin(x)), math.Cos(x)) },
			func(x float64) float64 { return math.Atan2(math.Abs(math.Sin(x)), math.Cos(x)) }, 5e-16},
		{"step control", 0, 1e6, sixteenths, func(x float64) float64 { return math.Pow(x, 3.0/16) }, 1e-14},
	}
	for _, r := range rows {
		const n = 20000
		worst := 0.0
		for i := 0; i <= n; i++ {
			x := r.low + (r.high-r.low)*float64(i)/n
			want := r.std(x)
			worst = max(worst, math.Abs(r.ours(x)-want)/max(1, math.Abs(want)))
		}
		assert.LessOrEqual(t, worst, r.within, r.reason)
	}
	assert.Zero(t, atan2(0, 0), "no motion through the air has no angle of attack")
	assert.Equal(t, math.Pi, atan2(0, -1), "falling tail first")
}
