package fault

import (
	"math"

	"drystage/sim"
	"drystage/sim/plain"
	"drystage/sim/r3"
)

// apply changes the frame's fresh sample if the fault lasts, and says whether it differs now.
func (it *item) apply(f *sim.Frame, st *sim.State) bool {
	if len(it.past) > 0 {
		it.remember(f)
	}
	if !it.active(f.Now) {
		it.observe(f, st)
		return false
	}
	switch it.Kind {
	case sim.Dropout:
		f.Has &^= it.partBit
		return true
	case sim.Duplicated:
		before := f.Twice
		f.Twice |= it.partBit
		return f.Twice != before
	case sim.Stuck:
		return it.repeatHeld(f)
	case sim.Stale:
		return it.stale(f)
	case sim.Delayed:
		return it.delay(f)
	case sim.Jittered:
		return it.jitter(f)
	case sim.Reordered:
		return it.reorder(f)
	case sim.VentBlocked:
		return it.Part == sim.PartBaro && it.blockVent(f, st)
	case sim.BayLeak:
		return it.Part == sim.PartBaro && addTo(&f.Pressure, float64(it.Value*st.Dynamic))
	case sim.FixLost, sim.HeightLimit:
		return it.Part == sim.PartGNSS && it.loseFix(&f.GNSS)
	case sim.Swapped, sim.Reversed, sim.Scaled, sim.Clipped, sim.Extreme:
		return it.transform(f)
	}
	return it.add(f)
}

// observe stores what the fault will need when it begins.
func (it *item) observe(f *sim.Frame, st *sim.State) {
	switch it.Kind {
	case sim.Stuck:
		it.hold(f)
	case sim.FixLost, sim.HeightLimit:
		if f.GNSS.Kind != sim.NoFix {
			it.hold(f)
		}
	case sim.VentBlocked:
		it.bay.equalise(f.Now, st)
	}
}

// add adds to the sample.
func (it *item) add(f *sim.Frame) bool {
	switch it.Part {
	case sim.PartAccel:
		return it.shift(&f.Accel, f.Now)
	case sim.PartGyro:
		return it.shift(&f.Gyro, f.Now)
	case sim.PartMag:
		return it.shift(&f.Mag, f.Now)
	case sim.PartGNSS:
		return it.moveFix(&f.GNSS, f.Now)
	case sim.PartBaro:
		return addTo(&f.Pressure, it.amount(f.Now))
	}
	return addTo(&f.Battery, it.amount(f.Now))
}

// amount gives what the fault adds at an instant; a noise burst draws a new number each time.
func (it *item) amount(now sim.Time) float64 {
	since := now - it.begin
	switch it.Kind {
	case sim.Step:
		return it.Value
	case sim.Drift:
		return float64(it.Value * since.Seconds())
	case sim.NoiseBurst:
		return float64(it.Value * it.random.Normal())
	case sim.Spike:
		if it.Duration > 0 {
			sin, _ := plain.Sincos(float64(math.Pi * (float64(since) / float64(it.Duration))))
			return float64(it.Value * sin)
		}
	}
	return 0
}

// touches says whether the fault applies to an axis, counted from 0.
func (it *item) touches(axis int) bool {
	return it.Axis == sim.AllAxes || it.Axis == sim.Axis(axis+1)
}

// shift adds to the axes of a vector.
func (it *item) shift(v *r3.Vec, now sim.Time) bool {
	before := *v
	for axis, x := range [...]*float64{&v.X, &v.Y, &v.Z} {
		if it.touches(axis) {
			*x += it.amount(now)
		}
	}
	return *v != before
}

// addTo adds to a scalar that can't be negative, and says whether it changed.
func addTo(x *float64, by float64) bool {
	before := *x
	*x = max(0, *x+by)
	return *x != before
}

// moveFix moves a fix by metres east, north and up; its velocity stays.
func (it *item) moveFix(fix *sim.Fix, now sim.Time) bool {
	var by r3.Vec
	if !it.shift(&by, now) {
		return false
	}
	before := *fix
	*fix = moved(before, by)
	return *fix != before
}

// hold remembers the part's sample as the last good one.
func (it *item) hold(f *sim.Frame) { it.held, it.hasHeld = take(f, it.Part), true }

// repeatHeld repeats the last good sample; without one yet, this one becomes it.
func (it *item) repeatHeld(f *sim.Frame) bool {
	if !it.hasHeld {
		it.hold(f)
		return false
	}
	r := it.held
	switch it.Part {
	case sim.PartAccel:
		r.vec = it.heldAxes(f.Accel)
	case sim.PartGyro:
		r.vec = it.heldAxes(f.Gyro)
	case sim.PartMag:
		r.vec = it.heldAxes(f.Mag)
	case sim.PartGNSS:
		r.fix = it.heldFix(f.GNSS)
	}
	return put(f, it.Part, &r)
}

func (it *item) heldAxes(v r3.Vec) r3.Vec {
	held := it.held.vec
	switch it.Axis {
	case sim.AllAxes:
		v = held
	case sim.AxisX:
		v.X = held.X
	case sim.AxisY:
		v.Y = held.Y
	case sim.AxisZ:
		v.Z = held.Z
	}
	return v
}

// heldFix gives a fix with all of it held, velocity included, or only its longitude, latitude or height.
func (it *item) heldFix(fix sim.Fix) sim.Fix {
	held := &it.held.fix
	switch it.Axis {
	case sim.AllAxes:
		fix = *held
	case sim.AxisX:
		fix.Longitude = held.Longitude
	case sim.AxisY:
		fix.Latitude = held.Latitude
	case sim.AxisZ:
		fix.Height = held.Height
	}
	return fix
}

// loseFix removes the fix, or only one above a height, and repeats the last position.
func (it *item) loseFix(fix *sim.Fix) bool {
	before := *fix
	if it.Kind == sim.HeightLimit && !(fix.Height > it.Value) {
		it.held.fix, it.hasHeld = *fix, true
		return false
	}
	if it.hasHeld {
		*fix = it.held.fix
	}
	fix.Kind, fix.Satellites = sim.NoFix, 0
	return *fix != before
}
