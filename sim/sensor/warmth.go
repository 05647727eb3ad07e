package sensor

import (
	"drystage/sim"
	"drystage/sim/plain"
)

// reference is 25 degC, at which data sheets give their figures.
const reference = 298.15 // K

// warmth is the temperature of a board.
type warmth struct {
	sim.Heating
	air float64 // K, at the pad
}

// at gives K; without heating, the temperature of the air at the state's place.
func (w *warmth) at(now sim.Time, st *sim.State) float64 {
	if !(w.Time > 0) {
		return st.Ambient
	}
	return w.air + float64(w.Rise*(1-plain.Decay(now.Seconds(), w.Time)))
}
