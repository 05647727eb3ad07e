package record

import (
	"math"
	"math/bits"
)

// weights say how values before the next one tell it, the last one first: a polynomial through as many of them as its
// degree is less one.
var weights = [...][5]float64{
	{}, {1}, {2, -1}, {3, -3, 1}, {4, -6, 4, -1}, {5, -10, 10, -5, 1},
}

// mostOrder is how many values before tell the next one, at most.
const mostOrder = len(weights) - 1

// next is the number that the values before tell, the last one first, as bits. Products are rounded before they are
// added, so that every processor tells the same.
func next(k *[5]float64, a, b, c, d, e float64) uint64 {
	p := float64(k[4]*e) + float64(k[3]*d) + float64(k[2]*c) + float64(k[1]*b) + float64(k[0]*a)
	if p != p { // processors differ in what a NaN looks like
		return 0
	}
	return math.Float64bits(p)
}

// rank turns the bits of a number into an integer in the order of the numbers, so that near numbers have near ranks; it
// is its own reverse.
func rank(b uint64) uint64 { return b ^ uint64(int64(b)>>63)>>1 }

// fold turns a small difference of either sign into a small word.
func fold(d uint64) uint64 { return d<<1 ^ uint64(int64(d)>>63) }

func unfold(w uint64) uint64 { return w>>1 ^ -(w & 1) }

// surprise gives by how much every number of a column differs from what those before it tell.
func surprise(out, column []uint64, order int) {
	var a, b, c, d, e float64
	out = out[:len(column)]
	i := 0
	for ; i < min(order, len(column)); i++ {
		out[i] = fold(rank(column[i]) - rank(next(&weights[i], a, b, c, d, e)))
		a, b, c, d, e = math.Float64frombits(column[i]), a, b, c, d
	}
	k := weights[order]
	for ; i < len(column); i++ {
		w := column[i]
		out[i] = fold(rank(w) - rank(next(&k, a, b, c, d, e)))
		a, b, c, d, e = math.Float64frombits(w), a, b, c, d
	}
}

// believe is surprise's reverse, in place.
func believe(column []uint64, order int) {
	var a, b, c, d, e float64
	for i, w := range column {
		k := &weights[min(i, order)]
		w = rank(rank(next(k, a, b, c, d, e)) + unfold(w))
		column[i] = w
		a, b, c, d, e = math.Float64frombits(w), a, b, c, d
	}
}

// differ turns integers into differences of an order, in place: 0 are the integers, 1 how far each is from the one
// before, 2 how far each step is from the step before, and so on.
func differ(column []uint64, order int) {
	for from := range order {
		step(column, from)
	}
}

func step(column []uint64, from int) {
	if from >= len(column) {
		return
	}
	last := column[from]
	for i, x := range column[from+1:] {
		column[from+1+i] = x - last
		last = x
	}
}

// gather is differ's reverse.
func gather(column []uint64, order int) {
	for from := order - 1; from >= 0; from-- {
		sum := uint64(0)
		for i := min(from, len(column)); i < len(column); i++ {
			sum += column[i]
			column[i] = sum
		}
	}
}

// size is about how many bits words take that were folded, bulk that of words that were not.
func size(folded []uint64) (n int) {
	for _, x := range folded {
		n += bits.Len64(x)
	}
	return n
}

func bulk(words []uint64) (n int) {
	for _, x := range words {
		n += bits.Len64(fold(x))
	}
	return n
}
