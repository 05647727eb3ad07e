package world

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"drystage/sim"
	"drystage/sim/r3"
)

// A separation charge that fires on the pad throws the upper stage up the rail, and it comes back onto the pad. Its
// accelerometer feels the push and the stop: summed up, less gravity, it gives the speed along the rail all the time. The
// lower stage stands where it is.
func TestSeparationOnThePadIsFelt(t *testing.T) {
	for _, hz := range []float64{200, 1000} {
		s := shaken(hz)
		s.Vehicle.Stages[1].Separation = sim.Separation{Mode: sim.ByCharge, Delay: 3 * ms, Speed: 2, Shock: sim.Pyroshock{Push: 10 * ms, Peak: 300, Ring: 120, Decay: 6 * ms}}
		s.Bays[1].Wires = append(s.Bays[1].Wires, sim.Wire{Channel: 9, Name: "part", Effect: sim.Effect{Kind: sim.Separate, Stage: 1}})
		s.Vehicle.Rail.Tilt, s.Wind, s.Launch = 0, sim.Wind{}, 20*sim.Second
		s.Until = sim.Anchor{Offset: 2 * sim.Second}
		w := New(s)
		outs := []sim.Output{{Bay: 1, Channel: 9, On: true}}
		var top, sum, last, worst float64
		for ok := true; ok; {
			var tick *sim.Tick
			tick, ok = w.Step(outs)
			outs = nil
			require.Equal(t, r3.Vec{}, tick.States[1].Velocity, "the pad holds the lower stage")
			st, f := &tick.States[0], tick.Frames[0].Accel.X-9.8067
			sum += 0.5 / hz * (f + last)
			last = f
			top = max(top, st.Velocity.Z)
			if tick.Now > 80*ms && tick.Now < 380*ms || tick.Now > 600*ms { // the ringing is over
				worst = max(worst, abs(st.Velocity.Z-sum))
			}
			if ok && tick.Now > 600*ms {
				assert.Zero(t, st.Velocity.Z, "back on the pad")
			}
		}
		assert.InDelta(t, 2, top, 0.005+10/hz, "the speed of the separation, seen at a sample at last")
		assert.Less(t, worst, 0.02+10/hz, "at %g Hz the sum of what is felt is off by so many m/s", hz)
	}
}

func abs(x float64) float64 { return max(x, -x) }
