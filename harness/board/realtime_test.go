package board_test

import (
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"slices"
	"sync"
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
	"drystage/harness/board/link/linktest"
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

// talker is a board with a clock of its own. By that clock, output 1 is on from 1 s to 1.3 s.
type talker struct {
	dec   *contract.Decoder
	enc   contract.Encoder
	out   []byte
	boots uint16
	up    bool
	armed bool
	on    uint16
	fired bool
	start time.Time
	base  uint32
	drift float64
	twist func(g *talker, f contract.Frame) (handled bool)
}

func newTalker(twist func(*talker, contract.Frame) bool) *talker {
	g := &talker{twist: twist, drift: 100e-6, start: time.Now()}
	g.reset()
	return g
}

func (g *talker) reset() {
	g.boots++
	g.dec, g.enc = contract.NewDecoder(contract.FromHost), contract.Encoder{}
	g.up, g.armed, g.on = false, false, 0
}

func (g *talker) clock() uint32 {
	return g.base + uint32(float64(time.Since(g.start).Microseconds())*(1+g.drift))
}

func (g *talker) Feed(in, out []byte) []byte {
	for g.out = out; ; {
		f, rest, ok := g.dec.Next(in)
		if !ok {
			return g.out
		}
		in = rest
		if g.twist == nil || !g.twist(g, f) {
			g.hear(f)
		}
		g.fire()
	}
}

func (g *talker) fire() {
	switch now := g.clock(); {
	case g.up && g.armed && !g.fired && now >= 1_000_000:
		g.fired = true
		g.light(1, 1)
	case g.up && g.on&1 != 0 && now >= 1_300_000:
		g.light(1, 0)
	}
}

func (g *talker) light(channel, on uint8) {
	g.on = g.on&^(1<<(channel-1)) | uint16(on)<<(channel-1)
	g.out = g.enc.Output(g.out, &contract.Output{Time: g.clock(), Channel: channel, On: on})
}

func (g *talker) hear(f contract.Frame) {
	switch f.Code {
	case contract.CodeHello:
		var m contract.Hello
		_ = m.Decode(f.Payload)
		g.up, g.base, g.start = true, m.Time, time.Now()
		g.welcome(m.Nonce)
	case contract.CodeRestart:
		g.reset()
	case contract.CodeSetting:
		var m contract.Setting
		_ = m.Decode(f.Payload)
		g.out = g.enc.Accept(g.out, &contract.Accept{Name: m.Name, Value: m.Value, Known: 1})
	case contract.CodeCommand:
		g.armed = g.up
	case contract.CodeSync:
		var m contract.Sync
		_ = m.Decode(f.Payload)
		g.synced(m.Time)
	case contract.CodeTick:
		var m contract.Tick
		_ = m.Decode(f.Payload)
		g.done(m.Time, g.on)
	}
}

func (g *talker) welcome(nonce uint32) {
	g.out = g.enc.Welcome(g.out, &contract.Welcome{Version: contract.Version, Channels: 2, Nonce: nonce, Boots: g.boots,
		Capabilities: contract.CanRealTime | contract.CanRestart | contract.CanSettings | contract.CanCommands})
}

func (g *talker) synced(t uint32) {
	if g.up {
		g.out = g.enc.Synced(g.out, &contract.Synced{Time: t, BoardTime: g.clock()})
	}
}

func (g *talker) done(t uint32, outputs uint16) {
	d := contract.Done{Time: t, Outputs: outputs, Bad: uint16(g.dec.Counts.Bad()), Lost: uint16(g.dec.Counts.Lost)}
	if g.armed {
		d.Armed = 1
	}
	if g.up {
		g.out = g.enc.Done(g.out, &d)
	}
}

// faultyLine is a line that takes its time, with a guest at the other end. Its reader has to wait.
type faultyLine struct {
	delay    time.Duration
	jitter   *rand.Rand
	mu       sync.Mutex
	guest    link.Device
	last     [2]time.Time // when bytes came out at either end: none overtake others
	came     chan []byte
	rest     []byte
	deadline time.Time
	gone     chan struct{}
	once     sync.Once
}

func newWire(g link.Device, delay time.Duration) *faultyLine {
	return &faultyLine{guest: g, delay: delay, jitter: rand.New(rand.NewPCG(1, 2)), came: make(chan []byte, 1<<14), gone: make(chan struct{})}
}

func (w *faultyLine) Write(b []byte) (int, error) {
	select {
	case <-w.gone:
		return 0, os.ErrClosed
	default:
	}
	sent, there, back := slices.Clone(b), w.way(), w.way()
	time.AfterFunc(w.after(0, there), func() {
		w.mu.Lock()
		defer w.mu.Unlock()
		if out := w.guest.Feed(sent, nil); len(out) > 0 {
			time.AfterFunc(w.after(1, back), func() { w.came <- out })
		}
	})
	return len(b), nil
}

// after delays bytes until those in front of them have arrived.
func (w *faultyLine) after(end int, way time.Duration) time.Duration {
	w.last[end] = later(time.Now().Add(way), w.last[end].Add(1))
	return time.Until(w.last[end])
}

func later(a, b time.Time) time.Time {
	if a.Before(b) {
		return b
	}
	return a
}

// way is how long bytes take: up to 200 us more than the delay.
func (w *faultyLine) way() time.Duration { return w.delay + time.Duration(w.jitter.Int64N(200_000)) }

func (w *faultyLine) Read(b []byte) (int, error) {
	if len(w.rest) == 0 {
		late := time.NewTimer(time.Until(w.deadline))
		defer late.Stop()
		select {
		case w.rest = <-w.came:
		case <-late.C:
			return 0, os.ErrDeadlineExceeded
		case <-w.gone:
			return 0, os.ErrClosed
		}
	}
	n := copy(b, w.rest)
	w.rest = w.rest[n:]
	return n, nil
}

func (w *faultyLine) SetReadDeadline(t time.Time) error { w.deadline = t; return nil }
func (w *faultyLine) Close() error                      { w.once.Do(func() { close(w.gone) }); return nil }

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

// TestTimedSurvives: what a run survives, and what is then on record.
func TestTimedSurvives(t *testing.T) {
	once := func(is func(*talker, contract.Frame) bool, do func(*talker, contract.Frame)) func(*talker, contract.Frame) bool {
		done := false
		return func(g *talker, f contract.Frame) bool {
			if done || !is(g, f) {
				return false
			}
			done = true
			do(g, f)
			return true
		}
	}
	at := func(code contract.Code, us uint32) func(*talker, contract.Frame) bool {
		return func(g *talker, f contract.Frame) bool { return g.up && f.Code == code && g.clock() >= us }
	}
	tickTime := func(f contract.Frame) uint32 { var m contract.Tick; _ = m.Decode(f.Payload); return m.Time }
	for _, c := range []struct {
		reason string
		twist  func(*talker, contract.Frame) bool
		want   harness.Health
		check  func(t *testing.T, f *flight)
	}{
		{"a SYNC goes unanswered", once(at(contract.CodeSync, 700_000), func(*talker, contract.Frame) {}), harness.Health{Answers: harness.Answers{Missing: 1}}, func(t *testing.T, f *flight) {
			assert.InDelta(t, 0.7, f.b.Health().Answers.MissingAt.Seconds(), 0.11)
		}},
		{"a SYNC just before a power cut goes unanswered: it may still have been answered", once(at(contract.CodeSync, 1_300_000), func(*talker, contract.Frame) {}), harness.Health{}, nil},
		{"DONE denies an edge: it is believed, and the edge that was not told is missing", once(at(contract.CodeTick, 1_100_000), func(g *talker, f contract.Frame) {
			g.done(tickTime(f), 0)
			g.on = 0
		}), harness.Health{Lost: 1}, func(t *testing.T, f *flight) {
			require.Len(t, f.rec.Outputs, 2)
			assert.Equal(t, harness.ByArrival, f.rec.Outputs[1].Basis)
			assert.Equal(t, sim.Second, f.rec.Outputs[1].Within, "nobody knows when")
		}},
		{"a frame from the board is lost", once(at(contract.CodeIMU, 1_100_000), func(g *talker, f contract.Frame) {
			g.enc.Report(nil, &contract.Report{})
		}), harness.Health{Lost: 1}, nil},
		{"a frame from the board is spoilt", once(at(contract.CodeIMU, 1_100_000), func(g *talker, f contract.Frame) {
			n := len(g.out)
			g.out = g.enc.Report(g.out, &contract.Report{})
			g.out[n+5] ^= 4
		}), harness.Health{Lost: 1, Bad: 1}, nil},
		{"the board counts what it missed and could not read", once(at(contract.CodeIMU, 1_100_000), func(g *talker, f contract.Frame) {
			g.dec.Counts.Lost, g.dec.Counts.CRC = 3, 2
		}), harness.Health{BoardLost: 3, BoardBad: 2}, nil},
		{"it restarts by itself, with an output on", once(at(contract.CodeIMU, 1_100_000), func(g *talker, f contract.Frame) {
			g.reset()
			g.welcome(0)
		}), harness.Health{Unasked: 1, Boots: 1}, func(t *testing.T, f *flight) {
			require.Len(t, f.rec.Outputs, 2)
			assert.Equal(t, harness.ByArrival, f.rec.Outputs[1].Basis)
			assert.InDelta(t, 1.11, f.rec.Outputs[1].At.Seconds(), 0.02)
			assert.Len(t, f.rec.Clocks, 3)
		}},
		{"it restarts during its settings", once(at(contract.CodeSetting, 0), func(g *talker, f contract.Frame) {
			g.reset()
			g.welcome(0)
		}), harness.Health{Unasked: 1, Boots: 1}, nil},
		{"it fires at its second start, unarmed, before anybody asks", func() func(*talker, contract.Frame) bool {
			return once(func(g *talker, f contract.Frame) bool { return g.boots == 2 && f.Code == contract.CodeSetting }, func(g *talker, f contract.Frame) {
				g.hear(f)
				g.light(1, 1)
			})
		}(), harness.Health{Unarmed: 1}, nil},
		{"noise before WELCOME is no fault of the line", once(at(contract.CodeHello, 0), func(g *talker, f contract.Frame) {}), harness.Health{}, nil},
		{"it hears HELLO three times before it answers", func() func(*talker, contract.Frame) bool {
			n := 0
			return func(g *talker, f contract.Frame) bool {
				if f.Code == contract.CodeHello {
					n++
					g.out = append(g.out, "boot\x00noise\x00"...)
				}
				return f.Code == contract.CodeHello && n < 3
			}
		}(), harness.Health{}, nil},
	} {
		t.Run(c.reason, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				f := timed(newWire(newTalker(c.twist), 2*time.Millisecond), board.Options{Timeout: 600 * time.Millisecond})
				require.NoError(t, f.whole(t))
				h := f.health()
				c.want.Boots += 2
				c.want.RoundTrips = h.RoundTrips
				assert.Equal(t, c.want, h)
				require.NoError(t, alternate(f.rec.Outputs))
				if c.check != nil {
					c.check(t, f)
				}
			})
		})
	}
}

// TestCommandDuringHandshake: the command would be lost, so it is refused.
func TestCommandDuringHandshake(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		f := timed(newWire(newTalker(nil), 300*time.Millisecond), board.Options{})
		assert.ErrorContains(t, f.whole(t), "an operator's command is due, and the handshake is not over")
	})
}

// TestSupplyOffWhileItBoots: a board whose capabilities are not known yet is sent RESTART too.
func TestSupplyOffWhileItBoots(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		g := newTalker(nil)
		f := timed(newWire(g, 20*time.Millisecond), board.Options{})
		require.NoError(t, f.fly(t.Context(), darkFrame-2, darkFrame+8))
		time.Sleep(time.Second)
		assert.EqualValues(t, 2, g.boots)
		require.NoError(t, f.fly(t.Context(), lastFrame+60, lastFrame+120))
		assert.Equal(t, 1, f.b.Health().Boots)
		require.NoError(t, f.b.Close())
	})
}

// TestUneventfulSeat: a board with nothing due for seconds is still asked, and its end is noticed.
func TestUneventfulSeat(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		g := newTalker(nil)
		f := timed(newWire(g, time.Millisecond), board.Options{})
		require.NoError(t, f.fly(t.Context(), 0, 20))
		var r harness.Reply
		for k := 21; k < 1000; k++ {
			time.Sleep(10 * time.Millisecond)
			require.NoError(t, f.b.Exchange(t.Context(), &sim.Frame{Now: f.now(), Powered: true}, &r))
		}
		assert.Greater(t, len(r.Readings), 90)
		require.NoError(t, f.b.Close())
	})
}

// TestTimedBreakAtEveryByte: the cable cut after each byte, or a bit flipped in it, both ways counted
// together. The run ends with an error, or the damage is counted, or the edges are right.
func TestTimedBreakAtEveryByte(t *testing.T) {
	var right []harness.Edge
	total := 0
	synctest.Test(t, func(t *testing.T) {
		m := &meter{Link: memory(boardtest.None)}
		f := timed(m, board.Options{})
		require.NoError(t, f.whole(t))
		right, total = f.rec.Outputs, m.bytes
	})
	require.Greater(t, total, 9000)
	require.Len(t, right, 2)
	for _, how := range []struct {
		name  string
		spoil func(link.Link, int) link.Link
	}{{"cut", linktest.CutAfter}, {"flip", linktest.Flip}} {
		for n := 0; n < total; n += 1 + n/300 { // each of the handshake, then fewer
			synctest.Test(t, func(t *testing.T) {
				f := timed(how.spoil(memory(boardtest.None), n), board.Options{Timeout: 500 * time.Millisecond})
				err := f.whole(t)
				h := f.health()
				if err == nil && h.Faultless() && h.Unasked == 0 {
					require.Len(t, f.rec.Outputs, len(right), "%s byte %d", how.name, n)
					for i, e := range f.rec.Outputs { // a handshake said again moves the guest's ticks
						require.InDelta(t, right[i].At.Seconds(), e.At.Seconds(), 0.11, "%s byte %d", how.name, n)
					}
				}
				if how.name == "cut" {
					require.True(t, errors.Is(err, link.ErrGone) || n > total-10, "cut byte %d: %v", n, err)
				}
				require.NoError(t, alternate(f.rec.Outputs), "%s byte %d", how.name, n)
			})
		}
	}
}

// stuck is a board that stops reading. When its line is full, a write fails after a time, as link.Link demands.
type stuck struct {
	*faultyLine
	room int
}

func (s *stuck) Write(b []byte) (int, error) {
	if s.room -= len(b); s.room < 0 {
		time.Sleep(500 * time.Millisecond)
		return 0, fmt.Errorf("test: %w: it takes nothing", link.ErrGone)
	}
	return s.faultyLine.Write(b)
}

func TestBoardStopsReading(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		f := timed(&stuck{newWire(newTalker(nil), time.Millisecond), 4096}, board.Options{})
		err := f.fly(t.Context(), 0, lastFrame)
		require.ErrorIs(t, err, link.ErrGone)
		start := time.Now()
		require.NoError(t, f.b.Close())
		assert.LessOrEqual(t, time.Since(start), 600*time.Millisecond, "BYE is tried once")
	})
}

// TestTimedClose: closing while its reader waits, before any exchange, and after the cable went.
func TestTimedClose(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		f := timed(newWire(newTalker(nil), time.Millisecond), board.Options{})
		require.NoError(t, f.b.Close())
		assert.ErrorIs(t, f.b.Exchange(t.Context(), boardtest.Frame(0), new(harness.Reply)), board.ErrClosed)

		w := newWire(newTalker(nil), time.Millisecond)
		f = timed(w, board.Options{})
		require.NoError(t, f.fly(t.Context(), 0, 30))
		w.Close()
		synctest.Wait()
		err := f.fly(t.Context(), 31, 40)
		assert.ErrorIs(t, err, os.ErrClosed)
		require.NoError(t, f.b.Close())

		f = timed(newWire(newTalker(nil), time.Millisecond), board.Options{})
		ctx, stop := context.WithCancel(t.Context())
		stop()
		assert.ErrorIs(t, f.fly(ctx, 0, 3), context.Canceled)
		require.NoError(t, f.b.Close())
	})
}

// TestTimedExchangeAllocatesNothing: no memory is asked for while a clock counts.
func TestTimedExchangeAllocatesNothing(t *testing.T) {
	now := sim.Time(0)
	b := board.NewRealTime(memory(boardtest.None), seat, boardtest.Bay(), board.Options{}, func() sim.Time { return now })
	f, r, ctx := boardtest.Frame(4), new(harness.Reply), t.Context()
	exchange := func() {
		now += boardtest.Period
		f.Now = now
		r.Reset()
		if err := b.Exchange(ctx, f, r); err != nil {
			t.Fatal(err)
		}
	}
	for range 200 {
		exchange()
	}
	assert.Zero(t, testing.AllocsPerRun(300, exchange))
	assert.Greater(t, b.Health().RoundTrips, 40)
}
