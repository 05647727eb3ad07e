package mock

// speedSum is the speed of the board with the defect misses-clipped-vibration: a sum of accelerations since liftoff, which
// counts unless the accelerometer's reading along the rocket repeats itself while it pushes, as at the end of its range.
type speedSum struct {
	speed, up, axial float64
	at               int64
	repeats          int
	summing          bool
}

// clippedRepeats is how often a reading repeats before it is taken for clipped.
const clippedRepeats = 3

func (s *speedSum) add(t int64, axial, up float64, inFlight bool) {
	if axial == s.axial && axial > standardGravity {
		s.repeats++
	}
	if s.summing = s.summing && inFlight; s.summing {
		s.speed += float64(span(t-s.at) * (s.up + up) / 2)
	} else {
		s.speed, s.repeats, s.summing = 0, 0, inFlight
	}
	s.at, s.up, s.axial = t, up, axial
}

func (s *speedSum) usable() bool { return s.summing && s.repeats < clippedRepeats }
