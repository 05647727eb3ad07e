package contract

import (
	"bytes"
	"fmt"
	"hash/crc32"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func ticks(from, to int) (out []byte) {
	e := Encoder{seq: uint8(from)}
	for i := from; i < to; i++ {
		out = e.Tick(out, &Tick{Time: uint32(i)})
	}
	return out
}

// sound frames any bytes with a right check, whatever the table says.
func sound(raw ...byte) []byte {
	raw = le.AppendUint32(raw, crc32.Checksum(raw, castagnoli))
	return append(slowStuff(raw), 0)
}

func count(d *Decoder, in []byte) (n int) {
	for {
		_, rest, ok := d.Next(in)
		if !ok {
			return n
		}
		n, in = n+1, rest
	}
}

func TestDecoderCounts(t *testing.T) {
	flipped := ticks(1, 2)
	flipped[3] ^= 0x40
	for _, c := range []struct {
		reason string
		in     []byte
		frames int
		want   Counts
	}{
		{"delimiters alone are nothing", []byte{0, 0, 0}, 0, Counts{}},
		{"frames in a row", ticks(0, 5), 5, Counts{}},
		{"the first number may be any", ticks(200, 203), 3, Counts{}},
		{"numbers wrap at 256", ticks(250, 262), 12, Counts{}},
		{"two frames missing", append(ticks(0, 2), ticks(4, 5)...), 3, Counts{Lost: 2}},
		{"a gap across the wrap", append(ticks(254, 255), ticks(258, 259)...), 2, Counts{Lost: 3}},
		{"a flipped bit is a bad frame and a missing one", bytes.Join([][]byte{ticks(0, 1), flipped, ticks(2, 3)}, nil), 2, Counts{CRC: 1, Lost: 1}},
		{"broken stuffing", []byte{9, 1, 0}, 0, Counts{COBS: 1}},
		{"too short for a check", []byte{3, 1, 2, 0}, 0, Counts{CRC: 1}},
		{"a check of nothing", sound(), 0, Counts{CRC: 1}},
		{"no message has this type", sound(0x7f, 0), 0, Counts{Unknown: 1}},
		{"the other side's message: an echo", sound(0x81, 0), 0, Counts{Unknown: 1}},
		{"longer than the type", sound(0x20, 0, 1, 2, 3, 4, 5), 0, Counts{Length: 1}},
		{"shorter than the type", sound(0x20, 0, 1, 2, 3), 0, Counts{Length: 1}},
		{"an unknown type takes a number", bytes.Join([][]byte{ticks(0, 1), sound(0x7f, 1), ticks(2, 3)}, nil), 2, Counts{Unknown: 1}},
		{"garbage, delimiter, frame", append(append(bytes.Repeat([]byte{0xA5}, 5000), 0), ticks(0, 1)...), 1, Counts{Long: 1}},
		{"garbage right in front spoils one frame", append([]byte{99, 7}, ticks(0, 2)...), 1, Counts{COBS: 1}},
		{"HELLO begins the numbers anew", append(ticks(7, 8), new(Encoder).Hello(nil, &Hello{})...), 2, Counts{}},
	} {
		d := NewDecoder(FromHost)
		n := count(d, c.in)
		assert.Equal(t, c.frames, n, c.reason)
		assert.Equal(t, c.want, d.Counts, c.reason)
		assert.False(t, d.Pending(), c.reason)

		slow, one := NewDecoder(FromHost), 0
		for _, b := range c.in {
			one += count(slow, []byte{b})
		}
		assert.Equal(t, c.frames, one, "%s, byte by byte", c.reason)
	}
}

func TestForget(t *testing.T) {
	d := NewDecoder(FromHost)
	require.Equal(t, 1, count(d, append(ticks(0, 1), 1, 2, 3)))
	require.True(t, d.Pending())
	d.Forget()
	require.False(t, d.Pending())
	require.Equal(t, 2, count(d, ticks(100, 102)), "the half frame is gone")
	require.Equal(t, Counts{}, d.Counts, "and no gap is counted")
}

// Every byte of a short session flipped or left out in turn: no wrong frame ever comes out, all
// frames that the damage doesn't touch do, and the damage is counted.
func TestBreakAtEveryByte(t *testing.T) {
	const frames = 6
	whole := ticks(0, frames)
	for n := range whole {
		for _, how := range []string{"flip", "leave out", "zero", "add"} {
			in := append([]byte{}, whole...)
			switch how {
			case "flip":
				in[n] ^= 1 << (n % 8)
			case "leave out":
				in = append(in[:n], in[n+1:]...)
			case "zero":
				in[n] = 0
			case "add":
				in = append(in[:n], append([]byte{0x55}, in[n:]...)...)
			}
			name := fmt.Sprintf("%s byte %d", how, n)
			d := NewDecoder(FromHost)
			got := 0
			for {
				f, rest, ok := d.Next(in)
				if !ok {
					break
				}
				var m Tick
				require.NoError(t, m.Decode(f.Payload), name)
				require.Equal(t, uint32(f.Seq), m.Time, name)
				got, in = got+1, rest
			}
			assert.GreaterOrEqual(t, got, frames-2, name)
			if got < frames {
				assert.True(t, d.Counts.Bad() > 0 || d.Pending(), name)
			}
		}
	}
}

// A frame comes out the same however the bytes are cut into pieces.
func TestPiecesDoNotMatter(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		in := rapid.SliceOfN(rapid.Custom(func(t *rapid.T) []byte {
			if rapid.Bool().Draw(t, "noise") {
				return rapid.SliceOfN(rapid.Byte(), 0, 100).Draw(t, "bytes")
			}
			return ticks(1, 3)
		}), 0, 6).Draw(t, "parts")
		all := bytes.Join(in, nil)
		a, b := NewDecoder(FromHost), NewDecoder(FromHost)
		na, nb := count(a, all), 0
		for left := all; len(left) > 0; {
			k := rapid.IntRange(1, len(left)).Draw(t, "piece")
			nb += count(b, left[:k])
			left = left[k:]
		}
		require.Equal(t, na, nb)
		require.Equal(t, a.Counts, b.Counts)
		require.Equal(t, a.Pending(), b.Pending())
	})
}

func TestDecoderAllocatesNothing(t *testing.T) {
	var e Encoder
	buf := make([]byte, 0, 256)
	d := NewDecoder(FromHost)
	m := IMU{Time: 7, AccelX: -9807}
	assert.Zero(t, testing.AllocsPerRun(100, func() {
		buf = e.IMU(buf[:0], &m)
		f, _, ok := d.Next(buf)
		if !ok || m.Decode(f.Payload) != nil {
			t.Fatal("bad frame")
		}
	}))
}

// FuzzDecoder: whatever arrives, memory stays bounded, what comes out is what the table allows, and
// encoding it again gives a frame that decodes to the same.
func FuzzDecoder(f *testing.F) {
	f.Add(ticks(0, 3))
	f.Add(new(Encoder).Log(nil, &Log{Time: 5, Text: []byte("burnout")}))
	f.Add([]byte{0xff, 1, 0, 2, 2, 0})
	f.Fuzz(func(t *testing.T, in []byte) {
		for _, from := range []Direction{FromHost, FromBoard} {
			d := NewDecoder(from)
			for left := in; ; {
				fr, rest, ok := d.Next(left)
				if !ok {
					break
				}
				for _, m := range table {
					if m.Code != fr.Code {
						continue
					}
					require.Equal(t, from, m.From)
					msg := all()[m.Code]
					require.NoError(t, decode(msg, fr.Payload))
					again, _, ok := NewDecoder(from).Next(encode(&Encoder{seq: fr.Seq}, m, msg))
					require.True(t, ok)
					require.Equal(t, fr, again)
				}
				left = rest
			}
			require.LessOrEqual(t, d.Counts.Bad(), bytes.Count(in, []byte{0}))
		}
	})
}
