package vary

import (
	"math/bits"

	"drystage/sim/noise"
)

// sobolBits is how many bits a coordinate has; as many points differ.
const sobolBits = 32

// MostSobol is the most parameters that a Sobol sequence here has coordinates for.
const MostSobol = len(joeKuo) + 1

// sobol gives coordinate dim, from 0, of point i of the sequence, in multiples of 2^-32: I. M. Sobol's points in the order of
// the Gray code (I. A. Antonov, V. M. Saleev, USSR Computational Mathematics and Mathematical Physics 19, 1979).
func sobol(dim int, i uint32) (x uint32) {
	gray := i ^ i>>1
	for k, v := range directions(dim) {
		if gray>>k&1 == 1 {
			x ^= v
		}
	}
	return x
}

// directions gives the direction numbers of a dimension, by the recurrence of P. Bratley and B. L. Fox, "Algorithm 659", ACM
// Transactions on Mathematical Software 14, 1988.
func directions(dim int) (v [sobolBits]uint32) {
	if dim == 0 {
		for k := range v {
			v[k] = 1 << (sobolBits - 1 - k)
		}
		return v
	}
	row := joeKuo[dim-1]
	polynomial, first := row[0], row[1:]
	degree := bits.Len32(polynomial) - 1
	for k := range v {
		if k < degree {
			v[k] = first[k] << (sobolBits - 1 - k)
			continue
		}
		v[k] = v[k-degree] ^ v[k-degree]>>degree
		for m := 1; m < degree; m++ {
			if polynomial>>(degree-m)&1 == 1 {
				v[k] ^= v[k-m]
			}
		}
	}
	return v
}

// scramble permutes the intervals of a coordinate at random on every scale (nested uniform scrambling: A. B. Owen,
// "Randomly permuted (t,m,s)-nets and (t,s)-sequences", Lecture Notes in Statistics 106, 1995): each bit is flipped or not by
// chance that depends on the bits above it. Each point is then uniform by itself, and the points together stay as evenly
// spread.
func scramble(x uint32, seed uint64, name string) (out uint32) {
	for k := range sobolBits {
		above := uint64(x) >> (sobolBits - k)
		flip := noise.Bit(seed, name, uint64(k)<<sobolBits|above)
		out = out<<1 | (x>>(sobolBits-1-k)&1 ^ flip)
	}
	return out
}

// fraction gives a coordinate as a number inside of (0, 1).
func fraction(x uint32) float64 { return (float64(x) + 0.5) / (1 << sobolBits) }
