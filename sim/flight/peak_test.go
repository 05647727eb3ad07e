package flight

import (
	"math"
	"testing"

	"drystage/sim"

	"github.com/stretchr/testify/assert"
)

// The greatest values agree with those of a flight sampled every quarter of a millisecond.
func TestGreatestValuesAgainstSampling(t *testing.T) {
	const beat = sim.Millisecond / 4
	chuffing := func() *sim.Setup {
		s := plainDunlin()
		s.Vehicle.Stages[1].Mount.Pauses = []sim.Pause{{At: sim.Second / 2, For: 350 * sim.Millisecond}}
		return s
	}
	for _, r := range []struct {
		name  string
		setup func() *sim.Setup
	}{{"subsonic", wren}, {"two-stage", plainDunlin}, {"transonic", swift}, {"a motor that chuffs", chuffing}, {"turbulence", roughDunlin}} {
		f := NewIdeal(r.setup())
		var most [3]float64
		var at [3]sim.Time
		for f.at("apogee") < 0 {
			f.AdvanceTo(f.now + beat)
			s := &f.States()[0]
			if s.OnPad {
				continue
			}
			for k, v := range [...]float64{math.Sqrt(dot(s.Velocity, s.Velocity)), s.Mach, s.Dynamic} {
				if v > most[k] {
					most[k], at[k] = v, f.now
				}
			}
		}
		m := f.Summary().Extremes
		for k, found := range [...]peak{{m.Speed, m.SpeedAt}, {m.Mach, m.MachAt}, {m.Dynamic, m.QAt}} {
			assert.GreaterOrEqual(t, found.value, most[k]*(1-1e-12), "%s, quantity %d", r.name, k)
			assert.InEpsilon(t, most[k], found.value, 1e-5, "%s, quantity %d", r.name, k)
			assert.InDelta(t, at[k].Seconds(), found.at.Seconds(), 2*beat.Seconds(), "%s, quantity %d", r.name, k)
		}
	}
}
