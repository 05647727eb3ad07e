package sensor

import (
	"drystage/sim"
	"drystage/sim/plain"
)

// reference is 25 degC, the reference temperature of data sheets.
const reference = 298.15 // K

// boardTemperature is the temperature of a board.
type boardTemperature struct {
	sim.Heating
	air float64 // K, at the pad
}

// at gives it in K. Without heating it is the temperature of the air around the rocket.
func (w *boardTemperature) at(now sim.Time, st *sim.State) float64 {
	if !(w.Time > 0) {
		return st.Ambient
	}
	return w.air + float64(w.Rise*(1-plain.Decay(now.Seconds(), w.Time)))
}
