package flight

import (
	"math"
	"strconv"
	"testing"

	"drystage/sim"
	"drystage/sim/published"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// The printed tables of ISO 2533:1975, whose source stands in the file's first lines.
func TestAirAgreesWithPrintedTables(t *testing.T) {
	rows, err := published.Rows("../../testdata/iso2533.csv", 15)
	require.NoError(t, err)
	a := NewAir(sim.Site{})
	for _, row := range rows {
		var x [5]float64
		for i := range x {
			x[i], err = strconv.ParseFloat(row[i+1], 64)
			require.NoError(t, err)
		}
		z := x[0]
		if row[0] == "geopotential" {
			z = geometric(z)
		}
		w := a.At(z)
		assert.InDelta(t, x[1], w.Temperature, 6e-4, row)
		assert.InEpsilon(t, x[2], w.Pressure, 5e-6, row)
		assert.InEpsilon(t, x[3], w.Density, 5e-6, row)
		assert.InEpsilon(t, x[4], w.Sound, 5e-6, row)
	}
	// Independent computation (mpmath) with the US 1976 constants.
	assert.InEpsilon(t, 22632.0640, a.At(geometric(11000)).Pressure, 1e-8)
	assert.InEpsilon(t, 5474.88867, a.At(geometric(20000)).Pressure, 1e-8)
	assert.InEpsilon(t, 54019.9121, a.At(geometric(5000)).Pressure, 3e-9)
}

// Every layer of the standard up to its top, by a general library whose source stands in the file's first
// lines.
func TestAirAgreesInEveryLayer(t *testing.T) {
	rows, err := published.Numbers("../../testdata/us1976.csv", 25)
	require.NoError(t, err)
	a, layers := NewAir(sim.Site{}), map[int]bool{}
	sea := newColumn(sim.Site{})
	for _, x := range rows {
		w := a.At(x[0])
		assert.InDelta(t, x[1], geopotential(x[0]), 1e-5, "%v", x)
		assert.InDelta(t, x[0], geometric(x[1]), 1e-5, "%v", x)
		for _, p := range [][2]float64{{x[2], w.Temperature}, {x[3], w.Pressure}, {x[4], w.Density}, {x[5], w.Viscosity()}, {x[6], w.Sound}} {
			assert.InEpsilon(t, p[0], p[1], 1e-8, "%v", x)
		}
		layers[sea.bandOf(x[1])] = true
	}
	assert.Len(t, layers, len(bands), "every layer is there")
}

// Viscosities as printed in ISO 2533:1975 by geopotential height (as transcribed in the test file of the public
// library metanorma/atmospheric), five digits; kinematic viscosity at sea level 1.4607e-5 m2/s.
func TestViscosityAgreesWithPrintedTables(t *testing.T) {
	a := NewAir(sim.Site{})
	for _, r := range []struct{ height, want float64 }{
		{0, 1.7894e-5}, {500, 1.7737e-5}, {1000, 1.7578e-5}, {2000, 1.7260e-5}, {5000, 1.6281e-5}, {10000, 1.4571e-5}, {11000, 1.4216e-5}, {20000, 1.4216e-5},
	} {
		assert.InDelta(t, r.want, a.At(geometric(r.height)).Viscosity(), 0.5001e-9, "at %v m", r.height)
	}
	ground := a.At(0)
	assert.InDelta(t, 1.4607e-5, ground.Viscosity()/ground.Density, 0.5e-9)
}

func TestAirIsThatOfTheSite(t *testing.T) {
	site := sim.Site{Elevation: 450, Temperature: 303.15, Pressure: 96000}
	a := NewAir(site)
	assert.InDelta(t, 303.15, a.At(0).Temperature, 1e-9, "the pad's temperature")
	assert.InDelta(t, 96000, a.At(0).Pressure, 1e-4, "the pad's station pressure")
	assert.InDelta(t, NewAir(sim.Site{}).At(450).Pressure, NewAir(sim.Site{Elevation: 450}).At(0).Pressure, 1e-3, "the default pressure is the standard's")
	// Hypsometric equation between two heights of a linear temperature (classical).
	low, high := a.At(100), a.At(1100)
	h := geopotential(1550) - geopotential(550)
	want := low.Pressure * math.Pow(high.Temperature/low.Temperature, 9.80665/(287.053072*0.0065))
	assert.InEpsilon(t, want, high.Pressure, 1e-8, "pressure falls as temperature and gravity ask")
	assert.InDelta(t, 0.0065*h, low.Temperature-high.Temperature, 1e-9, "the lapse rate is the standard's")
	assert.Equal(t, a.At(-1000), a.At(airBottom), "the air below the table is that of its foot")
	assert.Equal(t, a.At(1e9), a.At(1e7), "and above it that of its top")
	assert.False(t, math.IsNaN(a.At(math.NaN()).Density), "not even NaN breaks it")
}

// The table against the closed forms that it was made from.
func TestAirTableFollowsItsClosedForm(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		site := sim.Site{
			Elevation:   rapid.Float64Range(-400, 4000).Draw(t, "elevation"),
			Temperature: rapid.Float64Range(250, 320).Draw(t, "temperature"),
			Pressure:    rapid.Float64Range(60000, 105000).Draw(t, "pressure"),
		}
		height := rapid.Float64Range(-300, 70000).Draw(t, "height")
		c := newColumn(site)
		h := geopotential(site.Elevation + height)
		p, temp := c.pressureAt(h), c.temperatureAt(h, c.bandOf(h))
		w := NewAir(site).At(height)
		assert.InEpsilon(t, p, w.Pressure, 1e-8)
		assert.InEpsilon(t, temp, w.Temperature, 1e-9)
		assert.InEpsilon(t, p/(gasConstant*temp), w.Density, 1e-8)
	})
}

// Normal gravity on the WGS 84 ellipsoid and above it, computed independently from the constants of
// NIMA TR8350.2.
func TestGravity(t *testing.T) {
	for _, r := range []struct{ latitude, height, want float64 }{
		{0, 0, 9.780325336}, {30, 0, 9.793247269}, {35, 0, 9.797336013}, {40, 0, 9.801696863}, {45, 0, 9.806197769},
		{50, 0, 9.810702136}, {60, 0, 9.819176953}, {90, 0, 9.832184938},
		{45, 1000, 9.803112944}, {45, 5000, 9.790788103}, {45, 10000, 9.775414596}, {0, 1000, 9.777238369},
	} {
		g := newGravity(sim.Site{Latitude: r.latitude * degree})
		assert.InDelta(t, r.want, g.at(r.height), 3e-9, "%v", r)
		g = newGravity(sim.Site{Latitude: r.latitude * degree, Elevation: r.height})
		assert.InDelta(t, r.want, g.at(0), 3e-9, "a pad at that height %v", r)
	}
}

// Logarithmic law: independent computation of 5 m/s at 10 m over z0 = 0.03 m; and MIL-F-8785C 3.7.3.2,
// u/W20 = ln(h/z0)/ln(20/z0) with z0 = 0.15 ft or 2 ft, computed by hand from the formula.
func TestWindByTheLogarithmicLaw(t *testing.T) {
	const foot = 0.3048
	for _, r := range []struct{ roughness, reference, speed, height, want float64 }{
		{0.03, 10, 5, 2, 3.61473722}, {0.03, 10, 5, 10, 5}, {0.03, 10, 5, 50, 6.38526278}, {0.03, 10, 5, 100, 6.98186298}, {0.03, 10, 5, 300, 7.92745194},
		{0.15 * foot, 20 * foot, 1, 100 * foot, 1.32893654}, {0.15 * foot, 20 * foot, 1, 1000 * foot, 1.79953835},
		{2 * foot, 20 * foot, 1, 100 * foot, 1.69897}, {2 * foot, 20 * foot, 1, 1000 * foot, 2.69897},
	} {
		w := newWind(&sim.Wind{Speed: r.speed, From: 270 * degree, Height: r.reference, Roughness: r.roughness, Exponent: 0.9}, 1)
		east, north, _ := w.at(r.height)
		assert.InDelta(t, r.want, east, 6e-6, "%v", r)
		assert.InDelta(t, 0, north, 1e-14)
	}
	w := newWind(&sim.Wind{Speed: 5, From: 270 * degree, Height: 10, Roughness: 0.6}, 1)
	for h := -1.0; h < 3; h += 0.001 {
		east, _, _ := w.at(h)
		assert.GreaterOrEqual(t, east, 0.0, "the law's sign changes below the roughness length, the wind's doesn't: %v m", h)
	}
	calm := newWind(&sim.Wind{From: 1, Roughness: 0.03}, 1)
	assert.True(t, calm.calm)
}

// Arithmetic: 4 m/s from the west at 10 m, 8 m/s from the south at 110 m: halfway, half of each component.
func TestWindsAloft(t *testing.T) {
	w := newWind(&sim.Wind{Speed: 50, Exponent: 1, Height: 1, Aloft: []sim.WindLevel{
		{Height: 10, Speed: 4, From: 270 * degree}, {Height: 110, Speed: 8, From: 180 * degree}, {Height: 110, Speed: 99}, {Height: 1110, Speed: 8, From: 180 * degree},
	}}, 1)
	for _, r := range []struct {
		height, east, north float64
		reason              string
	}{
		{-5, 4, 0, "below the lowest, the lowest"}, {0, 4, 0, "at the ground"}, {10, 4, 0, "a row"}, {60, 2, 4, "halfway, by components"},
		{35, 3, 2, "a quarter"}, {110, 0, 8, "a row; one at the same height is passed over"}, {600, 0, 8, "no change"}, {1e6, 0, 8, "above the highest, the highest"},
	} {
		east, north, _ := w.at(r.height)
		assert.InDelta(t, r.east, east, 1e-12, r.reason)
		assert.InDelta(t, r.north, north, 1e-12, r.reason)
	}
	for _, from := range []float64{0, 30, 135, 200, 330} {
		at, bearing := SteadyWind(&sim.Wind{Speed: 4, From: from * degree, Height: 10, Roughness: 0.03, Gusts: []sim.Gust{{Length: 99, Peak: 9}}, Turbulence: sim.Turbulence{On: true}}, 10)
		assert.InDelta(t, 4, at, 1e-5, "without gusts and turbulence")
		assert.InDelta(t, 0, math.Remainder(from*degree-bearing, 2*math.Pi), 1e-12, "from %v", from)
		assert.True(t, bearing >= 0 && bearing < 2*math.Pi)
	}
	one := newWind(&sim.Wind{Aloft: []sim.WindLevel{{Height: 100, Speed: 3}}, Gusts: []sim.Gust{{Base: 100, Length: 240, Peak: 5}}}, 1)
	_, north, _ := one.at(220)
	assert.InDelta(t, -8, north, 1e-12, "gusts come on top")
	s := dunlin()
	s.Wind = sim.Wind{Aloft: []sim.WindLevel{{Height: 10, Speed: 5, From: 270 * degree}, {Height: 900, Speed: 15, From: 90 * degree}}}
	f := NewIdeal(s)
	f.AdvanceTo(200 * second)
	drifts := f.Summary().Drifts
	assert.Negative(t, drifts[1].East, "the drogue opens in an easterly")
	assert.Positive(t, drifts[2].East, "and the main in a westerly")
	assert.Zero(t, f.Summary().Solver.Forced)
}

// Power law: independent computation of 5 m/s at 10 m. Gust: 1-cosine with peak 5 m/s and half length
// 120 m, as in MIL-F-8785C, computed independently.
func TestWind(t *testing.T) {
	for _, r := range []struct{ exponent, height, want float64 }{
		{1.0 / 7, 2, 3.97298702}, {1.0 / 7, 50, 6.29249475}, {1.0 / 7, 100, 6.94747747}, {1.0 / 7, 300, 8.12806797},
		{0.2, 2, 3.62389832}, {0.2, 50, 6.89864831}, {0.2, 300, 9.87175243}, {0.14, 100, 6.90192132}, {0, 700, 5},
	} {
		w := newWind(&sim.Wind{Speed: 5, From: 270 * degree, Height: 10, Exponent: r.exponent}, 1)
		east, north, _ := w.at(r.height)
		assert.InDelta(t, r.want, east, 5e-6, "westerly blows east, %v", r)
		assert.InDelta(t, 0, north, 1e-14)
	}
	w := newWind(&sim.Wind{Gusts: []sim.Gust{{Base: 100, Length: 240, Peak: 5}, {Peak: 3}}}, 1)
	for _, r := range []struct{ height, want float64 }{{99, 0}, {130, 0.732233047}, {160, 2.5}, {220, 5}, {280, 2.5}, {341, 0}} {
		_, north, _ := w.at(r.height)
		assert.InDelta(t, -r.want, north, 1e-8, "northerly gust blows south at %v", r.height)
	}
	w = newWind(&sim.Wind{Speed: 5, Height: 10, Exponent: 0.143}, 1)
	_, low, _ := w.at(-3)
	_, foot, _ := w.at(windLowest)
	assert.Equal(t, foot, low, "no wind profile below the lowest height")
	_, high, _ := w.at(1e7)
	_, top, _ := w.at(math.Ldexp(windLowest, windOctaves))
	assert.InDelta(t, top, high, 1e-12, "nor above the highest")
}
