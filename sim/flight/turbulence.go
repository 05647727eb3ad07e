package flight

import (
	"math"

	"drystage/sim"
	"drystage/sim/noise"
	"drystage/sim/plain"
)

// Heights of MIL-F-8785C 3.7.3.4, in feet.
const (
	foot         = 0.3048 // m
	lowestRough  = 10.0   // below, turbulence is as here
	lowRough     = 1000.0 // the low-altitude model ends
	mediumRough  = 2000.0 // the medium-altitude one begins; between, scales and intensities change linearly
	highestRough = 80000.0
	mediumScale  = 1750.0 // ft, all scale lengths from mediumRough on
	surfaceRough = 20.0   // where the wind is taken that sets the intensity
)

// roughness of the air at one height: rms and scale lengths, horizontal (along and across the wind, which
// are equal) and vertical.
type roughness struct{ level, upright, levelScale, uprightScale float64 } // m/s, m/s, m, m

// roughnessAt is the Dryden model of MIL-F-8785C: below 1000 ft by 3.7.3.4, for a wind w20 at 20 ft;
// above 2000 ft the scales of 3.7.2.4 and an rms that is given. Formulas as transcribed in open code that
// names the standard; the range of heights, 10 ft to 80 000 ft, is from memory.
func roughnessAt(height, w20, aloft float64) roughness {
	h := clamp(height/foot, lowestRough, mediumRough)
	if h > lowRough {
		up := (h - lowRough) / (mediumRough - lowRough)
		rms := float64(0.1*w20) + float64(up*(aloft-float64(0.1*w20)))
		scale := foot * (lowRough + float64(up*(mediumScale-lowRough)))
		return roughness{rms, rms, scale, scale}
	}
	base := 0.177 + float64(0.000823*h)
	return roughness{
		level: 0.1 * w20 / plain.Pow(base, 0.4), upright: 0.1 * w20,
		levelScale: foot * h / plain.Pow(base, 1.2), uprightScale: foot * h,
	}
}

// turbulence is one draw of the Dryden model as a field that is frozen: what a body meets depends on its
// height alone, so on nothing that an integrator does, and all bodies meet the same. The distance of the
// spectra is height: for a flight within 15 degrees of vertical that is the way through the air to 4 %.
// The filters give the field at nodes; cubics with matched slopes join them, which costs up to 1.5 % of
// the variance in the lowest metres and below 0.5 % above 20 m.
type turbulence struct{ cells []roughCell }

// roughCell holds the coefficients of the three components in x from 0 to 1 across a cell.
type roughCell struct{ east, north, up [4]float64 }

// roughBands are ranges of height cut into equal cells, short beside the scale lengths there.
var roughBands = [...]struct {
	foot, width float64 // m
	first       int     // cell
}{{0, 0.25, 0}, {16, 0.5, 64}, {64, 1, 160}, {256, 2, 352}, {1024, 4, 736}}

const (
	roughTop   = 25600.0 // m; above highestRough the field fades until here
	roughCells = 6880
)

// newTurbulence draws the field for a wind, whose steady part at 20 ft sets the intensity when none is given.
func newTurbulence(w *sim.Wind, steady *wind, seed uint64) *turbulence {
	if !w.Turbulence.On {
		return nil
	}
	east, north := steady.steady(surfaceRough * foot)
	w20, speed := w.Turbulence.W20, math.Sqrt(float64(east*east)+float64(north*north))
	if w20 == 0 {
		w20 = speed
	}
	if speed > 0 {
		east, north = east/speed, north/speed
	} else {
		east, north = blowing(1, w.From)
	}
	aloft := w.Turbulence.Aloft
	if aloft == 0 {
		aloft = 0.1 * w20
	}
	t := &turbulence{cells: make([]roughCell, roughCells)}
	t.draw(seed, func(height float64) roughness { return roughnessAt(height, w20, aloft) })
	for i := range t.cells {
		c := &t.cells[i]
		for k := range c.east {
			along, across := c.east[k], c.north[k]
			c.east[k] = float64(along*east) - float64(across*north)
			c.north[k] = float64(along*north) + float64(across*east)
		}
	}
	return t
}

// draw fills the cells, east as along the wind and north as across it to the left.
func (t *turbulence) draw(seed uint64, at func(height float64) roughness) {
	along := newFirstOrder(noise.New(seed, "wind.along"))
	across := newSecondOrder(noise.New(seed, "wind.across"))
	up := newSecondOrder(noise.New(seed, "wind.up"))
	var nodes [3][]float64
	for k := range nodes {
		nodes[k] = make([]float64, 0, len(t.cells)+1)
	}
	height := 0.0
	for i := 0; ; i++ {
		r := at(height)
		fade := 1 - rise((height-highestRough*foot)/(roughTop-highestRough*foot))
		for k, x := range [...]float64{float64(r.level * along.value()), float64(r.level * across.value()), float64(r.upright * up.value())} {
			nodes[k] = append(nodes[k], float64(fade*x))
		}
		if i == len(t.cells) {
			break
		}
		width := roughWidth(i)
		middle := at(height + float64(0.5*width))
		along.step(width / middle.levelScale)
		across.step(width / middle.levelScale)
		up.step(width / middle.uprightScale)
		height += width
	}
	for i := range t.cells {
		c := &t.cells[i]
		for k, to := range [...]*[4]float64{&c.east, &c.north, &c.up} {
			n, width := nodes[k], roughWidth(i)
			*to = hermite(n[i], n[i+1], float64(nodeSlope(n, i)*width), float64(nodeSlope(n, i+1)*width))
		}
	}
}

// roughWidth is the width of a cell in m.
func roughWidth(cell int) float64 {
	b := len(roughBands) - 1
	for cell < roughBands[b].first {
		b--
	}
	return roughBands[b].width
}

// nodeSlope is that of the parabola through a node and its neighbours; 0 at the ends, beyond which the
// field doesn't change.
func nodeSlope(n []float64, i int) float64 {
	if i == 0 || i == len(n)-1 {
		return 0
	}
	a, b := roughWidth(i-1), roughWidth(i)
	return (float64((n[i]-n[i-1])/a*b) + float64((n[i+1]-n[i])/b*a)) / (a + b)
}

// at gives the motion of the air in m/s at a height in m.
func (t *turbulence) at(height float64) (east, north, up float64) {
	if !(height > 0) { // NaN too
		height = 0
	}
	height = math.Min(height, roughTop)
	b := len(roughBands) - 1
	for height < roughBands[b].foot {
		b--
	}
	x := float64((height - roughBands[b].foot) / roughBands[b].width)
	i := min(int(x), roughCells-1-roughBands[b].first)
	x -= float64(i)
	c := &t.cells[roughBands[b].first+i]
	return cubic(&c.east, x), cubic(&c.north, x), cubic(&c.up, x)
}

// grain is the width of a cell at a height, in m.
func (t *turbulence) grain(height float64) float64 {
	b := len(roughBands) - 1
	for b > 0 && height < roughBands[b].foot {
		b--
	}
	return roughBands[b].width
}
