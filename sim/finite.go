package sim

import "drystage/sim/r3"

// A record holds millions of numbers, so there is no branch for each of them. A finite sum has finite terms only. A sum
// that is not finite may be that of large numbers: then each is multiplied by 0 first.

func sum(v r3.Vec) float64 { return v.X + v.Y + v.Z }

// zeroIfFinite is 0 for a vector of finite numbers and NaN for any other: 0 times infinity is NaN (IEEE 754-2019,
// 7.2).
func zeroIfFinite(v r3.Vec) float64 { return 0*v.X + 0*v.Y + 0*v.Z }

// Finite says that no number of the state is infinite or NaN.
func (s *State) Finite() bool {
	a := &s.Attitude
	// In brackets, so that a processor can compute the sums at the same time.
	x := ((sum(s.Position) + sum(s.Velocity)) + (sum(s.Rates) + sum(s.Force))) +
		((sum(s.Angular) + (a.Real + a.Imag)) + ((a.Jmag + a.Kmag) + (s.Mass + s.CG))) +
		(((s.Front + s.Pressure) + (s.Ambient + s.Airspeed)) + ((s.Mach + s.Dynamic) + (sum(s.Air) + s.Thrust)))
	return x-x == 0 || s.eachFinite()
}

func (s *State) eachFinite() bool {
	a := &s.Attitude
	return ((zeroIfFinite(s.Position)+zeroIfFinite(s.Velocity))+(zeroIfFinite(s.Rates)+zeroIfFinite(s.Force)))+
		((zeroIfFinite(s.Angular)+(0*a.Real+0*a.Imag))+((0*a.Jmag+0*a.Kmag)+(0*s.Mass+0*s.CG)))+
		(((0*s.Front+0*s.Pressure)+(0*s.Ambient+0*s.Airspeed))+((0*s.Mach+0*s.Dynamic)+(zeroIfFinite(s.Air)+0*s.Thrust))) == 0
}

// Finite says that no number of the frame is infinite or NaN, in old samples too.
func (f *Frame) Finite() bool {
	g, l := &f.GNSS, &f.Line
	x := ((sum(f.Accel) + sum(f.Gyro)) + (sum(g.Velocity) + (f.Pressure + f.Temperature))) +
		(((g.Latitude + g.Longitude) + (g.Height + f.Battery)) + (sum(f.Mag) + float64(l.Flip+l.Lose+l.Cut)))
	return x-x == 0 || f.eachFinite()
}

func (f *Frame) eachFinite() bool {
	g := &f.GNSS
	return zeroIfFinite(f.Accel)+zeroIfFinite(f.Gyro)+zeroIfFinite(g.Velocity)+zeroIfFinite(f.Mag)+
		0*f.Pressure+0*f.Temperature+0*g.Latitude+0*g.Longitude+0*g.Height+0*f.Battery+
		0*float64(f.Line.Flip)+0*float64(f.Line.Lose)+0*float64(f.Line.Cut) == 0
}

// Finite says that no number of the injection is infinite or NaN.
func (i *Injection) Finite() bool { return zeroIfFinite(i.Was)+zeroIfFinite(i.Is) == 0 }
