package mock

import (
	"bytes"

	"drystage/harness/board/contract"
)

// uncheckedDecoder decodes frames like the contract's decoder, but without checksum and sequence numbers.
type uncheckedDecoder struct {
	buf [256]byte
	n   int
}

func (r *uncheckedDecoder) next(in []byte) (f contract.Frame, rest []byte, ok bool) {
	for len(in) > 0 {
		end := bytes.IndexByte(in, 0)
		if end < 0 {
			r.n += copy(r.buf[r.n:], in)
			return f, nil, false
		}
		r.n += copy(r.buf[r.n:], in[:end])
		b := r.buf[:r.n]
		r.n, in = 0, in[end+1:]
		if b, ok := decodeCOBS(b); ok && len(b) >= 6 {
			return contract.Frame{Code: contract.Code(b[0]), Seq: b[1], Payload: b[2 : len(b)-4]}, in, true
		}
	}
	return f, nil, false
}

// decodeCOBS decodes COBS in place.
func decodeCOBS(b []byte) (content []byte, ok bool) {
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
