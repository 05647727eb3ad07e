package timing_test

import (
	"testing"

	"drystage/harness"
	"drystage/harness/rig/timing"
	"drystage/sim"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

const (
	us = sim.Microsecond
	ms = sim.Millisecond
)

func told(c int, on bool, at, within sim.Time) timing.Reported {
	return timing.Reported{Edge: edge(c, on, at, within), HasClock: true}
}

func seen(c int, on bool, at, within sim.Time) timing.Captured {
	return timing.Captured{Channel: c, On: on, At: at, Within: within}
}

func edge(c int, on bool, at, within sim.Time) harness.Edge {
	return harness.Edge{Output: sim.Output{Bay: 1, Channel: c, On: on, At: at}, Within: within}
}

func TestWhichTimeCounts(t *testing.T) {
	type T = []timing.Reported
	type S = []timing.Captured
	type E = []harness.Edge
	for _, c := range []struct {
		reason    string
		told      T
		seen      S
		edges     E
		conflicts []harness.Conflict
		waiting   int
	}{
		{"a pin that is more certain than the board's clock", T{told(1, true, 100*ms, 2*ms)}, S{seen(1, true, 101*ms, ms)}, E{edge(1, true, 101*ms, ms)}, nil, 0},
		{"a board's clock that is more certain than the pin", T{told(1, true, 100*ms, ms)}, S{seen(1, true, 103*ms, 5*ms)}, E{edge(1, true, 100*ms, ms)}, nil, 0},
		{"alike: the pin", T{told(1, true, 100*ms, ms)}, S{seen(1, true, 101*ms, ms)}, E{edge(1, true, 101*ms, ms)}, nil, 0},
		{"just as far apart as can be explained", T{told(1, true, 100*ms, ms)}, S{seen(1, true, 103*ms, 2*ms)}, E{edge(1, true, 100*ms, ms)}, nil, 0},
		{"a nanosecond further: both times are named, the pin counts", T{told(1, true, 100*ms, ms)}, S{seen(1, true, 103*ms+1, 2*ms)}, E{edge(1, true, 103*ms+1, 2*ms)},
			[]harness.Conflict{{Bay: 1, Channel: 1, On: true, Told: 100 * ms, ToldWithin: ms, HasTold: true, Seen: 103*ms + 1, SeenWithin: 2 * ms, HasSeen: true}}, 0},
		{"the board says yes, the pin says no", T{told(1, true, 100*ms, ms)}, nil, E{edge(1, true, 100*ms, ms)},
			[]harness.Conflict{{Bay: 1, Channel: 1, On: true, Told: 100 * ms, ToldWithin: ms, HasTold: true}}, 0},
		{"the pin says yes, the board says nothing", nil, S{seen(1, true, 100*ms, ms)}, E{edge(1, true, 100*ms, ms)},
			[]harness.Conflict{{Bay: 1, Channel: 1, On: true, Seen: 100 * ms, SeenWithin: ms, HasSeen: true}}, 0},
		{"too early to say", T{told(1, true, 195*ms, ms)}, nil, nil, nil, 1},
		{"too early on the other side", nil, S{seen(1, true, 198*ms, ms)}, nil, nil, 1},
		{"no pin sees channel 3", T{told(3, true, 195*ms, ms)}, nil, E{edge(3, true, 195*ms, ms)}, nil, 0},
		{"arrival only: the middle of the span, 3 ms / sqrt(3) = 1.732 ms", T{{Edge: edge(3, true, 0, 0), Arrived: 103 * ms, Late: 3 * ms}}, nil,
			E{edge(3, true, 101500*us, 1732051)}, nil, 0},
		{"a pin is better than arrival", T{{Edge: edge(1, true, 0, 0), Arrived: 103 * ms, Late: 3 * ms}}, S{seen(1, true, 101*ms, 50*us)}, E{edge(1, true, 101*ms, 50*us)}, nil, 0},
		{"a pulse, both edges paired", T{told(1, true, 100*ms, ms), told(1, false, 120*ms, ms)}, S{seen(1, true, 100*ms, us), seen(1, false, 120*ms, us)},
			E{edge(1, true, 100*ms, us), edge(1, false, 120*ms, us)}, nil, 0},
		{"the first pulse was missed by the pin, the second was not", T{told(1, true, 100*ms, ms), told(1, false, 110*ms, ms)}, S{seen(1, false, 110*ms, us)},
			E{edge(1, true, 100*ms, ms), edge(1, false, 110*ms, us)}, []harness.Conflict{{Bay: 1, Channel: 1, On: true, Told: 100 * ms, ToldWithin: ms, HasTold: true}}, 0},
		{"two outputs 100 us apart keep their order, told the wrong way round", T{told(2, true, 100*ms, ms), told(1, true, 100*ms, ms)},
			S{seen(1, true, 100*ms, 10*us), seen(2, true, 100*ms+100*us, 10*us)}, E{edge(1, true, 100*ms, 10*us), edge(2, true, 100*ms+100*us, 10*us)}, nil, 0},
	} {
		o := timing.Merge(timing.Input{Bay: 1, Reported: c.told, Captured: c.seen, Watched: 3, Now: 200 * ms, PinWithin: 10 * ms, ReportWithin: 5 * ms})
		assert.Equal(t, c.edges, o.Edges, c.reason)
		assert.Equal(t, c.conflicts, o.Conflicts, c.reason)
		assert.Equal(t, c.waiting, len(o.Reported)+len(o.Captured), c.reason)
	}
}

// No edge is lost and none is invented: each is used once, in a pair or alone, or still waits. An edge alone on an
// output with a pin is a conflict.
func TestNothingIsLost(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m := timing.Input{Watched: uint16(rapid.IntRange(0, 7).Draw(t, "watched")), Now: 100, PinWithin: 20, ReportWithin: 10}
		at := sim.Time(0)
		for range rapid.IntRange(0, 8).Draw(t, "told") {
			at += sim.Time(rapid.IntRange(0, 20).Draw(t, "gap"))
			m.Reported = append(m.Reported, told(rapid.IntRange(1, 3).Draw(t, "c"), rapid.Bool().Draw(t, "on"), at, sim.Time(rapid.IntRange(0, 9).Draw(t, "u"))))
		}
		at = 0
		for range rapid.IntRange(0, 8).Draw(t, "seen") {
			c := rapid.IntRange(1, 3).Draw(t, "c")
			at += sim.Time(rapid.IntRange(0, 20).Draw(t, "gap"))
			if m.Watched>>(c-1)&1 == 1 {
				m.Captured = append(m.Captured, seen(c, rapid.Bool().Draw(t, "on"), at, sim.Time(rapid.IntRange(0, 9).Draw(t, "u"))))
			}
		}
		o := timing.Merge(m)
		alone, apart := 0, 0
		for _, c := range o.Conflicts {
			require.True(t, c.HasTold || c.HasSeen)
			if c.HasTold && c.HasSeen {
				apart++
			} else {
				alone++
			}
		}
		unwatched := 0
		for _, x := range m.Reported {
			if m.Watched>>(x.Channel-1)&1 == 0 {
				unwatched++
			}
		}
		pairs := len(o.Edges) - alone - unwatched
		require.Equal(t, len(m.Reported)+len(m.Captured), 2*pairs+alone+unwatched+len(o.Reported)+len(o.Captured))
		require.GreaterOrEqual(t, pairs, apart)
		end := timing.Merge(timing.Input{Reported: o.Reported, Captured: o.Captured, Watched: m.Watched, Now: sim.Never, PinWithin: 20, ReportWithin: 10})
		require.Empty(t, end.Reported)
		require.Empty(t, end.Captured, "at the end nothing waits any more")
	})
}
