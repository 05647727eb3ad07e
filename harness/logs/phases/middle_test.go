package phases

import (
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
)

// TestMiddle: it is what sorting gives, of any length and with values that repeat.
func TestMiddle(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	for n := 1; n < 300; n++ {
		x := make([]float64, n)
		for i := range x {
			x[i] = float64(rng.IntN(1 + n/2))
		}
		sorted := slices.Sorted(slices.Values(x))
		assert.Equal(t, sorted[n/2], Middle(x), "%d values", n)
	}
}

// TestHighest: the middle of the half second whose median is greatest, in a height with wild samples.
func TestHighest(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	var s Series
	for i := range 4000 {
		at := 0.01 * float64(i)
		x := 500 - (at-17)*(at-17) + rng.NormFloat64()
		if i%50 == 0 {
			x += 5000
		}
		s.T, s.X = append(s.T, at), append(s.X, x)
	}
	at, ok := highest(s, 0, 0.5)
	assert.True(t, ok)
	assert.InDelta(t, 17, at, 0.6)
}
