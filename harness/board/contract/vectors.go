package contract

import (
	"bytes"
	"fmt"
	"strings"
)

// Vector is a golden frame: sent with sequence number Seq, its bytes on the line are Line.
type Vector struct {
	Message Message
	Seq     uint8
	Payload []byte
	Line    []byte // with the delimiter
}

// Vectors gives golden frames of every message: all fields zero, least, greatest, and each different.
func Vectors() []Vector {
	var vs []Vector
	for _, m := range Table() {
		for _, fill := range []func(t Type, at int) []byte{zeroField, leastField, greatestField, countingField} {
			var p []byte
			for _, f := range m.Fields {
				p = append(p, fill(f.Type, len(p))...)
			}
			v := Vector{Message: m, Seq: uint8(len(vs) * 37), Payload: p}
			v.Line = frameOf(m.Code, v.Seq, p)
			vs = append(vs, v)
		}
	}
	return vs
}

func frameOf(c Code, seq uint8, payload []byte) []byte {
	e := Encoder{seq: seq}
	p, first := e.open(c)
	le.PutUint64(p[0:], first)
	return e.shut(nil, copy(p[head:], payload))
}

func zeroField(t Type, _ int) []byte { return make([]byte, t.Size()) }

func leastField(t Type, _ int) []byte {
	b := make([]byte, t.Size())
	switch t {
	case I16, I32:
		b[len(b)-1] = 0x80
	case Text16, Text24:
		b[0] = 'a'
	case Tail:
		b = []byte{'a'}
	}
	return b
}

func greatestField(t Type, _ int) []byte {
	b := bytes.Repeat([]byte{0xff}, t.Size())
	switch t {
	case I16, I32:
		b[len(b)-1] = 0x7f
	case Text16, Text24:
		b = bytes.Repeat([]byte{'~'}, t.Size())
	case Tail:
		b = bytes.Repeat([]byte{'~'}, MaxTail)
	}
	return b
}

func countingField(t Type, at int) []byte {
	if t == Tail {
		return []byte("text")
	}
	b := make([]byte, t.Size())
	for i := range b {
		b[i] = byte(at + i + 1)
	}
	if t == Text16 || t == Text24 {
		clear(b[copy(b, "text"):])
	}
	return b
}

// CorruptVector is a sequence of bytes from a host, some of them damaged, and what a board's decoder must make of it.
type CorruptVector struct {
	Name   string
	Line   []byte
	Frames int // sound ones
	Counts Counts
}

// CorruptVectors gives lines with every kind of damage that a decoder distinguishes.
func CorruptVectors() []CorruptVector {
	tick := func(seq uint8) []byte { return frameOf(CodeTick, seq, []byte{seq, 1, 0, 0}) }
	sound := func(b ...byte) []byte { return frameOf(Code(b[0]), b[1], b[2:]) }
	line := func(parts ...[]byte) []byte { return bytes.Join(parts, nil) }
	flip := func(b []byte, at int) []byte { b[at] ^= 0x10; return b }
	full := bytes.Repeat([]byte{0x55}, maxFrame)
	hello := frameOf(CodeHello, 0, make([]byte, 32))
	return []CorruptVector{
		{"delimiters-alone", []byte{0, 0, 0}, 0, Counts{}},
		{"sound", line(tick(0), tick(1), tick(2)), 3, Counts{}},
		{"delimiter-in-front", line([]byte{0}, tick(9), tick(10)), 2, Counts{}},
		{"numbers-wrap", line(tick(254), tick(255), tick(0)), 3, Counts{}},
		{"two-missing", line(tick(5), tick(8)), 2, Counts{Lost: 2}},
		{"same-number-twice", line(tick(5), tick(5)), 2, Counts{Lost: 255}},
		{"missing-across-wrap", line(tick(254), tick(2)), 2, Counts{Lost: 3}},
		{"hello-begins-anew", line(tick(77), hello, tick(1)), 3, Counts{}},
		{"flipped-in-payload", line(tick(0), flip(tick(1), 4), tick(2)), 2, Counts{CRC: 1, Lost: 1}},
		{"flipped-in-type", line(tick(0), flip(tick(1), 1), tick(2)), 2, Counts{CRC: 1, Lost: 1}},
		{"flipped-in-check", line(tick(0), flip(tick(1), 9), tick(2)), 2, Counts{CRC: 1, Lost: 1}},
		{"one-byte-left-out", line(tick(0), tick(1)[1:], tick(2)), 2, Counts{COBS: 1, Lost: 1}},
		{"delimiter-left-out", line(tick(0), bytes.TrimRight(tick(1), "\x00"), tick(2), tick(3)), 2, Counts{CRC: 1, Lost: 2}},
		{"distance-beyond-end", []byte{9, 1, 0}, 0, Counts{COBS: 1}},
		{"distance-one-beyond-end", []byte{4, 1, 2, 0}, 0, Counts{COBS: 1}},
		{"too-short-for-check", []byte{3, 1, 2, 0}, 0, Counts{CRC: 1}},
		{"check-of-nothing", []byte{1, 1, 1, 1, 1, 0}, 0, Counts{CRC: 1}},
		{"one-byte", []byte{1, 0}, 0, Counts{CRC: 1}},
		{"no-such-message", line(tick(0), sound(0x7f, 1), tick(2)), 2, Counts{Unknown: 1}},
		{"echo-of-a-board", line(tick(0), sound(0xA1, 1, 0, 0, 0, 0, 0, 0, 0, 0)), 1, Counts{Unknown: 1}},
		{"echo-of-a-welcome", line(tick(0), frameOf(CodeWelcome, 9, make([]byte, 26)), tick(10)), 2, Counts{Unknown: 1}},
		{"payload-too-long", sound(0x20, 0, 1, 2, 3, 4, 5), 0, Counts{Length: 1}},
		{"payload-too-short", sound(0x20, 0, 1, 2, 3), 0, Counts{Length: 1}},
		{"payload-where-none-is", sound(0x23, 0, 1), 0, Counts{Length: 1}},
		{"as-long-as-may-be", line(full, []byte{0}, tick(0)), 1, Counts{COBS: 1}},
		{"one-byte-longer", line(full, []byte{0x55, 0}, tick(0)), 1, Counts{Long: 1}},
		{"garbage-without-end", line(bytes.Repeat(full, 5), []byte{0}, tick(0)), 1, Counts{Long: 1}},
		{"garbage-in-front", line([]byte{99, 7}, tick(0), tick(1)), 1, Counts{COBS: 1}},
		{"half-a-frame-at-the-end", line(tick(0), tick(1)[:5]), 1, Counts{}},
	}
}

// VectorText gives the golden frames as lines of text: name, type, number, payload and line in
// hexadecimal, with a dash for nothing.
func VectorText() []byte {
	var b strings.Builder
	fmt.Fprintf(&b, "# Golden frames of the drystage contract, version %d. Made by go generate ./harness/board/contract.\n"+
		"# message type seq payload line\n", Version)
	for _, v := range Vectors() {
		fmt.Fprintf(&b, "%s %02x %02x %s %x\n", v.Message.Name, uint8(v.Message.Code), v.Seq, orDash(v.Payload), v.Line)
	}
	return []byte(b.String())
}

// CorruptText gives the damaged lines as lines of text: name, frames that are sound, counts, and the
// bytes in hexadecimal.
func CorruptText() []byte {
	var b strings.Builder
	fmt.Fprintf(&b, "# Damaged lines towards a board, version %d. Made by go generate ./harness/board/contract.\n"+
		"# name frames cobs long crc unknown length lost line\n", Version)
	for _, s := range CorruptVectors() {
		c := s.Counts
		fmt.Fprintf(&b, "%s %d %d %d %d %d %d %d %x\n", s.Name, s.Frames, c.COBS, c.Long, c.CRC, c.Unknown, c.Length, c.Lost, s.Line)
	}
	return []byte(b.String())
}

func orDash(b []byte) string {
	if len(b) == 0 {
		return "-"
	}
	return fmt.Sprintf("%x", b)
}
