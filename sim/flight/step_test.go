package flight

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
)

func TestPowThreeSixteenthsAgreesWithPackageMath(t *testing.T) {
	const high, n = 1e6, 20_000
	assert.Zero(t, powThreeSixteenths(0), "a step without error")
	for i := 1; i <= n; i++ {
		x := high * float64(i) / n
		assert.InEpsilon(t, math.Pow(x, 3.0/16), powThreeSixteenths(x), 1e-15, "%v", x)
	}
}
