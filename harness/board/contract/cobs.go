package contract

import (
	"encoding/binary"
	"math/bits"
	"slices"
)

// Frames are stuffed by Consistent Overhead Byte Stuffing: Cheshire and Baker, IEEE/ACM Trans. Networking
// 7(2), 1999. The longest run that it codes as one block is 254 bytes. Frames of this contract are all
// shorter, so one byte in front is all that stuffing costs. Short frames, which are all but the long logs, go by
// words of eight bytes at constant places; the others byte by byte.
const (
	word  = 8        // bytes
	short = 6 * word // bytes of content and delimiter
	room  = 128      // bytes that stuffing may write to

	contentSize = (maxFrame + 2*word) / word * word
)

// behind is what stands behind a content: the delimiter, and no zero. It is no constant, or the compiler would
// write a word byte by byte where it knows some of them, and a word written so can't be read at once.
var behind uint64 = 1<<64 - 1<<8

// content is a frame before it is stuffed: type, sequence number, payload, CRC and delimiter. It begins at the
// place of a word, as the CRC by words likes it.
type content struct {
	_     [0]uint64
	bytes [contentSize]byte
}

// stuff appends n bytes of a content and the delimiter to dst. Each zero byte becomes the distance to the
// next one, and a byte in front tells the distance to the first. The delimiter is the last zero. What of the
// last word lies behind the delimiter must not be zero.
func stuff(dst []byte, c *content, n int) []byte {
	from := len(dst)
	if n >= short || cap(dst)-from < room {
		return stuffSlowly(dst, c, n)
	}
	f, p, last, low := (*[room]byte)(dst[from:from+room]), &c.bytes, uint(0), lowBits
	last = move(f, (*[word]byte)(f[1:]), (*[word]byte)(p[0:]), low, 1, last)
	if n < 8 {
		goto end
	}
	last = move(f, (*[word]byte)(f[9:]), (*[word]byte)(p[8:]), low, 9, last)
	if n < 16 {
		goto end
	}
	last = move(f, (*[word]byte)(f[17:]), (*[word]byte)(p[16:]), low, 17, last)
	if n < 24 {
		goto end
	}
	last = move(f, (*[word]byte)(f[25:]), (*[word]byte)(p[24:]), low, 25, last)
	if n < 32 {
		goto end
	}
	last = move(f, (*[word]byte)(f[33:]), (*[word]byte)(p[32:]), low, 33, last)
	if n < 40 {
		goto end
	}
	move(f, (*[word]byte)(f[41:]), (*[word]byte)(p[40:]), low, 41, last)
end:
	return dst[:from+1+n+1]
}

// lowBits is a variable that stays in a register.
var lowBits uint64 = 0x7f7f7f7f7f7f7f7f

// move copies a word to its place at. Each zero byte in it becomes the distance to the next one there, all at once, and
// the zero before, which is at last, is told the distance to the first.
func move(f *[room]byte, to, from *[word]byte, low uint64, at, last uint) uint {
	x := binary.LittleEndian.Uint64(from[:])
	z := ^(x&low + low | x | low) // bit 7 of each zero byte
	if z == 0 {
		binary.LittleEndian.PutUint64(to[:], x)
		return last
	}
	binary.LittleEndian.PutUint64(to[:], x|distances[z>>7*gather>>56])
	f[last%room] = byte(at + uint(bits.TrailingZeros64(z))>>3 - last)
	return at + uint(bits.Len64(z)-1)>>3
}

// gather brings bit 0 of each byte together in the highest byte: of byte i to bit i of it.
const gather = 1<<56 | 1<<49 | 1<<42 | 1<<35 | 1<<28 | 1<<21 | 1<<14 | 1<<7

// distances has, for each set of zero bytes in a word, the word in which each but the last tells the distance to the
// next.
var distances = func() (table [256]uint64) {
	for set := range table {
		next := word
		for i := word - 1; i >= 0; i-- {
			if set>>i&1 == 0 {
				continue
			}
			if next < word {
				table[set] |= uint64(next-i) << (i * 8)
			}
			next = i
		}
	}
	return table
}()

// stuffSlowly is for a buffer that must grow and for long frames.
func stuffSlowly(dst []byte, c *content, n int) []byte {
	last := len(dst)
	dst = append(append(slices.Grow(dst, room), 0), c.bytes[:n+1]...)
	for i := last + 1; i < len(dst); i++ {
		if dst[i] == 0 {
			dst[last] = byte(i - last)
			last = i
		}
	}
	return dst
}

// unstuffShort takes the frame at the beginning of in without its stuffing, and gives its length on the line
// without the delimiter. It gives 0 where none is whole, it is not short, or its stuffing is broken.
func (c *content) unstuffShort(in []byte) (n uint) {
	p, one, z, mask, at := &c.bytes, lowest, uint64(0), uint64(0), uint(0)
	if len(in) < 9 {
		n = c.across(in, 1)
		goto found
	}
	if z = bring((*[word]byte)(p[0:]), (*[word]byte)(in[1:]), one); z != 0 {
		n = 1 + uint(bits.TrailingZeros64(z))>>3
		goto found
	}
	if len(in) < 17 {
		n = c.across(in, 9)
		goto found
	}
	if z = bring((*[word]byte)(p[8:]), (*[word]byte)(in[9:]), one); z != 0 {
		n = 9 + uint(bits.TrailingZeros64(z))>>3
		goto found
	}
	if len(in) < 25 {
		n = c.across(in, 17)
		goto found
	}
	if z = bring((*[word]byte)(p[16:]), (*[word]byte)(in[17:]), one); z != 0 {
		n = 17 + uint(bits.TrailingZeros64(z))>>3
		goto found
	}
	if len(in) < 33 {
		n = c.across(in, 25)
		goto found
	}
	if z = bring((*[word]byte)(p[24:]), (*[word]byte)(in[25:]), one); z != 0 {
		n = 25 + uint(bits.TrailingZeros64(z))>>3
		goto found
	}
	if len(in) < 41 {
		n = c.across(in, 33)
		goto found
	}
	if z = bring((*[word]byte)(p[32:]), (*[word]byte)(in[33:]), one); z != 0 {
		n = 33 + uint(bits.TrailingZeros64(z))>>3
		goto found
	}
	if len(in) < 49 {
		n = c.across(in, 41)
		goto found
	}
	if z = bring((*[word]byte)(p[40:]), (*[word]byte)(in[41:]), one); z != 0 {
		n = 41 + uint(bits.TrailingZeros64(z))>>3
	}
found:
	if n == 0 || in[0] == 0 {
		return 0
	}
	for in, at = in[:n], uint(in[0]); at < n; at += uint(in[at]) {
		mask |= 1 << ((at - 1) % 64)
	}
	if at != n {
		return 0
	}
	clean((*[word]byte)(p[0:]), mask>>0)
	clean((*[word]byte)(p[8:]), mask>>8)
	clean((*[word]byte)(p[16:]), mask>>16)
	if n <= 25 {
		return n
	}
	clean((*[word]byte)(p[24:]), mask>>24)
	clean((*[word]byte)(p[32:]), mask>>32)
	clean((*[word]byte)(p[40:]), mask>>40)
	return n
}

// lowest has the lowest bit of each byte. It is a variable that stays in a register.
var lowest uint64 = 0x0101010101010101

// bring copies a word, and gives a number whose lowest bit is bit 7 of the first zero byte; 0: there is none.
func bring(to, from *[word]byte, one uint64) uint64 {
	x := binary.LittleEndian.Uint64(from[:])
	binary.LittleEndian.PutUint64(to[:], x)
	return (x - one) &^ x & (one << 7)
}

// across looks for the delimiter where a word at i would lie across the end: it takes the last word, and
// shifts it.
func (c *content) across(in []byte, i uint) uint {
	n := uint(len(in))
	if i >= n || n < word || i-1 > contentSize-word {
		return 0
	}
	past := (i + word - n) * 8 % 64
	x := binary.LittleEndian.Uint64(in[n-word:])>>past | ones<<(-past%64)
	binary.LittleEndian.PutUint64(c.bytes[i-1:i-1+word], x)
	z := (x - lowest) &^ x & (lowest << 7)
	if z == 0 {
		return 0
	}
	return i + uint(bits.TrailingZeros64(z))>>3
}

// ones has all bits set.
var ones uint64 = 1<<64 - 1

// clean makes the bytes zero whose bits are set.
func clean(p *[word]byte, mask uint64) {
	binary.LittleEndian.PutUint64(p[:], binary.LittleEndian.Uint64(p[:])&without[uint8(mask)])
}

// unstuff undoes stuff in place, byte by byte; what was stuffed is then b[1:]. ok is false, and b spoilt, if b
// is not what stuff makes: empty, with a zero byte, or with a distance that leads beyond the end.
func unstuff(b []byte) (ok bool) {
	i := 0
	for i < len(b) {
		d := int(b[i])
		if d == 0 {
			return false
		}
		b[i] = 0
		i += d
	}
	return i == len(b) && i > 0
}

// without has no bit of byte i set for bit i of its index, and all others.
var without = func() (table [256]uint64) {
	for i := range table {
		for bit := range word {
			table[i] |= (1 - uint64(i)>>bit&1) * 0xff << (bit * 8)
		}
	}
	return table
}()
