package contract

import (
	"encoding/binary"
	"math/bits"
)

// maxBlock is the longest run that COBS codes as one block. Frames of this contract are all shorter,
// so one byte in front is all that stuffing costs, and both ways work in place. The method is
// Consistent Overhead Byte Stuffing: Cheshire and Baker, IEEE/ACM Trans. Networking 7(2), 1999.
const maxBlock = 254

// stuff replaces each zero byte of b by the distance to the next one, or to the end. b[0] is room for
// the first distance; len(b) is at most maxBlock+1. No byte of b is zero afterwards.
func stuff(b []byte) {
	last, i := 0, 1
	for ; i+8 <= len(b); i += 8 {
		for m := zeros(binary.LittleEndian.Uint64(b[i:])); m != 0; m &= m - 1 {
			at := i + bits.TrailingZeros64(m)>>3
			b[last] = byte(at - last)
			last = at
		}
	}
	for ; i < len(b); i++ {
		if b[i] == 0 {
			b[last] = byte(i - last)
			last = i
		}
	}
	b[last] = byte(len(b) - last)
}

// unstuff undoes stuff; what was stuffed is then b[1:]. ok is false, and b spoilt, if b is not what
// stuff makes: empty, with a zero byte, or with a distance that leads beyond the end.
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

// zeros has bit 7 of each byte set where x has a zero byte, and no other bit.
func zeros(x uint64) uint64 {
	const low = 0x7f7f7f7f7f7f7f7f
	return ^((x&low + low) | x | low)
}
