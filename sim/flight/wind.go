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
	table       [windOctaves * windParts][4]float64
	gusts       []gust
	shortest    float64 // m, of the gusts
}

const (
	windLowest  = 0.0625 // m; the wind below is that of this height
	windOctaves = 21
	windParts   = 8 // cells in each octave of height
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
	for i := range out.table {
		low := windCellFoot(i)
		high := windCellFoot(i + 1)
		a, b := plain.Pow(low/reference, w.Exponent), plain.Pow(high/reference, w.Exponent)
		width := high - low
		out.table[i] = hermite(a, b, float64(w.Exponent*a/low*width), float64(w.Exponent*b/high*width))
	}
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

// windCellFoot gives the height in m at which cell i begins.
func windCellFoot(i int) float64 {
	return math.Ldexp(windLowest*(1+float64(float64(i%windParts)/windParts)), i/windParts)
}

// at gives the motion of the air in m/s east and north at a height in m.
func (w *wind) at(height float64) (east, north float64) {
	if !w.calm {
		f := w.factor(height)
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

// factor is the power law. The exponent and the top bits of the fraction of the height's float64 say
// which cell it lies in.
func (w *wind) factor(height float64) float64 {
	const shift = 52 - 3 // windParts is 2 to the 3
	ratio := height / windLowest
	if !(ratio > 1) {
		return w.table[0][0]
	}
	i := int(math.Float64bits(ratio)>>shift) - 1023*windParts
	if i >= len(w.table) {
		i, ratio = len(w.table)-1, windCellFoot(len(w.table))/windLowest
	}
	foot := math.Float64frombits(uint64(i+1023*windParts) << shift)
	width := math.Float64frombits(uint64(i/windParts+1023)<<52) / windParts
	return cubic(&w.table[i], (ratio-foot)/width)
}
