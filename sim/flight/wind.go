package flight

import (
	"math"

	"drystage/sim"
	"drystage/sim/plain"
)

// wind is the wind over height: a power law tabled over octaves of height, and 1-cosine gusts.
type wind struct {
	calm        bool
	east, north float64 // m/s of air motion at factor 1
	profile     octaves // the power law
	gusts       []gust
	shortest    float64 // m, of the gusts
}

const (
	windLowest  = 0.0625 // m; the wind below is that of this height
	windOctaves = 21
)

// gust is a sim.Gust ready for use.
type gust struct{ base, length, east, north float64 }

func newWind(w *sim.Wind) wind {
	out := wind{calm: w.Speed == 0, shortest: math.Inf(1)}
	out.east, out.north = blowing(w.Speed, w.From)
	reference := w.Height
	if reference <= 0 {
		reference = 10
	}
	out.profile = newOctaves(windLowest, windOctaves,
		func(h float64) float64 { return plain.Pow(h/reference, w.Exponent) },
		func(h, f float64) float64 { return float64(w.Exponent * f / h) })
	for _, g := range w.Gusts {
		if g.Length <= 0 || g.Peak == 0 {
			continue
		}
		east, north := blowing(g.Peak, g.From)
		out.gusts = append(out.gusts, gust{g.Base, g.Length, east, north})
		out.shortest = math.Min(out.shortest, g.Length)
	}
	return out
}

// blowing gives the motion east and north of air that comes from a bearing.
func blowing(speed, from float64) (east, north float64) {
	s, c := plain.Sincos(from)
	return float64(-speed * s), float64(-speed * c)
}

// at gives the motion of the air in m/s east and north at a height in m.
func (w *wind) at(height float64) (east, north float64) {
	if !w.calm {
		f := w.profile.at(height)
		east, north = float64(w.east*f), float64(w.north*f)
	}
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
	return east, north
}
