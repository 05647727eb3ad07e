package record

import "encoding/binary"

// decoder reads the content of a block of columns.
type decoder struct {
	unpacker
	some []uint64
}

// column fills in the words of a column.
func (d *decoder) column(c *column) {
	kind := d.byte()
	switch kind & kindBits {
	case asConstant:
		w := binary.LittleEndian.Uint64(d.take(8))
		for i := range c.words {
			c.words[i] = w
		}
		return
	case asTwin:
		if c.twin == nil {
			d.bad = true
			return
		}
		copy(c.words, c.twin)
		return
	case asBytes:
		d.fewWords(c.words)
		return
	}
	if kind&sparse == 0 {
		d.numbers(c, c.words, kind)
		return
	}
	changed := d.take((len(c.words) + 7) / 8)
	n := 0
	for i := range c.words {
		n += int(changed[i/8] >> (i % 8) & 1)
	}
	d.some = sized(d.some, n)
	d.numbers(c, d.some, kind)
	last, k := uint64(0), 0
	for i := range c.words {
		if changed[i/8]>>(i%8)&1 != 0 {
			last = d.some[k]
			k++
		}
		c.words[i] = last
	}
}

// numbers reads words that are told one by one.
func (d *decoder) numbers(c *column, words []uint64, kind byte) {
	base := uint64(0)
	if kind&kindBits != asNumbers {
		base = binary.LittleEndian.Uint64(d.take(8))
	}
	lead := leadOf(kind, len(words))
	for i := range lead {
		words[i] = d.uvarint()
	}
	d.unpack(words[lead:])
	order := int(kind & orderBits)
	if d.bad || order > mostOrder {
		d.bad = true
		return
	}
	if kind&kindBits == asNumbers {
		believe(words, order)
		return
	}
	for i, w := range words {
		words[i] = unfold(w)
	}
	gather(words, order)
	for i := range words {
		words[i] += base
	}
	switch {
	case kind&kindBits == asIntegers:
	case kind&kindBits == asSteps:
		ofSteps(words, c.step)
	case kind&kindBits == asParts:
		ofParts(words, c.parts)
	case kind&kindBits == asNear && c.near != nil && kind&sparse == 0:
		for i, w := range words {
			words[i] = rank(w + rank(sound(c.near(c.grid, i))))
		}
	default:
		d.bad = true
	}
}

// fewWords reads a column of few different words.
func (d *decoder) fewWords(words []uint64) {
	n := int(d.byte())
	which := d.take(len(words))
	var all [256]uint64
	for i := range n {
		all[i] = binary.LittleEndian.Uint64(d.take(8))
	}
	for i, k := range which {
		words[i] = all[k]
		d.bad = d.bad || int(k) >= n
	}
}
