package mock

import (
	"math"

	"drystage/harness/board/contract"
)

// compass is what a board with the defect tilt-from-the-field makes of its magnetometer: it takes the change of the angle
// between axis and field since the pad for the tilt. All other boards go by their gyro alone.
type compass struct {
	n             float64 // samples in the mean on the pad
	pad           float64 // cosine of the angle there
	minTiltCosine float64 // smallest cosine of the tilt since liftoff
}

// magnetic takes a sample of the magnetometer.
func (c *computer) magnetic(m *contract.Mag) {
	f, s := vector{float64(m.FieldX), float64(m.FieldY), float64(m.FieldZ)}, &c.compass
	if c.defect != tiltFromField || f.dot(f) == 0 {
		return
	}
	along := f.unit().dot(c.nose)
	if c.mem.phase == phaseStanding {
		s.n, s.minTiltCosine = min(s.n+1, alignSamples), 1
		s.pad += (along - s.pad) / s.n
		return
	}
	sine := func(x float64) float64 { return math.Sqrt(max(0, 1-float64(x*x))) }
	s.minTiltCosine = min(s.minTiltCosine, float64(along*s.pad)+float64(sine(along)*sine(s.pad)))
}
