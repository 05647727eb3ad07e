package contract

import (
	"hash/crc32"
	"testing"

	"github.com/stretchr/testify/require"
)

// line40 are messages that take 40 bytes on the line, with few, some and many zero bytes among them.
var line40 = []struct {
	name string
	m    Report
}{
	{"no zeros", Report{Time: 0x01234567, Phase: [16]byte([]byte("sixteen letters!")), Height: 0x11223344, Speed: -0x01020304, Apogee: 0x55667788}},
	{"usual", Report{Time: 12_345_678, Phase: word16("descent"), Height: 412_345, Speed: -15_432, Apogee: 1_234_567}},
	{"all zeros", Report{}},
}

func word16(s string) (w [16]byte) {
	copy(w[:], s)
	return w
}

var sum uint32

// BenchmarkLine40 holds the codec against what it can't do without: copy the frame, and CRC-32C of it.
func BenchmarkLine40(b *testing.B) {
	const size, many = 40, 256 // all sequence numbers
	for _, c := range line40 {
		var e Encoder
		var line []byte
		for range many {
			line = e.Report(line, &c.m)
		}
		require.Len(b, line, size*many)
		dst := make([]byte, 0, room)
		b.Run("copy and crc/"+c.name, func(b *testing.B) {
			for i := 0; b.Loop(); i++ {
				at := i % many * size
				dst = append(dst[:0], line[at:at+size]...)
				sum += crc32.Update(0, castagnoli, dst)
			}
		})
		b.Run("encode/"+c.name, func(b *testing.B) {
			for b.Loop() {
				dst = e.Report(dst[:0], &c.m)
			}
		})
		b.Run("decode/"+c.name, func(b *testing.B) {
			d, m := NewDecoder(FromBoard), Report{}
			in := line
			for b.Loop() {
				f, rest, ok := d.Next(in)
				if !ok || m.Decode(f.Payload) != nil {
					b.Fatal("bad frame")
				}
				if in = rest; len(in) == 0 {
					in = line
				}
			}
			require.Equal(b, Counts{}, d.Counts)
		})
	}
}
