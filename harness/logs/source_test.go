package logs

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"drystage/sim"
)

// gappy is 2 s of pressure at 50 Hz with a silence from 0.5 s to 1 s.
func gappy(t testing.TB) *Log {
	b := newBuilder("gappy", 0)
	b.first = false
	c, _ := channelNamed("barometer pressure")
	b.want(c)
	for i := range 100 {
		if i < 25 || i >= 50 {
			b.now = sim.Time(i) * 20 * sim.Millisecond
			b.set(c, int32(96000000-i))
			require.NoError(t, b.row(harnessPlace))
		}
	}
	l := b.done()
	l.Commands = []Command{{At: 100 * sim.Millisecond, What: sim.CommandArm}}
	return l
}

func TestSourcePlaysWhatWas(t *testing.T) {
	for _, c := range []struct {
		reason          string
		fill            Fill
		samples, filled int
	}{
		{"as it was, with the clock going on", FillNone, 75, 0},
		{"the last sample again", FillHold, 99, 24},
	} {
		t.Run(c.reason, func(t *testing.T) {
			s, err := NewSource(gappy(t), 1, c.fill, []sim.Event{{Name: "liftoff", At: sim.Second}})
			require.NoError(t, err)
			samples, arms, events := 0, 0, 0
			last := sim.Time(-1)
			for more := true; more; {
				var tick *sim.Tick
				tick, more = s.Step(nil)
				f := tick.Frames[0]
				require.Greater(t, tick.Now, last)
				require.LessOrEqual(t, tick.Now-last, 50*sim.Millisecond, "a board's clock never stands still")
				last = tick.Now
				if f.Has&sim.HasBaro != 0 {
					samples++
				}
				if f.Commands == sim.CommandArm {
					arms++
				}
				events += len(tick.Events)
			}
			assert.InDelta(t, c.samples, samples, 1)
			assert.InDelta(t, c.filled, s.Filled(), 1)
			assert.Equal(t, 1, arms)
			assert.Equal(t, 1, events)
			assert.Equal(t, 1980*sim.Millisecond, last)
		})
	}
	_, err := NewSource(&Log{}, 1, FillNone, nil)
	require.ErrorContains(t, err, "nothing to replay")
}
