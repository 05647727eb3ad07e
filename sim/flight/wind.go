package flight

import (
	"math"

	"drystage/sim"
	"drystage/sim/plain"
)

// wind is the wind over height: its steady profile, 1-cosine gusts and turbulence.
type wind struct {
	calm        bool
	east, north float64 // m/s, wind at a profile factor of 1
	profile     octaves // the power law or the logarithmic law
	levels      []level // or a table in place of both
	gusts       []gust
	shortest    float64 // m, of the gusts
	turbulence  *turbulence
}

const (
	windLowest  = 0.0625 // m; below, the wind is as at this height
	windOctaves = 21
)

// level is a sim.WindLevel in components, with the change of the wind per metre up to the next level.
type level struct{ height, east, north, perEast, perNorth float64 }

// gust is a sim.Gust in components.
type gust struct{ base, length, east, north float64 }

func newWind(w *sim.Wind, seed uint64) wind {
	out := wind{calm: w.Speed == 0 && len(w.Aloft) == 0, shortest: math.Inf(1)}
	out.levels = newLevels(w.Aloft)
	if len(out.levels) == 0 {
		out.east, out.north = windVector(w.Speed, w.From)
		out.profile = newProfile(w)
	}
	for _, g := range w.Gusts {
		if g.Length <= 0 || g.Peak == 0 {
			continue
		}
		east, north := windVector(g.Peak, g.From)
		out.gusts = append(out.gusts, gust{g.Base, g.Length, east, north})
		out.shortest = math.Min(out.shortest, g.Length)
	}
	out.turbulence = newTurbulence(w, &out, seed)
	return out
}

// newProfile makes the table of the wind factor over height: (h/reference)^exponent, or by the logarithmic law
// ln(h/z0)/ln(reference/z0), as in MIL-F-8785C 3.7.3.2 for wind shear.
func newProfile(w *sim.Wind) octaves {
	reference := w.Height
	if reference <= 0 {
		reference = 10
	}
	if z0 := w.Roughness; z0 > 0 && z0 < reference {
		lowest := windLowest
		for lowest < z0 { // the law has no wind below the roughness length
			lowest *= 2
		}
		scale := 1 / plain.Log(reference/z0)
		return newOctaves(lowest, windOctaves,
			func(h float64) float64 { return float64(scale * plain.Log(h/z0)) },
			func(h, _ float64) float64 { return scale / h })
	}
	return newOctaves(windLowest, windOctaves,
		func(h float64) float64 { return plain.Pow(h/reference, w.Exponent) },
		func(h, f float64) float64 { return float64(w.Exponent * f / h) })
}

// newLevels converts the levels; one that isn't above the level before it is left out.
func newLevels(aloft []sim.WindLevel) []level {
	var out []level
	for _, a := range aloft {
		east, north := windVector(a.Speed, a.From)
		if n := len(out); n > 0 {
			last := &out[n-1]
			rise := a.Height - last.height
			if !(rise > 0) {
				continue
			}
			last.perEast, last.perNorth = (east-last.east)/rise, (north-last.north)/rise
		}
		out = append(out, level{height: a.Height, east: east, north: north})
	}
	return out
}

// windVector gives the components east and north of a wind from a bearing.
func windVector(speed, from float64) (east, north float64) {
	s, c := plain.Sincos(from)
	return float64(-speed * s), float64(-speed * c)
}

// SteadyWind gives the speed in m/s and the bearing in rad, from 0 to 2 pi clockwise from north, that the
// steady part of a wind comes from at a height in m above ground.
func SteadyWind(w *sim.Wind, height float64) (speed, from float64) {
	still := *w
	still.Gusts, still.Turbulence = nil, sim.Turbulence{}
	steady := newWind(&still, 0)
	east, north := steady.steady(height)
	if from = plain.Atan2(-east, -north); from < 0 {
		from += 2 * math.Pi
	}
	return math.Sqrt(float64(east*east) + float64(north*north)), from
}

// steady gives the motion of the air in m/s east and north at a height in m, without gusts and turbulence.
func (w *wind) steady(height float64) (east, north float64) {
	switch {
	case w.calm:
		return 0, 0
	case len(w.levels) == 0:
		f := w.profile.at(height)
		return float64(w.east * f), float64(w.north * f)
	}
	i := 0
	for i+1 < len(w.levels) && height >= w.levels[i+1].height {
		i++
	}
	l := &w.levels[i]
	up := math.Max(0, height-l.height)
	return l.east + float64(l.perEast*up), l.north + float64(l.perNorth*up)
}

// at gives the motion of the air in m/s east, north and up at a height in m.
func (w *wind) at(height float64) (east, north, up float64) {
	east, north = w.steady(height)
	for i := range w.gusts {
		g := &w.gusts[i]
		x := (height - g.base) / g.length
		if x <= 0 || x >= 1 {
			continue
		}
		_, c := plain.Sincos(float64(2 * math.Pi * x))
		rise := float64(0.5 * (1 - c))
		east += float64(g.east * rise)
		north += float64(g.north * rise)
	}
	if w.turbulence != nil {
		e, n, u := w.turbulence.at(height)
		east, north, up = east+e, north+n, u
	}
	return east, north, up
}

// unsteady says that it has gusts or turbulence.
func (w *wind) unsteady() bool { return len(w.gusts) > 0 || w.turbulence != nil }

// changeLength is the length in m over which the wind may change much near a height.
func (w *wind) changeLength(height float64) float64 {
	if w.turbulence == nil {
		return w.shortest / 4
	}
	return math.Min(w.shortest/4, w.turbulence.cellWidth(height))
}
