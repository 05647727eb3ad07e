package loop

import (
	"context"
	"errors"
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"drystage/harness"
	"drystage/harness/board"
	"drystage/sim"
)

// clockSource ticks once a second and remembers what it was given.
type clockSource struct {
	now, end sim.Time
	tick     sim.Tick
	given    [][]sim.Output
	broken   sim.Time // when a state is no number any more
}

func (s *clockSource) Step(outs []sim.Output) (*sim.Tick, bool) {
	s.given = append(s.given, append([]sim.Output(nil), outs...))
	s.now += sim.Second
	s.tick = sim.Tick{Now: s.now, States: make([]sim.State, 1), Frames: []sim.Frame{{Now: s.now, Due: true, Powered: true}}}
	if s.now == s.broken {
		s.tick.States[0].Mass = math.NaN()
	}
	if s.now == s.end {
		s.tick.Events = []sim.Event{{Name: "landing", At: s.now}, {Name: "max_q", At: s.now / 2}}
	}
	return &s.tick, s.now < s.end
}

// scriptBoard switches output 1 on at a given time and fails at another.
type scriptBoard struct {
	on, broken sim.Time
	closed     int
}

var errHung = errors.New("board: silent")

func (b *scriptBoard) Finish(context.Context, *harness.Reply) error { return nil }

func (b *scriptBoard) Exchange(_ context.Context, f *sim.Frame, r *harness.Reply) error {
	if f.Now == b.on {
		r.Outputs = append(r.Outputs, harness.Edge{Output: sim.Output{Channel: 1, On: true, At: f.Now}, Within: 3 * sim.Millisecond})
	}
	if f.Now == b.broken {
		return errHung
	}
	return nil
}
func (b *scriptBoard) Health() harness.Health { return harness.Health{Name: "script"} }
func (b *scriptBoard) Close() error           { b.closed++; return nil }

func plan() harness.Plan {
	return harness.Plan{
		Boards: []harness.Board{{Role: "sustainer"}},
		Setup: sim.Setup{
			Vehicle: sim.Vehicle{Stages: make([]sim.Stage, 1)}, Bays: make([]sim.Bay, 1),
			Until: sim.Anchor{Event: "landing"}, Limit: 100 * sim.Second,
		},
	}
}

func TestRun(t *testing.T) {
	for _, c := range []struct {
		reason   string
		board    scriptBoard
		until    sim.Anchor
		ticks    int
		complete bool
		cause    string
	}{
		{"reaching the planned end makes a record whole", scriptBoard{on: 2 * sim.Second}, sim.Anchor{Event: "landing"}, 5, true, ""},
		{"a board that fails ends the run, and the tick that broke is kept", scriptBoard{broken: 3 * sim.Second}, sim.Anchor{Event: "landing"}, 3, false, "board sustainer at 3.000 s: board: silent"},
		{"an end that is not reached leaves the record incomplete", scriptBoard{}, sim.Anchor{Event: "landing", Offset: sim.Second}, 5, false, "the run did not get to its planned end (landing + 1 s) by 5.000 s"},
	} {
		t.Run(c.reason, func(t *testing.T) {
			rec := harness.Record{Plan: plan()}
			rec.Plan.Setup.Until = c.until
			src := &clockSource{end: 5 * sim.Second}
			require.NoError(t, Run(t.Context(), src, []board.Board{&c.board}, Lockstep{}, &rec))
			require.Equal(t, c.ticks, rec.Ticks())
			require.Equal(t, c.complete, rec.Complete())
			require.Equal(t, c.cause, rec.Cause)
			require.Equal(t, "script", rec.Health[0].Name)
		})
	}
}

func TestRunClosesTheLoop(t *testing.T) {
	rec := harness.Record{Plan: plan()}
	src := &clockSource{end: 4 * sim.Second}
	require.NoError(t, Run(t.Context(), src, []board.Board{&scriptBoard{on: 2 * sim.Second}}, Lockstep{}, &rec))
	edge := sim.Output{Channel: 1, On: true, At: 2 * sim.Second}
	require.Equal(t, [][]sim.Output{nil, nil, {edge}, nil}, src.given, "an output reaches the source at its next step, once")
	require.Equal(t, []harness.Edge{{Output: edge, Within: 3 * sim.Millisecond}}, rec.Outputs)
	require.Equal(t, "max_q", rec.Events[0].Name, "events stand in order of time, though max_q is known late")
}

// A flight that comes to a number that is none goes no further.
func TestRunEndsAtNaN(t *testing.T) {
	rec := harness.Record{Plan: plan()}
	require.NoError(t, Run(t.Context(), &clockSource{end: 4 * sim.Second, broken: 2 * sim.Second}, []board.Board{&scriptBoard{}}, Lockstep{}, &rec))
	require.Equal(t, 2, rec.Ticks())
	require.False(t, rec.Complete())
	require.Equal(t, "the true state of stage 0 at tick 1, 2.000 s, holds a number that is none", rec.Cause)
	require.NotEmpty(t, rec.Flaw())
}

func TestRunStopsWhenTold(t *testing.T) {
	ctx, stop := context.WithCancel(t.Context())
	stop()
	rec := harness.Record{Plan: plan()}
	err := Run(ctx, &clockSource{end: 4 * sim.Second}, []board.Board{&scriptBoard{}}, Lockstep{}, &rec)
	require.ErrorIs(t, err, context.Canceled)
	require.False(t, rec.Complete())
	require.Equal(t, "bench: interrupted at 1.000 s", rec.Cause)
}

func TestRunWantsOneBoardPerBay(t *testing.T) {
	rec := harness.Record{Plan: plan()}
	require.ErrorContains(t, Run(t.Context(), &clockSource{}, nil, Lockstep{}, &rec), "0 boards for 1 bays")
}
