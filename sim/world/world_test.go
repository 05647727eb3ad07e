package world

import (
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"drystage/sim"
	"drystage/sim/flight"
	"drystage/sim/r3"
)

func TestOutputsCloseTheLoop(t *testing.T) {
	good, silent := fly(heron(), flyer), fly(heron(), nil)
	for _, event := range []string{"sustainer.ignition", "sustainer.drogue", "sustainer.main", "booster.streamer"} {
		assert.NotEqual(t, sim.Never, good.at(event), event)
		assert.Equal(t, sim.Never, silent.at(event), "%s without a board", event)
	}
	assert.InDelta(t, 0.17, (good.at("sustainer.ignition") - good.at("booster.burnout")).Seconds(), 0.1, "pulse and delay of the igniter, a tick, and scatter")
	assert.Greater(t, good.at("apogee"), silent.at("apogee"))
	assert.Less(t, silent.at("sustainer.landing"), good.at("sustainer.landing"), "silent, it comes down hard")
}

func TestSensorsFeelTheFlight(t *testing.T) {
	r := fly(heron(), flyer)
	pad, low := r.frames[0][0], 1e9
	assert.InDelta(t, 9.8, r3.Norm(pad.Accel), 0.5, "at rest it feels the pad")
	for _, f := range r.frames {
		low = min(low, f[0].Pressure)
	}
	assert.Less(t, low, 96e3-2000.0, "the pressure falls with height")
	assert.InDelta(t, 450, pad.GNSS.Height, 20, "above mean sea level, not the pad")
}

func TestTicksAreWholeMultiplesInOrder(t *testing.T) {
	s := heron()
	s.Bays[1].Sensors = sim.Sensors{Baro: sim.Barometer{Rate: 30}}
	s.Until = sim.Anchor{Offset: sim.Second}
	r := fly(s, nil)
	var want []sim.Time
	for k := range 201 {
		want = append(want, sim.Time(k)*5*ms)
	}
	for k := range 31 {
		want = append(want, sim.Time((int64(k)*2e9+30)/60)) // 1/30 s, rounded to the nanosecond
	}
	slices.Sort(want)
	assert.Equal(t, slices.Compact(want), r.times)
	for i, f := range r.frames {
		require.Equal(t, r.times[i]%(5*ms) == 0, f[0].Due, "sustainer at %s", r.times[i])
		require.Equal(t, f[1].Has != 0, f[1].Due, "booster at %s", r.times[i])
		require.Equal(t, []sim.Time{r.times[i], r.times[i]}, []sim.Time{f[0].Now, f[1].Now})
	}
}

func TestEveryEventComesOnce(t *testing.T) {
	s := heron()
	r := fly(s, flyer)
	twin := New(s)
	var outs []sim.Output
	for ok := true; ok; {
		var tick *sim.Tick
		tick, ok = twin.Step(outs)
		outs = outs[:0]
		for _, e := range tick.Events {
			require.LessOrEqual(t, e.At, tick.Now)
			if o, found := flyer[e.Name]; found {
				outs = append(outs, o)
			}
		}
	}
	assert.ElementsMatch(t, twin.flight.Events(), r.events)
	assert.NotEqual(t, sim.Never, r.at(sim.EventMaxQ))
}

// An event that is found late stands before others that have been delivered already.
func TestLateEventsAreToldOnce(t *testing.T) {
	a, b, c, d := sim.Event{Name: "a", At: 1}, sim.Event{Name: "b", At: 2}, sim.Event{Name: "c", At: 3}, sim.Event{Name: "d", At: 4}
	for _, x := range []struct {
		lists  [][]sim.Event
		want   [][]sim.Event
		reason string
	}{
		{[][]sim.Event{{a}, {a, b}}, [][]sim.Event{{a}, {b}}, "in order"},
		{[][]sim.Event{{a, c}, {a, b, c}}, [][]sim.Event{{a, c}, {b}}, "in between"},
		{[][]sim.Event{{c}, {a, b, c, d}}, [][]sim.Event{{c}, {a, b, d}}, "around"},
		{[][]sim.Event{{c}, {c, a}}, [][]sim.Event{{c}, {a}}, "behind"},
		{[][]sim.Event{{a}, {a}, {a, a}}, [][]sim.Event{{a}, nil, {a}}, "the same twice"},
	} {
		var w World
		for i, list := range x.lists {
			w.deliverEvents(list)
			assert.Equal(t, x.want[i], append([]sim.Event(nil), w.tick.Events...), x.reason)
		}
	}
}

func TestRunEnds(t *testing.T) {
	for _, c := range []struct {
		until  sim.Anchor
		limit  sim.Time
		want   sim.Time
		reason string
	}{
		{sim.Anchor{Offset: 2 * sim.Second}, sim.Never, 2 * sim.Second, "on the instant"},
		{sim.Anchor{Offset: 1999 * ms}, sim.Never, 2 * sim.Second, "the first tick beyond"},
		{sim.Anchor{Event: sim.EventLaunch, Offset: 500 * ms}, sim.Never, 1500 * ms, "after an event"},
		{sim.Anchor{Event: sim.EventLanding}, 2002 * ms, 2005 * ms, "cut short by the limit"},
		{sim.Anchor{Event: "no such event"}, 0, 0, "no time at all: one tick"},
	} {
		s := heron()
		s.Until, s.Limit = c.until, c.limit
		w := New(s)
		tick, ok := w.Step(nil)
		for ok {
			tick, ok = w.Step(nil)
		}
		assert.Equal(t, c.want, tick.Now, c.reason)
		tick, ok = w.Step(nil)
		assert.Nil(t, tick, c.reason)
		assert.False(t, ok)
	}
}

func TestUntilLanding(t *testing.T) {
	r := fly(heron(), flyer)
	end := r.times[len(r.times)-1]
	assert.GreaterOrEqual(t, end, r.at(sim.EventLanding)+sim.Second)
	assert.Less(t, end, r.at(sim.EventLanding)+sim.Second+5*ms)
	for _, st := range r.last {
		assert.True(t, st.Landed)
	}
}

func TestNoPartFitted(t *testing.T) {
	s := heron()
	s.Bays, s.Limit = nil, 3*sim.Second
	tick, ok := New(s).Step(nil)
	assert.False(t, ok)
	assert.Equal(t, 3*sim.Second, tick.Now, "nothing to ask for: straight to the end")
}

func TestCommandsComeOnce(t *testing.T) {
	s := heron()
	s.Until = sim.Anchor{Offset: 2 * sim.Second}
	s.Rehearsed = []sim.Event{{Name: "apogee", At: 1800 * ms}}
	s.Commands = []sim.Command{
		{At: sim.Anchor{Offset: 101 * ms}, Bay: -1, What: sim.CommandArm},
		{At: sim.Anchor{Event: sim.EventLaunch}, Bay: 1, What: sim.CommandDisarm},
		{At: sim.Anchor{Event: "apogee", Offset: -100 * ms}, Bay: 0, What: sim.CommandStage},
		{At: sim.Anchor{Event: "never"}, Bay: 0, What: sim.CommandStage},
		{At: sim.Anchor{Offset: 0}, Bay: 9, What: sim.CommandArm},
	}
	type given struct {
		at   sim.Time
		bay  int
		what sim.Commands
	}
	var got []given
	r := fly(s, nil)
	for _, frames := range r.frames {
		for bay, f := range frames {
			if f.Commands != 0 {
				got = append(got, given{f.Now, bay, f.Commands})
				assert.True(t, f.Due)
			}
		}
	}
	assert.Equal(t, []given{
		{105 * ms, 0, sim.CommandArm}, {105 * ms, 1, sim.CommandArm},
		{sim.Second, 1, sim.CommandDisarm}, {1700 * ms, 0, sim.CommandStage},
	}, got)
}

func TestACommandMakesAFrameDue(t *testing.T) {
	s := heron()
	s.Bays[1].Sensors = sim.Sensors{Baro: sim.Barometer{Rate: 1}}
	s.Until = sim.Anchor{Offset: 500 * ms}
	s.Commands = []sim.Command{{At: sim.Anchor{Offset: 101 * ms}, Bay: 1, What: sim.CommandArm}}
	f := fly(s, nil).frames[21][1]
	assert.Equal(t, 105*ms, f.Now)
	assert.True(t, f.Due)
	assert.Equal(t, sim.CommandArm, f.Commands)
}

func TestSameSeedSameTicks(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := heron()
		s.Until = sim.Anchor{Offset: 4 * sim.Second}
		s.Seed = rapid.Uint64().Draw(t, "seed")
		s.Faults = []sim.Fault{{Kind: sim.NoiseBurst, Part: sim.PartBaro, Value: 100}}
		a := fly(s, flyer)
		require.Equal(t, a, fly(s, flyer))
		s.Seed++
		require.NotEqual(t, a.frames, fly(s, flyer).frames)
	})
}

func TestIndependentOfHowManyBaysThereAre(t *testing.T) {
	two, one := heron(), heron()
	two.Until, one.Until = sim.Anchor{Offset: 4 * sim.Second}, sim.Anchor{Offset: 4 * sim.Second}
	one.Bays = one.Bays[:1]
	a, b := fly(two, nil), fly(one, nil)
	for i := range a.frames {
		require.Equal(t, b.frames[i][0], a.frames[i][0])
	}
}

func TestRehearsal(t *testing.T) {
	s := heron()
	s.Faults = []sim.Fault{{Kind: sim.DeadIgniter, Stage: 0}}
	events := Rehearse(s)
	for _, e := range []string{"liftoff", "booster.burnout", "sustainer.ignition", "apogee", "sustainer.drogue", low, "landing"} {
		_, ok := sim.Anchor{Event: e}.In(events)
		assert.True(t, ok, "%s: the rehearsal knows no faults", e)
	}
	assert.True(t, slices.IsSortedFunc(events, func(a, b sim.Event) int { return int(a.At - b.At) }))
	assert.Equal(t, events, Rehearse(s), "always the same")
	s.Limit = 2 * sim.Second
	assert.LessOrEqual(t, Rehearse(s)[len(Rehearse(s))-1].At, 2*sim.Second)
	// Compared with one long step.
	f := flight.NewIdeal(heron())
	f.AdvanceTo(200 * sim.Second)
	assert.Len(t, f.Events(), len(events))
}

func TestStepsDoNotAllocateOnceWarm(t *testing.T) {
	w := New(heron())
	for range 1000 {
		w.Step(nil)
	}
	assert.Zero(t, testing.AllocsPerRun(500, func() { w.Step(nil) }))
}

// BenchmarkWorld flies a whole flight with two boards of usual rates; an op is one tick of 5 ms.
func BenchmarkWorld(b *testing.B) {
	b.ReportAllocs()
	var flown sim.Time
	var outs []sim.Output
	w := New(heron())
	for b.Loop() {
		t, ok := w.Step(outs)
		outs = outs[:0]
		for _, e := range t.Events {
			if o, found := flyer[e.Name]; found {
				outs = append(outs, o)
			}
		}
		if !ok {
			flown += t.Now
			w, outs = New(heron()), outs[:0]
		}
	}
	flown += w.tick.Now
	b.ReportMetric(flown.Seconds()/b.Elapsed().Seconds(), "x-realtime")
}
