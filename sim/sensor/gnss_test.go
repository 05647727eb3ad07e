package sensor

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/spatial/r3"
	"pgregory.net/rapid"

	"drystage/sim"
)

const degree = math.Pi / 180

// ecef is the closed form of the way back: geodetic to earth-fixed coordinates.
func ecef(lat, lon, h float64) r3.Vec {
	s, c := math.Sincos(lat)
	n := earthA / math.Sqrt(1-earthE2*s*s)
	return r3.Vec{X: (n + h) * c * math.Cos(lon), Y: (n + h) * c * math.Sin(lon), Z: (n*(1-earthE2) + h) * s}
}

// local gives a place in the east, north, up frame of an origin, by earth-fixed coordinates.
func local(lat0, lon0, h0, lat, lon, h float64) r3.Vec {
	d := r3.Sub(ecef(lat, lon, h), ecef(lat0, lon0, h0))
	s, c := math.Sincos(lat0)
	sl, cl := math.Sincos(lon0)
	return r3.Vec{
		X: -sl*d.X + cl*d.Y,
		Y: -s*cl*d.X - s*sl*d.Y + c*d.Z,
		Z: c*cl*d.X + c*sl*d.Y + s*d.Z,
	}
}

// The test's own way to earth-fixed coordinates, against published and independent values.
func TestEarthFixedCoordinates(t *testing.T) {
	for _, c := range []struct {
		lat, lon, h float64
		want        r3.Vec
		source      string
	}{
		{33.3, 44.4, 6000, r3.Vec{X: 3816209.60, Y: 3737108.55, Z: 3485109.57}, "GeographicLib, manual page of CartConvert(1)"},
		{35.347, -117.808, 621, r3.Vec{X: -2429937.879072, Y: -4607227.894810, Z: 3669694.408349}, "run of GeographicLib 2.1.2 CartConvert"},
		{45, 45, 1000, r3.Vec{X: 3194919.145061, Y: 3194919.145061, Z: 4488055.515647}, "run of GeographicLib 2.1.2 CartConvert"},
	} {
		got := ecef(c.lat*degree, c.lon*degree, c.h)
		assert.InDelta(t, 0, r3.Norm(r3.Sub(c.want, got)), 0.01, c.source)
	}
}

func TestGeodetic(t *testing.T) {
	for _, c := range []struct {
		lat0, lon0, h0 float64
		at             r3.Vec
		lat, lon, h    float64
		within         float64 // m, from the digits of the source
		source         string
	}{
		{35.347, -117.808, 621, r3.Vec{X: 1000, Y: 2000, Z: 3000}, 35.3650158442, -117.7970028281575, 3621.39270515, 2e-5, "run of GeographicLib 2.1.2 CartConvert -r -l"},
		{33, 44, 20, r3.Vec{X: 37288.97, Y: 33374.29, Z: 5783.64}, 33.3, 44.4, 6000, 0.02, "GeographicLib, manual page of CartConvert(1)"},
		{33, 44, 20, r3.Vec{X: 37288.973197, Y: 33374.294947, Z: 5783.646616}, 33.3, 44.4, 6000, 2e-6, "run of GeographicLib 2.1.2 CartConvert"},
		{47, 8, 450, r3.Vec{}, 47, 8, 450, 1e-8, "the pad itself"},
		{-47, 8, 450, r3.Vec{Z: 1e4}, -47, 8, 10450, 1e-8, "straight up, south of the equator"},
		{0, 0, 0, r3.Vec{Z: 5}, 0, 0, 5, 1e-8, "equator and prime meridian"},
	} {
		s := newSite(c.lat0*degree, c.lon0*degree, c.h0)
		lat, lon, h := s.geodetic(c.at.X, c.at.Y, c.at.Z)
		assert.InDelta(t, c.lat*degree, lat, c.within/6.35e6, c.source)
		assert.InDelta(t, c.lon*degree, lon, c.within/5e6, c.source)
		assert.InDelta(t, c.h, h, c.within, c.source)
	}
}

// There and back by closed forms: a micrometre within 100 km, anywhere but near the poles.
func TestGeodeticAndBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		lat0 := rapid.Float64Range(-1.5, 1.5).Draw(t, "lat0")
		lon0 := rapid.Float64Range(-math.Pi, math.Pi).Draw(t, "lon0")
		h0 := rapid.Float64Range(-400, 5000).Draw(t, "h0")
		far := rapid.Float64Range(-1e5, 1e5)
		at := r3.Vec{X: far.Draw(t, "east"), Y: far.Draw(t, "north"), Z: rapid.Float64Range(-1000, 1e5).Draw(t, "up")}
		s := newSite(lat0, lon0, h0)
		lat, lon, h := s.geodetic(at.X, at.Y, at.Z)
		require.True(t, lon > -math.Pi && lon <= math.Pi, "longitude %v", lon)
		require.InDelta(t, 0, r3.Norm(r3.Sub(at, local(lat0, lon0, h0, lat, lon, h))), 1e-6)
	})
}

func TestReceiver(t *testing.T) {
	st := sim.State{Position: r3.Vec{X: 1000, Y: 2000, Z: 3000}, Velocity: r3.Vec{X: 1, Y: 2, Z: 3}}
	f := read(sim.Sensors{GNSS: sim.Receiver{Rate: 10}}, st)
	assert.InDelta(t, 3621.39270515, f.GNSS.Height, 1e-4, "the earth falls away from the plane: run of CartConvert -r -l")
	assert.Equal(t, st.Velocity, f.GNSS.Velocity)
	assert.Equal(t, sim.Fix3D, f.GNSS.Kind)
	assert.Positive(t, f.GNSS.Satellites)
}
