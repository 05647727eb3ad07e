package contract

import (
	"bytes"
	"hash/crc32"
)

// maxFrame is the longest frame on the line, without its delimiter: one with a full tail.
const maxFrame = 4 + MaxTail + overhead - 1

// Frame is a frame that passed every check. Payload has a length that the table allows; it is valid
// until the next call of Next.
type Frame struct {
	Code    Code
	Seq     uint8
	Payload []byte
}

// Counts counts the frames that a decoder could not use.
type Counts struct {
	COBS    int // stuffing broken
	Long    int // longer than any message, or more bytes than that without a delimiter
	CRC     int // the check did not match, or too short to have one
	Unknown int // sound, but of a type that this direction doesn't have
	Length  int // sound, but not of the length that its type has
	Lost    int // missing by sequence number; a corrupt frame is usually missing too
}

// Bad is the number of frames that arrived and could not be used.
func (c Counts) Bad() int { return c.COBS + c.Long + c.CRC + c.Unknown + c.Length }

// Decoder turns bytes into frames. It holds at most one frame, whatever is fed, and finds its way
// again at the next delimiter after any garbage.
type Decoder struct {
	Counts Counts
	from   Direction
	begun  bool  // a sound frame has come
	next   uint8 // sequence number expected
	long   bool  // skipping to a delimiter
	n      int
	buf    [maxFrame]byte
	plain  content // of a frame that came in one piece
}

// NewDecoder gives a decoder of the frames that one side sends.
func NewDecoder(from Direction) *Decoder { return &Decoder{from: from} }

// Next takes bytes from in until a frame is whole. It returns the frame and the bytes not yet
// taken, or ok false when all are taken: what there is of a frame is kept for the next call.
func (d *Decoder) Next(in []byte) (f Frame, rest []byte, ok bool) {
	if d.n > 0 || d.long || !d.begun {
		return d.any(in)
	}
	n := d.plain.unstuffShort(in)
	p, end := &d.plain.bytes, n-1-check
	if n < 1+head+check || end > contentSize-check || p[1] != d.next {
		return d.any(in)
	}
	has := &lengths[d.from&1][p[0]]
	if end-head-uint(has.least) > uint(has.more) || crc32.Update(0, castagnoli, p[:end]) != le.Uint32(p[end:end+check]) {
		return d.any(in)
	}
	d.next++
	return Frame{Code: Code(p[0]), Seq: p[1], Payload: p[head:end]}, in[n+1:], true
}

// any is Next for bytes of any kind: what Next itself does not take is a frame in pieces or in parts, with a gap
// in front, or one to be counted.
func (d *Decoder) any(in []byte) (f Frame, rest []byte, ok bool) {
	for len(in) > 0 {
		end := bytes.IndexByte(in, 0)
		if end < 0 {
			d.keep(in)
			return Frame{}, nil, false
		}
		d.keep(in[:end])
		in = in[end+1:]
		if f, ok := d.judge(); ok {
			return f, in, true
		}
	}
	return Frame{}, nil, false
}

// Pending says that part of a frame waits for the rest of it.
func (d *Decoder) Pending() bool { return d.n > 0 || d.long }

// Forget drops a frame begun and the sequence number expected, but no counts: for an end that has
// restarted or a line that was opened again.
func (d *Decoder) Forget() { d.begun, d.long, d.n = false, false, 0 }

func (d *Decoder) keep(b []byte) {
	if d.long || len(b) > maxFrame-d.n {
		d.long = true
		return
	}
	d.n += copy(d.buf[d.n:], b)
}

// judge looks at the bytes kept, now that a delimiter has come.
func (d *Decoder) judge() (f Frame, ok bool) {
	b := d.buf[:d.n]
	d.n = 0
	switch {
	case d.long:
		d.long = false
		d.Counts.Long++
		return f, false
	case len(b) == 0:
		return f, false // a delimiter sent in front
	case !unstuff(b):
		d.Counts.COBS++
		return f, false
	}
	b = b[1:]
	end := len(b) - check
	if end < head || crc32.Update(0, castagnoli, b[:end]) != le.Uint32(b[end:]) {
		d.Counts.CRC++
		return f, false
	}
	f = Frame{Code: Code(b[0]), Seq: b[1], Payload: b[head:end]}
	d.count(f)
	return f, d.allowed(f)
}

// count looks for a gap. HELLO and WELCOME begin the count anew, since their sender may just have
// started.
func (d *Decoder) count(f Frame) {
	if d.begun && f.Code != CodeHello && f.Code != CodeWelcome {
		d.Counts.Lost += int(f.Seq - d.next)
	}
	d.begun, d.next = true, f.Seq+1
}

func (d *Decoder) allowed(f Frame) bool {
	r := rows[f.Code]
	switch {
	case !r.known || r.from != d.from:
		d.Counts.Unknown++
		return false
	case len(f.Payload) < int(r.least) || len(f.Payload) > int(r.most):
		d.Counts.Length++
		return false
	}
	return true
}
