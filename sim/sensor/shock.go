package sensor

import (
	"math"

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

// shockStep is the longest step in which a sensing element's motion in a shock is followed.
const (
	shockStep      = 100 * sim.Microsecond
	mostShockSteps = 512
)

// clipShock works out what accelerometers lose of a shock since their last sample because their sensing elements come to
// the end of their range, before the mean is taken. Other motion counts as constant in that time.
func (b *Bank) clipShock(since sim.Time, s *input) {
	for _, t := range [...]*triad{&b.accel, &b.high} {
		t.clipShock(b, since, s)
	}
}

// clipTurn is clipShock for the gyro.
func (b *Bank) clipTurn(since sim.Time, s *input) {
	b.gyro.clipShock(b, since, s)
}

// trueValue is what a part of the bank would sense without its own errors.
func (t *triad) trueValue(b *Bank, st *sim.State) r3.Vec {
	if t == &b.gyro {
		return st.Rates
	}
	return specificForceAt(st, b.station, t.Position)
}

func (t *triad) clipShock(b *Bank, since sim.Time, s *input) {
	if !(t.Rate > 0) || !(t.Range > 0) || b.shockAt == nil || s.now <= since {
		return
	}
	smooth := *s.st
	smooth.Force, smooth.Angular = minus(smooth.Force, b.shock.Force), minus(smooth.Angular, b.shock.Angular)
	if !t.mayClip(t.inAxes(t.trueValue(b, &smooth)), b.shock.Most, s.now-since) {
		return
	}
	n := sim.Time(min(max((s.now-since+shockStep-1)/shockStep, 1), mostShockSteps))
	per := float64(n) / (s.now - since).Seconds()
	before := b.shockAt(since)
	var lost [3]float64
	for k := sim.Time(1); k <= n; k++ {
		now := b.shockAt(since + (s.now-since)*k/n)
		st := smooth
		st.Force = plus(st.Force, scaled(per, minus(now.Velocity, before.Velocity)))
		st.Angular = plus(st.Angular, scaled(per, minus(now.Rate, before.Rate)))
		st.Rates = plus(st.Rates, scaled(per, minus(now.Angle, before.Angle)))
		for i, x := range t.inAxes(t.trueValue(b, &st)) {
			lost[i] += limited(x, t.Range) - x
		}
		before = now
	}
	for i := range lost {
		t.lost[i] = lost[i] / float64(n)
	}
	t.loses = lost != [3]float64{}
}

// mayClip says that a shock of at most so much may bring the part from x to the end of its range.
func (t *triad) mayClip(x [3]float64, most float64, period sim.Time) bool {
	if period > 20*sim.Millisecond { // of which the shock doesn't tell
		return true
	}
	return max(math.Abs(x[0]), math.Abs(x[1]), math.Abs(x[2]))+most > t.Range
}

func minus(a, b r3.Vec) r3.Vec { return r3.Vec{X: a.X - b.X, Y: a.Y - b.Y, Z: a.Z - b.Z} }

func plus(a, b r3.Vec) r3.Vec { return r3.Vec{X: a.X + b.X, Y: a.Y + b.Y, Z: a.Z + b.Z} }

func scaled(k float64, v r3.Vec) r3.Vec {
	return r3.Vec{X: float64(k * v.X), Y: float64(k * v.Y), Z: float64(k * v.Z)}
}
