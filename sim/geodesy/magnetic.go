package geodesy

import (
	"math"

	"drystage/sim/plain"
	"drystage/sim/r3"
)

// MagneticField gives the earth's magnetic field in T, east, north and up, by the World Magnetic Model at the beginning
// of 2025. It changes by up to 0.2 degrees and 0.2 % a year; iron in the ground and buildings is not in it.
func MagneticField(p Place) r3.Vec {
	const radius = 6371200.0 // m, the model's reference radius
	const nano = 1e-9        // coefficients are in nT
	sin, cos := plain.Sincos(p.Latitude)
	r, z := meridian(sin, cos, p.Height)
	away := math.Sqrt(float64(r*r) + float64(z*z))
	// The pole itself has no east: a place 6 cm beside it stands for it.
	l := newLegendre(z/away, max(r/away, 1e-8))
	var sinM, cosM [wmmDegree + 1]float64 // of m times the longitude
	for m := range sinM {
		sinM[m], cosM[m] = plain.Sincos(float64(float64(m) * p.Longitude))
	}
	var up, south, east float64 // geocentric
	share := float64(radius/away) * float64(radius/away)
	k := 0
	for n := 1; n <= wmmDegree; n++ {
		share *= radius / away
		var u, s, e float64
		for m := 0; m <= n; m++ {
			g, h := wmm[k][0], wmm[k][1]
			k++
			along, across := float64(g*cosM[m])+float64(h*sinM[m]), float64(g*sinM[m])-float64(h*cosM[m])
			u += float64(along * l.p[n][m])
			s -= float64(along * l.slope[n][m])
			e += float64(float64(float64(m)*across) * l.p[n][m])
		}
		up += float64(float64(float64(n+1)*share) * u)
		south += float64(share * s)
		east += float64(share*e) / l.sin
	}
	// From the geocentric vertical to that of the ellipsoid.
	c, s := float64(l.sin*cos)+float64(l.cos*sin), float64(l.cos*cos)-float64(l.sin*sin)
	return r3.Vec{
		X: nano * east,
		Y: nano * (float64(s*up) - float64(c*south)),
		Z: nano * (float64(c*up) + float64(s*south)),
	}
}

// legendre holds the associated Legendre functions of degree n and order m, Schmidt semi-normalised, at a colatitude, and
// their slopes by it. The recursions are those of the textbooks (Chapman and Bartels, Geomagnetism, 1940, from memory).
type legendre struct {
	cos, sin float64 // of the colatitude
	p, slope [wmmDegree + 1][wmmDegree + 1]float64
}

func newLegendre(cos, sin float64) *legendre {
	l := &legendre{cos: cos, sin: sin}
	l.p[0][0] = 1
	for n := 1; n <= wmmDegree; n++ {
		k := 1.0
		if n > 1 {
			k = math.Sqrt(1 - 1/float64(2*n))
		}
		l.p[n][n] = float64(k * float64(sin*l.p[n-1][n-1]))
		l.slope[n][n] = float64(k * (float64(sin*l.slope[n-1][n-1]) + float64(cos*l.p[n-1][n-1])))
		for m := 0; m < n; m++ {
			a, b := float64(2*n-1), 0.0
			p, slope := 0.0, 0.0
			if m < n-1 {
				b = math.Sqrt(float64((n-1)*(n-1) - m*m))
				p, slope = l.p[n-2][m], l.slope[n-2][m]
			}
			per := 1 / math.Sqrt(float64(n*n-m*m))
			l.p[n][m] = float64(per * (float64(a*float64(cos*l.p[n-1][m])) - float64(b*p)))
			l.slope[n][m] = float64(per * (float64(a*(float64(cos*l.slope[n-1][m])-float64(sin*l.p[n-1][m]))) - float64(b*slope)))
		}
	}
	return l
}
