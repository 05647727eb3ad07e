package conformance

import (
	"bytes"
	"encoding/binary"
	"hash/crc32"

	"drystage/harness/board/contract"
)

// corruption is a way to corrupt a frame on its way to the board.
type corruption struct {
	name  string
	apply func(line []byte) []byte // from a sound frame with its delimiter to the bytes sent instead
}

// corruptions lists the ways; each is a point. The shadow decoder tells what the board must count.
var corruptions = []corruption{
	{"a flipped bit in the payload", func(b []byte) []byte { return flipBit(b, 2) }},
	{"a flipped bit in the CRC", func(b []byte) []byte { return flipBit(b, -1) }},
	{"a flipped bit in the type", func(b []byte) []byte { return flipBit(b, 0) }},
	{"broken COBS", func(b []byte) []byte { b[0] = 0xF0; return b }},
	{"a frame cut short", func(b []byte) []byte { return append(b[:len(b)/2], 0) }},
	{"one byte missing", func(b []byte) []byte { return append(b[:4], b[5:]...) }},
	{"one byte too long, with a right CRC", func(b []byte) []byte { return reframe(b, func(f *rawFrame) { f.payload = append(f.payload, 1) }) }},
	{"one byte too short, with a right CRC", func(b []byte) []byte {
		return reframe(b, func(f *rawFrame) { f.payload = f.payload[:len(f.payload)-1] })
	}},
	{"longer than any message", func(b []byte) []byte { return append(append(bytes.Repeat([]byte{0x55}, 90), b[1:len(b)-1]...), 0) }},
	{"an unknown type, with a right CRC", func(b []byte) []byte { return reframe(b, func(f *rawFrame) { f.code = 0x7F }) }},
	{"a board's own type, as an echo has", func(b []byte) []byte {
		return reframe(b, func(f *rawFrame) { f.code, f.payload = uint8(contract.CodeSynced), make([]byte, 8) })
	}},
}

// resyncPlace is the place in the list behind which a receiver may lose its synchronisation.
const resyncPlace = 6

// rawFrame is a frame without CRC, before stuffing.
type rawFrame struct {
	code, seq uint8
	payload   []byte
}

// reframe decodes a sound frame of the host, lets it be changed, and encodes it with a right CRC.
func reframe(line []byte, change func(*rawFrame)) []byte {
	f := decodeRaw(line)
	change(&f)
	return stuff(f.withCRC())
}

// flipBit flips a bit of a byte after the CRC was made. Byte 0 is the type, 2 the first of the payload; negative
// numbers count from the end.
func flipBit(line []byte, at int) []byte {
	f := decodeRaw(line)
	raw := f.withCRC()
	raw[(at+len(raw))%len(raw)] ^= 0x10
	return stuff(raw)
}

func decodeRaw(line []byte) rawFrame {
	f, _, _ := contract.NewDecoder(contract.FromHost).Next(line)
	return rawFrame{uint8(f.Code), f.Seq, append([]byte(nil), f.Payload...)}
}

// withCRC gives the frame's bytes followed by the CRC.
func (f *rawFrame) withCRC() []byte {
	raw := append([]byte{f.code, f.seq}, f.payload...)
	return binary.LittleEndian.AppendUint32(raw, crc32.Checksum(raw, crc32.MakeTable(crc32.Castagnoli)))
}

// stuff encodes less than 254 bytes by consistent overhead byte stuffing (Cheshire and Baker, IEEE/ACM Trans.
// Networking 7(2), 1999), and appends the delimiter.
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
