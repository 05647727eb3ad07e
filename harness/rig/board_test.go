package rig

import (
	"context"
	"errors"
	"os"
	"runtime"
	"testing"
	"time"

	"drystage/harness"
	"drystage/harness/board"
	"drystage/harness/board/boardtest"
	"drystage/harness/board/link"
	"drystage/sim"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// script is a board that does what the test wants at exchange n.
type script struct {
	n      int
	does   map[int][]harness.Edge
	within sim.Time
	err    error
	closed bool
	during func(n int) // called inside the exchange
}

func (s *script) Finish(context.Context, *harness.Reply) error { return nil }

func (s *script) Exchange(_ context.Context, f *sim.Frame, r *harness.Reply) error {
	for _, e := range s.does[s.n] {
		e.Within = s.within
		r.Outputs = append(r.Outputs, e)
	}
	if s.during != nil {
		s.during(s.n)
	}
	s.n++
	return s.err
}

func (s *script) Health() harness.Health { return harness.Health{RoundTrips: s.n} }
func (s *script) Close() error           { s.closed = true; return nil }

func testBay() *sim.Bay {
	return &sim.Bay{Name: "sustainer", Wires: []sim.Wire{{Channel: 1, Name: "ignite"}, {Channel: 2, Name: "drogue"}, {Channel: 3, Name: "lamp"}}}
}

// flown flies a scripted board through n frames of 10 ms in lockstep on a simulated rig, and gives its
// record.
func flown(t *testing.T, s harness.Rig, b *script, n int) *harness.Record {
	r, err := Open(t.Context(), s, Options{})
	require.NoError(t, err)
	defer r.Close()
	w, err := r.Wrap(b, Mount{Bay: testBay()})
	require.NoError(t, err)
	rec := new(harness.Record)
	for i := range n {
		var reply harness.Reply
		f := sim.Frame{Now: sim.Time(i) * 10 * sim.Millisecond, Due: true, Powered: true}
		require.NoError(t, w.Exchange(t.Context(), &f, &reply))
		rec.Outputs, rec.Times = append(rec.Outputs, reply.Outputs...), append(rec.Times, f.Now)
	}
	require.NoError(t, w.Close())
	assert.True(t, b.closed)
	w.AddPinTimes(rec)
	return rec
}

func out(c int, on bool, at sim.Time) harness.Edge {
	return harness.Edge{Output: sim.Output{Channel: c, On: on, At: at}}
}

// within gives edges an uncertainty.
func within(u sim.Time, edges ...harness.Edge) []harness.Edge {
	for i := range edges {
		edges[i].Within = u
	}
	return edges
}

func TestBoardAndPinInLockstep(t *testing.T) {
	const ms = sim.Millisecond
	pulse := func() *script {
		return &script{within: 6 * ms, does: map[int][]harness.Edge{1: {out(1, true, 10*ms)}, 3: {out(1, false, 30*ms), out(3, true, 30*ms)}}}
	}
	want := within(6*ms, out(1, true, 10*ms), out(1, false, 30*ms), out(3, true, 30*ms))
	told := func(on bool, at sim.Time) harness.Conflict {
		return harness.Conflict{Channel: 1, On: on, Told: at, ToldWithin: 6 * ms, HasTold: true}
	}
	for _, c := range []struct {
		reason    string
		wire      harness.SimulatedWire
		conflicts []harness.Conflict
	}{
		{"a whole wire", harness.WireWhole, nil},
		{"one that bounces for 5 ms is one edge all the same", harness.WireBounces, nil},
		{"a loose wire: the pin says no, the board says yes", harness.WireLoose, []harness.Conflict{told(true, 10*ms), told(false, 30*ms)}},
	} {
		s := simulatedSpec("")
		s.Boards[0].Outputs[0].Wire = c.wire
		rec := flown(t, s, pulse(), 6)
		assert.Equal(t, want, rec.Outputs, c.reason)
		assert.Equal(t, c.conflicts, rec.Conflicts, c.reason)
	}
}

// An output that fires without a report is seen by its pin, has its effect, and fails the run.
func TestAPinThatMovesUnbidden(t *testing.T) {
	const ms = sim.Millisecond
	s := simulatedSpec("")
	r, err := Open(t.Context(), s, Options{})
	require.NoError(t, err)
	defer r.Close()
	sims := r.host.(*simulated)
	b := &script{within: 6 * ms}
	w, err := r.Wrap(b, Mount{Bay: testBay()})
	require.NoError(t, err)
	b.during = func(n int) {
		if n == 1 {
			sims.move("P2", false)
			require.True(t, r.monitorOf("sustainer", "drogue").waitFor(t.Context(), true, 10*time.Second))
		}
	}
	var all harness.Reply
	for i := range 4 {
		require.NoError(t, w.Exchange(t.Context(), &sim.Frame{Now: sim.Time(i) * 10 * ms, Due: true, Powered: true}, &all))
	}
	assert.Equal(t, within(board.EdgeUncertainty(&sim.Sensors{}), out(2, true, 10*ms)), all.Outputs, "the flight feels it")
	rec := &harness.Record{Outputs: all.Outputs}
	w.AddPinTimes(rec)
	assert.Len(t, rec.Outputs, 1)
	assert.Equal(t, []harness.Conflict{{Channel: 2, On: true, Seen: 10 * ms, SeenWithin: board.EdgeUncertainty(&sim.Sensors{}), HasSeen: true}}, rec.Conflicts)
}

// In real time the board's edges are passed on at once. After the run the pin's time replaces theirs if it is more
// certain.
func TestBoardAndPinInRealTime(t *testing.T) {
	const ms = sim.Millisecond
	for _, c := range []struct {
		reason          string
		within, off     sim.Time // of the board's clock
		known           PathTiming
		simulated, nail bool // nail: the pin never moves
		basis           harness.Basis
		told, seen      bool // in a conflict
	}{
		{"the pin is worth more", 200 * ms, 0, PathTiming{Within: 100 * ms}, false, false, harness.ByPin, false, false},
		{"the board's clock is worth more than a rig that was never measured", 100 * ms, 0, PathTiming{Within: 200 * ms}, false, false, harness.ByClock, false, false},
		{"a clock that is wrong by ten seconds: both times are named, the pin counts", ms, -10 * sim.Second, PathTiming{Within: 100 * ms}, false, false, harness.ByPin, true, true},
		{"a simulated pin is worth no more than arrival", 900 * ms, 0, PathTiming{Within: ms}, true, false, harness.ByClock, false, false},
		{"the pin never moved", 100 * ms, 0, PathTiming{Within: ms}, false, true, harness.ByClock, true, false},
	} {
		began := time.Now()
		run := func(t time.Time) sim.Time { return sim.Time(t.Sub(began)) }
		s := simulatedSpec("")
		r, err := Open(t.Context(), s, Options{})
		require.NoError(t, err)
		r.Spec.Simulated = c.simulated
		if c.nail {
			r.Spec.Boards[0].Outputs[0].Wire = harness.WireLoose
		}
		b := &script{within: c.within, does: map[int][]harness.Edge{}}
		w, err := r.Wrap(b, Mount{Bay: testBay(), RunTime: run, Timing: func(string) PathTiming { return c.known }})
		require.NoError(t, err)
		rec := new(harness.Record)
		for i := range 14 {
			now := run(time.Now())
			e := out(1, true, now+c.off)
			e.Basis, e.Came = harness.ByClock, now
			b.does[2] = []harness.Edge{e}
			var reply harness.Reply
			require.NoError(t, w.Exchange(t.Context(), &sim.Frame{Now: now, Powered: true}, &reply))
			rec.Outputs, rec.Times = append(rec.Outputs, reply.Outputs...), append(rec.Times, now)
			if i == 2 {
				require.Len(t, rec.Outputs, 1, "its word goes on at once")
			}
			time.Sleep(10 * time.Millisecond)
		}
		require.NoError(t, w.Close())
		sims := r.host.(*simulated)
		sims.move("P2", false) // after the end, as BYE may switch: no part of the run
		w.AddPinTimes(rec)
		require.NoError(t, r.Close())
		require.Len(t, rec.Outputs, 1, c.reason)
		assert.Equal(t, c.basis, rec.Outputs[0].Basis, c.reason)
		if !c.told && !c.seen {
			assert.Empty(t, rec.Conflicts, c.reason)
			continue
		}
		require.Len(t, rec.Conflicts, 1, c.reason)
		assert.Equal(t, []bool{c.told, c.seen}, []bool{rec.Conflicts[0].HasTold, rec.Conflicts[0].HasSeen}, c.reason)
	}
}

func TestSupplyAndArmingFollowTheFlight(t *testing.T) {
	r, h := opened(t)
	r.Spec.Simulated = true // no waiting for a boot
	b := &script{}
	w, err := r.Wrap(b, Mount{Bay: testBay()})
	require.NoError(t, err)
	h.told()
	step := func(f sim.Frame) []string {
		require.NoError(t, w.Exchange(t.Context(), &f, new(harness.Reply)))
		return h.told()
	}
	assert.Equal(t, []string{"P5 Low"}, step(sim.Frame{Powered: true}), "supplied with the first powered frame")
	assert.Equal(t, []string{"P6 High"}, step(sim.Frame{Powered: true, Commands: sim.CommandArm}))
	assert.Empty(t, step(sim.Frame{Powered: true}))
	assert.Equal(t, []string{"P5 High"}, step(sim.Frame{}), "a brown-out is a real one")
	assert.Empty(t, step(sim.Frame{}))
	assert.Equal(t, []string{"P5 Low"}, step(sim.Frame{Powered: true}))
	assert.Equal(t, []string{"P6 Low"}, step(sim.Frame{Powered: true, Commands: sim.CommandDisarm}))

	src := r.Breakwires(&events{{{Name: sim.EventLiftoff}}, {}, {{Name: sim.EventSeparation}}})
	src.Step(nil)
	assert.Empty(t, h.told(), "no liftoff breakwire on this rig")
	src.Step(nil)
	src.Step(nil)
	assert.Equal(t, []string{"P7 Low"}, h.told(), "the breakwire opens at separation")
	_, ok := src.Step(nil)
	assert.False(t, ok)

	require.NoError(t, w.Close())
	assert.Equal(t, []string{"P5 High"}, h.told())
	_, err = r.Wrap(b, Mount{Bay: testBay()})
	require.NoError(t, err)
	assert.Equal(t, []string{"P7 High"}, h.told(), "whole again for the next run")
}

// events is a source of nothing but events.
type events [][]sim.Event

func (e *events) Step([]sim.Output) (*sim.Tick, bool) {
	if len(*e) == 0 {
		return nil, false
	}
	t := &sim.Tick{Events: (*e)[0]}
	*e = (*e)[1:]
	return t, true
}

// TestCircuitsFollowTheFlight: relays open the circuit of an output whose wire is lost, and short that of another, before
// the board gets the tick; a new run begins with all of them whole.
func TestCircuitsFollowTheFlight(t *testing.T) {
	s := spec()
	s.Simulated = true
	relay := func(does harness.DriveKind, label, pin, output string, low bool) harness.Drive {
		return harness.Drive{Pin: harness.Pin{Name: pin, ActiveLow: low}, Label: label, Does: does, Role: "sustainer", Output: output, SafeOn: does == harness.DriveWire}
	}
	s.Drives = []harness.Drive{relay(harness.DriveWire, "wire", "P5", "drogue", true), relay(harness.DriveShort, "short", "P6", "ignite", false)}
	r, err := Open(t.Context(), s, Options{})
	require.NoError(t, err)
	defer r.Close()
	host := r.host.(*simulated)
	levels := func() [2]bool { return [2]bool{host.line("P5").level, host.line("P6").level} }
	whole := [2]bool{false, false} // the wire's pin is active low
	var during [][2]bool
	fly := func(frames ...sim.Frame) {
		w, err := r.Wrap(&script{during: func(int) { during = append(during, levels()) }}, Mount{Bay: testBay()})
		require.NoError(t, err)
		assert.Equal(t, whole, levels(), "before a run")
		for i := range frames {
			frames[i].Now, frames[i].Due, frames[i].Powered = sim.Time(i)*10*sim.Millisecond, true, true
			require.NoError(t, w.Exchange(t.Context(), &frames[i], new(harness.Reply)))
		}
		require.NoError(t, w.Close())
	}
	circuits := func(open, short uint16) sim.Frame {
		return sim.Frame{Has: sim.HasCircuits, Circuits: sim.Circuits{Open: open, Short: short}}
	}
	fly(circuits(0, 0), circuits(1<<1, 0), sim.Frame{}, circuits(0, 1), circuits(1<<1|1<<2, 0))
	assert.Equal(t, [][2]bool{whole, {true, false}, {true, false}, {false, true}, {true, false}}, during)
	fly(circuits(0, 0))
	require.NoError(t, r.Close())
	assert.Equal(t, whole, levels(), "after the runs")
}

func TestTroubleEndsTheRun(t *testing.T) {
	r, h := opened(t)
	r.Spec.Simulated = true
	w, err := r.Wrap(&script{}, Mount{Bay: testBay()})
	require.NoError(t, err)
	h.fail["P7"] = true
	r.Breakwires(&events{{{Name: sim.EventSeparation}}}).Step(nil)
	err = w.Exchange(t.Context(), &sim.Frame{Powered: true}, new(harness.Reply))
	assert.ErrorContains(t, err, "drive wire: pin trouble: P7 is stuck")
	_, err = r.Wrap(&script{}, Mount{Bay: &sim.Bay{Name: "booster"}})
	assert.ErrorContains(t, err, "no board booster on")
	broken := errors.New("gone")
	h.fail["P7"] = false
	w, err = r.Wrap(&script{err: broken}, Mount{Bay: testBay()})
	require.NoError(t, err)
	assert.ErrorIs(t, w.Exchange(t.Context(), &sim.Frame{Powered: true}, new(harness.Reply)), broken)
}

// On a rig a real client keeps the rules of a board.
func TestAClientOnTheRigKeepsTheLaws(t *testing.T) {
	s := simulatedSpec("")
	s.Boards[0].Role = boardtest.Bay().Name
	for i := range s.Drives {
		s.Drives[i].Role = s.Boards[0].Role
	}
	r, err := Open(t.Context(), s, Options{})
	require.NoError(t, err)
	defer r.Close()
	bay := boardtest.Bay()
	c := board.NewClient(link.Memory(boardtest.NewFake(boardtest.None)), harness.Board{Role: bay.Name,
		Settings: []harness.Setting{{Name: boardtest.SettingName, Value: 0.05}}}, bay, board.Options{})
	w, err := r.Wrap(c, Mount{Bay: bay})
	require.NoError(t, err)
	assert.Same(t, c, w.Unwrap())
	require.NoError(t, boardtest.Check(w))
}

// Runs leak neither goroutines nor files nor memory of the rig.
func TestRunsLeakNothing(t *testing.T) {
	files := func() int {
		fds, err := os.ReadDir("/proc/self/fd")
		if err != nil {
			t.Log("this system does not list open files")
		}
		return len(fds)
	}
	before, open := runtime.NumGoroutine(), files()
	folder := t.TempDir()
	for range 50 {
		r, err := Open(t.Context(), simulatedSpec(folder), Options{})
		require.NoError(t, err)
		require.NoError(t, r.Close())
	}
	assert.LessOrEqual(t, files(), open)
	for began := time.Now(); runtime.NumGoroutine() > before; time.Sleep(time.Millisecond) {
		require.Less(t, time.Since(began), 10*time.Second, "%d goroutines more", runtime.NumGoroutine()-before)
	}
}
