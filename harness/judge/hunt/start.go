package hunt

import (
	"math/bits"

	"drystage/sim/noise"
)

// corners gives corners of the unit box: all of them if they are at most most; else those of an orthogonal array, in
// which every three coordinates have all of their eight combinations: the rows of Sylvester's matrix and their negatives
// (A. S. Hedayat, N. J. A. Sloane, J. Stufken, Orthogonal Arrays, Springer 1999, chapters 7 and 11), up to most.
func corners(dims, most int) (out [][]float64) {
	if dims < 20 && 1<<dims <= most {
		for c := range 1 << dims {
			out = append(out, corner(dims, func(i int) bool { return c>>i&1 == 1 }))
		}
		return out
	}
	rows := 1 << bits.Len(uint(dims)) // more than dims: column 0, which never changes, is left out
	for r := 0; r < rows && 2*r+1 < most; r++ {
		odd := func(i int) bool { return bits.OnesCount(uint(r&(i+1)))%2 == 1 }
		out = append(out, corner(dims, odd), corner(dims, func(i int) bool { return !odd(i) }))
	}
	return out
}

func corner(dims int, high func(i int) bool) []float64 {
	at := make([]float64, dims)
	for i := range at {
		if high(i) {
			at[i] = 1
		}
	}
	return at
}

// hypercube gives n points that have each coordinate once in every n-th part of its range: Latin hypercube
// sampling (M. D. McKay, R. J. Beckman, W. J. Conover, Technometrics 21(2), 1979, pages 239-245).
func hypercube(dims, n int, chance *noise.Stream) [][]float64 {
	out := make([][]float64, n)
	for i := range out {
		out[i] = make([]float64, dims)
	}
	for d := range dims {
		cells := make([]int, n)
		for i := range cells {
			j := int(chance.Uniform() * float64(i+1)) // Fisher and Yates
			cells[i], cells[j] = cells[j], i
		}
		for i, c := range cells {
			out[i][d] = (float64(c) + chance.Uniform()) / float64(n)
		}
	}
	return out
}
