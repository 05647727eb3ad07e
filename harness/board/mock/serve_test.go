package mock_test

import (
	"io"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"drystage/harness/board/contract"
	"drystage/harness/board/mock"
)

// host is the other end of a served board's line. It records all messages with their times.
type host struct {
	enc   contract.Encoder
	w     *io.PipeWriter
	start time.Time
	mu    sync.Mutex
	said  []said
	ended chan error
}

type said struct {
	contract.Frame
	at time.Duration // since the host began
}

func served(defect string) *host {
	boardIn, w := io.Pipe()
	r, boardOut := io.Pipe()
	h := &host{w: w, start: time.Now(), ended: make(chan error, 1)}
	go func() {
		h.ended <- mock.Serve(pipe{boardIn, boardOut}, defect)
		boardOut.Close()
	}()
	go func() {
		dec, in := contract.NewDecoder(contract.FromBoard), make([]byte, 1024)
		for {
			n, err := r.Read(in)
			for rest := in[:n]; ; {
				f, more, ok := dec.Next(rest)
				if !ok {
					break
				}
				f.Payload = append([]byte(nil), f.Payload...)
				h.mu.Lock()
				h.said = append(h.said, said{f, time.Since(h.start)})
				h.mu.Unlock()
				rest = more
			}
			if err != nil {
				return
			}
		}
	}()
	return h
}

func (h *host) say(b []byte) { _, _ = h.w.Write(b) }

// hello begins a run in a mode, at 7 s, and sets the channel that the drogue is on.
func (h *host) hello(mode uint8) {
	h.say(h.enc.Hello(nil, &contract.Hello{Version: contract.Version, Mode: mode, Time: 7_000_000, IMUHz: 200, BaroHz: 50}))
	set := contract.Setting{Value: 3000}
	contract.PutText(set.Name[:], "drogue_channel")
	h.say(h.enc.Setting(nil, &set))
}

// of gives the messages of one type.
func (h *host) of(code contract.Code) (all []said) {
	synctest.Wait()
	h.mu.Lock() // waiting orders what came before it, not what comes behind
	defer h.mu.Unlock()
	for _, s := range h.said {
		if s.Code == code {
			all = append(all, s)
		}
	}
	return all
}

func (h *host) outputs(t *testing.T) (all []contract.Output, at []time.Duration) {
	for _, s := range h.of(contract.CodeOutput) {
		var m contract.Output
		require.NoError(t, m.Decode(s.Payload))
		all, at = append(all, m), append(at, s.at)
	}
	return all, at
}

func (h *host) close(t *testing.T) {
	h.w.Close()
	assert.NoError(t, <-h.ended)
}

// TestServeHasItsOwnClock: SYNCED gives it, from HELLO's time on, and samples don't change it.
func TestServeHasItsOwnClock(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		h := served("")
		time.Sleep(123 * time.Millisecond)
		h.hello(contract.RealTime)
		for _, wait := range []time.Duration{0, 33 * time.Millisecond, time.Second} {
			time.Sleep(wait)
			h.say(h.enc.Battery(h.enc.Sync(nil, &contract.Sync{Time: 1}), &contract.Battery{Time: 7_500_000, Voltage: 7400}))
		}
		var clocks []uint32
		for _, s := range h.of(contract.CodeSynced) {
			var m contract.Synced
			require.NoError(t, m.Decode(s.Payload))
			assert.EqualValues(t, 1, m.Time)
			clocks = append(clocks, m.BoardTime)
		}
		assert.Equal(t, []uint32{7_000_000, 7_033_000, 8_033_000}, clocks)
		h.close(t)
	})
}

// TestServePulseEndsByItself: in real time a pulse ends when its time has come, though no sample comes;
// its stamps are of the board's clock.
func TestServePulseEndsByItself(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		h := served("fires-at-power-up")
		h.hello(contract.RealTime)
		time.Sleep(2 * time.Second)
		outs, at := h.outputs(t)
		require.Len(t, outs, 2)
		assert.Equal(t, [2]uint8{3, 1}, [2]uint8{outs[0].Channel, outs[0].On})
		assert.Equal(t, [2]uint8{3, 0}, [2]uint8{outs[1].Channel, outs[1].On})
		assert.InDelta(t, time.Second, at[1]-at[0], float64(6*time.Millisecond))
		for i, o := range outs {
			assert.Equal(t, at[i].Microseconds(), int64(o.Time)-7_000_000, "said at once, with its clock")
		}
		h.close(t)
	})
}

// TestServeSilence: after 5 s without a byte all outputs are off, and nothing happens until one comes.
func TestServeSilence(t *testing.T) {
	synctest.Test(t, func(t *testing.T) { // in lockstep, where the pulse would last for ever
		h := served("fires-at-power-up")
		h.hello(contract.Lockstep)
		h.say(h.enc.Tick(nil, &contract.Tick{Time: 7_000_000}))
		time.Sleep(4990 * time.Millisecond)
		outs, _ := h.outputs(t)
		require.Len(t, outs, 1)
		time.Sleep(20 * time.Millisecond)
		outs, at := h.outputs(t)
		require.Len(t, outs, 2)
		assert.Zero(t, outs[1].On)
		assert.Equal(t, 5*time.Second, at[1])
		h.close(t)
	})
	synctest.Test(t, func(t *testing.T) {
		h := served("")
		h.hello(contract.RealTime)
		time.Sleep(4990 * time.Millisecond)
		assert.InDelta(t, 50, len(h.of(contract.CodeReport)), 1, "ten reports a second")
		time.Sleep(20 * time.Millisecond)
		n := len(h.of(contract.CodeReport))
		time.Sleep(time.Minute)
		assert.Len(t, h.of(contract.CodeReport), n, "nobody listens")
		h.say(h.enc.Sync(nil, &contract.Sync{Time: 2}))
		time.Sleep(time.Second)
		assert.Greater(t, len(h.of(contract.CodeReport)), n+5, "somebody does again")
		h.close(t)
	})
}

// TestServeSilentBeforeHello: it never sends before HELLO.
func TestServeSilentBeforeHello(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		h := served("fires-at-power-up")
		time.Sleep(time.Minute)
		synctest.Wait()
		assert.Empty(t, h.said)
		h.close(t)
	})
}

// BenchmarkServe is one TICK and its DONE through pipes, in lockstep.
func BenchmarkServe(b *testing.B) {
	boardIn, w := io.Pipe()
	r, boardOut := io.Pipe()
	go func() { _ = mock.Serve(pipe{boardIn, boardOut}, "") }()
	var enc contract.Encoder
	dec, in := contract.NewDecoder(contract.FromBoard), make([]byte, 4096)
	var rest []byte
	until := func(code contract.Code) {
		for {
			f, more, ok := dec.Next(rest)
			if rest = more; ok && f.Code == code {
				return
			}
			if !ok {
				n, err := r.Read(in)
				if err != nil {
					b.Fatal(err)
				}
				rest = in[:n]
			}
		}
	}
	_, _ = w.Write(enc.Hello(nil, &contract.Hello{Version: contract.Version}))
	until(contract.CodeWelcome)
	out := make([]byte, 0, 64)
	now := uint32(0)
	b.ReportAllocs()
	for b.Loop() {
		now += 5000
		_, _ = w.Write(enc.Tick(out[:0], &contract.Tick{Time: now}))
		until(contract.CodeDone)
	}
	w.Close()
}

// TestServeTestEndsByItself: the pulse of TEST has the requested length by the board's own clock, with or without further
// messages.
func TestServeTestEndsByItself(t *testing.T) {
	for _, talks := range []bool{false, true} {
		synctest.Test(t, func(t *testing.T) {
			h := served("")
			h.hello(contract.RealTime)
			time.Sleep(33 * time.Millisecond)
			h.say(h.enc.Test(nil, &contract.Test{Guard: contract.TestGuard, Channel: 2, Length: 40}))
			for range 20 {
				time.Sleep(5 * time.Millisecond)
				if talks {
					h.say(h.enc.Sync(nil, &contract.Sync{Time: 1}))
				}
			}
			outs, at := h.outputs(t)
			require.Len(t, outs, 2)
			assert.Equal(t, contract.Output{Time: 7_033_000, Channel: 2, On: 1}, outs[0])
			assert.InDelta(t, 40*time.Millisecond, at[1]-at[0], float64(6*time.Millisecond))
			assert.Equal(t, at[1].Microseconds(), int64(outs[1].Time)-7_000_000)
			assert.GreaterOrEqual(t, at[1]-at[0], 40*time.Millisecond)
			h.close(t)
		})
	}
}
