package clock_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"drystage/harness"
	"drystage/harness/board/clock"
	"drystage/sim"
)

const ms = sim.Millisecond

// known is a start whose clock is 3 s ahead, on a line of 50 us each way.
func known(bay, life int, from sim.Time) (rs []harness.ClockReading) {
	d := device{offset: 3 * sim.Second, tick: sim.Microsecond, there: steady(50 * sim.Microsecond), back: steady(50 * sim.Microsecond)}
	for _, r := range d.readings(50) {
		rs = append(rs, harness.ClockReading{Bay: bay, Life: life, Sent: r.Sent + from, Came: r.Came + from, Board: r.Board})
	}
	return rs
}

func edge(on bool, came, stamp sim.Time) harness.Edge {
	return harness.Edge{Output: sim.Output{Bay: 1, Channel: 2, On: on, At: came}, Came: came, Stamp: stamp, Basis: harness.ByClock, Life: 1}
}

// TestSettle: the time of one edge, at 2 s of the bench's clock.
func TestSettle(t *testing.T) {
	bare := edge(true, 2000*ms, 0)
	bare.Basis = harness.ByArrival
	stranger := edge(true, 2000*ms, 5000*ms)
	stranger.Life = 2
	other := edge(true, 2000*ms, 5000*ms)
	other.Bay = 0
	tick := edge(true, 2000*ms, 0)
	tick.Basis, tick.Within = harness.ByTick, 5*ms
	for _, c := range []struct {
		reason string
		e      harness.Edge
		at     sim.Time
		within sim.Time
		basis  harness.Basis
	}{
		{"its own stamp counts", edge(true, 2002*ms, 5000*ms), 2000 * ms, 57735, harness.ByClock},
		{"a stamp of the time to come: no later than it came, and less sure", edge(true, 2000*ms, 5400*ms), 2000 * ms, 400*ms + 57735, harness.ByClock},
		{"a stamp of long ago is not believed, but not excluded either", edge(true, 2500*ms, 3500*ms), 2500 * ms, 2000*ms + 57735, harness.ByArrival},
		{"a stamp of a while ago", edge(true, 2500*ms, 5100*ms), 2500 * ms, sim.Second, harness.ByArrival},
		{"no stamp at all", bare, 2000 * ms, sim.Second, harness.ByArrival},
		{"a life without a clock", stranger, 2000 * ms, sim.Second, harness.ByArrival},
		{"another board's clock is no help", other, 2000 * ms, sim.Second, harness.ByArrival},
		{"the bench's own doing", tick, 2000 * ms, 5 * ms, harness.ByTick},
	} {
		fine := edge(false, 4000*ms, 6999999*sim.Microsecond) // its clock counts microseconds
		rec := harness.Record{Readings: known(1, 1, 0), Outputs: []harness.Edge{c.e, fine}}
		clock.AssignTimes(&rec)
		e := rec.Outputs[0]
		assert.InDelta(t, float64(c.at), float64(e.At), 1, c.reason)
		assert.InDelta(t, float64(c.within), float64(e.Within), 100, c.reason)
		assert.Equal(t, c.basis, e.Basis, c.reason)
		assert.Equal(t, c.e.Stamp, e.Stamp, "what was measured stays")
	}
}

// TestTwoLives: each start has its own clock, and one that can't be fitted affects no other.
func TestTwoLives(t *testing.T) {
	rec := harness.Record{Readings: append(known(1, 2, 10*sim.Second), known(1, 1, 0)...)}
	second := edge(false, 12_001*ms, 5000*ms)
	second.Life = 2
	third := edge(true, 20_000*ms, 5000*ms)
	third.Life = 3
	rec.Outputs = []harness.Edge{edge(true, 2001*ms, 5000*ms), second, third}
	clock.AssignTimes(&rec)
	require.Len(t, rec.Clocks, 3)
	for i, c := range rec.Clocks {
		assert.Equal(t, i+1, c.Life)
		assert.Equal(t, 1, c.Bay)
	}
	assert.InDelta(t, float64(3*sim.Second), float64(rec.Clocks[0].Offset), 1)
	assert.InDelta(t, float64(-7*sim.Second), float64(rec.Clocks[1].Offset), 1)
	assert.Equal(t, "clock: too few answers: 0 usable, at least 8 are needed", rec.Clocks[2].Trouble, "no answer is told too")
	assert.InDelta(t, float64(2000*ms), float64(rec.Outputs[0].At), 1)
	assert.InDelta(t, float64(12_000*ms), float64(rec.Outputs[1].At), 1)
	assert.Equal(t, harness.ByArrival, rec.Outputs[2].Basis)
}

// TestOrder: edges of one output stay in the order in which they came, whatever their stamps say; a
// pulse can't end before it begins.
func TestOrder(t *testing.T) {
	rec := harness.Record{Readings: known(1, 1, 0), Outputs: []harness.Edge{
		edge(true, 2000*ms, 5000*ms+ms/2), edge(false, 2000*ms+ms, 4999*ms), edge(true, 2002*ms, 5001*ms),
	}}
	other := edge(true, 2003*ms, 4990*ms)
	other.Channel = 1
	rec.Outputs = append(rec.Outputs, other)
	clock.AssignTimes(&rec)
	var order []bool
	for _, e := range rec.Outputs[1:] {
		order = append(order, e.On)
	}
	assert.Equal(t, 1, rec.Outputs[0].Channel, "another output's edge came later, and was earlier")
	assert.Equal(t, []bool{true, false, true}, order)
	assert.Greater(t, rec.Outputs[2].Within, ms, "what its stamp said is inside")
}

// TestLockstepStays: a record in lockstep is left as it is.
func TestLockstepStays(t *testing.T) {
	rec := harness.Record{Outputs: []harness.Edge{{Output: sim.Output{On: true, At: 5}, Within: 3}, {Output: sim.Output{At: 7}, Within: 3}}}
	want := append([]harness.Edge(nil), rec.Outputs...)
	clock.AssignTimes(&rec)
	assert.Equal(t, want, rec.Outputs)
	assert.Empty(t, rec.Clocks)
}

// TestSettleTwice: assigning times again changes nothing.
func TestSettleTwice(t *testing.T) {
	rec := harness.Record{Readings: known(1, 1, 0), Outputs: []harness.Edge{edge(true, 2001*ms, 5000*ms), edge(false, 2050*ms, 5049*ms)}}
	clock.AssignTimes(&rec)
	once := append([]harness.Edge(nil), rec.Outputs...)
	clocks := append([]harness.BoardClock(nil), rec.Clocks...)
	clock.AssignTimes(&rec)
	assert.Equal(t, once, rec.Outputs)
	assert.Equal(t, clocks, rec.Clocks)
}
