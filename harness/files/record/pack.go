package record

import (
	"encoding/binary"
	"math/bits"
)

// perGroup is how many words are packed with one width.
const perGroup = 64 // the bits of a word

// packer packs small words. Each group of words has the width that most of them fit into; the upper bits of the few that
// are wider follow, with their places. Bits go to one stream; widths and places, which repeat, to another that is
// compressed.
type packer struct {
	meta []byte
	bits bitWriter
	over [perGroup]uint64
}

func (p *packer) pack(words []uint64) {
	for len(words) > 0 {
		n := min(len(words), perGroup)
		p.group(words[:n])
		words = words[n:]
	}
}

func (p *packer) group(words []uint64) {
	width, top := widths(words)
	p.meta = append(p.meta, byte(width))
	if width > 0 {
		p.bits.put(words, width)
	}
	if width == top {
		return
	}
	p.meta[len(p.meta)-1] |= wider
	p.meta = append(p.meta, byte(top-width))
	places, n := placesOf(words, width), 0
	for left := places; left != 0; left &= left - 1 {
		p.over[n] = words[bits.TrailingZeros64(left)] >> width
		n++
	}
	p.places(places, n)
	p.bits.put(p.over[:n], top-width)
}

// placesOf gives a bit for each of up to 64 words that is wider.
func placesOf(words []uint64, width uint) (places uint64) {
	for i, x := range words {
		x >>= width & 63
		places |= (x | -x) >> 63 << (i & 63)
	}
	return places
}

// mostPlaces are told one by one; more are told by a bit for each word.
const mostPlaces = 7

func (p *packer) places(places uint64, n int) {
	p.meta = append(p.meta, byte(n))
	if n > mostPlaces {
		p.meta = binary.LittleEndian.AppendUint64(p.meta, places)
		return
	}
	for ; places != 0; places &= places - 1 {
		p.meta = append(p.meta, byte(bits.TrailingZeros64(places)))
	}
}

// wider marks the width of a group in which some words are wider.
const wider = 0x80

// widths finds the width that takes the fewest bits in all, and that of the widest word. The former rests on every second
// word, which is enough.
func widths(words []uint64) (width, top uint) {
	var lengths [65]uint8
	all, n := uint64(0), len(words)
	for ; len(words) >= 2; words = words[2:] {
		all |= words[0] | words[1]
		lengths[bits.Len64(words[0])]++
	}
	for _, x := range words {
		all |= x
		lengths[bits.Len64(x)]++
	}
	top = uint(bits.Len64(all))
	width = top
	least, beyond := n*int(top), 0
	for w := int(top) - 1; w >= 0; w-- {
		beyond += 2 * int(lengths[w+1])
		if cost := n*w + beyond*(int(top)-w) + 8*min(beyond, mostPlaces+1) + 16; cost < least {
			least, width = cost, uint(w)
		}
	}
	return width, top
}

// unpacker is the way back.
type unpacker struct {
	meta []byte
	bits bitReader
	bad  bool // what is packed can't be
	over [perGroup]uint64
}

func (u *unpacker) unpack(words []uint64) {
	for len(words) > 0 {
		n := min(len(words), perGroup)
		u.group(words[:n])
		words = words[n:]
	}
}

func (u *unpacker) group(words []uint64) {
	width := uint(u.byte())
	some := width&wider != 0
	if width &^= wider; width > 64 {
		u.bad = true
		return
	}
	clear(words)
	if width > 0 {
		u.bits.get(words, width)
	}
	if !some {
		return
	}
	more, n := uint(u.byte()), int(u.byte())
	places := u.places(n)
	if n != bits.OnesCount64(places) || bits.Len64(places) > len(words) || more < 1 || width+more > 64 {
		u.bad = true
		return
	}
	u.bits.get(u.over[:n], more)
	for _, x := range u.over[:n] {
		words[bits.TrailingZeros64(places)] |= x << width
		places &= places - 1
	}
}

// places reads which n words are wider.
func (u *unpacker) places(n int) (places uint64) {
	if n > mostPlaces {
		return binary.LittleEndian.Uint64(u.take(8))
	}
	for range n {
		places |= 1 << u.byte()
	}
	return places
}

// byte takes the next byte of what is compressed.
func (u *unpacker) byte() (b byte) {
	if len(u.meta) == 0 {
		u.bad = true
		return 0
	}
	b, u.meta = u.meta[0], u.meta[1:]
	return b
}

// take takes the next n bytes, or none.
func (u *unpacker) take(n int) (b []byte) {
	if len(u.meta) < n {
		u.bad = true
		return make([]byte, n)
	}
	b, u.meta = u.meta[:n], u.meta[n:]
	return b
}

// uvarint takes the next integer.
func (u *unpacker) uvarint() uint64 {
	w, n := binary.Uvarint(u.meta)
	if n <= 0 {
		u.bad = true
		return 0
	}
	u.meta = u.meta[n:]
	return w
}
