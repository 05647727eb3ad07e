package fault

import (
	"math"

	"drystage/sim"
	"drystage/sim/r3"
)

// extreme is more than any field of a message can carry, in SI.
const extreme = 1e12

// transform changes the sample by a function of its own value.
func (it *item) transform(f *sim.Frame) bool {
	switch it.Part {
	case sim.PartAccel:
		return it.transformAxes(&f.Accel)
	case sim.PartGyro:
		return it.transformAxes(&f.Gyro)
	case sim.PartMag:
		return it.transformAxes(&f.Mag)
	case sim.PartGNSS:
		return it.Kind == sim.Extreme && it.extremeFix(&f.GNSS)
	case sim.PartBaro:
		return it.transformScalar(&f.Pressure, max(f.Pressure, it.Value))
	}
	return it.transformScalar(&f.Battery, min(f.Battery, it.Value))
}

func (it *item) transformAxes(v *r3.Vec) bool {
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
			*x = it.transformed(*x)
		}
	}
	return *v != before
}

func (it *item) transformed(x float64) float64 {
	switch it.Kind {
	case sim.Reversed:
		return -x
	case sim.Scaled:
		return x + float64(it.Value*x)
	case sim.Clipped:
		limit := math.Abs(it.Value)
		return min(max(x, -limit), limit)
	case sim.Extreme:
		return math.Copysign(extreme, it.Value)
	}
	return x
}

// transformScalar changes a number that can't be negative; clipped is its value limited to its range.
func (it *item) transformScalar(x *float64, clipped float64) bool {
	before := *x
	switch it.Kind {
	case sim.Scaled, sim.Extreme:
		*x = max(0, it.transformed(*x))
	case sim.Clipped:
		*x = clipped
	}
	return *x != before
}

// extremeFix gives a fix the greatest or least coordinates.
func (it *item) extremeFix(fix *sim.Fix) bool {
	before := *fix
	for axis, x := range [...]*float64{&fix.Longitude, &fix.Latitude, &fix.Height} {
		if most := [...]float64{math.Pi, math.Pi / 2, extreme}; it.touches(axis) {
			*x = math.Copysign(most[axis], it.Value)
		}
	}
	return *fix != before
}
