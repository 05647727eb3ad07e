package sim

import "gonum.org/v1/gonum/spatial/r3"

// naught is 0 for a vector of finite numbers and NaN for any other: 0 times infinity is NaN (IEEE 754-2019, 7.2). A
// record holds millions of numbers, and this asks no question of each.
func naught(v r3.Vec) float64 { return 0*v.X + 0*v.Y + 0*v.Z }

// Finite says that every number of the state is one: neither infinite nor NaN.
func (s *State) Finite() bool {
	a := &s.Attitude
	// In brackets, so that a processor need not wait for one sum before the next.
	return ((naught(s.Position)+naught(s.Velocity))+(naught(s.Rates)+naught(s.Force)))+
		((naught(s.Angular)+(0*a.Real+0*a.Imag))+((0*a.Jmag+0*a.Kmag)+(0*s.Mass+0*s.CG)))+
		(((0*s.Front+0*s.Pressure)+(0*s.Ambient+0*s.Airspeed))+((0*s.Mach+0*s.Dynamic)+(0*s.Alpha+0*s.Tilt)))+0*s.Thrust == 0
}

// Finite says that every number of the frame is one, also of samples that are not fresh.
func (f *Frame) Finite() bool {
	g := &f.GNSS
	return naught(f.Accel)+naught(f.Gyro)+naught(g.Velocity)+
		0*f.Pressure+0*f.Warmth+0*g.Latitude+0*g.Longitude+0*g.Height+0*f.Battery+
		0*float64(f.Line.Flip)+0*float64(f.Line.Lose)+0*float64(f.Line.Cut) == 0
}

// Finite says that every number of the injection is one.
func (i *Injection) Finite() bool { return naught(i.Was)+naught(i.Is) == 0 }
