package fault

import (
	"drystage/sim"
	"drystage/sim/plain"
)

// bayAir is the air in a bay whose vents are blocked.
type bayAir struct {
	pressure float64 // Pa
	at       sim.Time
	on       bool
}

// equalise gives the bay the pressure of the air outside.
func (b *bayAir) equalise(now sim.Time, st *sim.State) { *b = bayAir{st.Pressure, now, true} }

// blockVent adds the difference of the bay's and the air's pressure to a barometer. The bay's pressure follows with
// the time constant Value, or not at all.
func (it *item) blockVent(f *sim.Frame, st *sim.State) bool {
	b := &it.bay
	if !b.on {
		b.equalise(f.Now, st)
	}
	if it.Value > 0 {
		b.pressure += float64((1 - plain.Decay((f.Now-b.at).Seconds(), it.Value)) * (st.Pressure - b.pressure))
	}
	b.at = f.Now
	return addTo(&f.Pressure, b.pressure-st.Pressure)
}
