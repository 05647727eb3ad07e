package geodesy

import (
	"math"
	"testing"

	"drystage/sim/published"
	"drystage/sim/r3"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

const (
	degree     = math.Pi / 180
	micrometre = 1e-6
)

func place(x []float64) Place { return Place{x[0] * degree, x[1] * degree, x[2]} }

// apart is the distance of two places near each other in m, by radii that are too large.
func apart(a, b Place) float64 {
	lon := math.Remainder(a.Longitude-b.Longitude, 2*math.Pi)
	return math.Sqrt(math.Pow((a.Latitude-b.Latitude)*7e6, 2) + math.Pow(lon*math.Cos(a.Latitude)*7e6, 2) + math.Pow(a.Height-b.Height, 2))
}

// The source of the values stands in the file's first lines.
func TestEarthFixed(t *testing.T) {
	rows, err := published.Numbers("../../testdata/wgs84-earth-fixed.csv", 14)
	require.NoError(t, err)
	for _, x := range rows {
		p, v := place(x), r3.Vec{X: x[3], Y: x[4], Z: x[5]}
		assert.Less(t, r3.Norm(r3.Sub(v, p.ECEF())), micrometre, "%v", x)
		back := FromECEF(v)
		assert.Less(t, apart(p, back), micrometre, "%v: %v", x, back)
		assert.True(t, back.Longitude > -math.Pi && back.Longitude <= math.Pi, "%v", x)
	}
}

// The source of the values stands in the file's first lines.
func TestLocal(t *testing.T) {
	rows, err := published.Numbers("../../testdata/wgs84-local.csv", 7)
	require.NoError(t, err)
	for _, x := range rows {
		f, p, at := NewFrame(place(x)), place(x[3:]), r3.Vec{X: x[6], Y: x[7], Z: x[8]}
		assert.Less(t, r3.Norm(r3.Sub(at, f.Local(p))), micrometre, "%v", x)
		assert.Less(t, apart(p, f.Place(at)), micrometre, "%v", x)
		assert.Less(t, r3.Norm(r3.Sub(p.ECEF(), f.ECEF(at))), micrometre, "%v", x)
		assert.Less(t, r3.Norm(r3.Sub(at, f.FromECEF(p.ECEF()))), micrometre, "%v", x)
	}
}

// Published to fewer digits.
func TestPublishedPlaces(t *testing.T) {
	for _, c := range []struct {
		place  Place
		ecef   r3.Vec
		within float64 // m, from the digits
		source string
	}{
		{Place{33.3 * degree, 44.4 * degree, 6000}, r3.Vec{X: 3816209.60, Y: 3737108.55, Z: 3485109.57}, 0.01, "GeographicLib, manual page of CartConvert(1)"},
		{Place{39.37874867239 * degree, -48.01278750418 * degree, 4702059.834295}, r3.Vec{X: 6371e3 * 0.9, Y: -6371e3, Z: 6371e3 * 1.1}, 0.001, "n-vector page (Gade), example 3, digits by a run of GeographicLib"},
		{Place{1 * degree, 2 * degree, 3}, r3.Vec{X: 6373290.277, Y: 222560.201, Z: 110568.827}, 0.001, "n-vector page (Gade), example 4, from memory"},
	} {
		assert.Less(t, r3.Norm(r3.Sub(c.ecef, c.place.ECEF())), c.within, c.source)
		assert.Less(t, apart(c.place, FromECEF(c.ecef)), c.within, c.source)
	}
	f := NewFrame(Place{35.347 * degree, -117.808 * degree, 621})
	got := f.Place(r3.Vec{X: 1000, Y: 2000, Z: 3000})
	want := Place{35.3650158442 * degree, -117.7970028281575 * degree, 3621.39270515}
	assert.Less(t, apart(want, got), 2e-5, "run of GeographicLib 2.1.2 CartConvert -r -l: the earth falls away from the plane")
}

// There and back, anywhere: a micrometre.
func TestThereAndBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		origin := Place{rapid.Float64Range(-math.Pi/2, math.Pi/2).Draw(t, "latitude"), rapid.Float64Range(-math.Pi, math.Pi).Draw(t, "longitude"), rapid.Float64Range(-400, 5000).Draw(t, "height")}
		far := rapid.Float64Range(-1e5, 1e5)
		at := r3.Vec{X: far.Draw(t, "east"), Y: far.Draw(t, "north"), Z: rapid.Float64Range(-1000, 1e5).Draw(t, "up")}
		f := NewFrame(origin)
		p := f.Place(at)
		require.True(t, p.Longitude > -math.Pi && p.Longitude <= math.Pi, "longitude %v", p.Longitude)
		require.Less(t, r3.Norm(r3.Sub(at, f.Local(p))), micrometre)
		require.Less(t, r3.Norm(r3.Sub(at, f.FromECEF(f.ECEF(at)))), micrometre)
		require.Less(t, apart(p, FromECEF(p.ECEF())), micrometre)
		require.Less(t, apart(p, FromECEF(f.ECEF(at))), micrometre)
	})
}

// The axes of a frame, earth-fixed, are of length 1 and stand as they should.
func TestFrameIsOrthonormal(t *testing.T) {
	f := NewFrame(Place{0.7, 2, 300})
	o := f.ECEF(r3.Vec{})
	axis := func(v r3.Vec) r3.Vec { return r3.Sub(f.ECEF(v), o) }
	e, n, u := axis(r3.Vec{X: 1e3}), axis(r3.Vec{Y: 1e3}), axis(r3.Vec{Z: 1e3})
	assert.InDelta(t, 0, r3.Norm(r3.Sub(r3.Cross(e, n), r3.Scale(1e3, u))), 1e-2, "east by north is up")
	assert.InDelta(t, 1e3, r3.Norm(n), 1e-6)
	assert.InDelta(t, 0, e.Z, 1e-9, "east lies in the plane of the parallel")
}

// Distances over the ground, on a sphere of the mean radius: near the pad the plane's; far from it the height is right
// within 0.4 % of how far the ground falls off, and the way north and east as long as the ellipsoid's radii say within
// 0.4 %.
func TestOverGround(t *testing.T) {
	for _, latitude := range []float64{0, 35, -47, 80} {
		f := NewFrame(place([]float64{latitude, 20, 300}))
		assert.Less(t, apart(f.Place(r3.Vec{X: 1, Y: 2, Z: 3}), f.OverGround(r3.Vec{X: 1, Y: 2, Z: 3})), 2e-6, "at the pad")
		assert.Less(t, apart(f.Place(r3.Vec{Z: 3}), f.OverGround(r3.Vec{Z: 3})), micrometre, "above it")
		sin := math.Sin(latitude * degree)
		n := equatorial / math.Sqrt(1-first2*sin*sin)
		m := n * (1 - first2) / (1 - first2*sin*sin)
		for _, d := range []float64{1000, 10000, 50000} {
			for _, height := range []float64{0, 30000} {
				drop := d * d / (2 * 6.371e6)
				north, east := f.OverGround(r3.Vec{Y: d, Z: height}), f.OverGround(r3.Vec{X: d, Z: height})
				assert.InDelta(t, 300+height, north.Height, 0.006*drop+1e-5, "%v, %v m north", latitude, d)
				assert.InDelta(t, 300+height, east.Height, 0.006*drop+1e-5, "%v, %v m east", latitude, d)
				assert.InEpsilon(t, d/(m+300), north.Latitude-f.Place(r3.Vec{}).Latitude, 0.006, "north")
				assert.InEpsilon(t, d/((n+300)*math.Cos(latitude*degree)), east.Longitude-20*degree, 0.006, "east")
			}
		}
	}
}
