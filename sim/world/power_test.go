package world

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"drystage/sim"
	"drystage/sim/r3"
)

// cut is a power cut of the sustainer's board.
func cut(from, long sim.Time) sim.Fault {
	return sim.Fault{Kind: sim.PowerCut, From: sim.Anchor{Offset: from}, Duration: long}
}

func TestPowerCutAndBoot(t *testing.T) {
	s := heron()
	s.Until = sim.Anchor{Offset: sim.Second}
	s.Faults = []sim.Fault{cut(100*ms, 50*ms)}
	r := fly(s, nil)
	for i, now := range r.times {
		f := r.frames[i][0]
		off := now >= 100*ms && now < 150*ms
		require.Equal(t, now < 100*ms || now >= 445*ms, f.Powered, "at %s: off for 50 ms, last seen off at 145 ms, boot 300 ms", now)
		require.Equal(t, off, r.active[i] == 1, "at %s", now)
		require.Equal(t, f.Powered, f.Has != 0, "at %s", now)
		require.True(t, f.Due)
		require.True(t, r.frames[i][1].Powered, "the other board goes on")
	}
}

func TestChangeOfPowerMakesAFrameDue(t *testing.T) {
	s := heron()
	s.Bays[0].Sensors = sim.Sensors{Baro: sim.Barometer{Rate: 1}}
	s.Until = sim.Anchor{Offset: 900 * ms}
	s.Faults = []sim.Fault{cut(102*ms, 50*ms)}
	var due []sim.Time
	for _, f := range fly(s, nil).frames {
		if f[0].Due {
			due = append(due, f[0].Now)
		}
	}
	assert.Equal(t, []sim.Time{0, 105 * ms, 450 * ms}, due)
}

// The main's charge needs 20 ms; power goes after 10 ms, or not.
func TestPowerCutDrivesOutputsOff(t *testing.T) {
	for _, c := range []struct {
		fault  sim.Fault
		opens  bool
		reason string
	}{
		{sim.Fault{}, true, "no cut"},
		{cut(510*ms, 5*ms), false, "cut within the pulse"},
		{cut(530*ms, 5*ms), true, "cut after the pulse"},
		{cut(511*ms, 1*ms), false, "a cut shorter than a tick"},
		{cut(100*ms, 250*ms), false, "still booting when switched on"},
		{sim.Fault{Kind: sim.PowerCut, Bay: 1, From: sim.Anchor{Offset: 510 * ms}}, true, "the other board's supply"},
	} {
		s := heron()
		s.Until, s.Faults = sim.Anchor{Offset: sim.Second}, []sim.Fault{c.fault}
		assert.Equal(t, c.opens, opened(s, "sustainer.main", map[sim.Time][]sim.Output{500 * ms: {{Channel: 3, On: true}}}), c.reason)
	}
}

// opened flies with outputs given at set times, and says whether an event came.
func opened(s *sim.Setup, event string, plan map[sim.Time][]sim.Output) bool {
	w, found := New(s), false
	tick, ok := w.Step(nil)
	for ok {
		tick, ok = w.Step(plan[tick.Now])
		for _, e := range tick.Events {
			found = found || e.Name == event
		}
	}
	return found
}

func TestWires(t *testing.T) {
	on := func(bay, channel int) sim.Output { return sim.Output{Bay: bay, Channel: channel, On: true} }
	off := func(bay, channel int) sim.Output { return sim.Output{Bay: bay, Channel: channel} }
	for _, c := range []struct {
		plan   map[sim.Time][]sim.Output
		opens  bool
		reason string
	}{
		{nil, false, "nobody"},
		{map[sim.Time][]sim.Output{100 * ms: {on(0, 2)}}, true, "the first wire"},
		{map[sim.Time][]sim.Output{100 * ms: {on(1, 2)}}, true, "the second wire"},
		{map[sim.Time][]sim.Output{100 * ms: {on(0, 2)}, 110 * ms: {off(0, 2)}}, false, "too short a pulse"},
		{map[sim.Time][]sim.Output{100 * ms: {on(0, 2), on(1, 2)}, 110 * ms: {off(0, 2)}}, true, "one lets go, the other holds"},
		{map[sim.Time][]sim.Output{100 * ms: {on(0, 2)}, 110 * ms: {off(1, 2)}}, true, "one that never held lets go"},
		{map[sim.Time][]sim.Output{100 * ms: {on(0, 7), on(0, -1), on(5, 2), on(-1, 2), on(0, 4)}}, false, "nothing wired, or a buzzer"},
		{map[sim.Time][]sim.Output{100 * ms: {on(0, 2), off(0, 2)}}, false, "on and off in one tick"},
	} {
		s := heron()
		s.Until = sim.Anchor{Offset: sim.Second}
		assert.Equal(t, c.opens, opened(s, "sustainer.drogue", c.plan), c.reason)
	}
}

func TestVehicleFaultShowsOnce(t *testing.T) {
	s := heron()
	s.Until = sim.Anchor{Event: "booster.burnout", Offset: sim.Second}
	s.Faults = []sim.Fault{
		{Kind: sim.Step, Part: sim.PartBaro, From: sim.Anchor{Event: "never"}, Value: 1},
		{Kind: sim.EarlyBurnout, Stage: 1, From: sim.Anchor{Event: "booster.ignition", Offset: sim.Second}},
	}
	r := fly(s, nil)
	shown := 0
	for i, a := range r.active {
		if a != 0 {
			shown++
			assert.Equal(t, uint64(2), a)
			assert.InDelta(t, (r.at("booster.ignition") + sim.Second).Seconds(), r.times[i].Seconds(), 0.006)
		}
	}
	assert.Equal(t, 1, shown)
}

func TestUnseenFaultsDoNotCount(t *testing.T) {
	s := heron()
	s.Until = sim.Anchor{Offset: sim.Second}
	s.Faults = []sim.Fault{cut(0, 0), {Kind: sim.Step, Part: sim.PartBaro, Value: 500}}
	for _, a := range fly(s, nil).active {
		require.Equal(t, uint64(1), a, "a board without power sees no sample")
	}
}

func TestDropoutLeavesTheFrameDue(t *testing.T) {
	s := heron()
	s.Bays[0].Sensors = sim.Sensors{Baro: sim.Barometer{Rate: 50}}
	s.Until = sim.Anchor{Offset: 100 * ms}
	s.Faults = []sim.Fault{{Kind: sim.Dropout, Part: sim.PartBaro}}
	r := fly(s, nil)
	for i, f := range r.frames {
		due := r.times[i]%(20*ms) == 0
		require.Equal(t, due, f[0].Due)
		require.Equal(t, due, r.active[i] == 1)
		require.Zero(t, f[0].Has)
	}
}

// One more sensor fault, first or last in the list, changes no other part of any board if the boards' outputs are the same.
func TestAnExtraFaultMovesNoOtherChannel(t *testing.T) {
	plain := heron()
	plain.Until = sim.Anchor{Offset: 2 * sim.Second}
	plain.Faults = []sim.Fault{{Kind: sim.NoiseBurst, Bay: 1, Part: sim.PartAccel, Value: 3}}
	want := fly(plain, nil)
	rapid.Check(t, func(t *rapid.T) {
		part := sim.Part(rapid.IntRange(1, 5).Draw(t, "part"))
		extra := sim.Fault{
			Kind: sim.FaultKind(rapid.IntRange(int(sim.Spike), int(sim.NoiseBurst)).Draw(t, "kind")),
			Part: part, Axis: sim.Axis(rapid.IntRange(0, 3).Draw(t, "axis")), Value: rapid.Float64Range(-50, 50).Draw(t, "by"),
			From: sim.Anchor{Offset: sim.Time(rapid.IntRange(0, 1900).Draw(t, "from")) * ms}, Duration: 300 * ms,
		}
		s := *plain
		s.Faults = append([]sim.Fault{extra}, plain.Faults...)
		if rapid.Bool().Draw(t, "last") {
			s.Faults = append(plain.Faults[:1:1], extra)
		}
		got := fly(&s, nil)
		require.Equal(t, want.events, got.events)
		for i := range want.frames {
			a, b := want.frames[i][0], got.frames[i][0]
			without(&a, part)
			without(&b, part)
			require.Equal(t, a, b)
			require.Equal(t, want.frames[i][1], got.frames[i][1])
		}
	})
}

// without takes one part out of a frame.
func without(f *sim.Frame, p sim.Part) {
	f.Has &^= 1 << (p - 1)
	switch p {
	case sim.PartAccel:
		f.Accel = r3.Vec{}
	case sim.PartGyro:
		f.Gyro = r3.Vec{}
	case sim.PartBaro:
		f.Pressure, f.Temperature = 0, 0
	case sim.PartGNSS:
		f.GNSS = sim.Fix{}
	case sim.PartBattery:
		f.Battery = 0
	case sim.PartMag:
		f.Mag = r3.Vec{}
	}
}
