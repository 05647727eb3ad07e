package contract

import (
	"encoding/binary"
	"hash/crc32"
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
// a buffer and returns the longer buffer; what lies between the buffer's length and its capacity may be
// written to. The zero Encoder is ready.
type Encoder struct {
	content content
	seq     uint8
}

// open gives the place of a frame's content, and its head as the lowest bytes of the first word.
func (e *Encoder) open(c Code) (p *[contentSize]byte, first uint64) {
	first = uint64(c) | uint64(e.seq)<<8
	e.seq++
	return &e.content.bytes, first
}

// sum gives the CRC of the content up to its end.
func (e *Encoder) sum(end int) uint64 {
	return uint64(crc32.Update(0, castagnoli, e.content.bytes[:end]))
}

// shut appends the frame whose payload has been put in place.
func (e *Encoder) shut(dst []byte, payload int) []byte {
	p, end := &e.content.bytes, head+payload
	le.PutUint32(p[end:], uint32(e.sum(end)))
	le.PutUint64(p[end+check:], behind)
	return stuff(dst, &e.content, end+check)
}
