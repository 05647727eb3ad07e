package record

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"drystage/harness"
	"drystage/sim"
)

func TestASourceGivesTheTicksOfItsRecord(t *testing.T) {
	rec := sample()
	end := rec.Times[rec.Ticks()-1]
	rec.Events = []sim.Event{{Name: "launch"}, {Name: "liftoff", At: 6 * sim.Millisecond}, {Name: "max_q", At: 10 * sim.Millisecond}, {Name: "apogee", At: end + 1}}
	src, err := NewSource(rec)
	require.NoError(t, err)
	outs := []sim.Output{{Channel: 1, On: true}}
	var got harness.Record
	found := map[string]sim.Time{}
	for more := true; more; {
		var tick *sim.Tick
		tick, more = src.Step(outs)
		got.Times, got.Active = append(got.Times, tick.Now), append(got.Active, tick.Active)
		got.States, got.Frames = append(got.States, tick.States...), append(got.Frames, tick.Frames...)
		got.Events = append(got.Events, tick.Events...)
		for _, e := range tick.Events {
			found[e.Name] = tick.Now
		}
		tick.States[0].Mass, tick.Frames[0].Battery = -1, -1 // what is done to a tick stays in that tick
	}
	assert.Equal(t, [4]any{rec.Times, rec.Active, rec.States, rec.Frames}, [4]any{got.Times, got.Active, got.States, got.Frames})
	assert.Equal(t, rec.Events, got.Events)
	assert.Equal(t, map[string]sim.Time{"launch": 0, "liftoff": 10 * sim.Millisecond, "max_q": 10 * sim.Millisecond, "apogee": end}, found,
		"each with the first tick at or after it, the rest with the last")

	tick, more := src.Step(nil)
	assert.False(t, more, "it stays at its end")
	assert.Equal(t, end, tick.Now)
	assert.Empty(t, tick.Events)
}

func TestASourceNeedsAWholeRecord(t *testing.T) {
	_, err := NewSource(&harness.Record{})
	assert.ErrorContains(t, err, "nothing to replay")
	rec := sample()
	rec.States = rec.States[1:]
	_, err = NewSource(rec)
	assert.ErrorContains(t, err, "don't fit together")
}
