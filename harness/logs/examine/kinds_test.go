package examine

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"drystage/harness/logs"
	"drystage/harness/logs/logtest"
	"drystage/sim"
)

// TestOneOfEach: faults at the edges of what the swarm draws: to the end of the log, of every part at
// once, of noise with quiet moments.
func TestOneOfEach(t *testing.T) {
	f := fly(loaded(t, ""))
	lift, _ := happened(f.events, "liftoff")
	at := func(after sim.Time) sim.Anchor { return sim.Anchor{Offset: lift + after} }
	for _, c := range []struct {
		reason string
		fault  sim.Fault
		kind   Kind
		from   float64 // s after liftoff
		lasts  float64 // s; 0: to the end
	}{
		{"silent to the end", sim.Fault{Kind: sim.Dropout, Part: sim.PartGNSS, From: at(0)}, Dropout, 0, 0},
		{"a drift that never ends", sim.Fault{Kind: sim.Drift, Part: sim.PartBaro, From: at(0), Value: -3}, Drift, 0, 0},
		{"noise for long", sim.Fault{Kind: sim.NoiseBurst, Part: sim.PartBaro, From: at(0), Duration: 12 * sim.Second, Value: 30}, NoiseBurst, 0, 12},
		{"stuck to the end", sim.Fault{Kind: sim.Stuck, Part: sim.PartAccel, From: at(5 * sim.Second)}, Stuck, 5, 0},
		{"a shift that stays", sim.Fault{Kind: sim.Step, Part: sim.PartBaro, From: at(8 * sim.Second), Value: -200}, Step, 8, 0},
	} {
		t.Run(c.reason, func(t *testing.T) {
			r, err := Examine(f.log(t, 6, c.fault), Options{})
			require.NoError(t, err)
			require.Len(t, r.Findings, 1, list(r.Findings))
			x := r.Findings[0]
			assert.Equal(t, c.kind, x.Kind)
			assert.Equal(t, c.fault.Part, x.Part)
			assert.InDelta(t, lift.Seconds()+c.from, x.From, 0.25)
			if c.lasts > 0 {
				assert.InDelta(t, c.lasts, x.Until-x.From, 0.3)
			} else {
				assert.InDelta(t, r.end(), x.Until, 0.5)
			}
		})
	}
}

// TestACutSupplyIsOneFinding: when every part is silent at once, the supply or the logger was, and the
// fault that plays it is a cut shorter by the board's boot.
func TestACutSupplyIsOneFinding(t *testing.T) {
	f := fly(loaded(t, ""))
	l := f.log(t, 6)
	for p := range l.Streams {
		s := &l.Streams[p]
		var kept logs.Stream
		kept.Part, kept.Data = s.Part, make([][]int32, len(s.Data))
		for i, at := range s.Times {
			if at < 9*sim.Second || at >= 9500*sim.Millisecond {
				kept.Times = append(kept.Times, at)
				for k := range s.Data {
					if s.Data[k] != nil {
						kept.Data[k] = append(kept.Data[k], s.Data[k][i])
					}
				}
			}
		}
		*s = kept
	}
	r, err := Examine(l, Options{})
	require.NoError(t, err)
	require.Len(t, r.Findings, 1, list(r.Findings))
	assert.Equal(t, Supply, r.Findings[0].Explanations[0].Cause)
	v := f.setup.Vehicle
	faults, _ := r.Faults(&v, 0, 0, 300*sim.Millisecond)
	require.Len(t, faults, 1)
	assert.Equal(t, sim.PowerCut, faults[0].Kind)
	assert.InDelta(t, 0.2, faults[0].Duration.Seconds(), 0.02)
}

// TestPressureOfManyRates: a drift of a fast barometer, whose slope its neighbours don't tell; one as fast as the wind that
// would explain it; and noise of so few samples of slow ones that third differences of single jumps come near to it.
func TestPressureOfManyRates(t *testing.T) {
	for _, c := range []struct {
		reason string
		i      int
		kind   Kind
	}{
		{"a drift at 1,000 Hz", 243, Drift},
		{"a drift that seems a fall", 257, Drift},
		{"12 samples of noise at 25 Hz, of which one stands out", 202, NoiseBurst},
		{"13 samples of noise at 20 Hz", 34, NoiseBurst},
	} {
		t.Run(c.reason, func(t *testing.T) {
			_, r := spoiltRecipe(77000, c.i)
			l := logtest.Fly(r)
			res, err := Examine(foreignLog(t, l), Options{})
			require.NoError(t, err)
			var of []Finding
			for _, f := range res.Findings {
				if f.Part != sim.PartAccel { // what is clipped is another matter
					of = append(of, f)
				}
			}
			require.Len(t, of, 1, list(of))
			assert.Equal(t, c.kind, of[0].Kind)
			assert.True(t, told(l.Truth.Anomalies[0], &of[0]), list(of))
		})
	}
}
