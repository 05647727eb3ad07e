package world

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"drystage/sim"
)

func TestOutputsAndCommandsAreEventsWhereAsked(t *testing.T) {
	s := heron()
	s.Until = sim.Anchor{Offset: 900 * ms}
	s.Commands = []sim.Command{{At: sim.Anchor{Offset: 102 * ms}, Bay: 0, What: sim.CommandArm}, {At: sim.Anchor{Event: "command arm", Offset: 50 * ms}, Bay: -1, What: sim.CommandStage}}
	s.Marks = []sim.Mark{{Name: "output sustainer.ignite", Channel: 1}, {Name: "command arm", Command: sim.CommandArm}, {Name: "command stage", Command: sim.CommandStage}, {Name: "output booster.streamer", Bay: 1, Channel: 1}}
	s.Faults = []sim.Fault{
		{Kind: sim.Step, Part: sim.PartBaro, Value: 100, From: sim.Anchor{Event: "output sustainer.ignite", Offset: 20 * ms}, Duration: 40 * ms},
		{Kind: sim.Dropout, Part: sim.PartGyro, From: sim.Anchor{Event: "command arm"}, Duration: 10 * ms},
		{Kind: sim.DeadIgniter, Stage: 0, From: sim.Anchor{Event: "output sustainer.ignite"}},
		{Kind: sim.Dropout, Part: sim.PartGyro, From: sim.Anchor{Event: "output booster.streamer"}},
	}
	w := New(s)
	var events []sim.Event
	var outs []sim.Output
	var active [4][]sim.Time
	for ok := true; ok; {
		var tick *sim.Tick
		tick, ok = w.Step(outs)
		outs = outs[:0]
		events = append(events, tick.Events...)
		for i := range active {
			if tick.Active>>i&1 != 0 {
				active[i] = append(active[i], tick.Now)
			}
		}
		for _, d := range tick.Injected {
			require.NotZero(t, tick.Active>>d.Fault&1)
			require.Equal(t, tick.Now, d.At)
		}
		switch tick.Now {
		case 200 * ms, 300 * ms:
			outs = append(outs, sim.Output{Channel: 1, On: true, At: tick.Now})
		case 250 * ms:
			outs = append(outs, sim.Output{Channel: 1, At: tick.Now})
		}
	}
	assert.Equal(t, []sim.Event{{Name: "command arm", At: 105 * ms}, {Name: "command stage", At: 155 * ms}, {Name: "output sustainer.ignite", At: 200 * ms}, {Name: "output sustainer.ignite", At: 300 * ms}}, events)
	assert.Equal(t, []sim.Time{220 * ms, 240 * ms}, active[0], "20 ms after the output, for 40 ms, at the barometer's 50 Hz")
	assert.Equal(t, []sim.Time{105 * ms, 110 * ms}, active[1], "from the command on")
	assert.Len(t, active[2], 1, "a fault of the vehicle hears of it too")
	assert.Empty(t, active[3], "that output stayed dark")
}

func TestClockErrorAndBrownOutOfAFault(t *testing.T) {
	s := heron()
	s.Until = sim.Anchor{Offset: 2 * sim.Second}
	s.Bays[0].Sensors.Battery = sim.Battery{Rate: 200, Voltage: 7.4, BrownOut: 5}
	s.Faults = []sim.Fault{
		{Kind: sim.ClockError, Bay: 1, Value: 1e-3, From: sim.Anchor{Offset: sim.Second}},
		{Kind: sim.BrownOut, Value: 2, From: sim.Anchor{Offset: 100 * ms}, Duration: 50 * ms},
		{Kind: sim.BrownOut, Value: 3, From: sim.Anchor{Offset: sim.Second}, Duration: 50 * ms},
	}
	off := 0
	r := fly(s, nil)
	for i, f := range r.frames {
		now := r.times[i]
		require.Equal(t, max(now-sim.Second, 0)/1000, f[1].Skew)
		require.Zero(t, f[0].Skew, "the other board's clock is right")
		if !f[0].Powered {
			off++
		}
		if now >= 100*ms && now < 150*ms {
			require.Equal(t, 5.4, f[0].Battery, "2 V lost and still above the level at which it resets")
		}
	}
	assert.Equal(t, 69, off, "50 ms below the level, seen last at 1045 ms, and 300 ms of boot")
}
