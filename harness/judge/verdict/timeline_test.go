package verdict_test

import (
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"drystage/harness"
	"drystage/harness/judge/verdict"
	"drystage/sim"
)

// seen gives the only requirement of a record and when the drogue was on.
func seen(t assert.TestingT, rec *harness.Record) (verdict.Requirement, []verdict.OnInterval) {
	s, ok := verdict.TimelineOf(rec)
	assert.True(t, ok)
	var lights []verdict.OnInterval
	for _, l := range s.Outputs {
		if l.Channel.Bay == drogue.Bay && l.Channel.Channel == drogue.Channel {
			lights = l.On
		}
	}
	if len(s.Requirements) != 1 {
		return verdict.Requirement{}, lights
	}
	return s.Requirements[0], lights
}

// The timeline agrees with the verdict: comparing its on-intervals with its spans gives the verdict's answer and margin.
func TestTheWindowShownIsTheOneThatJudged(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		e := anything(t)
		e.Kind = harness.Fires
		rec := flight(e)
		for range rapid.IntRange(0, 2).Draw(t, "pulses") {
			on := sim.Time(rapid.Int64Range(0, 20e9).Draw(t, "on"))
			lit(rec, drogue, on, min(on+sim.Time(rapid.Int64Range(1, 3e9).Draw(t, "for")), s(21)), sim.Time(rapid.Int64Range(0, 1e9).Draw(t, "within")))
		}
		f := first(rec)
		d, lights := seen(t, rec)
		if len(lights) == 0 {
			return
		}
		if len(d.Spans) == 0 {
			assert.Equal(t, harness.Unsure, f.Answer, f.Reason)
			return
		}
		w, on := d.Spans[0], lights[0]
		low, high := on.On-on.OnWithin, on.On+on.OnWithin
		want := harness.Unsure
		switch {
		case w.From <= low && high <= w.To:
			want = harness.Pass
		case high < w.From || w.To < low:
			want = harness.Fail
		}
		assert.Equal(t, want, f.Answer, f.Reason)
		assert.InDelta(t, min(on.On-w.From, w.To-on.On).Seconds(), f.Margin, 1e-9)
		assert.False(t, d.Never)
	})
}

// The same for an output that must stay off: an exactly known on-interval fails only if it overlaps a span.
func TestTheDarkSpansShownAreThoseThatJudged(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		e := anything(t)
		e.Kind, e.Quantity = harness.Never, sim.NoQuantity
		rec := flight(e)
		on := sim.Time(rapid.Int64Range(0, 19e9).Draw(t, "on"))
		lit(rec, drogue, on, on+sim.Time(rapid.Int64Range(1, 1e9).Draw(t, "for")), 0)
		f := first(rec)
		d, lights := seen(t, rec)
		require.Len(t, lights, 1)
		meets := slices.ContainsFunc(d.Spans, func(w verdict.Span) bool { return lights[0].On <= w.To && w.From <= lights[0].Off })
		if open := len(d.Spans) == 1 && d.Spans[0].To == sim.Never; open && e.HasTo {
			assert.NotEqual(t, harness.Pass, f.Answer, "where it ends is not known: %s", f.Reason)
			return
		}
		assert.Equal(t, meets, f.Answer == harness.Fail, f.Reason)
		assert.True(t, d.Never)
	})
}

// Spans of a quantity out of bounds begin and end at ticks: an on-interval from tick to tick fails only if it overlaps one.
func TestTheSpansOutOfBoundsAreThoseThatJudged(t *testing.T) {
	tick := func(t *rapid.T, name string) sim.Time {
		return sim.Time(rapid.IntRange(0, 1999).Draw(t, name)) * 10 * ms
	}
	rapid.Check(t, func(t *rapid.T) {
		e := anything(t)
		e.Kind, e.HasMost = harness.Never, true
		e.Quantity = sim.Quantity(rapid.IntRange(1, len(sim.Quantities())).Draw(t, "of"))
		e.From, e.To = at("", tick(t, "window from")), at("", 20*sim.Second)
		rec := flight(e)
		on := tick(t, "lit")
		lit(rec, drogue, on, min(on+sim.Time(rapid.IntRange(1, 300).Draw(t, "ticks"))*10*ms, s(21)), 0)
		f := first(rec)
		d, lights := seen(t, rec)
		require.Len(t, lights, 1)
		if e.HasFrom && lights[0].Off == e.From.Offset || e.HasTo && lights[0].On == e.To.Offset {
			return // the one instant in common counts as well, and no picture shows it
		}
		meets := slices.ContainsFunc(d.Spans, func(w verdict.Span) bool { return lights[0].On < w.To && w.From < lights[0].Off })
		assert.Equal(t, meets, f.Answer == harness.Fail, "%v: %s", d.Spans, f.Reason)
		for i, w := range d.Spans {
			assert.Less(t, w.From, w.To)
			assert.True(t, i == 0 || w.From > d.Spans[i-1].To, "in order, and apart")
		}
	})
}

func TestWhatCantBeFoundIsNotShown(t *testing.T) {
	absent := at("booster.burnout", 0)
	for _, c := range []struct {
		reason string
		e      harness.Expectation
		want   []verdict.Span
	}{
		{"dark ever", never(), []verdict.Span{{From: -sim.Never, To: sim.Never}}},
		{"a window without its event", fires(absent, at("apogee", 0)), nil},
		{"one that never closes", fires(at("apogee", 0), absent), nil},
		{"dark until what never came", harness.Expectation{Kind: harness.Never, Output: drogue, To: absent, HasTo: true}, []verdict.Span{{From: -sim.Never, To: sim.Never}}},
		{"a window that closes before it opens", fires(at("apogee", s(1)), at("apogee", 0)), nil},
		{"a window", fires(at("apogee", s(-1)), at("apogee", s(1))), []verdict.Span{{From: s(9), To: s(11)}}},
	} {
		d, _ := seen(t, flight(c.e))
		assert.Equal(t, c.want, d.Spans, c.reason)
	}
}

// Outputs have names and are in order: wires first, then other outputs that switched; a malformed record gives nothing.
func TestOutputsThatAreShown(t *testing.T) {
	rec := lit(flight(), harness.Channel{Channel: 9}, s(1), s(2), ms)
	lit(rec, drogue, s(3), 0, ms)
	got, ok := verdict.TimelineOf(rec)
	require.True(t, ok)
	assert.Equal(t, []verdict.OutputHistory{
		{Channel: drogue, On: []verdict.OnInterval{{On: s(3), Off: s(20), OnWithin: ms, Open: true}}},
		{Channel: main},
		{Channel: harness.Channel{Channel: 9, Name: "sustainer.9"}, Undeclared: true, On: []verdict.OnInterval{{On: s(1), Off: s(2), OnWithin: ms, OffWithin: ms}}},
	}, got.Outputs)
	rec.States = nil
	_, ok = verdict.TimelineOf(rec)
	assert.False(t, ok)
	_, ok = verdict.TimelineOf(&harness.Record{})
	assert.True(t, ok, "nothing is well formed too")
}
