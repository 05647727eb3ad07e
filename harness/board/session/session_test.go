package session

import (
	"bytes"
	"context"
	"os"
	"testing"
	"time"

	"drystage/harness/board/contract"
	"drystage/harness/board/link"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// scripted is a board that answers each message as a function says.
type scripted struct {
	dec    *contract.Decoder
	enc    contract.Encoder
	hellos int
	answer func(b *scripted, f contract.Frame) []byte
}

func board(answer func(b *scripted, f contract.Frame) []byte) *scripted {
	return &scripted{dec: contract.NewDecoder(contract.FromHost), answer: answer}
}

func (b *scripted) Feed(in, out []byte) []byte {
	for {
		f, rest, ok := b.dec.Next(in)
		if !ok {
			return out
		}
		in = rest
		if f.Code == contract.CodeHello {
			b.hellos++
		}
		out = append(out, b.answer(b, f)...)
	}
}

// welcome answers a HELLO with its own nonce, changed where a test says so.
func (b *scripted) welcome(f contract.Frame, change uint32, boots uint16) []byte {
	var m contract.Hello
	if f.Code != contract.CodeHello || m.Decode(f.Payload) != nil {
		return nil
	}
	return b.enc.Welcome(nil, &contract.Welcome{Version: contract.Version, Nonce: m.Nonce ^ change, Boots: boots, Channels: 3})
}

const nonce = 0x51

func hello() *contract.Hello {
	m := Hello("sustainer", contract.Lockstep, contract.Rates{IMU: 200, GNSS: 0.2})
	m.Nonce = nonce
	return &m
}

func TestGreet(t *testing.T) {
	unasked := func(b *scripted, boots uint16) []byte {
		return b.enc.Welcome(nil, &contract.Welcome{Version: contract.Version, Boots: boots})
	}
	for _, c := range []struct {
		reason string
		answer func(b *scripted, f contract.Frame) []byte
		said   int
		fails  error
		text   string
	}{
		{"answered at once", func(b *scripted, f contract.Frame) []byte { return b.welcome(f, 0, 1) }, 1, nil, ""},
		{"the first two are missed while it boots", func(b *scripted, f contract.Frame) []byte {
			if b.hellos < 3 {
				return nil
			}
			return b.welcome(f, 0, 1)
		}, 3, nil, ""},
		{"news of a start comes before the answer", func(b *scripted, f contract.Frame) []byte { return append(unasked(b, 7), b.welcome(f, 0, 8)...) }, 1, nil, ""},
		{"other frames before WELCOME are dropped", func(b *scripted, f contract.Frame) []byte {
			return append(b.enc.Done(nil, &contract.Done{Time: 9}), b.welcome(f, 0, 1)...)
		}, 1, nil, ""},
		{"a foreign answer, then ours", func(b *scripted, f contract.Frame) []byte { return append(b.welcome(f, 1, 1), b.welcome(f, 0, 1)...) }, 1, nil, ""},
		{"nothing but foreign answers", func(b *scripted, f contract.Frame) []byte { return b.welcome(f, 1, 1) }, 3, ErrNonce, "WELCOME: the board answers somebody else's HELLO: nonce 00000050 came back, 00000051 was sent"},
		{"silent", func(*scripted, contract.Frame) []byte { return nil }, 3, ErrSilent, "HELLO (said 3 times): WELCOME: no answer in time; is the board powered, and does it run?"},
		{"noise", func(*scripted, contract.Frame) []byte { return []byte("boot 1.2\r\n\x00") }, 3, ErrGarbage, "WELCOME: no sound frame among what came: 11 bytes; are speed and wiring right?"},
		{"another message", func(b *scripted, _ contract.Frame) []byte { return b.enc.Done(nil, &contract.Done{}) }, 3, ErrSilent, "though 1 other frames came"},
		{"it never stops", func(*scripted, contract.Frame) []byte { return bytes.Repeat([]byte{'U'}, 2*MaxBytes) }, 1, ErrFlood, "more than 65536 bytes at once"},
	} {
		t.Run(c.reason, func(t *testing.T) {
			b := board(c.answer)
			w, said, err := New(link.Memory(b)).Connect(t.Context(), hello(), time.Second)
			assert.Equal(t, c.said, said)
			assert.Equal(t, c.said, b.hellos)
			if c.fails != nil {
				require.ErrorIs(t, err, c.fails)
				require.ErrorContains(t, err, c.text)
				assert.Equal(t, c.fails != ErrFlood, NoAnswer(err))
				return
			}
			require.NoError(t, err)
			assert.EqualValues(t, nonce, w.Nonce)
			assert.EqualValues(t, 3, w.Channels)
		})
	}
}

func TestAwait(t *testing.T) {
	seen := func(b *scripted) []byte {
		return b.enc.Log(nil, &contract.Log{Text: []byte("on the pad")})
	}
	done := func(b *scripted) []byte { return b.enc.Done(nil, &contract.Done{Time: 5}) }
	welcome := func(nonce uint32, boots uint16) func(b *scripted) []byte {
		return func(b *scripted) []byte {
			return b.enc.Welcome(nil, &contract.Welcome{Nonce: nonce, Boots: boots})
		}
	}
	for _, c := range []struct {
		reason string
		says   []func(b *scripted) []byte
		seen   int // frames handed over
		fails  error
	}{
		{"the answer alone, which is handed over too", []func(*scripted) []byte{done}, 1, nil},
		{"something else first", []func(*scripted) []byte{seen, done}, 2, nil},
		{"what follows the answer waits for the next one", []func(*scripted) []byte{done, seen}, 1, nil},
		{"a late twin of the last WELCOME", []func(*scripted) []byte{welcome(nonce, 4), done}, 1, nil},
		{"the board has started anew, and says so unasked", []func(*scripted) []byte{welcome(0, 5), done}, 0, ErrRestarted},
		{"or in answer to an earlier HELLO", []func(*scripted) []byte{seen, welcome(nonce, 5), done}, 1, ErrRestarted},
		{"no answer", []func(*scripted) []byte{seen}, 1, ErrSilent},
	} {
		t.Run(c.reason, func(t *testing.T) {
			s := New(link.Memory(board(func(b *scripted, f contract.Frame) (out []byte) {
				if f.Code == contract.CodeTick {
					for _, say := range c.says {
						out = append(out, say(b)...)
					}
				}
				return append(out, b.welcome(f, 0, 4)...)
			})))
			w, _, err := s.Connect(t.Context(), hello(), time.Second)
			require.NoError(t, err)
			s.Welcome = w
			require.NoError(t, s.Send(s.Enc.Tick(nil, &contract.Tick{Time: 5})))
			n := 0
			p, err := s.Await(t.Context(), contract.CodeDone, time.Second, func(contract.Frame) error { n++; return nil })
			assert.Equal(t, c.seen, n)
			if c.fails != nil {
				require.ErrorIs(t, err, c.fails)
				return
			}
			require.NoError(t, err)
			var d contract.Done
			require.NoError(t, d.Decode(p))
			assert.EqualValues(t, 5, d.Time)
		})
	}
}

func TestWaitsEnd(t *testing.T) {
	s := New(link.Memory(board(func(b *scripted, f contract.Frame) []byte { return b.welcome(f, 0, 1) })))
	_, err := s.Next(t.Context(), time.Now().Add(time.Hour))
	assert.ErrorIs(t, err, os.ErrDeadlineExceeded, "over an instant link there is nothing to wait for")
	stopped, stop := context.WithCancel(t.Context())
	stop()
	_, _, err = s.Connect(stopped, hello(), time.Second)
	assert.ErrorIs(t, err, context.Canceled)

	for range 3 {
		require.ErrorIs(t, s.Feed(make([]byte, MaxBytes)), ErrFlood, "nobody gives it a new budget")
	}
	s.Budget = MaxBytes
	assert.NoError(t, s.Feed([]byte("few")))
}

// TestWhatIsLeft: what came behind the last answer is kept, and its frames are counted, sound or not.
func TestWhatIsLeft(t *testing.T) {
	b := board(func(b *scripted, f contract.Frame) []byte {
		out := b.welcome(f, 0, 1)
		out = b.enc.Done(out, &contract.Done{})
		return append(out, "\x05half\x00and a beginning"...)
	})
	s := New(link.Memory(b))
	_, _, err := s.Connect(t.Context(), hello(), time.Second)
	require.NoError(t, err)
	assert.False(t, s.Idle())
	assert.Equal(t, 3, s.UnreadFrames(), "a sound one, a spoilt one, one begun")
	require.NoError(t, s.Send(s.Enc.Bye(nil, &contract.Bye{})))
	require.NoError(t, s.Listen(time.Now()))
	assert.Equal(t, 5, s.UnreadFrames(), "what was begun is spoilt by what follows it")

	f := s.Fork(link.Memory(b))
	assert.Equal(t, 5, f.UnreadFrames())
	f.Unread()
	assert.True(t, f.Idle())
	assert.False(t, s.Idle(), "the two share nothing")
}

// TestHooks: the hooks see all frames, in their order, and what Sending refuses is not sent.
func TestHooks(t *testing.T) {
	b := board(func(b *scripted, f contract.Frame) []byte { return b.welcome(f, 0, 1) })
	s := New(link.Memory(b))
	var sent, came int
	s.Sending = func(out []byte) error { sent += len(out); return nil }
	s.Received = func(f contract.Frame) { came++ }
	_, _, err := s.Connect(t.Context(), hello(), time.Second)
	require.NoError(t, err)
	assert.Equal(t, len(s.LastSent), sent)
	assert.Equal(t, 1, came)
	assert.Equal(t, 1, s.Frames)
	s.Sending = func([]byte) error { return os.ErrPermission }
	_, _, err = s.Connect(t.Context(), hello(), time.Second)
	assert.ErrorIs(t, err, os.ErrPermission)
	assert.Equal(t, 1, b.hellos)
}

func TestHelloAnnouncesRates(t *testing.T) {
	m := hello()
	assert.EqualValues(t, 200, m.IMUHz)
	assert.EqualValues(t, 0, m.BaroHz, "not fitted")
	assert.EqualValues(t, 1, m.GNSSHz, "fitted, so at least 1")
	assert.Equal(t, "sustainer", contract.Text(m.Role[:]))
}
