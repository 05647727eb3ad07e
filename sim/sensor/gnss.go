package sensor

import (
	"gonum.org/v1/gonum/spatial/r3"

	"drystage/sim"
	"drystage/sim/geodesy"
	"drystage/sim/noise"
)

// satellites are those in a fix: twelve of a good one, three at least for two dimensions. Common
// practice, no source.
var satellites = [...]int{sim.NoFix: 0, sim.Fix2D: 3, sim.Fix3D: 12}

// receiver is a GNSS receiver. The geoid is taken as the ellipsoid: heights above mean sea level are
// ellipsoidal heights here. Real ones differ by up to 110 m, the same for all of a flight. Its velocity
// is in the pad's axes: below 1e-3 rad from the local ones within 6 km. Without a fix it repeats its last
// one, marked as none.
type receiver struct {
	sim.Receiver
	frame  geodesy.Frame
	chance *noise.Stream
	drift  [3]wander // east, north, up
	past   history
	lock   lock
}

func newReceiver(p *sim.Receiver, s *sim.Site, chance func(effect string) *noise.Stream) receiver {
	g := receiver{Receiver: *p, frame: geodesy.NewFrame(geodesy.Place{Latitude: s.Latitude, Longitude: s.Longitude, Height: s.Elevation}), chance: chance("")}
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
	place := g.frame.Place(r3.Vec{X: east, Y: north, Z: up})
	fix.Latitude, fix.Longitude, fix.Height = place.Latitude, place.Longitude, place.Height
	fix.Velocity = v
	if fix.Kind == sim.Fix2D {
		fix.Height, fix.Velocity.Z = height, 0
	}
}
