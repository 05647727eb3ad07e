package record

import (
	"encoding/binary"
	"slices"
)

// bitWriter packs words of any width into a stream of little-endian words of 64 bits, lowest bit first.
type bitWriter struct {
	out []byte
	acc uint64
	n   uint // bits in acc, below 64
}

// put appends the lowest w bits of every word, 1 to 64.
func (b *bitWriter) put(words []uint64, w uint) {
	at := len(b.out)
	out := slices.Grow(b.out, 8*len(words))[:at+8*len(words)]
	mask, acc, n := ^uint64(0)>>(64-w), b.acc, b.n
	for _, x := range words {
		x &= mask
		acc |= x << (n & 63)
		if n += w; n >= 64 {
			binary.LittleEndian.PutUint64(out[at:at+8], acc)
			at += 8
			n -= 64
			acc = x >> (w - n)
		}
	}
	b.acc, b.n, b.out = acc, n, out[:at]
}

// bytes ends the stream.
func (b *bitWriter) bytes() []byte {
	if b.n > 0 {
		b.out = binary.LittleEndian.AppendUint64(b.out, b.acc)
		b.acc, b.n = 0, 0
	}
	return b.out
}

// bitReader is the way back. Past the end it gives zeros, and says so at the end.
type bitReader struct {
	in    []byte
	acc   uint64
	n     uint
	short bool // more was asked for than there is
}

// get fills words of w bits, 1 to 64.
func (b *bitReader) get(words []uint64, w uint) {
	mask, acc, n := ^uint64(0)>>(64-w), b.acc, b.n
	for i := range words {
		if w <= n {
			words[i] = acc & mask
			acc >>= w
			n -= w
			continue
		}
		next := b.word()
		words[i] = (acc | next<<n) & mask
		acc = next >> (w - n)
		n += 64 - w
	}
	b.acc, b.n = acc, n
}

func (b *bitReader) word() (x uint64) {
	if len(b.in) < 8 {
		b.short = true
		return 0
	}
	x, b.in = binary.LittleEndian.Uint64(b.in), b.in[8:]
	return x
}

// spent says that all of the stream was read, and no more.
func (b *bitReader) spent() bool { return !b.short && len(b.in) == 0 && b.acc == 0 }
