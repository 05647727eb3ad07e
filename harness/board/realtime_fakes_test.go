package board_test

import (
	"math/rand/v2"
	"os"
	"slices"
	"sync"
	"time"

	"drystage/harness/board/contract"
	"drystage/harness/board/link"
)

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
