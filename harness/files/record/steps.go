package record

import "math"

// inSteps gives numbers as whole steps, if that tells every bit of them. A negative number is the complement of its
// size, since there is a negative 0.
func inSteps(out, words []uint64, step float64) bool {
	inverse := 1 / step
	for i, w := range words {
		sign := uint64(int64(w) >> 63)
		size := math.Float64frombits(w &^ (1 << 63))
		n := uint64(int64(float64(size*inverse) + 0.5))
		if math.Float64bits(float64(int64(n))*step) != w&^(1<<63) {
			return false
		}
		out[i] = n ^ sign
	}
	return true
}

func ofSteps(words []uint64, step float64) {
	for i, n := range words {
		sign := uint64(int64(n) >> 63)
		words[i] = math.Float64bits(float64(int64(n^sign))*step) | sign<<63
	}
}

// inParts is inSteps for whole parts of one.
func inParts(out, words []uint64, parts float64) bool {
	for i, w := range words {
		sign := uint64(int64(w) >> 63)
		size := math.Float64frombits(w &^ (1 << 63))
		n := uint64(int64(float64(size*parts) + 0.5))
		if math.Float64bits(float64(int64(n))/parts) != w&^(1<<63) {
			return false
		}
		out[i] = n ^ sign
	}
	return true
}

func ofParts(words []uint64, parts float64) {
	for i, n := range words {
		sign := uint64(int64(n) >> 63)
		words[i] = math.Float64bits(float64(int64(n^sign))/parts) | sign<<63
	}
}

// offs gives by how much numbers differ from what is worked out for their rows.
func offs(out, words []uint64, c *column, from int) {
	for i, w := range words {
		out[i] = rank(w) - rank(sound(c.near(c.grid, from+i)))
	}
}

// sound gives the bits of a number, and those of 0 for a NaN, in which processors differ.
func sound(x float64) uint64 {
	if x != x {
		return 0
	}
	return math.Float64bits(x)
}
