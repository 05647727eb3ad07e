package fault

import (
	"drystage/sim"
	"drystage/sim/plain"
)

// trapped is the air of a bay whose vents are blocked.
type trapped struct {
	pressure float64 // Pa
	at       sim.Time
	on       bool
}

// breathe lets the bay have the pressure of the air outside.
func (b *trapped) breathe(now sim.Time, st *sim.State) { *b = trapped{st.Pressure, now, true} }

// block adds to a barometer what the bay's pressure differs from the air's: it follows that with the time
// constant Value, or not at all.
func (it *item) block(f *sim.Frame, st *sim.State) bool {
	b := &it.bay
	if !b.on {
		b.breathe(f.Now, st)
	}
	if it.Value > 0 {
		b.pressure += float64((1 - plain.Decay((f.Now-b.at).Seconds(), it.Value)) * (st.Pressure - b.pressure))
	}
	b.at = f.Now
	return raise(&f.Pressure, b.pressure-st.Pressure)
}
