package flight

import (
	"math"

	"drystage/sim"
	"drystage/sim/r3"

	"gonum.org/v1/gonum/num/quat"
)

func norm3(v r3.Vec) float64 { return math.Sqrt(dot(v, v)) }

func upwards(by float64) r3.Vec { return r3.Vec{Z: by} }

// turnBetween is the angle between two attitudes.
func turnBetween(a, b *sim.State) float64 {
	q := quat.Mul(quat.Conj(a.Attitude), b.Attitude)
	return 2 * math.Atan2(math.Sqrt(q.Imag*q.Imag+q.Jmag*q.Jmag+q.Kmag*q.Kmag), math.Abs(q.Real))
}
