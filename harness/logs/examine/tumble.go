package examine

import "math"

const (
	tumbleRate = 4.5 // rad/s across the rocket: fins hold one that flies to half of it, even where it cones
	tumbleLast = 0.3 // s that it turns so fast
)

// tumbling lists the stretches in which the rocket turns over and over by the gyro, as a booster does that has lost its sustainer. They
// are found once, before a gyro's turning is taken for its fault.
func (e *examiner) tumbling() []window {
	y, z := e.gyro[1], e.gyro[2]
	if e.turned || y == nil || z == nil {
		return e.tumbles
	}
	e.turned = true
	since, last := math.Inf(1), math.Inf(1)
	for i := range min(len(y.x), len(z.x)) {
		if t := y.t[i]; math.Hypot(y.x[i]-e.gyroOff[1], z.x[i]-e.gyroOff[2]) > tumbleRate {
			since, last = min(since, t), t
			continue
		}
		if last-since > tumbleLast {
			e.tumbles = append(e.tumbles, window{since, last})
		}
		since, last = math.Inf(1), math.Inf(1)
	}
	if last-since > tumbleLast {
		e.tumbles = append(e.tumbles, window{since, last})
	}
	return e.tumbles
}

// tilted says that a gyro follows the rocket's tilt up to its apogee: it does not tumble before it.
func (e *examiner) tilted() bool {
	if e.gyro[1] == nil || e.gyro[2] == nil {
		return false
	}
	for _, w := range e.tumbling() {
		if w.from < e.top && w.until > e.padEnd {
			return false
		}
	}
	return true
}

// somersaults says that the rocket tumbles for most of a stretch: what an accelerometer beside its centre feels of that, along with the
// drag, now from the front and now from behind, looks like one short burn after the other.
func (e *examiner) somersaults(from, until float64) bool {
	sum := 0.0
	for _, w := range e.tumbling() {
		sum += max(min(w.until, until)-max(w.from, from), 0)
	}
	return sum > (until-from)/2
}
