package world

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"drystage/sim"
)

// A battery of 7.4 V and 0.8 ohm falls to 7.4 * 1.2/2.0 = 4.44 V under an igniter of 1.2 ohm, by Ohm's law.
func TestAnIgniterPullsTheSupplyDown(t *testing.T) {
	for _, c := range []struct {
		reason           string
		brownOut, holdUp float64
		off              int // ticks of 5 ms
	}{
		{"above the level at which it resets", 4.43, 0, 0}, {"below it", 4.45, 0, 60}, {"it never does", 0, 0, 0},
		{"capacitors carry it for 20 ms", 4.45, 0.02, 60}, {"and through the whole pulse", 4.45, 0.06, 0},
	} {
		s := heron()
		s.Until = sim.Anchor{Offset: 2 * sim.Second}
		s.Bays[0].Sensors.Battery = sim.Battery{Rate: 200, Voltage: 7.4, Resistance: 0.8, BrownOut: c.brownOut, HoldUp: c.holdUp}
		s.Bays[0].Wires[0].Load = 1.2
		w := New(s)
		off, least := 0, math.Inf(1)
		var outs []sim.Output
		for ok := true; ok; {
			var tick *sim.Tick
			tick, ok = w.Step(outs)
			outs = outs[:0]
			if tick.Now == 100*ms || tick.Now == 150*ms {
				outs = append(outs, sim.Output{Channel: 1, On: tick.Now == 100*ms, At: tick.Now})
			}
			if f := tick.Frames[0]; f.Powered {
				least = min(least, f.Battery)
			} else {
				if off == 0 {
					assert.Equal(t, 105*ms+sim.Seconds(c.holdUp), tick.Now, c.reason)
				}
				off++
			}
		}
		assert.Equal(t, c.off, off, "%s: 300 ms of boot from the tick that reset it", c.reason)
		if c.off > 0 {
			assert.False(t, w.bays[0].on[0], "%s: a board that resets lets go", c.reason)
			continue
		}
		assert.InDelta(t, 4.44, least, 1e-9, c.reason)
	}
}

func TestAChargeIsFeltInItsOwnStage(t *testing.T) {
	s := heron()
	s.Until = sim.Anchor{Offset: sim.Second}
	for i := range s.Bays {
		s.Bays[i].Sensors.Baro = sim.Barometer{Rate: 200, Vents: sim.Vents{Count: 1, Diameter: 1e-3, Volume: 4e-4}, Ejection: sim.Ejection{Peak: 70e3, Time: 0.1, Leak: 1e-3}}
	}
	s.Limit = sim.Second
	peak := func(out sim.Output, long sim.Time) (at sim.Time, top [2]float64) {
		w := New(s)
		var outs []sim.Output
		for ok := true; ok; {
			var tick *sim.Tick
			tick, ok = w.Step(outs)
			outs = outs[:0]
			for i := range top {
				p := tick.Frames[i].Pressure - tick.States[i].Pressure
				if p > 0 && at == 0 {
					at = tick.Now
				}
				top[i] = max(top[i], p)
			}
			switch tick.Now {
			case 100 * ms:
				outs = append(outs, out)
			case 100*ms + long:
				out.On = false
				outs = append(outs, out)
			}
		}
		return at, top
	}
	drogue := sim.Output{Channel: 2, On: true}
	at, top := peak(drogue, 500*ms)
	assert.Equal(t, 120*ms, at, "at the end of the pulse that the charge needs")
	assert.Greater(t, top[0], 1000.0)
	assert.Zero(t, top[1], "the booster's bay is another one")
	_, top = peak(sim.Output{Bay: 1, Channel: 2, On: true}, 500*ms)
	assert.Greater(t, top[0], 1000.0, "whichever board fires it")
	_, top = peak(drogue, 10*ms)
	assert.Zero(t, top[0], "too short a pulse fires nothing")
	_, top = peak(sim.Output{Channel: 1, On: true}, 500*ms)
	require.Less(t, top[0], 50.0, "an igniter is no charge in the bay, which is only left behind by the climb")
}
