package fault

import (
	"math"

	"gonum.org/v1/gonum/spatial/r3"

	"drystage/sim"
	"drystage/sim/plain"
)

// spoil changes the frame's fresh sample if the fault lasts, and says whether it is another now.
func (it *item) spoil(f *sim.Frame) bool {
	if f.Now < it.start || f.Now >= it.end {
		if it.Kind == sim.Stuck {
			it.hold(f)
		}
		return false
	}
	if it.Kind == sim.Dropout {
		f.Has &^= it.has
		return true
	}
	if it.Kind == sim.Stuck {
		return it.stick(f)
	}
	switch it.Part {
	case sim.PartAccel:
		return it.shift(&f.Accel, f.Now)
	case sim.PartGyro:
		return it.shift(&f.Gyro, f.Now)
	case sim.PartGNSS:
		return it.displace(&f.GNSS, f.Now)
	case sim.PartBaro:
		return it.raise(&f.Pressure, f.Now)
	}
	return it.raise(&f.Battery, f.Now)
}

// amount gives what the fault adds at an instant; a noise burst draws anew each time.
func (it *item) amount(now sim.Time) float64 {
	since := now - it.start
	switch it.Kind {
	case sim.Step:
		return it.Value
	case sim.Drift:
		return float64(it.Value * since.Seconds())
	case sim.NoiseBurst:
		return float64(it.Value * it.chance.Normal())
	case sim.Spike:
		if it.Duration > 0 {
			sin, _ := plain.Sincos(float64(math.Pi * (float64(since) / float64(it.Duration))))
			return float64(it.Value * sin)
		}
	}
	return 0
}

// shift adds to the axes of a vector.
func (it *item) shift(v *r3.Vec, now sim.Time) bool {
	before := *v
	for axis, x := range [...]*float64{&v.X, &v.Y, &v.Z} {
		if it.Axis == sim.AllAxes || it.Axis == sim.Axis(axis+1) {
			*x += it.amount(now)
		}
	}
	return *v != before
}

// raise adds to a scalar that can't be negative.
func (it *item) raise(x *float64, now sim.Time) bool {
	before := *x
	*x = max(0, *x+it.amount(now))
	return *x != before
}

// displace moves a fix by metres east, north and up; its velocity stays.
func (it *item) displace(fix *sim.Fix, now sim.Time) bool {
	var by r3.Vec
	if !it.shift(&by, now) {
		return false
	}
	before := *fix
	*fix = moved(before, by)
	return *fix != before
}

// hold remembers the part's sample as the last good one.
func (it *item) hold(f *sim.Frame) { it.held, it.holds = *f, true }

// stick puts the last good sample back; without one yet, this one is it.
func (it *item) stick(f *sim.Frame) bool {
	if !it.holds {
		it.hold(f)
		return false
	}
	before := *f
	switch it.Part {
	case sim.PartAccel:
		it.stickAxes(&f.Accel, it.held.Accel)
	case sim.PartGyro:
		it.stickAxes(&f.Gyro, it.held.Gyro)
	case sim.PartGNSS:
		it.stickFix(&f.GNSS, it.held.GNSS)
	case sim.PartBaro:
		f.Pressure, f.Warmth = it.held.Pressure, it.held.Warmth
	case sim.PartBattery:
		f.Battery = it.held.Battery
	}
	return *f != before
}

func (it *item) stickAxes(v *r3.Vec, held r3.Vec) {
	switch it.Axis {
	case sim.AllAxes:
		*v = held
	case sim.AxisX:
		v.X = held.X
	case sim.AxisY:
		v.Y = held.Y
	case sim.AxisZ:
		v.Z = held.Z
	}
}

// stickFix holds the whole fix, velocity included, or just its longitude, latitude or height.
func (it *item) stickFix(fix *sim.Fix, held sim.Fix) {
	switch it.Axis {
	case sim.AllAxes:
		*fix = held
	case sim.AxisX:
		fix.Longitude = held.Longitude
	case sim.AxisY:
		fix.Latitude = held.Latitude
	case sim.AxisZ:
		fix.Height = held.Height
	}
}
