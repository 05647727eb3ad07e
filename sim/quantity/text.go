package quantity

import (
	"math"
	"strconv"
)

// Text writes a value in SI as text that Parse reads back as exactly the same value. Angles are
// written in degrees, temperatures in degC and magnetic fields in uT where that loses nothing; all else in SI units.
func Text(x float64, d Dimension) string {
	if u, ok := find(everyday(d)); ok {
		near := u.fromSI(x)
		for _, y := range [...]float64{u.digits(x, 6), math.Round(near*1e9) / 1e9, near, math.Nextafter(near, math.Inf(-1)), math.Nextafter(near, math.Inf(1))} {
			if u.toSI(y) == x {
				return write(y, u.symbol)
			}
		}
	}
	return write(x, Units(d)[0])
}

// Short writes a value in SI to four digits, for people: angles in degrees, temperatures in degC and magnetic
// fields in uT, all else in SI units. Text is what Parse reads back.
func Short(x float64, d Dimension) string {
	u := usual(d)
	return write(u.digits(x, 4), u.symbol)
}

// Round gives the value in SI whose text in the unit of Short has at most so many digits.
func Round(x float64, d Dimension, digits int) float64 {
	u := usual(d)
	return u.toSI(u.digits(x, digits))
}

// Usual is the symbol of the unit that people write a dimension in.
func Usual(d Dimension) string { return usual(d).symbol }

// InUsual gives a value in SI in the unit of Usual.
func InUsual(x float64, d Dimension) float64 { return usual(d).fromSI(x) }

// usual is the unit that people write a dimension in.
func usual(d Dimension) unit {
	u, ok := find(everyday(d))
	if !ok {
		u, _ = find(Units(d)[0])
	}
	return u
}

// digits gives a value in SI in the unit, to a number of digits.
func (u unit) digits(x float64, n int) float64 {
	y := u.fromSI(x)
	if z, err := strconv.ParseFloat(strconv.FormatFloat(y, 'g', n, 64), 64); err == nil {
		return z
	}
	return y
}

// everyday is the symbol that people use rather than the SI one; "none" is no unit.
func everyday(d Dimension) string {
	switch d {
	case Temperature:
		return "degC"
	case Angle:
		return "deg"
	case AngularRate:
		return "deg/s"
	case AngularAcceleration:
		return "deg/s2"
	case FluxDensity:
		return "uT"
	case FluxDensityRate:
		return "uT/s"
	case FluxDensityPerCurrent:
		return "uT/A"
	}
	return "none"
}

func write(x float64, symbol string) string {
	format := byte('f')
	if a := math.Abs(x); a != 0 && (a < 1e-5 || a >= 1e9) {
		format = 'g'
	}
	s := strconv.FormatFloat(x, format, -1, 64)
	if symbol != "" {
		s += " " + symbol
	}
	return s
}
