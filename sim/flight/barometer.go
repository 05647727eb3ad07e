package flight

import (
	"math"

	"drystage/sim"
	"drystage/sim/plain"
)

// Barometer is what an ideal barometric altimeter shows at the greatest height of the body with the nose. The
// altimeter assumes the standard atmosphere and was set to 0 on the pad. Its error comes from the weather: in
// air colder than standard pressure falls faster with height, and the height shown is too large, by about 4 %
// for 10 K (ICAO Doc 8168, from memory). On a hot day it is too small.
type Barometer struct {
	At     sim.Time
	Height float64 // m above the pad, true
	Shown  float64 // m
	Error  float64 // m, shown minus true
}

// PressureAltitude gives the geopotential height in m at which the US Standard Atmosphere 1976 has a pressure
// in Pa (eq. 33a and 33b solved for height). Pressures below that of 84 852 m, and those that aren't
// positive, count as that one.
func PressureAltitude(pressure float64) float64 {
	sea := column{}
	foot, under := 0, standardPress
	for foot+1 < len(bands) {
		over := float64(under * sea.ratio(bands[foot].base, bands[foot+1].base, foot))
		if pressure > over {
			break
		}
		foot, under = foot+1, over
	}
	b := &bands[foot]
	least := float64(under * sea.ratio(b.base, airTop, foot))
	if foot == len(bands)-1 && !(pressure > least) {
		return airTop
	}
	fall := plain.Log(pressure / under)
	if b.lapse == 0 {
		return b.base - float64(gasConstant*b.temperature/standardG*fall)
	}
	return b.base + float64(b.temperature/b.lapse*(plain.Exp(-gasConstant*b.lapse/standardG*fall)-1))
}

// IndicatedHeight gives the height in m that a barometric altimeter shows at a pressure in Pa, when it assumes
// the standard day and shows 0 at a reference pressure: the difference of the two pressure altitudes.
func IndicatedHeight(pressure, reference float64) float64 {
	return PressureAltitude(pressure) - PressureAltitude(reference)
}

// barometer computes it from the air over the site.
func (f *Flight) barometer() Barometer {
	b := Barometer{At: f.record.heightAt, Height: math.Max(0, f.record.height)}
	b.Shown = IndicatedHeight(f.air.At(b.Height).Pressure, f.air.At(0).Pressure)
	b.Error = b.Shown - b.Height
	return b
}
