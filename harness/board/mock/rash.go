package mock

import (
	"bytes"

	"drystage/harness/board/contract"
)

// rash takes frames from the line as the contract's decoder does, but believes each one: no checksum, no
// count of what is missing.
type rash struct {
	buf [256]byte
	n   int
}

func (r *rash) next(in []byte) (f contract.Frame, rest []byte, ok bool) {
	for len(in) > 0 {
		end := bytes.IndexByte(in, 0)
		if end < 0 {
			r.n += copy(r.buf[r.n:], in)
			return f, nil, false
		}
		r.n += copy(r.buf[r.n:], in[:end])
		b := r.buf[:r.n]
		r.n, in = 0, in[end+1:]
		if b, ok := unstuffed(b); ok && len(b) >= 6 {
			return contract.Frame{Code: contract.Code(b[0]), Seq: b[1], Payload: b[2 : len(b)-4]}, in, true
		}
	}
	return f, nil, false
}

// unstuffed undoes COBS in place.
func unstuffed(b []byte) (content []byte, ok bool) {
	i := 0
	for i < len(b) && b[i] != 0 {
		d := int(b[i])
		b[i] = 0
		i += d
	}
	if i != len(b) || i == 0 {
		return nil, false
	}
	return b[1:], true
}
