package fault

import (
	"math"

	"gonum.org/v1/gonum/spatial/r3"

	"drystage/sim"
)

// beyond is more than any field of a line can carry, in SI.
const beyond = 1e12

// twist changes the sample by what it is itself.
func (it *item) twist(f *sim.Frame) bool {
	switch it.Part {
	case sim.PartAccel:
		return it.twistAxes(&f.Accel)
	case sim.PartGyro:
		return it.twistAxes(&f.Gyro)
	case sim.PartGNSS:
		return it.Kind == sim.Extreme && it.hurl(&f.GNSS)
	case sim.PartBaro:
		return it.twistScalar(&f.Pressure, max(f.Pressure, it.Value))
	}
	return it.twistScalar(&f.Battery, min(f.Battery, it.Value))
}

func (it *item) twistAxes(v *r3.Vec) bool {
	before := *v
	if it.Kind == sim.Swapped {
		switch it.Axis {
		case sim.AxisX:
			v.Y, v.Z = v.Z, v.Y
		case sim.AxisY:
			v.X, v.Z = v.Z, v.X
		case sim.AxisZ:
			v.X, v.Y = v.Y, v.X
		}
		return *v != before
	}
	for axis, x := range [...]*float64{&v.X, &v.Y, &v.Z} {
		if it.touches(axis) {
			*x = it.twisted(*x)
		}
	}
	return *v != before
}

func (it *item) twisted(x float64) float64 {
	switch it.Kind {
	case sim.Reversed:
		return -x
	case sim.Scaled:
		return x + float64(it.Value*x)
	case sim.Clipped:
		limit := math.Abs(it.Value)
		return min(max(x, -limit), limit)
	case sim.Extreme:
		return math.Copysign(beyond, it.Value)
	}
	return x
}

// twistScalar changes a number that can't be negative; clipped is what it is at the end of its range.
func (it *item) twistScalar(x *float64, clipped float64) bool {
	before := *x
	switch it.Kind {
	case sim.Scaled, sim.Extreme:
		*x = max(0, it.twisted(*x))
	case sim.Clipped:
		*x = clipped
	}
	return *x != before
}

// hurl puts a fix at the end of the world.
func (it *item) hurl(fix *sim.Fix) bool {
	before := *fix
	for axis, x := range [...]*float64{&fix.Longitude, &fix.Latitude, &fix.Height} {
		if most := [...]float64{math.Pi, math.Pi / 2, beyond}; it.touches(axis) {
			*x = math.Copysign(most[axis], it.Value)
		}
	}
	return *fix != before
}
