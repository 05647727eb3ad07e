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

// gravity is normal gravity over the site, which falls with height, the rotation of the earth, and its curvature.
// Centrifugal acceleration is part of normal gravity. Axes are local: up is the plumb line's way wherever a body is, and
// east and north keep their direction along a straight path over the ground.
type gravity struct {
	ground       float64 // m/s2 on the ellipsoid
	first, twice float64 // per m, per m2: ground*(1 - first*h + twice*h*h), TR8350.2 eq. 4-3
	elevation    float64 // m
	north, up    float64 // rad/s, twice the earth's rate about the axes north and up
	curvature    float64 // 1/m, of the ground at the site (Gauss' mean radius); 0: flat
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
		curvature: 1 / (earthA*math.Sqrt(1-earthE2)/(1-float64(earthE2*s2)) + site.Elevation),
	}
}

// axes gives the acceleration in m/s2 of a body that moves straight on, in axes east, north, up, from its velocity in
// m/s: Coriolis' -2 omega x v, and -omega x v of the local axes that turn with the plumb line at the rates -vy/r, vx/r.
// over is the horizontal distance on the ground for each metre at the body's height.
func (g *gravity) axes(v r3.Vec, over float64) r3.Vec {
	turn := float64(g.curvature * over)
	sink := float64(turn * v.Z)
	return r3.Vec{
		X: float64(g.up*v.Y) - float64(g.north*v.Z) - float64(sink*v.X),
		Y: -float64(g.up*v.X) - float64(sink*v.Y),
		Z: float64(g.north*v.X) + float64(turn*(float64(v.X*v.X)+float64(v.Y*v.Y))),
	}
}

// over is the horizontal distance on the ground at the site's elevation for each metre at a height in m above it, within
// 1e-6 up to 60 km.
func (g *gravity) over(height float64) float64 {
	x := float64(g.curvature * height)
	return 1 - float64(x*(1-x))
}

// at gives gravity in m/s2 at a height in m above the site.
func (g *gravity) at(height float64) float64 {
	h := g.elevation + height
	return float64(g.ground * (1 - float64(h*(g.first-float64(g.twice*h)))))
}
