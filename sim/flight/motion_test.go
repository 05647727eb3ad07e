package flight

import (
	"fmt"
	"hash/fnv"
	"math"
	"testing"

	"drystage/sim"
	"drystage/sim/r3"

	"github.com/stretchr/testify/assert"
	"gonum.org/v1/gonum/num/quat"
)

func norm3(v r3.Vec) float64 { return math.Sqrt(dot(v, v)) }

func upwards(by float64) r3.Vec { return r3.Vec{Z: by} }

// turnBetween is the angle between two attitudes.
func turnBetween(a, b *sim.State) float64 {
	q := quat.Mul(quat.Conj(a.Attitude), b.Attitude)
	return 2 * math.Atan2(math.Sqrt(q.Imag*q.Imag+q.Jmag*q.Jmag+q.Kmag*q.Kmag), math.Abs(q.Real))
}

// The bits of the motions on the pad and below canopies are pinned: the same on every processor.
func TestMotionsHaveTheSameBits(t *testing.T) {
	h := fnv.New64a()
	hash := func(list []sim.State) {
		for _, s := range list {
			for _, v := range [...]r3.Vec{s.Position, s.Velocity, s.Rates, s.Force, s.Angular, s.Air} {
				fmt.Fprintf(h, "%x %x %x ", math.Float64bits(v.X), math.Float64bits(v.Y), math.Float64bits(v.Z))
			}
			fmt.Fprintf(h, "%x ", math.Float64bits(s.Attitude.Real))
		}
	}
	hash(statesOf(New(handled()), 0, 0, 16*sim.Second, 37*sim.Millisecond))
	hash(statesOf(NewIdeal(swinging()), 0, 18*sim.Second, 90*sim.Second, 370*sim.Millisecond))
	assert.Equal(t, "e4e694f60e9789a2", fmt.Sprintf("%016x", h.Sum64()))
}
