package world

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"drystage/sim"
)

// told are the words of a continuity check: when it spoke, and which channels it found open or shorted.
type told struct {
	at    sim.Time
	open  uint16
	short uint16
}

// TestContinuity: what the check of the sustainer's board reads. Its outputs 1, 2 and 3 are wired, and 4 is a buzzer.
func TestContinuity(t *testing.T) {
	const rest = 0xFFF8 // channels on which nothing hangs
	lost := func(from, long sim.Time, channel int) sim.Fault {
		return sim.Fault{Kind: sim.WireLost, Channel: channel, From: sim.Anchor{Offset: from}, Duration: long}
	}
	for _, c := range []struct {
		reason string
		faults []sim.Fault
		plan   map[sim.Time][]sim.Output
		want   []told
	}{
		{"once a second", nil, nil, []told{{0, rest, 0}, {1000 * ms, rest, 0}}},
		{"a wire comes off and is put back", []sim.Fault{lost(203*ms, 50*ms, 2)}, nil,
			[]told{{0, rest, 0}, {205 * ms, rest | 2, 0}, {255 * ms, rest, 0}, {1255 * ms, rest, 0}}},
		{"a wire is shorted", []sim.Fault{{Kind: sim.WireShorted, Channel: 3, From: sim.Anchor{Offset: 300 * ms}}}, nil,
			[]told{{0, rest, 0}, {300 * ms, rest, 4}, {1300 * ms, rest, 4}}},
		{"an igniter burns through after its 20 ms", nil, map[sim.Time][]sim.Output{100 * ms: {{Channel: 2, On: true}}},
			[]told{{0, rest, 0}, {120 * ms, rest | 2, 0}, {1120 * ms, rest | 2, 0}}},
		{"a pulse that is too short burns nothing", nil, map[sim.Time][]sim.Output{100 * ms: {{Channel: 2, On: true}}, 110 * ms: {{Channel: 2}}},
			[]told{{0, rest, 0}, {1000 * ms, rest, 0}}},
		{"nothing burns on a wire that is lost", []sim.Fault{lost(50*ms, 200*ms, 2)}, map[sim.Time][]sim.Output{100 * ms: {{Channel: 2, On: true}}, 200 * ms: {{Channel: 2}}},
			[]told{{0, rest, 0}, {50 * ms, rest | 2, 0}, {250 * ms, rest, 0}, {1250 * ms, rest, 0}}},
		{"a board that has started again is told again", []sim.Fault{cut(100*ms, 50*ms)}, nil,
			[]told{{0, rest, 0}, {445 * ms, rest, 0}, {1445 * ms, rest, 0}}},
	} {
		s := heron()
		s.Until = sim.Anchor{Offset: 1500 * ms}
		s.Bays[0].Checks, s.Faults = true, c.faults
		w := New(s)
		var got []told
		var outs []sim.Output
		for ok := true; ok; {
			var tick *sim.Tick
			tick, ok = w.Step(outs)
			outs = c.plan[tick.Now]
			if f := &tick.Frames[0]; f.Has&sim.HasCircuits != 0 {
				got = append(got, told{tick.Now, f.Circuits.Open, f.Circuits.Short})
			}
			assert.Zero(t, tick.Frames[1].Has&sim.HasCircuits, "the other board has no check")
		}
		assert.Equal(t, c.want, got, c.reason)
	}
}

// TestLostWire: an output with a lost or shorted wire opens nothing; one that is put back while the output is on does.
func TestLostWire(t *testing.T) {
	on := map[sim.Time][]sim.Output{100 * ms: {{Channel: 2, On: true}}}
	for _, c := range []struct {
		reason string
		fault  sim.Fault
		opens  bool
	}{
		{"another wire", sim.Fault{Kind: sim.WireLost, Channel: 3}, true},
		{"its own", sim.Fault{Kind: sim.WireLost, Channel: 2}, false},
		{"shorted", sim.Fault{Kind: sim.WireShorted, Channel: 2}, false},
		{"put back", sim.Fault{Kind: sim.WireLost, Channel: 2, Duration: 200 * ms}, true},
		{"it comes off after the igniter has burnt", sim.Fault{Kind: sim.WireLost, Channel: 2, From: sim.Anchor{Offset: 130 * ms}}, true},
		{"it comes off before", sim.Fault{Kind: sim.WireLost, Channel: 2, From: sim.Anchor{Offset: 110 * ms}}, false},
	} {
		s := heron()
		s.Until, s.Faults = sim.Anchor{Offset: sim.Second}, []sim.Fault{c.fault}
		assert.Equal(t, c.opens, opened(s, "sustainer.drogue", on), c.reason)
	}
}
