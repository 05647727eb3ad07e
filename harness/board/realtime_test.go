package board_test

import (
	"context"
	"fmt"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"drystage/harness"
	"drystage/harness/board"
	"drystage/harness/board/boardtest"
	"drystage/harness/board/clock"
	"drystage/harness/board/contract"
	"drystage/harness/board/link"
	"drystage/sim"
)

// The session in real time: the command to arm, a power cut, and the end. A fake's pulse is over before the cut.
const (
	armFrame  = 60 // unless told otherwise
	darkFrame = 150
	litFrame  = 160
	lastFrame = 250
)

// flight is a session in real time, on a real clock or a fake one.
type flight struct {
	b     *board.RealTime
	start time.Time
	arm   int
	rec   harness.Record
	most  time.Duration // the longest exchange
}

func timed(l link.Link, opt board.Options) *flight {
	f := &flight{start: time.Now(), arm: armFrame}
	f.b = board.NewRealTime(l, seat, boardtest.Bay(), opt, f.now)
	return f
}

func (f *flight) now() sim.Time { return sim.Time(time.Since(f.start)) }

// fly flies frames from k to the last, and gives the error of the exchange that failed.
func (f *flight) fly(ctx context.Context, from, last int) error {
	var r harness.Reply
	for k := from; k <= last; k++ {
		time.Sleep(time.Duration(sim.Time(k)*boardtest.Period - f.now()))
		in := boardtest.Frame(k)
		in.Powered = k < darkFrame || k >= litFrame
		in.Commands = 0
		if k == f.arm {
			in.Commands = sim.CommandArm
		}
		r.Reset()
		began := time.Now()
		err := f.b.Exchange(ctx, in, &r)
		f.most = max(f.most, time.Since(began))
		f.rec.Outputs = append(f.rec.Outputs, r.Outputs...)
		f.rec.Readings = append(f.rec.Readings, r.Readings...)
		f.rec.Reports = append(f.rec.Reports, r.Reports...)
		f.rec.Logs = append(f.rec.Logs, r.Logs...)
		if err != nil {
			return err
		}
	}
	return nil
}

// health leaves out how long the answers took.
func (f *flight) health() harness.Health {
	h := f.b.Health()
	h.Answers = harness.Answers{Over: h.Answers.Over, Missing: h.Answers.Missing}
	return h
}

// whole flies all frames, finishes, closes the board, and assigns the times of the edges.
func (f *flight) whole(t *testing.T) error {
	err := f.fly(t.Context(), 0, lastFrame)
	var r harness.Reply
	ferr := f.b.Finish(t.Context(), &r)
	f.rec.Outputs, f.rec.Readings = append(f.rec.Outputs, r.Outputs...), append(f.rec.Readings, r.Readings...)
	f.rec.Reports, f.rec.Logs = append(f.rec.Reports, r.Reports...), append(f.rec.Logs, r.Logs...)
	if err == nil {
		err = ferr
	} else {
		assert.Equal(t, err, ferr, "the first cause is kept")
	}
	_ = f.b.Close() // a cable may be gone
	assert.NoError(t, f.b.Close(), "twice is fine")
	clock.AssignTimes(&f.rec)
	return err
}

// TestTimedSession: two starts of a good board with its own clock, 100 ppm fast, on a line of 2 ms each way or 2 ms
// one way.
func TestTimedSession(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		g := newTalker(nil)
		f := timed(newWire(g, 2*time.Millisecond), board.Options{})
		require.NoError(t, f.whole(t))
		h := f.health()
		assert.Equal(t, harness.Health{Boots: 2, RoundTrips: h.RoundTrips}, h)
		assert.Len(t, f.rec.Readings, h.RoundTrips)
		assert.InDelta(t, 24, h.RoundTrips, 1, "ten times a second, with power, and once at the end")
		require.Len(t, f.rec.Clocks, 2)
		for i, c := range f.rec.Clocks {
			assert.Equal(t, i+1, c.Life)
			assert.Empty(t, c.Trouble)
			assert.InDelta(t, 100e-6, c.Drift, 200e-6)
			assert.InDelta(t, 4.1e-3, c.Delay.Seconds(), 0.11e-3)
		}
		require.Len(t, f.rec.Outputs, 2)
		for i, at := range []sim.Time{1000 * sim.Millisecond, 1300 * sim.Millisecond} {
			e := f.rec.Outputs[i]
			assert.Equal(t, harness.ByClock, e.Basis)
			assert.Less(t, e.Within, 4*sim.Millisecond)
			// It acts on its next frame, up to a period after its clock has come so far.
			assert.InDelta(t, (at + boardtest.Period/2 + 2*sim.Millisecond).Seconds(), e.At.Seconds(), 0.0075)
		}
		assert.Zero(t, f.most, "an exchange waits for nothing")
	})
}

// TestSupplyOffEndsAPulse: an output that is on when the supply is cut goes off then, by the bench's clock. The board
// comes back with another clock.
func TestSupplyOffEndsAPulse(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		g := newTalker(nil)
		late := false
		g.twist = func(g *talker, f contract.Frame) bool {
			if g.up && !late && g.clock() >= 1_400_000 {
				late = true
				g.light(2, 1)
			}
			return false
		}
		f := timed(newWire(g, time.Millisecond), board.Options{})
		require.NoError(t, f.whole(t))
		require.Len(t, f.rec.Outputs, 4)
		e := f.rec.Outputs[3]
		assert.Equal(t, sim.Output{Channel: 2, At: darkFrame * boardtest.Period}, e.Output)
		assert.Equal(t, harness.ByTick, e.Basis)
		assert.Equal(t, board.EdgeUncertainty(&boardtest.Bay().Sensors), e.Within)
		assert.True(t, f.rec.Outputs[2].On && f.rec.Outputs[2].At < e.At)
	})
}

// TestTimedFlaws: each board of boardtest, over memory and over a slow line. A fatal flaw ends the run with its own
// error; the others are counted in Health; edges keep their order.
func TestTimedFlaws(t *testing.T) {
	fatal := boardtest.Fatal()
	delete(fatal, boardtest.NoLockstep)   // not asked for in real time
	delete(fatal, boardtest.ForeseesTime) // its clock may be ahead: the stamp makes its edge uncertain
	counted := map[boardtest.Flaw]harness.Health{
		boardtest.None: {}, boardtest.NoLockstep: {}, boardtest.ForeseesTime: {},
		boardtest.RestartsOnce: {Unasked: 1}, boardtest.LosesEdge: {Lost: 2}, boardtest.ForgetsEdge: {Lost: 2},
		boardtest.DeniesArming: {Unarmed: 1}, boardtest.ArmsItself: {}, boardtest.StaysArmed: {},
	}
	require.Len(t, boardtest.Fatal(), 19)
	for flaw := boardtest.None; flaw <= boardtest.StaysArmed; flaw++ {
		for name, l := range map[string]func() link.Link{
			"memory": func() link.Link { return memory(flaw) },
			"line":   func() link.Link { return newWire(boardtest.NewFake(flaw), 3*time.Millisecond) },
		} {
			t.Run(fmt.Sprint(int(flaw), " over ", name), func(t *testing.T) {
				synctest.Test(t, func(t *testing.T) {
					f := timed(l(), board.Options{Timeout: 400 * time.Millisecond})
					if _, ok := fatal[flaw]; !ok {
						f.arm = 10
					}
					err := f.whole(t)
					require.NoError(t, alternate(f.rec.Outputs))
					if want, ok := fatal[flaw]; ok {
						require.ErrorIs(t, err, want)
						assert.Regexp(t, `^board: at \d\.\d{3} s: `, err.Error())
						assert.Equal(t, err, f.b.Exchange(t.Context(), boardtest.Frame(900), new(harness.Reply)), "the first cause is kept")
						return
					}
					require.NoError(t, err)
					h := f.health()
					want, known := counted[flaw]
					require.True(t, known, "flaw %d is neither fatal nor counted", flaw)
					want.Name, want.RoundTrips, want.Reports, want.Boots = "boardtest", h.RoundTrips, len(f.rec.Reports), 2+want.Unasked
					assert.Equal(t, flaw == boardtest.ArmsItself, h.SelfArmed > 0)
					assert.Less(t, h.SelfArmedAt, 110*sim.Millisecond, "it is armed at 100 ms")
					want.SelfArmed, want.SelfArmedAt = h.SelfArmed, h.SelfArmedAt
					assert.Equal(t, want, h)
					if flaw == boardtest.ForeseesTime {
						assert.Greater(t, f.rec.Outputs[0].Within, 800*sim.Millisecond)
					}
					if flaw == boardtest.ForgetsEdge {
						assert.Equal(t, harness.ByArrival, f.rec.Outputs[0].Basis, "DONE's time is no stamp of the edge")
					}
				})
			})
		}
	}
}

// alternate checks that each output's edges alternate between on and off.
func alternate(es []harness.Edge) error {
	on := map[int]bool{}
	for _, e := range es {
		if on[e.Channel] == e.On {
			return fmt.Errorf("an edge of output %d that changes nothing: %v", e.Channel, es)
		}
		on[e.Channel] = e.On
	}
	return nil
}

// TestTimedTwists: what a board in real time can do wrong beyond boardtest's flaws.
func TestTimedTwists(t *testing.T) {
	after := func(g *talker, us uint32) bool { return g.up && g.clock() >= us }
	syncTime := func(f contract.Frame) uint32 { var m contract.Sync; _ = m.Decode(f.Payload); return m.Time }
	for _, c := range []struct {
		reason string
		twist  func(g *talker, f contract.Frame) bool
		want   error
		text   string
	}{
		{"it tells its outputs, but not its clock", func(g *talker, f contract.Frame) bool { return f.Code == contract.CodeSync },
			board.ErrSilent, "SYNCED: no answer in time, though"},
		{"it tells its clock, but not its outputs", func(g *talker, f contract.Frame) bool { return f.Code == contract.CodeTick },
			board.ErrSilent, "DONE: no answer in time"},
		{"it stops telling its outputs later", func(g *talker, f contract.Frame) bool {
			return f.Code == contract.CodeTick && after(g, 700_000)
		}, board.ErrSilent, "at 0.9"},
		{"it talks on, but does not hear HELLO", func(g *talker, f contract.Frame) bool {
			g.out = g.enc.Report(g.out, &contract.Report{})
			return f.Code == contract.CodeHello
		}, board.ErrSilent, "WELCOME: no answer in time, though"},
		{"it never accepts a setting, and talks on", func(g *talker, f contract.Frame) bool {
			if f.Code == contract.CodeSetting {
				for range 4 {
					g.out = g.enc.Report(g.out, &contract.Report{})
				}
			}
			return f.Code == contract.CodeSetting
		}, board.ErrSilent, "ACCEPT: no answer in time"},
		{"it answers a SYNC twice", func(g *talker, f contract.Frame) bool {
			if f.Code == contract.CodeSync {
				g.synced(syncTime(f))
			}
			return false
		}, board.ErrTime, "none is open"},
		{"it answers a SYNC that never was", func(g *talker, f contract.Frame) bool {
			if f.Code == contract.CodeSync {
				g.synced(syncTime(f) + 1)
			}
			return f.Code == contract.CodeSync
		}, board.ErrTime, "SYNCED names a SYNC of"},
		{"it answers a TICK twice", func(g *talker, f contract.Frame) bool {
			if f.Code == contract.CodeTick {
				g.done(syncTime(f), g.on)
			}
			return false
		}, board.ErrTime, "DONE names a TICK of"},
		{"its stamps are of another day", func(g *talker, f contract.Frame) bool {
			if after(g, 600_000) {
				g.out = g.enc.Output(g.out, &contract.Output{Time: 3_000_000_000, Channel: 1, On: 1})
			}
			return false
		}, board.ErrTime, "must count microseconds"},
		{"output 0", func(g *talker, f contract.Frame) bool {
			g.out = g.enc.Output(g.out, &contract.Output{Time: g.clock(), Channel: 0, On: 1})
			return false
		}, board.ErrChannel, "output 0 of 2"},
		{"a flood of sound frames, not all at once", func(g *talker, f contract.Frame) bool {
			for range 150 {
				g.out = g.enc.Log(g.out, &contract.Log{Text: []byte("one more, and one more, and one more")})
			}
			return false
		}, board.ErrFlood, ""},
		{"it restarts in the middle of its settings, again and again", func(g *talker, f contract.Frame) bool {
			if f.Code == contract.CodeSetting {
				g.reset()
				g.welcome(0)
			}
			return f.Code == contract.CodeSetting
		}, board.ErrRestarts, "4 times in one run"},
	} {
		t.Run(c.reason, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				f := timed(newWire(newTalker(c.twist), 2*time.Millisecond), board.Options{Timeout: 300 * time.Millisecond})
				err := f.whole(t)
				assert.ErrorIs(t, err, c.want)
				assert.ErrorContains(t, err, c.text)
				assert.NoError(t, alternate(f.rec.Outputs))
			})
		})
	}
}
