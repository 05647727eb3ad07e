package flight

import (
	"math"

	"drystage/sim"
	"drystage/sim/plain"
	"drystage/sim/r3"
)

// WGS 84 (NIMA TR8350.2): ellipsoid, normal gravity by Somigliana's formula.
const (
	earthA       = 6378137.0
	earthF       = 1 / 298.257223563
	earthE2      = 6.69437999014e-3
	equatorG     = 9.7803253359
	somiglianaK  = 1.93185265241e-3
	centrifugalM = 3.44978650684e-3
	earthRate    = 7.292115e-5 // rad/s
)

// gravity is normal gravity over the site, which falls with height and keeps its direction, and the rotation
// of the earth. Centrifugal acceleration is part of normal gravity.
type gravity struct {
	ground       float64 // m/s2 on the ellipsoid
	first, twice float64 // per m, per m2: ground*(1 - first*h + twice*h*h), TR8350.2 eq. 4-3
	elevation    float64 // m
	north, up    float64 // rad/s, twice the earth's rate about the axes north and up
}

func newGravity(site sim.Site) gravity {
	s, c := plain.Sincos(site.Latitude)
	s2 := float64(s * s)
	return gravity{
		ground:    equatorG * (1 + float64(somiglianaK*s2)) / math.Sqrt(1-float64(earthE2*s2)),
		first:     2 / earthA * (1 + earthF + centrifugalM - float64(2*earthF*s2)),
		twice:     3 / (earthA * earthA),
		elevation: site.Elevation,
		north:     float64(2 * earthRate * c),
		up:        float64(2 * earthRate * s),
	}
}

// coriolis gives the Coriolis acceleration -2 omega x v in m/s2 of a velocity in m/s; axes east, north, up.
func (g *gravity) coriolis(v r3.Vec) r3.Vec {
	return r3.Vec{X: float64(g.up*v.Y) - float64(g.north*v.Z), Y: -float64(g.up * v.X), Z: float64(g.north * v.X)}
}

// at gives gravity in m/s2 at a height in m above the site.
func (g *gravity) at(height float64) float64 {
	h := g.elevation + height
	return float64(g.ground * (1 - float64(h*(g.first-float64(g.twice*h)))))
}
