package contract

import (
	"encoding/binary"
	"hash/crc32"
	"slices"
)

// overhead is what a frame takes on the line beyond its payload: the COBS byte, type, sequence
// number, CRC and delimiter.
const overhead = 1 + head + check + 1

const (
	head  = 2 // type and sequence number
	check = 4 // CRC-32C
)

var (
	le         = binary.LittleEndian
	castagnoli = crc32.MakeTable(crc32.Castagnoli)
)

// Encoder makes frames and counts them. It has a method for each message, which appends the frame to
// a buffer and returns the longer buffer. The zero Encoder is ready.
type Encoder struct{ seq uint8 }

// open makes room for a frame and gives the place of its payload.
func (e *Encoder) open(dst []byte, c Code, payload int) (longer, p []byte) {
	n := len(dst)
	dst = slices.Grow(dst, payload+overhead)[:n+payload+overhead]
	f := dst[n:]
	f[1], f[2] = byte(c), e.seq
	e.seq++
	return dst, f[1+head : 1+head+payload]
}

// shut finishes the frame at the end of dst.
func (e *Encoder) shut(dst []byte, payload int) []byte {
	f := dst[len(dst)-payload-overhead:]
	end := 1 + head + payload
	le.PutUint32(f[end:], crc32.Update(0, castagnoli, f[1:end]))
	stuff(f[:end+check])
	f[end+check] = 0
	return dst
}
