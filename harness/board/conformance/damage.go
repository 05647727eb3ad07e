package conformance

import (
	"bytes"
	"encoding/binary"
	"hash/crc32"

	"drystage/harness/board/contract"
)

// damage is a way to spoil a frame on its way to the board.
type damage struct {
	name  string
	spoil func(line []byte) []byte // takes a sound frame with its delimiter, gives what is sent instead
}

// damages lists the ways, each a point. What the board must count is left to a decoder of our own.
var damages = []damage{
	{"a flipped bit in the payload", func(b []byte) []byte { return flip(b, 2) }},
	{"a flipped bit in the CRC", func(b []byte) []byte { return flip(b, -1) }},
	{"a flipped bit in the type", func(b []byte) []byte { return flip(b, 0) }},
	{"broken COBS", func(b []byte) []byte { b[0] = 0xF0; return b }},
	{"a frame cut short", func(b []byte) []byte { return append(b[:len(b)/2], 0) }},
	{"one byte missing", func(b []byte) []byte { return append(b[:4], b[5:]...) }},
	{"one byte too long, with a right CRC", func(b []byte) []byte { return reframe(b, func(f *frame) { f.payload = append(f.payload, 1) }) }},
	{"one byte too short, with a right CRC", func(b []byte) []byte {
		return reframe(b, func(f *frame) { f.payload = f.payload[:len(f.payload)-1] })
	}},
	{"longer than any message", func(b []byte) []byte { return append(append(bytes.Repeat([]byte{0x55}, 90), b[1:len(b)-1]...), 0) }},
	{"an unknown type, with a right CRC", func(b []byte) []byte { return reframe(b, func(f *frame) { f.code = 0x7F }) }},
	{"a board's own type, as an echo has", func(b []byte) []byte {
		return reframe(b, func(f *frame) { f.code, f.payload = uint8(contract.CodeSynced), make([]byte, 8) })
	}},
}

// bothHear is the place in the list behind which damage could make a receiver lose its way.
const bothHear = 6

// frame is what lies inside the stuffing, but for the CRC.
type frame struct {
	code, seq uint8
	payload   []byte
}

// reframe takes a sound frame from the host apart, lets it be changed, and gives it a right CRC again.
func reframe(line []byte, change func(*frame)) []byte {
	f := opened(line)
	change(&f)
	return stuff(f.sealed())
}

// flip turns over a bit behind the CRC's back, in the byte at a place: 0 is the type, 2 the first of the
// payload; negative counts from the end.
func flip(line []byte, at int) []byte {
	f := opened(line)
	raw := f.sealed()
	raw[(at+len(raw))%len(raw)] ^= 0x10
	return stuff(raw)
}

func opened(line []byte) frame {
	f, _, _ := contract.NewDecoder(contract.FromHost).Next(line)
	return frame{uint8(f.Code), f.Seq, append([]byte(nil), f.Payload...)}
}

// sealed gives the frame's bytes with their CRC behind.
func (f *frame) sealed() []byte {
	raw := append([]byte{f.code, f.seq}, f.payload...)
	return binary.LittleEndian.AppendUint32(raw, crc32.Checksum(raw, crc32.MakeTable(crc32.Castagnoli)))
}

// stuff codes less than 254 bytes by consistent overhead byte stuffing (Cheshire and Baker, IEEE/ACM
// Trans. Networking 7(2), 1999), with the delimiter behind.
func stuff(raw []byte) []byte {
	out, code := []byte{0}, 0
	for _, c := range raw {
		if c != 0 {
			out = append(out, c)
			continue
		}
		out[code] = byte(len(out) - code)
		code = len(out)
		out = append(out, 0)
	}
	out[code] = byte(len(out) - code)
	return append(out, 0)
}
