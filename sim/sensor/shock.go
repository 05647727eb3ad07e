package sensor

import (
	"drystage/sim"
	"drystage/sim/r3"
)

// shockMean is the mean of pulses of some milliseconds over the sample period of a part, as a converter that sums up
// its input takes it. Between any two samples it integrates to exactly what the pulses did.
type shockMean struct {
	at                    sim.Time // of the last sample
	changes               uint64   // and the Shock's number of changes then
	velocity, rate, angle r3.Vec   // and its sums
	input                 input
	st                    sim.State // with the mean in place of the pulse of the moment
}

// apply gives the input of a part with the mean of the pulses since its last sample.
func (m *shockMean) apply(s *input, sh *sim.Shock) *input {
	velocity, rate, angle := minus(sh.Velocity, m.velocity), minus(sh.Rate, m.rate), minus(sh.Angle, m.angle)
	m.changes, m.velocity, m.rate, m.angle = sh.Changes, sh.Velocity, sh.Rate, sh.Angle
	if s.now <= m.at {
		return s
	}
	per := 1 / (s.now - m.at).Seconds()
	m.st, m.input = *s.st, *s
	m.input.st = &m.st
	m.st.Force = plus(minus(m.st.Force, sh.Force), scaled(per, velocity))
	m.st.Angular = plus(minus(m.st.Angular, sh.Angular), scaled(per, rate))
	m.st.Rates = plus(m.st.Rates, scaled(per, angle))
	return &m.input
}

func minus(a, b r3.Vec) r3.Vec { return r3.Vec{X: a.X - b.X, Y: a.Y - b.Y, Z: a.Z - b.Z} }

func plus(a, b r3.Vec) r3.Vec { return r3.Vec{X: a.X + b.X, Y: a.Y + b.Y, Z: a.Z + b.Z} }

func scaled(k float64, v r3.Vec) r3.Vec {
	return r3.Vec{X: float64(k * v.X), Y: float64(k * v.Y), Z: float64(k * v.Z)}
}
