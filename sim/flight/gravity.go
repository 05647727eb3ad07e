package flight

import (
	"math"

	"drystage/sim"
	"drystage/sim/plain"
)

// WGS 84 (NIMA TR8350.2): ellipsoid, normal gravity by Somigliana's formula.
const (
	earthA       = 6378137.0
	earthF       = 1 / 298.257223563
	earthE2      = 6.69437999014e-3
	equatorG     = 9.7803253359
	somiglianaK  = 1.93185265241e-3
	centrifugalM = 3.44978650684e-3
)

// gravity is normal gravity over the site, falling with height, its direction constant.
type gravity struct {
	ground       float64 // m/s2 on the ellipsoid
	first, twice float64 // per m, per m2: ground*(1 - first*h + twice*h*h), TR8350.2 eq. 4-3
	elevation    float64 // m
}

func newGravity(site sim.Site) gravity {
	s, _ := plain.Sincos(site.Latitude)
	s2 := float64(s * s)
	return gravity{
		ground:    equatorG * (1 + float64(somiglianaK*s2)) / math.Sqrt(1-float64(earthE2*s2)),
		first:     2 / earthA * (1 + earthF + centrifugalM - float64(2*earthF*s2)),
		twice:     3 / (earthA * earthA),
		elevation: site.Elevation,
	}
}

// at gives gravity in m/s2 at a height in m above the site.
func (g *gravity) at(height float64) float64 {
	h := g.elevation + height
	return float64(g.ground * (1 - float64(h*(g.first-float64(g.twice*h)))))
}
