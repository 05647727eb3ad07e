package quantity_test

import (
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"drystage/sim/quantity"
)

// The factors are checked against the numbers printed in NIST SP 811 (2008), appendix B.8, and the
// BIPM SI Brochure, 9th edition; where a row says "arithmetic", it follows from those.
func TestEveryUnitMeetsItsPublishedFactor(t *testing.T) {
	rows := []struct {
		text   string
		dim    quantity.Dimension
		want   float64
		reason string
	}{
		{"1 in", quantity.Length, 2.54e-2, "SP 811: inch, exact"},
		{"1 ft", quantity.Length, 3.048e-1, "SP 811: foot, exact"},
		{"54 mm", quantity.Length, 0.054, "same double as the literal"},
		{"3.5 cm", quantity.Length, 0.035, "SI prefix"},
		{"1.5 km", quantity.Length, 1500, "SI prefix"},
		{"1 lb", quantity.Mass, 4.5359237e-1, "SP 811: pound, exact"},
		{"1 oz", quantity.Mass, 2.8349523125e-2, "SP 811: 2.834 952 E-02, and a sixteenth of the pound"},
		{"480 g", quantity.Mass, 0.48, "SI prefix"},
		{"1 lbf", quantity.Force, 4.4482216152605, "SP 811: 4.448 222, pound times g0"},
		{"2 lbf s", quantity.Impulse, 8.896443230521, "arithmetic"},
		{"10 N s", quantity.Impulse, 10, "a unit with a space"},
		{"1 mph", quantity.Speed, 4.4704e-1, "SP 811: mile per hour, exact"},
		{"1 kn", quantity.Speed, 0.5144444444444445, "SP 811: 5.144 444 E-01"},
		{"36 km/h", quantity.Speed, 10, "SP 811: 2.777 778 E-01"},
		{"10 ft/s", quantity.Speed, 3.048, "SP 811: exact"},
		{"1 g0", quantity.Acceleration, 9.80665, "SP 811: exact"},
		{"1 mg0", quantity.Acceleration, 9.80665e-3, "a thousandth"},
		{"1 ug0", quantity.Acceleration, 9.80665e-6, "a millionth"},
		{"2 g0/s", quantity.Jerk, 19.6133, "arithmetic"},
		{"960 hPa", quantity.Pressure, 96000, "SI prefix"},
		{"1 inHg", quantity.Pressure, 3.386389e3, "SP 811: inch of mercury, conventional"},
		{"1 ft/s2", quantity.Acceleration, 3.048e-1, "SP 811: foot per second squared, exact"},
		{"1 mbar", quantity.Pressure, 100, "SP 811: exact"},
		{"1 bar", quantity.Pressure, 1e5, "SP 811: exact"},
		{"3 hPa/s", quantity.PressureRate, 300, "arithmetic"},
		{"-5 degC", quantity.Temperature, 268.15, "SI Brochure 2.3.1: T/K = t/degC + 273.15"},
		{"32 degF", quantity.Temperature, 273.15, "SP 811: T/K = (t/degF + 459.67)/1.8, ice point"},
		{"212 degF", quantity.Temperature, 373.15, "SP 811: boiling point"},
		{"180 deg", quantity.Angle, math.Pi, "SI Brochure table 8"},
		{"90 deg/s", quantity.AngularRate, math.Pi / 2, "arithmetic"},
		{"180 deg/s2", quantity.AngularAcceleration, math.Pi, "arithmetic"},
		{"1 kHz", quantity.Frequency, 1000, "SI prefix"},
		{"10 mV", quantity.Voltage, 0.01, "SI prefix"},
		{"10 mV/s", quantity.VoltageRate, 0.01, "arithmetic"},
		{"1 g cm2", quantity.Inertia, 1e-7, "arithmetic"},
		{"4.7 kohm", quantity.Resistance, 4700, "arithmetic"},
		{"250 mohm", quantity.Resistance, 0.25, "arithmetic"},
		{"50 cm2", quantity.Area, 0.005, "arithmetic"},
		{"2 l", quantity.Volume, 0.002, "SI Brochure table 8"},
		{"250 cm3", quantity.Volume, 2.5e-4, "arithmetic"},
		{"150 mohm", quantity.Resistance, 0.15, "SI prefix"},
		{"100 ug0/rtHz", quantity.AccelerationDensity, 9.80665e-4, "arithmetic"},
		{"2 mg0/rtHz", quantity.AccelerationDensity, 0.0196133, "arithmetic"},
		{"180 deg/s/rtHz", quantity.RateDensity, math.Pi, "arithmetic"},
		{"1 mg0/K", quantity.AccelerationPerKelvin, 9.80665e-3, "arithmetic"},
		{"90 deg/s/K", quantity.RatePerKelvin, math.Pi / 2, "arithmetic"},
		{"1.5 Pa/K", quantity.PressurePerKelvin, 1.5, "SI"},
		{"180 deg/s/g0", quantity.RatePerAcceleration, math.Pi / 9.80665, "arithmetic"},
		{"250 ppm", quantity.Number, 250e-6, "SI Brochure 5.4.7"},
		{"20 ms", quantity.Time, 0.02, "SI prefix"},
		{"1.5 min", quantity.Time, 90, "SI Brochure table 8"},
		{"7 us", quantity.Time, 7e-6, "SI prefix"},
		{"12.5 %", quantity.Number, 0.125, "SI Brochure 5.4.7"},
		{"-3e-2", quantity.Number, -0.03, "exponent"},
		{"+.5m", quantity.Length, 0.5, "no space, no leading zero"},
		{"  2.2e-4   kg   m2 ", quantity.Inertia, 2.2e-4, "loose spaces"},
	}
	for _, row := range rows {
		t.Run(row.text, func(t *testing.T) {
			got, err := quantity.Parse(row.text, row.dim)
			require.NoError(t, err, row.reason)
			assert.InEpsilon(t, row.want, got, 3e-16, row.reason)
		})
	}
}

func TestErrorsSayWhatIsMissing(t *testing.T) {
	rows := []struct {
		text   string
		dim    quantity.Dimension
		want   string
		reason string
	}{
		{"54", quantity.Length, `found "54", which has no unit, wanted a length in one of m, mm, cm, km, ft, in; add the unit, as in "54 m"`, "missing unit"},
		{"270", quantity.Angle, `add the unit, as in "270 deg"`, "the unit that people write"},
		{"-5", quantity.Temperature, `add the unit, as in "-5 degC"`, "the unit that people write"},
		{"5 s", quantity.Length, `"5 s", which is a time, wanted a length`, "wrong dimension"},
		{"16 g", quantity.Acceleration, "g is the gram; the standard gravity is g0", "the commonest slip"},
		{"5 furlong", quantity.Length, `unit "furlong" is unknown`, "unknown unit"},
		{"5 °C", quantity.Temperature, "write degC", "near spelling"},
		{"5 MM", quantity.Length, "write mm", "wrong case"},
		{"1,5 m", quantity.Length, "write decimals with a point, as in 1.5 m", "comma decimals"},
		{"1 500 m", quantity.Length, "write the number without spaces", "grouped digits"},
		{"NaN m", quantity.Length, "only finite numbers count", "NaN"},
		{"-inf m", quantity.Length, "only finite numbers count", "infinity"},
		{"1e999 m", quantity.Length, "it is too large", "does not fit a double"},
		{"1e308 km", quantity.Length, "it is too large", "overflows on the way to SI"},
		{"", quantity.Length, "found nothing, wanted a length", "empty"},
		{"mm", quantity.Length, `found "mm", wanted a length`, "no number"},
		{"−5 m", quantity.Length, "write the minus sign as -", "typographic minus"},
		{"5 m", quantity.Number, `which is a length, wanted a plain number or a percentage`, "unit where none belongs"},
		{"5 mV", quantity.Frequency, "wanted a frequency in one of Hz, kHz", "wrong dimension"},
	}
	for _, row := range rows {
		t.Run(row.text, func(t *testing.T) {
			_, err := quantity.Parse(row.text, row.dim)
			require.Error(t, err, row.reason)
			assert.True(t, strings.HasPrefix(err.Error(), "quantity: "), row.reason)
			assert.Contains(t, err.Error(), row.want, row.reason)
			var e *quantity.Error
			assert.ErrorAs(t, err, &e, "callers take it apart")
		})
	}
}

func TestAnyTellsTheDimension(t *testing.T) {
	x, d, err := quantity.Any("1.8 s")
	require.NoError(t, err)
	assert.Equal(t, 1.8, x)
	assert.Equal(t, quantity.Time, d)
	_, _, err = quantity.Any("high")
	assert.EqualError(t, err, `quantity: found "high", wanted a number with a unit`)
	_, _, err = quantity.Any("1e308 km")
	assert.Error(t, err)
}

func TestTextPrefersWhatPeopleWrite(t *testing.T) {
	rows := []struct {
		x      float64
		dim    quantity.Dimension
		want   string
		reason string
	}{
		{150, quantity.Length, "150 m", "SI"},
		{20 * math.Pi / 180, quantity.Angle, "20 deg", "degrees"},
		{268.15, quantity.Temperature, "-5 degC", "degC"},
		{0.125, quantity.Number, "0.125", "no unit"},
		{2.2e-6, quantity.Inertia, "2.2e-06 kg m2", "small numbers"},
	}
	for _, row := range rows {
		assert.Equal(t, row.want, quantity.Text(row.x, row.dim), row.reason)
	}
}

func TestShortIsForPeople(t *testing.T) {
	rows := []struct {
		x      float64
		dim    quantity.Dimension
		want   string
		reason string
	}{
		{95063.7, quantity.Pressure, "95060 Pa", "four digits, no exponent"},
		{0.0854801, quantity.Angle, "4.898 deg", "degrees, though they lose something"},
		{285.157, quantity.Temperature, "12.01 degC", "degC"},
		{0.64, quantity.Mass, "0.64 kg", "no digits that say nothing"},
		{-0.0099567, quantity.Length, "-0.009957 m", "small"},
		{1, quantity.Number, "1", "no unit"},
		{math.Inf(1), quantity.Time, "+Inf s", "no number"},
	}
	for _, row := range rows {
		assert.Equal(t, row.want, quantity.Short(row.x, row.dim), row.reason)
	}
}

// What is rounded is written with no more digits than that, and rounding again changes nothing.
func TestRoundMakesShortText(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := rapid.SampledFrom(quantity.Dimensions()).Draw(t, "dimension")
		x := rapid.Float64Range(-1000, 1000).Draw(t, "x")
		got := quantity.Round(x, d, 6)
		require.InEpsilon(t, 1+math.Abs(x), 1+math.Abs(got), 1e-3, "half of the sixth digit, or of that of x in degC")
		number, _, _ := strings.Cut(strings.TrimLeft(quantity.Text(got, d), "-0."), " ")
		digits := strings.TrimRight(strings.ReplaceAll(number, ".", ""), "0")
		digits, _, _ = strings.Cut(digits, "e")
		require.LessOrEqual(t, len(digits), 6, quantity.Text(got, d))
	})
}

// What lies a last bit beside a short number, and is the same value in SI, is written as the short one.
func TestTextIsTheShortOne(t *testing.T) {
	assert.Equal(t, "8007810 uT", quantity.Text(quantity.Round(8.00781, quantity.FluxDensity, 6), quantity.FluxDensity))
}

// A unit of another dimension is no help.
func TestAHintIsOfTheDimension(t *testing.T) {
	_, err := quantity.Parse("1 t", quantity.Mass)
	assert.EqualError(t, err, `quantity: found "1 t", whose unit "t" is unknown, wanted a mass in one of kg, g, lb, oz`)
	_, err = quantity.Parse("1 KG", quantity.Mass)
	assert.ErrorContains(t, err, "write kg")
}

func TestParseUndoesText(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := rapid.SampledFrom(quantity.Dimensions()).Draw(t, "dimension")
		x := rapid.Float64().Draw(t, "x")
		got, err := quantity.Parse(quantity.Text(x, d), d)
		require.NoError(t, err)
		require.Equal(t, x, got)
	})
}

func TestUnitsScaleAlike(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := rapid.SampledFrom(quantity.Dimensions()).Draw(t, "dimension")
		u := rapid.SampledFrom(quantity.Units(d)).Draw(t, "unit")
		at := func(n string) float64 {
			x, err := quantity.Parse(n+" "+u, d)
			require.NoError(t, err)
			return x
		}
		// Every unit is a straight line: the middle of two values is the middle in SI.
		require.InEpsilon(t, at("6"), (at("2")+at("10"))/2, 1e-14)
		require.Greater(t, at("2"), at("1"))
	})
}

func FuzzParse(f *testing.F) {
	for _, s := range []string{"54 mm", "1,5 m", "-.e m", "", "5 °C", "1e", "+"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		x, d, err := quantity.Any(s)
		if err != nil {
			return
		}
		again, err := quantity.Parse(quantity.Text(x, d), d)
		if err != nil || again != x {
			t.Fatalf("%q gives %v, which comes back as %v (%v)", s, x, again, err)
		}
	})
}
