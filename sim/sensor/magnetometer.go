package sensor

import (
	"math"

	"gonum.org/v1/gonum/num/quat"

	"drystage/sim"
	"drystage/sim/geodesy"
	"drystage/sim/noise"
	"drystage/sim/plain"
	"drystage/sim/r3"
)

// magnetometer measures the earth's field, distorted by the iron and the currents around it. In the order of the signal
// path: mounting, soft iron, field of currents, then the errors of a triad, of which the bias is the hard iron.
type magnetometer struct {
	part    triad // its axes are those of the distorted field
	field   r3.Vec
	matrix  [3]r3.Vec // from body axes to the part's, soft iron included
	current r3.Vec
}

// earthRadius is the reference radius in m of the World Magnetic Model.
const earthRadius = 6371200.0

func newMagnetometer(p *sim.Magnetometer, site *sim.Site, random func(effect string) *noise.Stream) magnetometer {
	if !(p.Rate > 0) {
		return magnetometer{}
	}
	m := magnetometer{field: magneticField(site), matrix: p.Mounting, current: p.Current}
	if m.matrix == ([3]r3.Vec{}) {
		m.matrix = bodyAxes
	}
	if p.SoftIron != ([3]r3.Vec{}) {
		mounted := m.matrix
		for i, row := range p.SoftIron {
			m.matrix[i] = plus(plus(scaled(row.X, mounted[0]), scaled(row.Y, mounted[1])), scaled(row.Z, mounted[2]))
		}
	}
	t := p.Triad
	t.Mounting = bodyAxes
	m.part = newTriad(&t, &sim.Vibration{}, false, random)
	return m
}

// magneticField gives the earth's field at the site in T: east, north, up.
func magneticField(s *sim.Site) r3.Vec {
	g := &s.Magnetic
	if g.Strength == 0 {
		return geodesy.MagneticField(geodesy.Place{Latitude: s.Latitude, Longitude: s.Longitude, Height: s.Elevation + s.Geoid})
	}
	down, level := plain.Sincos(g.Inclination)
	east, north := plain.Sincos(g.Declination)
	level *= g.Strength
	return r3.Vec{X: float64(level * east), Y: float64(level * north), Z: -float64(g.Strength * down)}
}

// sample gives T in the part's axes; current is what all outputs draw, in A. Over a flight the earth's field keeps its
// direction and falls off as that of a dipole, with the cube of the distance from the earth's centre.
func (m *magnetometer) sample(s *input, current float64) r3.Vec {
	x := earthRadius / (earthRadius + s.st.Position.Z)
	body := scaled(float64(float64(x*x)*x), toBody(&s.st.Attitude, &m.field))
	v := r3.Vec{X: dot(&m.matrix[0], &body), Y: dot(&m.matrix[1], &body), Z: dot(&m.matrix[2], &body)}
	if current != 0 {
		v = plus(v, scaled(current, m.current))
	}
	return m.part.sample(v, s, &r3.Vec{})
}

// toBody turns a vector from world axes into body axes; q turns the other way, and may have any length.
func toBody(q *quat.Number, v *r3.Vec) r3.Vec {
	w, u := q.Real, r3.Vec{X: q.Imag, Y: q.Jmag, Z: q.Kmag}
	uu := dot(&u, &u)
	ww := float64(w * w)
	across := r3.Vec{ // v x u
		X: float64(v.Y*u.Z) - float64(v.Z*u.Y),
		Y: float64(v.Z*u.X) - float64(v.X*u.Z),
		Z: float64(v.X*u.Y) - float64(v.Y*u.X),
	}
	along := float64(2 * dot(&u, v))
	sum := plus(plus(scaled(ww-uu, *v), scaled(along, u)), scaled(float64(2*w), across))
	return scaled(1/(ww+uu), sum)
}

// current gives the current in A of all outputs that are on.
func (b *battery) current(now sim.Time) float64 {
	if !(b.load > 0) {
		return 0
	}
	return math.Max(0, float64(b.load*b.terminalVoltage(now)))
}
