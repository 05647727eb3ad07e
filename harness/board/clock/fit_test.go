package clock_test

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"drystage/harness"
	"drystage/harness/board/clock"
	"drystage/sim"
)

// device is a board's true clock, at the other end of a line with true delays.
type device struct {
	offset sim.Time
	drift  float64
	tick   sim.Time // its clock counts in steps of this
	there  func() sim.Time
	back   func() sim.Time
}

// reads gives what the clock reads at a time of the bench.
func (d *device) reads(t sim.Time) sim.Time {
	b := t + d.offset + sim.Time(math.Round(d.drift*float64(t)))
	return b / d.tick * d.tick
}

// readings asks every 100 ms.
func (d *device) readings(n int) (rs []harness.ClockReading) {
	for i := range n {
		sent := sim.Time(i+1) * 100 * sim.Millisecond
		at := sent + d.there()
		rs = append(rs, harness.ClockReading{Bay: 1, Life: 2, Sent: sent, Came: at + d.back(), Board: d.reads(at)})
	}
	return rs
}

// queue gives delays of a line: a shortest delay and an exponential wait on top (the queue of a Poisson process,
// M/M/1), now and then ten times as long.
func queue(r *rand.Rand, least, mean sim.Time) func() sim.Time {
	return func() sim.Time {
		wait := r.ExpFloat64() * float64(mean)
		if r.IntN(20) == 0 {
			wait *= 10
		}
		return least + sim.Time(wait)
	}
}

func steady(t sim.Time) func() sim.Time { return func() sim.Time { return t } }

// TestCoverage: an expanded uncertainty (k = 2) is to hold in about 95 of 100 cases (JCGM 100:2008,
// 6.2.2). Over many boards and lines, with stamps from all over the run.
func TestCoverage(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 5))
	for _, c := range []struct {
		reason      string
		tick        sim.Time
		there, back func() sim.Time
	}{
		{"a pseudo-terminal", sim.Microsecond, queue(r, 20*sim.Microsecond, 15*sim.Microsecond), queue(r, 20*sim.Microsecond, 15*sim.Microsecond)},
		{"a serial line at 115200 baud: the way back is longer", sim.Microsecond, queue(r, 1220*sim.Microsecond, 100*sim.Microsecond), queue(r, 1560*sim.Microsecond, 400*sim.Microsecond)},
		{"all of the delay on the way back", sim.Microsecond, steady(0), queue(r, 2*sim.Millisecond, 300*sim.Microsecond)},
		{"all of the delay on the way there", sim.Microsecond, queue(r, 2*sim.Millisecond, 300*sim.Microsecond), steady(0)},
		{"a USB adapter that gathers for up to 16 ms", sim.Microsecond, queue(r, sim.Millisecond, sim.Millisecond), func() sim.Time { return sim.Time(r.Int64N(int64(16 * sim.Millisecond))) }},
		{"a clock of milliseconds on a quick line", sim.Millisecond, queue(r, 20*sim.Microsecond, 15*sim.Microsecond), queue(r, 20*sim.Microsecond, 15*sim.Microsecond)},
		{"a clock of 10 ms", 10 * sim.Millisecond, queue(r, 100*sim.Microsecond, 15*sim.Microsecond), queue(r, 100*sim.Microsecond, 15*sim.Microsecond)},
	} {
		stamps, inside, worst := 0, 0, 0.0
		for range 200 {
			d := device{offset: sim.Time(r.Int64N(int64(20 * sim.Second))), drift: r.NormFloat64() * 50e-6, tick: c.tick, there: c.there, back: c.back}
			n := 40 + r.IntN(600)
			m, err := clock.Fit(d.readings(n), d.reads(sim.Time(r.Int64N(int64(10*sim.Second)))))
			require.NoError(t, err, c.reason)
			for range 20 {
				at := sim.Time(r.Int64N(int64(n+5) * int64(100*sim.Millisecond)))
				got, within := m.At(d.reads(at))
				require.Positive(t, within)
				stamps++
				if off := math.Abs(float64(got - at)); off <= float64(within) {
					inside++
				} else {
					worst = max(worst, off/float64(within))
				}
			}
		}
		assert.GreaterOrEqual(t, float64(inside)/float64(stamps), 0.95, "%s (at worst %.2f times)", c.reason, worst)
	}
}

// TestSteps: questions that are synchronous with the board's clock can't show its resolution; its time stamps can.
func TestSteps(t *testing.T) {
	d := device{tick: 5 * ms, there: steady(0), back: steady(0)}
	alone, err := clock.Fit(d.readings(20))
	require.NoError(t, err)
	assert.InDelta(t, 200/math.Sqrt(3), alone.Within.Seconds()*1e3, 1e-3, "as coarse as the questions")
	m, err := clock.Fit(d.readings(20), 735*ms)
	require.NoError(t, err)
	assert.InDelta(t, 10/math.Sqrt(3), m.Within.Seconds()*1e3, 1e-3)
}

// TestUncertaintyIsOfUse: on a quick line it is no longer than the delay there and back.
func TestUncertaintyIsOfUse(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 1))
	d := device{drift: 30e-6, tick: sim.Microsecond, there: queue(r, 20*sim.Microsecond, 15*sim.Microsecond), back: queue(r, 20*sim.Microsecond, 15*sim.Microsecond)}
	m, err := clock.Fit(d.readings(500))
	require.NoError(t, err)
	assert.Less(t, m.Within, 100*sim.Microsecond)
	assert.InDelta(t, 30e-6, m.Drift, 1e-6)
	assert.Equal(t, harness.BoardClock{Bay: 1, Life: 2, Readings: 500, Used: m.Used, Delay: m.Delay, Offset: m.Offset, Drift: m.Drift, Within: m.Within}, m.BoardClock)
	assert.Greater(t, m.Used, 24)
}

// TestLine holds the line against one of exact fractions: Python 3.11's fractions.Fraction through
// x = k + 1.0005, y = -0.05 + k/10000 + noise (k from 0 to 9), whose slope its
// statistics.linear_regression gives too.
func TestLine(t *testing.T) {
	noise := []sim.Time{0, 3, -2, 5, 1, -4, 2, 0, -1, 3}
	var rs []harness.ClockReading
	for k, e := range noise {
		sent := sim.Time(k+1) * sim.Second
		mid := sent + 500*sim.Microsecond
		b := mid - 50*sim.Millisecond + sim.Time(k)*100*sim.Microsecond + e*sim.Microsecond
		rs = append(rs, harness.ClockReading{Sent: sent, Came: sent + sim.Millisecond, Board: b})
	}
	m, err := clock.Fit(rs)
	require.NoError(t, err)
	require.Equal(t, 10, m.Used)
	const slope, middle, residual = 9.996969696969697e-05, -0.0495493, 2.8289627609833082e-06
	assert.InDelta(t, slope, m.Drift, 1e-12)
	assert.InDelta(t, middle, m.Offset.Seconds(), 1e-9)
	// The standard error of the line at its middle is s/sqrt(n) (Draper and Smith, Applied Regression
	// Analysis, 1.4; from memory); beside it the rectangle of the delay of 1 ms.
	want := 2 * math.Hypot(residual/math.Sqrt(10), 0.5e-3/math.Sqrt(3))
	assert.InDelta(t, want, m.Within.Seconds(), 2e-9)
	at, _ := m.At(rs[4].Board)
	assert.InDelta(t, 5.0005, at.Seconds(), 3e-6)
}

func TestRefused(t *testing.T) {
	d := device{offset: 5 * sim.Second, tick: sim.Microsecond, there: steady(50 * sim.Microsecond), back: steady(50 * sim.Microsecond)}
	for _, c := range []struct {
		reason string
		twist  func([]harness.ClockReading) []harness.ClockReading
		want   error
		text   string
	}{
		{"no reading", func(rs []harness.ClockReading) []harness.ClockReading { return nil }, clock.ErrFew, "0 usable, at least 8"},
		{"too few", func(rs []harness.ClockReading) []harness.ClockReading { return rs[:7] }, clock.ErrFew, "7 usable"},
		{"all at one time", func(rs []harness.ClockReading) []harness.ClockReading {
			return slices.Repeat(rs[:1], 20)
		}, clock.ErrFew, "1 usable"},
		{"milliseconds taken for microseconds", twisted(func(b sim.Time) sim.Time { return b / 1000 }), clock.ErrDrift, "runs 0.001 times as fast"},
		{"nanoseconds", twisted(func(b sim.Time) sim.Time { return b * 1000 }), clock.ErrDrift, "runs 1000 times as fast"},
		{"a clock that stands still", twisted(func(sim.Time) sim.Time { return sim.Second }), clock.ErrDrift, "runs"},
		{"a clock that runs backwards", twisted(func(b sim.Time) sim.Time { return sim.Second*100 - b }), clock.ErrDrift, "runs -1 times"},
	} {
		_, err := clock.Fit(c.twist(d.readings(50)))
		assert.ErrorIs(t, err, c.want, c.reason)
		assert.ErrorContains(t, err, c.text, c.reason)
	}
}

func twisted(twist func(sim.Time) sim.Time) func([]harness.ClockReading) []harness.ClockReading {
	return func(rs []harness.ClockReading) []harness.ClockReading {
		for i := range rs {
			rs[i].Board = twist(rs[i].Board)
		}
		return rs
	}
}

// TestJump: the uncertainty of a clock that jumps in the middle covers the jump, at any time stamp.
func TestJump(t *testing.T) {
	for _, jump := range []sim.Time{-500 * sim.Millisecond, 3 * sim.Millisecond, 700 * sim.Millisecond} {
		d := device{tick: sim.Microsecond, there: steady(50 * sim.Microsecond), back: steady(50 * sim.Microsecond)}
		rs := d.readings(1000)
		for i := 600; i < len(rs); i++ {
			rs[i].Board += jump
		}
		m, err := clock.Fit(rs, 1234567*sim.Microsecond)
		require.NoError(t, err)
		for _, r := range rs {
			at, within := m.At(r.Board)
			assert.LessOrEqual(t, r.Sent, at+within)
			assert.GreaterOrEqual(t, r.Came, at-within)
		}
		assert.Greater(t, m.Within, max(jump, -jump)/3)
	}
}

// lines draws a board, its line and its readings.
func lines(t *rapid.T) (device, []harness.ClockReading) {
	r := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 0))
	us := rapid.Int64Range(1, 5000)
	d := device{offset: sim.Time(rapid.Int64Range(0, 10_000).Draw(t, "offset, ms")) * sim.Millisecond,
		drift: rapid.Float64Range(-200e-6, 200e-6).Draw(t, "drift"), tick: sim.Microsecond,
		there: queue(r, sim.Time(us.Draw(t, "there, us"))*sim.Microsecond, 100*sim.Microsecond),
		back:  queue(r, sim.Time(us.Draw(t, "back, us"))*sim.Microsecond, 100*sim.Microsecond)}
	return d, d.readings(rapid.IntRange(60, 300).Draw(t, "readings"))
}

// TestLaws: what must hold of any line.
func TestLaws(t *testing.T) {
	t.Run("a slower reading beside a quick one moves nothing, unless it was taken where the line can't have been", rapid.MakeCheck(func(t *rapid.T) {
		_, rs := lines(t)
		m, err := clock.Fit(rs)
		require.NoError(t, err)
		i := rapid.IntRange(1, len(rs)-2).Draw(t, "which")
		slower := rs[i]
		slower.Came += sim.Time(rapid.Int64Range(1, 1e9).Draw(t, "slower by, ns"))
		more, err := clock.Fit(slices.Insert(slices.Clone(rs), i+1, slower))
		require.NoError(t, err)
		more.Readings--
		assert.Equal(t, m.BoardClock, more.BoardClock)
	}))
	t.Run("another zero of the board's clock moves the offset only", rapid.MakeCheck(func(t *rapid.T) {
		_, rs := lines(t)
		m, err := clock.Fit(rs)
		require.NoError(t, err)
		shift := sim.Time(rapid.Int64Range(0, 1e6).Draw(t, "us")) * sim.Microsecond
		for i := range rs {
			rs[i].Board += shift
		}
		n, err := clock.Fit(rs)
		require.NoError(t, err)
		for _, r := range rs {
			a, wa := m.At(r.Board - shift)
			b, wb := n.At(r.Board)
			assert.InDelta(t, float64(a), float64(b), 100, "ns")
			assert.InDelta(t, float64(wa), float64(wb), 100, "ns")
		}
	}))
	t.Run("the order of the readings is no matter", rapid.MakeCheck(func(t *rapid.T) {
		_, rs := lines(t)
		m, err := clock.Fit(rs)
		require.NoError(t, err)
		slices.Reverse(rs)
		n, err := clock.Fit(rs)
		require.NoError(t, err)
		assert.InDelta(t, float64(m.Offset), float64(n.Offset), 1e3, "ns: the sums are rounded in another order, ties go to another one")
		assert.InDelta(t, float64(m.Within), float64(n.Within), 1e4)
	}))
	t.Run("far from the readings a time is known no better than among them", rapid.MakeCheck(func(t *rapid.T) {
		d, rs := lines(t)
		m, err := clock.Fit(rs)
		require.NoError(t, err)
		far := sim.Time(rapid.Int64Range(0, 100).Draw(t, "s")) * sim.Second
		_, near := m.At(d.reads(rs[len(rs)/2].Sent))
		_, then := m.At(d.reads(rs[len(rs)-1].Sent + far))
		assert.GreaterOrEqual(t, then+1, near)
	}))
}
