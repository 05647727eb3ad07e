package harness_test

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"drystage/harness"
)

func TestQuantile(t *testing.T) {
	x := []float64{1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 13, 14, 15, 16, 17, 18, 19, 20, 21}
	for _, row := range []struct {
		sorted []float64
		q      float64
		want   float64
		reason string
	}{
		{x[:20], 0.05, 1, "1 of 20 is 5 %"},
		{x, 0.05, 2, "1 of 21 is less"},
		{x[:20], 0.5, 10, "the lower of two in the middle"},
		{x, 0.5, 11, "the middle"},
		{x, 0, 1, "the least"},
		{x, 1, 21, "the greatest"},
		{x[:1], 0.999, 1, "one alone"},
	} {
		got, ok := harness.Quantile(row.sorted, row.q)
		assert.True(t, ok)
		assert.Equal(t, row.want, got, row.reason)
	}
	_, ok := harness.Quantile[float64](nil, 0.5)
	assert.False(t, ok, "of nothing")
}

// The rank by whole numbers: ceil(n k / 1000), which binary fractions must not miss.
func TestQuantileOfThousandths(t *testing.T) {
	ranks := make([]int, 5000)
	for i := range ranks {
		ranks[i] = i + 1
	}
	for n := 1; n <= len(ranks); n += 7 {
		for k := 1; k <= 1000; k += 3 {
			if got, _ := harness.Quantile(ranks[:n], float64(k)/1000); got != (n*k+999)/1000 {
				t.Fatalf("%d thousandths of %d values: rank %d, want %d", k, n, got, (n*k+999)/1000)
			}
		}
	}
}
