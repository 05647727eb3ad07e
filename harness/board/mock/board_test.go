package mock

import (
	"bytes"
	"io"
	"math/rand/v2"
	"net"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"drystage/harness/board/contract"
)

// host talks to a board frame by frame.
type host struct {
	g   *Board
	enc contract.Encoder
}

func (h *host) say(frames ...[]byte) (answers []contract.Frame) {
	return decode(h.g.Feed(bytes.Join(frames, nil), nil))
}

func decode(in []byte) (fs []contract.Frame) {
	d := contract.NewDecoder(contract.FromBoard)
	for {
		f, rest, ok := d.Next(in)
		if !ok {
			return fs
		}
		f.Payload = bytes.Clone(f.Payload)
		fs, in = append(fs, f), rest
	}
}

func codes(fs []contract.Frame) (cs []contract.Code) {
	for _, f := range fs {
		cs = append(cs, f.Code)
	}
	return cs
}

func (h *host) hello(mode uint8, time uint32) []byte {
	return h.enc.Hello(nil, &contract.Hello{Version: 1, Mode: mode, Nonce: 42, Time: time, IMUHz: 200, BaroHz: 50})
}

func (h *host) tick(t uint32) []byte { return h.enc.Tick(nil, &contract.Tick{Time: t}) }

func newHost(t testing.TB) *host {
	g, err := New("")
	require.NoError(t, err)
	return &host{g: g}
}

func TestHandshake(t *testing.T) {
	h := newHost(t)
	assert.Empty(t, h.say(h.tick(0)), "silent until HELLO")
	fs := h.say(h.hello(0, 0))
	require.Equal(t, []contract.Code{contract.CodeWelcome}, codes(fs))
	var w contract.Welcome
	require.NoError(t, w.Decode(fs[0].Payload))
	assert.Equal(t, uint32(42), w.Nonce)
	assert.Equal(t, uint16(1), w.Boots)
	assert.Equal(t, fixed16("drystage mock"), w.Name)
	fs = h.say(h.tick(0))
	require.Equal(t, []contract.Code{contract.CodeReport, contract.CodeDone}, codes(fs))
	assert.Empty(t, h.say(h.enc.Restart(nil, &contract.Restart{})), "no word after RESTART")
	assert.Empty(t, h.say(h.tick(5000)), "silent until HELLO")
	require.NoError(t, w.Decode(h.say(h.hello(0, 1e6))[0].Payload))
	assert.Equal(t, uint16(2), w.Boots, "the restart counts")
	assert.Empty(t, h.say(h.enc.Bye(nil, &contract.Bye{})), "nothing was on")
	assert.Empty(t, h.say(h.tick(2e6)), "silent after BYE")
}

// TestAnotherVersionBeginsNothing: the host gets the board's version, and no run begins.
func TestAnotherVersionBeginsNothing(t *testing.T) {
	h := newHost(t)
	h.say(h.hello(0, 0))
	fs := h.say(h.enc.Hello(nil, &contract.Hello{Version: contract.Version + 1, Nonce: 7}))
	require.Equal(t, []contract.Code{contract.CodeWelcome}, codes(fs))
	var w contract.Welcome
	require.NoError(t, w.Decode(fs[0].Payload))
	assert.EqualValues(t, contract.Version, w.Version, "its own")
	assert.EqualValues(t, 7, w.Nonce)
	assert.Empty(t, h.say(h.tick(5000)), "no run is under way")
	assert.Len(t, h.say(h.hello(0, 0)), 1, "HELLO of its own version begins one")
}

// TestNewRunOrRestart: HELLO continues the run after a supply failure, and begins a new one after BYE or when the
// host's clock has gone back.
func TestNewRunOrRestart(t *testing.T) {
	for _, c := range []struct {
		reason  string
		between func(b *bench) []byte // from 12 s of flight to HELLO
		time    uint32
		armed   bool
	}{
		{"supply failure", func(b *bench) []byte { return b.enc.Restart(nil, &contract.Restart{}) }, 12.7e6, true},
		{"HELLO again on the same run", func(*bench) []byte { return nil }, 12.7e6, true},
		{"after BYE", func(b *bench) []byte { return b.enc.Bye(nil, &contract.Bye{}) }, 12.7e6, false},
		{"a host that began again", func(*bench) []byte { return nil }, 0, false},
		{"supply failure, then a host that began again", func(b *bench) []byte { return b.enc.Restart(nil, &contract.Restart{}) }, 0, false},
	} {
		b := newBench(t, "").run(12)
		require.Equal(t, uint8(1), b.done.Armed)
		b.g.Feed(c.between(b), nil)
		h := host{b.g, b.enc}
		fs := h.say(h.hello(0, c.time), h.tick(c.time))
		var d contract.Done
		require.NoError(t, d.Decode(fs[len(fs)-1].Payload))
		assert.Equal(t, c.armed, d.Armed == 1, c.reason)
	}
}

func TestOutputsGoDark(t *testing.T) {
	for _, c := range []struct {
		reason string
		say    func(h *host) []byte
		edges  int
	}{
		{"disarm", func(h *host) []byte {
			return h.enc.Command(nil, &contract.Command{Time: 7e6, Command: contract.Disarm})
		}, 1},
		{"BYE", func(h *host) []byte { return h.enc.Bye(nil, &contract.Bye{}) }, 1},
		{"HELLO", func(h *host) []byte { return h.hello(0, 7e6) }, 1},
		{"RESTART: the supply is gone, nobody can say so", func(h *host) []byte { return h.enc.Restart(nil, &contract.Restart{}) }, 0},
	} {
		b := newBench(t, "").run(6.6)
		require.Equal(t, uint16(1), b.done.Outputs, "the staging pulse is on")
		h := host{b.g, b.enc}
		n := 0
		for _, f := range h.say(c.say(&h)) {
			var m contract.Output
			if f.Code == contract.CodeOutput && m.Decode(f.Payload) == nil {
				assert.Zero(t, m.On, c.reason)
				n++
			}
		}
		assert.Equal(t, c.edges, n, c.reason)
		assert.Zero(t, b.g.ram.out.on, c.reason)
	}
}

func TestRealTime(t *testing.T) {
	h := newHost(t)
	h.say(h.hello(contract.RealTime, 0))
	reports := 0
	for k := range uint32(200) {
		fs := h.say(h.enc.Baro(nil, &contract.Baro{Time: k * 20_000, Pressure: 96_000_000 + k%3}))
		for _, f := range fs {
			if f.Code == contract.CodeReport {
				reports++
			}
		}
	}
	assert.InDelta(t, 40, reports, 2, "samples drive the clock")
	fs := h.say(h.enc.Sync(nil, &contract.Sync{Time: 4_100_000}))
	var s contract.Synced
	require.NoError(t, s.Decode(fs[len(fs)-1].Payload))
	assert.Equal(t, contract.Synced{Time: 4_100_000, BoardTime: 4_100_000}, s)
}

// TestDamageNeverFires sends the bytes of a quiet, armed board on its pad with one byte cut or
// flipped at each place in turn: no panic, no output, and the board is there for the next HELLO.
func TestDamageNeverFires(t *testing.T) {
	b := newBench(t, "")
	b.still = true
	b.run(3)
	h := host{newHost(t).g, contract.Encoder{}}
	line := bytes.Join([][]byte{h.hello(0, 0),
		h.enc.Setting(nil, &contract.Setting{Name: [24]byte([]byte("drogue_channel\x00\x00\x00\x00\x00\x00\x00\x00\x00\x00")), Value: 2000}),
		h.enc.IMU(nil, &contract.IMU{Time: 5000, Has: 3, AccelX: 9807}),
		h.enc.Baro(nil, &contract.Baro{Time: 5000, Pressure: 96_000_000}),
		h.enc.GNSS(nil, &contract.GNSS{Time: 5000, Fix: 3}),
		h.enc.Command(nil, &contract.Command{Time: 5000, Command: contract.Arm}),
		h.enc.Command(nil, &contract.Command{Time: 5000, Command: contract.Stage}),
		h.tick(5000)}, nil)
	for i := range line {
		for _, disturb := range []func() []byte{
			func() []byte { return append(bytes.Clone(line[:i]), line[i+1:]...) },
			func() []byte { l := bytes.Clone(line); l[i] ^= 0x55; return l },
			func() []byte { return line[:i] },
			func() []byte { return append(append(bytes.Clone(line[:i]), 0), line[i:]...) },
		} {
			h := newHost(t)
			for _, f := range decode(h.g.Feed(disturb(), nil)) {
				require.NotEqual(t, contract.CodeOutput, f.Code, "byte %d", i)
			}
			h.say([]byte{0})
			require.NotEmpty(t, h.say(h.hello(0, 0)), "byte %d", i)
		}
	}
}

// TestFlightOverABadLine loses or flips one byte in every thousand of a whole flight: frames are missing, and each
// output that fires does so at its usual time.
func TestFlightOverABadLine(t *testing.T) {
	for seed := range 3 {
		b := newBench(t, "")
		b.run(2)
		b.line = badLine(uint64(seed))
		b.run(110)
		assert.NotZero(t, b.done.Bad, "the line was bad")
		b.sound(t)
		for _, e := range b.fired(1) {
			assert.InDelta(t, 3.5, e.t-launchAt, 0.3, "staging in its window or never")
		}
		require.Len(t, b.fired(2), 1, "%v", b.logs)
		assert.InDelta(t, 0, b.fired(2)[0].t-b.topAt, 0.6)
	}
}

// badLine drops or flips one byte in a thousand.
func badLine(seed uint64) func(in []byte) []byte {
	rnd := rand.New(rand.NewPCG(seed, 3))
	return func(in []byte) (out []byte) {
		for _, c := range in {
			switch rnd.IntN(2000) {
			case 0:
			case 1:
				out = append(out, c^byte(1+rnd.IntN(255)))
			default:
				out = append(out, c)
			}
		}
		return out
	}
}

func TestOneByteAtATime(t *testing.T) {
	whole, single := newBench(t, ""), newBench(t, "")
	whole.still, single.still = true, true
	single.split = true
	whole.run(3)
	single.run(3)
	assert.Equal(t, whole.reports, single.reports)
	assert.Equal(t, whole.logs, single.logs)
}

func TestSameBytesTwice(t *testing.T) {
	a, b := newBench(t, "").run(60), newBench(t, "").run(60)
	assert.Equal(t, a.reports, b.reports)
	assert.Equal(t, a.edges, b.edges)
}

func FuzzFeed(f *testing.F) {
	h := host{}
	f.Add(h.hello(0, 0))
	f.Add(append(h.hello(1, 0), h.tick(5)...))
	f.Fuzz(func(t *testing.T, in []byte) {
		g, err := New("")
		require.NoError(t, err)
		g.Feed(in, nil)
	})
}

func TestServe(t *testing.T) {
	near, far := net.Pipe()
	ended := make(chan error)
	go func() { ended <- Serve(far, "") }()
	h, twin := newHost(t), newHost(t)
	for _, frame := range [][]byte{h.hello(0, 0), h.tick(5000), h.tick(200_000)} {
		_, err := near.Write(frame)
		require.NoError(t, err)
		want := twin.g.Feed(frame, nil)
		have := make([]byte, len(want))
		_, err = io.ReadFull(near, have)
		require.NoError(t, err)
		assert.Equal(t, want, have, "the same board, byte for byte")
	}
	near.Close()
	assert.NoError(t, <-ended, "the end of the pipe is the end of the board")
	assert.ErrorContains(t, Serve(far, "ignores-tlt"), "did you mean")
	assert.ErrorContains(t, Serve(broken{}, ""), "mock: the line broke")
}

type broken struct{}

func (broken) Read([]byte) (int, error)    { return 0, io.ErrUnexpectedEOF }
func (broken) Write(p []byte) (int, error) { return len(p), nil }

func TestNoAllocationPerTick(t *testing.T) {
	b := newBench(t, "").run(12)
	out := make([]byte, 0, 4096)
	now := b.us()
	frames := func() []byte {
		now += 5000
		b.buf = b.enc.IMU(b.buf[:0], &contract.IMU{Time: now, Has: 3, AccelX: -1000 + int32(now/5000%7), AccelY: int32(now / 5000 % 5), GyroX: int32(now / 5000 % 3)})
		return b.enc.Tick(b.buf, &contract.Tick{Time: now})
	}
	assert.Zero(t, testing.AllocsPerRun(1000, func() { out = b.g.Feed(frames(), out[:0]) }))
}

func BenchmarkTick(b *testing.B) {
	h := newHost(b)
	h.say(h.hello(0, 0))
	var in [8][]byte
	out := make([]byte, 0, 4096)
	now := uint32(0)
	for b.Loop() {
		buf := in[0][:0]
		now += 5000
		buf = h.enc.IMU(buf, &contract.IMU{Time: now, Has: 3, AccelX: 9807 + int32(now/5000%7)})
		if now/5000%4 == 0 {
			buf = h.enc.Baro(buf, &contract.Baro{Time: now, Pressure: 96_000_000 + now/5000%5})
		}
		buf = h.enc.Tick(buf, &contract.Tick{Time: now})
		in[0] = buf
		out = h.g.Feed(buf, out[:0])
	}
}
