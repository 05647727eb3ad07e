package fault

import (
	"drystage/sim"
	"drystage/sim/r3"
)

// reading is one sample of any part.
type reading struct {
	at   sim.Time
	vec  r3.Vec  // accelerometer, gyro, magnetometer
	x, y float64 // pressure and temperature; voltage
	fix  sim.Fix
}

// take gives the sample of a part.
func take(f *sim.Frame, p sim.Part) reading {
	r := reading{at: f.Now}
	switch p {
	case sim.PartAccel:
		r.vec = f.Accel
	case sim.PartGyro:
		r.vec = f.Gyro
	case sim.PartMag:
		r.vec = f.Mag
	case sim.PartBaro:
		r.x, r.y = f.Pressure, f.Temperature
	case sim.PartGNSS:
		r.fix = f.GNSS
	case sim.PartBattery:
		r.x = f.Battery
	}
	return r
}

// put makes a reading the sample of a part, and says whether the sample changed.
func put(f *sim.Frame, p sim.Part, r *reading) bool {
	before := *f
	switch p {
	case sim.PartAccel:
		f.Accel = r.vec
	case sim.PartGyro:
		f.Gyro = r.vec
	case sim.PartMag:
		f.Mag = r.vec
	case sim.PartBaro:
		f.Pressure, f.Temperature = r.x, r.y
	case sim.PartGNSS:
		f.GNSS = r.fix
	case sim.PartBattery:
		f.Battery = r.x
	}
	return *f != before
}

// between interpolates linearly between two readings, at a share from 0 to 1. What can't be interpolated is that of
// the first.
func between(a, b *reading, share float64) reading {
	line := func(x, y float64) float64 { return x + float64(share*(y-x)) }
	vec := func(x, y r3.Vec) r3.Vec { return r3.Vec{X: line(x.X, y.X), Y: line(x.Y, y.Y), Z: line(x.Z, y.Z)} }
	r := *a
	r.vec, r.x, r.y = vec(a.vec, b.vec), line(a.x, b.x), line(a.y, b.y)
	r.fix.Latitude, r.fix.Height = line(a.fix.Latitude, b.fix.Latitude), line(a.fix.Height, b.fix.Height)
	if d := b.fix.Longitude - a.fix.Longitude; d < 3 && d > -3 { // not over the date line
		r.fix.Longitude = line(a.fix.Longitude, b.fix.Longitude)
	}
	r.fix.Velocity = vec(a.fix.Velocity, b.fix.Velocity)
	return r
}
