package rig

import (
	"context"
	"net"
	"sync"
	"testing"
	"time"

	"drystage/harness"
	"drystage/harness/board/boardtest"
	"drystage/harness/board/contract"
	"drystage/harness/board/link"
	"drystage/harness/board/mock"
	"drystage/sim"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"periph.io/x/conn/v3/gpio"
)

// stage is a board with output stages: each OUTPUT moves a test pin of periph after a delay.
type stage struct {
	net.Conn
	dec   *contract.Decoder
	pins  map[uint8]chan gpio.Level
	delay time.Duration
	moves chan func()   // one behind the other, however busy this computer is
	busy  time.Duration // how long each SYNCED waits for its turn
}

func (s *stage) Write(b []byte) (int, error) {
	for in := b; ; {
		f, rest, ok := s.dec.Next(in)
		if !ok {
			break
		}
		in = rest
		if f.Code == contract.CodeSynced {
			time.Sleep(s.busy)
		}
		var o contract.Output
		if f.Code != contract.CodeOutput || o.Decode(f.Payload) != nil || s.pins[o.Channel] == nil {
			continue
		}
		pin, level, due := s.pins[o.Channel], gpio.Level(o.On == 0), time.Now().Add(s.delay) // low is on
		s.moves <- func() {
			time.Sleep(time.Until(due))
			pin <- level
		}
	}
	return s.Conn.Write(b)
}

// staged gives a rig on test pins and the line to a mock whose channels 1 and 2 move the pins named.
func staged(t *testing.T, delay time.Duration, one, two string) (*Rig, link.Link) {
	return stagedBusy(t, delay, 0, one, two)
}

func stagedBusy(t *testing.T, delay, busy time.Duration, one, two string) (*Rig, link.Link) {
	rigged, h := spec(), newFake()
	for i := range rigged.Boards[0].Outputs {
		rigged.Boards[0].Outputs[i].Capture.Debounce = 0 // the stamps are of the wake-up: a busy computer makes short pulses of long ones
	}
	r, err := Open(t.Context(), rigged, Options{host: h})
	require.NoError(t, err)
	t.Cleanup(func() { r.Close() })
	host, far := net.Pipe()
	require.NoError(t, host.SetWriteDeadline(time.Now().Add(time.Minute))) // a pipe holds nothing: a board that still writes takes no BYE
	s := &stage{Conn: far, dec: contract.NewDecoder(contract.FromBoard), delay: delay, busy: busy, moves: make(chan func(), queueSize), pins: map[uint8]chan gpio.Level{}}
	for c, name := range map[uint8]string{1: one, 2: two} {
		if name != "" {
			s.pins[c] = h.pin(name).EdgesChan
		}
	}
	var moved sync.WaitGroup
	moved.Go(func() {
		for move := range s.moves {
			move()
		}
	})
	ended := make(chan struct{})
	go func() {
		defer close(ended)
		_ = mock.Serve(s, "") // the test may hang up in the middle of a word
	}()
	t.Cleanup(func() {
		host.Close()
		<-ended
		close(s.moves)
		moved.Wait()
	})
	return r, host
}

// The pins' delay behind the board's own stamps is found, with the clocks' uncertainty, by real waits.
func TestMeasureThroughTheBoard(t *testing.T) {
	const delay = 4 * time.Millisecond
	r, l := staged(t, delay, "P1", "P2")
	steps := 0
	got, err := r.Measure(t.Context(), l, Measurement{Bay: testBay(), Count: 10, Step: func(done, of int) { steps = done; assert.Equal(t, 20, of) }})
	require.NoError(t, err)
	assert.Equal(t, 20, steps)
	require.Len(t, got, 2, "the lamp has no pin")
	for i, p := range got {
		assert.Equal(t, []string{"ignite", "drogue"}[i], p.Output)
		assert.Zero(t, p.Lost)
		assert.Len(t, p.Stamp, 20)
		assert.Len(t, p.Command, 10)
		assert.Positive(t, p.Clock)
		assert.GreaterOrEqual(t, p.Stamp.Quantile(0.5), delay-p.Clock)
		assert.GreaterOrEqual(t, p.Command.Quantile(0.01), delay, "the command must get there, too")
		path := p.Path("sustainer")
		assert.Equal(t, "sustainer."+p.Output, path.Output)
		assert.GreaterOrEqual(t, path.Within, p.Clock)
	}

	m := Measured{Rig: r.Spec.Digest, Host: "h", Made: time.Now(), Paths: []Path{got[0].Path("sustainer"), got[1].Path("sustainer")}}
	spec := r.Spec
	spec.Lasts = sim.Second * 3600
	k := m.Timing(&spec, "sustainer", "drogue", "h", time.Now())
	assert.Empty(t, k.Why, "it counts from now on")
	assert.GreaterOrEqual(t, k.Delay+k.Within, sim.Time(got[1].Stamp.Quantile(0.5)), "all of the delay may be the pin's")
}

// A board on a busy computer, or behind a slow bridge, is waited for as long as it is given.
func TestMeasureWaitsForAnswers(t *testing.T) {
	t.Parallel() // it waits a lot
	const busy = 300 * time.Millisecond
	r, l := stagedBusy(t, 0, busy, "P1", "P2")
	_, err := r.Measure(t.Context(), l, Measurement{Bay: testBay(), Count: 3, Timeout: 20 * time.Second})
	assert.NoError(t, err)
}

func TestMeasureCountsWhatNoPinSees(t *testing.T) {
	t.Parallel() // it waits a lot
	r, l := staged(t, 0, "P1", "")
	got, err := r.Measure(t.Context(), l, Measurement{Bay: testBay(), Count: 10})
	require.NoError(t, err)
	assert.Zero(t, got[0].Lost)
	assert.Equal(t, 20, got[1].Lost, "both edges of each pulse")
	assert.Empty(t, got[1].Stamp)
}

func TestMeasureNamesCrossedWires(t *testing.T) {
	r, l := staged(t, 0, "P2", "P1")
	_, err := r.Measure(t.Context(), l, Measurement{Bay: testBay(), Count: 5})
	assert.ErrorIs(t, err, ErrPin)
	assert.ErrorContains(t, err, "board sustainer: output ignite, pulse 1: pin trouble: ignite was asked for, and the pin of drogue moved; are the wires crossed?")
}

func TestMeasureIsInterrupted(t *testing.T) {
	r, l := staged(t, 0, "P1", "P2")
	ctx, stop := context.WithCancel(t.Context())
	_, err := r.Measure(ctx, l, Measurement{Bay: testBay(), Count: 5, Step: func(done, _ int) {
		if done == 3 {
			stop()
		}
	}})
	assert.ErrorIs(t, err, context.Canceled)
}

// tester is a board that answers TEST as the test wants.
type tester struct {
	offers  uint16
	refuses uint8
	says    []contract.Output // for each TEST
	dec     *contract.Decoder
	enc     contract.Encoder
	tests   int
	bye     bool
}

func (b *tester) Feed(in, out []byte) []byte {
	for {
		f, rest, ok := b.dec.Next(in)
		if !ok {
			return out
		}
		in = rest
		switch f.Code {
		case contract.CodeHello:
			var h contract.Hello
			_ = h.Decode(f.Payload)
			out = b.enc.Welcome(out, &contract.Welcome{Version: contract.Version, Capabilities: b.offers, Channels: 3, Nonce: h.Nonce})
		case contract.CodeSync:
			var m contract.Sync
			_ = m.Decode(f.Payload)
			out = b.enc.Synced(out, &contract.Synced{Time: m.Time, BoardTime: m.Time})
		case contract.CodeTest:
			var m contract.Test
			_ = m.Decode(f.Payload)
			b.tests++
			out = b.enc.Tested(out, &contract.Tested{Nonce: m.Nonce, Channel: m.Channel, Refused: b.refuses})
			for _, o := range b.says {
				out = b.enc.Output(out, &o)
			}
		case contract.CodeBye:
			b.bye = true
		}
	}
}

func TestMeasureEndsWhereABoardIsNotAsItMustBe(t *testing.T) {
	const offers = contract.CanTest | contract.CanRealTime
	on, off := contract.Output{Channel: 1, On: 1}, contract.Output{Channel: 1}
	for _, c := range []struct {
		reason string
		board  tester
		tests  int
		err    string
	}{
		{"no TEST", tester{offers: contract.CanRealTime}, 0, "the board does not offer TEST: its pins can be measured by a loopback instead"},
		{"TEST without a clock", tester{offers: contract.CanTest}, 0, "the board does not offer TEST"},
		{"flown before", tester{offers: offers, refuses: contract.TestTouched}, 1, "refuses TEST (4): it has been given samples since it was switched on"},
		{"armed", tester{offers: offers, refuses: contract.TestArmed}, 1, "refuses TEST (3): it is armed"},
		{"something new", tester{offers: offers, refuses: 99}, 1, "refuses TEST (99): for a reason of its own"},
		{"another output moves", tester{offers: offers, says: []contract.Output{{Channel: 3, On: 1}}}, 1, "TEST of output 1, and it says that output 3 moves; switch the supply off"},
		{"off without on", tester{offers: offers, says: []contract.Output{off, on}}, 1, "one TEST is one pulse"},
		{"never off", tester{offers: offers, says: []contract.Output{on}}, 1, "the pulse has not ended after 2s (1 edges told): switch the supply off"},
	} {
		t.Run(c.reason, func(t *testing.T) {
			t.Parallel()
			r, err := Open(t.Context(), simulatedSpec(""), Options{})
			require.NoError(t, err)
			defer r.Close()
			c.board.dec = contract.NewDecoder(contract.FromHost)
			_, err = r.Measure(t.Context(), link.Memory(&c.board), Measurement{Bay: testBay(), Count: 5})
			assert.ErrorContains(t, err, c.err)
			assert.Equal(t, c.tests, c.board.tests, "after the first trouble nothing more is asked")
			if c.tests > 0 {
				assert.True(t, c.board.bye, "and all is made dark")
			}
		})
	}
}

func TestMeasureWithoutPins(t *testing.T) {
	s := simulatedSpec("")
	for i := range s.Boards[0].Outputs {
		s.Boards[0].Outputs[i].Capture = harness.Pin{}
	}
	s.Drives = nil
	r, err := Open(t.Context(), s, Options{})
	require.NoError(t, err)
	defer r.Close()
	g, err := mock.New("")
	require.NoError(t, err)
	_, err = r.Measure(t.Context(), link.Memory(g), Measurement{Bay: testBay(), Count: 5})
	assert.ErrorContains(t, err, "no pin sees any of its outputs")
	_, err = r.Measure(t.Context(), link.Memory(boardtest.NewFake(boardtest.Mute)), Measurement{Bay: testBay(), Count: 5})
	assert.ErrorContains(t, err, "no answer in time; is the board powered")
}
