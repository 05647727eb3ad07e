// Package quantity turns text with a unit, such as "54 mm" or "-5 degC", into a number in SI and
// back. One table holds every unit with its dimension. It never guesses: a quantity without a unit,
// or with a unit of another dimension, is an error that says what would be right. It never reads a
// file and knows nothing of rockets.
package quantity

import "math"

// Dimension is what a quantity measures.
type Dimension uint8

// The dimensions. Number is a plain number or a percentage. Temperature is absolute, never a
// difference.
const (
	Number Dimension = iota
	Length
	Time
	Speed
	Acceleration
	Jerk
	Mass
	Force
	Impulse
	Pressure
	PressureRate
	Temperature
	Angle
	AngularRate
	AngularAcceleration
	Frequency
	Voltage
	VoltageRate
	Inertia
	Area
	Volume
	Resistance
	AccelerationDensity // of noise, one-sided
	RateDensity
	AccelerationPerKelvin
	RatePerKelvin
	PressurePerKelvin
	RatePerAcceleration // a gyro's g-sensitivity
	AccelerationRectification
	RateRectification
	FluxDensity // magnetic
	FluxDensityRate
	FluxDensityPerCurrent
)

var dimensionNames = [...]string{
	"a number", "a length", "a time", "a speed", "an acceleration", "a change of acceleration", "a mass", "a force",
	"an impulse", "a pressure", "a change of pressure", "a temperature", "an angle", "an angular rate",
	"an angular acceleration", "a frequency", "a voltage", "a change of voltage", "a moment of inertia", "an area",
	"a volume", "a resistance", "a noise density of acceleration", "a noise density of angular rate", "an acceleration per kelvin",
	"an angular rate per kelvin", "a pressure per kelvin", "an angular rate per acceleration",
	"an acceleration per squared acceleration", "an angular rate per squared acceleration",
	"a magnetic flux density", "a change of magnetic flux density", "a magnetic flux density per current",
}

// String names the dimension with its article, as in "an angle".
func (d Dimension) String() string { return dimensionNames[d] }

// Dimensions lists all dimensions in order of their constants.
func Dimensions() []Dimension {
	all := make([]Dimension, len(dimensionNames))
	for i := range all {
		all[i] = Dimension(i)
	}
	return all
}

// unit is one row of the table: SI value = (written value + shift) * num / den. Numerator and
// denominator are whole where the definition allows it, so that "54 mm" is the same double as
// "0.054 m".
type unit struct {
	symbol          string
	dim             Dimension
	num, den, shift float64
}

// units holds every unit; the first of a dimension is its SI unit. All factors but those of degrees
// of angle and of inHg are exact. Sources: BIPM, The International System of Units (SI Brochure), 9th edition,
// tables 4, 7 and 8 and section 2.3; NIST Special Publication 811 (2008), appendix B.8, for g0, in,
// ft, mph, kn, lb, oz, lbf, inHg and degF. mg0 is a thousandth of g0; /rtHz is per square root of a hertz.
var units = [...]unit{
	{"", Number, 1, 1, 0},
	{"%", Number, 1, 100, 0},
	{"ppm", Number, 1, 1000000, 0},
	{"m", Length, 1, 1, 0},
	{"mm", Length, 1, 1000, 0},
	{"cm", Length, 1, 100, 0},
	{"km", Length, 1000, 1, 0},
	{"ft", Length, 3048, 10000, 0}, // 0.3048 m
	{"in", Length, 254, 10000, 0},  // 0.0254 m
	{"s", Time, 1, 1, 0},
	{"ms", Time, 1, 1e3, 0},
	{"us", Time, 1, 1e6, 0},
	{"min", Time, 60, 1, 0},
	{"m/s", Speed, 1, 1, 0},
	{"km/h", Speed, 10, 36, 0},
	{"mph", Speed, 44704, 100000, 0}, // 5280 ft in 3600 s
	{"ft/s", Speed, 3048, 10000, 0},
	{"kn", Speed, 1852, 3600, 0}, // 1852 m in 3600 s
	{"m/s2", Acceleration, 1, 1, 0},
	{"g0", Acceleration, 980665, 100000, 0}, // 9.80665 m/s2
	{"mg0", Acceleration, 980665, 100000000, 0},
	{"ug0", Acceleration, 980665, 100000000000, 0},
	{"ft/s2", Acceleration, 3048, 10000, 0},
	{"m/s3", Jerk, 1, 1, 0},
	{"g0/s", Jerk, 980665, 100000, 0},
	{"mg0/s", Jerk, 980665, 100000000, 0},
	{"kg", Mass, 1, 1, 0},
	{"g", Mass, 1, 1000, 0},
	{"lb", Mass, 45359237, 100000000, 0},        // 0.45359237 kg
	{"oz", Mass, 28349523125, 1000000000000, 0}, // 1/16 lb
	{"N", Force, 1, 1, 0},
	{"lbf", Force, 44482216152605, 10000000000000, 0}, // 1 lb times g0
	{"N s", Impulse, 1, 1, 0},
	{"lbf s", Impulse, 44482216152605, 10000000000000, 0},
	{"Pa", Pressure, 1, 1, 0},
	{"hPa", Pressure, 100, 1, 0},
	{"kPa", Pressure, 1000, 1, 0},
	{"mbar", Pressure, 100, 1, 0},
	{"bar", Pressure, 100000, 1, 0},
	{"inHg", Pressure, 3386389, 1000, 0},             // conventional, rounded to seven digits in the source
	{"psi", Pressure, 44482216152605, 6451600000, 0}, // 1 lbf on a square of 25.4 mm
	{"Pa/s", PressureRate, 1, 1, 0},
	{"hPa/s", PressureRate, 100, 1, 0},
	{"K", Temperature, 1, 1, 0},
	{"degC", Temperature, 1, 1, 273.15},
	{"degF", Temperature, 5, 9, 459.67},
	{"rad", Angle, 1, 1, 0},
	{"deg", Angle, math.Pi, 180, 0},
	{"rad/s", AngularRate, 1, 1, 0},
	{"deg/s", AngularRate, math.Pi, 180, 0},
	{"rad/s2", AngularAcceleration, 1, 1, 0},
	{"deg/s2", AngularAcceleration, math.Pi, 180, 0},
	{"Hz", Frequency, 1, 1, 0},
	{"kHz", Frequency, 1000, 1, 0},
	{"V", Voltage, 1, 1, 0},
	{"mV", Voltage, 1, 1000, 0},
	{"V/s", VoltageRate, 1, 1, 0},
	{"mV/s", VoltageRate, 1, 1000, 0},
	{"kg m2", Inertia, 1, 1, 0},
	{"g cm2", Inertia, 1, 10000000, 0},
	{"m2", Area, 1, 1, 0},
	{"cm2", Area, 1, 10000, 0},
	{"m3", Volume, 1, 1, 0},
	{"cm3", Volume, 1, 1000000, 0},
	{"l", Volume, 1, 1000, 0},
	{"ohm", Resistance, 1, 1, 0},
	{"mohm", Resistance, 1, 1000, 0},
	{"kohm", Resistance, 1000, 1, 0},
	{"Mohm", Resistance, 1000000, 1, 0},
	{"m/s2/rtHz", AccelerationDensity, 1, 1, 0},
	{"mg0/rtHz", AccelerationDensity, 980665, 100000000, 0},
	{"ug0/rtHz", AccelerationDensity, 980665, 100000000000, 0},
	{"rad/s/rtHz", RateDensity, 1, 1, 0},
	{"deg/s/rtHz", RateDensity, math.Pi, 180, 0},
	{"m/s2/K", AccelerationPerKelvin, 1, 1, 0},
	{"mg0/K", AccelerationPerKelvin, 980665, 100000000, 0},
	{"rad/s/K", RatePerKelvin, 1, 1, 0},
	{"deg/s/K", RatePerKelvin, math.Pi, 180, 0},
	{"Pa/K", PressurePerKelvin, 1, 1, 0},
	{"rad s/m", RatePerAcceleration, 1, 1, 0}, // rad/s for each m/s2
	{"deg/s/g0", RatePerAcceleration, math.Pi / 9.80665, 180, 0},
	{"s2/m", AccelerationRectification, 1, 1, 0}, // m/s2 for each square of m/s2
	{"mg0/g0^2", AccelerationRectification, 100, 980665, 0},
	{"ug0/g0^2", AccelerationRectification, 1, 9806650, 0},
	{"rad s3/m2", RateRectification, 1, 1, 0}, // rad/s for each square of m/s2
	{"deg/s/g0^2", RateRectification, math.Pi / (9.80665 * 9.80665), 180, 0},
	{"T", FluxDensity, 1, 1, 0},
	{"mT", FluxDensity, 1, 1000, 0},
	{"uT", FluxDensity, 1, 1e6, 0},
	{"nT", FluxDensity, 1, 1e9, 0},
	{"T/s", FluxDensityRate, 1, 1, 0},
	{"uT/s", FluxDensityRate, 1, 1e6, 0},
	{"T/A", FluxDensityPerCurrent, 1, 1, 0},
	{"uT/A", FluxDensityPerCurrent, 1, 1e6, 0},
}

// Units lists the symbols of a dimension, the SI unit first.
func Units(d Dimension) []string {
	var list []string
	for _, u := range units {
		if u.dim == d {
			list = append(list, u.symbol)
		}
	}
	return list
}

// DimensionOf gives the dimension of a unit; Number if there is no such unit.
func DimensionOf(symbol string) Dimension {
	u, _ := find(symbol)
	return u.dim
}

func find(symbol string) (unit, bool) {
	for _, u := range units {
		if u.symbol == symbol {
			return u, true
		}
	}
	return unit{}, false
}

func (u unit) toSI(x float64) float64 { return (x + u.shift) * u.num / u.den }

func (u unit) fromSI(x float64) float64 { return x*u.den/u.num - u.shift }
