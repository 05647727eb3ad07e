package dispersion

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// scatter draws landings by a normal law of two dimensions, with deviations of 3 m and 1 m, turned.
func scatter(random *rand.Rand, n int) (points [][2]float64) {
	s, c := math.Sincos(0.7)
	for range n {
		a, b := 3*random.NormFloat64(), random.NormFloat64()
		points = append(points, [2]float64{40 + a*c - b*s, -15 + a*s + b*c})
	}
	return points
}

// However few landings an ellipse is made of, the next one lies in it as often as it says: on average over many sweeps.
func TestAnEllipseHoldsItsShare(t *testing.T) {
	for _, c := range []struct {
		n     int
		share float64
	}{{5, 0.5}, {5, 0.95}, {12, 0.5}, {12, 0.95}, {100, 0.95}} {
		random := rand.New(rand.NewPCG(7, uint64(c.n)))
		const sweeps, next = 4000, 5
		inside := 0
		for range sweeps {
			e, ok := Prediction(scatter(random, c.n), c.share)
			require.True(t, ok)
			for _, p := range scatter(random, next) {
				if e.Inside(p) {
					inside++
				}
			}
		}
		// Four standard deviations of the count of sweeps; the flights of one sweep depend on each other.
		assert.InDelta(t, c.share, float64(inside)/(sweeps*next), 4*math.Sqrt(c.share*(1-c.share)/sweeps), "%d landings, %v", c.n, c.share)
	}
}

// Of very many landings the ellipse is that of the law itself: half axes in units of the deviation are the square root of
// -2 ln(1 - p), 1.1774 for a half (the circular error probable of a round scatter) and 2.4477 for 95 %.
func TestTheEllipseOfManyIsThatOfTheLaw(t *testing.T) {
	points := scatter(rand.New(rand.NewPCG(1, 2)), 200_000)
	for _, c := range []struct{ share, want float64 }{{0.5, 1.1774}, {0.95, 2.4477}} {
		e, ok := Prediction(points, c.share)
		require.True(t, ok)
		assert.InDelta(t, 3*c.want, e.Major, 0.02*c.want)
		assert.InDelta(t, c.want, e.Minor, 0.01*c.want)
		assert.InDelta(t, math.Pi/2-0.7, e.Bearing, 0.01)
		assert.InDelta(t, 40, e.East, 0.05)
		for _, p := range e.Outline(36) {
			shrunk := [2]float64{e.East + 0.999*(p[0]-e.East), e.North + 0.999*(p[1]-e.North)}
			grown := [2]float64{e.East + 1.001*(p[0]-e.East), e.North + 1.001*(p[1]-e.North)}
			assert.True(t, e.Inside(shrunk) && !e.Inside(grown), "the outline is the ellipse's")
		}
	}
}

// Too few places, and such as are none, have no ellipse; places on a line have a flat one.
func TestEllipsesOfOddPlaces(t *testing.T) {
	_, ok := Prediction(scatter(rand.New(rand.NewPCG(1, 2)), 4), 0.5)
	assert.False(t, ok)
	_, ok = Prediction([][2]float64{{0, 0}, {1, 1}, {2, 0}, {0, 2}, {math.NaN(), 1}}, 0.5)
	assert.False(t, ok)
	e, ok := Prediction([][2]float64{{0, 0}, {1, 0}, {2, 0}, {3, 0}, {4, 0}}, 0.5)
	assert.True(t, ok)
	assert.InDelta(t, math.Pi/2, e.Bearing, 1e-9, "it lies east and west")
	assert.InDelta(t, 0, e.Minor, 1e-9)
}
