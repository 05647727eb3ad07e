// Package geodesy converts positions on the WGS 84 ellipsoid between geodetic coordinates (latitude, longitude,
// height), earth-centred earth-fixed ones (ECEF), and east, north, up from an origin (ENU). All conversions are
// accurate to a micrometre within 400 km of the ground. Heights are above the ellipsoid, which differs from mean
// sea level by up to 110 m. There are no map projections, and results near the centre of the earth are undefined.
package geodesy

import (
	"math"

	"drystage/sim/plain"
	"drystage/sim/r3"
)

// WGS 84: NIMA TR8350.2, 3rd edition, amendment 1, 2000.
const (
	equatorial = 6378137.0 // m, radius
	flattening = 1 / 298.257223563
	polar      = equatorial * (1 - flattening)                  // m, radius
	first2     = flattening * (2 - flattening)                  // first eccentricity squared
	second2    = first2 / ((1 - flattening) * (1 - flattening)) // second eccentricity squared
)

// Place is a geodetic position.
type Place struct {
	Latitude  float64 // rad, north is positive
	Longitude float64 // rad, east is positive
	Height    float64 // m above the ellipsoid
}

// ECEF gives earth-fixed coordinates in m: x to the prime meridian on the equator, z to the north pole.
func (p Place) ECEF() r3.Vec {
	sin, cos := plain.Sincos(p.Latitude)
	east, prime := plain.Sincos(p.Longitude)
	r, z := meridian(sin, cos, p.Height)
	return r3.Vec{X: float64(r * prime), Y: float64(r * east), Z: z}
}

// FromECEF gives the place of earth-fixed coordinates in m. Its longitude is above -pi and at most pi, and 0
// on the axis.
func FromECEF(v r3.Vec) Place {
	r := math.Sqrt(float64(v.X*v.X) + float64(v.Y*v.Y))
	p := Place{Longitude: wrap(plain.Atan2(v.Y, v.X))}
	p.Latitude, p.Height = above(r, v.Z)
	return p
}

// meridian gives the distances of a place from the axis and from the equator's plane, from its latitude.
func meridian(sin, cos, height float64) (r, z float64) {
	n := equatorial / math.Sqrt(1-float64(first2*float64(sin*sin)))
	return float64((n + height) * cos), float64((float64(n*(1-first2)) + height) * sin)
}

// above gives latitude and height of a place at a distance from the axis and from the equator's plane, by
// two rounds of Bowring's formula (Survey Review 23, 1976, from memory).
func above(r, z float64) (latitude, height float64) {
	cos, sin := unit(float64(r*(1-flattening)*(1-flattening)), z) // of the latitude of a place on the ellipsoid
	for range 2 {
		u, v := unit(cos, float64(sin*(1-flattening))) // of the reduced latitude
		cos, sin = unit(r-float64(first2*equatorial*float64(u*float64(u*u))), z+float64(second2*polar*float64(v*float64(v*v))))
	}
	height = float64(r*cos) + float64(z*sin) - float64(equatorial*math.Sqrt(1-float64(first2*float64(sin*sin))))
	return plain.Atan2(sin, cos), height
}

// unit scales a vector to length 1.
func unit(x, y float64) (float64, float64) {
	n := math.Sqrt(float64(x*x) + float64(y*y))
	return x / n, y / n
}

// wrap brings a longitude above -pi and to at most pi.
func wrap(lon float64) float64 {
	if lon > math.Pi {
		return lon - 2*math.Pi
	}
	if lon <= -math.Pi {
		return lon + 2*math.Pi
	}
	return lon
}
