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

// receive flies a receiver through states and gives the fixes.
func receive(p sim.Receiver, seconds sim.Time, at func(t float64) sim.State) (fixes []sim.Fix) {
	b, f := New(1, setup(sim.Sensors{GNSS: p}), 0), sim.Frame{}
	for ; f.Now <= seconds*sim.Second; f.Now = b.Next() {
		st := at(f.Now.Seconds())
		b.Sample(&st, &f)
		fixes = append(fixes, f.GNSS)
	}
	return fixes
}

func TestLatencyGivesThePast(t *testing.T) {
	cubic := func(t float64) sim.State { // for which the interpolation is exact
		return sim.State{Position: r3.Vec{Z: 10*t + 5*t*t - t*t*t}, Velocity: r3.Vec{Z: 10 + 10*t - 3*t*t}}
	}
	for _, latency := range []float64{0.05, 0.1, 0.25, 1.3} {
		fixes := receive(sim.Receiver{Rate: 10, Latency: latency}, 3, cubic)
		for i, f := range fixes {
			then := float64(i)/10 - latency
			want := cubic(max(then, 0))
			assert.InDelta(t, 621+want.Position.Z, f.Height, 1e-6, "%v s at sample %d", latency, i)
			assert.InDelta(t, want.Velocity.Z, f.Velocity.Z, 0.01, "%v s at sample %d", latency, i)
		}
	}
}

func TestFixesComeAndGo(t *testing.T) {
	kinds := func(p sim.Receiver, at func(t float64) sim.State) string {
		var s []byte
		for _, f := range receive(p, 6, at) {
			s = append(s, '0'+byte(f.Kind))
		}
		return string(s)
	}
	still := func(float64) sim.State { return sim.State{} }
	during := func(a, b float64, st sim.State) func(float64) sim.State {
		return func(t float64) sim.State {
			if t >= a && t < b {
				return st
			}
			return sim.State{}
		}
	}
	for _, c := range []struct {
		reason string
		part   sim.Receiver
		at     func(t float64) sim.State
		want   string // two a second
	}{
		{"always", sim.Receiver{}, still, "3333333333333"},
		{"cold start, then a second of two dimensions", sim.Receiver{ColdStart: 2}, still, "0000223333333"},
		{"force", sim.Receiver{MostForce: 40, WarmStart: 1}, during(1, 2, sim.State{Force: r3.Vec{X: 41}}), "3300002233333"},
		{"force within the limit", sim.Receiver{MostForce: 40, WarmStart: 1}, during(1, 2, sim.State{Force: r3.Vec{X: 39}}), "3333333333333"},
		{"speed", sim.Receiver{MostSpeed: 500}, during(1, 2, sim.State{Velocity: r3.Vec{Z: 501}}), "3300223333333"},
		{"height above the sea: 621 m at the pad", sim.Receiver{MostHeight: 1000}, during(1, 2, sim.State{Position: r3.Vec{Z: 380}}), "3300223333333"},
		{"height below the limit", sim.Receiver{MostHeight: 1002}, during(1, 2, sim.State{Position: r3.Vec{Z: 380}}), "3333333333333"},
		{"lost twice", sim.Receiver{MostForce: 40, WarmStart: 1}, func(t float64) sim.State {
			if t == 1 || t == 2 {
				return sim.State{Force: r3.Vec{Y: -50}}
			}
			return sim.State{}
		}, "3300000223333"},
	} {
		c.part.Rate = 2
		assert.Equal(t, c.want, kinds(c.part, c.at), c.reason)
	}
	fixes := receive(sim.Receiver{Rate: 1, MostForce: 40, WarmStart: 1}, 4, func(t float64) sim.State {
		st := sim.State{Position: r3.Vec{Z: 100 * t}, Velocity: r3.Vec{Z: 100}}
		if t == 2 {
			st.Force.X = 50
		}
		return st
	})
	assert.Equal(t, fixes[1].Height, fixes[2].Height, "without a fix it repeats its last place")
	assert.Zero(t, fixes[2].Satellites)
	assert.Equal(t, fixes[1].Height, fixes[4].Height, "in two dimensions, its last height")
}
