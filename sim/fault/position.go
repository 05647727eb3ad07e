package fault

import (
	"math"

	"drystage/sim"
	"drystage/sim/plain"
	"drystage/sim/r3"
)

// moved gives a fix moved by metres east, north and up, along the radii of curvature of the WGS 84
// ellipsoid (NIMA TR8350.2). The error is below a metre for 10 km; near a pole the longitude doesn't change.
func moved(fix sim.Fix, by r3.Vec) sim.Fix {
	const a, e2 = 6378137.0, 0.00669437999014
	s, c := plain.Sincos(fix.Latitude)
	w2 := 1 - float64(e2*float64(s*s))
	n := a / math.Sqrt(w2)
	m := float64(n*(1-e2)) / w2
	fix.Latitude = min(max(fix.Latitude+by.Y/(m+fix.Height), -math.Pi/2), math.Pi/2)
	if c > 1e-6 {
		fix.Longitude += by.X / float64((n+fix.Height)*c)
	}
	if fix.Longitude > math.Pi {
		fix.Longitude -= 2 * math.Pi
	} else if fix.Longitude <= -math.Pi {
		fix.Longitude += 2 * math.Pi
	}
	fix.Height += by.Z
	return fix
}
