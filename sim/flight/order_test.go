package flight

import (
	"math"
	"testing"

	"drystage/sim"

	"drystage/sim/r3"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// The error at apogee follows the tolerance, through the rows of a table of drag too. At the standard tolerance it
// is far below the limit of the comparison with SciPy.
func TestErrorFollowsTolerance(t *testing.T) {
	best := untilApogee(swift(), 1e-12).Summary().Extremes.Height
	at := func(tolerance float64) float64 {
		return math.Abs(untilApogee(swift(), tolerance).Summary().Extremes.Height-best) / best
	}
	loose, tight := at(1e-4), at(tolerance)
	assert.Less(t, tight, 3e-8, "at the tolerance of every flight")
	assert.Less(t, at(1e-5), 1e-6, "a thousand times looser")
	assert.Less(t, tight, loose/50, "loose %.2g, tight %.2g", loose, tight)
}

// A step stays on one segment of a drag table and ends where the next one begins.
func TestStepsEndAtTheRowsOfADragTable(t *testing.T) {
	f := NewIdeal(swift())
	b := &f.bodies[0]
	changes, last := 0, 0
	for f.at("apogee") < 0 {
		if b.mode == free && b.to > b.from {
			if b.dragSegment != last {
				changes, last = changes+1, b.dragSegment
			}
			lines := b.shape.segments
			end := b.fraction(min(b.crossing.at, b.to))
			for i := range 9 {
				mach := math.Sqrt(b.peakTermsAt(end * float64(i) / 8)[1])
				require.GreaterOrEqual(t, mach, lines[b.dragSegment].mach-1e-8, "at %s", f.now)
				if b.dragSegment+1 < len(lines) {
					require.LessOrEqual(t, mach, lines[b.dragSegment+1].mach+1e-8, "at %s", f.now)
				}
			}
		}
		f.AdvanceTo(f.horizon)
	}
	assert.Equal(t, 4, changes, "up and down through Mach 0.8 and 1.05")
}

// With equal steps through a coast without corners the error of a step's end falls with the fifth power of
// the step, and that of the interpolant with the fourth or better (Dormand and Prince 1980; Hairer, Norsett
// and Wanner I, II.6).
func TestErrorFallsAtTheMethodsOrder(t *testing.T) {
	coasting := func() *body {
		f := NewIdeal(wren())
		f.AdvanceTo(5400 * sim.Millisecond) // in the middle of a cell over Mach number: between cells there is a kink
		b := &f.bodies[0]
		require.Equal(t, free, b.mode)
		b.restart(f.now)
		f.load(b)
		require.Empty(t, b.burns)
		b.y[11] += 2           // rad/s: it oscillates, so that there is an error to measure, and
		turn := b.y.rotation() // its axis goes round, so that no part's crossflow passes 0, where its drag has a kink
		b.y.setVec(atVelocity, plus(b.y.vec(atVelocity), turn.toWorld(r3.Vec{Y: 15})))
		return b
	}
	const span = 0.4
	fly := func(steps int) vector {
		b := coasting()
		h := span / float64(steps)
		for range steps {
			b.derivative(0, &b.y, &b.k)
			b.tryStep(h)
			b.y = b.end
		}
		return b.y
	}
	truth := fly(4096)
	off := func(a, b vector) float64 {
		worst := 0.0
		for i := range a {
			worst = max(worst, math.Abs(a[i]-b[i])/scales[i])
		}
		return worst
	}
	for _, steps := range []int{32, 64} {
		coarse := fly(steps)
		fine := fly(2 * steps)
		order := math.Log2(off(coarse, truth) / off(fine, truth))
		assert.InDelta(t, 5, order, 0.5, "%d steps: %.3g, twice as many: %.3g", steps, off(coarse, truth), off(fine, truth))
	}
	interpolant := func(steps int) float64 { // of one step, against its own fine steps
		b := coasting()
		h := span / float64(steps)
		b.derivative(0, &b.y, &b.k)
		b.tryStep(h)
		var middle vector
		b.interpolate(0.5, &middle)
		for range 64 {
			b.derivative(0, &b.y, &b.k)
			b.tryStep(h / 128)
			b.y = b.end
		}
		return off(middle, b.y)
	}
	for _, steps := range []int{8, 16} {
		a, z := interpolant(steps), interpolant(2*steps)
		assert.Greater(t, math.Log2(a/z), 4.0, "interpolant of a step: %.3g, half as long: %.3g", a, z)
	}
}
