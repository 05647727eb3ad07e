package sensor

import (
	"drystage/sim"
	"drystage/sim/geodesy"
	"drystage/sim/noise"
	"drystage/sim/r3"
)

// satellites are the numbers of satellites in a fix. Common practice, no source.
var satellites = [...]int{sim.NoFix: 0, sim.Fix2D: 3, sim.Fix3D: 12}

// receiver is a GNSS receiver. Its heights are above mean sea level, or above the ellipsoid, which is lower by the
// site's geoid height, the same over a flight. Without a fix it repeats its last position, marked as no fix.
type receiver struct {
	sim.Receiver
	frame  geodesy.Frame
	random *noise.Stream
	drift  [3]gaussMarkov // east, north, up
	past   history
	lock   lock
	track  *tracker // nil: positions are the truth's, with noise
	geoid  float64  // m, taken off heights
}

func newReceiver(p *sim.Receiver, set *sim.Setup, random func(effect string) *noise.Stream) receiver {
	s := &set.Vehicle.Site
	g := receiver{Receiver: *p, frame: geodesy.NewFrame(geodesy.Place{Latitude: s.Latitude, Longitude: s.Longitude, Height: s.Elevation + s.Geoid}), random: random("")}
	period := period(p.Rate, 0)
	drift := random(".drift")
	g.drift = [3]gaussMarkov{newGaussMarkov(p.PositionDrift, period, drift), newGaussMarkov(p.PositionDrift, period, drift), newGaussMarkov(p.HeightDrift, period, drift)}
	g.past = newHistory(p.Latency, period)
	g.lock = newLock(p, s.Elevation, set.Pad.Wait, random(".lock"))
	if tracks(p) {
		t := newTracker(p.Filter, period)
		g.track = &t
	}
	if !p.Ellipsoid {
		g.geoid = s.Geoid
	}
	return g
}

func (g *receiver) sample(s *input, fix *sim.Fix) {
	at, v := g.past.add(s.now, s.st)
	kind := g.lock.kind(s)
	if g.track != nil {
		at, v = g.track.next(at, v, kind != sim.NoFix, g.lock.fresh)
		if kind == sim.NoFix && g.lock.coasts(s.now) {
			kind = sim.Fix3D
		}
	}
	east := addNoise(at.X, g.PositionNoise, g.random) + g.drift[0].next()
	north := addNoise(at.Y, g.PositionNoise, g.random) + g.drift[1].next()
	up := addNoise(at.Z, g.HeightNoise, g.random) + g.drift[2].next()
	v = r3.Vec{
		X: addNoise(v.X, g.VelocityNoise, g.random),
		Y: addNoise(v.Y, g.VelocityNoise, g.random),
		Z: addNoise(v.Z, g.VelocityNoise, g.random),
	}
	fix.Kind = kind
	fix.Satellites = satellites[fix.Kind]
	if fix.Kind == sim.NoFix {
		return
	}
	height := fix.Height
	place := g.frame.OverGround(r3.Vec{X: east, Y: north, Z: up})
	fix.Latitude, fix.Longitude, fix.Height = place.Latitude, place.Longitude, place.Height-g.geoid
	fix.Velocity = v
	if fix.Kind == sim.Fix2D {
		fix.Height, fix.Velocity.Z = height, 0
	}
}
