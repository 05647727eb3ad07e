package run

import (
	"context"
	"errors"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"drystage/harness"
	"drystage/harness/board/link"
	"drystage/harness/board/mock"
	"drystage/harness/files/suite"
	"drystage/harness/judge/verdict"
	"drystage/sim"
)

// short gives a shipped scenario that ends soon after launch.
func short(t *testing.T) []harness.Plan {
	s, err := suite.Load([]string{"scenarios/nominal.yaml"}, t.Output())
	require.NoError(t, err)
	s.Plans[0].Setup.Until = sim.Anchor{Event: sim.EventLiftoff, Offset: sim.Second}
	return s.Plans
}

func TestOpenRefuses(t *testing.T) {
	loads := errors.New("somebody said no")
	undriven := short(t)
	undriven[0].Boards[0].Lockstep = false
	for _, c := range []struct {
		reason string
		opt    Options
		plans  []harness.Plan
		safety bool
		says   string
	}{
		{"a role that no plan has", Options{Boards: []string{"sustaner=mock"}}, short(t), false, `found no board sustaner, wanted one of sustainer, booster; did you mean "sustainer"?`},
		{"a defect that nobody knows", Options{Boards: []string{"mock:sleeps"}}, short(t), false, "sleeps"},
		{"a board whose clock can't be driven", Options{}, undriven, false, "say --real-time"},
		{"a wired board without a rig", Options{Boards: []string{"serial:/dev/ttyUSB9"}}, short(t), true, "no rig declares the dummy loads of the board at serial:/dev/ttyUSB9"},
		{"a real board that nobody has confirmed", Options{Boards: []string{"tcp:127.0.0.1:9"}}, short(t), true, "nobody has confirmed"},
		{"a board about which somebody said no", Options{Boards: []string{"tcp:127.0.0.1:9"}, Confirm: func() error { return loads }}, short(t), false, "somebody said no"},
		{"a rig that is not there", Options{Rig: "no.yaml"}, short(t), false, "--rig no file at no.yaml"},
		{"a receiver's input that no board has", Options{NMEA: []string{"sustainer=tcp:127.0.0.1:9"}}, short(t), false, "no scenario here has a board sustainer with an input"},
	} {
		t.Run(c.reason, func(t *testing.T) {
			_, err := Open(t.Context(), c.opt, c.plans)
			require.ErrorContains(t, err, c.says)
			assert.Equal(t, c.safety, errors.As(err, &RefusedError{}))
		})
	}
}

// A plan that needs it is rehearsed when it is its turn, its record names where the boards were, and a board that does not open
// leaves a record that says so.
func TestFly(t *testing.T) {
	plans := append(short(t), short(t)...)
	plans[1].Setup.Faults = []sim.Fault{{Kind: sim.Spike, Part: sim.PartBaro, From: sim.Anchor{Event: sim.EventApogee, Offset: -sim.Second}, Duration: sim.Millisecond, Value: 1}}
	unopened := 0
	b, err := Open(t.Context(), Options{Boards: []string{"sustainer=exec:no-such-program", "booster=mock"}, AnswerLimit: 5 * time.Second}, plans)
	require.NoError(t, err)
	require.Equal(t, []harness.BoardAddress{{Role: "sustainer", Address: "exec:no-such-program"}, {Role: "booster", Address: "mock"}}, b.Addresses(plans))
	require.NoError(t, b.Fly(t.Context(), plans, func(i int, rec *harness.Record) error {
		require.False(t, rec.Complete())
		require.Contains(t, rec.Cause, "board sustainer: ")
		require.Contains(t, rec.Cause, "no-such-program")
		require.Len(t, rec.Health, 2)
		require.Equal(t, i == 1, rec.Plan.Setup.Rehearsed != nil, "only what happens before an event needs it")
		require.Equal(t, []string{"exec:no-such-program", "mock"}, rec.Made.Boards)
		unopened++
		return nil
	}))
	require.Equal(t, 2, unopened)
	require.NoError(t, b.Defect("").Fly(t.Context(), plans[:1], func(_ int, rec *harness.Record) error {
		require.True(t, rec.Complete(), rec.Cause)
		require.NotEmpty(t, verdict.Judge(rec).Findings)
		return nil
	}))
	require.NoError(t, b.Close())
}

// On a simulated rig every load is declared and measured first, and pins bear out what a board says.
func TestOnARig(t *testing.T) {
	plans := short(t)
	b, err := Open(t.Context(), Options{Rig: "scenarios/rigs/simulated.yaml", Notes: t.Output()}, plans)
	require.NoError(t, err)
	require.NotNil(t, b.Rig)
	require.NoError(t, b.Fly(t.Context(), plans, func(_ int, rec *harness.Record) error {
		require.True(t, rec.Complete(), rec.Cause)
		require.Equal(t, "scenarios/rigs/simulated.yaml", rec.Made.Rig)
		require.Empty(t, rec.Conflicts)
		require.NotEmpty(t, rec.Unmeasured, "nobody has measured the shipped rig")
		return nil
	}))
	require.NoError(t, b.Close())
}

// Links may be given by role in place of addresses.
func TestLinks(t *testing.T) {
	plans := short(t)
	var asked []string
	b, err := Open(t.Context(), Options{Jobs: 1, Link: func(role string) (link.Link, error) {
		asked = append(asked, role)
		return nil, errors.New("no such port")
	}}, plans)
	require.NoError(t, err)
	defer b.Close()
	require.NoError(t, b.Fly(t.Context(), plans, func(_ int, rec *harness.Record) error {
		require.Equal(t, "board sustainer: no such port", rec.Cause)
		return nil
	}))
	require.Equal(t, []string{"sustainer"}, asked)
}

// slowToClose is a line whose closing takes until it is let go.
type slowToClose struct {
	link.Link
	once         sync.Once
	read, closed chan struct{}
}

func (s *slowToClose) Read(p []byte) (int, error) {
	s.once.Do(func() { close(s.read) })
	return s.Link.Read(p)
}

func (s *slowToClose) Close() error {
	<-s.closed
	return s.Link.Close()
}

// End waits as a program does that takes its time.
func (s *slowToClose) End() link.End {
	<-s.closed
	return link.End{}
}

func (s *slowToClose) Waited(bool) time.Duration { return 0 }

var _ link.Program = (*slowToClose)(nil)

// An interrupt doesn't wait for a board that is slow to close, so that what was flown can be told before; Close does.
func TestInterruptDoesNotWaitForBoards(t *testing.T) {
	plans := short(t)
	slow := &slowToClose{read: make(chan struct{}), closed: make(chan struct{})}
	b, err := Open(t.Context(), Options{Jobs: 1, Link: func(string) (link.Link, error) {
		guest, err := mock.New("")
		slow.Link = link.Memory(guest)
		return slow, err
	}}, plans)
	require.NoError(t, err)
	ctx, interrupt := context.WithCancel(t.Context())
	go func() {
		<-slow.read
		interrupt()
	}()
	require.ErrorIs(t, b.Fly(ctx, plans, func(int, *harness.Record) error { return nil }), context.Canceled)
	done := make(chan error, 1)
	go func() { done <- b.Close() }()
	select {
	case <-done:
		t.Fatal("Close did not wait for the board")
	case <-time.After(50 * time.Millisecond):
	}
	close(slow.closed)
	require.NoError(t, <-done)
}
