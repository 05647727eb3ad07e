package sensor

import (
	"drystage/sim"
	"drystage/sim/plain"
)

// reference is 25 degC, the reference temperature of data sheets.
const reference = 298.15 // K

// boardTemperature is the temperature of a board: that of the air around it and what its own heat and the day on the
// pad add, each as a body with one heat capacity and a constant loss to the air (Newton's law of cooling). Boards are
// switched on wait before the run begins.
type boardTemperature struct {
	sim.Heating
	day  sim.Warmth
	air  float64 // K, at the pad
	wait sim.Time
}

// at gives it in K. Without heating and day it is the temperature of the air around the rocket.
func (w *boardTemperature) at(now sim.Time, st *sim.State) float64 {
	on := (now + w.wait).Seconds()
	kelvin := st.Ambient
	if w.Time > 0 {
		kelvin = w.air + float64(w.Rise*(1-plain.Decay(on, w.Time)))
	}
	if w.day.Time > 0 {
		left := plain.Decay(on, w.day.Time)
		kelvin += float64(w.day.Rise * (1 - left))
		if w.day.Start > 0 { // else they begin with the air's
			kelvin += float64((w.day.Start - w.air) * left)
		}
	}
	return kelvin
}
