package sim

import "drystage/sim/r3"

// zeroIfFinite is 0 for a vector of finite numbers and NaN for any other: 0 times infinity is NaN (IEEE 754-2019,
// 7.2). A record holds millions of numbers, and this needs no branch for each.
func zeroIfFinite(v r3.Vec) float64 { return 0*v.X + 0*v.Y + 0*v.Z }

// Finite says that no number of the state is infinite or NaN.
func (s *State) Finite() bool {
	a := &s.Attitude
	// In brackets, so that a processor can compute the sums at the same time.
	return ((zeroIfFinite(s.Position)+zeroIfFinite(s.Velocity))+(zeroIfFinite(s.Rates)+zeroIfFinite(s.Force)))+
		((zeroIfFinite(s.Angular)+(0*a.Real+0*a.Imag))+((0*a.Jmag+0*a.Kmag)+(0*s.Mass+0*s.CG)))+
		(((0*s.Front+0*s.Pressure)+(0*s.Ambient+0*s.Airspeed))+((0*s.Mach+0*s.Dynamic)+(zeroIfFinite(s.Air)+0*s.Thrust))) == 0
}

// Finite says that no number of the frame is infinite or NaN, in old samples too.
func (f *Frame) Finite() bool {
	g := &f.GNSS
	return zeroIfFinite(f.Accel)+zeroIfFinite(f.Gyro)+zeroIfFinite(g.Velocity)+
		0*f.Pressure+0*f.Temperature+0*g.Latitude+0*g.Longitude+0*g.Height+0*f.Battery+
		0*float64(f.Line.Flip)+0*float64(f.Line.Lose)+0*float64(f.Line.Cut) == 0
}

// Finite says that no number of the injection is infinite or NaN.
func (i *Injection) Finite() bool { return zeroIfFinite(i.Was)+zeroIfFinite(i.Is) == 0 }
