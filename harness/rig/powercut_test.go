package rig

import (
	"context"
	"net"
	"os"
	"sync"
	"testing"
	"time"

	"drystage/harness"
	"drystage/harness/board"
	"drystage/harness/board/boardtest"
	"drystage/harness/board/contract"
	"drystage/harness/board/link"
	"drystage/harness/board/mock"
	"drystage/harness/files/scenario"
	"drystage/harness/judge/verdict"
	"drystage/harness/run/loop"
	"drystage/scenarios"
	"drystage/sim"
	"drystage/sim/world"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// supplied is a line to a mock whose supply is a test pin of periph. It never gets RESTART. When the switch opens,
// its memory is lost and it is silent; when the switch closes, it boots.
type supplied struct {
	guest *mock.Board
	pin   string // active low, as in spec; "" is fed by something else
	boots time.Duration

	mu       sync.Mutex
	enc      contract.Encoder
	on       bool
	hears    time.Time
	out      []byte
	deadline time.Time
	restarts int // that came over the line
	dec      *contract.Decoder
}

func newSupplied(t *testing.T, h *fakeHost, pin string, boots time.Duration) *supplied {
	g, err := mock.New("")
	require.NoError(t, err)
	s := &supplied{guest: g, pin: pin, boots: boots, on: pin == "", dec: contract.NewDecoder(contract.FromHost)}
	if pin != "" {
		h.moved = func(name string, level bool) {
			if name == pin {
				s.power(!level)
			}
		}
	}
	return s
}

// power switches the supply.
func (s *supplied) power(on bool) {
	s.mu.Lock()
	defer s.mu.Unlock()
	switch {
	case on && !s.on:
		s.hears = time.Now().Add(s.boots)
	case !on && s.on: // RESTART is how a mock loses its supply
		s.guest.Feed(s.enc.Restart([]byte{0}, &contract.Restart{}), nil)
		s.out = nil
	}
	s.on = on
}

func (s *supplied) Write(b []byte) (int, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	for in := b; ; {
		f, rest, ok := s.dec.Next(in)
		if !ok {
			break
		}
		if in = rest; f.Code == contract.CodeRestart {
			s.restarts++
		}
	}
	if s.on && time.Now().After(s.hears) {
		s.out = s.guest.Feed(b, s.out)
	}
	return len(b), nil
}

func (s *supplied) Read(b []byte) (int, error) {
	for {
		s.mu.Lock()
		n := copy(b, s.out)
		s.out = s.out[n:]
		late := time.Now().After(s.deadline)
		s.mu.Unlock()
		switch {
		case n > 0:
			return n, nil
		case late:
			return 0, os.ErrDeadlineExceeded
		}
		time.Sleep(100 * time.Microsecond)
	}
}

func (s *supplied) SetReadDeadline(t time.Time) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.deadline = t
	return nil
}

func (s *supplied) Close() error { return nil }

var _ link.Link = (*supplied)(nil)

// cutBay is a bay of a board that takes 30 ms to boot.
func cutBay() *sim.Bay {
	b := testBay()
	b.Boot, b.Sensors.Accel.Rate = 30*sim.Millisecond, 100
	return b
}

// throughACut flies five instants with the supply, three without, and five with it again.
func throughACut(t *testing.T, r *Rig, b board.Board, bay *sim.Bay) (*Board, error) {
	w, err := r.Wrap(b, Mount{Bay: bay})
	require.NoError(t, err)
	t.Cleanup(func() { w.Close() })
	for i := range 13 {
		var reply harness.Reply
		f := sim.Frame{Now: sim.Time(i) * 10 * sim.Millisecond, Due: true, Powered: i < 5 || i >= 8}
		if err := w.Exchange(t.Context(), &f, &reply); err != nil {
			return w, err
		}
	}
	return w, nil
}

func TestARealCutOfTheSupply(t *testing.T) {
	for _, c := range []struct {
		reason string
		pin    string
		boots  time.Duration
		err    error
		says   string
	}{
		{"it boots in time", "P5", 20 * time.Millisecond, nil, ""},
		{"it takes longer than it says, and HELLO is said again", "P5", 200 * time.Millisecond, nil, ""},
		{"it never comes back", "P5", time.Hour, board.ErrSilent, "HELLO (said"},
		{"something else feeds it", "", 0, board.ErrRestarts, "its count of starts is still 1 after its supply was cut; does the drive switch this board's supply"},
	} {
		t.Run(c.reason, func(t *testing.T) {
			t.Parallel()
			r, h := opened(t)
			l, bay := newSupplied(t, h, c.pin, c.boots), cutBay()
			b := board.NewClient(l, harness.Board{Role: "sustainer"}, bay, board.Options{Timeout: time.Second, SupplySwitched: true, Boot: time.Duration(bay.Boot)})
			w, err := throughACut(t, r, b, bay)
			assert.Zero(t, l.restarts, "it is not asked for what is done to it")
			if c.err != nil {
				assert.ErrorIs(t, err, c.err)
				assert.ErrorContains(t, err, c.says)
				return
			}
			require.NoError(t, err)
			health := w.Health()
			assert.Equal(t, 2, health.Boots)
			assert.Zero(t, health.Unasked, "one cut is one start")
			assert.True(t, health.Faultless(), "%+v", health)
		})
	}
}

// A board that does not come back is named as such, with what to do.
func TestABoardThatStaysAwayAfterACut(t *testing.T) {
	r, h := opened(t)
	l, bay := newSupplied(t, h, "P5", 0), cutBay()
	b := board.NewClient(l, harness.Board{Role: "sustainer"}, bay, board.Options{Timeout: 300 * time.Millisecond, SupplySwitched: true, Boot: time.Duration(bay.Boot)})
	w, err := r.Wrap(b, Mount{Bay: bay})
	require.NoError(t, err)
	defer w.Close()
	var reply harness.Reply
	require.NoError(t, w.Exchange(t.Context(), &sim.Frame{Due: true, Powered: true}, &reply))
	require.NoError(t, w.Exchange(t.Context(), &sim.Frame{Now: 1e7}, &reply))
	l.mu.Lock()
	l.boots = time.Hour
	l.mu.Unlock()
	err = w.Exchange(t.Context(), &sim.Frame{Now: 2e7, Due: true, Powered: true}, &reply)
	assert.ErrorContains(t, err, "its supply was cut and given back, and it has not come back within 300ms beyond its time to boot (30ms); give it a longer `boot` in its board's file, or look at the supply")
}

func TestWithoutASwitchACutNeedsRESTART(t *testing.T) {
	bay := cutBay()
	bay.Wires = bay.Wires[:2] // which is what the guest has
	b := board.NewClient(link.Memory(boardtest.NewFake(boardtest.NoRestart)), harness.Board{Role: "sustainer"}, bay, board.Options{})
	var reply harness.Reply
	require.NoError(t, b.Exchange(t.Context(), &sim.Frame{Due: true, Powered: true}, &reply))
	err := b.Exchange(t.Context(), &sim.Frame{Now: 1e7}, &reply)
	assert.ErrorIs(t, err, board.ErrUnable)
	assert.ErrorContains(t, err, "give it a rig that switches its supply")
}

// In real time nothing waits for the board: HELLO is repeated until it answers.
func TestARealCutInRealTime(t *testing.T) {
	r, h := opened(t)
	bay := cutBay()
	l := newSupplied(t, h, "P5", 150*time.Millisecond)
	began := time.Now()
	l.guest.SetClock(func() int64 { return time.Since(began).Microseconds() })
	clock := func() sim.Time { return sim.Time(time.Since(began)) }
	b := board.NewRealTime(l, harness.Board{Role: "sustainer"}, bay, board.Options{Timeout: 10 * time.Second, SupplySwitched: true, Boot: time.Duration(bay.Boot)}, clock)
	w, err := r.Wrap(b, Mount{Bay: bay, RunTime: func(at time.Time) sim.Time { return sim.Time(at.Sub(began)) }})
	require.NoError(t, err)
	defer w.Close()
	until := func(powered bool, is func() bool) {
		for from := time.Now(); !is(); time.Sleep(5 * time.Millisecond) {
			require.Less(t, time.Since(from), 10*time.Second)
			var reply harness.Reply
			require.NoError(t, w.Exchange(t.Context(), &sim.Frame{Now: clock(), Due: true, Powered: powered}, &reply))
		}
	}
	until(true, func() bool { return w.Health().RoundTrips > 0 })
	off := time.Now()
	until(false, func() bool { return time.Since(off) > 50*time.Millisecond })
	until(true, func() bool { return w.Health().Boots == 2 })
	assert.Zero(t, w.Health().Unasked)
	assert.Zero(t, l.restarts)
}

// A port that disappears with the supply is named.
func TestAPortThatGoesWithTheSupply(t *testing.T) {
	r, _ := opened(t)
	b := &script{}
	w, err := r.Wrap(b, Mount{Bay: cutBay()})
	require.NoError(t, err)
	defer w.Close()
	var reply harness.Reply
	require.NoError(t, w.Exchange(t.Context(), &sim.Frame{Due: true, Powered: true}, &reply))
	require.NoError(t, w.Exchange(t.Context(), &sim.Frame{Now: 1e7}, &reply))
	b.err = &net.OpError{Op: "read", Err: link.ErrGone}
	err = w.Exchange(t.Context(), &sim.Frame{Now: 2e7, Due: true, Powered: true}, &reply)
	assert.ErrorIs(t, err, link.ErrGone)
	assert.ErrorContains(t, err, "its port went with its supply")
}

// TestAScenarioWithARealCut flies the shipped power cut on periph's test pins, with a board that is never
// asked to RESTART: its supply goes, it boots, and recovery still works.
func TestAScenarioWithARealCut(t *testing.T) {
	plan, problems := scenario.Load(scenarios.Files, "power-cut-coast.yaml")
	require.Empty(t, problems)
	plan.Setup.Rehearsed = world.Rehearse(&plan.Setup)
	s, h := spec(), newFake()
	s.Boards = append(s.Boards, harness.RigBoard{Role: "booster", Outputs: []harness.RigOutput{{Name: "main", Load: s.Boards[0].Outputs[2].Load}}})
	for i := range s.Boards[0].Outputs {
		s.Boards[0].Outputs[i].Capture = harness.Pin{} // nothing moves these test pins here
	}
	s.Boards[0].Outputs[2].Name = "main"
	s.Drives = s.Drives[:len(s.Drives)-1] // the loopback is wired to one of them
	r, err := Open(t.Context(), s, Options{host: h})
	require.NoError(t, err)
	defer r.Close()
	var boards []board.Board
	var wrapped []*Board
	var lines []*supplied
	for i, p := range plan.Boards {
		bay := &plan.Setup.Bays[i]
		pin := map[string]string{"sustainer": "P5"}[p.Role]
		l := newSupplied(t, h, pin, time.Millisecond)
		w, err := r.Wrap(board.NewClient(l, p, bay, board.Options{Limit: time.Minute, SupplySwitched: r.Cuts(p.Role), Boot: time.Duration(bay.Boot)}), Mount{Index: i, Bay: bay})
		require.NoError(t, err)
		boards, wrapped, lines = append(boards, w), append(wrapped, w), append(lines, l)
	}
	rec := &harness.Record{Plan: plan}
	require.NoError(t, loop.Run(context.Background(), r.Breakwires(world.New(&rec.Plan.Setup)), boards, loop.Lockstep{}, rec))
	for _, w := range wrapped {
		require.NoError(t, w.Close())
		w.AddPinTimes(rec)
	}
	v := verdict.Judge(rec)
	for _, f := range v.Findings {
		assert.Equal(t, harness.Pass, f.Answer, "%s: %s", f.Text, f.Reason)
	}
	assert.Equal(t, harness.Pass, v.Answer)
	assert.Equal(t, 2, rec.Health[0].Boots+rec.Health[1].Boots-1, "one of them has booted twice")
	for _, l := range lines {
		assert.Zero(t, l.restarts)
	}
}
