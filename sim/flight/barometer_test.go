package flight

import (
	"math"
	"testing"

	"drystage/sim"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// Independent computation (mpmath) from eq. 33a and 33b, and the standard's printed pressures at the feet of
// its layers (ISO 2533 to 20 km; above from memory).
func TestPressureAltitude(t *testing.T) {
	for _, r := range []struct {
		pressure, want, within float64
		reason                 string
	}{
		{101325, 0, 1e-9, "sea level"}, {95000, 540.337479, 2e-6, "troposphere"}, {90000, 988.500767, 2e-6, "troposphere"},
		{80000, 1948.989172, 2e-6, "troposphere"}, {50000, 5574.437475, 2e-6, "troposphere"}, {30000, 9163.956907, 2e-6, "troposphere"},
		{10000, 16179.72469, 2e-5, "isothermal"}, {54019.9, 5000, 0.01, "printed"}, {22632.0, 11000, 0.03, "printed"}, {5474.87, 20000, 0.03, "printed"},
		{868.019, 32000, 0.01, "foot of the fourth layer"}, {110.906, 47000, 0.1, "foot of the fifth"}, {66.9389, 51000, 0.1, "of the sixth"},
		{3.95642, 71000, 0.1, "of the seventh"}, {0, 84852, 0, "no pressure"}, {-1, 84852, 0, "less than none"}, {math.NaN(), 84852, 0, "not a number"},
		{69681.66, 3048, 0.01, "10 000 ft"}, {107477.5, -500, 0.3, "below the sea: printed 1.0748e5, from memory"},
	} {
		assert.InDelta(t, r.want, PressureAltitude(r.pressure), r.within, "%v Pa: %s", r.pressure, r.reason)
	}
	rapid.Check(t, func(t *rapid.T) {
		h := rapid.Float64Range(-4000, 84000).Draw(t, "h")
		sea := newColumn(sim.Site{})
		require.InDelta(t, h, PressureAltitude(sea.pressureAt(h)), 1e-5, "the way back")
	})
}

// With the standard's lapse rate and another temperature at the pad, hydrostatics make what is shown
// T_standard/T times the geopotential height, exactly, in the lowest layer.
func TestIndicatedHeight(t *testing.T) {
	for _, r := range []struct {
		temperature, height, want float64
		reason                    string
	}{
		{288.15, 600, 600, "the standard day"}, {268.15, 150, 161.19, "-5 C: independent computation"}, {268.15, 600, 644.75, "-5 C: independent computation"},
		{308.15, 600, 600 / 1.06941, "35 C: independent computation"}, {278.15, 1000, 1035.95, "10 K below: 3.6 %"}, {298.15, 1000, 966.46, "10 K above"},
	} {
		a := NewAir(sim.Site{Temperature: r.temperature})
		got := IndicatedHeight(a.At(geometric(r.height)).Pressure, a.At(0).Pressure)
		assert.InDelta(t, r.want, got, 0.006, r.reason)
	}
	rapid.Check(t, func(t *rapid.T) {
		s := sim.Site{Elevation: rapid.Float64Range(0, 3000).Draw(t, "elevation"), Temperature: rapid.Float64Range(250, 315).Draw(t, "temperature"), Pressure: rapid.Float64Range(7e4, 1.05e5).Draw(t, "pressure")}
		h := rapid.Float64Range(1, 4000).Draw(t, "height")
		a := NewAir(s)
		standard := 288.15 - 0.0065*PressureAltitude(s.Pressure)
		rise := geopotential(s.Elevation+h) - geopotential(s.Elevation)
		require.InDelta(t, rise*standard/s.Temperature, IndicatedHeight(a.At(h).Pressure, s.Pressure), 0.001)
	})
}

// ICAO Doc 8168, volume I, table of corrections in feet for an aerodrome at sea level, height 1000 ft above it,
// rounded up to 10 ft (from memory): what has to be added to a height so that an altimeter that shows it is there.
func TestColdCorrectionsOfICAO(t *testing.T) {
	for celsius, want := range map[float64]float64{0: 60, -10: 100, -20: 140, -30: 190, -40: 240, -50: 300} {
		a := NewAir(sim.Site{Temperature: 273.15 + celsius})
		shown := IndicatedHeight(a.At(1000*metresPerFoot).Pressure, a.At(0).Pressure) / metresPerFoot
		correction := shown - 1000
		assert.LessOrEqual(t, correction, want, "%v C", celsius)
		assert.Greater(t, correction, want-10.5, "%v C", celsius)
	}
}

func TestSummaryOfTheBarometer(t *testing.T) {
	cold := dunlin()
	cold.Vehicle.Site.Temperature = 263.15
	f := NewIdeal(cold)
	assert.Equal(t, Barometer{}, f.Summary().Baro, "nothing yet")
	f.AdvanceTo(100 * second)
	sum := f.Summary()
	b := sum.Baro
	assert.Equal(t, sum.Extremes.Height, b.Height)
	assert.InDelta(t, f.at("apogee"), b.At.Seconds(), 1e-6)
	standard := 288.15 - 0.0065*PressureAltitude(96000)
	assert.InEpsilon(t, standard/263.15, b.Shown/b.Height, 3e-4, "by hydrostatics, but for geopotential")
	assert.InDelta(t, b.Shown-b.Height, b.Error, 1e-12)
	assert.Greater(t, b.Error, 70.0)
	hot := dunlin()
	hot.Vehicle.Site.Temperature = 313.15
	f = NewIdeal(hot)
	f.AdvanceTo(100 * second)
	assert.Less(t, f.Summary().Baro.Error, -70.0, "too low on a hot day")
}
