package contract

import (
	"bytes"
	"hash/crc32"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// The codec byte by byte, as the papers tell it: the second path.

// slowStuff is COBS for any length.
func slowStuff(src []byte) []byte {
	dst := []byte{0}
	code := 0
	for i, c := range src {
		if c != 0 {
			dst = append(dst, c)
		}
		if c == 0 || len(dst)-code == 255 && i+1 < len(src) {
			dst[code] = byte(len(dst) - code)
			code = len(dst)
			dst = append(dst, 0)
		}
	}
	dst[code] = byte(len(dst) - code)
	return dst
}

// slowUnstuff undoes COBS of a single block in place; what was stuffed is then b[1:].
func slowUnstuff(b []byte) (ok bool) {
	i := 0
	for i < len(b) {
		d := int(b[i])
		if d == 0 {
			return false
		}
		b[i] = 0
		i += d
	}
	return i == len(b) && i > 0
}

// slowDecoder is a Decoder that takes one byte after the other.
type slowDecoder struct {
	Decoder
	line []byte
}

func (d *slowDecoder) Next(in []byte) (f Frame, rest []byte, ok bool) {
	for i, c := range in {
		if c != 0 {
			d.line = append(d.line, c)
			continue
		}
		b := d.line
		d.line = nil
		if f, ok := d.take(b); ok {
			return f, in[i+1:], true
		}
	}
	return Frame{}, nil, false
}

func (d *slowDecoder) take(b []byte) (f Frame, ok bool) {
	switch {
	case len(b) == 0:
		return f, false
	case len(b) > maxFrame:
		d.Counts.Long++
		return f, false
	case !slowUnstuff(b):
		d.Counts.COBS++
		return f, false
	}
	b = b[1:]
	end := len(b) - check
	if end < head || crc32.Checksum(b[:end], castagnoli) != le.Uint32(b[end:]) {
		d.Counts.CRC++
		return f, false
	}
	f = Frame{Code: Code(b[0]), Seq: b[1], Payload: b[head:end]}
	if d.begun && f.Code != CodeHello && f.Code != CodeWelcome {
		d.Counts.Lost += int(f.Seq - d.Decoder.next)
	}
	d.begun, d.Decoder.next = true, f.Seq+1
	r := rows[f.Code]
	switch {
	case !r.known || r.from != d.from:
		d.Counts.Unknown++
		return f, false
	case len(f.Payload) < int(r.least) || len(f.Payload) > int(r.most):
		d.Counts.Length++
		return f, false
	}
	return f, true
}

// agree feeds the same bytes to both decoders, to the fast one in pieces of the given length.
func agree(t require.TestingT, from Direction, in []byte, piece int) {
	fast, slow := NewDecoder(from), &slowDecoder{Decoder: Decoder{from: from}}
	left := in
	for at := 0; at < len(in); at += piece {
		part := in[at:min(at+piece, len(in))]
		for {
			f, rest, ok := fast.Next(part)
			if !ok {
				break
			}
			want, more, found := slow.Next(left)
			require.True(t, found)
			require.Equal(t, want, f)
			left, part = more, rest
		}
	}
	_, _, more := slow.Next(left)
	require.False(t, more, "the slow path finds a frame more")
	require.Equal(t, slow.Counts, fast.Counts)
	require.Equal(t, len(slow.line) > 0, fast.Pending())
}

// line draws what may come over a line: frames, damaged or not, and garbage.
var line = rapid.Custom(func(t *rapid.T) []byte {
	switch m := table[rapid.IntRange(0, len(table)-1).Draw(t, "message")]; rapid.IntRange(0, 5).Draw(t, "kind") {
	case 0:
		return rapid.SliceOfN(rapid.SampledFrom([]byte{0, 1, 2, 7, 8, 9, 0x80, 0xff}), 0, 100).Draw(t, "garbage")
	case 1:
		return sound(rapid.SliceOfN(rapid.SampledFrom([]byte{0, 1, 0x20, 0x80, 0xff}), 0, 90).Draw(t, "sound")...)
	case 2:
		b := encode(&Encoder{seq: rapid.Byte().Draw(t, "seq")}, m, drawMessage(t, m))
		b[rapid.IntRange(0, len(b)-1).Draw(t, "at")] = rapid.Byte().Draw(t, "damage")
		return b
	default:
		return encode(&Encoder{seq: rapid.Byte().Draw(t, "seq")}, m, drawMessage(t, m))
	}
})

func TestDecoderEqualsSlowOne(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		in := bytes.Join(rapid.SliceOfN(line, 0, 8).Draw(t, "line"), nil)
		piece := rapid.SampledFrom([]int{1, 2, 7, 8, 9, 16, 40, 63, 64, 65, 1000}).Draw(t, "piece")
		for _, from := range []Direction{FromHost, FromBoard} {
			agree(t, from, in, piece)
		}
	})
}

// FuzzDecoderEqualsSlowOne: whatever arrives, both paths give the same frames and the same counts.
func FuzzDecoderEqualsSlowOne(f *testing.F) {
	f.Add(ticks(0, 3), uint8(5))
	f.Add(new(Encoder).Log(nil, &Log{Time: 5, Text: bytes.Repeat([]byte("boost "), 12)}), uint8(200))
	f.Add([]byte{0xff, 1, 0, 2, 2, 0}, uint8(2))
	f.Fuzz(func(t *testing.T, in []byte, piece uint8) {
		agree(t, FromHost, in, int(piece)+1)
		agree(t, FromBoard, in, int(piece)+1)
	})
}
