package record

import (
	"encoding/binary"
	"math"
	"slices"
)

// column is a number of a block for each of its rows, and what is known of such numbers.
type column struct {
	words []uint64
	twin  []uint64 // the same number of the first stage or board; nil: this is the first
	whole bool     // an integer, not the bits of a float64
	step  float64  // numbers are often whole steps of this; 0: not known
	parts float64  // or whole parts of one, as in thousandths; 0: not known
	// near works out a number from others of its row that stand before it; nil: nobody can.
	near func(g *grid, row int) float64
	grid *grid
}

// What stands before a column. The lower bits are the order of differences.
const (
	asConstant = 0x00 // one word
	asTwin     = 0x08
	asBytes    = 0x10 // of few different words
	asNumbers  = 0x20 // numbers told by those before
	asIntegers = 0x30
	asSteps    = 0x40
	asParts    = 0x50
	asNear     = 0x60
	sparse     = 0x80 // most words are equal to the one before; the others are told
	orderBits  = 0x07
	kindBits   = 0x78
)

// encoder makes the content of a block of columns.
type encoder struct {
	packer
	some []uint64 // the words that changed
	best []uint64
}

// column appends a column.
func (e *encoder) column(c *column, hint *int) {
	words := c.words
	switch {
	case constant(words):
		e.meta = append(e.meta, asConstant)
		e.meta = binary.LittleEndian.AppendUint64(e.meta, first(words))
		return
	case c.twin != nil && slices.Equal(words, c.twin):
		e.meta = append(e.meta, asTwin)
		return
	case c.whole && e.bytes(words):
		return
	}
	flag := byte(0)
	at := len(e.meta)
	e.meta = append(e.meta, 0)
	if rare(words) {
		flag = sparse
		words = e.thin(words)
	}
	e.best = sized(e.best, len(words))
	kind := flag | e.fit(c, words, flag == sparse, hint)
	e.meta[at] = kind
	lead := leadOf(kind, len(words))
	for _, w := range e.best[:lead] {
		e.meta = binary.AppendUvarint(e.meta, w)
	}
	e.pack(e.best[lead:])
}

func first(words []uint64) uint64 {
	if len(words) == 0 {
		return 0
	}
	return words[0]
}

// leadOf is how many words stand alone before groups begin: those that have too few before them are large.
func leadOf(kind byte, n int) int { return min(max(1, int(kind&orderBits)), n) }

func sized(b []uint64, n int) []uint64 { return slices.Grow(b[:0], n)[:n] }

// constant says that all words are equal.
func constant(words []uint64) bool {
	return len(words) == 0 || slices.Equal(words[1:], words[:len(words)-1])
}

// rare says that most words are equal to the one before, as far as some in the middle tell.
func rare(words []uint64) bool {
	words = middle(words)
	n := 0
	for i, w := range words {
		if i > 0 && w != words[i-1] {
			n++
		}
	}
	return n < len(words)*3/4
}

// mostDifferent are the words that are told by a byte each.
const mostDifferent = 64

// bytes appends a column of few different words, if it is one.
func (e *encoder) bytes(words []uint64) bool {
	var all [mostDifferent]uint64
	n, at, last := 0, len(e.meta), -1
	e.meta = append(e.meta, asBytes, 0)
	for _, w := range words {
		if last < 0 || all[last] != w {
			if last = slices.Index(all[:n], w); last < 0 {
				if n == mostDifferent {
					e.meta = e.meta[:at]
					return false
				}
				last, n = n, n+1
				all[last] = w
			}
		}
		e.meta = append(e.meta, byte(last))
	}
	e.meta[at+1] = byte(n)
	for _, w := range all[:n] {
		e.meta = binary.LittleEndian.AppendUint64(e.meta, w)
	}
	return true
}

// thin keeps the words that differ from the one before, the first one too, and tells which they are.
func (e *encoder) thin(words []uint64) []uint64 {
	e.some = sized(e.some, len(words))
	last, n := ^first(words), 0
	for from := 0; from < len(words); from += 8 {
		var changed byte
		for i, w := range words[from:min(from+8, len(words))] {
			if w != last {
				changed |= 1 << i
				e.some[n] = w
				n++
				last = w
			}
		}
		e.meta = append(e.meta, changed)
	}
	return e.some[:n]
}

// perTrial is how many words are tried before all are.
const perTrial = 64

// middle gives the words that are tried.
func middle(words []uint64) []uint64 {
	from := max(0, len(words)-perTrial) / 2
	return words[from:min(from+perTrial, len(words))]
}

// fit finds what makes the words small, leaves them in e.best, and says what it was.
func (e *encoder) fit(c *column, words []uint64, thinned bool, hint *int) byte {
	best := e.best
	switch {
	case c.whole:
		copy(best, words)
		return asIntegers | e.integers(best, hint)
	case c.step > 0 && inSteps(best, words, c.step):
		return asSteps | e.integers(best, hint)
	case c.parts > 0 && inParts(best, words, c.parts):
		return asParts | e.integers(best, hint)
	case c.near != nil && !thinned && e.isNear(c, words):
		offs(best, words, c, 0)
		return asNear | e.integers(best, hint)
	}
	trial, least := middle(words), math.MaxInt
	for order, last := max(1, *hint-1), min(*hint+1, mostOrder); order <= last; order++ {
		surprise(best, trial, order)
		if n := size(best[min(mostOrder, len(trial)):len(trial)]); n < least {
			least, *hint = n, order
		}
	}
	surprise(best, words, *hint)
	return asNumbers | byte(*hint)
}

// isNear says that working numbers out comes closer to them than the ones before do.
func (e *encoder) isNear(c *column, words []uint64) bool {
	trial, from := middle(words), max(0, len(words)-perTrial)/2
	var off, by [perTrial]uint64
	offs(off[:len(trial)], trial, c, from)
	for i, w := range trial {
		by[i] = rank(w)
	}
	_, near := orderOf(off[:len(trial)], 2)
	_, far := orderOf(by[:len(trial)], mostOrder-1)
	return near < far
}

// orderOf finds the order of differences that makes words smallest, of those next to a hint, and how small it makes
// them. The words are used up.
func orderOf(trial []uint64, hint int) (order, least int) {
	first, least := max(0, hint-1), math.MaxInt
	differ(trial, first)
	for o := first; o <= min(hint+1, mostOrder); o++ {
		if o > first {
			step(trial, o-1)
		}
		if n := bulk(trial[min(mostOrder, len(trial)):]); n < least {
			least, order = n, o
		}
	}
	return order, least
}

// integers turns integers into folded differences of the order that makes them small.
func (e *encoder) integers(words []uint64, hint *int) byte {
	base := average(middle(words))
	e.meta = binary.LittleEndian.AppendUint64(e.meta, base)
	for i := range words {
		words[i] -= base
	}
	var trial [perTrial]uint64
	*hint, _ = orderOf(trial[:copy(trial[:], middle(words))], *hint)
	differ(words, *hint)
	for i, x := range words {
		words[i] = fold(x)
	}
	return byte(*hint)
}

// average gives about the middle of integers.
func average(words []uint64) (sum uint64) {
	for _, x := range words {
		sum += uint64(int64(x) / int64(len(words)))
	}
	return sum
}
