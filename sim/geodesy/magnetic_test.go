package geodesy

import (
	"math"
	"testing"

	"drystage/sim/published"
	"drystage/sim/r3"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// The source of the values stands in the file's first lines.
func TestMagneticField(t *testing.T) {
	rows, err := published.Numbers("../../testdata/wmm2025.csv", 10)
	require.NoError(t, err)
	for _, x := range rows {
		got := r3.Scale(1e9, MagneticField(Place{x[1] * degree, x[2] * degree, x[0] * 1000}))
		want := r3.Vec{X: x[4], Y: x[3], Z: -x[5]}
		assert.Less(t, r3.Norm(r3.Sub(want, got)), 1e-3, "nT, %v: %v", x, got)
	}
}

// Near a pole nothing jumps, whatever the longitude.
func TestMagneticFieldAtThePole(t *testing.T) {
	level := func(longitude float64) (x, y, z float64) { // of the field along the meridian 0 and across it
		b := MagneticField(Place{math.Pi / 2, longitude, 0})
		sin, cos := math.Sincos(longitude)
		return b.X*cos - b.Y*sin, b.X*sin + b.Y*cos, b.Z
	}
	x, y, z := level(0)
	for _, longitude := range []float64{1, 2, 3, -2} {
		u, v, w := level(longitude)
		assert.InDelta(t, x, u, 1e-11, "T")
		assert.InDelta(t, y, v, 1e-11, "T")
		assert.InDelta(t, z, w, 1e-11, "T")
	}
}
