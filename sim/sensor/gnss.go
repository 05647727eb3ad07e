package sensor

import (
	"math"

	"gonum.org/v1/gonum/spatial/r3"

	"drystage/sim"
	"drystage/sim/noise"
	"drystage/sim/plain"
)

// satellites are those in a fix: twelve of a good one, three at least for two dimensions. Common
// practice, no source.
var satellites = [...]int{sim.NoFix: 0, sim.Fix2D: 3, sim.Fix3D: 12}

// WGS 84: NIMA TR8350.2, 3rd edition, amendment 1, 2000.
const (
	earthA  = 6378137.0                               // m, equatorial radius
	earthF  = 1 / 298.257223563                       // flattening
	earthE2 = earthF * (2 - earthF)                   // first eccentricity squared
	earthB  = earthA * (1 - earthF)                   // m, polar radius
	earthP2 = earthE2 / ((1 - earthF) * (1 - earthF)) // second eccentricity squared
)

// receiver is a GNSS receiver. Its velocity is in the pad's axes: below 1e-3 rad from the local ones
// within 6 km. Without a fix it repeats its last one, marked as none.
type receiver struct {
	sim.Receiver
	site   site
	chance *noise.Stream
	drift  [3]wander // east, north, up
	past   history
	lock   lock
}

func newReceiver(p *sim.Receiver, s *sim.Site, chance func(effect string) *noise.Stream) receiver {
	g := receiver{Receiver: *p, site: newSite(s.Latitude, s.Longitude, s.Elevation), chance: chance("")}
	period := period(p.Rate, 0)
	drift := chance(".drift")
	g.drift = [3]wander{newWander(p.PositionDrift, period, drift), newWander(p.PositionDrift, period, drift), newWander(p.HeightDrift, period, drift)}
	g.past = newHistory(p.Latency, period)
	g.lock = newLock(p, s.Elevation)
	return g
}

func (g *receiver) sample(s *scene, fix *sim.Fix) {
	at, v := g.past.add(s.now, s.st)
	east := noisy(at.X, g.PositionNoise, g.chance) + g.drift[0].next()
	north := noisy(at.Y, g.PositionNoise, g.chance) + g.drift[1].next()
	up := noisy(at.Z, g.HeightNoise, g.chance) + g.drift[2].next()
	v = r3.Vec{
		X: noisy(v.X, g.VelocityNoise, g.chance),
		Y: noisy(v.Y, g.VelocityNoise, g.chance),
		Z: noisy(v.Z, g.VelocityNoise, g.chance),
	}
	fix.Kind = g.lock.kind(s)
	fix.Satellites = satellites[fix.Kind]
	if fix.Kind == sim.NoFix {
		return
	}
	height := fix.Height
	fix.Latitude, fix.Longitude, fix.Height = g.site.geodetic(east, north, up)
	fix.Velocity = v
	if fix.Kind == sim.Fix2D {
		fix.Height, fix.Velocity.Z = height, 0
	}
}

// site is the origin of a local frame of east, north, up on the ellipsoid.
type site struct {
	sin, cos float64 // of the latitude
	lon      float64 // rad
	x, z     float64 // m, earth-fixed, in axes turned to the site's meridian
}

// newSite takes rad, rad, m. The geoid is taken as the ellipsoid: heights above mean sea level are
// ellipsoidal heights here. Real ones differ by up to 110 m, the same for all of a flight.
func newSite(lat, lon, height float64) site {
	sin, cos := plain.Sincos(lat)
	n := earthA / math.Sqrt(1-float64(earthE2*float64(sin*sin)))
	return site{sin, cos, lon, float64((n + height) * cos), float64((float64(n*(1-earthE2)) + height) * sin)}
}

// geodetic gives latitude and longitude in rad and the height in m of a place in the local frame, by
// way of earth-fixed coordinates and one step of Bowring's formula (Survey Review 23, 1976, from
// memory): the test finds it good to a micrometre within 100 km.
func (s *site) geodetic(east, north, up float64) (lat, lon, height float64) {
	x := s.x - float64(s.sin*north) + float64(s.cos*up)
	z := s.z + float64(s.cos*north) + float64(s.sin*up)
	p := math.Sqrt(float64(x*x) + float64(east*east))
	cos, sin := unit(float64(p*(1-earthF)*(1-earthF)), z) // of the latitude, were the place on the ellipsoid
	for range 2 {
		u, v := unit(cos, float64(sin*(1-earthF))) // of the reduced latitude
		cos, sin = unit(p-float64(earthE2*earthA*float64(u*float64(u*u))), z+float64(earthP2*earthB*float64(v*float64(v*v))))
	}
	height = float64(p*cos) + float64(z*sin) - float64(earthA*math.Sqrt(1-float64(earthE2*float64(sin*sin))))
	lon = s.lon + plain.Atan2(east, x)
	if lon > math.Pi {
		lon -= 2 * math.Pi
	} else if lon <= -math.Pi {
		lon += 2 * math.Pi
	}
	return plain.Atan2(sin, cos), lon, height
}

// unit shortens a vector to length 1.
func unit(x, y float64) (float64, float64) {
	n := math.Sqrt(float64(x*x) + float64(y*y))
	return x / n, y / n
}
