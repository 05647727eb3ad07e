package sensor

import (
	"drystage/sim"
	"drystage/sim/noise"
)

// barometer measures the static pressure around the body; its own temperature is that of the air.
type barometer struct {
	sim.Barometer
	chance *noise.Stream
}

// sample gives Pa, between Min and Max when Max is above Min, and never below 0.
func (b *barometer) sample(st *sim.State) float64 {
	x := steps(noisy(st.Pressure+b.Bias, b.Noise, b.chance), b.Resolution)
	if b.Max > b.Min {
		x = min(max(x, b.Min), b.Max)
	}
	return max(x, 0)
}
