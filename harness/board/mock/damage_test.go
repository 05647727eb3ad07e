package mock

import (
	"bytes"
	"fmt"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"

	"drystage/harness/board/contract"
)

// session is a complete short flight as bytes: 25 ticks a second, 1.8 s on the pad, 0.6 s of thrust,
// staging at 2.6 s, apogee at about 5.5 s, main 0.1 s after the drogue.
type session struct {
	chunks [][]byte // one per tick
}

// shortFlight makes the bytes of the session. The rocket tilts by tilt in rad before staging.
func shortFlight(tilt float64, armed bool) session {
	var h host
	var s session
	first := h.hello(0, 0)
	for _, set := range []struct {
		name  string
		value int32
	}{
		{"staging_channel", 1000}, {"drogue_channel", 2000}, {"main_channel", 3000}, {"pulse", 100},
		{"liftoff_time", 50}, {"staging_delay", 120}, {"staging_min_height", 0}, {"staging_min_speed", 5000},
		{"main_height", 0}, {"main_lockout", 100},
	} {
		var n [24]byte
		copy(n[:], set.name)
		first = h.enc.Setting(first, &contract.Setting{Name: n, Value: set.value})
	}
	s.chunks = append(s.chunks, first)
	const dt = 0.04
	height, speed := 0.0, 0.0
	for k := range 170 {
		now := float64(k) * dt
		f := standardGravity
		switch {
		case now >= 1.8 && now < 2.4:
			f = 60
		case now >= 2.4:
			f = -0.5
		}
		if now >= 1.8 {
			height += speed*dt + (f-standardGravity)*dt*dt/2
			speed += (f - standardGravity) * dt
		}
		rate := 0.0
		if k >= 61 && k < 63 {
			rate = tilt / 2 / dt
		}
		us, wave := uint32(k)*40_000, int32(k*7919%13)
		var b []byte
		b = h.enc.IMU(b, &contract.IMU{Time: us, Has: 3, AccelX: int32(1000*f) + wave, AccelY: wave, AccelZ: -wave,
			GyroX: wave * 10, GyroY: -wave * 10, GyroZ: int32(1e6*rate) + wave*10})
		b = h.enc.Baro(b, &contract.Baro{Time: us, Pressure: uint32(101_325_000 - 12_013*height + float64(wave*100))})
		if k == 42 && armed {
			b = h.enc.Command(b, &contract.Command{Time: us, Command: contract.Arm})
		}
		s.chunks = append(s.chunks, h.enc.Tick(b, &contract.Tick{Time: us}))
	}
	return s
}

// firings gives the channels that an answer switches on, with their times, and if any was on while
// the last DONE said unarmed.
type firings struct {
	dec     *contract.Decoder
	channel []uint8
	at      []float64
}

func (f *firings) take(in []byte) {
	for {
		frame, rest, ok := f.dec.Next(in)
		if !ok {
			return
		}
		in = rest
		var m contract.Output
		if frame.Code == contract.CodeOutput && m.Decode(frame.Payload) == nil && m.On == 1 {
			f.channel, f.at = append(f.channel, m.Channel), append(f.at, float64(m.Time)/1e6)
		}
	}
}

func newFirings() *firings { return &firings{dec: contract.NewDecoder(contract.FromBoard)} }

// TestDamageAtEachByte sends the session with one byte lost, doubled or flipped at each position in turn, after the
// handshake (which the host would repeat). Nothing fires that the undamaged session would not fire, nothing twice,
// nothing at another time; and once the board is armed, recovery still works.
func TestDamageAtEachByte(t *testing.T) {
	for _, c := range []struct {
		reason string
		s      session
		want   []uint8
	}{
		{"a flight with everything", shortFlight(0, true), []uint8{1, 2, 3}},
		{"over the limit of tilt", shortFlight(0.6, true), []uint8{2, 3}},
		{"never armed", shortFlight(0, false), nil},
	} {
		t.Run(c.reason, func(t *testing.T) {
			t.Parallel()
			g, err := New("")
			require.NoError(t, err)
			boards := []*Board{}
			sound := newFirings()
			for _, chunk := range c.s.chunks {
				boards = append(boards, g.Fork())
				sound.take(g.Feed(chunk, nil))
			}
			require.Equal(t, c.want, sound.channel)
			every, n := 1, 0
			if testing.Short() {
				every = 10
			}
			for i, chunk := range c.s.chunks[1:] {
				for j := i % every; j < len(chunk); j += every {
					f := boards[i+1].fly(disturb(n, chunk, j), c.s.chunks[i+2:])
					why := sound.against(f)
					if why == "" && i > 45 && i < 130 && !slices.Equal(recovery(f.channel), recovery(c.want)) {
						why = "armed, and recovery is missing"
					}
					if why != "" {
						t.Fatalf("look %d, byte %d, way %d: %s; fired %v at %v, sound %v at %v", i+1, j, n%3, why, f.channel, f.at, sound.channel, sound.at)
					}
					n++
				}
			}
			require.Greater(t, n, 9000/every)
		})
	}
}

// recovery leaves out the upper motor's output.
func recovery(channels []uint8) []uint8 {
	return slices.DeleteFunc(slices.Clone(channels), func(ch uint8) bool { return ch == 1 })
}

// disturb loses or doubles byte j, or flips one bit of it, by turns.
func disturb(n int, chunk []byte, j int) []byte {
	b := bytes.Clone(chunk)
	switch n % 3 {
	case 0:
		return slices.Delete(b, j, j+1)
	case 1:
		return slices.Insert(b, j, b[j])
	}
	b[j] ^= 1 << (n / 3 % 8)
	return b
}

// fly continues from a copy of g.
func (g *Board) fly(first []byte, rest [][]byte) *firings {
	b, f := g.Fork(), newFirings()
	var out []byte
	out = b.Feed(first, out[:0])
	f.take(out)
	for _, chunk := range rest {
		out = b.Feed(chunk, out[:0])
		f.take(out)
	}
	return f
}

// against compares a damaged session, which may have begun late, with the undamaged one.
func (sound *firings) against(f *firings) string {
	for i, ch := range f.channel {
		k := slices.Index(sound.channel, ch)
		switch {
		case k < 0:
			return fmt.Sprintf("output %d fires", ch)
		case slices.Contains(f.channel[:i], ch):
			return fmt.Sprintf("output %d fires twice", ch)
		case f.at[i] < sound.at[k]-0.13:
			return fmt.Sprintf("output %d fires early", ch)
		case f.at[i] > sound.at[k]+0.5:
			return fmt.Sprintf("output %d fires late", ch)
		}
	}
	return ""
}

// TestPartedAtEachByte: the session sent byte by byte gets the same answer as in one piece, so a line that ends at any
// byte gets a prefix of that answer.
func TestPartedAtEachByte(t *testing.T) {
	s := shortFlight(0, true)
	g, err := New("")
	require.NoError(t, err)
	whole, dec := []byte{}, contract.NewDecoder(contract.FromBoard)
	for _, chunk := range s.chunks {
		for j := range chunk {
			whole = g.Feed(chunk[j:j+1], whole)
		}
	}
	twin, err := New("")
	require.NoError(t, err)
	require.Equal(t, twin.Feed(bytes.Join(s.chunks, nil), nil), whole, "however the line parts the bytes")
	n := 0
	for in := whole; ; n++ {
		_, rest, ok := dec.Next(in)
		if !ok {
			break
		}
		in = rest
	}
	require.Greater(t, n, 170)
	require.Zero(t, dec.Counts)
}
